"""Where the white met the cushion and where it stopped, turned into pace by the table model.

A white that met the cushion 200 mm too high had so much more pace than the right one. For each
shot the paces of the model are weighed by how near they bring the white to the tapped points. What
counts afterwards is the distance, in log pace, from the middle of the model's own right band: a
cloth that is slower than the model's moves both alike.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from cue_practice.likelihood import FloatArray
from cue_practice.placed import SHAPE_SD_LOG
from cue_practice.views import Point
from cue_table.conditions import Conditions
from cue_table.setup import SetUp
from cue_table.shot import play_many

CUSHION_SD_M = 0.08
STOP_SD_M = 0.15
"""How far a tapped point may lie from where the model would have the white for this pace: the
finger, and aim that was a little off. Assumptions of ours."""

_PACES_LOG = np.linspace(math.log(0.3), math.log(8.0), 260)
_WITHIN_LOG = 0.6
_WORST_FIT = 12.0
_VAGUEST_LOG = 0.25


@dataclass(frozen=True, eq=False)
class Lengths:
    """What the tapped points of shots say, nan where they say nothing.

    Parameters
    ----------
    offset_log : ndarray, shape (n,)
        How far, in log pace, the white went beyond the middle of the right band.
    sd_log : ndarray, shape (n,)
        Standard uncertainty of that.
    """

    offset_log: FloatArray
    sd_log: FloatArray

    @property
    def n_told(self) -> int:
        """Return for how many shots the points say something."""
        return int(np.sum(np.isfinite(self.offset_log)))


def lengths(
    setup: SetUp,
    tip_below_centre_m: float,
    log_pace: FloatArray,
    points: Sequence[tuple[Point | None, Point | None]],
    *,
    side_m: float,
    conditions: Conditions,
    middle_m_s: float,
) -> Lengths:
    """Return what cushion and stopping points say about each shot.

    Parameters
    ----------
    setup : SetUp
        Where everything lies.
    tip_below_centre_m, side_m : float
        Where the cue's axis passes.
    log_pace : ndarray, shape (n,)
        Natural logarithm of each shot's measured pace in m/s; only paces about it are looked at.
    points : sequence of (cushion point, stopping point)
        In metres, None where not tapped.
    conditions : Conditions
        Cue and cloth.
    middle_m_s : float
        Middle of the model's right band.

    Returns
    -------
    Lengths
        nan where nothing was tapped, the model cannot bring the white there, or many paces would.
    """
    runs = _runs(setup, tip_below_centre_m, side_m, conditions)
    found = [
        _one(runs, float(x), cushion, stop)
        for x, (cushion, stop) in zip(log_pace, points, strict=True)
    ]
    both = np.array(found, dtype=np.float64).reshape(-1, 2)
    return Lengths(both[:, 0] - math.log(middle_m_s), both[:, 1])


@lru_cache(maxsize=64)
def _runs(
    setup: SetUp, below_m: float, side_m: float, conditions: Conditions
) -> tuple[FloatArray, FloatArray]:
    """Return first cushion point and stop at every pace of the grid, nan where there is none."""
    runs = play_many(
        setup,
        np.exp(_PACES_LOG),
        below_centre_m=below_m,
        side_m=side_m,
        cue=conditions.cue,
        cloth=conditions.cloth,
    )
    stop = np.where((runs.pocket >= 0)[:, np.newaxis], np.nan, runs.stop_m)
    return runs.first_cushion_m, stop


def _one(
    runs: tuple[FloatArray, FloatArray], log_pace: float, cushion: Point | None, stop: Point | None
) -> tuple[float, float]:
    """Return log pace and uncertainty that the tapped points of one shot speak for."""
    misfit = np.zeros(len(_PACES_LOG))
    for tapped, places, sd_m in zip((cushion, stop), runs, (CUSHION_SD_M, STOP_SD_M), strict=True):
        if tapped is not None:
            square = np.sum((places - np.asarray(tapped)) ** 2, axis=1) / sd_m**2
            misfit += np.where(np.isnan(square), np.inf, square)
    misfit = np.where(np.abs(_PACES_LOG - log_pace) < _WITHIN_LOG, misfit, np.inf)
    least = misfit.min()
    if (cushion is None and stop is None) or not least < _WORST_FIT:
        return math.nan, math.nan
    weight = np.exp((least - misfit) / 2.0)
    weight /= weight.sum()
    mean = float(weight @ _PACES_LOG)
    sd = math.hypot(math.sqrt(float(weight @ (_PACES_LOG - mean) ** 2)), SHAPE_SD_LOG)
    return (mean, sd) if sd < _VAGUEST_LOG else (math.nan, math.nan)
