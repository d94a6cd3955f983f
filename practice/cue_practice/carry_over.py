"""A head start: what a player and a cloth have shown elsewhere, carried to a new set-up.

On a slow cloth every set-up wants more pace than the table model says, and a steady player is
steady everywhere. So each set-up and tip height on the same table is fitted by itself, compared
with its own prior, and what they share is handed to the one in question.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from cue_practice.likelihood import FloatArray, IntArray
from cue_practice.pace_fit import TAIL_DOF, Posterior, fit
from cue_practice.pooling import expected_next
from cue_practice.prior import MODEL_SD_LOG, PacePrior

FREE_CENTRE_SD_LOG = 0.4
"""So wide that a set-up's own shots decide where its band lies."""

OTHER_PLAYER_SD_LOG = 0.06
"""How far two players on one table may differ in what the model leaves out: strike and habit.
An assumption of ours."""

OTHER_HEIGHT_SD_LOG = 0.03
"""How far the model may be wrong at one tip height beyond what it has wrong at another of the same
set-up: half of MODEL_SD_LOG. An assumption of ours."""

_LEAST_SHARE = 0.01
"""Shots that say less than this share of what the prior says, say nothing."""

_LEAST_SHARED_LOG = 1e-3
"""A doubt that is all a set-up's own leaves this much to share: the sums need some."""

_SHARED = 0.8
"""Part of the doubt on width and scatter that is common to a player's set-ups."""


@dataclass(frozen=True)
class Lesson:
    """What the shots of one set-up and tip height say, compared with its prior; all logarithms.

    Parameters
    ----------
    shift, shift_sd : float
        Of the band's middle, and its standard uncertainty.
    width, width_sd : float
        Of the band's half width.
    scatter, scatter_sd : float
        Of the blur of its edges.
    n_shots : int
        Shots behind it.
    """

    shift: float
    shift_sd: float
    width: float
    width_sd: float
    scatter: float
    scatter_sd: float
    n_shots: int


def lesson(
    prior: PacePrior,
    log_pace: FloatArray,
    result: IntArray,
    sd_log: FloatArray,
    *,
    is_same_player: bool = True,
) -> Lesson:
    """Return what one set-up and tip height teaches.

    Parameters
    ----------
    prior : PacePrior
        Of that set-up and height.
    log_pace, result, sd_log : ndarray, shape (n,)
        Its shots, as :func:`cue_practice.pace_fit.fit` takes them.
    is_same_player : bool
        Whether they are the player's own.

    Returns
    -------
    Lesson
        Remembered: the same shots are fitted once.
    """
    arrays = (np.asarray(log_pace, dtype=np.float64), np.asarray(sd_log, dtype=np.float64))
    found = _fitted(prior, arrays[0].tobytes(), np.int64(result).tobytes(), arrays[1].tobytes())
    if is_same_player:
        return found
    return replace(found, shift_sd=math.hypot(found.shift_sd, OTHER_PLAYER_SD_LOG))


def carried(
    prior: PacePrior, lessons: Iterable[Lesson], same_setup: Iterable[Lesson] = ()
) -> PacePrior:
    """Return a prior that has heard what other set-ups and tip heights taught.

    Parameters
    ----------
    prior : PacePrior
        Of the set-up in question, from the table model.
    lessons : iterable of Lesson
        From other set-ups, none of its own shots among them.
    same_setup : iterable of Lesson
        From other tip heights and sides of the same player on the same set-up. What the model
        has wrong there it has wrong alike, so they say more.

    Returns
    -------
    PacePrior
        The same without lessons; never wider.
    """
    near = list(same_setup)
    heard = _carried(prior, list(lessons), _own_sd_log(prior))
    if not near:
        return heard
    moved = (
        math.log(heard.centre_m_s / prior.centre_m_s),
        math.log(heard.half_width_log / prior.half_width_log),
        math.log(heard.scatter_log / prior.scatter_log),
    )
    near = [
        replace(
            one,
            shift=one.shift - moved[0],
            width=one.width - moved[1],
            scatter=one.scatter - moved[2],
        )
        for one in near
    ]
    told = _carried(heard, near, own_at_a_height(heard)[0])
    return replace(told, source=f"{prior.source}, set right by other shots on this table")


