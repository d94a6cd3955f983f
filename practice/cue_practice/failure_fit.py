"""Whether any of many measures goes with an outcome more than by chance, and how strongly.

Whether: each measure's score (the efficient score of a regression) is held against the greatest of
all measures once chance has exchanged the outcomes within each series, so that looking at many
measures does not find something in nothing (P. H. Westfall and S. S. Young, Resampling-Based
Multiple Testing, Wiley, 1993, section 2.3, from memory). How strongly: all measures together in one
regression, their effects drawn towards none by a common prior with long tails whose width is itself
weighed (Laplace's approximation at each width; Gelman et al., Bayesian Data Analysis, 3rd ed.,
2013, chapters 4, 5 and 17, from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit, ndtr

from cue_practice.likelihood import FloatArray, IntArray

N_DRAWS = 1000
_SEED = 2026
_PER_CHUNK = 400_000
_WIDTHS = np.array([0.02, 0.04, 0.07, 0.1, 0.15, 0.2, 0.3, 0.4, 0.6])
_WIDTH_SD = 0.2
"""Half-normal doubt on the common width: most traits do next to nothing."""
_DOF = 2.0
"""Student's t: its tails leave the few effects that are real alone."""
_TURNS = 3
_INTERCEPT_SD = 1.0
_FARTHEST_SD = 3.0
_NEWTON_STEPS = 12
_SIDE = 1.6449  # 90 % two-sided
_LEAST_NORM = 1e-9


@dataclass(frozen=True, eq=False)
class Weighed:
    """Measures weighed against an outcome; m of them, per standard deviation of each.

    Parameters
    ----------
    score : ndarray, shape (m,)
        Standardised score of each alone; about normal where there is nothing.
    chance_share : ndarray, shape (m,)
        Share of outcomes by chance alone in which the greatest score of all is as great.
    needed_score : float
        Score that chance alone passes in ``alpha`` of the cases.
    effect, effect_sd : ndarray, shape (m,)
        Shrunk effect: change of the log odds, or of the outcome itself.
    probability_positive : ndarray, shape (m,)
        That the effect is above 0.
    information : ndarray, shape (m,)
        Score that an effect of 1 would give.
    """

    score: FloatArray
    chance_share: FloatArray
    needed_score: float
    effect: FloatArray
    effect_sd: FloatArray
    probability_positive: FloatArray
    information: FloatArray

    @property
    def low(self) -> FloatArray:
        """Return the lower end of the effects' 90 % intervals."""
        return np.asarray(self.effect - _SIDE * self.effect_sd)

    @property
    def high(self) -> FloatArray:
        """Return the upper end of the effects' 90 % intervals."""
        return np.asarray(self.effect + _SIDE * self.effect_sd)


def weigh_yes_no(
    measures: FloatArray,
    outcome: FloatArray,
    expected: FloatArray,
    group: IntArray,
    *,
    alpha: float,
) -> Weighed:
    """Return how measures go with an outcome that is 1 or 0.

    Parameters
    ----------
    measures : ndarray, shape (n, m)
        Each of mean 0 and standard deviation 1 within its group, see :func:`set_apart`.
    outcome : ndarray, shape (n,)
        1 or 0.
    expected : ndarray, shape (n,)
        Chance of a 1 without the measures, see :func:`expected_chance`.
    group : ndarray of int, shape (n,)
        Shots that chance may exchange with each other.
    alpha : float
        How often chance alone may pass for something, all measures together.

    Returns
    -------
    Weighed
        The same for the same shots.
    """
    information = np.sqrt((measures**2).T @ (expected * (1.0 - expected)))
    offset = np.asarray(logit(expected))
    effects = _shrunk(measures, partial(_log_odds, measures, outcome, offset))
    return _weighed(measures, outcome - expected, group, information, effects, alpha)


def weigh_number(
    measures: FloatArray, outcome: FloatArray, group: IntArray, *, alpha: float
) -> Weighed:
    """Return how measures go with a number.

    Parameters
    ----------
    measures, group, alpha
        As in :func:`weigh_yes_no`.
    outcome : ndarray, shape (n,)
        Of mean 0 in every group.

    Returns
    -------
    Weighed
        Effects in the unit of the outcome.
    """
    scale = max(float(np.std(outcome)), _LEAST_NORM)
    information = np.sqrt((measures**2).sum(axis=0))
    effects = _shrunk(measures, partial(_number, measures, outcome / scale))
    found = _weighed(measures, outcome / scale, group, information, effects, alpha)
    return replace(
        found,
        effect=found.effect * scale,
        effect_sd=found.effect_sd * scale,
        information=found.information / scale,
    )


