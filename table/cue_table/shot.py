"""A whole shot: from the stroke to where the white stops.

Tip on ball, free travel, white on object ball, curve, cushions, rest or pocket. The object ball is
not followed: it counts as potted if it leaves within the pocket's opening and fast enough to get
there. A level cue is assumed, so side does not curve the white's way to the object ball.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from cue_table.aim import aim_direction_rad, arrive_at
from cue_table.ball import BALL_RADIUS_M, BoolArray, FloatArray, IntArray
from cue_table.cloth import DEFAULT_CLOTH, Cloth, slide_to_roll
from cue_table.collision import DEFAULT_CONTACT, BallContact, Hit, hit
from cue_table.conditions import DEFAULT_CONDITIONS, Conditions
from cue_table.cushion import DEFAULT_CUSHION, VALID_NORMAL_SPEED_M_S, Cushion
from cue_table.errors import check_range
from cue_table.motion import Course, Motion, Stretch, run_out
from cue_table.setup import POCKETS, SetUp
from cue_table.stun import dead_stun_tip_speed_m_s
from cue_table.tip import DEFAULT_CUE, Cue, strike

Outcome = Literal["too_little", "right", "too_much"]

CURVE_POINTS = 16
"""Points drawn along a curved stretch."""


@dataclass(frozen=True, eq=False)
class WhiteRuns:
    """What n strokes did to the white. Arrays are of shape (n,) or (n, 2).

    Parameters
    ----------
    tip_speed_m_s, below_centre_m, side_m : ndarray
        The strokes.
    arrival_speed_m_s, arrival_spin_ratio : ndarray
        The white as it meets the object ball; 0 and nan where it does not.
    leaving_angle_rad : ndarray
        Angle between the white's path before the hit and its path once it rolls again, 0 to pi;
        nan without a hit.
    contact_m : ndarray, shape (n, 2)
        Centre of the white at the hit, nan without one.
    first_cushion_m : ndarray, shape (n, 2)
        Centre of the white at its first cushion, nan where it met none.
    n_cushions : ndarray of int
        How many cushions it met.
    stop_m : ndarray, shape (n, 2)
        Where it stopped, or fell.
    pocket : ndarray of int
        Index into ``POCKETS`` of the pocket the white fell into, -1 where it stayed up.
    is_object_ball_potted : ndarray of bool
        Whether the object ball found its pocket.
    is_miscue_likely : ndarray of bool
        Whether the tip met the white further out than half its radius.
    hardest_cushion_m_s : ndarray
        Greatest speed towards a cushion.
    course : Course
        The stretches of the path after the hit, for drawing.
    conditions : Conditions
        Cue, cloth, cushions and balls.
    """

    tip_speed_m_s: FloatArray
    below_centre_m: FloatArray
    side_m: FloatArray
    arrival_speed_m_s: FloatArray
    arrival_spin_ratio: FloatArray
    leaving_angle_rad: FloatArray
    contact_m: FloatArray
    first_cushion_m: FloatArray
    n_cushions: IntArray
    stop_m: FloatArray
    pocket: IntArray
    is_object_ball_potted: BoolArray
    is_miscue_likely: BoolArray
    hardest_cushion_m_s: FloatArray
    course: Course
    conditions: Conditions

    def __len__(self) -> int:
        """Return the number of strokes."""
        return self.tip_speed_m_s.size


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


def play_many(
    setup: SetUp,
    tip_speed_m_s: float | FloatArray,
    *,
    below_centre_m: float | FloatArray,
    side_m: float | FloatArray = 0.0,
    direction_error_rad: float | FloatArray = 0.0,
    aim_rad: float | FloatArray | None = None,
    cue: Cue = DEFAULT_CUE,
    cloth: Cloth = DEFAULT_CLOTH,
    cushion: Cushion = DEFAULT_CUSHION,
    contact: BallContact = DEFAULT_CONTACT,
) -> WhiteRuns:
    """Return what many strokes do to the white.

    Parameters
    ----------
    setup : SetUp
        The position; it is not checked again.
    tip_speed_m_s, below_centre_m, side_m : float or ndarray, shape (n,)
        The strokes, as in :func:`cue_table.tip.strike`. Strokes beyond the miscue limit are
        calculated as if the tip held, and marked.
    direction_error_rad : float or ndarray
        Turn of the cue's line off the aim, positive to the left.
    aim_rad : float, ndarray or None
        Direction of the cue's line; if None each stroke is aimed for itself
        (:func:`cue_table.aim.aim_direction_rad`).
    cue, cloth, cushion, contact
        The conditions.

    Returns
    -------
    WhiteRuns
        One entry a stroke.
    """
    conditions = Conditions(cue, cloth, cushion, contact)
    speed, below, side, error = (
        np.atleast_1d(np.asarray(part, dtype=np.float64)).copy()
        for part in np.broadcast_arrays(tip_speed_m_s, below_centre_m, side_m, direction_error_rad)
    )
    if aim_rad is None:
        aim = aim_direction_rad(
            setup, speed, below_centre_m=below, side_m=side, conditions=conditions
        )
    else:
        aim = np.broadcast_to(np.asarray(aim_rad, dtype=np.float64), speed.shape)
    struck = strike(speed, below_centre_m=below, side_m=side, cue=cue)
    direction = aim + struck.squirt_rad + error
    heading = np.stack([np.cos(direction), np.sin(direction)])
    distance = _free_travel_m(setup, heading)
    arrived, arrived_side = arrive_at(
        struck, np.where(np.isnan(distance), 0.0, distance), conditions
    )
    is_hit = ~np.isnan(distance) & ~arrived.is_short & (speed > 0.0)

    white = np.asarray(setup.white_m)[:, np.newaxis]
    start = Motion(
        position_m=np.repeat(white, speed.size, axis=1),
        velocity_m_s=struck.speed_m_s * heading,
        roll_m_s=struck.roll_speed_m_s * heading,
        side_m_s=struck.side_speed_m_s.copy(),
    )
    where = white + np.where(is_hit, distance, np.nan) * heading
    met = _meet(
        setup, heading, arrived.speed_m_s, arrived.roll_speed_m_s, arrived_side, where, contact
    )
    start.put(is_hit, Motion(where, met.velocity_m_s, met.roll_m_s, met.side_m_s).take(is_hit))
    course = run_out(start, setup.table, cloth, cushion)
    rolled = (5.0 * met.velocity_m_s + 2.0 * met.roll_m_s) / 7.0
    return WhiteRuns(
        tip_speed_m_s=speed,
        below_centre_m=below,
        side_m=side,
        arrival_speed_m_s=np.where(is_hit, arrived.speed_m_s, 0.0),
        arrival_spin_ratio=np.where(is_hit, arrived.spin_ratio, np.nan),
        leaving_angle_rad=np.where(is_hit, _angle_rad(heading, rolled), np.nan),
        contact_m=where.T,
        first_cushion_m=course.first_cushion_m.T,
        n_cushions=course.n_cushions,
        stop_m=course.end.position_m.T,
        pocket=course.pocket,
        is_object_ball_potted=is_hit & _finds_pocket(setup, met, cloth),
        is_miscue_likely=struck.is_miscue_likely,
        hardest_cushion_m_s=course.hardest_cushion_m_s,
        course=course,
        conditions=conditions,
    )


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


def path_m(setup: SetUp, runs: WhiteRuns, index: int) -> FloatArray:
    """Return the path of one of many runs, shape (k, 2), curved stretches finely."""
    points = [np.asarray(setup.white_m)]
    if np.isfinite(runs.contact_m[index, 0]):
        points.append(runs.contact_m[index])
    for stretch in runs.course.stretches:
        place = np.flatnonzero(stretch.index == index)
        if place.size == 0:
            break
        n_points = CURVE_POINTS if _is_curved(stretch, int(place[0])) else 1
        shares = np.arange(1, n_points + 1) / n_points
        points.extend(stretch.at(float(share))[:, place[0]] for share in shares)
    return np.array(points)


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
    middle = np.array(
        [
            middle_pace_m_s(setup, float(below), float(side), runs.conditions)
            for below, side in zip(runs.below_centre_m, runs.side_m, strict=True)
        ]
    )
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
        Softest and hardest tip speed, to about 1 %.
    """
    runs = _over_paces(setup, below_centre_m, side_m, conditions)
    lands = runs_land(setup, runs)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], lands.astype(np.int64), [0]])))
    if edges.size == 0:
        return None
    starts, stops = edges[::2], edges[1::2]
    widest = int(np.argmax(stops - starts))
    return float(PACE_GRID_M_S[starts[widest]]), float(PACE_GRID_M_S[stops[widest] - 1])


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


