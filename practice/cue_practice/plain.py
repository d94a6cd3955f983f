"""Values of dataclasses as JSON and a database column can hold them, and back.

Measures that are added to a dataclass later lie in one JSON column by name, so that neither an
older log nor an older program stumbles over them.
"""

from dataclasses import MISSING, Field
from datetime import datetime
from enum import Enum
from typing import Any

import numpy as np


def plain(value: Any) -> Any:
    """Return a value as JSON can hold it.

    Parameters
    ----------
    value : Any
        A number, a text, a flag, or a sequence or dictionary of such.

    Returns
    -------
    Any
        NumPy's numbers as Python's own; a number that is not finite, which no JSON may hold, as
        None; sequences and sets as lists, sets in order.
    """
    if isinstance(value, np.generic | np.ndarray):
        return plain(value.tolist())
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, float):
        return value if np.isfinite(value) else None
    if isinstance(value, frozenset | set):
        return sorted(plain(one) for one in value)
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    if isinstance(value, dict):
        return {str(name): plain(one) for name, one in value.items()}
    return value


def unplain(value: Any) -> Any:
    """Return a value of :func:`plain` as a frozen dataclass holds it: lists as tuples."""
    if isinstance(value, list):
        return tuple(unplain(one) for one in value)
    return value


def default_of(field: "Field[Any]") -> Any:
    """Return what a field of a dataclass is where nothing was kept, None without a default."""
    if field.default is not MISSING:
        return field.default
    return None if field.default_factory is MISSING else field.default_factory()
