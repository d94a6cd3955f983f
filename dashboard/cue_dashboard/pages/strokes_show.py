"""Stroke by stroke: one stroke in pictures, numbers and words, over the player's own best."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import Input, Output, ctx, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import (
    card,
    empty,
    figure_box,
    graph,
    marked_grade,
)
from cue_dashboard.components.stroke_facts import facts, flags, into_the_ball, trend_line
from cue_dashboard.desk import desk
from cue_dashboard.figures.drawing import Drawing
from cue_dashboard.figures.speed import Drawn, Pin, hit_figure, speed_figure
from cue_dashboard.figures.tip_path import from_above_figure, from_side_figure
from cue_dashboard.ids import strokes as own
from cue_dashboard.names import Names, when_text
from cue_dashboard.own_best import own_best
from cue_dashboard.pages import strokes_remarks
from cue_dashboard.theme import Palette, palette_of
from cue_dashboard.units import PaceScale
from cue_dashboard.words import strokes as say
from cue_practice.errors import PracticeError
from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_practice.views import Remark, Series, Shot
from cue_signal.stroke import Stroke, StrokeTrace


@dataclass(frozen=True)
class Best:
    """A player's own best strokes of a series.

    Parameters
    ----------
    drawn : tuple of (Stroke, StrokeTrace)
        Those whose course was kept.
    words : str
        Which they are and why, or why there are none.
    """

    drawn: tuple[Drawn, ...]
    words: str

    @property
    def strokes(self) -> list[Stroke]:
        """Return their measures."""
        return [stroke for stroke, _ in self.drawn]


def layout() -> list[Any]:
    """Return the places of one stroke's head, curve with remarks, and everything else."""
    curve = figure_box(
        words.SPEED_TITLE, words.SPEED_HELP, graph(ids.STROKES_SPEED_GRAPH, height_px=380)
    )
    switch = dmc.Switch(
        id=own.BEST, label=say.BEST, checked=True, persistence=True, persistence_type="local"
    )
    best = html.Div([switch, html.P(id=own.BEST_WORDS, className="help")], className="stack tight")
    return [
        html.Div(id=own.HEAD),
        html.Div(
            [card(curve, best), strokes_remarks.card_of_remarks()],
            id=own.CURVE_CARD,
            className="stack",
            hidden=True,
        ),
        html.Div(id=ids.STROKES_ONE),
    ]


def register(app: dash.Dash) -> None:
    """Connect what is shown of one stroke."""
    app.callback(
        Output(own.HEAD, "children"),
        Output(ids.STROKES_ONE, "children"),
        Output(ids.STROKES_SPEED_GRAPH, "figure"),
        Output(own.BEST_WORDS, "children"),
        Output(own.CURVE_CARD, "hidden"),
        Input(ids.STROKES_SHOT, "data"),
        Input(ids.UNIT, "value"),
        Input(ids.SCHEME, "data"),
        Input(own.BEST, "checked"),
        Input(own.REMARKED, "data"),
    )(show)


def show(
    shot_id: int | None, unit: str, scheme: str | None, is_best: bool | None, _remarked: Any
) -> tuple[Any, ...]:
    """Return one stroke: head, pictures, curve, what lies under it, whether it stays hidden."""
    if scheme is None:
        return (no_update,) * 5
    log, scale, palette = desk().log, PaceScale.of(unit), palette_of(scheme)
    if shot_id is None:
        is_empty = not log.count_shots()
        title = words.STROKES_EMPTY if is_empty else words.STROKES_NONE_MATCH
        return _nothing(title, words.STROKES_EMPTY_REMEDY if is_empty else "")
    try:
        shot, trace = log.shot(shot_id), log.stroke_trace(shot_id)
        remarks = log.remarks(shot_id)
    except PracticeError as fault:
        return _nothing(words.STROKES_NONE_MATCH, str(fault))
    if shot.stroke is None:
        return _nothing(words.NO_TRACE, "")
    best = best_of(log, shot, scale) if is_best else Best((), "")
    curve: Any = no_update
    if trace is not None:
        pins = _pins(remarks)
        curve = speed_figure(shot.stroke, trace, palette, scale, best=best.drawn, pins=pins)
    if ctx.triggered_id == own.REMARKED:
        return no_update, no_update, curve, no_update, no_update
    head = _head(shot, shot.stroke, scale)
    rest = html.Div(_pictures(shot.stroke, trace, palette, scale, best), className="stack")
    return head, rest, curve, best.words, trace is None


