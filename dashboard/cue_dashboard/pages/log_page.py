"""Log: every shot of every series, put right where a tap went wrong, and what series need."""

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.light import press_button, still
from cue_dashboard.components.pieces import (
    aria,
    button,
    card,
    empty,
    marked_grade,
    pager,
    select,
)
from cue_dashboard.desk import desk
from cue_dashboard.ids import log_series as series_ids
from cue_dashboard.ids import log_shot as shot_ids
from cue_dashboard.names import Names, when_text
from cue_dashboard.pages import log_file, log_series, log_shot
from cue_dashboard.pages.log_add import add_card
from cue_dashboard.pages.log_file import file_card
from cue_dashboard.pages.log_series import series_button, series_drawer
from cue_dashboard.pages.log_shot import shot_drawer, undo_pieces
from cue_dashboard.series_choice import ANY, Options, series_options, sought_in
from cue_dashboard.shown import scale_shown
from cue_dashboard.units import PaceScale
from cue_dashboard.words import log_shot as say
from cue_practice.chosen import Chosen
from cue_practice.frames import csv_text, shots_frame
from cue_practice.views import Shot
from cue_signal.trend import hit_trend

PATH = "/log"
TITLE = words.LOG_TITLE
ROWS = 12


def layout(**_: Any) -> html.Div:
    """Return the page."""
    return html.Div(
        [
            html.H1(words.LOG_TITLE),
            dcc.Store(id=ids.LOG_CHANGED),
            dcc.Store(id=ids.LOG_EDITED),
            dcc.Download(id=ids.LOG_DOWNLOAD),
            html.Div([_shots_card(), file_card(), add_card()], className="stack"),
            shot_drawer(),
            series_drawer(),
        ]
    )


def register(app: dash.Dash) -> None:
    """Connect the table, the drawer and the download."""
    app.callback(
        Output(ids.LOG_SERIES, "data"),
        Input(ids.LOG_PLAYER, "value"),
        Input(ids.LOG_SERIES, "searchValue"),
        State(ids.LOG_SERIES, "value"),
        State(ids.LOG_SERIES, "data"),
        prevent_initial_call=True,
    )(offer_series)
    app.callback(
        Output(ids.LOG_SHOTS, "children"),
        Output(ids.LOG_PAGES, "total"),
        Output(ids.LOG_PAGES, "value"),
        Output(ids.LOG_SERIES, "value"),
        Input(ids.LOG_PLAYER, "value"),
        Input(ids.LOG_SERIES, "value"),
        Input(ids.LOG_DISCARDED, "checked"),
        Input(ids.LOG_PAGES, "value"),
        Input(ids.LOG_CHANGED, "data"),
        Input(series_ids.SAVED, "data"),
        Input(ids.UNIT, "value"),
        prevent_initial_call=True,
    )(show_shots)
    app.callback(
        Output(ids.LOG_DOWNLOAD, "data"),
        Input(ids.LOG_DOWNLOAD_BUTTON, "n_clicks"),
        State(ids.LOG_PLAYER, "value"),
        State(ids.LOG_SERIES, "value"),
        State(ids.LOG_DISCARDED, "checked"),
        prevent_initial_call=True,
    )(download)
    log_shot.register(app)
    log_series.register(app)
    log_file.register(app)


def offer_series(player: str, sought: str | None, chosen: str, data: Options) -> Options:
    """Return the series of a player to choose from: the newest, or those with a word of it."""
    is_new_player = ctx.triggered_id == ids.LOG_PLAYER
    word = None if is_new_player else sought_in(sought, chosen, data)
    return series_options(desk().log, player, sought=word, chosen=None if is_new_player else chosen)


def show_shots(
    player: str,
    series: str,
    is_all: bool | None,
    page: int | None,
    _changed: Any,
    _saved: Any,
    unit: str,
) -> tuple[Any, ...]:
    """Return one page of the shots, the newest on top; another filter begins with page 1."""
    is_new_player = ctx.triggered_id == ids.LOG_PLAYER
    wanted = _wanted(player, ANY if is_new_player else series, is_all)
    is_new = ctx.triggered_id in (ids.LOG_PLAYER, ids.LOG_SERIES, ids.LOG_DISCARDED)
    start = 1 if is_new else page or 1
    shots, n_pages = _page_of_shots(wanted, start, PaceScale.of(unit))
    return shots, n_pages, min(start, n_pages), ANY if is_new_player else no_update