def set_apart(values: FloatArray, group: IntArray, taken_out: FloatArray) -> FloatArray | None:
    """Return a measure as it differs from what its group and other things explain.

    Parameters
    ----------
    values : ndarray, shape (n,)
        nan where the sensor cannot tell.
    group : ndarray of int, shape (n,)
        Series: each is compared with itself alone.
    taken_out : ndarray, shape (n, k)
        What shall not pass for the measure, for example the pace.

    Returns
    -------
    ndarray or None
        Mean 0, standard deviation 1, no outlier beyond three of these, 0 where it is not known;
        None where it does not vary.
    """
    known = np.isfinite(values)
    out = np.zeros(len(values))
    if known.sum() <= taken_out.shape[1] + 2:
        return None
    rest = _within_groups(values[known], group[known])
    if taken_out.shape[1]:
        others = np.column_stack([_within_groups(col[known], group[known]) for col in taken_out.T])
        rest = rest - others @ np.linalg.lstsq(others, rest, rcond=None)[0]
    spread = float(np.median(np.abs(rest))) * 1.4826 or float(rest.std())
    if spread < 1e-12 or not np.isfinite(spread):
        return None
    rest = np.clip(rest, -_FARTHEST_SD * spread, _FARTHEST_SD * spread)
    rest = _within_groups(rest, group[known])
    out[known] = rest / rest.std()
    return out


def expected_chance(outcome: FloatArray, group: IntArray, explained: FloatArray) -> FloatArray:
    """Return the chance of an outcome by series and by what explains it anyway.

    Parameters
    ----------
    outcome : ndarray, shape (n,)
        1 or 0.
    group : ndarray of int, shape (n,)
        Series; their differences are drawn towards none.
    explained : ndarray, shape (n, k)
        Columns of a logistic regression.

    Returns
    -------
    ndarray, shape (n,)
        Within 0 and 1.
    """
    place = np.unique(group, return_inverse=True)[1]
    scaled = explained - explained.mean(axis=0)
    scaled = scaled / np.maximum(scaled.std(axis=0), _LEAST_NORM)
    design = np.column_stack([np.ones(len(outcome)), scaled, np.eye(place.max() + 1)[place]])
    precision = np.full(design.shape[1], 1.0 / _INTERCEPT_SD**2)
    precision[0] = 1e-4
    beta, _ = _mode(design, outcome, np.zeros(len(outcome)), precision, np.zeros(design.shape[1]))
    return np.clip(expit(design @ beta), 0.005, 0.995)


