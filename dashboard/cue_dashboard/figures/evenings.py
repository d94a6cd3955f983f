"""What each evening showed, with its interval, evening after evening; one side or two."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from cue_dashboard.figures.drawing import Drawing
from cue_dashboard.theme import Palette
from cue_practice.control import Measure

HEIGHT_PX = 260
SIDE_SIGNS = ("\u25cf", "\u25c7")
"""Signs of the first and the second side in legends: as in the figure, a disc and a diamond."""
N_TICKS = 6
MANY = 60
"""Evenings from which on marks are small: large ones would hide one another."""
_SYMBOLS = ("circle", "diamond-open")
_ASIDE = 0.012
"""The second side stands this share of the width beside the first, so that both can be seen."""


@dataclass(frozen=True)
class Course:
    """One quantity of one side over the evenings.

    Parameters
    ----------
    name : str
        What the side is called.
    when : tuple of datetime
        Evenings.
    measures : tuple of Measure
        One for each, in the unit of the screen.
    hints : tuple of str
        Shown when one is pointed at.
    """

    name: str
    when: tuple[datetime, ...]
    measures: tuple[Measure, ...]
    hints: tuple[str, ...]


def evenings_figure(
    courses: Sequence[Course],
    palette: Palette,
    *,
    axis: str,
    split: datetime | None = None,
) -> Drawing:
    """Return a mark with its interval for each evening.

    Parameters
    ----------
    courses : sequence of Course
        One side, or two.
    palette : Palette
        Colours of the scheme.
    axis : str
        What the values are, with their unit.
    split : datetime or None
        Where the later time begins.
    """
    figure = Drawing(palette, height_px=HEIGHT_PX)
    all_days = [moment for course in courses for moment in course.when]
    width = max(all_days) - min(all_days) if all_days else timedelta()
    for place, course in enumerate(courses):
        _draw(figure, course, palette, place, place * _ASIDE * width)
    if split is not None:
        when = split.isoformat()
        figure.add_span(when, when, line={"color": palette.quiet, "width": 2, "dash": "dot"})
    top = max((one.high for course in courses for one in course.measures), default=1.0)
    top = top or 1.0
    # a little below nought, so that a mark on it is seen whole
    figure.update_yaxes(title=axis, range=[-0.06 * top, 1.08 * top], nticks=6)
    pad = max(0.04 * width, timedelta(days=1))
    if all_days:
        figure.update_xaxes(range=[min(all_days) - pad, max(all_days) + pad])
    if width > timedelta(days=N_TICKS):
        figure.update_xaxes(tickformat="%d %b", nticks=N_TICKS)
    else:  # ticks of their own would say the same day twice
        figure.update_xaxes(tickformat="%d %b", tickvals=_one_each_day(all_days))
    return figure


def _one_each_day(moments: Sequence[datetime]) -> list[datetime]:
    """Return the first of the moments of every day."""
    return list({moment.date(): moment for moment in sorted(moments, reverse=True)}.values())


def _draw(figure: Drawing, course: Course, palette: Palette, place: int, aside: timedelta) -> None:
    """Draw one side."""
    colour = (palette.ink, palette.quiet)[place]
    size_px, line_px = (10, 2.0) if len(course.when) < MANY else (5, 1.0)
    figure.add_scatter(
        x=[moment + aside for moment in course.when],
        y=[one.value for one in course.measures],
        error_y={
            "type": "data",
            "symmetric": False,
            "array": [one.high - one.value for one in course.measures],
            "arrayminus": [one.value - one.low for one in course.measures],
            "color": colour,
            "thickness": 0.75 * line_px,
            "width": 0.3 * size_px,
        },
        mode="markers",
        name=course.name,
        marker={
            "size": size_px,
            "symbol": _SYMBOLS[place],
            "color": colour,
            "line": {"width": line_px},
        },
        customdata=list(course.hints),
        hovertemplate="%{customdata}<extra></extra>",
    )
