"""A smooth random function of time on a few support points."""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray


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
        """Return the features at times, shape (..., p)."""
        lag = time_s[..., None] - self.support_s
        features: FloatArray = _kernel(lag, self.sd_m_s2, self.length_s) @ self.kernel_inverse
        return features


def smooth_process(start_s: float, stop_s: float, sd_m_s2: float, length_s: float) -> Basis:
    """Return a process with support points close enough for its length scale.

    Parameters
    ----------
    start_s, stop_s : float
        Stretch that the support points cover.
    sd_m_s2, length_s : float
        Size and length scale.
    """
    n_support = int(np.clip(np.ceil((stop_s - start_s) / (0.4 * length_s)) + 1, 3, 16))
    support = np.linspace(start_s, stop_s, n_support)
    kernel = _kernel(support[:, None] - support, sd_m_s2, length_s)
    kernel[np.diag_indices(n_support)] += 1e-5 * sd_m_s2**2
    inverse: FloatArray = np.asarray(np.linalg.inv(kernel), dtype=np.float64)
    return Basis(support, inverse, sd_m_s2, length_s)


def _kernel(lag_s: FloatArray, sd_m_s2: float, length_s: float) -> FloatArray:
    """Return the covariance of the process at lags (Matern, five halves)."""
    scaled = np.sqrt(5.0) * np.abs(lag_s) / length_s
    kernel: FloatArray = sd_m_s2**2 * (1.0 + scaled + scaled**2 / 3.0) * np.exp(-scaled)
    return kernel
