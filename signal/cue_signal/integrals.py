"""Running integrals over samples that need not be evenly spaced."""

import numpy as np

from cue_sensors.samples import FloatArray


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
    total = np.zeros(values.shape)
    steps = np.diff(time_s)
    if values.ndim > 1:
        steps = steps[:, None]
    np.cumsum(0.5 * steps * (values[1:] + values[:-1]), axis=0, out=total[1:])
    return total
