"""What a player's own results say about the table: friction, roll, tip and cushion, with intervals.

Results on the table and two simple tests are compared with what the model predicts; what is known
beforehand enters as a normal prior. The covariance of each result holds how well it was read and
how the stroke's own uncertainty would move the white, so that a sensitive shot counts for less.
A parameter counts as told only where the results narrow it to half of what was known before.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import chi2, truncnorm

from cue_table.ball import FloatArray
from cue_table.conditions import DEFAULT_CONDITIONS, Conditions
from cue_table.results import (
    HIGHEST_RESISTANCE,
    LOWEST_RESISTANCE,
    RollTest,
    ShotResult,
    StunTest,
    check_results,
)
from cue_table.runs import WhiteRuns, play_many
from cue_table.setup import SetUp
from cue_table.stun import dead_stop_tip_speed_m_s

PARAMETERS = ("sliding_friction", "rolling_resistance", "tip_restitution", "cushion_restitution")
"""What can be fitted, in the order of every array here."""

PRIOR = {
    "sliding_friction": (0.21, 0.03),
    "rolling_resistance": (0.0127, 0.003),
    "tip_restitution": (0.73, 0.03),
    "cushion_restitution": (0.95, 0.05),
}
"""Mean and standard deviation beforehand: spans the published values named in Cloth, Cue and
Cushion; how wide is this project's choice."""

LIMITS = {
    "sliding_friction": (0.05, 0.5),
    "rolling_resistance": (LOWEST_RESISTANCE, HIGHEST_RESISTANCE),
    "tip_restitution": (0.5, 0.95),
    "cushion_restitution": (0.6, 1.0),
}
"""Beyond these no cloth, tip or cushion is met."""

LEVEL = 0.9
"""Probability that an interval holds the value."""

TOLD_SHARE = 0.5
"""A parameter is told where its standard deviation fell below this share of the prior's."""

ALIKE = 0.9
"""Two parameters are not told apart where their correlation is beyond this."""

WILD_SD = 2.0
"""Errors beyond about this many standard deviations pull less and less."""

MAX_EVALUATIONS = 20
"""Steps of the search; it is flat where the results tell nothing."""

MISSING_SD = 3.0
"""A result the model cannot reach, such as a cushion it does not meet, counts as this far off."""


@dataclass(frozen=True)
class Estimate:
    """One fitted parameter.

    Parameters
    ----------
    name : str
        One of ``PARAMETERS``.
    value, sd : float
        Best value and standard deviation.
    low, high : float
        Ends of the 90 % interval.
    is_told : bool
        Whether the results narrowed it to at most half of what was known before.
    """

    name: str
    value: float
    sd: float
    low: float
    high: float
    is_told: bool


@dataclass(frozen=True, eq=False)
class TableFit:
    """What the results say about the table.

    Parameters
    ----------
    estimates : tuple of Estimate
        In the order of ``PARAMETERS``.
    correlation : ndarray, shape (4, 4)
        Between them.
    conditions : Conditions
        With the fitted values, for playing on.
    misfit : float
        Root mean square of the residuals in standard deviations: about 1 where the model holds.
    words : tuple of str
        What cannot be told, and what to do about it.
    """

    estimates: tuple[Estimate, ...]
    correlation: FloatArray
    conditions: Conditions
    misfit: float
    words: tuple[str, ...]

    def __getitem__(self, name: str) -> Estimate:
        """Return the estimate of a parameter by its name."""
        return self.estimates[PARAMETERS.index(name)]


