"""How closely a player keeps to a called pace.

Only series with a called pace can tell: where the pace is free, the player changes it on purpose.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from cue_practice.control import CalledShot
from cue_practice.likelihood import FloatArray, IntArray
from cue_practice.limits import FASTEST_M_S, SLOWEST_M_S

USUAL_SPREAD = 0.07
"""Spread of pace about a called pace, as a share, before anything is known of a player: an
assumption of ours, worth as many shots as stand below."""

USUAL_SHOTS = 4.0

LEAST_SPREAD = 0.005
"""Nobody is closer to a called pace than half a per cent."""


@dataclass(frozen=True)
class OwnSpread:
    """A player's spread of pace about a called pace.

    Parameters
    ----------
    share : float
        Standard deviation as a share of the pace, measuring uncertainty taken out.
    n_shots : int
        Shots to a called pace behind it; 0 where it is the usual one.
    """

    share: float = USUAL_SPREAD
    n_shots: int = 0

    def __post_init__(self) -> None:
        """Refuse a spread that is none."""
        if not (math.isfinite(self.share) and self.share > 0.0):
            raise ValueError(f"share must be a finite number above 0, got {self.share!r}")


def own_spread(shots: Iterable[CalledShot]) -> OwnSpread:
    """Return a player's spread of pace within series played to a called pace.

    Each series is taken about its own mean, so that a pace called too high for the player is no
    spread. The usual spread counts as a few shots more (the mean of a scaled inverse-chi-squared
    prior's update; Gelman et al., Bayesian Data Analysis, 3rd ed., 2013, section 2.6, from memory).

    Parameters
    ----------
    shots : iterable of CalledShot
        From any number of series; a pace that no stroke has is left out.

    Returns
    -------
    OwnSpread
        The usual one where no series has two shots.
    """
    told = [(one.series_id, one.pace_m_s, one.pace_sd_m_s) for one in shots]
    series_id, pace_m_s, pace_sd_m_s = np.array(told, dtype=np.float64).reshape(-1, 3).T
    return spread_of(spread_sums(series_id.astype(np.int64), pace_m_s, pace_sd_m_s).values())


@dataclass(frozen=True)
class SpreadSums:
    """What one series to a called pace says of the spread.

    Parameters
    ----------
    square : float
        Sum of squares of the logarithm of pace about its mean, measuring uncertainty taken out.
    n_shots : int
        Its shots, two or more.
    """

    square: float
    n_shots: int


def spread_sums(
    series_id: IntArray, pace_m_s: FloatArray, pace_sd_m_s: FloatArray
) -> dict[int, SpreadSums]:
    """Return what each series with two shots or more says of the spread.

    Parameters
    ----------
    series_id, pace_m_s, pace_sd_m_s : ndarray, shape (n,)
        Shots to a called pace; a pace that no stroke has is left out.
    """
    is_told = (pace_m_s >= SLOWEST_M_S) & (pace_m_s <= FASTEST_M_S)
    numbers, place = np.unique(series_id[is_told], return_inverse=True)
    log_pace, share = np.log(pace_m_s[is_told]), pace_sd_m_s[is_told] / pace_m_s[is_told]
    count = np.bincount(place, minlength=len(numbers))
    off = log_pace - (np.bincount(place, weights=log_pace) / count)[place]
    measuring = np.bincount(place, weights=share**2) / count
    square = np.bincount(place, weights=off**2) - (count - 1) * measuring
    return {
        int(number): SpreadSums(max(float(one), 0.0), int(n))
        for number, one, n in zip(numbers, square, count, strict=True)
        if n >= 2
    }


def spread_of(told: Iterable[SpreadSums]) -> OwnSpread:
    """Return the spread that several series tell, as :func:`own_spread` has it."""
    square, dof, n_shots = 0.0, 0, 0
    for one in told:
        square += one.square
        dof += one.n_shots - 1
        n_shots += one.n_shots
    if n_shots == 0:
        return OwnSpread()
    variance = (USUAL_SHOTS * USUAL_SPREAD**2 + square) / (USUAL_SHOTS + dof)
    return OwnSpread(share=max(math.sqrt(variance), LEAST_SPREAD), n_shots=n_shots)
