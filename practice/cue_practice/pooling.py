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
    scatter = np.linspace(0.0, _WIDEST * between_sd, _N_SCATTERS)
    variance = np.asarray(sds)[np.newaxis, :] ** 2 + scatter[:, np.newaxis] ** 2
    precision = 1.0 / mean_sd**2 + np.sum(1.0 / variance, axis=1)
    mean = np.sum(values / variance, axis=1) / precision
    log_weight = -(scatter**2) / (2.0 * between_sd**2) - np.log(precision) / 2.0
    log_weight -= np.sum(np.log(variance), axis=1) / 2.0
    log_weight -= (np.sum(values**2 / variance, axis=1) - precision * mean**2) / 2.0
    weight = np.exp(log_weight - log_weight.max())
    weight[0] /= 2.0  # the trapezoidal rule's half cell at no scatter at all
    weight /= weight.sum()
    centre = float(weight @ mean)
    spread = float(weight @ (1.0 / precision + scatter**2 + (mean - centre) ** 2))
    return Expectation(centre, math.sqrt(spread))
