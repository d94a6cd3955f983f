"""Landing areas from the next pot, against a direct count of angles and distances."""

import numpy as np
import pytest

from cue_table.area import contains
from cue_table.ball import BALL_RADIUS_M
from cue_table.errors import TableError
from cue_table.landing import area_m2, pot_area_m, with_pot_area
from cue_table.setup import FULL_SIZE, SetUp
from cue_table.sizes import TABLE_SIZES, table_in_proportion

BLUE = FULL_SIZE.spots_m["blue"]
AREA = ((0.1, 0.1), (0.2, 0.1), (0.2, 0.2))


@pytest.mark.parametrize("pocket", ["middle_left", "top_right"])
def test_area_holds_just_the_marks_with_a_straight_enough_pot(pocket):
    limit = np.radians(35.0)
    area = pot_area_m(
        BLUE, pocket, FULL_SIZE, greatest_cut_rad=limit, nearest_m=0.2, furthest_m=1.1
    )
    marks = np.random.default_rng(8).uniform(BALL_RADIUS_M, [1.75, 3.54], (800, 2))
    inside = contains(area, marks)
    for mark, found in zip(marks, inside, strict=True):
        shot = SetUp("", FULL_SIZE, tuple(mark), BLUE, pocket)
        good = shot.cut_angle_rad <= limit and 0.2 <= shot.travel_m <= 1.1
        # The arcs are drawn with straight sides, less than 2 mm inside the true ones.
        is_on_the_edge = min(abs(shot.travel_m - r) for r in (0.2, 1.1)) < 2e-3
        assert found == good or is_on_the_edge
    assert 20 < np.count_nonzero(inside) < 400


def test_area_is_cut_to_where_the_white_can_lie():
    area = np.array(pot_area_m((0.889, 3.245), "top_left", FULL_SIZE, furthest_m=2.0))
    assert np.all(area[:, 0] <= FULL_SIZE.width_m - BALL_RADIUS_M + 1e-12)
    # Uncut it would reach the right cushion.
    assert np.isclose(area[:, 0].max(), FULL_SIZE.width_m - BALL_RADIUS_M)


def test_whole_sector_has_the_area_of_a_ring_sector():
    area = pot_area_m(BLUE, "middle_left", FULL_SIZE, nearest_m=0.1, furthest_m=0.6)
    exact = np.radians(30.0) * (0.6**2 - 0.1**2)
    assert area_m2(area) == pytest.approx(exact, rel=2e-3)


def test_set_up_takes_the_pocket_with_most_room():
    setup = SetUp("", FULL_SIZE, (0.5, 0.5), (0.9, 1.0), "top_right", BLUE, AREA)
    best = with_pot_area(setup)
    one = with_pot_area(setup, "bottom_left")
    assert area_m2(best.landing_area_m) >= area_m2(one.landing_area_m) > 0.0
    assert best.white_m == setup.white_m


def test_area_without_a_next_ball_or_without_room_is_refused():
    setup = SetUp("bare", FULL_SIZE, (0.5, 0.5), (0.9, 1.0), "top_right", None, AREA)
    with pytest.raises(TableError, match="'bare' has no next ball"):
        with_pot_area(setup)
    with pytest.raises(TableError, match=r"angle is 95 degrees; allowed is 0\.1 to 89 degrees"):
        pot_area_m(BLUE, "top_left", FULL_SIZE, greatest_cut_rad=np.radians(95))
    with pytest.raises(TableError, match=r"Greatest distance .* is 0\.1 m; allowed is 0\.51 to"):
        pot_area_m(BLUE, "top_left", FULL_SIZE, nearest_m=0.5, furthest_m=0.1)
    with pytest.raises(TableError, match=r"at \(0\.030, 0\.500\) m cannot pass.*middle_left"):
        pot_area_m((0.03, 0.5), "middle_left", FULL_SIZE)
    with pytest.raises(TableError, match=r"From no place.*within 30 degrees.*3\.00 to 4\.00 m"):
        pot_area_m((0.05, 3.4), "bottom_left", FULL_SIZE, nearest_m=3.0, furthest_m=4.0)


def test_smaller_tables_keep_the_proportions_of_the_full_one():
    assert TABLE_SIZES["12 ft"] == FULL_SIZE
    for size in TABLE_SIZES.values():
        assert size.baulk_line_m / size.length_m == pytest.approx(0.737 / 3.569)
        assert size.d_radius_m / size.width_m == pytest.approx(0.292 / 1.778)
    with pytest.raises(TableError, match=r"Table length is 9 m; allowed is 1 to 4\.5 m"):
        table_in_proportion(9.0, 1.0)
