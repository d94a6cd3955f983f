"""Stroke by stroke: a list to choose from; what one stroke shows is in strokes_show."""

from typing import Any

import dash
from dash import ALL, Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import aria, button, card, mark, pager, select
from cue_dashboard.desk import desk
from cue_dashboard.ids import strokes as own
from cue_dashboard.names import Names
from cue_dashboard.pages import strokes_remarks, strokes_show
from cue_dashboard.series_choice import ANY, Options, series_options, sought_in
from cue_dashboard.shown import scale_shown
from cue_dashboard.stroke_lists import Filter, Opened, opened, strokes_page
from cue_dashboard.units import PaceScale
from cue_dashboard.words import strokes as say
from cue_practice.errors import PracticeError
from cue_practice.grades import Grade
from cue_practice.views import Shot
from cue_signal.trend import HitTrend, hit_trend

PATH = "/strokes"
TITLE = words.STROKES_TITLE


def layout(shot: str | None = None, player: str = ANY, trend: str = ANY, **_: Any) -> html.Div:
    """Return the page, opened at a shot, a player's strokes or a trend if the address says so."""
    wanted = int(shot) if shot and shot.isdecimal() else None
    player, trend = _known(player, _player_options()), _known(trend, _trend_options())
    found = opened(desk().log, Filter.of(player, ANY, ANY, trend), wanted)
    return html.Div(
        [
            html.H1(words.STROKES_TITLE),
            dcc.Store(id=ids.STROKES_SHOT, data=found.shot_id),
            html.Div(
                [
                    html.Div([_steps(found), *strokes_show.layout()], className="stack"),
                    _choose_card(player, trend, found),
                ],
                className="columns strokes-columns",
            ),
        ]
    )


def register(app: dash.Dash) -> None:
    """Connect list, steps and the one stroke."""
    # one answer for all of it: each further one would be a way to the server and back
    app.callback(
        Output(ids.STROKES_SHOT, "data"),
        Output(ids.STROKES_PLACE, "children"),
        Output(ids.STROKES_PREVIOUS, "disabled"),
        Output(ids.STROKES_NEXT, "disabled"),
        Output(ids.STROKES_PAGES, "total"),
        Output(ids.STROKES_PAGES, "value"),
        Output(ids.STROKES_LIST, "children"),
        Output(ids.STROKES_SERIES, "value"),
        Input(ids.STROKES_PLAYER, "value"),
        Input(ids.STROKES_SERIES, "value"),
        Input(ids.STROKES_GRADE, "value"),
        Input(own.TREND, "value"),
        Input(ids.STROKES_PREVIOUS, "n_clicks"),
        Input(ids.STROKES_NEXT, "n_clicks"),
        Input({"type": ids.STROKES_ROW, "shot": ALL}, "n_clicks"),
        Input(ids.STROKES_PAGES, "value"),
        Input(ids.UNIT, "value"),
        State(ids.STROKES_SHOT, "data"),
        prevent_initial_call=True,
    )(choose)
    app.callback(
        Output(ids.STROKES_SERIES, "data"),
        Input(ids.STROKES_PLAYER, "value"),
        Input(ids.STROKES_SERIES, "searchValue"),
        State(ids.STROKES_SERIES, "value"),
        State(ids.STROKES_SERIES, "data"),
        prevent_initial_call=True,
    )(offer_series)
    strokes_show.register(app)
    strokes_remarks.register(app)


def offer_series(player: str, sought: str | None, chosen: str, data: Options) -> Options:
    """Return the series of a player to choose from: the newest, or those with a word of it."""
    is_new_player = ctx.triggered_id == ids.STROKES_PLAYER
    word = None if is_new_player else sought_in(sought, chosen, data)
    kept = None if is_new_player else chosen
    return series_options(desk().log, player, sought=word, chosen=kept, is_played=True)


def choose(
    player: str,
    series: str,
    grade: str,
    trend: str,
    _previous: Any,
    _next: Any,
    _rows: Any,
    page: int | None,
    unit: str,
    current: int | None,
) -> tuple[Any, ...]:
    """Return the shot to show, where it stands among those that the filter finds, and the list.

    The one tapped, the neighbour, the one that is shown already, or the newest.
    """
    tapped = ctx.triggered_id
    if isinstance(tapped, dict) and not ctx.triggered[0]["value"]:
        return (no_update,) * 8
    if tapped == ids.STROKES_PLAYER:
        series = ANY
    if isinstance(tapped, dict):
        current = int(tapped["shot"])
    step = {ids.STROKES_PREVIOUS: -1, ids.STROKES_NEXT: 1}.get(str(tapped), 0)
    wanted, scale = Filter.of(player, series, grade, trend), PaceScale.of(unit)
    found = opened(desk().log, wanted, current, step)
    is_turning = tapped in (ids.STROKES_PAGES, ids.UNIT)
    shown_page = min(page or 1, found.n_pages) if is_turning else found.page
    is_same = is_turning and found.shot_id == current
    return (
        no_update if is_same else found.shot_id,
        _place_words(found, scale),
        *found.is_end,
        found.n_pages,
        shown_page,
        _list(wanted, shown_page, found.shot_id, scale),
        ANY if tapped == ids.STROKES_PLAYER else no_update,
    )


