"""The first time at the table: player and cue, a set-up, and where strokes come from."""

from typing import Any

import dash
from dash import Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import button, card, text_field
from cue_dashboard.desk import desk
from cue_dashboard.ids import table as table_ids
from cue_dashboard.pages.table_start import player_choice, setups_by_table, what_is_missing
from cue_dashboard.words import table as table_words
from cue_practice.errors import PracticeError
from cue_practice.log import PracticeLog
from cue_recordings import data_folder
from cue_table.setup import FULL_SIZE, SetUp

BUILDER_PATH, LOG_PATH = "/setups", "/log"


def first_guide() -> html.Section:
    """Return the guide; it is there until the first series was started."""
    return card(
        html.H2(table_words.FIRST_TITLE),
        html.P(table_words.FIRST_INTRO, className="quiet"),
        html.P(id=table_ids.FIRST_SAID, className="fault", role="alert"),
        html.Ol(_steps(), id=table_ids.FIRST_DONE, className="first-steps"),
        id=table_ids.FIRST,
        hidden=True,
    )


def register(app: dash.Dash) -> None:
    """Connect the guide; each step fills in the form that starts a series."""
    app.callback(
        Output(table_ids.FIRST_DONE, "children"),
        Output(table_ids.FIRST_SAID, "children"),
        Output(ids.TABLE_START_PLAYER, "data"),
        Output(ids.TABLE_START_PLAYER, "value"),
        Output(ids.TABLE_START_SETUP, "data"),
        Output(ids.TABLE_START_SETUP, "value"),
        Output(ids.TABLE_START_MISSING, "children"),
        Output(table_ids.START_FIELDS, "hidden"),
        Input(table_ids.FIRST_SAVE, "n_clicks"),
        Input(table_ids.FIRST_SETUP, "n_clicks"),
        State(table_ids.FIRST_PLAYER, "value"),
        State(table_ids.FIRST_CUE, "value"),
        prevent_initial_call=True,
    )(take_step)


def take_step(_save: Any, _setup: Any, player: str | None, cue: str | None) -> tuple[Any, ...]:
    """Enter player and cue, or the example set-up, and fill in the form below."""
    log = desk().log
    if not ctx.triggered[0]["value"]:  # the guide was drawn, not tapped
        return (no_update,) * 8
    try:
        if ctx.triggered_id == table_ids.FIRST_SAVE:
            _add_player(log, player, cue)
        else:
            _add_example(log)
    except PracticeError as fault:
        return (no_update, str(fault), *(no_update,) * 6)
    players, setups, missing = player_choice(log), log.setups(), what_is_missing()
    return (
        _steps(),
        "",
        players,
        players[0]["value"] if players else None,
        setups_by_table(setups),
        str(setups[0].setup_id) if setups else None,
        missing,
        bool(missing),
    )


def _add_player(log: PracticeLog, player: str | None, cue: str | None) -> None:
    """Enter a player and a cue, both or neither."""
    fields = ((table_words.FIRST_PLAYER, player), (table_words.FIRST_CUE, cue))
    missing = [name.lower() for name, value in fields if not (value or "").strip()]
    if missing:
        raise PracticeError(table_words.FIRST_MISSING.format(missing=words.listed(missing)))
    known = next((one for one in log.players() if one.nickname == str(player).strip()), None)
    entry = known or log.add_player(str(player))
    log.add_cue(str(cue), player_id=entry.player_id)


def _add_example(log: PracticeLog) -> None:
    """Enter the set-up of the first shipped recording, on a full-size table."""
    if log.setups():
        return
    table = next(iter(log.tables()), None) or log.add_table(table_words.FIRST_TABLE)
    log.add_setup(example_setup(), table.table_id)


def example_setup() -> SetUp:
    """Return the set-up that the first shipped recording was played on (invented)."""
    from cue_practice.evening_file import read_evening  # needs pydantic, which is slow to import

    entry = read_evening(data_folder()).setups[0]
    return SetUp(
        name=entry.name,
        table=FULL_SIZE,
        white_m=entry.white_m,
        object_ball_m=entry.object_ball_m,
        pocket=entry.pocket,
        next_ball_m=entry.next_ball_m,
        landing_area_m=entry.landing_area_m,
        obstacles_m=entry.obstacles_m,
    )


def _steps() -> list[html.Li]:
    """Return the three steps, those that are done folded up."""
    log = desk().log
    players, cues, setups = log.players(), log.cues(), log.setups()
    has_player, has_setup = bool(players and cues), bool(setups)
    have = (
        table_words.FIRST_HAVE.format(player=players[0].nickname, cue=cues[0].name)
        if has_player
        else table_words.FIRST_WHO
    )
    return [
        _step(have, _who_fields(), is_done=has_player),
        _step(
            setups[0].name if has_setup else table_words.FIRST_WHERE,
            _where_fields(),
            is_done=has_setup,
        ),
        _step(table_words.FIRST_SOURCE, [], is_done=False),
    ]


def _step(title: str, fields: list[Any], *, is_done: bool) -> html.Li:
    """Return one step; its fields stay on the page, hidden, once it is done."""
    state = table_words.STEP_DONE if is_done else table_words.STEP_OPEN
    return html.Li(
        [
            html.P(
                [html.Span(title), html.Span(f" ({state})", className="only-read")],
                className="step-title",
            ),
            html.Div(fields, className="stack tight", hidden=is_done or not fields),
        ],
        className="step done" if is_done else "step",
    )


def _who_fields() -> list[Any]:
    """Return the fields for player and cue."""
    return [
        html.Div(
            [
                text_field(table_words.FIRST_PLAYER, table_ids.FIRST_PLAYER),
                text_field(table_words.FIRST_CUE, table_ids.FIRST_CUE),
            ],
            className="field-row",
        ),
        button(table_words.FIRST_SAVE, table_ids.FIRST_SAVE, kind="choice strong"),
    ]


def _where_fields() -> list[Any]:
    """Return the ways to a set-up."""
    paths = {one["path"] for one in dash.page_registry.values()}
    href = BUILDER_PATH if BUILDER_PATH in paths else LOG_PATH
    return [
        button(table_words.FIRST_SETUP, table_ids.FIRST_SETUP, kind="choice strong"),
        html.P(dcc.Link(table_words.FIRST_BUILD, href=href)),
    ]
