"""A set-up while it is built: what the browser holds is the set-up, and the model judges it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cue_dashboard.drafts import (
    N_DOTS,
    USUAL_PACE_M_S,
    USUAL_TIP_M,
    AreaWish,
    draft_of,
    fresh_draft,
    is_draft,
    judged,
    moved_to,
    picture_of,
    setup_of,
)
from cue_table.landing import with_pot_area
from cue_table.setup import FULL_SIZE
from cue_table.shot import play
from cue_table.sizes import TABLE_SIZES

STROKE = {"tip_speed_m_s": USUAL_PACE_M_S, "below_centre_m": USUAL_TIP_M, "side_m": 0.0}


def test_a_set_up_becomes_a_draft_and_the_same_set_up_again(setup):
    crowded = replace(setup, obstacles_m=tuple((0.1 * k, 0.3) for k in range(1, 12)))
    draft = draft_of(crowded)
    assert is_draft(draft)
    again = setup_of(draft, FULL_SIZE, name=crowded.name, pocket=crowded.pocket)
    assert again == crowded


@pytest.mark.parametrize("size", TABLE_SIZES.values(), ids=TABLE_SIZES)
def test_a_fresh_draft_can_be_saved_as_it_is_on_every_size(size):
    fresh = setup_of(fresh_draft(size), size, name="fresh", pocket="top_right")
    fresh.check()
    found = judged(fresh, AreaWish(), **STROKE)
    assert found.faults == ()
    assert fresh.lands(found.run.stop_m)


def test_another_table_keeps_everything_in_proportion(setup):
    small = TABLE_SIZES["6 ft"]
    moved = setup_of(moved_to(draft_of(setup), small), small, name="", pocket=setup.pocket)
    share = np.array([small.width_m / FULL_SIZE.width_m, small.length_m / FULL_SIZE.length_m])
    assert moved.white_m == pytest.approx(np.array(setup.white_m) * share)
    assert moved.landing_area_m[2] == pytest.approx(np.array(setup.landing_area_m[2]) * share)
    assert moved.table == small


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text(max_size=5),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner),
        max_leaves=8,
    )
)
def test_nonsense_from_a_browser_is_no_draft(value):
    assert not is_draft(value)


@pytest.mark.parametrize("place", [[1.0], [1.0, float("nan")], ["1", "2"], None, [1.0, 2.0, 3.0]])
def test_a_draft_with_a_place_that_is_none_is_no_draft(setup, place):
    draft = draft_of(setup)
    draft["balls"]["white"] = place
    assert not is_draft(draft)


def test_the_run_shown_is_the_run_of_the_model(setup):
    found = judged(setup, AreaWish(), **STROKE)
    run = play(setup, USUAL_PACE_M_S, below_centre_m=USUAL_TIP_M)
    picture = picture_of(found)
    assert picture["path"] == pytest.approx(run.points_m, abs=6e-5)
    assert picture["stop"] == pytest.approx(run.stop_m, abs=6e-5)
    assert picture["pocket"] == "top_right"


def test_an_area_for_the_next_ball_is_the_one_of_the_table_model(setup):
    wish = AreaWish(is_derived=True, greatest_cut_deg=20.0, nearest_m=0.2, furthest_m=0.8)
    found = judged(setup, wish, **STROKE)
    expected = with_pot_area(
        setup, greatest_cut_rad=np.radians(20.0), nearest_m=0.2, furthest_m=0.8
    )
    assert found.setup.landing_area_m == expected.landing_area_m
    assert found.faults == ()


def test_an_area_for_a_next_ball_that_is_not_there_is_a_fault_but_the_run_is_shown(setup):
    found = judged(replace(setup, next_ball_m=None), AreaWish(is_derived=True), **STROKE)
    assert "has no next ball" in found.faults[0]
    assert found.run is not None
    assert "path" in picture_of(found)


def test_overlapping_balls_are_said_and_no_run_is_made_up(setup):
    found = judged(replace(setup, next_ball_m=setup.white_m), AreaWish(), **STROKE)
    assert "white and next ball are 0.0 mm apart" in found.faults[0]
    assert found.run is None
    assert "path" not in picture_of(found)


def test_a_white_with_no_line_to_the_pocket_is_said(setup):
    behind = replace(setup, white_m=(1.6, 3.3))
    assert "Cut angle into pocket top_right" in judged(behind, AreaWish(), **STROKE).faults[0]


def test_a_tip_off_the_ball_is_said_with_its_limit(setup):
    found = judged(setup, AreaWish(), tip_speed_m_s=2.0, below_centre_m=0.02, side_m=0.0)
    assert "is 20 mm; allowed is 0 to" in found.faults[0]


def test_the_spread_shown_lands_as_often_as_it_says():
    fresh = setup_of(fresh_draft(FULL_SIZE), FULL_SIZE, name="fresh", pocket="top_right")
    found = judged(fresh, AreaWish(), **STROKE)
    picture = picture_of(found)
    n_dots = len(picture["lands"]) + len(picture["strays"])
    assert n_dots == N_DOTS
    assert all(found.setup.lands(np.array(picture["lands"])))
    # Dots and strokes differ in number: three standard deviations of a share of 120.
    share = len(picture["lands"]) / n_dots
    assert share == pytest.approx(found.spread.chance_landing, abs=0.14)
