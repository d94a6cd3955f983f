"""One shot with its path, and what it did: too little, right or too much."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from cue_table.ball import BoolArray, FloatArray, IntArray
from cue_table.cloth import DEFAULT_CLOTH, Cloth
from cue_table.collision import DEFAULT_CONTACT, BallContact
from cue_table.conditions import DEFAULT_CONDITIONS, Conditions
from cue_table.cushion import (
    DEFAULT_CUSHION,
    MEASURED_SPEEDS_M_S,
    VALID_NORMAL_SPEED_M_S,
    Cushion,
)
from cue_table.errors import check_range
from cue_table.runs import WhiteRuns, path_m, play_many
from cue_table.setup import POCKETS, SetUp
from cue_table.state import Stretch
from cue_table.stun import dead_stun_tip_speed_m_s
from cue_table.tip import DEFAULT_CUE, Cue

__all__ = [
    "Outcome",
    "WhiteRun",
    "WhiteRuns",
    "landing_band_m_s",
    "landing_bands_m_s",
    "middle_pace_m_s",
    "outcome",
    "outcomes",
    "path_m",
    "play",
    "play_many",
    "runs_land",
]

Outcome = Literal["too_little", "right", "too_much"]


@dataclass(frozen=True, eq=False)
class WhiteRun:
    """What one stroke did to the white.

    Parameters
    ----------
    points_m : ndarray, shape (k, 2)
        The white's path from its mark to its stop, curved parts finely.
    arrival_speed_m_s : float
        Speed as it meets the object ball, 0 if it does not.
    arrival_spin_ratio : float
        Spin over speed there: 1 rolling, 0 stun, negative screw; nan without a hit.
    leaving_angle_rad : float
        Angle between the path before the hit and the path once the white rolls again.
    cushion_points_m : ndarray, shape (j, 2)
        Centre of the white at each cushion, in order.
    stop_m : ndarray, shape (2,)
        Where it stopped, or fell.
    potted_in : str or None
        Pocket the white fell into.
    is_object_ball_potted : bool
        Whether the object ball found its pocket.
    warnings : tuple of str
        What limits this answer, for example a likely miscue.
    tip_speed_m_s, below_centre_m, side_m : float
        The stroke.
    conditions : Conditions
        Cue, cloth, cushions and balls.
    """

    points_m: FloatArray
    arrival_speed_m_s: float
    arrival_spin_ratio: float
    leaving_angle_rad: float
    cushion_points_m: FloatArray
    stop_m: FloatArray
    potted_in: str | None
    is_object_ball_potted: bool
    warnings: tuple[str, ...]
    tip_speed_m_s: float
    below_centre_m: float
    side_m: float
    conditions: Conditions


def play(
    setup: SetUp,
    tip_speed_m_s: float,
    *,
    below_centre_m: float,
    side_m: float = 0.0,
    direction_error_rad: float = 0.0,
    aim_rad: float | None = None,
    cue: Cue = DEFAULT_CUE,
    cloth: Cloth = DEFAULT_CLOTH,
    cushion: Cushion = DEFAULT_CUSHION,
    contact: BallContact = DEFAULT_CONTACT,
) -> WhiteRun:
    """Return what one stroke does to the white, with its path.

    Parameters
    ----------
    setup : SetUp
        The position; it is not checked again.
    tip_speed_m_s : float
        Speed of the tip just before it touches, greater than 0.
    below_centre_m : float
        How far the cue's axis passes below the white's centre; negative above it.
    side_m : float
        How far it passes to the player's left; negative is right-hand side.
    direction_error_rad : float
        Turn of the cue's line off the aim, positive to the left.
    aim_rad : float or None
        Direction of the cue's line; None aims at the pot.
    cue, cloth, cushion, contact
        The conditions.

    Returns
    -------
    WhiteRun
        Path, cushions, stop.

    Raises
    ------
    TableError
        If the tip speed is not above 0 and at most 12 m/s, or the tip would slip off the ball.
    """
    check_range(
        "Tip speed", tip_speed_m_s, low=0.01, high=12.0, unit="m/s", remedy="Give it in m/s."
    )
    cue.check_offset(below_centre_m, side_m)
    runs = play_many(
        setup,
        tip_speed_m_s,
        below_centre_m=below_centre_m,
        side_m=side_m,
        direction_error_rad=direction_error_rad,
        aim_rad=aim_rad,
        cue=cue,
        cloth=cloth,
        cushion=cushion,
        contact=contact,
    )
    stretches = runs.course.stretches
    pocket = int(runs.pocket[0])
    return WhiteRun(
        points_m=path_m(setup, runs, 0),
        arrival_speed_m_s=float(runs.arrival_speed_m_s[0]),
        arrival_spin_ratio=float(runs.arrival_spin_ratio[0]),
        leaving_angle_rad=float(runs.leaving_angle_rad[0]),
        cushion_points_m=_cushion_points_m(stretches, pocket),
        stop_m=runs.stop_m[0],
        potted_in=None if pocket < 0 else POCKETS[pocket],
        is_object_ball_potted=bool(runs.is_object_ball_potted[0]),
        warnings=_warnings(runs),
        tip_speed_m_s=float(tip_speed_m_s),
        below_centre_m=float(below_centre_m),
        side_m=float(side_m),
        conditions=runs.conditions,
    )


def outcome(setup: SetUp, run: WhiteRun) -> Outcome:
    """Return what a run did, on the ordered axis of pace.

    Right is a white that met the object ball and stops in the landing area. Otherwise the pace
    decides: below the middle of the paces that land there, at this tip height and side and with a
    true aim, it was too little, above it too much. If no pace lands there, dead stun takes the
    place of that middle.

    Parameters
    ----------
    setup : SetUp
        The position, with a landing area.
    run : WhiteRun
        What the stroke did.

    Returns
    -------
    str
        ``"too_little"``, ``"right"`` or ``"too_much"``.
    """
    is_played = run.arrival_speed_m_s > 0.0 and run.potted_in is None
    if is_played and bool(setup.lands(run.stop_m)):
        return "right"
    middle = middle_pace_m_s(setup, run.below_centre_m, run.side_m, run.conditions)
    return "too_little" if run.tip_speed_m_s < middle else "too_much"


def runs_land(setup: SetUp, runs: WhiteRuns) -> BoolArray:
    """Return which whites met the object ball and stopped in the landing area."""
    return np.asarray((runs.arrival_speed_m_s > 0.0) & (runs.pocket < 0) & setup.lands(runs.stop_m))


def outcomes(setup: SetUp, runs: WhiteRuns) -> IntArray:
    """Return what many runs did: -1 too little, 0 right, +1 too much, as in :func:`outcome`."""
    is_right = runs_land(setup, runs)
    offsets = np.stack([runs.below_centre_m, runs.side_m], axis=-1)
    kinds, kind = np.unique(np.round(offsets / HEIGHT_STEP_M), axis=0, return_inverse=True)
    middles = [
        middle_pace_m_s(setup, float(below), float(side), runs.conditions)
        for below, side in kinds * HEIGHT_STEP_M
    ]
    middle = np.array(middles, dtype=np.float64)[kind.reshape(-1)]
    sign = np.where(runs.tip_speed_m_s < middle, -1, 1)
    return np.where(is_right, 0, sign).astype(np.int64)


HEIGHT_STEP_M = 0.00025
"""Tip heights and sides this close share one middle pace."""

PACE_GRID_M_S = np.geomspace(0.15, 8.0, 400)
"""Paces tried when looking for those that land: 1 % apart."""


def middle_pace_m_s(
    setup: SetUp, below_centre_m: float, side_m: float, conditions: Conditions
) -> float:
    """Return the middle of the paces that land, or the pace of dead stun if none does.

    Where several bands of pace land, the widest counts. Without a landing pace and without
    backspin, it is the pace whose stop comes nearest to the middle of the landing area.
    """
    step = HEIGHT_STEP_M
    return _middle_pace_m_s(
        setup, round(below_centre_m / step) * step, round(side_m / step) * step, conditions
    )


@lru_cache(maxsize=4096)
def _middle_pace_m_s(
    setup: SetUp, below_centre_m: float, side_m: float, conditions: Conditions
) -> float:
    """Return the middle pace of one tip height and side."""
    band = landing_band_m_s(setup, below_centre_m, side_m, conditions)
    if band is not None:
        return float(np.sqrt(band[0] * band[1]))
    if below_centre_m > 0.0:
        return dead_stun_tip_speed_m_s(
            setup.travel_m, below_centre_m, conditions.cue, conditions.cloth
        )
    runs = _over_paces(setup, below_centre_m, side_m, conditions)
    middle = np.mean(np.asarray(setup.landing_area_m), axis=0)
    miss = np.hypot(*(runs.stop_m - middle).T)
    return float(PACE_GRID_M_S[np.argmin(np.where(runs.pocket < 0, miss, np.inf))])


def landing_band_m_s(
    setup: SetUp,
    below_centre_m: float,
    side_m: float = 0.0,
    conditions: Conditions = DEFAULT_CONDITIONS,
) -> tuple[float, float] | None:
    """Return the widest unbroken band of paces that land, None if none does.

    Parameters
    ----------
    setup : SetUp
        The position, with a landing area.
    below_centre_m, side_m : float
        Where the cue's axis passes, as in :func:`cue_table.tip.strike`.
    conditions : Conditions
        Cue, cloth, cushions and balls.

    Returns
    -------
    tuple of two floats or None
        Softest and hardest tip speed, to about 1 %; the widest counted in ratios of pace.
    """
    bands = landing_bands_m_s(setup, below_centre_m, side_m, conditions)
    return max(bands, key=lambda band: band[1] / band[0], default=None)


def landing_bands_m_s(
    setup: SetUp,
    below_centre_m: float,
    side_m: float = 0.0,
    conditions: Conditions = DEFAULT_CONDITIONS,
) -> tuple[tuple[float, float], ...]:
    """Return every unbroken band of paces that land, the softest first.

    More than one means that the white can come to rest in the area on two ways, for example short
    of a cushion and back off it: the right result is then no single stretch of pace.

    Parameters
    ----------
    setup : SetUp
        The position, with a landing area.
    below_centre_m, side_m : float
        Where the cue's axis passes, as in :func:`cue_table.tip.strike`.
    conditions : Conditions
        Cue, cloth, cushions and balls.

    Returns
    -------
    tuple of pairs of floats
        Softest and hardest tip speed of each, to about 1 %; empty if no pace lands.
    """
    lands = runs_land(setup, _over_paces(setup, below_centre_m, side_m, conditions))
    edges = np.flatnonzero(np.diff(np.concatenate([[0], lands.astype(np.int64), [0]])))
    return tuple(
        (float(PACE_GRID_M_S[start]), float(PACE_GRID_M_S[stop - 1]))
        for start, stop in zip(edges[::2], edges[1::2], strict=True)
    )


def _over_paces(
    setup: SetUp, below_centre_m: float, side_m: float, conditions: Conditions
) -> WhiteRuns:
    """Return the runs of a true stroke over the whole grid of paces."""
    return play_many(
        setup,
        PACE_GRID_M_S,
        below_centre_m=below_centre_m,
        side_m=side_m,
        cue=conditions.cue,
        cloth=conditions.cloth,
        cushion=conditions.cushion,
        contact=conditions.contact,
    )


def _cushion_points_m(stretches: tuple[Stretch, ...], pocket: int) -> FloatArray:
    """Return where the only ball of a course met cushions, shape (j, 2)."""
    points = [stretch.at(1.0)[:, 0] for stretch in stretches if stretch.hits_cushion[0]]
    if pocket >= 0:
        points = points[:-1]
    return np.array(points).reshape(-1, 2)


def _warnings(runs: WhiteRuns) -> tuple[str, ...]:
    """Return what limits the answer for the only run."""
    found = []
    if runs.is_miscue_likely[0]:
        found.append(
            "Miscue likely: the tip meets the white further out than half its radius. Aim nearer "
            "the centre."
        )
    hardest = float(runs.hardest_cushion_m_s[0])
    if hardest > VALID_NORMAL_SPEED_M_S:
        found.append(
            f"The white meets a cushion at {hardest:.1f} m/s; the cushion model was found to hold "
            f"up to {VALID_NORMAL_SPEED_M_S} m/s, and beyond that only straight shots were "
            f"measured, up to {MEASURED_SPEEDS_M_S[1]} m/s. Take the way from there as rough."
        )
    if runs.touches_next_ball[0]:
        found.append("The white runs into the next ball, which then lies elsewhere.")
    if runs.touches_obstacle[0]:
        found.append("The white runs into a ball in its way. Choose another pace or tip height.")
    return tuple(found)
