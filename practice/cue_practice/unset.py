"""A word for "not given", where None means something else."""

from enum import Enum
from typing import Any


class Unset(Enum):
    """The type of :data:`UNSET`."""

    UNSET = "not given"


UNSET = Unset.UNSET
"""Stands for an argument that was not given."""


def given(**values: Any) -> dict[str, Any]:
    """Return the arguments that were given."""
    return {name: value for name, value in values.items() if value is not UNSET}
