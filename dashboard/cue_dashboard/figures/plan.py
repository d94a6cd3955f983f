"""The table seen from above: set-up, the white's way, where shots ended, and where to tap.

Drawn like a plan on paper, ink on chalk. Frame: x from the left cushion, y from the bottom (baulk)
cushion, metres; the bottom cushion is at the bottom of the picture.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import plotly.graph_objects as go

from cue_dashboard import words
from cue_dashboard.theme import GRADE_SYMBOL, Palette, bare_figure, faded
from cue_practice.grades import Grade
from cue_practice.views import Point

if TYPE_CHECKING:
    from cue_table.setup import SetUp
    from cue_table.shot import WhiteRun

BALL_RADIUS_M = 0.02625
WHITE = "#ffffff"
CUSHION_M = 0.05
"""Width of the frame drawn round the cloth."""
POCKET_M = 0.05
MARGIN_M = 0.30
"""Cloth shown beyond the outermost thing that matters, when the plan is cut to a set-up."""


@dataclass(frozen=True)
class Stop:
    """Where a shot ended.

    Parameters
    ----------
    shot_id : int
        Number in the log.
    point_m : tuple of two floats
        Where the white stopped.
    grade : Grade or None
        What the shot did.
    text : str
        Shown when it is pointed at.
    """

    shot_id: int
    point_m: Point
    grade: Grade | None
    text: str = ""


@dataclass(frozen=True)
class Window:
    """Part of the table that is shown, metres."""

    left_m: float
    right_m: float
    bottom_m: float
    top_m: float

    @property
    def aspect(self) -> float:
        """Return its width over its height."""
        return (self.right_m - self.left_m) / (self.top_m - self.bottom_m)


def plan_figure(
    setup: "SetUp",
    palette: Palette,
    *,
    run: "WhiteRun | None" = None,
    stops: Sequence[Stop] = (),
    cushion_point_m: Point | None = None,
    stop_point_m: Point | None = None,
    shown: "Window | None" = None,
) -> go.Figure:
    """Return the plan of a set-up.

    Parameters
    ----------
    setup : SetUp
        Balls, pocket and landing area.
    palette : Palette
        Colours of the scheme.
    run : WhiteRun, optional
        The white's way to draw.
    stops : sequence of Stop
        Recorded stopping points, in the colour and mark of their result.
    cushion_point_m, stop_point_m : tuple of two floats, optional
        Points being tapped.
    shown : Window, optional
        Part of the table to show; all of it if not given.
    """
    figure = bare_figure(palette)
    _draw_table(figure, setup, palette)
    _draw_landing_area(figure, setup, palette)
    _draw_pot(figure, setup, palette)
    if run is not None:
        _draw_run(figure, run, palette)
    _draw_balls(figure, setup, palette)
    for grade in (None, *Grade):
        _draw_stops(figure, [stop for stop in stops if stop.grade is grade], grade, palette)
    middle_m = setup.table.width_m / 2
    for point, name, symbol in (
        (cushion_point_m, words.PLAN_CUSHION, "x-thin"),
        (stop_point_m, words.PLAN_STOP, "cross-thin"),
    ):
        if point is not None:
            _draw_tapped(figure, point, name, symbol, palette, is_left=point[0] < middle_m)
    shown = shown or whole_table(setup)
    figure.update_xaxes(visible=False, range=[shown.left_m, shown.right_m], constrain="domain")
    figure.update_yaxes(
        visible=False,
        range=[shown.bottom_m, shown.top_m],
        scaleanchor="x",
        constrain="domain",
    )
    figure.update_layout(margin={"l": 0, "r": 0, "t": 0, "b": 0}, clickanywhere=True)
    return figure


def whole_table(setup: "SetUp") -> Window:
    """Return a window that shows all of the table."""
    table, edge_m = setup.table, 2 * CUSHION_M
    return Window(-edge_m, table.width_m + edge_m, -edge_m, table.length_m + edge_m)


def window(setup: "SetUp", run: "WhiteRun | None" = None, stops: Sequence[Stop] = ()) -> Window:
    """Return a window about all that matters in a set-up, from one side cushion to the other."""
    points = [setup.white_m, setup.object_ball_m, *setup.landing_area_m]
    points += [setup.next_ball_m] if setup.next_ball_m is not None else []
    points += [setup.table.pocket_m(setup.pocket)] + [stop.point_m for stop in stops]
    points += [(float(x), float(y)) for x, y in run.points_m] if run is not None else []
    y = np.array(points)[:, 1]
    edge = whole_table(setup)
    return Window(
        edge.left_m,
        edge.right_m,
        max(edge.bottom_m, float(y.min()) - MARGIN_M),
        min(edge.top_m, float(y.max()) + MARGIN_M),
    )


def on_cushion(setup: "SetUp", point_m: Point) -> Point:
    """Return the place nearest to a tap where the white's centre is when it meets a cushion."""
    x, y = on_table(setup, point_m)
    left, right = BALL_RADIUS_M, setup.table.width_m - BALL_RADIUS_M
    bottom, top = BALL_RADIUS_M, setup.table.length_m - BALL_RADIUS_M
    places = ((left, y), (right, y), (x, bottom), (x, top))
    return min(places, key=lambda place: abs(place[0] - x) + abs(place[1] - y))


