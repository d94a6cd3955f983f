"""Several paces on one plan: the white's ways and the recorded stops, coloured by pace.

Colour runs along a scale with even steps (Cividis: Nunez, Anderton and Renslow 2018); the second
sign is size, for a faster way is drawn thicker, a faster stop larger.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import plotly.graph_objects as go
from plotly.colors import sample_colorscale

from cue_dashboard import words
from cue_dashboard.figures.plan import Stop, plan_figure
from cue_dashboard.theme import LIGHT, PACE_COLOURS, Palette
from cue_dashboard.units import PaceScale
from cue_table.plan import Window

if TYPE_CHECKING:
    from cue_table.setup import SetUp
    from cue_table.shot import WhiteRun

LIGHT_PART = (0.0, 0.85)
DARK_PART = (0.25, 1.0)
"""Parts of the scale that stand out from the cloth of each scheme."""
LINE_PX = (2.0, 5.0)
STOP_PX = (8.0, 18.0)


@dataclass(frozen=True)
class PacedRun:
    """The white's way at a pace.

    Parameters
    ----------
    pace_m_s : float
        Pace of the cue.
    run : WhiteRun
        Where the model has the white go.
    """

    pace_m_s: float
    run: "WhiteRun"


@dataclass(frozen=True)
class PacedStop:
    """Where a shot of a known pace ended.

    Parameters
    ----------
    pace_m_s : float
        Pace of the cue.
    stop : Stop
        Where it ended, and what it did.
    """

    pace_m_s: float
    stop: Stop


def paces_figure(
    setup: "SetUp",
    runs: Sequence[PacedRun],
    stops: Sequence[PacedStop],
    palette: Palette,
    scale: PaceScale,
    *,
    shown: Window | None = None,
) -> go.Figure:
    """Return the plan of a set-up with the ways and stops of several paces.

    Parameters
    ----------
    setup : SetUp
        Balls, pocket and landing area.
    runs : sequence of PacedRun
        The model's ways, any number.
    stops : sequence of PacedStop
        Recorded stopping points.
    palette : Palette
        Colours of the scheme.
    scale : PaceScale
        Unit of the paces on the screen.
    shown : Window, optional
        Part of the table to show; all of it if not given.
    """
    figure = plan_figure(setup, palette, shown=shown)
    paces = [run.pace_m_s for run in runs] + [stop.pace_m_s for stop in stops]
    if not paces:
        return figure
    ends = (min(paces), max(paces))
    for one in runs:
        _draw_way(figure, one, ends, palette, scale)
    if stops:
        _draw_stops(figure, stops, ends, palette, scale)
    _draw_scale(figure, ends, palette, scale)
    return figure


def share(pace_m_s: float, ends_m_s: tuple[float, float]) -> float:
    """Return where a pace lies between two ends, from 0 to 1; a half where the ends are one."""
    low, high = ends_m_s
    return 0.5 if high <= low else (pace_m_s - low) / (high - low)


def colour(place: float, palette: Palette) -> str:
    """Return the colour of a place from 0 to 1 on the scale of paces."""
    low, high = LIGHT_PART if palette is LIGHT else DARK_PART
    return str(sample_colorscale(PACE_COLOURS, [low + place * (high - low)])[0])


def _between(ends: tuple[float, float], place: float) -> float:
    """Return the value at a place from 0 to 1."""
    return ends[0] + place * (ends[1] - ends[0])


def _draw_way(
    figure: go.Figure,
    one: PacedRun,
    ends: tuple[float, float],
    palette: Palette,
    scale: PaceScale,
) -> None:
    """Draw one way with its pace at its end."""
    place = share(one.pace_m_s, ends)
    points = one.run.points_m
    text = [""] * (len(points) - 1) + [scale.number(one.pace_m_s)]
    figure.add_scatter(
        x=points[:, 0],
        y=points[:, 1],
        mode="lines+text",
        text=text,
        textposition="middle right",
        textfont={"color": palette.ink, "size": 13},
        line={"color": colour(place, palette), "width": _between(LINE_PX, place)},
        name=words.WAY_AT.format(pace=scale.text(one.pace_m_s)),
        hoverinfo="name",
    )


def _draw_stops(
    figure: go.Figure,
    stops: Sequence[PacedStop],
    ends: tuple[float, float],
    palette: Palette,
    scale: PaceScale,
) -> None:
    """Draw the recorded stops."""
    places = [share(one.pace_m_s, ends) for one in stops]
    figure.add_scatter(
        x=[one.stop.point_m[0] for one in stops],
        y=[one.stop.point_m[1] for one in stops],
        mode="markers",
        marker={
            "color": [colour(place, palette) for place in places],
            "size": [_between(STOP_PX, place) for place in places],
            "line": {"color": palette.ink, "width": 1},
        },
        text=[
            words.STOP_AT.format(pace=scale.text(one.pace_m_s), grade=_grade_words(one.stop))
            for one in stops
        ],
        customdata=[one.stop.shot_id for one in stops],
        hoverinfo="text",
        name=words.STOPS_BY_PACE,
    )


def _grade_words(stop: Stop) -> str:
    """Return what a shot did."""
    return words.UNGRADED if stop.grade is None else words.GRADE_NAME[stop.grade]


def _draw_scale(
    figure: go.Figure, ends: tuple[float, float], palette: Palette, scale: PaceScale
) -> None:
    """Draw the scale of paces under the plan."""
    steps = [k / 20 for k in range(21)]
    figure.add_scatter(
        x=[None],
        y=[None],
        mode="markers",
        showlegend=False,
        hoverinfo="skip",
        marker={
            "color": [0.0],
            "cmin": ends[0] * scale.factor,
            "cmax": max(ends[1] * scale.factor, ends[0] * scale.factor + 1e-6),
            "colorscale": [[step, colour(step, palette)] for step in steps],
            "showscale": True,
            "colorbar": {
                "orientation": "h",
                "y": -0.02,
                "yanchor": "top",
                "thickness": 12,
                "outlinewidth": 0,
                "tickfont": {"color": palette.quiet},
                "title": {"text": words.PACE_AXIS.format(unit=scale.unit), "side": "bottom"},
            },
        },
    )
