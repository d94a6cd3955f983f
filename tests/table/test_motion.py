"""Events of a run: cushions, pockets, balls in the way and side, against sampled paths."""

import numpy as np
import pytest

from cue_table.ball import BALL_RADIUS_M
from cue_table.cloth import Cloth, rolling_distance_m
from cue_table.cushion import DEFAULT_CUSHION
from cue_table.events import first_wall, phase, reach_ball_s
from cue_table.motion import run_out
from cue_table.setup import FULL_SIZE, POCKETS
from cue_table.state import Course, Motion

CLOTH = Cloth()


def motion(position, velocity, roll=None, side=0.0) -> Motion:
    """Return one ball; rolling unless told otherwise."""
    roll = velocity if roll is None else roll
    return Motion(
        np.array(position, float)[:, np.newaxis],
        np.array(velocity, float)[:, np.newaxis],
        np.array(roll, float)[:, np.newaxis],
        np.array([side]),
    )


def crowd(n: int) -> Motion:
    """Return balls all over the table, slipping in all directions."""
    rng = np.random.default_rng(11)
    return Motion(
        np.stack([rng.uniform(0.1, 1.6, n), rng.uniform(0.1, 3.4, n)]),
        rng.normal(0.0, 1.0, (2, n)),
        rng.normal(0.0, 1.0, (2, n)),
        rng.normal(0.0, 0.5, n),
    )


def run(start: Motion, **kwargs) -> Course:
    """Return what becomes of balls on a full-size table."""
    return run_out(start, FULL_SIZE, CLOTH, DEFAULT_CUSHION, **kwargs)


def sampled(start: Motion, accel: np.ndarray, time_s: np.ndarray) -> np.ndarray:
    """Return positions, shape (2, n, k), at many moments."""
    t = time_s[np.newaxis, np.newaxis, :]
    return np.asarray(
        start.position_m[..., np.newaxis]
        + start.velocity_m_s[..., np.newaxis] * t
        + 0.5 * accel[..., np.newaxis] * t**2
    )


def test_cushions_are_met_when_a_sampled_path_first_crosses_one():
    balls = crowd(200)
    accel, _ = phase(balls, CLOTH)
    found, _ = first_wall(balls, accel, FULL_SIZE)
    time = np.linspace(0.0, 6.0, 6001)
    x, y = sampled(balls, accel, time)
    width, length = FULL_SIZE.width_m - BALL_RADIUS_M, FULL_SIZE.length_m - BALL_RADIUS_M
    outside = (x < BALL_RADIUS_M) | (x > width) | (y < BALL_RADIUS_M) | (y > length)
    for i in range(200):
        if outside[i].any():
            assert found[i] == pytest.approx(time[np.argmax(outside[i])], abs=1.1e-3)
        else:
            assert found[i] > 5.9


def test_balls_in_the_way_are_met_when_a_sampled_path_first_touches_them():
    balls, other = crowd(200), np.array([0.8, 1.7])
    balls.position_m[:] = other[:, np.newaxis] + 0.2 * balls.roll_m_s
    accel, lasts = phase(balls, CLOTH)
    found = reach_ball_s(balls, accel, lasts, other)
    n_met = 0
    for i in range(200):
        time = np.linspace(0.0, lasts[i], 4001)
        x, y = sampled(balls.take(np.array([i])), accel[:, [i]], time)[:, 0]
        touches = np.hypot(x - other[0], y - other[1]) < 2 * BALL_RADIUS_M
        if touches[0] or not touches.any():
            assert touches[0] or not np.isfinite(found[i])
            continue
        n_met += 1
        assert found[i] == pytest.approx(time[np.argmax(touches)], abs=2 * time[1])
    assert n_met > 5