def fit_table(
    shots: Sequence[ShotResult] = (),
    *,
    roll_tests: Sequence[RollTest] = (),
    stun_tests: Sequence[StunTest] = (),
    conditions: Conditions = DEFAULT_CONDITIONS,
) -> TableFit:
    """Return friction, roll, tip and cushion from results on the table.

    Parameters
    ----------
    shots : sequence of ShotResult
        Recorded shots with their results.
    roll_tests : sequence of RollTest
        Balls rolled and timed.
    stun_tests : sequence of StunTest
        Paces that stopped the white dead.
    conditions : Conditions
        What is not fitted is taken from here.

    Returns
    -------
    TableFit
        Estimates with 90 % intervals.

    Raises
    ------
    TableError
        If there is nothing to fit, a shot has no result, or a test is out of range.
    """
    check_results(shots, roll_tests, stun_tests)
    centre, width = (np.array([PRIOR[name][i] for name in PARAMETERS]) for i in (0, 1))
    limits = (np.array([LIMITS[name] for name in PARAMETERS]).T - centre) / width
    groups = _grouped(shots)
    weights = [_whitening(group, conditions) for group in groups]

    def residuals(scaled: FloatArray) -> FloatArray:
        now = with_parameters(conditions, centre + width * scaled)
        parts = [_shot_residuals(g, w, now) for g, w in zip(groups, weights, strict=True)]
        parts.append(_test_residuals(roll_tests, stun_tests, now))
        return np.concatenate([*parts, scaled])

    def search(start: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        found = least_squares(
            residuals,
            start,
            bounds=(limits[0], limits[1]),
            loss="soft_l1",
            f_scale=WILD_SD,
            diff_step=np.full(len(PARAMETERS), 1e-2),
            xtol=1e-3,
            ftol=1e-4,
            max_nfev=MAX_EVALUATIONS,
        )
        return found.x, found.fun, np.asarray(found.jac, dtype=np.float64)

    first, _, _ = search(_best_start(residuals, limits))
    # How far an unsure stroke moves the white depends on the table: once more with the found one.
    near = with_parameters(conditions, centre + width * first)
    weights = [_whitening(group, near) for group in groups]
    best, errors, slope = search(first)
    covariance, misfit = _covariance(errors, slope)
    return _result(conditions, centre + width * best, width, covariance, misfit)


def _best_start(residuals: Callable[[FloatArray], FloatArray], limits: FloatArray) -> FloatArray:
    """Return where the search begins: the best of a few tables, for one alone can be a trap.

    A white that meets a cushion on one table and stays short of it on another makes a valley of
    its own.
    """
    steps = np.array([-1.8, -0.9, 0.0, 0.9, 1.8])
    starts = np.zeros((steps.size**2, len(PARAMETERS)))
    starts[:, :2] = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    starts = np.clip(starts, limits[0] + 1e-6, limits[1] - 1e-6)
    costs = [np.sum(np.sqrt(1.0 + (residuals(at) / WILD_SD) ** 2)) for at in starts]
    return np.asarray(starts[int(np.argmin(costs))])


def _covariance(errors: FloatArray, slope: FloatArray) -> tuple[FloatArray, float]:
    """Return the covariance in units of the prior's deviations, and the misfit.

    The search hands back slopes that its mild loss has flattened; the information in the results
    is that of the slopes themselves. Results too wild to have had a say are left out.
    """
    n_data = errors.size - len(PARAMETERS)
    data = errors[:n_data]
    steep = slope[:n_data] * (1.0 + (data[:, np.newaxis] / WILD_SD) ** 2) ** 0.75
    steep = steep[np.abs(data) < 2.0 * WILD_SD]
    misfit = float(np.sqrt(np.mean(np.square(data))))
    usual = float(np.sqrt(chi2.ppf(0.95, n_data) / n_data))
    widened = misfit if misfit > usual else 1.0
    information = steep.T @ steep / widened**2 + np.eye(len(PARAMETERS))
    return np.asarray(np.linalg.inv(information), dtype=np.float64), misfit


def with_parameters(conditions: Conditions, values: FloatArray) -> Conditions:
    """Return conditions with other values of the fitted parameters.

    Parameters
    ----------
    conditions : Conditions
        Where everything else comes from.
    values : ndarray, shape (4,)
        In the order of ``PARAMETERS``.

    Returns
    -------
    Conditions
        New ones.
    """
    sliding, rolling, tip, cushion = (float(value) for value in values)
    return replace(
        conditions,
        cloth=replace(conditions.cloth, sliding_friction=sliding, rolling_resistance=rolling),
        cue=replace(conditions.cue, tip_restitution=tip),
        cushion=replace(conditions.cushion, restitution=cushion),
    )


def _grouped(shots: Sequence[ShotResult]) -> list[list[ShotResult]]:
    """Return the shots by set-up: those are played together."""
    groups: dict[SetUp, list[ShotResult]] = {}
    for shot in shots:
        groups.setdefault(shot.setup, []).append(shot)
    return list(groups.values())


def _play(
    group: Sequence[ShotResult], conditions: Conditions, change: tuple[float, float, float]
) -> WhiteRuns:
    """Return a group's runs with each stroke changed by so many of its standard deviations."""
    column = {
        name: np.array([getattr(shot, name) for shot in group])
        for name in (
            "tip_speed_m_s",
            "below_centre_m",
            "side_m",
            "tip_speed_sd_m_s",
            "below_centre_sd_m",
            "direction_sd_rad",
        )
    }
    return play_many(
        group[0].setup,
        column["tip_speed_m_s"] + change[0] * column["tip_speed_sd_m_s"],
        below_centre_m=column["below_centre_m"] + change[1] * column["below_centre_sd_m"],
        side_m=column["side_m"],
        direction_error_rad=change[2] * column["direction_sd_rad"],
        cue=conditions.cue,
        cloth=conditions.cloth,
        cushion=conditions.cushion,
        contact=conditions.contact,
    )


def _predicted(group: Sequence[ShotResult], runs: WhiteRuns) -> FloatArray:
    """Return stop and first cushion of every shot, shape (n, 4); nan where not recorded."""
    points = np.concatenate([runs.stop_m, runs.first_cushion_m], axis=1)
    has_stop = np.array([shot.stop_point_m is not None for shot in group])
    has_cushion = np.array([shot.cushion_point_m is not None for shot in group])
    points[~has_stop, :2] = np.nan
    points[~has_cushion, 2:] = np.nan
    return points


def _measured(group: Sequence[ShotResult]) -> FloatArray:
    """Return the recorded stop and cushion of every shot, shape (n, 4), nan where missing."""
    none = (np.nan, np.nan)
    return np.array([(*(s.stop_point_m or none), *(s.cushion_point_m or none)) for s in group])


def _whitening(group: Sequence[ShotResult], conditions: Conditions) -> FloatArray:
    """Return, shape (n, 4, 4), what turns each shot's errors into independent unit ones."""
    base = _predicted(group, _play(group, conditions, (0.0, 0.0, 0.0)))
    reading = np.array([shot.reading_sd_m for shot in group])
    covariance = reading[:, np.newaxis, np.newaxis] ** 2 * np.eye(4)
    for change in ((0.5, 0.0, 0.0), (0.0, 0.5, 0.0), (0.0, 0.0, 0.5)):
        back = (-change[0], -change[1], -change[2])
        move = _predicted(group, _play(group, conditions, change)) - _predicted(
            group, _play(group, conditions, back)
        )
        move = np.where(np.isfinite(move) & np.isfinite(base), move, 0.0)
        covariance = covariance + move[:, :, np.newaxis] * move[:, np.newaxis, :]
    return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)), dtype=np.float64)