def on_table(setup: "SetUp", point_m: Point) -> Point:
    """Return the place nearest to a tap where a ball can lie."""
    x, y = point_m
    return (
        min(max(x, BALL_RADIUS_M), setup.table.width_m - BALL_RADIUS_M),
        min(max(y, BALL_RADIUS_M), setup.table.length_m - BALL_RADIUS_M),
    )


def _pockets(setup: "SetUp") -> Iterable[tuple[str, Point]]:
    """Yield the six pockets by name."""
    heights = (("bottom", 0.0), ("middle", setup.table.length_m / 2), ("top", setup.table.length_m))
    for name, y in heights:
        yield f"{name}_left", (0.0, y)
        yield f"{name}_right", (setup.table.width_m, y)


def _draw_table(figure: go.Figure, setup: "SetUp", palette: Palette) -> None:
    """Draw frame, cloth, baulk line, D, spots and pockets."""
    width, length = setup.table.width_m, setup.table.length_m
    frame = {"type": "rect", "layer": "below", "line_width": 0}
    figure.add_shape(
        frame,
        x0=-CUSHION_M,
        x1=width + CUSHION_M,
        y0=-CUSHION_M,
        y1=length + CUSHION_M,
        fillcolor=palette.faint,
    )
    figure.add_shape(frame, x0=0, x1=width, y0=0, y1=length, fillcolor=palette.well)
    thin = {"layer": "below", "line": {"color": palette.line, "width": 2}}
    baulk, radius = setup.table.baulk_line_m, setup.table.d_radius_m
    figure.add_shape(thin, type="line", x0=0, x1=width, y0=baulk, y1=baulk)
    angle = np.linspace(np.pi, 2 * np.pi, 25)
    arc_x = width / 2 + radius * np.cos(angle)
    arc_y = baulk + radius * np.sin(angle)
    figure.add_scatter(
        x=arc_x,
        y=arc_y,
        mode="lines",
        line={"color": palette.line, "width": 2},
        hoverinfo="skip",
    )
    spots_x, spots_y = np.array(list(setup.table.spots_m.values())).T
    figure.add_scatter(
        x=spots_x,
        y=spots_y,
        mode="markers",
        marker={"symbol": "cross-thin", "size": 8, "line": {"color": palette.faint, "width": 1.5}},
        hoverinfo="skip",
    )
    for name, (x, y) in _pockets(setup):
        is_aim = name == str(setup.pocket)
        figure.add_shape(
            type="circle",
            layer="below",
            x0=x - POCKET_M,
            x1=x + POCKET_M,
            y0=y - POCKET_M,
            y1=y + POCKET_M,
            fillcolor=palette.ink if is_aim else palette.quiet,
            line={"color": palette.ink, "width": 3 if is_aim else 0},
        )


