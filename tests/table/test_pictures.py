"""Pictures hold the numbers they are drawn from, and change nothing."""

from typing import Any

import numpy as np
import pytest

from cue_table.ball import BALL_RADIUS_M
from cue_table.choose import chance_map
from cue_table.fan import Intent, fan
from cue_table.pictures import MOST_PATHS, map_figure, plan_figure
from cue_table.setup import FULL_SIZE, POCKETS, SetUp
from cue_table.shot import play

NEXT = (0.889, 1.7845)
SETUP = SetUp(
    name="into the open",
    table=FULL_SIZE,
    white_m=(1.30, 2.35),
    object_ball_m=(1.30, 2.95),
    pocket="top_right",
    next_ball_m=NEXT,
    landing_area_m=((0.4, 2.4), (1.2, 2.4), (1.2, 3.2), (0.4, 3.2)),
)
RUN = play(SETUP, 2.4, below_centre_m=0.0065)


def trace(figure: Any, name: str) -> Any:
    """Return the only trace of a name."""
    (found,) = [each for each in figure.data if each.name == name]
    return found


def circles(figure: Any) -> list[tuple[float, float, float]]:
    """Return middle and radius of every circle."""
    return [
        ((s.x0 + s.x1) / 2, (s.y0 + s.y1) / 2, (s.x1 - s.x0) / 2)
        for s in figure.layout.shapes
        if s.type == "circle"
    ]


def test_plan_shows_the_path_the_cushions_and_the_balls_to_scale():
    figure: Any = plan_figure(SETUP, run=RUN)
    white = trace(figure, "white")
    assert np.column_stack([white.x, white.y]) == pytest.approx(RUN.points_m)
    cushions = trace(figure, "cushion")
    assert np.column_stack([cushions.x, cushions.y]) == pytest.approx(RUN.cushion_points_m)
    drawn = circles(figure)
    for at in (SETUP.white_m, SETUP.object_ball_m, NEXT, RUN.stop_m):
        assert any(circle == pytest.approx((*at, BALL_RADIUS_M)) for circle in drawn)
    assert figure.layout.yaxis.scaleanchor == "x"


def test_plan_lying_on_its_side_turns_every_point():
    white = trace(plan_figure(SETUP, run=RUN, is_lengthwise=True), "white")
    assert np.array(white.x) == pytest.approx(RUN.points_m[:, 1])
    assert np.array(white.y) == pytest.approx(-RUN.points_m[:, 0])


def test_fan_shows_landing_stops_filled_and_the_others_open():
    strokes = fan(SETUP, Intent(2.4, 0.0065), n_strokes=300)
    figure: Any = plan_figure(SETUP, fan=strokes)
    inside, outside = trace(figure, "lands"), trace(figure, "lands elsewhere")
    assert len(inside.x) == np.count_nonzero(strokes.lands) > 0
    assert len(inside.x) + len(outside.x) == 300
    assert inside.marker.symbol != outside.marker.symbol
    assert np.count_nonzero(np.isnan(trace(figure, "spread").x)) == MOST_PATHS


def test_map_shows_chances_best_stroke_and_what_forgives():
    chances = chance_map(SETUP, tip_speed_m_s=(1.5, 3.0), n_heights=9, n_paces=9)
    figure: Any = map_figure(chances)
    assert np.array(figure.data[0].z) == pytest.approx(chances.chance)
    assert np.array(figure.data[0].y) == pytest.approx(-1e3 * chances.below_centre_m)
    assert trace(figure, "best stroke").x[0] == chances.best.tip_speed_m_s
    assert np.array(trace(figure, "forgiving").z).sum() == chances.is_forgiving.sum()


def test_same_results_give_the_same_picture():
    assert plan_figure(SETUP, run=RUN).to_json() == plan_figure(SETUP, run=RUN).to_json()


def test_bare_set_up_is_drawn_without_area_or_path():
    bare = SetUp("bare", FULL_SIZE, (0.5, 0.5), (0.9, 1.0), "top_right")
    figure: Any = plan_figure(bare)
    names = {each.name for each in figure.data}
    assert "landing area" not in names
    assert "white" not in names


@pytest.mark.parametrize("pocket", POCKETS)
@pytest.mark.parametrize("white_m", [(0.889, 0.9), (0.4, 1.2), (1.3, 1.3)])
def test_a_ball_s_name_stands_where_no_way_runs(pocket, white_m):
    ball = np.array([0.889, 1.7845])
    setup = SetUp("names", FULL_SIZE, white_m, tuple(ball), pocket)
    (name,) = plan_figure(setup, names={"object": "object ball"}).layout.annotations
    # its box in pixels of a picture 400 wide, letters 7 x 13, y up; ball at the origin
    middle = np.array(
        [{"left": 38, "right": -38}.get(name.xanchor, 0) + (name.xshift or 0), name.yshift or 0]
    )
    half = np.array([38.0, 7.0])
    for end in (FULL_SIZE.pocket_m(pocket), white_m):
        way = np.outer(np.linspace(0, 1, 400), (np.asarray(end) - ball) * 400 / 1.778)
        assert not np.any(np.all(np.abs(way - middle) < half, axis=1))


@pytest.mark.parametrize("width_px", [200, 350])
@pytest.mark.parametrize("ball", [(1.25, 2.7), (0.6, 2.66), (0.889, 2.5), (0.889, 2.85)])
def test_a_ball_s_name_covers_no_spot(ball, width_px):
    setup = SetUp("spots", FULL_SIZE, (0.7, 2.1), ball, "top_right")
    (name,) = plan_figure(setup, names={"object": "object ball"}).layout.annotations
    side = {"left": 38, "right": -38}.get(name.xanchor, 0)
    middle = np.array([side + (name.xshift or 0), name.yshift or 0])
    spots = np.subtract(list(FULL_SIZE.spots_m.values()), ball) * width_px / 1.778
    assert not np.any(np.all(np.abs(spots - middle) < (38.0, 7.0), axis=1))
