"""Pace and stun: the plan, by result with the best pace's way, or by pace with several ways."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import dash
import numpy as np
import plotly.graph_objects as go
from dash import Input, Output, State, dcc, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import card, figure_box, graph, plan_style, segments
from cue_dashboard.desk import desk
from cue_dashboard.figures.paces_on_plan import PacedRun, PacedStop, paces_figure
from cue_dashboard.figures.plan import Stop, plan_figure, window
from cue_dashboard.questions import MOST_DRAWN, Held, model_run
from cue_dashboard.theme import Palette, palette_of
from cue_dashboard.units import PaceScale
from cue_practice.limits import is_a_pace
from cue_practice.views import Shot
from cue_table.errors import TableError

if TYPE_CHECKING:
    from cue_practice.answer import PaceAnswer
    from cue_table.setup import SetUp

BY_RESULT, BY_PACE = "result", "pace"
N_WAYS = 5
REACH = 0.15
"""How far beyond the band of right paces the slowest and the fastest way lie, as a share."""
USUAL_REACH = 0.25
"""The same on either side of the best pace where no pace is right every second time."""

SCALE_SHARE = 0.88
"""The scale of paces under the plan takes the rest of the height."""


def plan_card(held: Held, found: "PaceAnswer") -> html.Section:
    """Return the plan's place, filled by `show_plan`."""
    kinds = [
        {"value": BY_RESULT, "label": words.PLAN_BY_RESULT},
        {"value": BY_PACE, "label": words.PLAN_BY_PACE},
    ]
    return card(
        figure_box(
            words.PLAN_TITLE,
            words.PLAN_HELP,
            dcc.Store(id=ids.PACE_PLAN_OF, data=_asked(held, found)),
            segments(words.PLAN_BY, ids.PACE_PLAN_BY, kinds, value=BY_RESULT, fullWidth=True),
            graph(ids.PACE_PLAN, aspect=1),
        )
    )


def register(app: dash.Dash) -> None:
    """Connect the two ways to draw the plan."""
    app.callback(
        Output(ids.PACE_PLAN, "figure"),
        Output(ids.PACE_PLAN, "style"),
        Input(ids.PACE_PLAN_BY, "value"),
        Input(ids.PACE_PLAN_OF, "data"),
        State(ids.UNIT, "value"),
        State(ids.SCHEME, "data"),
    )(show_plan)


def show_plan(
    by: str, asked: dict[str, Any] | None, unit: str, scheme: str | None
) -> tuple[Any, Any]:
    """Return the plan as it is wanted, and the style that keeps its shape."""
    if asked is None or scheme is None:
        return no_update, no_update
    held = Held(**asked["held"])
    log = desk().log
    setup = log.setup(held.setup_id).setup
    shots = held.shots(log, newest=MOST_DRAWN)
    palette, scale = palette_of(scheme), PaceScale.of(unit)
    if by == BY_PACE:
        return _by_pace(setup, _ways(held, shots, asked["paces_m_s"]), shots, palette, scale)
    return _by_result(setup, _ways(held, shots, [asked["best_m_s"]]), shots, palette, scale)


def ways_paces_m_s(found: "PaceAnswer") -> list[float]:
    """Return the paces whose ways are drawn: evenly from too soft to too hard, the best one in.

    Parameters
    ----------
    found : PaceAnswer
        With its best pace and its band of right ones.
    """
    best = found.best_pace_m_s
    low, high = found.band_m_s or (best, best)
    reach = REACH if found.band_m_s else USUAL_REACH
    half = N_WAYS // 2
    below = np.geomspace(min(low, best) * (1 - reach), best, half + 1)
    above = np.geomspace(best, max(high, best) * (1 + reach), half + 1)
    return [float(pace) for pace in (*below, *above[1:])]


def _asked(held: Held, found: "PaceAnswer") -> dict[str, Any]:
    """Return what the plan is of, for the browser to keep."""
    return {
        "held": vars(held),
        "best_m_s": found.best_pace_m_s,
        "paces_m_s": ways_paces_m_s(found),
    }


def _ways(held: Held, shots: list[Shot], paces_m_s: Sequence[float]) -> list[PacedRun]:
    """Return the model's ways; a set-up that it cannot play is still worth seeing."""
    try:
        return [PacedRun(pace, model_run(desk().log, held, shots, pace)) for pace in paces_m_s]
    except TableError:
        return []


def _by_result(
    setup: "SetUp",
    ways: list[PacedRun],
    shots: list[Shot],
    palette: Palette,
    scale: PaceScale,
) -> tuple[go.Figure, dict[str, Any]]:
    """Return the best pace's way, and every stop with the mark of its result."""
    stops = [_stop(shot, scale) for shot in shots if shot.stop_point_m is not None]
    run = ways[0].run if ways else None
    shown = window(setup, run, stops)
    figure = plan_figure(setup, palette, run=run, stops=stops, shown=shown)
    return figure, plan_style(shown.aspect)


def _by_pace(
    setup: "SetUp",
    ways: list[PacedRun],
    shots: list[Shot],
    palette: Palette,
    scale: PaceScale,
) -> tuple[go.Figure, dict[str, Any]]:
    """Return several ways, and every stop in the colour of its pace."""
    stops = [
        PacedStop(shot.pace_m_s, _stop(shot, scale))
        for shot in shots
        if shot.stop_point_m is not None and shot.pace_m_s is not None and is_a_pace(shot.pace_m_s)
    ]
    ends = [Stop(0, (float(w.run.stop_m[0]), float(w.run.stop_m[1])), None) for w in ways]
    shown = window(setup, ways[-1].run if ways else None, [one.stop for one in stops] + ends)
    figure = paces_figure(setup, ways, stops, palette, scale, shown=shown)
    return figure, plan_style(shown.aspect * SCALE_SHARE)


def _stop(shot: Shot, scale: PaceScale) -> Stop:
    """Return where a shot ended, for a plan."""
    text = words.NOTHING if shot.pace_m_s is None else scale.text(shot.pace_m_s)
    point = shot.stop_point_m
    if point is None:
        raise ValueError("the shot has no stopping point")
    return Stop(shot.shot_id, point, shot.grade, text)
