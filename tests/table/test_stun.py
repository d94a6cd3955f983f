"""Dead-stun pace, its inverse and its windows, against published and derived values."""

import numpy as np
import pytest

from cue_table.ball import BALL_RADIUS_M
from cue_table.cloth import Cloth, arrive
from cue_table.errors import TableError
from cue_table.setup import FULL_SIZE, SetUp
from cue_table.shot import play
from cue_table.stun import (
    arrival_spin_ratio,
    dead_stop_tip_speed_m_s,
    dead_stun_distance_m,
    dead_stun_tip_speed_m_s,
    forgiving_below_centre_m,
    pace_window,
    stun_below_centre_m,
    tip_speed_for_spin_m_s,
)
from cue_table.tip import Cue, strike

CLOTH = Cloth(sliding_friction=0.20)
# A dome of no radius meets the ball where the axis passes, so that heights are contact offsets.
POINT = Cue(mass_kg=0.51, tip_restitution=0.73, tip_radius_m=0.0)

# Derived for this project beforehand (closed form, mu 0.20, M 0.51 kg, e 0.73, ball 0.142 kg):
# white's speed and tip speed for dead stun, per contact offset over the radius and distance.
DISTANCES_M = (0.3, 0.5, 1.0, 1.5, 2.0, 2.5)
DEAD_STUN = {
    0.10: "2.489/1.875 3.213/2.421 4.545/3.424 5.566/4.193 6.427/4.842 7.186/5.414",
    0.20: "1.808/1.441 2.335/1.860 3.302/2.631 4.044/3.222 4.669/3.720 5.220/4.159",
    0.30: "1.519/1.320 1.961/1.705 2.774/2.411 3.397/2.952 3.923/3.409 4.386/3.811",
    0.40: "1.356/1.316 1.751/1.699 2.476/2.402 3.033/2.942 3.502/3.397 3.915/3.798",
    0.50: "1.253/1.378 1.617/1.780 2.287/2.517 2.801/3.082 3.235/3.559 3.617/3.979",
}
DEAD_STUN_CASES = [
    (beta, distance, *map(float, pair.split("/")))
    for beta, row in DEAD_STUN.items()
    for distance, pair in zip(DISTANCES_M, row.split(), strict=True)
]


@pytest.mark.parametrize(("beta", "distance_m", "white_m_s", "tip_m_s"), DEAD_STUN_CASES)
def test_dead_stun_pace_is_the_derived_one(beta, distance_m, white_m_s, tip_m_s):
    below = beta * BALL_RADIUS_M
    found = dead_stun_tip_speed_m_s(distance_m, below, POINT, CLOTH)
    # The table is rounded to three decimals.
    assert found == pytest.approx(tip_m_s, abs=6e-4)
    white = float(strike(found, below_centre_m=below, cue=POINT).speed_m_s)
    assert white == pytest.approx(white_m_s, abs=6e-4)


def test_dead_stun_pace_brings_no_spin_and_its_inverse_gives_the_distance_back():
    pace = dead_stun_tip_speed_m_s(0.9, 0.008)
    assert arrival_spin_ratio(pace, 0.9, 0.008) == pytest.approx(0.0, abs=1e-12)
    assert dead_stun_distance_m(pace, 0.008) == pytest.approx(0.9, rel=1e-12)
    assert stun_below_centre_m(pace, 0.9) == pytest.approx(0.008, rel=1e-9)


# Derived beforehand: relative pace window for a spin ratio of at most 0.1, any distance.
@pytest.mark.parametrize(
    ("beta", "softer", "harder"),
    [
        (0.1, -0.130, 0.253),
        (0.2, -0.061, 0.085),
        (0.3, -0.034, 0.044),
        (0.4, -0.021, 0.025),
        (0.5, -0.012, 0.014),
    ],
)
@pytest.mark.parametrize("distance_m", [0.4, 1.7])
def test_pace_window_is_the_derived_one_at_any_distance(beta, softer, harder, distance_m):
    window = pace_window(distance_m, beta * BALL_RADIUS_M, cue=POINT, cloth=CLOTH)
    # Percentages are given to one decimal.
    assert window.softest_m_s / window.dead_stun_m_s - 1 == pytest.approx(softer, abs=6e-4)
    assert window.hardest_m_s / window.dead_stun_m_s - 1 == pytest.approx(harder, abs=6e-4)


@pytest.mark.parametrize(("mass_kg", "beta"), [(0.45, 0.3577), (0.51, 0.3535), (0.57, 0.3501)])
def test_most_forgiving_height_is_the_derived_one_and_needs_the_least_pace(mass_kg, beta):
    cue = Cue(mass_kg=mass_kg, tip_radius_m=0.0)
    height = forgiving_below_centre_m(cue)
    assert height / BALL_RADIUS_M == pytest.approx(beta, abs=6e-5)
    around = height + np.linspace(-0.004, 0.004, 9)
    paces = np.asarray(dead_stun_tip_speed_m_s(1.0, around, cue, CLOTH))
    assert np.argmin(paces) == 4


