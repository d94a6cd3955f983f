"""Several evenings of one kind, and what they say of two players, periods or cues.

Evenings differ for reasons of their own, so shots of one evening are not as many witnesses as they
are shots. Each evening gives a value with its own error; the true values scatter about the mean of
their side, by a scatter that both sides share and that is summed over a grid (Gelman et al.,
Bayesian Data Analysis, 3rd ed., 2013, section 5.4, from memory).
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import digamma, polygamma

from cue_practice.likelihood import FloatArray

_N_SCATTERS = 60
_WIDEST = 4.0
_N_DRAWS = 8000
_SEED = 1999


@dataclass(frozen=True, eq=False)
class Evenings:
    """Values of several evenings with their standard errors, on a scale where errors are normal.

    Parameters
    ----------
    value, sd : ndarray, shape (n,)
        One for each evening that could tell.
    """

    value: FloatArray
    sd: FloatArray


def log_spread(square: FloatArray, degrees: FloatArray) -> Evenings:
    """Return the logarithm of standard deviations from sums of squares.

    Parameters
    ----------
    square, degrees : ndarray, shape (n,)
        Sum of squares and degrees of freedom; those without any are left out. The logarithm of a
        chi-squared number has mean ln 2 + digamma(k/2) and variance trigamma(k/2).
    """
    known = (degrees > 0) & (square > 0.0)
    half = degrees[known] / 2.0
    value = (np.log(square[known]) - np.log(2.0) - digamma(half)) / 2.0
    return Evenings(value, np.sqrt(polygamma(1, half)) / 2.0)


def log_odds(n_true: FloatArray, n: FloatArray) -> Evenings:
    """Return the log odds of a share, by the moments of Jeffreys' posterior.

    Parameters
    ----------
    n_true, n : ndarray, shape (k,)
        How many, of how many; evenings with none are left out.
    """
    known = n > 0
    yes, no = n_true[known] + 0.5, (n - n_true)[known] + 0.5
    return Evenings(digamma(yes) - digamma(no), np.sqrt(polygamma(1, yes) + polygamma(1, no)))


def draw_means(*sides: Evenings, between_sd: float) -> list[FloatArray]:
    """Return equally likely values of the mean of every side; the same for the same evenings.

    Parameters
    ----------
    *sides : Evenings
        At least one evening each.
    between_sd : float
        Root mean square of the scatter between evenings beforehand (half-normal).

    Returns
    -------
    list of ndarray
        Draws of the mean of each side, which belong together.
    """
    scatter = np.linspace(0.0, _WIDEST * between_sd, _N_SCATTERS)
    parts = [_given(side, scatter) for side in sides]
    log_weight = sum((part[2] for part in parts), -(scatter**2) / (2.0 * between_sd**2))
    weight = np.exp(log_weight - log_weight.max())
    weight[0] /= 2.0  # the half cell of the trapezoidal rule
    rng = np.random.default_rng(_SEED)
    places = (np.arange(_N_DRAWS) + 0.5) / _N_DRAWS
    node = np.searchsorted(np.cumsum(weight / weight.sum()), places)
    node = np.minimum(node, _N_SCATTERS - 1)
    return [mean[node] + sd[node] * rng.standard_normal(_N_DRAWS) for mean, sd, _ in parts]


def _given(side: Evenings, scatter: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return mean, its standard deviation and log evidence of one side at each scatter."""
    variance = side.sd[np.newaxis, :] ** 2 + scatter[:, np.newaxis] ** 2
    precision = np.sum(1.0 / variance, axis=1)
    mean = np.sum(side.value / variance, axis=1) / precision
    left = np.sum((side.value - mean[:, np.newaxis]) ** 2 / variance, axis=1)
    evidence = -(np.log(precision) + np.sum(np.log(variance), axis=1) + left) / 2.0
    return mean, 1.0 / np.sqrt(precision), evidence
