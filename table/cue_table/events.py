"""When a ball's stretch of path ends, and what happens there.

While a ball slips, friction pushes it in one constant direction, so its path is a parabola; once it
rolls the path is straight. Each stretch ends where slipping ends, at a cushion, in a pocket, at
rest, or at another ball; all these moments are roots of polynomials. Nothing is stepped.
"""

from dataclasses import replace

import numpy as np

from cue_table.ball import BALL_RADIUS_M, BoolArray, FloatArray, IntArray
from cue_table.cloth import Cloth
from cue_table.cushion import Cushion, rebound
from cue_table.setup import TableSize
from cue_table.state import Motion, Stretch

SLIP_END_M_S = 1e-9
"""Slip below this is rolling."""

PRESSED_M_S = 1e-3
"""Slower than this towards a cushion the white leans on it instead of bouncing."""


def phase(now: Motion, cloth: Cloth) -> tuple[FloatArray, FloatArray]:
    """Return the acceleration of each ball and how long it lasts on an endless cloth."""
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
    lasts = np.where(is_sliding, slip_speed / (3.5 * cloth.slide_m_s2), speed / cloth.roll_m_s2)
    return accel, lasts


def reach_ball_s(
    now: Motion, accel: FloatArray, duration: FloatArray, ball_m: FloatArray
) -> FloatArray:
    """Return when each ball comes within two radii of one at rest, inf where it does not.

    Parameters
    ----------
    now : Motion
        The moving balls.
    accel : ndarray, shape (2, n)
        Their constant acceleration.
    duration : ndarray, shape (n,)
        How long it lasts.
    ball_m : ndarray, shape (2,)
        Centre of the ball at rest.

    Returns
    -------
    ndarray, shape (n,)
        First root of a polynomial of fourth degree.
    """
    reach = np.full(duration.shape, np.inf)
    chord = now.velocity_m_s * duration + 0.5 * accel * duration**2
    to_ball = ball_m[:, np.newaxis] - now.position_m
    length2 = np.maximum(np.sum(chord**2, axis=0), 1e-300)
    share = np.clip(np.sum(to_ball * chord, axis=0) / length2, 0.0, 1.0)
    gap = to_ball - share * chord
    # A parabola leaves its chord by an eighth of the acceleration times the time squared at most;
    # only a ball that runs straight and does not turn back stays on it.
    bulge = 0.125 * np.hypot(accel[0], accel[1]) * duration**2
    bends = np.abs(accel[0] * chord[1] - accel[1] * chord[0]) > 1e-9 * np.sqrt(length2)
    bends |= np.sum(now.velocity_m_s * (now.velocity_m_s + accel * duration), axis=0) < 0.0
    near = np.hypot(gap[0], gap[1]) < 2.0 * BALL_RADIUS_M + np.where(bends, bulge, 1e-9)
    near = np.flatnonzero(near)
    if near.size:
        part, push = now.take(near), accel[:, near]
        away = part.position_m - ball_m[:, np.newaxis]
        reach[near] = _first_approach_s(away, part.velocity_m_s, push, duration[near])
    return reach


def _first_approach_s(
    away: FloatArray, velocity: FloatArray, accel: FloatArray, duration: FloatArray
) -> FloatArray:
    """Return when each way comes within two radii of the origin, inf where it does not."""
    leading = 0.25 * np.sum(accel**2, axis=0)
    companion = np.zeros((duration.size, 4, 4))
    companion[:, [1, 2, 3], [0, 1, 2]] = 1.0
    companion[:, 0, 0] = -np.sum(accel * velocity, axis=0) / leading
    companion[:, 0, 1] = -np.sum(velocity**2 + accel * away, axis=0) / leading
    companion[:, 0, 2] = -2.0 * np.sum(velocity * away, axis=0) / leading
    companion[:, 0, 3] = (4.0 * BALL_RADIUS_M**2 - np.sum(away**2, axis=0)) / leading
    roots = np.linalg.eigvals(companion)
    time = np.where(np.abs(roots.imag) < 1e-7, roots.real, np.inf).T
    is_within = (time > 1e-9) & (time < duration)
    safe = np.where(is_within, time, 0.0)[:, np.newaxis]
    way = away + velocity * safe + 0.5 * accel * safe**2
    closing = np.sum(way * (velocity + accel * safe), axis=1) < 0.0
    return np.asarray(np.min(np.where(is_within & closing, time, np.inf), axis=0))


def first_wall(now: Motion, accel: FloatArray, table: TableSize) -> tuple[FloatArray, IntArray]:
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


def advance(stretch: Stretch, cloth: Cloth) -> Motion:
    """Return the balls at the end of a stretch."""
    time = stretch.duration_s
    start = stretch.start
    velocity = start.velocity_m_s + stretch.accel_m_s2 * time
    slip = start.velocity_m_s - start.roll_m_s
    is_sliding = np.hypot(slip[0], slip[1]) > SLIP_END_M_S
    ended = ~stretch.hits_cushion & (stretch.ball < 0)
    rolled = (5.0 * start.velocity_m_s + 2.0 * start.roll_m_s) / 7.0
    velocity = np.where(is_sliding & ended, rolled, velocity)
    velocity = np.where(~is_sliding & ended, 0.0, velocity)
    roll = start.roll_m_s - 2.5 * stretch.accel_m_s2 * time
    roll = np.where(is_sliding & ~ended, roll, velocity)
    lost = cloth.spin_deceleration_rad_s2 * BALL_RADIUS_M * time
    side = np.sign(start.side_m_s) * np.maximum(np.abs(start.side_m_s) - lost, 0.0)
    return Motion(stretch.at(1.0), velocity, roll, side)


def is_moving(now: Motion) -> BoolArray:
    """Return which balls still roll or slip."""
    speed = np.hypot(now.velocity_m_s[0], now.velocity_m_s[1])
    slip = now.velocity_m_s - now.roll_m_s
    return np.asarray((speed > 1e-9) | (np.hypot(slip[0], slip[1]) > SLIP_END_M_S))


_OUTWARD = np.array([[-1.0, 0.0, 1.0, 0.0], [0.0, -1.0, 0.0, 1.0]])
"""Unit vectors out of the table at the left, bottom, right and top cushion."""


def speed_towards(now: Motion, wall: IntArray) -> FloatArray:
    """Return the speed of each ball towards its cushion."""
    return np.asarray(np.sum(now.velocity_m_s * _OUTWARD[:, wall], axis=0))


def bounce(now: Motion, wall: IntArray, cushion: Cushion) -> Motion:
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


def pocket_at(position_m: FloatArray, wall: IntArray, table: TableSize) -> IntArray:
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
