"""Stroke by stroke: a list to choose from, and one stroke in pictures, numbers and words."""

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import (
    aria,
    button,
    card,
    empty,
    figure_box,
    graph,
    mark,
    marked_grade,
    select,
)
from cue_dashboard.components.stroke_facts import facts, flags, into_the_ball
from cue_dashboard.desk import desk
from cue_dashboard.figures.speed import hit_figure, speed_figure
from cue_dashboard.figures.tip_path import from_above_figure, from_side_figure
from cue_dashboard.names import Names, when_text
from cue_dashboard.theme import Palette, palette_of
from cue_dashboard.units import PaceScale
from cue_practice.errors import PracticeError
from cue_practice.grades import Grade
from cue_practice.views import Shot
from cue_signal.stroke import Stroke, StrokeTrace
from cue_signal.trend import hit_trend

PATH = "/strokes"
TITLE = words.STROKES_TITLE
ROWS = 12
ANY = "any"


def layout(shot: str | None = None, **_: Any) -> html.Div:
    """Return the page, opened at a shot where the address names one."""
    wanted = int(shot) if shot and shot.isdecimal() else None
    return html.Div(
        [
            html.H1(words.STROKES_TITLE),
            dcc.Store(id=ids.STROKES_SHOT, data=wanted),
            dcc.Store(id=ids.STROKES_FOUND),
            html.Div(
                [
                    html.Div([_steps(), html.Div(id=ids.STROKES_ONE)], className="stack"),
                    _choose_card(),
                ],
                className="columns strokes-columns",
            ),
        ]
    )


def register(app: dash.Dash) -> None:
    """Connect list, steps and the one stroke."""
    app.callback(
        Output(ids.STROKES_SERIES, "data"),
        Output(ids.STROKES_SERIES, "value"),
        Input(ids.STROKES_PLAYER, "value"),
    )(offer_series)
    app.callback(
        Output(ids.STROKES_FOUND, "data"),
        Input(ids.STROKES_PLAYER, "value"),
        Input(ids.STROKES_SERIES, "value"),
        Input(ids.STROKES_GRADE, "value"),
    )(find)
    app.callback(
        Output(ids.STROKES_SHOT, "data"),
        Input(ids.STROKES_FOUND, "data"),
        Input(ids.STROKES_PREVIOUS, "n_clicks"),
        Input(ids.STROKES_NEXT, "n_clicks"),
        Input({"type": ids.STROKES_ROW, "shot": ALL}, "n_clicks"),
        State(ids.STROKES_SHOT, "data"),
    )(choose)
    app.callback(
        Output(ids.STROKES_PAGES, "total"),
        Output(ids.STROKES_PAGES, "value"),
        Output(ids.STROKES_PLACE, "children"),
        Output(ids.STROKES_PREVIOUS, "disabled"),
        Output(ids.STROKES_NEXT, "disabled"),
        Input(ids.STROKES_SHOT, "data"),
        State(ids.STROKES_FOUND, "data"),
    )(show_place)
    app.callback(
        Output(ids.STROKES_LIST, "children"),
        Input(ids.STROKES_PAGES, "value"),
        Input(ids.STROKES_SHOT, "data"),
        Input(ids.UNIT, "value"),
        State(ids.STROKES_FOUND, "data"),
    )(show_list)
    app.callback(
        Output(ids.STROKES_ONE, "children"),
        Input(ids.STROKES_SHOT, "data"),
        Input(ids.UNIT, "value"),
        Input(ids.SCHEME, "data"),
    )(show_one)


def offer_series(player: str) -> tuple[list[dict[str, str]], str]:
    """Return the series of a player to choose from."""
    log = desk().log
    chosen = None if player == ANY else int(player)
    names = Names(log)
    return [
        {"value": ANY, "label": words.ALL_SERIES},
        *[
            {"value": str(one.series_id), "label": names.series(one)}
            for one in log.all_series(player_id=chosen)
            if one.n_shots
        ],
    ], ANY