def test_white_stops_against_a_ball_hit_full_with_stun_and_leaves_it_alone_afterwards():
    start = motion((0.5, 1.0), (0.0, 1.5), roll=(0.0, -1.0))
    other = (0.5, 1.0 + 0.1 + 2 * BALL_RADIUS_M)
    course = run(start, in_the_way_m=[other])
    assert course.touched.tolist() == [[True]]
    touch = course.stretches[0].at(1.0)[:, 0]
    assert np.hypot(*(touch - other)) == pytest.approx(2 * BALL_RADIUS_M, abs=1e-9)
    # Backspin is left, so the white comes back.
    assert course.end.position_m[1, 0] < touch[1]


def test_ball_off_the_path_is_not_touched():
    course = run(motion((0.5, 1.0), (0.0, 0.5)), in_the_way_m=[(0.5 + 2.1 * BALL_RADIUS_M, 1.5)])
    assert not course.touched.any()


def test_rolling_ball_stops_where_the_closed_form_says():
    course = run(motion((0.5, 0.5), (0.0, 0.6)))
    assert course.end.position_m[1, 0] == pytest.approx(0.5 + rolling_distance_m(0.6, CLOTH))
    assert course.n_cushions.tolist() == [0]


@pytest.mark.parametrize("pocket", POCKETS)
def test_ball_rolled_at_the_mouth_of_a_pocket_falls(pocket):
    mouth = np.array(FULL_SIZE.pocket_m(pocket))
    middle = np.array([FULL_SIZE.width_m / 2, FULL_SIZE.length_m / 2])
    way = (mouth - middle) / np.hypot(*(mouth - middle))
    course = run(motion(middle, 2.5 * way))
    assert POCKETS[course.pocket[0]] == pocket


def test_ball_rolled_along_a_cushion_passes_the_middle_pocket_and_falls_in_the_corner():
    # A ball that touches the cushion all along stays out of the middle pocket.
    course = run(motion((BALL_RADIUS_M, 0.5), (0.0, 2.0)))
    assert POCKETS[course.pocket[0]] == "top_left"


def test_ball_just_beside_a_pocket_comes_off_the_cushion():
    beside = FULL_SIZE.length_m / 2 + 0.5 * FULL_SIZE.middle_opening_m + 0.002
    course = run(motion((1.0, beside), (-1.0, 0.0)))
    assert course.pocket.tolist() == [-1]
    assert course.n_cushions.tolist() == [1]


@pytest.mark.parametrize("side", [-1.0, 0.4])
def test_side_dies_away_at_its_own_rate(side):
    # The rate is from memory, 5 to 15 rad/s^2; the law, a constant one, is common practice.
    course = run(motion((0.5, 0.5), (0.0, 0.6), side=side))
    time = sum(stretch.duration_s[0] for stretch in course.stretches)
    left = max(abs(side) - CLOTH.spin_deceleration_rad_s2 * BALL_RADIUS_M * time, 0.0)
    assert course.end.side_m_s[0] == pytest.approx(np.sign(side) * left, abs=1e-12)


def test_heavy_topspin_drives_the_ball_back_into_the_cushion():
    # Pushed on by its spin, a ball that comes off slowly returns: two contacts or more, then rest.
    course = run(motion((0.9, 3.4), (0.0, 0.2), roll=(0.0, 6.0)))
    assert course.n_cushions[0] >= 2
    assert np.all(np.isfinite(course.end.position_m))
    assert course.end.position_m[1, 0] <= FULL_SIZE.length_m - BALL_RADIUS_M + 1e-9


def test_every_ball_comes_to_rest_on_the_table_or_falls():
    course = run(crowd(500))
    up = course.pocket < 0
    assert np.all(course.end.velocity_m_s[:, up] == 0.0)
    x, y = course.end.position_m
    low = BALL_RADIUS_M - 1e-9
    assert np.all((x >= low) & (x <= FULL_SIZE.width_m - low))
    assert np.all((y >= low) & (y <= FULL_SIZE.length_m - low))
    assert 0 < np.count_nonzero(~up) < 250


def test_start_is_left_unchanged():
    balls = crowd(20)
    before = balls.copy()
    run(balls)
    assert np.array_equal(balls.position_m, before.position_m)
    assert np.array_equal(balls.velocity_m_s, before.velocity_m_s)