def _page_of_shots(wanted: Chosen, page: int, scale: PaceScale) -> tuple[Any, int]:
    """Return a page of the table, and how many there are."""
    log = desk().log
    n_shots = log.count_shots(**wanted)
    if not n_shots:
        return empty(words.LOG_EMPTY, words.LOG_EMPTY_REMEDY), 1
    n_pages = -(-n_shots // ROWS)
    start = (min(page, n_pages) - 1) * ROWS
    shots = log.shots(**wanted, newest=ROWS, offset=start)[::-1]
    names = Names(log)
    edit = html.Span(words.EDIT, className="only-read")
    heads = [html.Th(head or edit, scope="col") for head in words.COLUMNS]
    rows = [_row(shot, scale, names) for shot in shots]
    table = html.Table([html.Thead(html.Tr(heads)), html.Tbody(rows)], className="log-table")
    return still(html.Div(table, className="table-wide"), id=shot_ids.ROWS), n_pages


def download(_n: int, player: str, series: str, is_all: bool | None) -> Any:
    """Return the shots that are shown, all pages of them, as CSV with units in the header."""
    frame = shots_frame(desk().log, **_wanted(player, series, is_all))
    return {"content": csv_text(frame), "filename": words.DOWNLOAD_NAME, "type": "text/csv"}


def _wanted(player: str, series: str, is_all: bool | None) -> Chosen:
    """Return the filter as the log takes it."""
    return {
        "player_id": None if player == ANY else int(player),
        "series_id": None if series == ANY else int(series),
        "include_discarded": bool(is_all),
    }


def _shots_card() -> html.Section:
    """Return the filter and the table."""
    log = desk().log
    players = [{"value": str(p.player_id), "label": p.nickname} for p in log.players()]
    shots, n_pages = _page_of_shots(_wanted(ANY, ANY, False), 1, scale_shown())
    return card(
        html.H2(words.LOG_SHOTS),
        html.Div(
            [
                select(
                    words.PLAYER,
                    ids.LOG_PLAYER,
                    data=[{"value": ANY, "label": words.ALL_PLAYERS}, *players],
                    value=ANY,
                ),
                select(
                    words.SERIES,
                    ids.LOG_SERIES,
                    data=series_options(log, ANY),
                    value=ANY,
                    searchable=True,
                    nothingFoundMessage=words.SERIES_NOT_FOUND,
                ),
            ],
            className="field-row",
        ),
        html.Div(
            [
                dmc.Switch(id=ids.LOG_DISCARDED, label=words.SHOW_DISCARDED, size="lg"),
                button(words.DOWNLOAD, ids.LOG_DOWNLOAD_BUTTON),
            ],
            className="spread middle",
        ),
        html.Div([series_button(), *undo_pieces()], className="row"),
        html.Div(shots, id=ids.LOG_SHOTS),
        pager(words.LIST_PAGES, ids.LOG_PAGES, total=n_pages),
    )


def _row(shot: Shot, scale: PaceScale, names: Names) -> html.Tr:
    """Return one shot as a row."""
    stroke = shot.stroke
    into = words.NOTHING if stroke is None else words.TREND_SHORT[hit_trend(stroke)]
    pace = words.NOTHING if shot.pace_m_s is None else scale.text(shot.pace_m_s)
    cells: list[Any] = [
        when_text(shot.struck_utc),
        names.player_of(shot.series_id),
        names.setup_of(shot.series_id),
        names.height_of(shot.series_id),
        pace,
        into,
        html.Div([marked_grade(shot.grade), _potted(shot), _not_counted(shot)], className="row"),
    ]
    edit = press_button(words.EDIT, str(shot.shot_id), **aria(label=f"{words.EDIT}: {cells[0]}"))
    left_out = " left-out" if shot.is_discarded else ""
    return html.Tr(
        [html.Td(cell) for cell in (*cells, edit)],
        className=f"shot-row{left_out}",
    )


def _not_counted(shot: Shot) -> Any:
    """Return why a shot is left out of the answer, where it broke a rule."""
    if shot.broken_rule is None:
        return ""
    return html.Span(say.NOT_COUNTED.format(why=shot.broken_rule), className="quiet small")


def _potted(shot: Shot) -> Any:
    """Return potted or missed, where it was tapped."""
    if shot.is_potted is None:
        return ""
    return html.Span(
        (words.POTTED if shot.is_potted else words.MISSED).lower(), className="quiet small"
    )
