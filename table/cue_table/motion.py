"""The white in the plane of the cloth, from event to event, many strokes at once.

While the white slips, friction pushes it in one constant direction, so its path is a parabola; once
it rolls the path is straight. Each stretch ends where slipping ends, at a cushion, in a pocket, or
at rest; every one of these moments is a closed form. Between events nothing is stepped.
"""

from dataclasses import dataclass, replace

import numpy as np

from cue_table.ball import BALL_RADIUS_M, BoolArray, FloatArray, IntArray
from cue_table.cloth import Cloth
from cue_table.cushion import Cushion, rebound
from cue_table.setup import TableSize

MAX_EVENTS = 200
"""A white that has met this many events is taken to be at rest."""

SLIP_END_M_S = 1e-9
"""Slip below this is rolling."""

PRESSED_M_S = 1e-3
"""Slower than this towards a cushion the white leans on it instead of bouncing."""


@dataclass(frozen=True, eq=False)
class Motion:
    """Position, velocity and spin of n balls.

    Parameters
    ----------
    position_m, velocity_m_s, roll_m_s : ndarray, shape (2, n)
        Centre, velocity, and the velocity at which a ball with that spin would roll.
    side_m_s : ndarray, shape (n,)
        Radius times spin about the vertical, positive anticlockwise from above.
    """

    position_m: FloatArray
    velocity_m_s: FloatArray
    roll_m_s: FloatArray
    side_m_s: FloatArray

    def take(self, which: IntArray | BoolArray) -> "Motion":
        """Return the balls picked out by an index or a mask."""
        return Motion(
            self.position_m[:, which],
            self.velocity_m_s[:, which],
            self.roll_m_s[:, which],
            self.side_m_s[which],
        )

    def put(self, which: IntArray | BoolArray, part: "Motion") -> None:
        """Overwrite the balls picked out by an index or a mask, in place."""
        self.position_m[:, which] = part.position_m
        self.velocity_m_s[:, which] = part.velocity_m_s
        self.roll_m_s[:, which] = part.roll_m_s
        self.side_m_s[which] = part.side_m_s

    def copy(self) -> "Motion":
        """Return a copy that shares no memory."""
        return Motion(
            self.position_m.copy(),
            self.velocity_m_s.copy(),
            self.roll_m_s.copy(),
            self.side_m_s.copy(),
        )


@dataclass(frozen=True, eq=False)
class Stretch:
    """One stretch of path of some of the balls, without an event inside.

    Parameters
    ----------
    index : ndarray of int, shape (k,)
        Which balls.
    start : Motion
        Their state at its start.
    accel_m_s2 : ndarray, shape (2, k)
        Constant acceleration over it.
    duration_s : ndarray, shape (k,)
        How long it lasts.
    hits_cushion : ndarray of bool, shape (k,)
        Whether it ends at a cushion.
    """

    index: IntArray
    start: Motion
    accel_m_s2: FloatArray
    duration_s: FloatArray
    hits_cushion: BoolArray

    def at(self, share: float) -> FloatArray:
        """Return positions, shape (2, k), after a share of the duration."""
        time = share * self.duration_s
        return np.asarray(
            self.start.position_m + self.start.velocity_m_s * time + 0.5 * self.accel_m_s2 * time**2
        )


@dataclass(frozen=True, eq=False)
class Course:
    """What became of n balls.

    Parameters
    ----------
    end : Motion
        Where they came to rest or fell.
    pocket : ndarray of int, shape (n,)
        Index into POCKETS, -1 where the ball stayed on the table.
    n_cushions : ndarray of int, shape (n,)
        How many cushions each met.
    first_cushion_m : ndarray, shape (2, n)
        Centre of the ball at its first cushion, nan where it met none.
    hardest_cushion_m_s : ndarray, shape (n,)
        Greatest speed towards a cushion at contact, 0 where none was met.
    stretches : tuple of Stretch
        The whole path, in order.
    """

    end: Motion
    pocket: IntArray
    n_cushions: IntArray
    first_cushion_m: FloatArray
    hardest_cushion_m_s: FloatArray
    stretches: tuple[Stretch, ...]


