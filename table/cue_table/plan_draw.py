"""The parts of a plan, each drawn onto a figure: table, area, fan, way, balls, marks."""

from collections.abc import Callable
from typing import Any, Literal

import numpy as np
import plotly.graph_objects as go

from cue_table.ball import BALL_RADIUS_M, FloatArray
from cue_table.fan import Fan
from cue_table.plan_ink import Ink, Marks, Window
from cue_table.runs import path_m
from cue_table.setup import POCKETS, Point, SetUp, TableSize
from cue_table.shot import WhiteRun

RAIL_M = 0.05
"""Width of the rail drawn around the playing area."""

MOST_PATHS = 120
"""Paths of a fan that are drawn; all of them would be one blot."""

MOST_STOPS = 2000
"""Stops of a fan that are drawn."""

BallName = Literal["white", "object", "next"]

Turn = Callable[[FloatArray], FloatArray]


def set_axes(figure: go.Figure, shown: Window, ink: Ink, turn: Turn) -> None:
    """Hide the axes and cut the picture to a window."""
    ends = turn(np.array([[shown.left_m, shown.bottom_m], [shown.right_m, shown.top_m]]))
    left, right = sorted(ends[:, 0])
    bottom, top = sorted(ends[:, 1])
    hidden: dict[str, Any] = {"visible": False, "fixedrange": True, "constrain": "domain"}
    figure.update_layout(
        xaxis={**hidden, "range": [left, right]},
        yaxis={**hidden, "range": [bottom, top], "scaleanchor": "x"},
        paper_bgcolor=ink.paper,
        plot_bgcolor=ink.paper,
        font={"color": ink.line},
        margin={"l": 0, "r": 0, "t": 0, "b": 0},
        legend={"orientation": "h", "y": 0.0, "yanchor": "top"},
    )


def upright(points: FloatArray) -> FloatArray:
    """Return points as they are."""
    return np.asarray(points, dtype=np.float64)


def turned(points: FloatArray) -> FloatArray:
    """Return points with baulk to the left: the table's y runs to the right, its x downwards."""
    at = np.asarray(points, dtype=np.float64)
    return np.stack([at[..., 1], -at[..., 0]], axis=-1)


def _circle(middle: Point | FloatArray, radius: float, turn: Turn, **style: Any) -> dict[str, Any]:
    """Return a circle as a shape."""
    x, y = turn(np.asarray(middle, dtype=np.float64))
    ends = {"x0": x - radius, "x1": x + radius, "y0": y - radius, "y1": y + radius}
    return {"type": "circle", **ends, **style}


def draw_table(figure: go.Figure, setup: SetUp, ink: Ink, turn: Turn) -> None:
    """Draw rail, cloth, pockets, baulk line, D and spots."""
    table = setup.table
    corners = np.array([[0.0, 0.0], [table.width_m, table.length_m]])
    for edge, colour in ((RAIL_M, ink.rail), (0.0, ink.cloth)):
        (x0, y0), (x1, y1) = turn(corners + np.array([[-edge], [edge]]))
        box = {"x0": x0, "x1": x1, "y0": y0, "y1": y1}
        figure.add_shape(type="rect", **box, fillcolor=colour, line={"width": 0}, layer="below")
    for points in _markings(table):
        draw_line(figure, turn(points), ink.marking, 2)
    for pocket in POCKETS:
        is_aim = pocket == setup.pocket
        figure.add_shape(
            _circle(
                table.pocket_m(pocket),
                0.5 * table.opening_m(pocket),
                turn,
                fillcolor=ink.line if is_aim else ink.quiet,
                line={"color": ink.line, "width": 3 if is_aim else 0},
                layer="below",
            )
        )
    spots = turn(np.array(list(table.spots_m.values())))
    figure.add_scatter(
        x=spots[:, 0],
        y=spots[:, 1],
        mode="markers",
        marker={"symbol": "cross-thin", "size": 8, "line": {"color": ink.quiet, "width": 1.5}},
        hoverinfo="skip",
        showlegend=False,
    )


