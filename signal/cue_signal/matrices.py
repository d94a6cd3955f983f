"""Factors of small matrices, for compiled loops.

Each works on the first n rows and columns, so that no part of an array has to be cut out for it.
"""

from typing import cast

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.compiled import compiled

FIRST = cast(int, np.int64(0))
"""Number of the first vector: for a plain 0 the loops would be compiled once more."""
LEAST_PIVOT = 1e-300


@compiled
def factor(matrix: FloatArray, n: int) -> None:
    """Turn the lower half of a positive definite matrix into its Cholesky factor, in place.

    Parameters
    ----------
    matrix : ndarray, shape (n or more, n or more)
        Only its lower half is read and written.
    n : int
        Rows and columns taken.
    """
    for row in range(n):
        for column in range(row + 1):
            rest = matrix[row, column]
            for k in range(column):
                rest -= matrix[row, k] * matrix[column, k]
            if row > column:
                matrix[row, column] = rest / matrix[column, column]
            else:
                matrix[row, row] = np.sqrt(max(rest, LEAST_PIVOT))


@compiled
def forward(lower: FloatArray, rights: FloatArray, right: int, n: int) -> None:
    """Turn a vector into lower^-1 vector, in place.

    Parameters
    ----------
    lower : ndarray, shape (n or more, n or more)
        Lower factor.
    rights : ndarray, shape (k, n or more)
        Vectors, one a row.
    right, n : int
        Which of them; rows and columns taken.
    """
    for row in range(n):
        rest = rights[right, row]
        for k in range(row):
            rest -= lower[row, k] * rights[right, k]
        rights[right, row] = rest / lower[row, row]


@compiled
def backward(lower: FloatArray, rights: FloatArray, right: int, n: int) -> None:
    """Turn a vector into lower^-T vector, in place.

    Parameters
    ----------
    lower : ndarray, shape (n or more, n or more)
        Lower factor.
    rights : ndarray, shape (k, n or more)
        Vectors, one a row.
    right, n : int
        Which of them; rows and columns taken.
    """
    for row in range(n - 1, -1, -1):
        rest = rights[right, row]
        for k in range(row + 1, n):
            rest -= lower[k, row] * rights[right, k]
        rights[right, row] = rest / lower[row, row]


@compiled
def log_root(lower: FloatArray, n: int) -> float:
    """Return half the logarithm of the determinant of the matrix that was factored.

    Parameters
    ----------
    lower : ndarray, shape (n or more, n or more)
        Its lower factor.
    n : int
        Rows and columns taken.
    """
    total = 0.0
    for row in range(n):
        total += np.log(lower[row, row])
    return total