def run_out(start: Motion, table: TableSize, cloth: Cloth, cushion: Cushion) -> Course:
    """Follow balls that nothing but cloth, cushions and pockets will meet.

    Parameters
    ----------
    start : Motion
        Their state; it is not changed.
    table : TableSize
        Cushions and pockets.
    cloth : Cloth
        The cloth.
    cushion : Cushion
        The cushions.

    Returns
    -------
    Course
        Until every ball lies still or has fallen.
    """
    now = start.copy()
    n = now.side_m_s.size
    pocket = np.full(n, -1, dtype=np.int64)
    n_cushions = np.zeros(n, dtype=np.int64)
    first = np.full((2, n), np.nan)
    hardest = np.zeros(n)
    stretches: list[Stretch] = []
    index = np.arange(n)
    for _ in range(MAX_EVENTS):
        if index.size == 0:
            break
        stretch, wall = _next_stretch(now.take(index), index, table, cloth)
        stretches.append(stretch)
        after = _advance(stretch, cloth)
        at_wall = np.flatnonzero(wall >= 0)
        fell = np.full(index.size, -1, dtype=np.int64)
        fell[at_wall] = _pocket_at(after.position_m[:, at_wall], wall[at_wall], table)
        bounced = at_wall[fell[at_wall] < 0]
        new_first = bounced[n_cushions[index[bounced]] == 0]
        first[:, index[new_first]] = after.position_m[:, new_first]
        n_cushions[index[bounced]] += 1
        speed = _speed_towards(after.take(bounced), wall[bounced])
        hardest[index[bounced]] = np.maximum(hardest[index[bounced]], speed)
        after.put(bounced, _bounce(after.take(bounced), wall[bounced], cushion))
        pocket[index] = fell
        now.put(index, after)
        index = index[(fell < 0) & _is_moving(after)]
    return Course(now, pocket, n_cushions, first, hardest, tuple(stretches))


def _next_stretch(
    now: Motion, index: IntArray, table: TableSize, cloth: Cloth
) -> tuple[Stretch, IntArray]:
    """Return the stretch up to the next event, and the wall it ends at (-1 for none)."""
    slip = now.velocity_m_s - now.roll_m_s
    slip_speed = np.hypot(slip[0], slip[1])
    speed = np.hypot(now.velocity_m_s[0], now.velocity_m_s[1])
    is_sliding = slip_speed > SLIP_END_M_S
    along = np.where(
        is_sliding,
        slip / np.maximum(slip_speed, 1e-300),
        now.velocity_m_s / np.maximum(speed, 1e-300),
    )
    accel = -along * np.where(is_sliding, cloth.slide_m_s2, cloth.roll_m_s2)
    phase_s = np.where(is_sliding, slip_speed / (3.5 * cloth.slide_m_s2), speed / cloth.roll_m_s2)
    wall_s, wall = _first_wall(now, accel, table)
    is_wall = wall_s < phase_s
    duration = np.where(is_wall, wall_s, phase_s)
    return Stretch(index, now, accel, duration, is_wall), np.where(is_wall, wall, -1)


def _first_wall(now: Motion, accel: FloatArray, table: TableSize) -> tuple[FloatArray, IntArray]:
    """Return when each ball first meets a cushion line, and which: left, bottom, right, top."""
    low = BALL_RADIUS_M
    times = np.stack(
        [
            _crossing_s(low - now.position_m[0], -now.velocity_m_s[0], -accel[0]),
            _crossing_s(low - now.position_m[1], -now.velocity_m_s[1], -accel[1]),
            _crossing_s(now.position_m[0] - (table.width_m - low), now.velocity_m_s[0], accel[0]),
            _crossing_s(now.position_m[1] - (table.length_m - low), now.velocity_m_s[1], accel[1]),
        ]
    )
    wall = np.argmin(times, axis=0)
    return np.take_along_axis(times, wall[np.newaxis], axis=0)[0], wall.astype(np.int64)


def _crossing_s(beyond_m: FloatArray, speed: FloatArray, accel: FloatArray) -> FloatArray:
    """Return the first time at which beyond + speed t + accel t^2 / 2 rises through 0."""
    short = np.minimum(beyond_m, 0.0)
    square = speed**2 - 2.0 * accel * short
    root = np.sqrt(np.maximum(square, 0.0))
    below = speed + root
    time = np.full_like(speed, np.inf)
    np.divide(-2.0 * short, below, out=time, where=(square >= 0.0) & (below > 0.0))
    # A ball that lies at the cushion and moves away meets it again only if it is turned back.
    leaving = (short > -1e-12) & (speed <= 0.0)
    time[leaving] = np.inf
    returning = leaving & (accel > 0.0) & (speed < 0.0)
    np.divide(-2.0 * speed, accel, out=time, where=returning)
    return time


