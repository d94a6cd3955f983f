"""Practice swings before the stroke."""

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.compiled import compiled
from cue_signal.integrals import running_integral

FEATHER_M_S = 0.05
"""A feather moves back and forward faster than this."""
SLOWEST_HZ = 0.3
"""Changes slower than this are sway of the body and drift of the sensor."""
PAD = 6
"""Samples added at either end before filtering: three times the filter's length."""


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
    speed = without_sway(speed, SLOWEST_HZ / rate_hz)[:stop_index]
    moving = np.flatnonzero(np.abs(speed) > FEATHER_M_S)
    is_back = speed[moving] < 0.0
    turns = np.diff(is_back, prepend=False)
    starts, ends = moving[turns & is_back], moving[turns & ~is_back]
    if len(ends) < 2:
        return len(ends), None, None
    between_s = np.diff(starts[: len(ends)]) / rate_hz
    spread_s = float(np.std(between_s, ddof=1)) if len(between_s) > 1 else None
    return len(ends), float(np.mean(between_s)), spread_s


@compiled
def without_sway(values: FloatArray, per_sample: float) -> FloatArray:
    """Return values without their slow changes: a high-pass of one pole, forward and backward.

    Parameters
    ----------
    values : ndarray, shape (n,)
        More than PAD of them.
    per_sample : float
        Corner in cycles per sample.

    Returns
    -------
    ndarray, shape (n,)
        As scipy.signal.sosfiltfilt gives it with a Butterworth filter of order one.
    """
    n, corner = len(values), np.tan(np.pi * per_sample)
    gain, kept = 1.0 / (1.0 + corner), (1.0 - corner) / (1.0 + corner)
    # ends turned about themselves, so that the filter has settled where the values begin
    line = np.empty(n + 2 * PAD)
    for k in range(n):
        line[PAD + k] = values[k]
    for k in range(PAD):
        line[k] = 2.0 * values[0] - values[PAD - k]
        line[PAD + n + k] = 2.0 * values[n - 1] - values[n - 2 - k]
    for _ in range(2):
        before, passed = line[0], 0.0
        for k in range(len(line)):
            passed = kept * passed + gain * (line[k] - before)
            before = line[k]
            line[k] = passed
        for k in range(len(line) // 2):
            line[k], line[-1 - k] = line[-1 - k], line[k]
    passed_on = np.empty(n)
    for k in range(n):
        passed_on[k] = line[PAD + k]
    return passed_on
