"""Live trace: speed along the cue over the last seconds, as much of it as a screen shows."""

import numpy as np
from tsdownsample import MinMaxLTTBDownsampler

from cue_signal.stroke import FloatArray

POINTS_PER_S = 100
"""As fine as a screen shows; a sensor may send many more."""
STROKE_POINTS = 200
_LEAST_POINTS = 3
"""The downsampler keeps both ends and one between."""

_downsampler = MinMaxLTTBDownsampler()


def thinned(time_s: FloatArray, value: FloatArray, n_points: int) -> tuple[FloatArray, FloatArray]:
    """Return a curve with no more points than asked for that keeps its shape and its peaks.

    Parameters
    ----------
    time_s, value : ndarray, shape (n,)
        The curve.
    n_points : int
        Most points of the result, at least 3.
    """
    n_points = max(n_points, _LEAST_POINTS)
    if len(time_s) <= n_points:
        return time_s, value
    kept = _downsampler.downsample(
        np.ascontiguousarray(time_s), np.ascontiguousarray(value), n_out=n_points
    )
    return time_s[kept], value[kept]


def newer(time_s: FloatArray, value: FloatArray, *, after_s: float) -> tuple[list[float], ...]:
    """Return what is to be added to a trace that has been drawn up to a moment.

    Parameters
    ----------
    time_s, value : ndarray, shape (n,)
        Samples at hand, times rising.
    after_s : float
        Time of the last point drawn so far, minus infinity for none.

    Returns
    -------
    tuple of two lists
        Times in seconds and values, rounded to what a screen shows.
    """
    first = int(np.searchsorted(time_s, after_s, side="right"))
    time_s, value = time_s[first:], value[first:]
    if len(time_s) == 0:
        return [], []
    n_points = int(np.ceil((time_s[-1] - time_s[0]) * POINTS_PER_S))
    time_s, value = thinned(time_s, value, n_points)
    # rounded up, or the last point would be newer than itself the next time
    return (np.ceil(time_s * 1e4) / 1e4).tolist(), np.round(value, 3).tolist()
