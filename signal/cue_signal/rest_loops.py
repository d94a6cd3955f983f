"""The compiled loops of finding where a cue stands still."""

import numpy as np

from cue_sensors.samples import BoolArray, FloatArray, IntArray
from cue_signal.compiled import compiled


@compiled
def moving_mean(values: FloatArray, size: int) -> FloatArray:
    """Return the mean of each column over a centred moving window, ends held.

    Parameters
    ----------
    values : ndarray, shape (n, k)
        Rows of samples.
    size : int
        Length of the window; of an even one the middle lies just before a sample.

    Returns
    -------
    ndarray, shape (n, k)
        As scipy.ndimage.uniform_filter1d with mode="nearest" gives it.
    """
    n, d = values.shape
    back = size // 2
    found, total = np.empty(values.shape), np.zeros(d)
    for k in range(-back, size - back):
        for j in range(d):
            total[j] += values[min(max(k, 0), n - 1), j]
    for k in range(n):
        # the columns side by side: each sum waits for the one before
        for j in range(d):
            found[k, j] = total[j] / size
            total[j] += values[min(k + size - back, n - 1), j] - values[max(k - back, 0), j]
    return found


@compiled
def moving_spread(values: FloatArray, size: int) -> FloatArray:
    """Return the standard deviation over a centred moving window, columns together.

    Parameters
    ----------
    values : ndarray, shape (n, k)
        Rows of samples, their mean near zero.
    size : int
        Length of the window.

    Returns
    -------
    ndarray, shape (n,)
        Root of the sum of the columns' variances.
    """
    squares = np.empty((len(values), 1))
    for k in range(len(values)):
        total = 0.0
        for j in range(values.shape[1]):
            total += values[k, j] ** 2
        squares[k, 0] = total
    mean, square = moving_mean(values, size), moving_mean(squares, size)
    spread = np.empty(len(values))
    for k in range(len(values)):
        left = square[k, 0]
        for j in range(values.shape[1]):
            left -= mean[k, j] ** 2
        spread[k] = np.sqrt(max(left, 0.0))
    return spread


@compiled
def liveliness(values: FloatArray, size: int, tremor_size: int) -> FloatArray:
    """Return how lively rows are about each of them: spread, and change of the smoothed rows.

    Parameters
    ----------
    values : ndarray, shape (n, k)
        Rows of samples.
    size, tremor_size : int
        Length of the moving window; of the smoothing, which is done twice.

    Returns
    -------
    ndarray, shape (2, n)
        Standard deviation, columns together; length of the change over about ``size`` samples.
    """
    n, d = values.shape
    # about the mean of all, so that squares of gravity do not swamp tremor
    about = np.empty((n, d))
    for j in range(d):
        total = 0.0
        for k in range(n):
            total += values[k, j]
        for k in range(n):
            about[k, j] = values[k, j] - total / n
    spread = moving_spread(about, size)
    smooth = moving_mean(moving_mean(about, tremor_size), tremor_size)
    step = distance_across(smooth, size // 2)
    found = np.empty((2, n))
    for k in range(n):
        found[0, k], found[1, k] = spread[k], step[k]
    return found


@compiled
def distance_across(values: FloatArray, half: int) -> FloatArray:
    """Return how far rows a while later lie from rows as long before, ends held.

    Parameters
    ----------
    values : ndarray, shape (n, k)
        Rows of samples.
    half : int
        Samples either way.

    Returns
    -------
    ndarray, shape (n,)
        Length of the difference.
    """
    n = len(values)
    found = np.empty(n)
    for k in range(n):
        total = 0.0
        for j in range(values.shape[1]):
            total += (values[min(k + half, n - 1), j] - values[max(k - half, 0), j]) ** 2
        found[k] = np.sqrt(total)
    return found


@compiled
def distance_from(values: FloatArray, centre: FloatArray) -> FloatArray:
    """Return how far rows lie from a point.

    Parameters
    ----------
    values : ndarray, shape (n, k)
        Rows of samples.
    centre : ndarray, shape (k,)
        The point.

    Returns
    -------
    ndarray, shape (n,)
        Length of the difference.
    """
    found = np.empty(len(values))
    for k in range(len(values)):
        total = 0.0
        for j in range(values.shape[1]):
            total += (values[k, j] - centre[j]) ** 2
        found[k] = np.sqrt(total)
    return found


@compiled
def pieces_of(
    start: IntArray, stop: IntArray, n_samples: int
) -> tuple[IntArray, IntArray, IntArray]:
    """Return stretches cut into even pieces of about so many samples, at least one of each.

    Parameters
    ----------
    start, stop : ndarray of int, shape (k,)
        Stretches [start, stop).
    n_samples : int
        About the length of a piece.

    Returns
    -------
    tuple of ndarray of int, shape (m,), three times
        Pieces [first, last), and the stretch that each is of.
    """
    n = 0
    for k in range(len(start)):
        n += max(1, int(np.rint((stop[k] - start[k]) / n_samples)))
    first, last, of = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    n = 0
    for k in range(len(start)):
        n_pieces = max(1, int(np.rint((stop[k] - start[k]) / n_samples)))
        length = (stop[k] - start[k]) / n_pieces
        for piece in range(n_pieces):
            first[n] = int(np.rint(start[k] + piece * length))
            last[n] = int(np.rint(start[k] + (piece + 1) * length))
            of[n] = k
            n += 1
        last[n - 1] = stop[k]
    return first, last, of


@compiled
def quiet_runs(quiet: BoolArray, size: int, gaps: IntArray) -> IntArray:
    """Return the quiet runs, widened to the samples their moving windows covered, cut at gaps.

    Parameters
    ----------
    quiet : ndarray of bool, shape (n,)
        Whether the moving window about each sample is quiet.
    size : int
        Length of the moving window.
    gaps : ndarray of int
        Samples were lost just before these.

    Returns
    -------
    ndarray of int, shape (k, 2)
        Runs [start, stop).
    """
    n, half = len(quiet), size // 2
    found, n_found = np.empty((n // 2 + 1, 2), np.int64), 0
    first = -1
    for k in range(n + 1):
        is_quiet = k < n and quiet[k]
        if is_quiet and first < 0:
            first = k
        if is_quiet or first < 0:
            continue
        start, stop = max(0, first - half + 1), min(n, k + half - 1)
        first = -1
        for gap in gaps:
            if start < gap < stop and gap - start >= stop - gap:
                stop = gap
            elif start < gap < stop:
                start = gap
        if n_found > 0:
            start = max(start, found[n_found - 1, 1])
        if stop - start >= max(3, size - 2):
            found[n_found, 0], found[n_found, 1] = start, stop
            n_found += 1
    return found[:n_found]
