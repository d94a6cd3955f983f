"""Pictures of shots: the table in plan, the white's path, a player's fan, the map of chances.

Pure functions from results to Plotly figures, in metres of the table frame. Every mark has a shape
or a dash of its own, so that no colour is needed to read them; colours are the caller's to choose.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go

from cue_table.ball import BALL_RADIUS_M, FloatArray
from cue_table.choose import ChanceMap
from cue_table.fan import Fan
from cue_table.runs import path_m
from cue_table.setup import POCKETS, Point, SetUp, TableSize
from cue_table.shot import WhiteRun

RAIL_M = 0.05
"""Width of the rail drawn around the playing area."""

MOST_PATHS = 120
"""Paths of a fan that are drawn; all of them would be one blot."""

MOST_STOPS = 2000
"""Stops of a fan that are drawn."""

PACE_TICKS_M_S = (0.3, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0)
"""Labels of the axis of pace, which is logarithmic."""


@dataclass(frozen=True)
class Ink:
    """Colours of a picture.

    Parameters
    ----------
    paper, line, quiet, white, ball, next_ball, area, path : str
        Background; cushions and text; markings; the white; object ball; next ball; landing area;
        path and fan.
    scale : str
        Plotly colour scale of the map; even in lightness, so that it reads without colours.
    """

    paper: str = "#ffffff"
    line: str = "#1b2a33"
    quiet: str = "#8a98a3"
    white: str = "#ffffff"
    ball: str = "#1b2a33"
    next_ball: str = "#8a98a3"
    area: str = "#5c6f7c"
    path: str = "#1b2a33"
    scale: str = "Cividis"


DAYLIGHT = Ink()
"""Dark ink on white."""


def plan_figure(
    setup: SetUp,
    *,
    run: WhiteRun | None = None,
    fan: Fan | None = None,
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
    ink : Ink
        Colours.
    is_lengthwise : bool
        Whether the table lies on its side, baulk to the left, as fits a wide screen.

    Returns
    -------
    plotly.graph_objects.Figure
        Axes in metres, equal scales.
    """
    turn = _turned if is_lengthwise else _upright
    figure = go.Figure()
    _draw_table(figure, setup.table, ink, turn)
    if setup.landing_area_m:
        _draw_area(figure, setup.landing_area_m, ink, turn)
    if fan is not None:
        _draw_fan(figure, setup, fan, ink, turn)
    if run is not None:
        _draw_run(figure, run, ink, turn)
    _draw_balls(figure, setup, ink, turn)
    low = np.array([-RAIL_M, -RAIL_M])
    high = np.array([setup.table.width_m, setup.table.length_m]) + RAIL_M
    corners = turn(np.stack([low, high]))
    left, right = sorted(corners[:, 0])
    bottom, top = sorted(corners[:, 1])
    hidden: dict[str, Any] = {"visible": False, "fixedrange": True}
    figure.update_layout(
        xaxis={**hidden, "range": [left, right]},
        yaxis={**hidden, "range": [bottom, top], "scaleanchor": "x"},
        paper_bgcolor=ink.paper,
        plot_bgcolor=ink.paper,
        font={"color": ink.line},
        margin={"l": 8, "r": 8, "t": 8, "b": 8},
        legend={"orientation": "h", "y": 0.0, "yanchor": "top"},
    )
    return figure


def map_figure(chances: ChanceMap, *, ink: Ink = DAYLIGHT) -> go.Figure:
    """Return the chance of the right result over tip height and pace.

    Parameters
    ----------
    chances : ChanceMap
        The map.
    ink : Ink
        Colours.

    Returns
    -------
    plotly.graph_objects.Figure
        Pace in m/s across, height of the cue's axis in mm up (below the centre negative), the
        forgiving region outlined, the best stroke marked.
    """
    height_mm = -1e3 * chances.below_centre_m
    best = chances.best
    shared = {"x": chances.tip_speed_m_s, "y": height_mm}
    figure = go.Figure(
        [
            go.Heatmap(
                **shared,
                z=chances.chance,
                colorscale=ink.scale,
                zmin=0.0,
                zmax=1.0,
                colorbar={"title": "chance", "tickformat": ".0%"},
                hovertemplate="%{x:.2f} m/s, %{y:.1f} mm: %{z:.0%}<extra></extra>",
            ),
            go.Contour(
                **shared,
                z=chances.is_forgiving.astype(np.float64),
                contours={"start": 0.5, "end": 0.5, "size": 1.0, "coloring": "none"},
                line={"color": ink.paper, "width": 2},
                showscale=False,
                name="forgiving",
                hoverinfo="skip",
            ),
            go.Scatter(
                x=[best.tip_speed_m_s],
                y=[-1e3 * best.below_centre_m],
                mode="markers",
                marker={
                    "symbol": "cross-thin",
                    "size": 14,
                    "line": {"width": 3, "color": ink.paper},
                },
                name="best stroke",
                hovertemplate="best: %{x:.2f} m/s, %{y:.1f} mm<extra></extra>",
            ),
        ]
    )
    figure.update_layout(
        xaxis={"title": "tip speed (m/s)", "type": "log", "tickvals": list(PACE_TICKS_M_S)},
        yaxis={"title": "tip height (mm above centre)"},
        paper_bgcolor=ink.paper,
        plot_bgcolor=ink.paper,
        font={"color": ink.line},
        showlegend=False,
    )
    return figure


