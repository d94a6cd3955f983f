"""Tip on ball, against derived values, conservation laws and an integrated spring contact."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from cue_table.ball import BALL_MASS_KG, BALL_RADIUS_M
from cue_table.errors import TableError
from cue_table.tip import Cue, squirt_rad, strike, tip_speed_for_m_s

OUNCES_16, OUNCES_18, OUNCES_19, OUNCES_21 = 0.4536, 0.5103, 0.5386, 0.5954


def point_cue(mass_kg: float = OUNCES_18, **kwargs: float) -> Cue:
    """Return a cue whose tip meets the ball where its axis passes."""
    return Cue(mass_kg=mass_kg, tip_radius_m=0.0, **kwargs)


# Derived beforehand (momentum, spin and restitution; e 0.73, ball 0.142 kg, tip at 1 m/s).
@pytest.mark.parametrize(
    ("mass_kg", "offset", "white_m_s", "cue_after_m_s"),
    [
        (OUNCES_16, 0.0, 1.3175, 0.5875),
        (OUNCES_16, 0.25, 1.1774, 0.6314),
        (OUNCES_16, 0.5, 0.8926, 0.7206),
        (OUNCES_18, 0.0, 1.3534, 0.6234),
        (OUNCES_18, 0.25, 1.2060, 0.6644),
        (OUNCES_18, 0.5, 0.9090, 0.7471),
        (OUNCES_19, 0.0, 1.3691, 0.6391),
        (OUNCES_19, 0.25, 1.2184, 0.6788),
        (OUNCES_19, 0.5, 0.9160, 0.7585),
        (OUNCES_21, 0.0, 1.3969, 0.6669),
        (OUNCES_21, 0.25, 1.2404, 0.7042),
        (OUNCES_21, 0.5, 0.9284, 0.7786),
    ],
)
def test_white_and_cue_leave_at_the_derived_speeds(mass_kg, offset, white_m_s, cue_after_m_s):
    struck = strike(1.0, below_centre_m=offset * BALL_RADIUS_M, cue=point_cue(mass_kg))
    assert float(struck.speed_m_s) == pytest.approx(white_m_s, abs=6e-5)
    assert float(struck.cue_speed_after_m_s) == pytest.approx(cue_after_m_s, abs=6e-5)


# Derived beforehand; the restitutions are those of leather playing tips (Colorado State
# University, "tip efficiency").
@pytest.mark.parametrize(("restitution", "white_m_s"), [(0.71, 1.3377), (0.75, 1.3690)])
def test_white_speed_at_both_ends_of_leather_restitution(restitution, white_m_s):
    struck = strike(1.0, below_centre_m=0.0, cue=point_cue(tip_restitution=restitution))
    assert float(struck.speed_m_s) == pytest.approx(white_m_s, abs=6e-5)


# Derived beforehand: a dome of radius r meets the ball at R/(R + r) of the axis offset.
@pytest.mark.parametrize(("dome_m", "share"), [(0.00895, 0.7457), (0.00475, 0.8468)])
def test_dome_brings_the_contact_nearer_to_the_centre(dome_m, share):
    cue = Cue(tip_radius_m=dome_m)
    struck = strike(1.0, below_centre_m=0.008, cue=cue)
    assert float(struck.contact_offset) * BALL_RADIUS_M / 0.008 == pytest.approx(share, abs=6e-5)


# Derived beforehand; the form agrees with Shepard (2001) as remembered, which is no proof.
@pytest.mark.parametrize(
    ("offset", "end_mass_share", "degrees"),
    [(0.25, 0.05, 1.485), (0.5, 0.05, 2.709), (0.5, 0.1, 4.806)],
)
def test_squirt_is_the_derived_one_and_away_from_the_side(offset, end_mass_share, degrees):
    cue = point_cue(end_mass_kg=end_mass_share * BALL_MASS_KG)
    assert float(np.degrees(squirt_rad(offset, cue))) == pytest.approx(degrees, abs=6e-4)
    struck = strike(1.0, below_centre_m=0.0, side_m=offset * BALL_RADIUS_M, cue=cue)
    assert float(np.degrees(struck.squirt_rad)) == pytest.approx(-degrees, abs=6e-4)


# Derived beforehand: the offset at which a tip of this friction slips. Frictions from memory.
@pytest.mark.parametrize(("friction", "offset"), [(0.6, 0.5145), (0.7, 0.5735), (0.57735, 0.5)])
def test_tip_slips_beyond_the_derived_offset(friction, offset):
    cue = point_cue(tip_friction=friction)
    assert cue.greatest_offset_m / BALL_RADIUS_M == pytest.approx(offset, abs=6e-5)


def test_two_fifths_of_the_radius_above_centre_rolls_at_once():
    # Textbook result, from memory, and derived.
    struck = strike(2.0, below_centre_m=-0.4 * BALL_RADIUS_M, cue=point_cue())
    assert float(struck.roll_speed_m_s) == pytest.approx(float(struck.speed_m_s), rel=1e-12)


@given(
    speed=st.floats(0.1, 8.0),
    below=st.floats(-0.5, 0.5),
    mass_kg=st.floats(0.4, 0.7),
    restitution=st.floats(0.3, 1.0),
)
def test_strike_keeps_momentum_and_never_gains_energy(speed, below, mass_kg, restitution):
    cue = point_cue(mass_kg, tip_restitution=restitution)
    struck = strike(speed, below_centre_m=below * BALL_RADIUS_M, cue=cue)
    white, spin = float(struck.speed_m_s), float(struck.roll_speed_m_s)
    after = float(struck.cue_speed_after_m_s)
    assert mass_kg * after + BALL_MASS_KG * white == pytest.approx(mass_kg * speed, rel=1e-12)
    energy = mass_kg * after**2 + BALL_MASS_KG * (white**2 + 0.4 * spin**2)
    assert energy <= mass_kg * speed**2 * (1 + 1e-12)
    if restitution == 1.0:
        assert energy == pytest.approx(mass_kg * speed**2, rel=1e-12)


@pytest.mark.parametrize("offset", [0.0, 0.2, 0.5])
@pytest.mark.parametrize("mass_kg", [0.45, 0.57])
def test_strike_agrees_with_an_integrated_lossless_spring(offset, mass_kg):
    # A second way: a stiff spring between tip and ball, integrated until they part.
    stiffness = 1e6

    def forces(_, state):
        tip, tip_v, ball, ball_v, spin = state
        push = stiffness * max(tip - ball, 0.0)
        return [
            tip_v,
            -push / mass_kg,
            ball_v - offset * spin,
            push / BALL_MASS_KG,
            -2.5 * offset * push / BALL_MASS_KG,
        ]

    def parted(_, state):
        return state[0] - state[2] + 1e-12

    parted.__dict__.update(terminal=True, direction=-1)
    # ball is the place of the contact point: its speed is the ball's less what the spin takes.
    start = [1e-15, 1.0, 0.0, 0.0, 0.0]
    done = solve_ivp(forces, (0, 0.01), start, events=parted, rtol=1e-10, atol=1e-14)
    struck = strike(
        1.0, below_centre_m=offset * BALL_RADIUS_M, cue=point_cue(mass_kg, tip_restitution=1.0)
    )
    assert float(struck.speed_m_s) == pytest.approx(done.y[3, -1], rel=1e-6)
    assert float(struck.roll_speed_m_s) == pytest.approx(done.y[4, -1], abs=1e-6)
    assert float(struck.cue_speed_after_m_s) == pytest.approx(done.y[1, -1], rel=1e-6)


def test_hitting_at_half_the_radius_costs_a_third_of_the_white_speed():
    # Derived beforehand.
    centre, low = strike(1.0, below_centre_m=np.array([0.0, 13.125e-3]), cue=point_cue()).speed_m_s
    assert low / centre == pytest.approx(2 / 3, abs=0.01)


def test_tip_speed_for_a_white_speed_is_the_inverse():
    speed = tip_speed_for_m_s(2.5, below_centre_m=0.006, side_m=0.003)
    again = strike(float(speed), below_centre_m=0.006, side_m=0.003).speed_m_s
    assert float(again) == pytest.approx(2.5, rel=1e-12)


def test_left_hand_side_turns_the_white_clockwise():
    # Common practice, no source: a ball struck on its left spins clockwise seen from above.
    assert float(strike(1.0, below_centre_m=0.0, side_m=0.005).side_speed_m_s) < 0.0


def test_miscue_warning_begins_beyond_half_the_radius():
    # Limit: Alciatore, "How High or Low Should You Hit the Cue Ball?".
    cue = Cue()
    inside = strike(1.0, below_centre_m=0.999 * cue.safe_offset_m, cue=cue)
    outside = strike(1.0, below_centre_m=1.05 * cue.safe_offset_m, cue=cue)
    assert inside.warnings == ()
    assert outside.is_miscue_likely
    assert "Miscue likely" in outside.warnings[0]
    assert "0.52 radii" in outside.warnings[0]


def test_slipping_tip_is_refused_with_value_and_range():
    with pytest.raises(TableError, match=r"is 20 mm; allowed is 0 to 17\.77\d\d mm.*15\.5 mm"):
        Cue().check_offset(0.020)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("mass_kg", -0.5, r"Cue mass is -0\.5 kg; allowed is 0\.2 to 1\.5 kg"),
        ("mass_kg", float("nan"), r"Cue mass is nan kg; allowed"),
        ("tip_restitution", 1.2, r"Tip restitution is 1\.2; allowed is 0\.3 to 1"),
        ("tip_radius_m", 0.5, r"Tip radius is 0\.5 m; allowed is 0 to 0\.05 m"),
        ("tip_width_m", 0.0, r"Tip width is 0 m; allowed is 0\.004 to 0\.02 m"),
        ("end_mass_kg", -1.0, r"End mass is -1 kg; allowed is 0 to 0\.1 kg"),
        ("tip_friction", 0.0, r"Tip friction is 0; allowed is 0\.1 to 2"),
    ],
)
def test_impossible_cue_is_refused_with_value_and_range(field, value, words):
    with pytest.raises(TableError, match=words):
        Cue(**{field: value})


def test_offset_is_told_in_tip_widths_of_the_own_cue():
    assert Cue(tip_width_m=0.0095).tips(0.0095) == 1.0
    assert Cue(tip_width_m=0.0100).tips(0.0095) == pytest.approx(0.95)


def test_a_lossless_strike_keeps_its_energy_where_a_public_transcription_gains_a_quarter():
    # A public transcription of Alciatore's technical proof A.30 has v0 = 2V / (1 + (m/M)(1 +
    # (5/2) x^2)): 1.422 V at x = 0.5 and m/M = 1/4, and energy out over in of 1.237.
    cue = point_cue(4 * BALL_MASS_KG, tip_restitution=1.0)
    struck = strike(1.0, below_centre_m=0.5 * BALL_RADIUS_M, cue=cue)
    assert float(struck.speed_m_s) == pytest.approx(1.0667, abs=6e-5)
    spun = float(struck.speed_m_s) ** 2 + 0.4 * float(struck.roll_speed_m_s) ** 2
    energy = BALL_MASS_KG * spun + cue.mass_kg * float(struck.cue_speed_after_m_s) ** 2
    assert energy == pytest.approx(cue.mass_kg, rel=1e-12)


def test_the_cue_loses_between_a_fifth_and_two_fifths_of_its_speed():
    # Derived beforehand: 22 to 41 % over cues of 16 to 21 oz and offsets up to half the radius.
    left = [
        float(strike(1.0, below_centre_m=x * BALL_RADIUS_M, cue=point_cue(m)).cue_speed_after_m_s)
        for x in (0.0, 0.5)
        for m in (OUNCES_16, OUNCES_21)
    ]
    assert 1 - max(left) == pytest.approx(0.22, abs=5e-3)
    assert 1 - min(left) == pytest.approx(0.41, abs=5e-3)
