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
    half_steps = 0.5 * (time_s[1:] - time_s[:-1])
    areas = values[1:] + values[:-1]
    areas *= half_steps if values.ndim == 1 else half_steps[:, None]
    total = np.empty(values.shape)
    total[:1] = 0.0
    np.cumsum(areas, axis=0, out=total[1:])
    return total
