"""The plan of the table: to scale, whole set-up in sight, taps land where balls can lie."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cue_dashboard.figures.plan import (
    BALL_RADIUS_M,
    Stop,
    on_cushion,
    on_table,
    plan_figure,
    whole_table,
    window,
)
from cue_dashboard.theme import GRADE_SYMBOL, LIGHT
from cue_practice.grades import Grade
from cue_table.setup import FULL_SIZE, SetUp
from cue_table.shot import play

SETUP = SetUp(
    name="Window side",
    table=FULL_SIZE,
    white_m=(0.7, 2.1),
    object_ball_m=(1.25, 2.7),
    pocket="top_right",
    landing_area_m=((0.9, 1.9), (1.6, 1.9), (1.6, 2.4), (0.9, 2.4)),
)
ANYWHERE = st.tuples(st.floats(-1, 3), st.floats(-1, 5))


@given(ANYWHERE)
def test_a_tap_for_the_stop_lands_where_the_whole_ball_fits(point):
    x, y = on_table(SETUP, point)
    assert BALL_RADIUS_M <= x <= FULL_SIZE.width_m - BALL_RADIUS_M
    assert BALL_RADIUS_M <= y <= FULL_SIZE.length_m - BALL_RADIUS_M


@given(ANYWHERE)
def test_a_tap_for_the_cushion_lands_with_the_ball_touching_one(point):
    x, y = on_cushion(SETUP, point)
    gaps = (x, FULL_SIZE.width_m - x, y, FULL_SIZE.length_m - y)
    assert min(gaps) == pytest.approx(BALL_RADIUS_M)


@pytest.mark.parametrize(
    ("tap", "cushion"),
    [
        ((0.1, 1.8), (BALL_RADIUS_M, 1.8)),
        ((1.75, 2.0), (FULL_SIZE.width_m - BALL_RADIUS_M, 2.0)),
        ((0.9, 3.5), (0.9, FULL_SIZE.length_m - BALL_RADIUS_M)),
        ((0.9, 0.05), (0.9, BALL_RADIUS_M)),
    ],
    ids=["left", "right", "top", "bottom"],
)
def test_the_nearest_cushion_is_meant(tap, cushion):
    assert on_cushion(SETUP, tap) == pytest.approx(cushion)


def test_the_plan_is_to_scale_and_takes_taps_anywhere():
    layout = plan_figure(SETUP, LIGHT).layout
    assert layout.yaxis.scaleanchor == "x"
    assert layout.clickanywhere


def test_the_window_holds_balls_pocket_landing_area_path_and_stops():
    run = play(SETUP, 2.2, below_centre_m=0.0095)
    low_stop = Stop(1, (0.9, 1.0), Grade.TOO_MUCH)
    shown = window(SETUP, run, [low_stop])
    ys = [2.1, 2.7, FULL_SIZE.length_m, 1.9, 1.0, *run.points_m[:, 1]]
    assert shown.bottom_m < min(ys)
    assert shown.top_m > max(ys)
    assert (shown.left_m, shown.right_m) == (
        whole_table(SETUP).left_m,
        whole_table(SETUP).right_m,
    )


def test_stops_carry_the_mark_and_colour_of_their_result():
    stops = [Stop(k, (0.9, 1.0 + k / 10), grade) for k, grade in enumerate([None, *Grade])]
    figure = plan_figure(SETUP, LIGHT, stops=stops)
    symbols = [trace.marker.symbol for trace in figure.data if trace.hovertemplate]
    assert {GRADE_SYMBOL[grade] for grade in Grade} <= set(symbols)


def test_the_path_drawn_is_the_path_of_the_model():
    run = play(SETUP, 2.2, below_centre_m=0.0095)
    figure = plan_figure(SETUP, LIGHT, run=run)
    paths = [trace for trace in figure.data if trace.mode == "lines"]
    assert any(list(path.y) == run.points_m[:, 1].tolist() for path in paths)


def test_tapped_points_are_marked_by_name():
    figure = plan_figure(SETUP, LIGHT, cushion_point_m=(1.75, 2.2), stop_point_m=(1.0, 2.0))
    assert [trace.text[0].strip() for trace in figure.data[-2:]] == ["cushion", "stopped"]


def test_a_set_up_without_a_next_ball_can_be_drawn():
    assert plan_figure(replace(SETUP, next_ball_m=None), LIGHT).data
