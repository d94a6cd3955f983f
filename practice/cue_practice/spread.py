"""How closely a player keeps to a called pace.

Only series with a called pace can tell: where the pace is free, the player changes it on purpose.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

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


def own_spread(series: Iterable[Sequence[tuple[float, float]]]) -> OwnSpread:
    """Return a player's spread of pace within series played to a called pace.

    Each series is taken about its own mean, so that a pace called too high for the player is no
    spread. The usual spread counts as a few shots more (the mean of a scaled inverse-chi-squared
    prior's update; Gelman et al., Bayesian Data Analysis, 3rd ed., 2013, section 2.6, from memory).

    Parameters
    ----------
    series : iterable of sequences of (pace_m_s, pace_sd_m_s)
        One sequence a series.

    Returns
    -------
    OwnSpread
        The usual one where no series has two shots.
    """
    square, dof, n_shots = 0.0, 0, 0
    for shots in series:
        if len(shots) < 2:
            continue
        pace, sd = np.array(shots, dtype=np.float64).T
        log_pace = np.log(pace)
        measuring = float(np.mean((sd / pace) ** 2))
        found = float(np.sum((log_pace - log_pace.mean()) ** 2)) - (len(shots) - 1) * measuring
        square += max(found, 0.0)
        dof += len(shots) - 1
        n_shots += len(shots)
    if n_shots == 0:
        return OwnSpread()
    variance = (USUAL_SHOTS * USUAL_SPREAD**2 + square) / (USUAL_SHOTS + dof)
    return OwnSpread(share=max(math.sqrt(variance), LEAST_SPREAD), n_shots=n_shots)