def _upright(points: FloatArray) -> FloatArray:
    """Return points as they are."""
    return np.asarray(points, dtype=np.float64)


def _turned(points: FloatArray) -> FloatArray:
    """Return points with baulk to the left: the table's y runs to the right, its x downwards."""
    at = np.asarray(points, dtype=np.float64)
    return np.stack([at[..., 1], -at[..., 0]], axis=-1)


def _circle(middle: Point | FloatArray, radius: float, turn: Any, **style: Any) -> dict[str, Any]:
    """Return a circle as a shape."""
    x, y = turn(np.asarray(middle, dtype=np.float64))
    return {
        "type": "circle",
        "x0": x - radius,
        "x1": x + radius,
        "y0": y - radius,
        "y1": y + radius,
        **style,
    }


def _draw_table(figure: go.Figure, table: TableSize, ink: Ink, turn: Any) -> None:
    """Draw cushions, pockets, baulk line, D and spots."""
    width, length, line = table.width_m, table.length_m, table.baulk_line_m
    faces = np.array([[0, 0], [width, 0], [width, length], [0, length], [0, 0]], dtype=np.float64)
    angle = np.linspace(np.pi, 2.0 * np.pi, 40)
    d_shape = np.array([0.5 * width, line]) + table.d_radius_m * np.stack(
        [np.cos(angle), np.sin(angle)], axis=-1
    )
    baulk = np.array([[0.0, line], [width, line]])
    for points, colour, thickness in (
        (baulk, ink.quiet, 1),
        (d_shape, ink.quiet, 1),
        (faces, ink.line, 4),
    ):
        _line(figure, turn(points), colour, thickness)
    for pocket in POCKETS:
        figure.add_shape(
            _circle(
                table.pocket_m(pocket),
                0.5 * table.opening_m(pocket),
                turn,
                fillcolor=ink.line,
                line={"width": 0},
                layer="below",
            )
        )
    spots = turn(np.array(list(table.spots_m.values())))
    figure.add_scatter(
        x=spots[:, 0],
        y=spots[:, 1],
        mode="markers",
        marker={"symbol": "x-thin", "size": 5, "line": {"color": ink.quiet, "width": 1}},
        hoverinfo="skip",
        showlegend=False,
    )


def _draw_area(figure: go.Figure, area_m: tuple[Point, ...], ink: Ink, turn: Any) -> None:
    """Draw the landing area, hatched."""
    corners = turn(np.array([*area_m, area_m[0]]))
    figure.add_scatter(
        x=corners[:, 0],
        y=corners[:, 1],
        mode="lines",
        fill="toself",
        fillpattern={"shape": "/", "size": 8, "fgcolor": ink.area, "fillmode": "overlay"},
        fillcolor="rgba(0,0,0,0)",
        line={"color": ink.area, "width": 1, "dash": "dot"},
        name="landing area",
        hoverinfo="skip",
    )


def _draw_fan(figure: go.Figure, setup: SetUp, fan: Fan, ink: Ink, turn: Any) -> None:
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


def _draw_run(figure: go.Figure, run: WhiteRun, ink: Ink, turn: Any) -> None:
    """Draw one path, where it met cushions, and where the white stopped."""
    path = turn(run.points_m)
    figure.add_scatter(
        x=path[:, 0],
        y=path[:, 1],
        mode="lines",
        line={"color": ink.path, "width": 2},
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
            fillcolor=ink.white,
            line={"color": ink.path, "width": 2, "dash": "dot"},
        )
    )


def _draw_balls(figure: go.Figure, setup: SetUp, ink: Ink, turn: Any) -> None:
    """Draw the balls to scale."""
    balls = [(setup.white_m, ink.white), (setup.object_ball_m, ink.ball)]
    if setup.next_ball_m is not None:
        balls.append((setup.next_ball_m, ink.next_ball))
    balls.extend((at, ink.quiet) for at in setup.obstacles_m)
    for at, colour in balls:
        figure.add_shape(
            _circle(at, BALL_RADIUS_M, turn, fillcolor=colour, line={"color": ink.line, "width": 1})
        )


def _line(figure: go.Figure, points: FloatArray, colour: str, thickness: int) -> None:
    """Draw a line that tells nothing."""
    figure.add_scatter(
        x=points[:, 0],
        y=points[:, 1],
        mode="lines",
        line={"color": colour, "width": thickness},
        hoverinfo="skip",
        showlegend=False,
    )
