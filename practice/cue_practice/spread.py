"""How closely a player keeps to a called pace.

Only series with a called pace can tell: where the pace is free, the player changes it on purpose.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from cue_practice.control import CalledShot
from cue_practice.limits import is_a_pace

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
    series: dict[int, list[CalledShot]] = {}
    for shot in (one for one in shots if is_a_pace(one.pace_m_s)):
        series.setdefault(shot.series_id, []).append(shot)
    square, dof, n_shots = 0.0, 0, 0
    for own in series.values():
        if len(own) < 2:
            continue
        log_pace = np.log([shot.pace_m_s for shot in own])
        measuring = np.mean([(shot.pace_sd_m_s / shot.pace_m_s) ** 2 for shot in own])
        found = np.sum((log_pace - log_pace.mean()) ** 2) - (len(own) - 1) * measuring
        square += max(float(found), 0.0)
        dof += len(own) - 1
        n_shots += len(own)
    if n_shots == 0:
        return OwnSpread()
    variance = (USUAL_SHOTS * USUAL_SPREAD**2 + square) / (USUAL_SHOTS + dof)
    return OwnSpread(share=max(math.sqrt(variance), LEAST_SPREAD), n_shots=n_shots)