def _advance(stretch: Stretch, cloth: Cloth) -> Motion:
    """Return the balls at the end of a stretch."""
    time = stretch.duration_s
    start = stretch.start
    velocity = start.velocity_m_s + stretch.accel_m_s2 * time
    slip = start.velocity_m_s - start.roll_m_s
    is_sliding = np.hypot(slip[0], slip[1]) > SLIP_END_M_S
    ended = ~stretch.hits_cushion
    rolled = (5.0 * start.velocity_m_s + 2.0 * start.roll_m_s) / 7.0
    velocity = np.where(is_sliding & ended, rolled, velocity)
    velocity = np.where(~is_sliding & ended, 0.0, velocity)
    roll = start.roll_m_s - 2.5 * stretch.accel_m_s2 * time
    roll = np.where(is_sliding & ~ended, roll, velocity)
    lost = cloth.spin_deceleration_rad_s2 * BALL_RADIUS_M * time
    side = np.sign(start.side_m_s) * np.maximum(np.abs(start.side_m_s) - lost, 0.0)
    return Motion(stretch.at(1.0), velocity, roll, side)


def _is_moving(now: Motion) -> BoolArray:
    """Return which balls still roll or slip."""
    speed = np.hypot(now.velocity_m_s[0], now.velocity_m_s[1])
    slip = now.velocity_m_s - now.roll_m_s
    return np.asarray((speed > 1e-9) | (np.hypot(slip[0], slip[1]) > SLIP_END_M_S))


_OUTWARD = np.array([[-1.0, 0.0, 1.0, 0.0], [0.0, -1.0, 0.0, 1.0]])
"""Unit vectors out of the table at the left, bottom, right and top cushion."""


def _speed_towards(now: Motion, wall: IntArray) -> FloatArray:
    """Return the speed of each ball towards its cushion."""
    return np.asarray(np.sum(now.velocity_m_s * _OUTWARD[:, wall], axis=0))


def _bounce(now: Motion, wall: IntArray, cushion: Cushion) -> Motion:
    """Return the balls as they leave the cushions they have met."""
    out = _OUTWARD[:, wall]
    along = np.stack([out[1], -out[0]])
    towards = np.sum(now.velocity_m_s * out, axis=0)
    is_pressed = towards < PRESSED_M_S
    off = rebound(
        np.sum(now.velocity_m_s * along, axis=0),
        np.maximum(towards, PRESSED_M_S),
        np.sum(now.roll_m_s * along, axis=0),
        np.sum(now.roll_m_s * out, axis=0),
        now.side_m_s,
        cushion,
    )
    velocity = off.along_m_s * along + off.towards_m_s * out
    roll = off.roll_along_m_s * along + off.roll_towards_m_s * out
    leaning = np.sum(now.velocity_m_s * along, axis=0) * along
    leaning_roll = np.sum(now.roll_m_s * along, axis=0) * along
    return replace(
        now,
        velocity_m_s=np.where(is_pressed, leaning, velocity),
        roll_m_s=np.where(is_pressed, leaning_roll, roll),
        side_m_s=np.where(is_pressed, now.side_m_s, off.side_m_s),
    )


def _pocket_at(position_m: FloatArray, wall: IntArray, table: TableSize) -> IntArray:
    """Return the pocket whose opening each ball has reached at its cushion line, or -1."""
    x, y = position_m
    corner = table.corner_opening_m / np.sqrt(2.0)
    half_middle = 0.5 * table.middle_opening_m
    is_left = x < 0.5 * table.width_m
    is_side = (wall == 0) | (wall == 2)
    is_bottom = y < 0.5 * table.length_m
    near_end = np.minimum(y, table.length_m - y) < corner
    near_side = np.minimum(x, table.width_m - x) < corner
    in_corner = np.where(is_side, near_end, near_side)
    in_middle = is_side & (np.abs(y - 0.5 * table.length_m) < half_middle)
    row = np.where(in_middle, 2, np.where(is_bottom, 0, 4))
    found = np.where(is_left, row, row + 1)
    return np.where(in_corner | in_middle, found, -1).astype(np.int64)
