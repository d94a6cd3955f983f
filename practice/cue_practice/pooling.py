"""Random effects: what several uncertain results of one kind say about the next of that kind.

Each result is a true value plus its own error; the true values scatter about a common mean. Mean
and scatter are unknown themselves (Gelman et al., Bayesian Data Analysis, 3rd ed., 2013, section
5.4, from memory): given the scatter all is normal, and the scatter is summed over a grid.
"""

import math
from dataclasses import dataclass

import numpy as np

from cue_practice.likelihood import FloatArray

_N_SCATTERS = 40
_WIDEST = 4.0


@dataclass(frozen=True)
class Expectation:
    """What is expected of the next one.

    Parameters
    ----------
    mean, sd : float
        In the unit of the results.
    """

    mean: float
    sd: float


def expected_next(
    values: FloatArray, sds: FloatArray, *, mean_sd: float, between_sd: float
) -> Expectation:
    """Return what several results say about the next.

    Parameters
    ----------
    values, sds : ndarray, shape (n,)
        Results and their standard uncertainties; n may be 0.
    mean_sd : float
        Uncertainty of the common mean beforehand, about 0.
    between_sd : float
        Root mean square of the scatter of true values beforehand (half-normal).

    Returns
    -------
    Expectation
        ``hypot(mean_sd, between_sd)`` about 0 where there are no results.
    """
    scatter, weight, mean, precision = _given_scatter(values, sds, mean_sd, between_sd)
    centre = float(weight @ mean)
    spread = float(weight @ (1.0 / precision + scatter**2 + (mean - centre) ** 2))
    return Expectation(centre, math.sqrt(spread))


def scatter_interval(
    values: FloatArray, sds: FloatArray, *, between_sd: float, sides: tuple[float, float]
) -> tuple[float, float, float]:
    """Return how far the true values of several results lie apart.

    Parameters
    ----------
    values, sds : ndarray, shape (n,)
        Results and their standard uncertainties.
    between_sd : float
        Root mean square of that scatter beforehand (half-normal).
    sides : tuple of two floats
        Shares of the posterior below the ends of the interval.

    Returns
    -------
    tuple of three floats
        Median, lower and upper end of the standard deviation of the true values.
    """
    reach = 1e3 * (between_sd + float(np.max(np.abs(values))))  # the mean is as good as unknown
    scatter, weight, _, _ = _given_scatter(values, sds, reach, between_sd)
    share = np.cumsum(weight) - weight / 2.0
    low, middle, high = np.interp((sides[0], 0.5, sides[1]), share, scatter)
    return float(middle), float(low), float(high)


def _given_scatter(
    values: FloatArray, sds: FloatArray, mean_sd: float, between_sd: float
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return a grid of scatters, their weights, and mean and precision of the mean at each."""
    scatter = np.linspace(0.0, _WIDEST * between_sd, _N_SCATTERS)
    variance = np.asarray(sds)[np.newaxis, :] ** 2 + scatter[:, np.newaxis] ** 2
    precision = 1.0 / mean_sd**2 + np.sum(1.0 / variance, axis=1)
    mean = np.sum(values / variance, axis=1) / precision
    log_weight = -(scatter**2) / (2.0 * between_sd**2) - np.log(precision) / 2.0
    log_weight -= np.sum(np.log(variance), axis=1) / 2.0
    log_weight -= (np.sum(values**2 / variance, axis=1) - precision * mean**2) / 2.0
    weight = np.exp(log_weight - log_weight.max())
    weight[0] /= 2.0  # the trapezoidal rule's half cell at no scatter at all
    return scatter, weight / weight.sum(), mean, precision
