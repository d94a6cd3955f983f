"""Dead-stun pace, its inverse and its windows, against published and derived values."""

import numpy as np
import pytest

from cue_table.ball import BALL_RADIUS_M
from cue_table.cloth import Cloth
from cue_table.errors import TableError
from cue_table.stun import (
    arrival_spin_ratio,
    dead_stun_distance_m,
    dead_stun_tip_speed_m_s,
    forgiving_below_centre_m,
    pace_window,
    stun_below_centre_m,
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