def find(player: str, series: str, grade: str) -> list[int]:
    """Return the shots with a stroke that match, in the order they were played."""
    shots = desk().log.shots(
        player_id=None if player == ANY else int(player),
        series_id=None if series == ANY else int(series),
    )
    return [
        shot.shot_id
        for shot in shots
        if shot.stroke is not None and (grade == ANY or shot.grade == Grade(grade))
    ]


def choose(found: list[int], _p: Any, _n: Any, _rows: Any, current: int | None) -> Any:
    """Return the shot to show: the one tapped, the neighbour, or the newest of those found."""
    tapped = ctx.triggered_id
    if isinstance(tapped, dict):
        return int(tapped["shot"]) if ctx.triggered[0]["value"] else no_update
    if not found:
        return None
    if current not in found:
        return found[-1]
    step = {ids.STROKES_PREVIOUS: -1, ids.STROKES_NEXT: 1}.get(str(tapped), 0)
    place = found.index(current) + step
    return found[min(max(place, 0), len(found) - 1)]


def show_place(shot: int | None, found: list[int] | None) -> tuple[Any, ...]:
    """Return where the shot stands among those found, and the page of the list it is on."""
    if not found or shot not in found:
        return 1, 1, "", True, True
    place = found.index(shot)
    page = (len(found) - 1 - place) // ROWS + 1
    said = words.STROKE_OF.format(number=place + 1, total=len(found))
    return -(-len(found) // ROWS), page, said, place == 0, place == len(found) - 1


def show_list(page: int | None, shot: int | None, unit: str, found: list[int] | None) -> Any:
    """Return one page of the list, the newest stroke on top."""
    if not found:
        return html.P(words.STROKES_NONE_MATCH, className="quiet")
    newest_first = found[::-1]
    start = ((page or 1) - 1) * ROWS
    log, scale, names = desk().log, PaceScale.of(unit), Names(desk().log)
    rows = [log.shot(shot_id) for shot_id in newest_first[start : start + ROWS]]
    return [_row(one, scale, names, is_shown=one.shot_id == shot) for one in rows]


def show_one(shot_id: int | None, unit: str, scheme: str | None) -> Any:
    """Return one stroke."""
    if scheme is None:
        return no_update
    log = desk().log
    if shot_id is None:
        if not log.shots(newest=1):
            return empty(words.STROKES_EMPTY, words.STROKES_EMPTY_REMEDY)
        return empty(words.STROKES_NONE_MATCH, "")
    try:
        shot, trace = log.shot(shot_id), log.stroke_trace(shot_id)
    except PracticeError as fault:
        return empty(words.STROKES_NONE_MATCH, str(fault))
    if shot.stroke is None:
        return empty(words.NO_TRACE, "")
    return _one(shot, shot.stroke, trace, palette_of(scheme), PaceScale.of(unit))


def _steps() -> html.Div:
    """Return the way to the neighbours."""
    return html.Div(
        [
            button(words.PREVIOUS, ids.STROKES_PREVIOUS, title=words.KEYS_HINT),
            html.P(id=ids.STROKES_PLACE, role="status"),
            button(words.NEXT, ids.STROKES_NEXT, title=words.KEYS_HINT),
        ],
        className="steps",
    )


def _choose_card() -> html.Section:
    """Return the filters and the list."""
    players = [{"value": str(p.player_id), "label": p.nickname} for p in desk().log.players()]
    grades = [{"value": grade.value, "label": words.GRADE_NAME[grade]} for grade in Grade]
    return card(
        select(
            words.PLAYER,
            ids.STROKES_PLAYER,
            data=[{"value": ANY, "label": words.ALL_PLAYERS}, *players],
            value=ANY,
        ),
        select(words.SERIES, ids.STROKES_SERIES, data=[], value=ANY),
        select(
            words.RESULT,
            ids.STROKES_GRADE,
            data=[{"value": ANY, "label": words.ALL_GRADES}, *grades],
            value=ANY,
        ),
        html.Div(id=ids.STROKES_LIST),
        dmc.Pagination(id=ids.STROKES_PAGES, total=1, value=1, siblings=1, boundaries=1, size="lg"),
        kind="choose",
    )


def _row(shot: Shot, scale: PaceScale, names: Names, *, is_shown: bool) -> html.Button:
    """Return one line of the list."""
    stroke = shot.stroke
    pace = words.NOTHING if stroke is None else scale.number(stroke.tip_speed_m_s)
    trend = None if stroke is None else hit_trend(stroke)
    grade = words.UNGRADED if shot.grade is None else words.GRADE_NAME[shot.grade]
    into = "" if trend is None else words.TREND[trend]
    setup = names.setup_of(shot.series_id)
    return html.Button(
        [
            mark(shot.grade),
            html.Span(pace, className="pace-of"),
            html.Span("" if trend is None else words.TREND_SIGN[trend], **aria(hidden="true")),
            html.Span(setup, className="quiet small cut"),
        ],
        id={"type": ids.STROKES_ROW, "shot": shot.shot_id},
        type="button",
        className="stroke-row",
        **aria(
            label=f"{pace} {scale.unit}, {grade}, {into}, {setup}",
            current="true" if is_shown else None,
        ),
    )


def _one(
    shot: Shot, stroke: Stroke, trace: StrokeTrace | None, palette: Palette, scale: PaceScale
) -> html.Div:
    """Return one stroke's cards."""
    names = Names(desk().log)
    head = card(
        html.Div(
            [
                html.Div(
                    [
                        html.P(words.FACT_PACE, className="quiet"),
                        html.P(
                            [
                                scale.number(stroke.tip_speed_m_s),
                                html.Span(
                                    f" {scale.unit} \u00b1 {scale.number(stroke.tip_speed_sd_m_s)}",
                                    className="pace-unit",
                                ),
                            ],
                            className="big",
                        ),
                    ]
                ),
                html.Div(
                    [
                        html.P(marked_grade(shot.grade)),
                        html.P(names.setup_and_height(shot.series_id), className="quiet small"),
                        html.P(when_text(shot.struck_utc), className="quiet small"),
                    ]
                ),
            ],
            className="spread",
        ),
    )
    return html.Div([head, *_pictures(stroke, trace, palette, scale)], className="stack")


def _pictures(
    stroke: Stroke, trace: StrokeTrace | None, palette: Palette, scale: PaceScale
) -> list[Any]:
    """Return the pictures of a stroke, as far as its course was kept."""
    numbers = card(
        html.H2(words.FACTS_TITLE),
        facts(stroke, scale),
        html.H2(words.FLAGS_TITLE),
        flags(stroke),
    )
    into = into_the_ball(stroke, scale)
    if trace is None:
        return [card(html.H2(words.HIT_TITLE), into), card(html.P(words.NO_TRACE)), numbers]
    curve = graph(ids.STROKES_SPEED_GRAPH, speed_figure(stroke, trace, palette, scale))
    near = graph(ids.STROKES_HIT_GRAPH, hit_figure(stroke, trace, palette))
    return [
        card(figure_box(words.SPEED_TITLE, words.SPEED_HELP, curve)),
        html.Div(
            [
                card(figure_box(words.HIT_TITLE, words.HIT_HELP, into, near)),
                numbers,
            ],
            className="columns halves",
        ),
        *_paths(stroke, trace, palette),
    ]


def _paths(stroke: Stroke, trace: StrokeTrace, palette: Palette) -> list[Any]:
    """Return the tip's path from above and from the side, or why there is none."""
    above = from_above_figure(stroke, trace, palette)
    side = from_side_figure(stroke, trace, palette)
    if above is None or side is None:
        return [card(html.H2(words.ABOVE_TITLE), html.P(words.NO_PATH, className="quiet"))]
    views = (
        (words.ABOVE_TITLE, words.ABOVE_HELP, graph(ids.STROKES_ABOVE_GRAPH, above)),
        (words.SIDE_TITLE, words.SIDE_HELP, graph(ids.STROKES_SIDE_GRAPH, side)),
    )
    boxes = [card(figure_box(title, help_text, view)) for title, help_text, view in views]
    return [html.Div(boxes, className="columns halves")]