def _nothing(title: str, remedy: str) -> tuple[Any, ...]:
    """Return what stands in place of a stroke."""
    return empty(title, remedy), None, no_update, "", True


def _pins(remarks: Sequence[Remark]) -> list[Pin]:
    """Return the marks of the remarks that are pinned to a moment."""
    numbered = enumerate(remarks, start=1)
    return [Pin(number, one.at_s, one.text) for number, one in numbered if one.at_s is not None]


def best_of(log: PracticeLog, shot: Shot, scale: PaceScale) -> Best:
    """Return the player's own best other strokes of a shot's series."""
    series = log.series(shot.series_id)
    shots = log.shots(series_id=shot.series_id)
    chosen = own_best(shots, called_pace_m_s=series.called_pace_m_s, but_not=shot.shot_id)
    drawn = tuple(
        (one.stroke, trace)
        for one in chosen
        if one.stroke is not None and (trace := log.stroke_trace(one.shot_id)) is not None
    )
    if not drawn:
        return Best((), say.BEST_NONE)
    return Best(drawn, _rule_words(len(drawn), series, shots, scale))


def _rule_words(n_best: int, series: Series, shots: Sequence[Shot], scale: PaceScale) -> str:
    """Return which strokes lie under this one, and why these."""
    right = [s.stroke.tip_speed_m_s for s in shots if s.stroke and s.grade is Grade.RIGHT]
    called = series.called_pace_m_s
    return say.BEST_RULE.format(
        of=say.BEST_ONE if n_best == 1 else say.BEST_MANY.format(n=n_best),
        pace=scale.text(called if called is not None else median(right)),
        why=say.BEST_MIDDLE if called is None else say.BEST_CALLED,
        n_right=len(right),
    )


def _head(shot: Shot, stroke: Stroke, scale: PaceScale) -> html.Section:
    """Return pace, result and whether the cue slowed, at a glance."""
    names = Names(desk().log)
    doubt = f" {scale.unit} \u00b1 {scale.number(stroke.tip_speed_sd_m_s)}"
    pace = html.Div(
        [
            html.P(words.FACT_PACE, className="quiet"),
            html.P(
                [scale.number(stroke.tip_speed_m_s), html.Span(doubt, className="pace-unit")],
                className="big",
            ),
        ]
    )
    where = html.Div(
        [
            html.P(marked_grade(shot.grade)),
            html.P(names.setup_and_height(shot.series_id), className="quiet small"),
            html.P(when_text(shot.struck_utc), className="quiet small"),
        ]
    )
    return card(html.Div([pace, where], className="spread"), trend_line(stroke, scale))


def _pictures(
    stroke: Stroke,
    trace: StrokeTrace | None,
    palette: Palette,
    scale: PaceScale,
    best: Best,
) -> list[Any]:
    """Return the pictures of a stroke below its curve, as far as its course was kept."""
    numbers = card(
        html.H2(words.FACTS_TITLE),
        facts(stroke, scale, best.strokes),
        html.H2(words.FLAGS_TITLE),
        flags(stroke),
    )
    into = into_the_ball(stroke, scale)
    if trace is None:
        return [card(html.H2(words.HIT_TITLE), into), card(html.P(words.NO_TRACE)), numbers]
    near = graph(ids.STROKES_HIT_GRAPH, hit_figure(stroke, trace, palette))
    hit = card(figure_box(words.HIT_TITLE, words.HIT_HELP, into, near))
    drawn = best.drawn
    return [
        html.Div([hit, numbers], className="columns halves"),
        *_paths(
            from_above_figure(stroke, trace, palette, best=drawn),
            from_side_figure(stroke, trace, palette, best=drawn),
        ),
    ]


def _paths(above: Drawing | None, side: Drawing | None) -> list[Any]:
    """Return the tip's path from above and from the side, or why there is none."""
    if above is None or side is None:
        return [card(html.H2(words.ABOVE_TITLE), html.P(words.NO_PATH, className="quiet"))]
    views = (
        (words.ABOVE_TITLE, words.ABOVE_HELP, graph(ids.STROKES_ABOVE_GRAPH, above)),
        (words.SIDE_TITLE, words.SIDE_HELP, graph(ids.STROKES_SIDE_GRAPH, side)),
    )
    boxes = [card(figure_box(title, help_text, view)) for title, help_text, view in views]
    return [html.Div(boxes, className="columns halves")]
