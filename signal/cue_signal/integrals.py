"""Running integrals and means over samples that need not be evenly spaced."""

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.compiled import compiled


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
