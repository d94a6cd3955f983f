"""What lost samples hide: within a gap the cue may have gained or lost any usual speed."""

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.strapdown import Path
from cue_signal.windows import Window

GAP_ACCEL_M_S2 = 4.0
"""Mean acceleration within a gap: of feathers, and as much again as the samples beside it show."""
BESIDE_S = 0.1
MOST_GAPS = 6
"""Only so many before the hit's own end are told apart."""


def gap_terms(window: Window, path: Path, stop: int) -> tuple[IntArray, FloatArray]:
    """Return where speed may have changed unseen, and by how much.

    Parameters
    ----------
    window, path : Window, Path
        Samples and raw motion.
    stop : int
        Only gaps before this sample count, and after the player came down.

    Returns
    -------
    tuple of ndarray of int, shape (g,), and ndarray, shape (g,)
        First samples after each gap; standard deviation of the speed gained in it, in m/s,
        besides what a straight line through it gives.
    """
    if not len(window.gap_indices):
        return window.gap_indices, np.zeros(0)
    inside = (window.gap_indices > path.down_index) & (window.gap_indices < stop)
    index = window.gap_indices[inside][-MOST_GAPS:]
    beside = window.n_samples(BESIDE_S)
    sds = []
    for first in index.tolist():
        near = path.axial_m_s2[max(0, first - beside) : first + beside]
        accel = np.hypot(GAP_ACCEL_M_S2, float(np.sqrt(np.mean(near**2))))
        sds.append(accel * float(window.time_s[first] - window.time_s[first - 1]))
    return index, np.array(sds, dtype=np.float64)


def steps(index: IntArray, n_samples: int) -> FloatArray:
    """Return the speed that one unit gained in each gap adds to the samples, shape (n, g).

    Parameters
    ----------
    index : ndarray of int, shape (g,)
        First samples after each gap.
    n_samples : int
        Number of samples.
    """
    after: FloatArray = (np.arange(n_samples)[:, None] >= index).astype(np.float64)
    return after
