"""Many strokes at once: from the tip to where the white stops.

Tip on ball, free travel, white on object ball, curve, cushions, rest or pocket. The object ball is
not followed: it counts as potted if it leaves within the pocket's opening and fast enough to get
there. A level cue is assumed, so side does not curve the white's way to the object ball.
"""

from dataclasses import dataclass

import numpy as np

from cue_table.aim import aim_direction_rad, arrive_at
from cue_table.ball import BALL_RADIUS_M, BoolArray, FloatArray, IntArray
from cue_table.cloth import DEFAULT_CLOTH, Cloth, slide_to_roll
from cue_table.collision import DEFAULT_CONTACT, BallContact, Hit, hit
from cue_table.conditions import Conditions
from cue_table.cushion import DEFAULT_CUSHION, Cushion
from cue_table.errors import RangeError
from cue_table.motion import run_out
from cue_table.setup import SetUp
from cue_table.state import Course, Motion, Stretch
from cue_table.tip import DEFAULT_CUE, Cue, strike

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
    touches_next_ball, touches_obstacle : ndarray of bool
        Whether the white ran into the next ball, or into any other.
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
    touches_next_ball: BoolArray
    touches_obstacle: BoolArray
    course: Course
    conditions: Conditions

    def __len__(self) -> int:
        """Return the number of strokes."""
        return self.tip_speed_m_s.size


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

    Raises
    ------
    TableError
        If a number is missing or infinite, or a pace is negative.
    """
    conditions = Conditions(cue, cloth, cushion, contact)
    speed, below, side, error = (
        np.atleast_1d(np.asarray(part, dtype=np.float64)).copy()
        for part in np.broadcast_arrays(tip_speed_m_s, below_centre_m, side_m, direction_error_rad)
    )
    _check_strokes(speed, below, side, error)
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
    course = run_out(
        start, setup.table, cloth, cushion, in_the_way_m=setup.others_m, contact=contact
    )
    n_next = 0 if setup.next_ball_m is None else 1
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
        touches_next_ball=np.any(course.touched[:n_next], axis=0),
        touches_obstacle=np.any(course.touched[n_next:], axis=0),
        course=course,
        conditions=conditions,
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


def _check_strokes(
    speed: FloatArray, below: FloatArray, side: FloatArray, error: FloatArray
) -> None:
    """Raise TableError at the first stroke that is no stroke."""
    for what, values, low, high, unit in (
        ("Tip speed", speed, 0.0, 100.0, "m/s"),
        ("Distance of the cue's axis below the centre", below, -0.1, 0.1, "m"),
        ("Side", side, -0.1, 0.1, "m"),
        ("Direction error", error, -np.pi, np.pi, "rad"),
    ):
        wrong = np.flatnonzero(~((values >= low) & (values <= high)))
        if wrong.size:
            raise RangeError(
                f"{what} of stroke {wrong[0] + 1}",
                float(values[wrong[0]]),
                low=low,
                high=high,
                unit=unit,
                remedy="Leave that stroke out.",
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
