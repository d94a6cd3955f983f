"""The table in plan: balls, the white's way, a player's fan, where shots stopped.

The one drawing of the table: a pure function from results to a Plotly figure, in metres of the
table frame, the baulk end at the bottom or, lying on its side, to the left. Every mark has a shape
or a dash of its own, so that no colour is needed to read it; colours and words are the caller's.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import plotly.graph_objects as go

from cue_table.fan import Fan
from cue_table.plan_draw import (
    MOST_PATHS,
    RAIL_M,
    BallName,
    draw_area,
    draw_balls,
    draw_fan,
    draw_line,
    draw_marks,
    draw_run,
    draw_table,
    set_axes,
    turned,
    upright,
)
from cue_table.plan_ink import DAYLIGHT, Ink, Marks, Window
from cue_table.plan_names import write_names
from cue_table.setup import Point, SetUp
from cue_table.shot import WhiteRun

__all__ = [
    "DAYLIGHT",
    "MOST_PATHS",
    "Ink",
    "Marks",
    "Window",
    "plan_figure",
    "whole_table",
    "window",
]

EDGE_M = 2.0 * RAIL_M
"""How far the picture reaches beyond the cushion faces."""

MARGIN_M = 0.30
"""Cloth shown beyond the outermost thing that matters, when the plan is cut to a set-up."""


def whole_table(setup: SetUp) -> Window:
    """Return a window that shows all of the table."""
    return Window(-EDGE_M, setup.table.width_m + EDGE_M, -EDGE_M, setup.table.length_m + EDGE_M)


def window(setup: SetUp, run: WhiteRun | None = None, stops_m: Sequence[Point] = ()) -> Window:
    """Return a window about all that matters in a set-up, from one side cushion to the other.

    Parameters
    ----------
    setup : SetUp
        Balls, pocket and landing area.
    run : WhiteRun or None
        Its whole path is kept in sight.
    stops_m : sequence of points
        So are these.
    """
    points = [setup.white_m, setup.object_ball_m, *setup.landing_area_m, *setup.others_m, *stops_m]
    points.append(setup.table.pocket_m(setup.pocket))
    points += [(float(x), float(y)) for x, y in run.points_m] if run is not None else []
    y = np.array(points)[:, 1]
    edge = whole_table(setup)
    return Window(
        edge.left_m,
        edge.right_m,
        max(edge.bottom_m, float(y.min()) - MARGIN_M),
        min(edge.top_m, float(y.max()) + MARGIN_M),
    )


def plan_figure(
    setup: SetUp,
    *,
    run: WhiteRun | None = None,
    fan: Fan | None = None,
    marks: Sequence[Marks] = (),
    names: Mapping[BallName, str] | None = None,
    shown: Window | None = None,
    ink: Ink = DAYLIGHT,
    is_lengthwise: bool = False,
) -> go.Figure:
    """Return the table in plan, with what a shot does on it.

    Parameters
    ----------
    setup : SetUp
        Table, balls and landing area.
    run : WhiteRun or None
        Draws its path, its cushions and its stop.
    fan : Fan or None
        Draws some of its paths faintly and its stops, those in the area filled.
    marks : sequence of Marks
        Drawn last, in their order.
    names : mapping from str to str or None
        Written beside the white, the object ball and the next ball.
    shown : Window or None
        Part of the table to show; all of it if not given.
    ink : Ink
        Colours.
    is_lengthwise : bool
        Whether the table lies on its side, baulk to the left, as fits a wide screen.

    Returns
    -------
    plotly.graph_objects.Figure
        Axes in metres, equal scales.
    """
    turn = turned if is_lengthwise else upright
    figure = go.Figure()
    draw_table(figure, setup, ink, turn)
    if setup.landing_area_m:
        draw_area(figure, setup.landing_area_m, ink, turn)
    pot = np.array([setup.object_ball_m, setup.table.pocket_m(setup.pocket)])
    draw_line(figure, turn(pot), ink.quiet, 2, dash="dot")
    if fan is not None:
        draw_fan(figure, setup, fan, ink, turn)
    if run is not None:
        draw_run(figure, run, ink, turn)
    draw_balls(figure, setup, ink, turn)
    write_names(figure, setup, names or {}, ink, turn)
    for each in marks:
        draw_marks(figure, each, setup, ink, turn)
    set_axes(figure, shown or whole_table(setup), ink, turn)
    return figure