def own_at_a_height(heard: PacePrior) -> tuple[float, float, float]:
    """Return which doubts another tip height of the same set-up does not share.

    Parameters
    ----------
    heard : PacePrior
        Of one height, once the lessons of other set-ups were heard.

    Returns
    -------
    tuple of three floats
        Standard deviations of the logarithms of centre, half width and scatter about what both
        heights have in common; never more than the whole doubt.
    """
    own = math.sqrt(1.0 - _SHARED**2)
    return (
        min(OTHER_HEIGHT_SD_LOG, _own_sd_log(heard)),
        own * heard.half_width_sd_log,
        own * heard.scatter_sd_log,
    )


def _own_sd_log(prior: PacePrior) -> float:
    """Return the part of the doubt on the centre that another set-up does not share."""
    shared = MODEL_SD_LOG if prior.band_m_s is not None else prior.centre_sd_log * math.sqrt(0.5)
    return min(shared, prior.centre_sd_log)


def _carried(prior: PacePrior, told: list[Lesson], own: float) -> PacePrior:
    """Return a prior that has heard lessons, each with a doubt of its own on the centre."""
    if not told:
        return prior
    shared = math.sqrt(max(prior.centre_sd_log**2 - own**2, _LEAST_SHARED_LOG**2))
    shift = expected_next(
        np.array([one.shift for one in told]),
        np.array([one.shift_sd for one in told]),
        mean_sd=shared,
        between_sd=own,
    )
    width = _scaled(
        [one.width for one in told], [one.width_sd for one in told], prior.half_width_sd_log
    )
    scatter = _scaled(
        [one.scatter for one in told], [one.scatter_sd for one in told], prior.scatter_sd_log
    )
    return replace(
        prior,
        centre_m_s=prior.centre_m_s * math.exp(shift.mean),
        centre_sd_log=min(shift.sd, prior.centre_sd_log),
        half_width_log=prior.half_width_log * math.exp(width[0]),
        half_width_sd_log=width[1],
        scatter_log=prior.scatter_log * math.exp(scatter[0]),
        scatter_sd_log=scatter[1],
        source=f"{prior.source}, set right by other shots on this table",
    )


def _scaled(values: list[float], sds: list[float], sd_log: float) -> tuple[float, float]:
    """Return factor (as logarithm) and uncertainty of a width for the next set-up."""
    shared, own = _SHARED * sd_log, math.sqrt(1.0 - _SHARED**2) * sd_log
    found = expected_next(np.array(values), np.array(sds), mean_sd=shared, between_sd=own)
    return found.mean, min(found.sd, sd_log)


@lru_cache(maxsize=2048)
def _fitted(prior: PacePrior, log_pace: bytes, result: bytes, sd_log: bytes) -> Lesson:
    """Return the lesson of shots given as the bytes of their arrays."""
    x = np.frombuffer(log_pace, dtype=np.float64)
    free = replace(prior, centre_sd_log=max(FREE_CENTRE_SD_LOG, prior.centre_sd_log))
    posterior = fit(
        x,
        np.frombuffer(result, dtype=np.int64),
        sd_log=np.frombuffer(sd_log, dtype=np.float64),
        prior=free,
    )
    shift = _moments(posterior, posterior.centre_log - math.log(prior.centre_m_s))
    width = _moments(posterior, np.log(posterior.half_width_log / prior.half_width_log))
    scatter = _moments(posterior, np.log(posterior.scatter_log / prior.scatter_log))
    free_sd = free.centre_sd_log * math.sqrt(TAIL_DOF / (TAIL_DOF - 2.0))
    told = (
        *_without_prior(*shift, free_sd),
        *_without_prior(*width, prior.half_width_sd_log),
        *_without_prior(*scatter, prior.scatter_sd_log),
    )
    return Lesson(*told, n_shots=len(x))


def _without_prior(mean: float, sd: float, prior_sd: float) -> tuple[float, float]:
    """Return what the shots alone say, where a normal prior about 0 was in the result too."""
    precision = 1.0 / sd**2 - 1.0 / prior_sd**2
    if precision * prior_sd**2 < _LEAST_SHARE:
        return 0.0, prior_sd / math.sqrt(_LEAST_SHARE)
    return mean / sd**2 / precision, 1.0 / math.sqrt(precision)


def _moments(posterior: Posterior, values: FloatArray) -> tuple[float, float]:
    """Return mean and standard deviation of a quantity over a posterior."""
    mean = float(posterior.weight @ values)
    return mean, math.sqrt(max(float(posterior.weight @ (values - mean) ** 2), 1e-12))
