import pytest

from cue_dashboard.units import PaceScale, PaceUnit, short_tips, tip_height_text, tips_text

# 1 mile = 1609.344 m exactly (international yard and pound agreement, 1959)
IN_MPH = 2.0 * 3600 / 1609.344


@pytest.mark.parametrize(
    ("unit", "shown"), [("m/s", "2.00 m/s"), ("mph", f"{IN_MPH:.1f} mph"), ("km/h", "7.2 km/h")]
)
def test_a_pace_is_shown_in_the_unit_of_the_screen(unit, shown):
    assert PaceScale.of(unit).text(2.0) == shown


@pytest.mark.parametrize("name", [None, "", "knots", 3])
def test_an_unknown_unit_falls_back_to_metres_a_second(name):
    assert PaceScale.of(name).unit is PaceUnit.M_S


def test_a_span_names_its_unit_once():
    assert PaceScale(PaceUnit.M_S).span(1.5, 2.25) == "1.50 to 2.25 m/s"


@pytest.mark.parametrize(
    ("below_mm", "words"),
    [
        (0.0, "centre ball"),
        (1.0, "centre ball"),
        (9.5, "1 tip below centre"),
        (4.75, "½ tip below centre"),
        (-9.5, "1 tip above centre"),
        (11.875, "1¼ tips below centre"),
        (8.0, "about ¾ tip below centre"),
        (19.0, "2 tips below centre"),
    ],
)
def test_tips_are_quarters_of_a_tip_of_nine_and_a_half_millimetres(below_mm, words):
    assert tips_text(below_mm / 1000) == words


def test_a_wider_tip_makes_fewer_tips_of_the_same_height():
    assert tips_text(0.011, tip_width_m=0.011) == "1 tip below centre"


def test_a_tip_height_says_millimetres_first():
    assert tip_height_text(0.0095) == "9.5 mm below centre (1 tip)"
    assert tip_height_text(-0.0095) == "9.5 mm above centre (1 tip)"
    assert tip_height_text(0.0) == "centre ball"
    assert short_tips(-0.00475) == "½ tip"
