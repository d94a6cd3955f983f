"""Running integrals, means and medians over samples that need not be evenly spaced."""

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.compiled import compiled

ROUNDING = 1e-12
"""Of two in the middle the lower is taken, however their weights were summed."""


def running_integral(values: FloatArray, time_s: FloatArray) -> FloatArray:
    """Return the integral from the first sample to each sample, by trapezia.

    Parameters
    ----------
    values : ndarray, shape (n,) or (n, k)
        Integrand at the samples.
    time_s : ndarray, shape (n,)
        Times of the samples.

    Returns
    -------
    ndarray
        Of the shape of ``values``; the first row is zero.
    """
    columns = np.ascontiguousarray(values).reshape(len(values), -1)
    return _running_integral(columns, np.ascontiguousarray(time_s)).reshape(values.shape)


@compiled
def _running_integral(values: FloatArray, time_s: FloatArray) -> FloatArray:
    """Return it for columns."""
    total = np.zeros(values.shape)
    for k in range(1, len(values)):
        half = 0.5 * (time_s[k] - time_s[k - 1])
        for j in range(values.shape[1]):
            total[k, j] = total[k - 1, j] + half * (values[k, j] + values[k - 1, j])
    return total


@compiled
def means_over(values: FloatArray, first: IntArray, last: IntArray) -> FloatArray:
    """Return the mean of each column over stretches of rows.

    Parameters
    ----------
    values : ndarray, shape (n, k)
        Rows of samples.
    first, last : ndarray of int, shape (m,)
        Each stretch is [first, last).

    Returns
    -------
    ndarray, shape (m, k)
        One row a stretch.
    """
    found = np.zeros((len(first), values.shape[1]))
    for m in range(len(first)):
        for k in range(first[m], last[m]):
            for j in range(values.shape[1]):
                found[m, j] += values[k, j]
        for j in range(values.shape[1]):
            found[m, j] /= last[m] - first[m]
    return found


@compiled
def weighted_median(values: FloatArray, weight: FloatArray) -> FloatArray:
    """Return the weighted median of each column.

    Parameters
    ----------
    values : ndarray, shape (k, d)
        Rows to take the median of.
    weight : ndarray, shape (k,)
        Their weights, greater than 0.
    """
    half, order = 0.0, np.empty(len(values), np.int64)
    for k in range(len(values)):
        half += (0.5 - ROUNDING) * weight[k]
    median = np.empty(values.shape[1])
    for j in range(values.shape[1]):
        for k in range(len(values)):
            place = k
            while place > 0 and values[order[place - 1], j] > values[k, j]:
                order[place] = order[place - 1]
                place -= 1
            order[place] = k
        passed, place = weight[order[0]], 0
        while passed < half and place < len(values) - 1:
            place += 1
            passed += weight[order[place]]
        median[j] = values[order[place], j]
    return median


@compiled
def mean_of(values: FloatArray, start: int, stop: int) -> float:
    """Return the mean of values [start, stop).

    Parameters
    ----------
    values : ndarray, shape (n,)
        The values.
    start, stop : int
        At least one sample; what lies beyond the end does not count.
    """
    total, stop = 0.0, min(stop, len(values))
    for k in range(start, stop):
        total += values[k]
    return float(total / (stop - start))


@compiled
def area_of(values: FloatArray, time_s: FloatArray, start: int, stop: int) -> float:
    """Return the integral of values [start, stop) over their times, by trapezia.

    Parameters
    ----------
    values, time_s : ndarray, shape (n,)
        The values and their times.
    start, stop : int
        Samples.
    """
    total = 0.0
    for k in range(start + 1, min(stop, len(values))):
        total += 0.5 * (time_s[k] - time_s[k - 1]) * (values[k] + values[k - 1])
    return total
