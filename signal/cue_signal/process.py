"""A smooth random function of time on a few support points."""

import math
from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.compiled import compiled
from cue_signal.matrices import backward, factor, forward

SPACING, UNREST_SPACING = 0.4, 0.6
MOST_SUPPORT = 24
"""Distance of the support points in parts of a length scale, and how many there are at most."""
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
    unrest_m_s2, unrest_s : float
        Size and length scale of a quicker, smaller part on top of it.
    """

    support_s: FloatArray
    kernel_inverse: FloatArray
    sd_m_s2: float
    length_s: float
    unrest_m_s2: float = 0.0
    unrest_s: float = 1.0

    def features(self, time_s: FloatArray) -> FloatArray:
        """Return the features at times, shape (n, p)."""
        features: FloatArray = self._with_support(time_s) @ self.kernel_inverse
        return features

    def covariance(self, time_s: FloatArray) -> FloatArray:
        """Return the covariance between the values at times, shape (n, n)."""
        kernel = self._with_support(time_s)
        covariance: FloatArray = kernel @ self.kernel_inverse @ kernel.T
        return covariance

    def _with_support(self, time_s: FloatArray) -> FloatArray:
        """Return the covariance between the values at times and at the support points."""
        sizes = (self.sd_m_s2, self.length_s, self.unrest_m_s2, self.unrest_s)
        return _kernel(time_s, self.support_s, *sizes)


def smooth_process(
    start_s: float,
    stop_s: float,
    sd_m_s2: float,
    length_s: float,
    *,
    unrest_m_s2: float = 0.0,
    unrest_s: float = 1.0,
) -> Basis:
    """Return a process with support points close enough for its length scales.

    Parameters
    ----------
    start_s, stop_s : float
        Stretch that the support points cover.
    sd_m_s2, length_s : float
        Size and length scale.
    unrest_m_s2, unrest_s : float
        The same of a quicker, smaller part on top of it.
    """
    apart_s = SPACING * length_s
    if unrest_m_s2 > 0.0:
        apart_s = min(apart_s, UNREST_SPACING * unrest_s)
    n_support = min(max(math.ceil((stop_s - start_s) / apart_s) + 1, 3), MOST_SUPPORT)
    step_s = (stop_s - start_s) / (n_support - 1)
    support = start_s + step_s * np.arange(n_support, dtype=np.float64)
    precision = _precision(support, sd_m_s2, length_s, unrest_m_s2, unrest_s)
    return Basis(support, precision, sd_m_s2, length_s, unrest_m_s2, unrest_s)


@compiled
def _precision(
    support_s: FloatArray, sd_m_s2: float, length_s: float, unrest_m_s2: float, unrest_s: float
) -> FloatArray:
    """Return the inverse of the covariance at the support points, a little noise added."""
    lower = _kernel(support_s, support_s, sd_m_s2, length_s, unrest_m_s2, unrest_s)
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
    time_s: FloatArray,
    support_s: FloatArray,
    sd_m_s2: float,
    length_s: float,
    unrest_m_s2: float,
    unrest_s: float,
) -> FloatArray:
    """Return the covariance between times and support points (Matern, five halves, of each)."""
    kernel = np.empty((len(time_s), len(support_s)))
    for k in range(len(time_s)):
        for j in range(len(support_s)):
            apart_s = np.sqrt(5.0) * abs(time_s[k] - support_s[j])
            scaled = apart_s / length_s
            value = sd_m_s2**2 * (1.0 + scaled + scaled**2 / 3.0) * np.exp(-scaled)
            if unrest_m_s2 > 0.0:
                scaled = apart_s / unrest_s
                value += unrest_m_s2**2 * (1.0 + scaled + scaled**2 / 3.0) * np.exp(-scaled)
            kernel[k, j] = value
    return kernel
