"""Table dimensions and set-ups: values of the rules, plane geometry, and set-ups without sense."""

import numpy as np
import pytest

from cue_table.ball import BALL_RADIUS_M
from cue_table.errors import TableError
from cue_table.setup import FULL_SIZE, SetUp, TableSize

AREA = ((1.0, 2.2), (1.7, 2.2), (1.7, 2.9), (1.0, 2.9))


def position(**changes: object) -> SetUp:
    """Return a set-up that makes sense, with changes."""
    values: dict[str, object] = {
        "name": "long blue",
        "table": FULL_SIZE,
        "white_m": (1.2, 2.3),
        "object_ball_m": (0.9, 2.9),
        "pocket": "top_left",
        "landing_area_m": AREA,
    }
    return SetUp(**(values | changes))  # type: ignore[arg-type]


# Rules of Snooker, section 1.1 (a), (d), (e) and (f), as quoted in full in two stored copies.
@pytest.mark.parametrize(
    ("ball", "x_off_centre_m", "y_m"),
    [
        ("brown", 0.0, 0.737),
        ("yellow", 0.292, 0.737),
        ("green", -0.292, 0.737),
        ("blue", 0.0, 1.7845),
        ("pink", 0.0, 2.67675),
        ("black", 0.0, 3.245),
    ],
)
def test_colours_stand_where_the_rules_put_them(ball, x_off_centre_m, y_m):
    x, y = FULL_SIZE.spots_m[ball]
    assert x - 1.778 / 2 == pytest.approx(x_off_centre_m, abs=1e-12)
    assert y == pytest.approx(y_m, abs=1e-12)


def test_full_size_is_that_of_the_rules():
    # Section 1.1(a): 11 ft 8 1/2 in by 5 ft 10 in, within 13 mm.
    assert pytest.approx((11 * 12 + 8.5) * 0.0254, abs=1e-3) == FULL_SIZE.length_m
    assert pytest.approx((5 * 12 + 10) * 0.0254, abs=1e-3) == FULL_SIZE.width_m


def test_pockets_lie_in_the_corners_and_in_the_middle_of_the_long_sides():
    assert FULL_SIZE.pocket_m("middle_right") == (1.778, 3.569 / 2)
    x, y = FULL_SIZE.pocket_m("top_right")
    # The middle of the line between two jaws that are 88 mm apart.
    assert (1.778 - x, 3.569 - y) == pytest.approx((0.0311, 0.0311), abs=1e-4)


def test_straight_pot_has_no_cut_and_a_free_travel_of_the_gap():
    pocket = np.array(FULL_SIZE.pocket_m("top_right"))
    back = np.array([-0.6, -0.8])
    setup = position(
        object_ball_m=tuple(pocket + 0.5 * back),
        white_m=tuple(pocket + 1.5 * back),
        pocket="top_right",
    )
    assert setup.cut_angle_rad == pytest.approx(0.0, abs=1e-9)
    assert setup.travel_m == pytest.approx(1.0 - 2 * BALL_RADIUS_M, rel=1e-12)
    assert setup.pot_distance_m == pytest.approx(0.5, rel=1e-12)


@pytest.mark.parametrize("angle_deg", [-60, -20, 35, 75])
def test_cut_angle_and_side_are_those_the_position_was_built_from(angle_deg):
    pot = np.array([0.0, 1.0])
    table = TableSize()
    ball = np.array([table.pocket_m("top_left")[0], 2.9])
    angle = np.radians(angle_deg)
    ghost = ball - 2 * BALL_RADIUS_M * pot
    white = ghost - 0.7 * np.array([np.sin(angle), np.cos(angle)])
    setup = position(white_m=tuple(white), object_ball_m=tuple(ball), pocket="top_left")
    assert np.degrees(setup.cut_angle_rad) == pytest.approx(abs(angle_deg), abs=1e-9)
    assert setup.travel_m == pytest.approx(0.7, rel=1e-12)
    # White going right of the pot line cuts the ball to its left.
    assert setup.cut_side == (1 if angle_deg > 0 else -1)