def _free_travel_m(setup: SetUp, heading: FloatArray) -> FloatArray:
    """Return the white's way to the object ball along each heading, nan where it passes by."""
    to_x, to_y = np.subtract(setup.object_ball_m, setup.white_m)
    ahead = to_x * heading[0] + to_y * heading[1]
    beside = to_x * heading[1] - to_y * heading[0]
    square = (2.0 * BALL_RADIUS_M) ** 2 - beside**2
    touches = (square > 0.0) & (ahead > 0.0)
    way = ahead - np.sqrt(np.maximum(square, 0.0))
    return np.where(touches, np.maximum(way, 0.0), np.nan)


def _meet(
    setup: SetUp,
    heading: FloatArray,
    speed: FloatArray,
    roll: FloatArray,
    side: FloatArray,
    where: FloatArray,
    contact: BallContact,
) -> Hit:
    """Return both balls after the white, touching at these places, has hit the object ball."""
    line = (np.asarray(setup.object_ball_m)[:, np.newaxis] - where) / (2.0 * BALL_RADIUS_M)
    return hit(speed * heading, roll * heading, side, line, contact)


def _finds_pocket(setup: SetUp, met: Hit, cloth: Cloth) -> BoolArray:
    """Return where the object ball leaves within its pocket's opening and fast enough."""
    velocity = met.object_velocity_m_s
    pot = setup.pot_direction[:, np.newaxis]
    is_true = _angle_rad(np.broadcast_to(pot, velocity.shape), velocity) < setup.pot_tolerance_rad
    speed = np.hypot(velocity[0], velocity[1])
    slide = slide_to_roll(speed, 0.0, cloth)
    reach = slide.distance_m + slide.roll_speed_m_s**2 / (2.0 * cloth.roll_m_s2)
    return np.asarray(is_true & (reach > setup.pot_distance_m))


def _angle_rad(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the angle between vectors of shape (2, n), 0 to pi."""
    cross = a[0] * b[1] - a[1] * b[0]
    return np.asarray(np.arctan2(np.abs(cross), a[0] * b[0] + a[1] * b[1]))


def _is_curved(stretch: Stretch, place: int) -> bool:
    """Return whether the path of one ball bends over a stretch."""
    vx, vy = stretch.start.velocity_m_s[:, place]
    ax, ay = stretch.accel_m_s2[:, place]
    bend = abs(vx * ay - vy * ax) * stretch.duration_s[place] ** 2
    return bool(bend > 1e-6)


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
            f"The white meets a cushion at {hardest:.1f} m/s, and the cushion model was measured "
            f"up to {VALID_NORMAL_SPEED_M_S} m/s. Real cushions give back less."
        )
    return tuple(found)
