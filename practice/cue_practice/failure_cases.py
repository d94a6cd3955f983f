"""The ways in which a shot can fail, each with what explains it anyway."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import logit

from cue_practice.failure_fit import expected_chance
from cue_practice.likelihood import FloatArray, IntArray
from cue_practice.pace_fit import fit
from cue_practice.played import BoolArray, PlayedShots
from cue_practice.prior import PacePrior

FEWEST_SHOTS, FEWEST_OF_EACH = 20, 5
"""Below these an outcome is not looked at; below the second, hits or failures are too few."""

_FEWEST_IN_SERIES = 3
_FREE_PACE_SD_LOG = 0.4


@dataclass(frozen=True, eq=False)
class Case:
    """One outcome, ready to be weighed."""

    outcome: str
    shots: PlayedShots
    value: FloatArray
    expected: FloatArray | None
    taken_out: FloatArray


def missed(shots: PlayedShots) -> Case | None:
    """Return misses, expected by series and by pace."""
    some = shots.chosen(np.isfinite(shots.is_potted))
    value = 1.0 - some.is_potted
    if not _is_enough(value):
        return None
    pace = pace_beside(some)
    taken_out = np.column_stack([pace, pace**2, hours_into_evening(some)])
    expected = expected_chance(value, some.series_id, taken_out)
    return Case("missed", some, value, expected, taken_out)


def wrong(shots: PlayedShots) -> Case | None:
    """Return wrong results, expected by what the pace alone explains."""
    some = shots.chosen(np.isfinite(shots.grade))
    value = (some.grade != 0.0).astype(np.float64)
    if not _is_enough(value):
        return None
    by_pace = logit(1.0 - _right_by_pace(some))
    pace = pace_beside(some)
    taken_out = np.column_stack([by_pace, pace, pace**2, hours_into_evening(some)])
    expected = expected_chance(value, some.series_id, taken_out)
    return Case("wrong", some, value, expected, taken_out)


def off_pace(shots: PlayedShots) -> list[Case]:
    """Return how soft, and how far off, shots to a called pace were."""
    some = shots.chosen(np.isfinite(shots.called_m_s))
    _, place, count = np.unique(some.series_id, return_inverse=True, return_counts=True)
    some = some.chosen(count[place] >= _FEWEST_IN_SERIES) if len(some) else some
    if len(some) < FEWEST_SHOTS:
        return []
    order = hours_into_evening(some)[:, np.newaxis]
    soft = -_without_series(some.pace_off_log, some.series_id)
    soft = _straightened(soft, order, some.series_id)
    wide = _straightened(np.abs(soft), order, some.series_id)
    return [
        Case("soft", some, soft, None, order),
        Case("off_pace", some, wide, None, order),
    ]


def _is_enough(failed: FloatArray) -> bool:
    """Return whether there are enough shots, failures and successes."""
    n_failed = int(failed.sum())
    enough = min(n_failed, len(failed) - n_failed) >= FEWEST_OF_EACH
    return len(failed) >= FEWEST_SHOTS and enough


def too_few(shots: PlayedShots) -> str:
    """Return what is missing before anything can be looked at."""
    n = "1 measured shot" if len(shots) == 1 else f"{len(shots)} measured shots"
    return (
        f"{n}: what goes with failure can be looked at from {FEWEST_SHOTS} shots on with at least "
        f"{FEWEST_OF_EACH} that failed and {FEWEST_OF_EACH} that did not."
    )


def pace_beside(shots: PlayedShots) -> FloatArray:
    """Return log pace about the mean of each question."""
    return _without_series(np.log(shots.pace_m_s), shots.question)


def hours_into_evening(shots: PlayedShots) -> FloatArray:
    """Return how long each evening has lasted, in hours."""
    start = np.array(
        [shots.struck_s[shots.evening == one].min() for one in np.unique(shots.evening)]
    )
    place = np.unique(shots.evening, return_inverse=True)[1]
    return np.asarray((shots.struck_s - start[place]) / 3600.0)


def _without_series(values: FloatArray, group: IntArray) -> FloatArray:
    """Return values less the mean of their group."""
    _, place, count = np.unique(group, return_inverse=True, return_counts=True)
    return np.asarray(values - (np.bincount(place, weights=values) / count)[place])


def _straightened(values: FloatArray, taken_out: FloatArray, group: IntArray) -> FloatArray:
    """Return values within their series, with what the evening's length explains taken out."""
    rest = _without_series(values, group)
    others = np.column_stack([_without_series(column, group) for column in taken_out.T])
    if not np.any(others):
        return rest
    return np.asarray(rest - others @ np.linalg.lstsq(others, rest, rcond=None)[0])


def _right_by_pace(shots: PlayedShots) -> FloatArray:
    """Return the chance of the right result that the pace alone gives each shot."""
    chance = np.full(len(shots), 0.5)
    for one in np.unique(shots.question):
        own: BoolArray = shots.question == one
        log_pace = np.log(shots.pace_m_s[own])
        sd_log = shots.measures["tip_speed_sd_m_s"][own] / shots.pace_m_s[own]
        sd_log = np.clip(np.nan_to_num(sd_log), 0.0, 1.0)
        result = shots.grade[own].astype(np.int64)
        # by their content: a tap changes the shots of one question, the others are worked out
        chance[own] = _chance_right(log_pace.tobytes(), result.tobytes(), sd_log.tobytes())
    return np.asarray(np.clip(chance, 0.01, 0.99))


@lru_cache(maxsize=64)
def _chance_right(log_pace: bytes, result: bytes, sd_log: bytes) -> FloatArray:
    """Return the chance of the right result at the paces of one question's shots."""
    x = np.frombuffer(log_pace, dtype=np.float64)
    prior = PacePrior(float(np.exp(np.median(x))), _FREE_PACE_SD_LOG)
    after = fit(x, np.frombuffer(result, dtype=np.int64), sd_log=np.frombuffer(sd_log), prior=prior)
    weighty = after.pruned(0.995)
    return np.asarray(weighty.chances(x)[1] @ weighty.weight)