def _chunks(n: int) -> list[int]:
    """Return how many draws to make at a time."""
    size = min(max(_PER_CHUNK // max(n, 1), 1), N_DRAWS)
    return [min(size, N_DRAWS - start) for start in range(0, N_DRAWS, size)]


def _within_groups(values: FloatArray, group: IntArray) -> FloatArray:
    """Return values less the mean of their group."""
    _, place, count = np.unique(group, return_inverse=True, return_counts=True)
    return np.asarray(values - (np.bincount(place, weights=values) / count)[place])


def _weighed(
    measures: FloatArray,
    left: FloatArray,
    group: IntArray,
    information: FloatArray,
    effects: tuple[FloatArray, FloatArray, FloatArray],
    alpha: float,
) -> Weighed:
    """Return scores held against the greatest ones of chance; ``left`` is what is to explain."""
    information = np.maximum(information, _LEAST_NORM)
    score = measures.T @ left / information
    by_chance = _greatest_by_chance(measures / information, left, group)
    n_above = len(by_chance) - np.searchsorted(by_chance, np.abs(score) - 1e-12)
    return Weighed(
        score=score,
        chance_share=np.asarray((1.0 + n_above) / (1.0 + len(by_chance)), dtype=np.float64),
        needed_score=float(np.quantile(by_chance, 1.0 - alpha)),
        effect=effects[0],
        effect_sd=effects[1],
        probability_positive=effects[2],
        information=information,
    )


def _greatest_by_chance(measures: FloatArray, left: FloatArray, group: IntArray) -> FloatArray:
    """Return, rising, the greatest score of each draw that exchanges outcomes within groups."""
    order = np.argsort(group, kind="stable")
    z, y, place = measures[order], left[order], np.unique(group[order], return_inverse=True)[1]
    exchanged = _exchanges(place.astype(np.int64).tobytes())
    return np.sort(np.concatenate([np.max(np.abs(y[one] @ z), axis=1) for one in exchanged]))


@lru_cache(maxsize=4)
def _exchanges(place: bytes) -> tuple[NDArray[np.unsignedinteger[Any]], ...]:
    """Return which shot's outcome each shot gets, a row a draw; groups stand one after another.

    Remembered: a tap that changes a result leaves the groups as they are.
    """
    group = np.frombuffer(place, dtype=np.int64)
    rng = np.random.default_rng(_SEED)
    kind = np.min_scalar_type(max(len(group) - 1, 0))
    return tuple(
        np.argsort(group + rng.random((size, len(group))), axis=1).astype(kind)
        for size in _chunks(len(group))
    )


def _shrunk(
    measures: FloatArray,
    at: Callable[[FloatArray, FloatArray], tuple[FloatArray, FloatArray, float]],
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return mean, standard deviation and P(> 0) of all effects over all widths of their prior.

    Student's t as a normal of unknown width of its own for each effect: found in turns.
    """
    means, variances, evidence = [], [], []
    mean = np.zeros(measures.shape[1])
    for width in _WIDTHS:
        precision = np.full(measures.shape[1], 1.0 / width**2)
        for _ in range(_TURNS):
            mean, curvature, told = at(precision, mean)
            variance = np.diag(np.linalg.inv(curvature))
            precision = (_DOF + 1.0) / (_DOF * width**2 + mean**2 + variance)
        prior = np.sum(-(_DOF + 1.0) / 2.0 * np.log1p(mean**2 / (_DOF * width**2)) - np.log(width))
        evidence.append(told + prior - np.linalg.slogdet(curvature)[1] / 2.0)
        means.append(mean)
        variances.append(variance)
    return _mixed(np.array(means), np.array(variances), np.array(evidence))


def _log_odds(
    z: FloatArray,
    outcome: FloatArray,
    offset: FloatArray,
    precision: FloatArray,
    start: FloatArray,
) -> tuple[FloatArray, FloatArray, float]:
    """Return mode, curvature and log likelihood of the effects on a yes or no."""
    beta, curvature = _mode(z, outcome, offset, precision, start)
    eta = offset + z @ beta
    return beta, curvature, float(outcome @ eta - np.sum(np.logaddexp(0.0, eta)))


def _number(
    z: FloatArray, outcome: FloatArray, precision: FloatArray, start: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """Return the same for a number of scatter 1; no start is needed."""
    del start
    curvature = z.T @ z + np.diag(precision)
    beta = np.asarray(np.linalg.solve(curvature, z.T @ outcome), dtype=np.float64)
    return beta, curvature, -float(np.sum((outcome - z @ beta) ** 2)) / 2.0


def _mixed(
    means: FloatArray, variances: FloatArray, evidence: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the posterior over all widths of the prior."""
    steps = np.gradient(_WIDTHS)
    weight = np.exp(evidence - evidence.max() - _WIDTHS**2 / (2.0 * _WIDTH_SD**2)) * steps
    weight /= weight.sum()
    mean = weight @ means
    variance = weight @ (variances + (means - mean) ** 2)
    return mean, np.sqrt(variance), weight @ ndtr(means / np.sqrt(variances))


def _mode(
    design: FloatArray,
    outcome: FloatArray,
    offset: FloatArray,
    precision: FloatArray,
    start: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return the most probable coefficients of a logistic regression, and the curvature there."""
    beta = start
    curvature = np.diag(precision)
    for _ in range(_NEWTON_STEPS):
        chance = expit(offset + design @ beta)
        weight = chance * (1.0 - chance)
        curvature = (design.T * weight) @ design + np.diag(precision)
        step = np.linalg.solve(curvature, design.T @ (outcome - chance) - precision * beta)
        beta = beta + np.clip(step, -2.0, 2.0)
        if np.max(np.abs(step)) < 1e-6:
            break
    return beta, curvature
