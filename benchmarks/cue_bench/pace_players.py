"""Simulated players with known truth, for measurements of what a series teaches."""

from dataclasses import dataclass

import numpy as np

from cue_practice.likelihood import FloatArray, IntArray
from cue_practice.pace_fit import LAPSE, TAIL_DOF
from cue_practice.prior import PacePrior

PRIOR = PacePrior(centre_m_s=2.0, centre_sd_log=0.12, source="the table model")
"""What the table model says of a typical set-up: 2 m/s, good to 12 %."""

PACE_SD_LOG = 0.02
"""Standard uncertainty of a measured pace."""


@dataclass(frozen=True)
class Truth:
    """What is true of one player on one set-up; all logarithms of pace.

    Parameters
    ----------
    centre, half_width, scatter : float
        Middle of the right band, its half width, the blur of its edges.
    """

    centre: float
    half_width: float
    scatter: float


@dataclass(frozen=True, eq=False)
class Played:
    """Shots of a simulated player.

    Parameters
    ----------
    log_pace : ndarray, shape (n,)
        As measured.
    result : ndarray of int, shape (n,)
        -1, 0, +1.
    offset : ndarray, shape (n,)
        How far beyond the middle of the band the white went, as tapped.
    """

    log_pace: FloatArray
    result: IntArray
    offset: FloatArray


def drawn_truth(rng: np.random.Generator, prior: PacePrior = PRIOR) -> Truth:
    """Return a player drawn from the prior, tails included."""
    half = prior.half_width_log * np.exp(prior.half_width_sd_log * rng.standard_normal())
    scatter = prior.scatter_log * np.exp(prior.scatter_sd_log * rng.standard_normal())
    centre = np.log(prior.centre_m_s) + prior.centre_sd_log * rng.standard_t(TAIL_DOF)
    return Truth(float(centre), float(half), float(scatter))


def play(
    truth: Truth,
    meant: FloatArray,
    rng: np.random.Generator,
    *,
    offset_sd: float = 0.05,
    shape_error: float = 0.0,
) -> Played:
    """Return what a player's shots at these paces gave, lapses and measuring errors included.

    Parameters
    ----------
    truth : Truth
        The player.
    meant : ndarray, shape (n,)
        Logarithm of the true pace of each shot.
    rng : numpy.random.Generator
        Chance.
    offset_sd : float
        Error of a tapped place, as log pace.
    shape_error : float
        Error that all tapped places have in common, as log pace.
    """
    n = len(meant)
    latent = meant + truth.scatter * rng.standard_normal(n) - truth.centre
    result = np.where(
        latent < -truth.half_width, -1, np.where(latent > truth.half_width, 1, 0)
    ).astype(np.int64)
    is_lapse = rng.random(n) < LAPSE
    result[is_lapse] = rng.integers(-1, 2, int(is_lapse.sum()))
    offset = latent + shape_error + offset_sd * rng.standard_normal(n)
    offset[is_lapse] = rng.uniform(-1.0, 1.0, int(is_lapse.sum()))
    return Played(meant + PACE_SD_LOG * rng.standard_normal(n), result, offset)