def _list(wanted: Filter, page: int, shot: int | None, scale: PaceScale) -> Any:
    """Return one page of the list."""
    log = desk().log
    rows = strokes_page(log, wanted, page)
    if not rows:
        return html.P(words.STROKES_NONE_MATCH, className="quiet")
    names = Names(log)
    return html.Ul(
        [html.Li(_row(one, scale, names, is_shown=one.shot_id == shot)) for one in rows],
        className="bare",
    )


def _place_words(found: Opened, scale: PaceScale) -> list[Any]:
    """Return which stroke it is, and, for screen readers, what it was."""
    if found.shot_id is None:
        return []
    said = words.STROKE_OF.format(number=found.place + 1, total=found.total)
    try:
        shot = desk().log.shot(found.shot_id)
    except PracticeError:
        return [said]
    if shot.stroke is None:
        return [said]
    grade = words.UNGRADED if shot.grade is None else words.GRADE_NAME[shot.grade]
    more = say.SAID.format(
        pace=scale.text(shot.stroke.tip_speed_m_s),
        grade=grade.lower(),
        trend=words.TREND[hit_trend(shot.stroke)],
    )
    return [said, html.Span(f": {more}", className="only-read")]


def _steps(found: Opened) -> html.Div:
    """Return the way to the neighbours."""
    is_first, is_last = found.is_end
    place = html.P(_place_words(found, scale_shown()), id=ids.STROKES_PLACE, role="status")
    return html.Div(
        [
            _step(words.PREVIOUS, ids.STROKES_PREVIOUS, "ArrowLeft", is_off=is_first),
            html.Div([place, html.P(say.KEYS, className="quiet small keys-hint")]),
            _step(words.NEXT, ids.STROKES_NEXT, "ArrowRight", is_off=is_last),
        ],
        className="steps",
    )


def _step(text: str, button_id: str, key: str, *, is_off: bool) -> html.Button:
    """Return the button to a neighbour."""
    return button(text, button_id, title=words.KEYS_HINT, disabled=is_off, **aria(keyshortcuts=key))


def _choose_card(player: str, trend: str, found: Opened) -> html.Section:
    """Return the filters and the list."""
    grades = [{"value": grade.value, "label": words.GRADE_NAME[grade]} for grade in Grade]
    wanted = Filter.of(player, ANY, ANY, trend)
    rows = _list(wanted, found.page, found.shot_id, scale_shown())
    return card(
        select(words.PLAYER, ids.STROKES_PLAYER, data=_player_options(), value=player),
        select(
            words.SERIES,
            ids.STROKES_SERIES,
            data=series_options(desk().log, player, is_played=True),
            value=ANY,
            searchable=True,
            nothingFoundMessage=words.SERIES_NOT_FOUND,
        ),
        select(
            words.RESULT,
            ids.STROKES_GRADE,
            data=[{"value": ANY, "label": words.ALL_GRADES}, *grades],
            value=ANY,
        ),
        select(say.INTO_THE_BALL, own.TREND, data=_trend_options(), value=trend),
        html.Div(rows, id=ids.STROKES_LIST),
        pager(words.LIST_PAGES, ids.STROKES_PAGES, total=found.n_pages, value=found.page),
        kind="choose",
        hidden=not (found.total or desk().log.n_strokes()),  # nothing to choose from
    )


def _player_options() -> Options:
    """Return the players to choose from, and all of them."""
    players = [{"value": str(p.player_id), "label": p.nickname} for p in desk().log.players()]
    return [{"value": ANY, "label": words.ALL_PLAYERS}, *players]


def _trend_options() -> Options:
    """Return what the cue may do into the ball, and any of it."""
    trends = [{"value": one.value, "label": say.TREND_NAME[one]} for one in HitTrend]
    return [{"value": ANY, "label": say.ALL_TRENDS}, *trends]


def _known(value: str, options: Options) -> str:
    """Return a value of the address that can be chosen, or that of no choice."""
    return value if value in [one["value"] for one in options] else ANY


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