def _draw_landing_area(figure: go.Figure, setup: "SetUp", palette: Palette) -> None:
    """Draw where the white should come to rest."""
    if len(setup.landing_area_m) < 3:
        return
    x, y = np.array([*setup.landing_area_m, setup.landing_area_m[0]]).T
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines",
        fill="toself",
        fillcolor=faded(palette.right, 0.18),
        line={"color": palette.right, "width": 2, "dash": "dot"},
        hoverinfo="skip",
    )


def _draw_pot(figure: go.Figure, setup: "SetUp", palette: Palette) -> None:
    """Draw the object ball's way to its pocket."""
    (x0, y0), (x1, y1) = setup.object_ball_m, setup.table.pocket_m(setup.pocket)
    figure.add_scatter(
        x=[x0, x1],
        y=[y0, y1],
        mode="lines",
        line={"color": palette.faint, "width": 2, "dash": "dot"},
        hoverinfo="skip",
    )


def _draw_run(figure: go.Figure, run: "WhiteRun", palette: Palette) -> None:
    """Draw the white's way with a mark at each cushion and at its end."""
    x, y = np.asarray(run.points_m).T
    figure.add_scatter(
        x=x, y=y, mode="lines", line={"color": palette.ink, "width": 2.5}, hoverinfo="skip"
    )
    figure.add_scatter(
        x=[x[-1]],
        y=[y[-1]],
        mode="markers",
        marker={"symbol": "circle-open", "size": 16, "color": palette.ink, "line_width": 2.5},
        hovertemplate=words.PLAN_RUN_END + "<extra></extra>",
    )


def _draw_balls(figure: go.Figure, setup: "SetUp", palette: Palette) -> None:
    """Draw the balls to scale: the white white in either scheme, the others in greys."""
    balls = [(setup.white_m, WHITE, words.PLAN_WHITE)]
    balls.append((setup.object_ball_m, palette.quiet, words.PLAN_OBJECT))
    if setup.next_ball_m is not None:
        balls.append((setup.next_ball_m, palette.line, words.PLAN_NEXT))
    is_up = setup.object_ball_m[1] >= setup.white_m[1]
    for (x, y), fill, name in balls:
        figure.add_shape(
            type="circle",
            x0=x - BALL_RADIUS_M,
            x1=x + BALL_RADIUS_M,
            y0=y - BALL_RADIUS_M,
            y1=y + BALL_RADIUS_M,
            fillcolor=fill,
            line={"color": palette.ink, "width": 2},
        )
        figure.add_annotation(
            x=x,
            y=y,
            text=name,
            showarrow=False,
            # the white plays up the picture or down: its name stands where the way is not
            yshift=-16 if (name == words.PLAN_WHITE) == is_up else 16,
            font={"size": 13, "color": palette.ink},
        )


def _draw_stops(
    figure: go.Figure, stops: Sequence[Stop], grade: Grade | None, palette: Palette
) -> None:
    """Draw the recorded stopping points of one result."""
    if not stops:
        return
    figure.add_scatter(
        x=[stop.point_m[0] for stop in stops],
        y=[stop.point_m[1] for stop in stops],
        mode="markers",
        marker={
            "symbol": "x-thin" if grade is None else GRADE_SYMBOL[grade],
            "size": 11,
            "color": faded(palette.grade(grade), 0.85),
            "line": {"color": palette.card, "width": 1},
        },
        text=[stop.text for stop in stops],
        hovertemplate="%{text}<extra></extra>",
    )


def _draw_tapped(
    figure: go.Figure, point_m: Point, name: str, symbol: str, palette: Palette, *, is_left: bool
) -> None:
    """Draw a point that was tapped, its name towards the middle of the table."""
    figure.add_scatter(
        x=[point_m[0]],
        y=[point_m[1]],
        mode="markers+text",
        marker={"symbol": symbol, "size": 18, "line": {"color": palette.ink, "width": 4}},
        text=[f"  {name}  "],
        textposition="middle right" if is_left else "middle left",
        textfont={"size": 14, "color": palette.ink},
        hoverinfo="skip",
    )
