"""Stroke by stroke: a list to choose from; what one stroke shows is in strokes_show."""

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import aria, button, card, mark, pager, select
from cue_dashboard.desk import desk
from cue_dashboard.ids import strokes as own
from cue_dashboard.names import Names
from cue_dashboard.pages import strokes_remarks, strokes_show
from cue_dashboard.stroke_lists import ANY, Filter, stroke_ids, strokes_page
from cue_dashboard.units import PaceScale
from cue_dashboard.words import strokes as say
from cue_practice.errors import PracticeError
from cue_practice.grades import Grade
from cue_practice.views import Shot
from cue_signal.trend import HitTrend, hit_trend

PATH = "/strokes"
TITLE = words.STROKES_TITLE
ROWS = 12


def layout(shot: str | None = None, player: str = ANY, trend: str = ANY, **_: Any) -> html.Div:
    """Return the page, opened at a shot, a player's strokes or a trend if the address says so."""
    wanted = int(shot) if shot and shot.isdecimal() else None
    return html.Div(
        [
            html.H1(words.STROKES_TITLE),
            dcc.Store(id=ids.STROKES_SHOT, data=wanted),
            html.Div(
                [
                    html.Div([_steps(), *strokes_show.layout()], className="stack"),
                    _choose_card(player, trend),
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
        Output(ids.STROKES_SHOT, "data"),
        Output(ids.STROKES_PLACE, "children"),
        Output(ids.STROKES_PREVIOUS, "disabled"),
        Output(ids.STROKES_NEXT, "disabled"),
        Output(ids.STROKES_PAGES, "total"),
        Output(ids.STROKES_PAGES, "value"),
        *_filter(Input),
        Input(ids.STROKES_PREVIOUS, "n_clicks"),
        Input(ids.STROKES_NEXT, "n_clicks"),
        Input({"type": ids.STROKES_ROW, "shot": ALL}, "n_clicks"),
        State(ids.STROKES_SHOT, "data"),
        State(ids.UNIT, "value"),
    )(choose)
    app.callback(
        Output(ids.STROKES_LIST, "children"),
        Input(ids.STROKES_PAGES, "value"),
        Input(ids.STROKES_SHOT, "data"),
        Input(ids.UNIT, "value"),
        *_filter(State),
    )(show_list)
    strokes_show.register(app)
    strokes_remarks.register(app)


def offer_series(player: str) -> tuple[list[dict[str, str]], str]:
    """Return the series of a player to choose from."""
    log = desk().log
    names = Names(log)
    series = log.all_series(player_id=None if player == ANY else int(player))
    offered = [
        {"value": str(one.series_id), "label": names.series(one)} for one in series if one.n_shots
    ]
    return [{"value": ANY, "label": words.ALL_SERIES}, *offered], ANY


def choose(
    player: str,
    series: str,
    grade: str,
    trend: str,
    _previous: Any,
    _next: Any,
    _rows: Any,
    current: int | None,
    unit: str,
) -> tuple[Any, ...]:
    """Return the shot to show, and where it stands among those that the filter finds.

    The one tapped, the neighbour, the one that is shown already, or the newest.
    """
    tapped = ctx.triggered_id
    if isinstance(tapped, dict) and not ctx.triggered[0]["value"]:
        return (no_update,) * 6
    found = stroke_ids(desk().log, Filter.of(player, series, grade, trend)).tolist()
    if not found:
        return None, "", True, True, 1, 1
    if isinstance(tapped, dict):
        current = int(tapped["shot"])
    place = found.index(current) if current in found else len(found) - 1
    place += {ids.STROKES_PREVIOUS: -1, ids.STROKES_NEXT: 1}.get(str(tapped), 0)
    place = min(max(place, 0), len(found) - 1)
    said = _place_words(place, len(found), found[place], PaceScale.of(unit))
    ends = (place == 0, place == len(found) - 1)
    page = (len(found) - 1 - place) // ROWS + 1
    return found[place], said, *ends, -(-len(found) // ROWS), page


def show_list(
    page: int | None, shot: int | None, unit: str, player: str, series: str, grade: str, trend: str
) -> Any:
    """Return one page of the list, the newest stroke on top."""
    log, scale = desk().log, PaceScale.of(unit)
    wanted = Filter.of(player, series, grade, trend)
    rows = strokes_page(log, wanted, start=((page or 1) - 1) * ROWS, rows=ROWS)
    if not rows:
        return html.P(words.STROKES_NONE_MATCH, className="quiet")
    names = Names(log)
    return html.Ul(
        [html.Li(_row(one, scale, names, is_shown=one.shot_id == shot)) for one in rows],
        className="bare",
    )


def _filter(kind: Any) -> list[Any]:
    """Return the fields of the filter as inputs or states."""
    fields = (ids.STROKES_PLAYER, ids.STROKES_SERIES, ids.STROKES_GRADE, own.TREND)
    return [kind(field, "value") for field in fields]


def _place_words(place: int, total: int, shot_id: int, scale: PaceScale) -> list[Any]:
    """Return which stroke it is, and, for screen readers, what it was."""
    said = words.STROKE_OF.format(number=place + 1, total=total)
    try:
        shot = desk().log.shot(shot_id)
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


def _steps() -> html.Div:
    """Return the way to the neighbours."""
    return html.Div(
        [
            button(
                words.PREVIOUS,
                ids.STROKES_PREVIOUS,
                title=words.KEYS_HINT,
                **aria(keyshortcuts="ArrowLeft"),
            ),
            html.Div(
                [
                    html.P(id=ids.STROKES_PLACE, role="status"),
                    html.P(say.KEYS, className="quiet small keys-hint"),
                ]
            ),
            button(
                words.NEXT,
                ids.STROKES_NEXT,
                title=words.KEYS_HINT,
                **aria(keyshortcuts="ArrowRight"),
            ),
        ],
        className="steps",
    )


def _choose_card(player: str, trend: str) -> html.Section:
    """Return the filters and the list."""
    players = [{"value": str(p.player_id), "label": p.nickname} for p in desk().log.players()]
    grades = [{"value": grade.value, "label": words.GRADE_NAME[grade]} for grade in Grade]
    trends = [{"value": one.value, "label": say.TREND_NAME[one]} for one in HitTrend]
    return card(
        _any(words.PLAYER, ids.STROKES_PLAYER, words.ALL_PLAYERS, players, player),
        _any(words.SERIES, ids.STROKES_SERIES, words.ALL_SERIES, []),
        _any(words.RESULT, ids.STROKES_GRADE, words.ALL_GRADES, grades),
        _any(say.INTO_THE_BALL, own.TREND, say.ALL_TRENDS, trends, trend),
        html.Div(id=ids.STROKES_LIST),
        pager(words.LIST_PAGES, ids.STROKES_PAGES),
        kind="choose",
    )


def _any(
    label: str, select_id: str, all_of_it: str, options: list[dict[str, str]], value: str = ANY
) -> dmc.Select:
    """Return a choice that can be left open."""
    data = [{"value": ANY, "label": all_of_it}, *options]
    known = value if value in [one["value"] for one in options] else ANY
    return select(label, select_id, data=data, value=known)


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
