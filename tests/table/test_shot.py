"""Whole shots: against one integration from tip to rest, conservation, and common practice."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from cue_table.ball import BALL_RADIUS_M
from cue_table.cloth import Cloth
from cue_table.collision import BallContact, hit
from cue_table.cushion import DEFAULT_CUSHION
from cue_table.errors import TableError
from cue_table.motion import run_out
from cue_table.setup import FULL_SIZE, SetUp, TableSize
from cue_table.shot import (
    landing_band_m_s,
    landing_bands_m_s,
    outcome,
    outcomes,
    path_m,
    play,
    play_many,
)
from cue_table.state import Motion
from cue_table.stun import arrival_spin_ratio, dead_stun_tip_speed_m_s
from cue_table.tip import Cue, tip_speed_for_m_s

# Invented position: a cut into a top pocket, the white to come off the side cushion.
SIDE = SetUp(
    name="off the side cushion",
    table=FULL_SIZE,
    white_m=(1.30, 2.35),
    object_ball_m=(1.30, 2.95),
    pocket="top_right",
    next_ball_m=(0.889, 1.7845),
    landing_area_m=((0.4, 2.4), (1.2, 2.4), (1.2, 3.2), (0.4, 3.2)),
)
LOW_M = 0.008


def integrated_stop(
    position: np.ndarray, velocity: np.ndarray, roll: np.ndarray, cloth: Cloth
) -> np.ndarray:
    """Return where a sliding and rolling ball comes to rest, stepped by solve_ivp."""

    def forces(_, state):
        _, _, vx, vy, sx, sy = state
        slip = np.array([vx - sx, vy - sy])
        size = np.hypot(*slip)
        if size > 1e-6:
            push = -cloth.slide_m_s2 * slip / size
            return [vx, vy, *push, *(-2.5 * push)]
        push = -cloth.roll_m_s2 * np.array([vx, vy]) / max(np.hypot(vx, vy), 1e-12)
        return [vx, vy, *push, *push]

    def rolls(_, state):
        return np.hypot(state[2] - state[4], state[3] - state[5]) - 1e-6

    def rests(_, state):
        return np.hypot(state[2], state[3]) - 1e-5

    rolls.__dict__.update(terminal=True)
    rests.__dict__.update(terminal=True)
    state = np.array([*position, *velocity, *roll])
    done = solve_ivp(forces, (0, 60), state, events=rolls, rtol=1e-9, atol=1e-11)
    state = done.y[:, -1].copy()
    state[4:] = state[2:4]
    done = solve_ivp(forces, (0, 60), state, events=rests, rtol=1e-9, atol=1e-11)
    return np.asarray(done.y[:2, -1])


@pytest.mark.parametrize(("tip_speed", "below"), [(1.1, 0.002), (1.3, 0.008), (1.5, 0.012)])
def test_curve_and_roll_after_contact_agree_with_numerical_integration(tip_speed, below):
    wide = SetUp("wide", FULL_SIZE, (0.7, 0.9), (0.9, 1.3), "top_right", None, SIDE.landing_area_m)
    run = play(wide, tip_speed, below_centre_m=below)
    assert run.cushion_points_m.shape == (0, 2)
    runs = play_many(wide, tip_speed, below_centre_m=below)
    start = runs.course.stretches[0].start
    stop = integrated_stop(
        start.position_m[:, 0], start.velocity_m_s[:, 0], start.roll_m_s[:, 0], Cloth()
    )
    assert run.stop_m == pytest.approx(stop, abs=1e-5)


def test_curve_has_the_derived_length():
    # Derived beforehand: half ball at 2 m/s, rolling, e 1, mu 0.2: 0.2522 s, 0.1802 m forward and
    # 0.1872 m sideways, then 1.1157 m/s.
    smooth = BallContact(restitution=1.0, friction_floor=0.0, friction_rise=0.0)
    velocity = np.array([[0.0], [2.0]])
    met = hit(velocity, velocity, np.zeros(1), np.array([[0.5], [np.sqrt(0.75)]]), smooth)
    start = Motion(np.array([[0.9], [1.0]]), met.velocity_m_s, met.roll_m_s, met.side_m_s)
    course = run_out(start, FULL_SIZE, Cloth(sliding_friction=0.2), DEFAULT_CUSHION)
    curve, straight = course.stretches[:2]
    assert curve.duration_s[0] == pytest.approx(0.2522, abs=6e-5)
    assert curve.at(1.0)[:, 0] - [0.9, 1.0] == pytest.approx([-0.1872, 0.1802], abs=6e-5)
    assert np.hypot(*straight.start.velocity_m_s[:, 0]) == pytest.approx(1.1157, abs=6e-5)


def test_arrival_is_that_of_the_straight_run():
    run = play(SIDE, 1.6, below_centre_m=LOW_M)
    # The aim allows for throw, so the way is a millimetre or so off that of the plain geometry.
    expected = arrival_spin_ratio(1.6, SIDE.travel_m, LOW_M)
    assert run.arrival_spin_ratio == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize("side_m", [-0.006, 0.0, 0.006])
@pytest.mark.parametrize("tip_speed", [1.5, 1.8, 3.0])
def test_true_aim_sends_the_object_ball_into_its_pocket(tip_speed, side_m):
    run = play(SIDE, tip_speed, below_centre_m=LOW_M, side_m=side_m)
    assert run.is_object_ball_potted


def test_object_ball_is_missed_beyond_the_opening_and_only_there():
    # A turn of the path moves the object ball's direction by about travel / (2 R cos(cut)).
    gain = SIDE.travel_m / (2 * BALL_RADIUS_M * np.cos(SIDE.cut_angle_rad))
    limit = SIDE.pot_tolerance_rad / gain
    errors = np.array([-1.3, -0.7, 0.0, 0.7, 1.3]) * limit
    aim = play_many(SIDE, 1.8, below_centre_m=LOW_M, direction_error_rad=errors)
    assert aim.is_object_ball_potted.tolist() == [False, True, True, True, False]


def test_too_soft_a_shot_neither_arrives_nor_pots():
    run = play(SIDE, 0.2, below_centre_m=LOW_M)
    assert run.arrival_speed_m_s == 0.0
    assert np.isnan(run.arrival_spin_ratio)
    assert not run.is_object_ball_potted
    assert outcome(SIDE, run) == "too_little"


def test_soft_object_ball_does_not_reach_its_pocket():
    far = SetUp("far", FULL_SIZE, (1.2, 0.4), (1.3, 0.8), "top_left", None, SIDE.landing_area_m)
    softly, firmly = play_many(far, np.array([0.7, 2.0]), below_centre_m=0.0).is_object_ball_potted
    assert not softly
    assert firmly


def test_miss_of_the_object_ball_runs_on_to_a_cushion():
    run = play(SIDE, 1.5, below_centre_m=0.0, direction_error_rad=0.3)
    assert run.arrival_speed_m_s == 0.0
    assert len(run.cushion_points_m) >= 1


def test_white_that_follows_straight_in_is_said_to_be_potted():
    pocket = np.array(FULL_SIZE.pocket_m("top_right"))
    back = np.array([-1.0, -1.0]) / np.sqrt(2)
    straight = SetUp(
        "straight",
        FULL_SIZE,
        tuple(pocket + 0.6 * back),
        tuple(pocket + 0.3 * back),
        "top_right",
        None,
        SIDE.landing_area_m,
    )
    followed = play(straight, 1.5, below_centre_m=-0.008)
    assert followed.potted_in == "top_right"
    assert outcome(straight, followed) != "right"
    stunned = dead_stun_tip_speed_m_s(straight.travel_m, LOW_M)
    assert play(straight, stunned, below_centre_m=LOW_M).potted_in is None


def test_path_begins_at_the_mark_and_ends_at_the_stop_within_the_cushions():
    run = play(SIDE, 2.4, below_centre_m=0.010)
    assert run.points_m[0] == pytest.approx(SIDE.white_m)
    assert run.points_m[-1] == pytest.approx(run.stop_m)
    low = BALL_RADIUS_M - 1e-9
    high = np.array([FULL_SIZE.width_m, FULL_SIZE.length_m]) - low
    assert np.all((run.points_m >= low) & (run.points_m <= high))
    assert len(run.cushion_points_m) == len(np.unique(run.cushion_points_m, axis=0)) >= 1


def test_many_strokes_are_the_same_strokes_as_one_by_one():
    rng = np.random.default_rng(5)
    speed, below = rng.uniform(0.5, 4.0, 25), rng.uniform(-0.008, 0.012, 25)
    side, error = rng.uniform(-0.006, 0.006, 25), rng.normal(0, 0.003, 25)
    many = play_many(SIDE, speed, below_centre_m=below, side_m=side, direction_error_rad=error)
    for i in range(25):
        one = play(
            SIDE, speed[i], below_centre_m=below[i], side_m=side[i], direction_error_rad=error[i]
        )
        assert many.stop_m[i] == pytest.approx(one.stop_m, abs=1e-9)
        assert path_m(SIDE, many, i) == pytest.approx(one.points_m, abs=1e-9)
        assert many.n_cushions[i] == len(one.cushion_points_m)


def test_outcome_orders_by_pace_about_the_band_that_lands():
    band = landing_band_m_s(SIDE, LOW_M)
    assert band is not None
    low, high = band
    paces = np.array([0.5 * low, 0.9 * low, np.sqrt(low * high), 1.1 * high, 2.0 * high])
    runs = play_many(SIDE, paces, below_centre_m=LOW_M)
    assert outcomes(SIDE, runs).tolist() == [-1, -1, 0, 1, 1]
    words = [outcome(SIDE, play(SIDE, float(pace), below_centre_m=LOW_M)) for pace in paces]
    assert words == ["too_little", "too_little", "right", "too_much", "too_much"]


def test_two_separate_bands_of_pace_are_told_apart():
    # A strip that the white crosses on its way to the side cushion and again on its way back.
    strip = replace(SIDE, landing_area_m=((0.2, 2.2), (0.75, 2.2), (0.75, 3.4), (0.2, 3.4)))
    # Beyond 5 m/s the white rushes about the table and lands here and there.
    bands = [band for band in landing_bands_m_s(strip, LOW_M) if band[0] < 5.0]
    assert len(bands) == 2
    (_, first_stop), (second_start, _) = bands
    assert first_stop < second_start
    for low, high in bands:
        middle = play(strip, float(np.sqrt(low * high)), below_centre_m=LOW_M)
        assert strip.lands(middle.stop_m)
    between = play(strip, float(np.sqrt(first_stop * second_start)), below_centre_m=LOW_M)
    assert not strip.lands(between.stop_m)
    assert landing_band_m_s(strip, LOW_M) in bands


def test_outcome_falls_back_on_dead_stun_where_nothing_lands():
    nowhere = replace(SIDE, landing_area_m=((0.1, 0.1), (0.2, 0.1), (0.2, 0.2)))
    stun = dead_stun_tip_speed_m_s(nowhere.travel_m, LOW_M)
    softer = play(nowhere, 0.95 * stun, below_centre_m=LOW_M)
    harder = play(nowhere, 1.05 * stun, below_centre_m=LOW_M)
    assert outcome(nowhere, softer) == "too_little"
    assert outcome(nowhere, harder) == "too_much"


def test_harder_at_one_height_carries_more_stun_and_leaves_wider():
    # Common practice, no source. Until the white begins to hurry through the curve.
    paces = np.linspace(1.0, 3.5, 26)
    runs = play_many(SIDE, paces, below_centre_m=LOW_M)
    assert np.all(np.diff(runs.arrival_spin_ratio) <= 1e-12)
    assert np.all(np.diff(runs.leaving_angle_rad[paces > 1.4]) > 0)


def test_lower_at_one_white_speed_carries_more_stun():
    # Common practice, no source.
    below = np.linspace(0.0, 0.012, 13)
    paces = tip_speed_for_m_s(2.5, below_centre_m=below)
    ratio = play_many(SIDE, paces, below_centre_m=below).arrival_spin_ratio
    assert np.all(np.diff(ratio) < 0)


def test_further_away_less_stun_is_left():
    # Common practice, no source.
    distances = np.linspace(0.1, 2.5, 25)
    ratio = np.asarray(arrival_spin_ratio(1.8, distances, LOW_M))
    assert np.all(np.diff(ratio) >= -1e-12)
    assert ratio[0] < 0.0 < ratio[-1]


@settings(max_examples=60)
@given(
    tip_speed=st.floats(0.1, 6.0),
    below=st.floats(-0.012, 0.015),
    side=st.floats(-0.008, 0.008),
    error=st.floats(-0.2, 0.2),
)
def test_no_shot_ever_gains_energy(tip_speed, below, side, error):
    runs = play_many(SIDE, tip_speed, below_centre_m=below, side_m=side, direction_error_rad=error)
    cue = Cue()
    energies = [cue.mass_kg / 0.142 * tip_speed**2]
    for stretch in runs.course.stretches:
        start = stretch.start
        energies.append(
            float(
                np.sum(start.velocity_m_s**2)
                + 0.4 * np.sum(start.roll_m_s**2)
                + 0.4 * start.side_m_s[0] ** 2
            )
        )
    # Rounding alone.
    assert np.all(np.diff(energies) <= 1e-9 * np.array(energies[:-1]))
    assert np.all(np.isfinite(runs.stop_m))


@pytest.mark.parametrize("speed", [-1.0, 0.0, 20.0, float("nan")])
def test_impossible_pace_is_refused_with_value_and_range(speed):
    with pytest.raises(TableError, match=rf"Tip speed is {speed:g} m/s; allowed is 0\.01 to 12 m"):
        play(SIDE, speed, below_centre_m=LOW_M)


def test_tip_off_the_ball_is_refused_but_many_strokes_mark_it():
    with pytest.raises(TableError, match=r"is 19 mm; allowed is 0 to 17\.8 mm|17\.77"):
        play(SIDE, 1.5, below_centre_m=0.019)
    assert play_many(SIDE, 1.5, below_centre_m=0.019).is_miscue_likely[0]


def test_warnings_tell_of_miscues_and_of_cushions_met_too_fast():
    assert "Miscue likely" in play(SIDE, 1.5, below_centre_m=0.0165).warnings[0]
    straight = play(SIDE, 4.0, below_centre_m=0.0, direction_error_rad=0.5)
    assert "hold up to 2.5 m/s" in straight.warnings[0]
    assert play(SIDE, 1.5, below_centre_m=LOW_M).warnings == ()


def test_smaller_table_has_its_own_cushions():
    small = TableSize(length_m=1.8, width_m=0.9, baulk_line_m=0.37, d_radius_m=0.15)
    setup = SetUp(
        "small", small, (0.45, 0.5), (0.6, 0.9), "top_right", None, ((0, 0), (0.5, 0), (0, 0.5))
    )
    run = play(setup, 2.0, below_centre_m=0.0)
    assert np.all(run.points_m[:, 0] <= 0.9 - BALL_RADIUS_M + 1e-9)
    assert np.all(run.points_m[:, 1] <= 1.8 - BALL_RADIUS_M + 1e-9)


def test_white_that_runs_into_the_next_ball_says_so():
    free = play(SIDE, 1.6, below_centre_m=LOW_M)
    crowded = replace(SIDE, next_ball_m=tuple(free.points_m[-1]))
    run = play(crowded, 1.6, below_centre_m=LOW_M)
    assert any("runs into the next ball" in words for words in run.warnings)
    assert not any("next ball" in words for words in free.warnings)
    blocked = replace(SIDE, obstacles_m=(tuple(free.points_m[-1]),))
    words = play(blocked, 1.6, below_centre_m=LOW_M).warnings
    assert any("runs into a ball in its way" in sentence for sentence in words)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"tip_speed_m_s": [1.0, float("nan")]}, r"Tip speed of stroke 2 is nan m/s; allowed is 0"),
        ({"tip_speed_m_s": [-1.0, 1.0]}, r"Tip speed of stroke 1 is -1 m/s; allowed is 0 to 100"),
        ({"below_centre_m": 8.0}, r"below the centre of stroke 1 is 8 m; allowed is -0\.1 to 0\.1"),
        ({"side_m": float("inf")}, r"Side of stroke 1 is inf m"),
        ({"direction_error_rad": 9.0}, r"Direction error of stroke 1 is 9 rad"),
    ],
)
def test_many_strokes_with_one_that_is_none_are_refused(change, words):
    strokes = {"tip_speed_m_s": [1.0, 2.0], "below_centre_m": LOW_M} | change
    with pytest.raises(TableError, match=words):
        play_many(SIDE, np.array(strokes.pop("tip_speed_m_s")), **strokes)


def test_no_strokes_are_no_runs():
    runs = play_many(SIDE, np.array([]), below_centre_m=LOW_M)
    assert len(runs) == 0
    assert outcomes(SIDE, runs).shape == (0,)