@pytest.mark.parametrize(("below_m", "value"), [(0.0, "0 mm"), (-0.004, "-4 mm")])
def test_no_stun_from_a_hit_at_or_above_the_centre(below_m, value):
    with pytest.raises(TableError, match=rf"passes {value} below.*more than 0"):
        dead_stun_tip_speed_m_s(1.0, below_m)


def test_too_soft_for_stun_names_the_least_pace():
    with pytest.raises(TableError, match=r"tip speed of 0\.5 m/s.*2 m.*least is 3\.4\d m/s"):
        stun_below_centre_m(0.5, 2.0)


# Derived beforehand: dead-stun speed of the white at 1 m with contact at 0.2 R, by friction.
@pytest.mark.parametrize(
    ("friction", "white_m_s"), [(0.178, 3.1146), (0.200, 3.3015), (0.212, 3.3991), (0.245, 3.6541)]
)
def test_dead_stun_needs_more_pace_on_a_slower_cloth(friction, white_m_s):
    below = 0.2 * BALL_RADIUS_M
    found = dead_stun_tip_speed_m_s(1.0, below, POINT, Cloth(sliding_friction=friction))
    white = float(strike(found, below_centre_m=below, cue=POINT).speed_m_s)
    assert white == pytest.approx(white_m_s, abs=6e-5)


def white_spin_ratio(white_m_s: float, beta: float, distance_m: float = 1.0) -> float:
    """Return the arrival spin ratio of a white that leaves the tip at this speed."""
    arrived = arrive(white_m_s, -2.5 * beta * white_m_s, distance_m, CLOTH)
    return float(arrived.spin_ratio)


# Derived beforehand, linear: change of spin ratio for 10 % more pace and for 1 mm lower, at fixed
# speed of the white.
@pytest.mark.parametrize(
    ("beta", "for_pace", "for_1_mm"),
    [
        (0.10, -0.059, -0.106),
        (0.20, -0.141, -0.119),
        (0.30, -0.260, -0.136),
        (0.40, -0.444, -0.159),
        (0.50, -0.750, -0.190),
    ],
)
@pytest.mark.parametrize("distance_m", [0.5, 2.0])
def test_spin_near_stun_changes_with_pace_and_height_as_derived(
    beta, for_pace, for_1_mm, distance_m
):
    white = np.sqrt(2 * CLOTH.slide_m_s2 * distance_m / (beta * (2 - beta)))
    small = 1e-5
    up, down = (white_spin_ratio(white * (1 + s), beta, distance_m) for s in (small, -small))
    assert (up - down) / (2 * small) * 0.1 == pytest.approx(for_pace, abs=6e-4)
    low, high = (white_spin_ratio(white, beta + s, distance_m) for s in (small, -small))
    per_mm = (low - high) / (2 * small) / (BALL_RADIUS_M * 1e3)
    assert per_mm == pytest.approx(for_1_mm, abs=6e-4)


def test_height_for_stun_is_the_closed_form_of_the_white_speed():
    # Derived: beta* = 1 - sqrt(1 - 2 mu g d / v0^2).
    below = stun_below_centre_m(2.6, 1.0, POINT, CLOTH)
    white = float(strike(2.6, below_centre_m=below, cue=POINT).speed_m_s)
    beta = 1 - np.sqrt(1 - 2 * CLOTH.slide_m_s2 * 1.0 / white**2)
    assert below == pytest.approx(beta * BALL_RADIUS_M, rel=1e-9)


# Derived beforehand: fixed speed of the CUE, M 0.51 kg, 1 m, at the most forgiving height.
@pytest.mark.parametrize(
    ("lower_mm", "spin"),
    [(-3, 0.0997), (-2, 0.0486), (-1, 0.0135), (1, 0.0180), (2, 0.0871), (3, 0.2526)],
)
def test_at_the_forgiving_height_tip_errors_hardly_matter(lower_mm, spin):
    below = forgiving_below_centre_m(POINT)
    pace = dead_stun_tip_speed_m_s(1.0, below, POINT, CLOTH)
    assert pace == pytest.approx(2.3876, abs=6e-5)
    found = arrival_spin_ratio(pace, 1.0, below + lower_mm * 1e-3, POINT, CLOTH)
    assert found == pytest.approx(spin, abs=2e-4)


@pytest.mark.parametrize(
    ("share", "spin"), [(-0.10, 0.546), (-0.05, 0.212), (0.05, -0.148), (0.10, -0.256)]
)
def test_at_the_forgiving_height_pace_errors_matter_as_derived(share, spin):
    below = forgiving_below_centre_m(POINT)
    pace = dead_stun_tip_speed_m_s(1.0, below, POINT, CLOTH)
    found = arrival_spin_ratio((1 + share) * pace, 1.0, below, POINT, CLOTH)
    assert found == pytest.approx(spin, abs=6e-4)


