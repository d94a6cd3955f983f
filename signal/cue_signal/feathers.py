"""Practice swings before the stroke."""

from functools import lru_cache

import numpy as np
from scipy import signal

from cue_sensors.samples import FloatArray
from cue_signal.integrals import running_integral

FEATHER_M_S = 0.05
"""A feather moves back and forward faster than this."""
SLOWEST_HZ = 0.3
"""Changes slower than this are sway of the body and drift of the sensor."""


def count_feathers(
    accel_m_s2: FloatArray, *, rate_hz: float, stop_index: int
) -> tuple[int, float | None, float | None]:
    """Return the number of feathers before the final backswing, and their mean period.

    A feather is one way back followed by one way forward, both beyond 0.05 m/s.

    Parameters
    ----------
    accel_m_s2 : ndarray, shape (n,)
        Axial acceleration from settling at the ball on, gravity removed.
    rate_hz : float
        Sampling rate in Hz.
    stop_index : int
        Sample at which the final backswing begins.

    Returns
    -------
    tuple of int, float or None, float or None
        Count, seconds from one way back to the next (None below two feathers), and the spread of
        these (None below three).
    """
    if stop_index < round(0.5 * rate_hz):
        return 0, None, None
    speed = running_integral(accel_m_s2, np.arange(len(accel_m_s2)) / rate_hz)
    speed = signal.sosfiltfilt(_highpass(round(rate_hz, 3)), speed)[:stop_index]
    is_back, starts, ends = False, [], []
    moving = np.flatnonzero(np.abs(speed) > FEATHER_M_S)
    for index in moving.tolist():
        if speed[index] < 0.0 and not is_back:
            is_back = True
            starts.append(index)
        elif speed[index] > 0.0 and is_back:
            is_back = False
            ends.append(index)
    if len(ends) < 2:
        return len(ends), None, None
    between_s = np.diff(starts[: len(ends)]) / rate_hz
    spread_s = float(np.std(between_s, ddof=1)) if len(between_s) > 1 else None
    return len(ends), float(np.mean(between_s)), spread_s


@lru_cache(maxsize=8)
def _highpass(rate_hz: float) -> FloatArray:
    """Return the filter that takes out sway and drift, as second-order sections."""
    sections = signal.butter(1, SLOWEST_HZ, "highpass", fs=rate_hz, output="sos")
    return np.asarray(sections, dtype=np.float64)
