"""Whether samples can be what their file says: units at rest, and the end of the range."""

from typing import Final

import numpy as np

from cue_sensors.csv_columns import ACCEL_UNITS
from cue_sensors.decoders.packet import STANDARD_GRAVITY_M_S2
from cue_sensors.samples import BoolArray, FloatArray

REST_WINDOW_S: Final = 0.25
"""A cue held still is still for longer than this."""
REST_TOLERANCE: Final = 0.25
"""Cheap accelerometers miss gravity by up to a tenth; units miss it by a factor of ten."""
USUAL_RANGES_G: Final = (2, 4, 8, 16, 32, 64, 100, 200, 400)
USUAL_RANGE_TOLERANCE: Final = 1e-3
"""Room for the last count of the range and for 9.81 written for standard gravity."""
MIN_RANGE_M_S2: Final = 1.8 * STANDARD_GRAVITY_M_S2
"""No accelerometer sold for motion ends below 2 g; a repeated value below is no flat top."""
SAME_VALUE: Final = 1e-4
"""The two ends of a range differ by one count of 32768."""


def rest_magnitude_m_s2(specific_force_m_s2: FloatArray, *, rate_hz: float) -> float:
    """Return what the accelerometer reads in the quietest tenth of the time.

    Parameters
    ----------
    specific_force_m_s2 : ndarray, shape (n, 3)
        At least one sample.
    rate_hz : float
        Sampling rate in Hz.

    Returns
    -------
    float
        Median magnitude over the quietest windows, in the unit of the input.
    """
    magnitude = np.linalg.norm(specific_force_m_s2, axis=1)
    size = max(1, min(len(magnitude), round(REST_WINDOW_S * rate_hz)))
    windows = magnitude[: len(magnitude) // size * size].reshape(-1, size)
    quiet = np.argsort(np.std(windows, axis=1), kind="stable")[: max(1, len(windows) // 10)]
    return float(np.median(windows[quiet]))


def likely_unit(rest_m_s2: float, *, unit: str) -> str | None:
    """Return the unit in which a reading at rest would be gravity.

    Parameters
    ----------
    rest_m_s2 : float
        Magnitude at rest as the stated unit gives it.
    unit : str
        The stated unit, ``"m_s2"``, ``"g"`` or ``"mg"``.

    Returns
    -------
    str or None
        The stated unit if it fits, another one that does, None if none does.
    """
    as_read = rest_m_s2 / ACCEL_UNITS[unit]
    for candidate in (unit, *ACCEL_UNITS):
        ratio = as_read * ACCEL_UNITS[candidate] / STANDARD_GRAVITY_M_S2
        if abs(ratio - 1) <= REST_TOLERANCE:
            return candidate
    return None


def range_from_flat_tops(specific_force_m_s2: FloatArray) -> float | None:
    """Return the end of the range if the samples show one.

    The largest value is an end if it comes twice or more, as it does where tops are cut off, or
    if it is a usual range to within a count.

    Parameters
    ----------
    specific_force_m_s2 : ndarray, shape (n, 3)
        At least one sample, in m/s^2.

    Returns
    -------
    float or None
        The range, None where nothing shows it.
    """
    size = np.abs(specific_force_m_s2)
    largest = float(np.max(size))
    if largest < MIN_RANGE_M_S2:
        return None
    n = int(np.count_nonzero(size >= largest * (1 - SAME_VALUE)))
    usual = np.array(USUAL_RANGES_G) * STANDARD_GRAVITY_M_S2
    is_usual = bool(np.any(np.abs(largest / usual - 1) <= USUAL_RANGE_TOLERANCE))
    return largest if n >= 2 or is_usual else None


def clipped(specific_force_m_s2: FloatArray, accel_range_m_s2: float) -> BoolArray:
    """Return, shape (n,), where an axis stands at the end of the range."""
    end = accel_range_m_s2 * (1 - USUAL_RANGE_TOLERANCE)
    return np.asarray(np.any(np.abs(specific_force_m_s2) >= end, axis=1))