@pytest.mark.parametrize(("lower_mm", "spin"), [(-1, 0.083), (1, -0.077), (2, -0.146)])
def test_at_a_fifth_of_the_radius_tip_errors_matter_as_derived(lower_mm, spin):
    below = 0.2 * BALL_RADIUS_M
    pace = dead_stun_tip_speed_m_s(1.0, below, POINT, CLOTH)
    found = arrival_spin_ratio(pace, 1.0, below + lower_mm * 1e-3, POINT, CLOTH)
    assert found == pytest.approx(spin, abs=6e-4)


# A page on cue mechanics: 2 to 3 mm too low turns a stop into a screw. True at fixed speed of the
# white (derived: -0.298 and -0.340 for 2.5 mm), not at fixed speed of the cue (-0.02 at 0.3 R).
@pytest.mark.parametrize(("beta", "spin"), [(0.2, -0.298), (0.3, -0.340)])
def test_a_little_too_low_turns_a_stop_into_a_screw_at_one_white_speed(beta, spin):
    white = np.sqrt(2 * CLOTH.slide_m_s2 / (beta * (2 - beta)))
    found = white_spin_ratio(white, beta + 2.5e-3 / BALL_RADIUS_M)
    assert found == pytest.approx(spin, abs=2e-3)


def test_a_little_too_low_hardly_matters_at_one_cue_speed():
    below = 0.3 * BALL_RADIUS_M
    pace = dead_stun_tip_speed_m_s(1.0, below, POINT, CLOTH)
    assert arrival_spin_ratio(pace, 1.0, below + 2.5e-3, POINT, CLOTH) == pytest.approx(
        -0.02, abs=0.01
    )


def test_one_tip_is_not_one_thing():
    # One page says 3 to 4 mm at most; others mean a tip width of cue movement (from memory). As
    # contact offsets these differ by a factor of 2, so millimetres are kept.
    wide, narrow = 9.5e-3 * Cue(tip_radius_m=0.00895).contact_share, 3.5e-3
    assert wide * 1e3 == pytest.approx(7.1, abs=0.05)
    assert wide / BALL_RADIUS_M == pytest.approx(0.27, abs=5e-3)
    assert narrow / BALL_RADIUS_M == pytest.approx(0.13, abs=5e-3)
    assert wide / narrow == pytest.approx(2.0, abs=0.1)


def test_further_needs_lower_or_faster():
    # Colorado State University, on stun: further away means lower, or faster, or both.
    near, far = (dead_stun_tip_speed_m_s(d, 0.006, POINT, CLOTH) for d in (0.5, 1.5))
    assert far > near
    assert stun_below_centre_m(3.0, 1.5, POINT, CLOTH) > stun_below_centre_m(3.0, 0.5, POINT, CLOTH)


@pytest.mark.parametrize(("distance_m", "below_m"), [(0.5, 0.008), (0.9, 0.006), (1.2, 0.011)])
def test_dead_stop_pace_leaves_the_white_where_it_struck(distance_m, below_m):
    # A second way: the whole shot, event by event, with the hit's throw and friction in it.
    pocket = np.array(FULL_SIZE.pocket_m("top_right"))
    back = np.array([-1.0, -1.3]) / np.hypot(1.0, 1.3)
    ball = pocket + 0.4 * back
    white = ball + (distance_m + 2 * BALL_RADIUS_M) * back
    straight = SetUp("straight", FULL_SIZE, tuple(white), tuple(ball), "top_right")
    pace = dead_stop_tip_speed_m_s(distance_m, below_m)
    run = play(straight, pace, below_centre_m=below_m)
    struck = ball + 2 * BALL_RADIUS_M * back
    # It keeps (1 - e)/2 of its speed, and backspin stops it after the way of a braked ball.
    kept_m_s = 0.5 * (1 - 0.95) * run.arrival_speed_m_s
    creep_m = kept_m_s**2 / (2 * Cloth().slide_m_s2)
    assert (run.stop_m - struck) @ -back == pytest.approx(creep_m, abs=2e-4)
    stun = play(straight, dead_stun_tip_speed_m_s(distance_m, below_m), below_centre_m=below_m)
    assert (
        stun.stop_m - struck
    ) @ -back > 1.2 * creep_m  # derived beforehand: dead stun creeps forward


def test_pace_for_a_spin_arrives_with_that_spin():
    for spin in (-0.4, -0.1, 0.0, 0.3):
        pace = tip_speed_for_spin_m_s(spin, 0.9, 0.008)
        assert arrival_spin_ratio(pace, 0.9, 0.008) == pytest.approx(spin, abs=1e-12)


def test_no_pace_arrives_with_more_backspin_than_the_tip_gave():
    assert tip_speed_for_spin_m_s(-2.0, 0.9, 0.002) == float("inf")