def test_a_set_up_that_makes_sense_passes_and_can_be_a_key():
    setup = position(landing_area_m=[list(corner) for corner in AREA], white_m=[1.2, 2.3])
    setup.check()
    assert {setup: 1}[position()] == 1


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"pocket": "top"}, r"no pocket 'top'.*bottom_left"),
        ({"white_m": (0.92, 2.93)}, r"white and object ball are 36\.1 mm apart.*52\.5 mm"),
        ({"white_m": (1.9, 2.3)}, r"x of the white is 1\.9 m; allowed is 0\.02625 to 1\.75175 m"),
        (
            {"object_ball_m": (0.9, 3.56)},
            r"y of the object ball is 3\.56 m; .*0\.02625 to 3\.54275",
        ),
        ({"white_m": (float("nan"), 1.0)}, r"x of the white is nan m; allowed"),
        (
            {"white_m": (0.3, 3.5)},
            r"Cut angle into pocket top_left is 1\d\d\.\d+ degrees; .*0 to 90",
        ),
        ({"next_ball_m": (0.9, 2.88)}, r"object ball and next ball are 20\.0 mm apart"),
        ({"landing_area_m": AREA[:2]}, r"has 2 corners; at least 3"),
        ({"landing_area_m": (*AREA, (1.0, 4.0))}, r"y of corner 5 .* is 4 m; .*0 to 3\.569 m"),
        ({"obstacles_m": ((1.05, 2.62),)}, r"obstacle 1 lies \d+\.\d mm from the way of the white"),
        ({"obstacles_m": ((0.5, 3.18),)}, r"obstacle 1 lies \d.* way of the object ball.*52\.5 mm"),
        ({"next_ball_m": (1.05, 2.62)}, r"next ball lies .* way of the white"),
    ],
)
def test_set_up_without_sense_is_refused_with_value_and_range(changes, words):
    with pytest.raises(TableError, match=words):
        position(**changes).check()


def test_ball_that_would_have_to_turn_into_a_middle_pocket_is_refused():
    # From the cushion's own line the opening of a middle pocket cannot be seen.
    setup = position(object_ball_m=(0.05, 0.8), white_m=(0.3, 0.3), pocket="middle_left")
    with pytest.raises(
        TableError, match=r"cannot pass the jaws of pocket middle_left.*0\.050, 0\.8"
    ):
        setup.check()


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("length_m", 12.0, r"Table length is 12 m; allowed is 1 to 4\.5 m"),
        ("width_m", -1.0, r"Table width is -1 m; allowed is 0\.5 to 2\.5 m"),
        ("baulk_line_m", 3.0, r"Baulk line is 3 m; allowed is 0 to 1\.7845 m"),
        ("d_radius_m", 1.0, r"Radius of the D is 1 m; allowed is 0 to 0\.889 m"),
        ("black_from_top_m", 2.0, r"Black spot is 2 m; allowed is 0 to 1\.7845 m"),
        ("corner_opening_m", 0.05, r"Corner opening is 0\.05 m; allowed is 0\.06 to 0\.2 m"),
        ("middle_opening_m", 0.3, r"Middle opening is 0\.3 m; allowed is 0\.06 to 0\.2 m"),
    ],
)
def test_impossible_table_is_refused_with_value_and_range(field, value, words):
    with pytest.raises(TableError, match=words):
        TableSize(**{field: value})


def test_every_fault_is_told_at_once_the_graver_sort_first():
    crowded = position(obstacles_m=(position().white_m, position().object_ball_m))
    told = [str(fault) for fault in crowded.faults()]
    assert len(told) == 2
    assert all("are 0.0 mm apart" in words for words in told)
    off = position(obstacles_m=crowded.obstacles_m, white_m=(-0.1, 0.5))
    assert [str(fault)[:20] for fault in off.faults()] == ["x of the white is -0"]


def test_missing_area_is_a_fault_of_the_area_alone():
    bare = position(landing_area_m=())
    assert bare.faults() == ()
    (fault,) = bare.area_faults()
    assert "has 0 corners; at least 3" in str(fault)
