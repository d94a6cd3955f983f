"""Slide and roll, against textbook values, derived values and numerical integration."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from cue_table.ball import BALL_RADIUS_M, GRAVITY_M_S2
from cue_table.cloth import Cloth, arrive, rolling_distance_m, slide_to_roll
from cue_table.errors import TableError

CLOTH = Cloth(sliding_friction=0.20, rolling_resistance=0.0127)


# Derived beforehand: where a centre hit begins to roll, mu 0.20.
@pytest.mark.parametrize(("speed_m_s", "distance_m"), [(1, 0.1248), (2, 0.4993), (3, 1.1234)])
def test_centre_hit_rolls_after_the_derived_distance_at_five_sevenths(speed_m_s, distance_m):
    slide = slide_to_roll(float(speed_m_s), 0.0, CLOTH)
    assert float(slide.distance_m) == pytest.approx(distance_m, abs=6e-5)
    # 5/7 is the textbook value for a ball that starts without spin.
    assert float(slide.roll_speed_m_s) == pytest.approx(5 / 7 * speed_m_s, rel=1e-12)


def test_hit_four_fifths_above_ends_faster_than_it_began():
    # Ben-Gurion University exercise 22_8_422: hit 4R/5 above the centre, final speed 9/7 v0.
    slide = slide_to_roll(1.0, 2.5 * 0.8, CLOTH)
    assert float(slide.roll_speed_m_s) == pytest.approx(9 / 7, rel=1e-12)


def test_hit_two_thirds_below_ends_at_five_twentyfirsts():
    # A published homework solution: hit 2R/3 below, final speed 5/21 v0, t = 16 v0/(21 mu g).
    slide = slide_to_roll(1.0, -2.5 * 2 / 3, CLOTH)
    assert float(slide.roll_speed_m_s) == pytest.approx(5 / 21, rel=1e-12)
    assert float(slide.time_s) == pytest.approx(16 / (21 * 0.20 * GRAVITY_M_S2), rel=1e-12)


# Derived beforehand: white at 2.5 m/s with contact at 0.3 R below the centre, mu 0.20.
@pytest.mark.parametrize(
    ("distance_m", "speed_m_s", "spin_ratio"),
    [(0.4, None, -0.4777), (0.8123, 1.75, 0.0), (1.0, 1.5251, 0.3686), (1.1946, 1.25, 1.0)],
)
def test_draw_shot_arrives_as_derived(distance_m, speed_m_s, spin_ratio):
    arrived = arrive(2.5, -2.5 * 0.3 * 2.5, distance_m, CLOTH)
    if speed_m_s is not None:
        assert float(arrived.speed_m_s) == pytest.approx(speed_m_s, abs=2e-4)
    assert float(arrived.spin_ratio) == pytest.approx(spin_ratio, abs=3e-4)


def test_arrivals_go_from_screw_through_stun_to_roll_with_distance():
    # The three arrivals, derived: screw before the stun distance 0.8123 m, roll from 1.1946 m.
    distances = np.linspace(0.0, 3.0, 301)
    arrived = arrive(2.5, -1.875, distances, CLOTH)
    ratio = arrived.spin_ratio
    assert np.all(np.diff(ratio) >= -1e-12)
    assert np.all(ratio[distances < 0.81] < 0.0)
    assert np.all(ratio[distances > 1.195] == pytest.approx(1.0, abs=1e-12))


@pytest.mark.parametrize(
    ("speed", "roll"), [(2.5, -1.9), (1.0, 0.0), (1.5, 3.0), (0.7, 0.7), (3.0, -3.6)]
)
@pytest.mark.parametrize("distance_m", [0.05, 0.4, 0.9, 1.6])
def test_arrival_agrees_with_numerical_integration(speed, roll, distance_m):
    def forces(_, state):
        _, v, s = state
        slip = v - s
        if abs(slip) > 1e-7:
            push = -np.sign(slip) * CLOTH.slide_m_s2
            return [v, push, -2.5 * push]
        return [v, -CLOTH.roll_m_s2, -CLOTH.roll_m_s2]

    def rolls(_, state):
        return abs(state[1] - state[2]) - 1e-7

    def there(_, state):
        return state[0] - distance_m

    rolls.__dict__.update(terminal=True)
    there.__dict__.update(terminal=True)
    state, time = [0.0, speed, roll], 0.0
    for _ in range(2):
        done = solve_ivp(
            forces,
            (time, 30.0),
            state,
            events=(there, rolls),
            rtol=1e-10,
            atol=1e-12,
            max_step=0.1,
        )
        state, time = list(done.y[:, -1]), float(done.t[-1])
        if abs(state[0] - distance_m) < 1e-9:
            break
        state[2] = state[1]
    arrived = arrive(speed, roll, distance_m, CLOTH)
    # The integration stops slipping at 1e-7 m/s.
    assert float(arrived.speed_m_s) == pytest.approx(state[1], abs=1e-6)
    assert float(arrived.roll_speed_m_s) == pytest.approx(state[2], abs=1e-6)
    assert float(arrived.time_s) == pytest.approx(time, abs=1e-6)


# Mathavan, Jackson and Parkin (2009), at second hand: rolling deceleration 0.124 to 0.126 m/s^2,
# sliding 1.75 to 2.40 m/s^2.
def test_default_cloth_lies_within_the_published_measurements():
    assert 0.124 <= Cloth().roll_m_s2 <= 0.126
    assert 1.75 <= Cloth().slide_m_s2 <= 2.40


def test_rolling_ball_stops_after_v_squared_over_two_a():
    assert rolling_distance_m(1.0, CLOTH) == pytest.approx(1 / (2 * 0.0127 * 9.81), rel=1e-12)
    almost, beyond = arrive(1.0, 1.0, np.array([4.012, 4.014]), CLOTH).is_short
    assert not almost
    assert beyond


@given(speed=st.floats(0.05, 6.0), offset=st.floats(-0.5, 0.5), distance_m=st.floats(0.0, 4.0))
def test_a_run_never_gains_energy(speed, offset, distance_m):
    roll = 2.5 * offset * speed
    arrived = arrive(speed, roll, distance_m, CLOTH)
    before = speed**2 + 0.4 * roll**2
    after = float(arrived.speed_m_s**2 + 0.4 * arrived.roll_speed_m_s**2)
    assert after <= before * (1 + 1e-12)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("sliding_friction", -0.1, r"Sliding friction is -0\.1; allowed is 0\.02 to 1"),
        ("sliding_friction", float("nan"), r"Sliding friction is nan; allowed"),
        ("rolling_resistance", 0.0, r"Rolling resistance is 0; allowed is 0\.001 to 0\.1"),
        (
            "spin_deceleration_rad_s2",
            -1.0,
            r"Spin deceleration is -1 rad/s\^2; allowed is 0 to 100 rad/s\^2",
        ),
    ],
)
def test_impossible_cloth_is_refused_with_value_and_range(field, value, words):
    with pytest.raises(TableError, match=words):
        Cloth(**{field: value})


def test_radius_is_that_of_the_rules():
    # Rules of the International Billiards and Snooker Federation, section 1.2: 52.5 mm.
    assert pytest.approx(0.0525) == 2 * BALL_RADIUS_M
