"""One stretch of samples around a possible hit, on an even time axis.

Everything that is measured about one stroke is computed from its window alone, so that samples
arriving in pieces and samples read from a file give the same numbers.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cue_sensors.samples import GAP_FACTOR, BoolArray, FloatArray, IntArray, Samples
from cue_signal.compiled import compiled

LEAST_RUN = 8
"""Samples in a row below which no line is put through their times."""
USUAL_STEP = 0.2
UNUSUAL_STEP = (0.4, 1.8)
"""Where all steps are this close to the period that is stated, or outside these parts of it, the
median is close to it as well: whatever it is exactly, the same steps belong to it."""
REGULAR_JITTER = 0.2
"""Time stamps off an even grid by less than this many periods are rounding, not motion."""
PLATEAU_REPEATS = 3
"""An end value met exactly this often or more on one axis is the end of the sensor's range."""
PLATEAU_MIN_M_S2 = 15.0
"""Ends of range below this are not sold; repeats under it are quantisation."""


@dataclass(frozen=True, eq=False)
class Window:
    """Samples of one stretch with lost and clipped ones marked.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Even between gaps.
    force_m_s2 : ndarray, shape (n, 3)
        Specific force in the sensor's frame.
    rate_rad_s : ndarray, shape (n, 3), or None
        Angular rate in the sensor's frame.
    is_clipped : ndarray of bool, shape (n,)
        Some accelerometer axis stood at the end of its range.
    gap_indices : ndarray of int
        Samples were lost just before these.
    period_s : float
        Sampling period.
    """

    time_s: FloatArray
    force_m_s2: FloatArray
    rate_rad_s: FloatArray | None
    is_clipped: BoolArray
    gap_indices: IntArray
    period_s: float

    def __len__(self) -> int:
        """Return the number of samples."""
        return len(self.time_s)

    def n_samples(self, duration_s: float, *, at_least: int = 1) -> int:
        """Return how many sampling periods make up a duration, to the nearest whole."""
        return max(at_least, round(duration_s / self.period_s))


def cut_window(samples: Samples, start_s: float, stop_s: float) -> Window:
    """Return the samples with start_s <= time < stop_s on an even time axis.

    Parameters
    ----------
    samples : Samples
        The stream, or the part of it at hand.
    start_s, stop_s : float
        Ends of the stretch in seconds on the recording's axis.

    Returns
    -------
    Window
        May be empty.
    """
    first, last = np.searchsorted(samples.time_s, [start_s, stop_s])
    time_s = np.asarray(samples.time_s[first:last], dtype=np.float64)
    rate = samples.angular_rate_rad_s
    period_s = typical_period_s(time_s, fallback_s=1.0 / samples.rate_hz)
    gaps = (np.flatnonzero(np.diff(time_s) > GAP_FACTOR * period_s) + 1).astype(np.int64)
    return Window(
        time_s=even_times_s(time_s, gaps),
        force_m_s2=np.asarray(samples.specific_force_m_s2[first:last], dtype=np.float64),
        rate_rad_s=None if rate is None else np.asarray(rate[first:last], dtype=np.float64),
        is_clipped=np.asarray(samples.is_clipped[first:last], dtype=np.bool_),
        gap_indices=gaps,
        period_s=period_s,
    )


def typical_period_s(time_s: FloatArray, *, fallback_s: float) -> float:
    """Return the sampling period, which lost samples and rounded time stamps do not bend.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Strictly increasing times.
    fallback_s : float
        The period as stated: returned for fewer than three samples.

    Returns
    -------
    float
        Seconds, greater than 0.
    """
    if len(time_s) < 3:
        return fallback_s
    steps = np.diff(time_s)
    usual = np.abs(steps - fallback_s) < USUAL_STEP * fallback_s
    shortest, longest = (part * fallback_s for part in UNUSUAL_STEP)
    n_unusual = np.count_nonzero((steps < shortest) | (steps > longest))
    if not n_unusual + np.count_nonzero(usual) == len(steps) > 2 * n_unusual:
        # a median of many steps nearly alike takes longer than all else done with a recording
        middle = median(steps)
        usual = np.abs(steps - middle) < 0.5 * middle
    # the median of rounded steps is itself rounded: average the steps that belong to it
    return float(steps[usual].sum() / np.count_nonzero(usual))


def median(values: FloatArray) -> float:
    """Return the median, see `medians`.

    Parameters
    ----------
    values : ndarray, shape (n,)
        At least one.
    """
    return float(medians(values[:, np.newaxis])[0])


def medians(rows: FloatArray) -> FloatArray:
    """Return the median of each column, without the checks that take numpy's longer than the work.

    Parameters
    ----------
    rows : ndarray, shape (n, k)
        At least one row.
    """
    half, below = len(rows) // 2, (len(rows) - 1) // 2
    parted = np.partition(np.ascontiguousarray(rows.T), (below, half), axis=1)
    middle: FloatArray = 0.5 * (parted[:, below] + parted[:, half])
    return middle


def even_times_s(time_s: FloatArray, gap_indices: IntArray) -> FloatArray:
    """Return the times with rounding taken out: a straight line through each unbroken run.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Strictly increasing times.
    gap_indices : ndarray of int
        Indices just before which samples were lost.

    Returns
    -------
    ndarray, shape (n,)
        Unchanged in runs whose stamps wander further than rounding would take them.
    """
    even = time_s.copy()
    edges = [0, *gap_indices.tolist(), len(time_s)]
    for first, last in pairwise(edges):
        if last - first >= LEAST_RUN:
            _straighten(even[first:last])
    return even


@compiled
def _straighten(run_s: FloatArray) -> None:
    """Put the line through nearly even times in their place."""
    n = len(run_s)
    middle, centre = 0.5 * (n - 1), 0.0
    for k in range(n):
        centre += (run_s[k] - run_s[0]) / n
    centre += run_s[0]
    rise, run = 0.0, 0.0
    for k in range(n):
        rise += (k - middle) * (run_s[k] - centre)
        run += (k - middle) ** 2
    step = rise / run
    for k in range(n):
        if abs(centre + step * (k - middle) - run_s[k]) >= REGULAR_JITTER * step:
            return
    for k in range(n):
        run_s[k] = centre + step * (k - middle)


def mark_plateaus(force_m_s2: FloatArray) -> BoolArray:
    """Return where an axis stands at an end value that it meets again and again.

    A file that does not state the sensor's range still shows it: a clipped axis returns the same
    number every time, at the top or the bottom.

    Parameters
    ----------
    force_m_s2 : ndarray, shape (n, 3)
        Specific force in the sensor's frame.

    Returns
    -------
    ndarray of bool, shape (n,)
        True where some axis is clipped.
    """
    marked = np.zeros(len(force_m_s2), dtype=np.bool_)
    if len(force_m_s2) == 0:
        return marked
    for axis in range(3):
        values = np.ascontiguousarray(force_m_s2[:, axis])
        for end in (float(values.max()), float(values.min())):
            if abs(end) <= PLATEAU_MIN_M_S2:
                continue
            at_end = np.abs(values - end) <= 1e-6 * abs(end)
            if np.count_nonzero(at_end) >= PLATEAU_REPEATS:
                marked |= at_end
    return marked
