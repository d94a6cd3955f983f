"""Loops that are compiled to machine code the first time they run.

A stroke takes thousands of small sums and matrices of ten rows, for which a call of an array
operation costs more than its arithmetic. Such loops are written out and compiled by numba; the
machine code is kept beside the module, or in the user's cache folder, for later runs.
"""

from collections.abc import Callable
from typing import ParamSpec, TypeVar

from numba import njit

_P = ParamSpec("_P")
_R = TypeVar("_R")


def compiled(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Return a function of arrays and numbers as machine code.

    Parameters
    ----------
    function : callable
        Loops over arrays, in the part of Python and numpy that numba knows.

    Returns
    -------
    callable
        The same function; it lets other threads run meanwhile.
    """
    try:
        quick: Callable[_P, _R] = njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError:
        # no folder to keep the machine code in: compiled anew in every run
        quick = njit(nogil=True, error_model="numpy")(function)
    return quick