def _markings(table: TableSize) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the baulk line, the D and the cushion faces as points."""
    width, length, line = table.width_m, table.length_m, table.baulk_line_m
    angle = np.linspace(np.pi, 2.0 * np.pi, 40)
    arc = table.d_radius_m * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    faces = [[0.0, 0.0], [width, 0.0], [width, length], [0.0, length], [0.0, 0.0]]
    return (
        np.array([[0.0, line], [width, line]]),
        np.asarray(np.array([0.5 * width, line]) + arc),
        np.array(faces),
    )


def draw_area(figure: go.Figure, area_m: tuple[Point, ...], ink: Ink, turn: Turn) -> None:
    """Draw the landing area."""
    corners = turn(np.array([*area_m, area_m[0]]))
    figure.add_scatter(
        x=corners[:, 0],
        y=corners[:, 1],
        mode="lines",
        fill="toself",
        fillcolor=ink.area_fill,
        line={"color": ink.area, "width": 2, "dash": "dot"},
        name="landing area",
        hoverinfo="skip",
    )


def draw_fan(figure: go.Figure, setup: SetUp, fan: Fan, ink: Ink, turn: Turn) -> None:
    """Draw some paths of a fan, and where its whites stopped."""
    paths = [path_m(setup, fan.runs, i) for i in range(min(len(fan.runs), MOST_PATHS))]
    gap = np.full((1, 2), np.nan)
    joined = turn(np.concatenate([np.concatenate([path, gap]) for path in paths]))
    figure.add_scatter(
        x=joined[:, 0],
        y=joined[:, 1],
        mode="lines",
        opacity=0.25,
        line={"color": ink.path, "width": 1},
        name="spread",
        hoverinfo="skip",
    )
    stops = turn(fan.runs.stop_m[:MOST_STOPS])
    lands = fan.lands[:MOST_STOPS]
    for which, symbol, name in (
        (lands, "circle", "lands"),
        (~lands, "circle-open", "lands elsewhere"),
    ):
        figure.add_scatter(
            x=stops[which, 0],
            y=stops[which, 1],
            mode="markers",
            opacity=0.5,
            marker={"symbol": symbol, "size": 4, "color": ink.path},
            name=name,
            hoverinfo="skip",
        )


def draw_run(figure: go.Figure, run: WhiteRun, ink: Ink, turn: Turn) -> None:
    """Draw one path, where it met cushions, and where the white stopped."""
    path = turn(run.points_m)
    figure.add_scatter(
        x=path[:, 0],
        y=path[:, 1],
        mode="lines",
        line={"color": ink.path, "width": 2.5},
        name="white",
        hoverinfo="skip",
    )
    if len(run.cushion_points_m):
        points = turn(run.cushion_points_m)
        figure.add_scatter(
            x=points[:, 0],
            y=points[:, 1],
            mode="markers",
            marker={"symbol": "diamond", "size": 8, "color": ink.path},
            name="cushion",
        )
    figure.add_shape(
        _circle(
            run.stop_m,
            BALL_RADIUS_M,
            turn,
            line={"color": ink.path, "width": 2, "dash": "dot"},
        )
    )


def draw_balls(figure: go.Figure, setup: SetUp, ink: Ink, turn: Turn) -> None:
    """Draw the balls to scale."""
    balls = [(setup.white_m, ink.white), (setup.object_ball_m, ink.ball)]
    if setup.next_ball_m is not None:
        balls.append((setup.next_ball_m, ink.next_ball))
    balls.extend((at, ink.obstacle) for at in setup.obstacles_m)
    for at, colour in balls:
        figure.add_shape(
            _circle(at, BALL_RADIUS_M, turn, fillcolor=colour, line={"color": ink.line, "width": 2})
        )


def draw_marks(figure: go.Figure, marks: Marks, setup: SetUp, ink: Ink, turn: Turn) -> None:
    """Draw points of one sort."""
    if not marks.points_m:
        return
    points = turn(np.array(marks.points_m, dtype=np.float64))
    is_thin = marks.symbol.endswith("-thin")
    outline = {"color": marks.colour, "width": 4} if is_thin else {"color": ink.cloth, "width": 1}
    look: dict[str, Any] = {"mode": "markers", "hoverinfo": "skip"}
    if marks.texts:
        look = {"mode": "markers", "text": marks.texts, "hovertemplate": "%{text}<extra></extra>"}
    if marks.is_named:
        middle = 0.5 * setup.table.width_m
        look |= {
            "mode": "markers+text",
            "text": [f"  {marks.name}  "] * len(points),
            "textposition": [
                "middle right" if x < middle else "middle left" for x, _ in marks.points_m
            ],
            "textfont": {"size": 14, "color": ink.line},
        }
    figure.add_scatter(
        x=points[:, 0].tolist(),
        y=points[:, 1].tolist(),
        name=marks.name,
        marker={
            "symbol": marks.symbol,
            "size": marks.size_px,
            "color": marks.colour,
            "line": outline,
        },
        **look,
    )


def draw_line(
    figure: go.Figure, points: FloatArray, colour: str, width_px: float, *, dash: str = "solid"
) -> None:
    """Draw a line that tells nothing by itself."""
    figure.add_scatter(
        x=points[:, 0],
        y=points[:, 1],
        mode="lines",
        line={"color": colour, "width": width_px, "dash": dash},
        hoverinfo="skip",
        showlegend=False,
    )