def _shot_residuals(
    group: Sequence[ShotResult], whitening: FloatArray, conditions: Conditions
) -> FloatArray:
    """Return the errors of a group in standard deviations, 0 where nothing was recorded."""
    runs = _play(group, conditions, (0.0, 0.0, 0.0))
    measured = _measured(group)
    error = _predicted(group, runs) - measured
    is_out_of_reach = np.isfinite(measured) & ~np.isfinite(error)
    whitened = np.einsum("nij,nj->ni", whitening, np.where(np.isfinite(error), error, 0.0))
    whitened[is_out_of_reach] = MISSING_SD
    return np.asarray(whitened[np.isfinite(measured)])


def _test_residuals(
    rolls: Sequence[RollTest], stuns: Sequence[StunTest], conditions: Conditions
) -> FloatArray:
    """Return the errors of the two simple tests in standard deviations."""
    cloth = conditions.cloth
    found = [
        (np.sqrt(2.0 * test.distance_m / cloth.roll_m_s2) - test.time_s) / test.time_sd_s
        for test in rolls
    ]
    for test in stuns:
        pace = dead_stop_tip_speed_m_s(
            test.distance_m, test.below_centre_m, conditions.cue, cloth, conditions.contact
        )
        found.append(float(np.log(pace / test.tip_speed_m_s)) / test.pace_sd_share)
    return np.array(found, dtype=np.float64)


def _result(
    conditions: Conditions,
    values: FloatArray,
    width: FloatArray,
    covariance: FloatArray,
    misfit: float,
) -> TableFit:
    """Return the fit in words and numbers; covariance is in units of the prior's deviations."""
    scale = np.sqrt(np.diag(covariance))
    estimates = tuple(
        _estimate(name, float(values[i]), float(scale[i] * width[i]), bool(scale[i] < TOLD_SHARE))
        for i, name in enumerate(PARAMETERS)
    )
    correlation = covariance / np.outer(scale, scale)
    return TableFit(
        estimates=estimates,
        correlation=np.asarray(correlation),
        conditions=with_parameters(conditions, values),
        misfit=misfit,
        words=_words(estimates, correlation, misfit),
    )


def _estimate(name: str, value: float, sd: float, is_told: bool) -> Estimate:
    """Return one parameter with its interval: a normal one, cut off where no table is."""
    low, high = LIMITS[name]
    inside = truncnorm((low - value) / sd, (high - value) / sd, loc=value, scale=sd)
    ends = inside.ppf([0.5 - 0.5 * LEVEL, 0.5 + 0.5 * LEVEL])
    return Estimate(name, value, sd, float(ends[0]), float(ends[1]), is_told)


_REMEDY = {
    "sliding_friction": "Play a stun test at a known distance.",
    "rolling_resistance": "Roll a ball gently and time it to rest.",
    "tip_restitution": "Record plain balls that stop on the table without a cushion.",
    "cushion_restitution": "Record shots that come straight off a cushion.",
}


def _words(
    estimates: Sequence[Estimate], correlation: FloatArray, misfit: float
) -> tuple[str, ...]:
    """Return what the results cannot tell."""
    spoken = {name: name.replace("_", " ") for name in PARAMETERS}
    said = [
        f"The results do not tell the {spoken[each.name]}. {_REMEDY[each.name]}"
        for each in estimates
        if not each.is_told
    ]
    for i, j in zip(*np.triu_indices(len(PARAMETERS), 1), strict=True):
        if abs(correlation[i, j]) > ALIKE:
            said.append(
                f"The results do not tell {spoken[PARAMETERS[i]]} and {spoken[PARAMETERS[j]]} "
                "apart; only their combination is known."
            )
    if misfit > 2.0:
        said.append(
            f"The shots lie {misfit:.1f} times further from the model than their uncertainty "
            "allows; the intervals are widened by that."
        )
    return tuple(said)
