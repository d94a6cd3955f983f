"""A smooth random function of time on a few support points."""

import math
from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.compiled import compiled
from cue_signal.matrices import backward, factor, forward

NUGGET = 1e-5
"""Share of the variance added at the support points, so that their covariance can be inverted."""


@dataclass(frozen=True, eq=False)
class Basis:
    """A Gaussian process on a few support points: values = features @ weights.

    Parameters
    ----------
    support_s : ndarray, shape (p,)
        Support points; the weights are the values there.
    kernel_inverse : ndarray, shape (p, p)
        Precision of the weights.
    sd_m_s2, length_s : float
        Size and length scale of the smooth part.
    """

    support_s: FloatArray
    kernel_inverse: FloatArray
    sd_m_s2: float
    length_s: float

    def features(self, time_s: FloatArray) -> FloatArray:
        """Return the features at times, shape (n, p)."""
        kernel = _kernel(time_s, self.support_s, self.sd_m_s2, self.length_s)
        features: FloatArray = kernel @ self.kernel_inverse
        return features

    def covariance(self, time_s: FloatArray) -> FloatArray:
        """Return the covariance between the values at times, shape (n, n)."""
        kernel = _kernel(time_s, self.support_s, self.sd_m_s2, self.length_s)
        covariance: FloatArray = kernel @ self.kernel_inverse @ kernel.T
        return covariance


def smooth_process(start_s: float, stop_s: float, sd_m_s2: float, length_s: float) -> Basis:
    """Return a process with support points close enough for its length scale.

    Parameters
    ----------
    start_s, stop_s : float
        Stretch that the support points cover.
    sd_m_s2, length_s : float
        Size and length scale.
    """
    n_support = min(max(math.ceil((stop_s - start_s) / (0.4 * length_s)) + 1, 3), 16)
    step_s = (stop_s - start_s) / (n_support - 1)
    support = start_s + step_s * np.arange(n_support, dtype=np.float64)
    return Basis(support, _precision(support, sd_m_s2, length_s), sd_m_s2, length_s)


@compiled
def _precision(support_s: FloatArray, sd_m_s2: float, length_s: float) -> FloatArray:
    """Return the inverse of the covariance at the support points, a little noise added."""
    lower = _kernel(support_s, support_s, sd_m_s2, length_s)
    for row in range(len(lower)):
        lower[row, row] += NUGGET * sd_m_s2**2
    n = len(lower)
    factor(lower, n)
    inverse = np.zeros((n, n))
    for row in range(n):
        inverse[row, row] = 1.0
        forward(lower, inverse, row, n)
        backward(lower, inverse, row, n)
    return inverse


@compiled
def _kernel(
    time_s: FloatArray, support_s: FloatArray, sd_m_s2: float, length_s: float
) -> FloatArray:
    """Return the covariance between times and support points (Matern, five halves)."""
    kernel = np.empty((len(time_s), len(support_s)))
    for k in range(len(time_s)):
        for j in range(len(support_s)):
            scaled = np.sqrt(5.0) * abs(time_s[k] - support_s[j]) / length_s
            kernel[k, j] = sd_m_s2**2 * (1.0 + scaled + scaled**2 / 3.0) * np.exp(-scaled)
    return kernel
