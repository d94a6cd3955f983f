"""The table seen from above in the colours of the pages, and where a tap on it means.

The drawing itself is :mod:`cue_table.plan`; here it gets its colours, words and marks of results.
Frame: x from the left cushion, y from the bottom (baulk) cushion, metres.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import plotly.graph_objects as go

from cue_dashboard import words
from cue_dashboard.theme import GRADE_SYMBOL, Palette, faded, template
from cue_practice.grades import Grade
from cue_practice.views import Point
from cue_table import plan
from cue_table.ball import BALL_RADIUS_M
from cue_table.plan import Ink, Marks, Window, whole_table

if TYPE_CHECKING:
    from cue_table.setup import SetUp
    from cue_table.shot import WhiteRun

__all__ = [
    "BALL_RADIUS_M",
    "Stop",
    "Window",
    "ink_of",
    "on_cushion",
    "on_table",
    "plan_figure",
    "whole_table",
    "window",
]

WHITE = "#ffffff"
"""The white is white in either scheme."""


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


def ink_of(palette: Palette) -> Ink:
    """Return the colours of a drawing in one scheme: ink and greys, the area in the right one."""
    return Ink(
        paper="rgba(0, 0, 0, 0)",
        cloth=palette.well,
        rail=palette.faint,
        line=palette.ink,
        marking=palette.line,
        quiet=palette.quiet,
        white=WHITE,
        ball=palette.quiet,
        next_ball=palette.line,
        obstacle=palette.faint,
        area=palette.right,
        area_fill=faded(palette.right, 0.18),
        path=palette.ink,
    )


def plan_figure(
    setup: "SetUp",
    palette: Palette,
    *,
    run: "WhiteRun | None" = None,
    stops: Sequence[Stop] = (),
    cushion_point_m: Point | None = None,
    stop_point_m: Point | None = None,
    shown: Window | None = None,
    is_small: bool = False,
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
    is_small : bool
        Without names and answers to the pointer, for a picture the size of a stamp.
    """
    tapped = (
        (cushion_point_m, words.PLAN_CUSHION, "x-thin"),
        (stop_point_m, words.PLAN_STOP, "cross-thin"),
    )
    ends = [(float(run.stop_m[0]), float(run.stop_m[1]))] if run is not None else []
    marks = [
        Marks(
            ends, words.PLAN_RUN_END, "circle-open", palette.ink, [words.PLAN_RUN_END], size_px=16
        )
    ]
    marks += [_stops(stops, grade, palette) for grade in (None, *Grade)]
    marks += [
        Marks([point], name, symbol, palette.ink, is_named=True, size_px=18)
        for point, name, symbol in tapped
        if point is not None
    ]
    figure = plan.plan_figure(
        setup,
        run=run,
        marks=() if is_small else marks,
        names=None
        if is_small
        else {
            "white": words.PLAN_WHITE,
            "object": words.PLAN_OBJECT,
            "next": words.PLAN_NEXT,
        },
        shown=shown,
        ink=ink_of(palette),
    )
    figure.update_layout(template=template(palette), showlegend=False, clickanywhere=not is_small)
    return figure


def window(setup: "SetUp", run: "WhiteRun | None" = None, stops: Sequence[Stop] = ()) -> Window:
    """Return a window about all that matters in a set-up, from one side cushion to the other."""
    return plan.window(setup, run, [stop.point_m for stop in stops])


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


def _stops(stops: Sequence[Stop], grade: Grade | None, palette: Palette) -> Marks:
    """Return the recorded stopping points of one result."""
    those = [stop for stop in stops if stop.grade is grade]
    name = words.UNGRADED if grade is None else words.GRADE_NAME[grade]
    symbol = "x-thin" if grade is None else GRADE_SYMBOL[grade]
    colour = palette.grade(grade) if grade is None else faded(palette.grade(grade), 0.85)
    return Marks([stop.point_m for stop in those], name, symbol, colour, [s.text for s in those])
