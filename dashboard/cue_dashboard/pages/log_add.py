"""Log: what a series needs, entered by hand: players, cues, tables and how fast they are.

Set-ups are drawn on their own page.
"""

from collections.abc import Callable
from typing import Any

import dash
from dash import Input, Output, State, dcc, html

from cue_dashboard import ids, words
from cue_dashboard.cloth_kept import keep
from cue_dashboard.components.pieces import button, card, number, select, text_field
from cue_dashboard.desk import desk
from cue_dashboard.units import MM_PER_M
from cue_practice.errors import PracticeError
from cue_table.errors import TableError
from cue_table.results import RollTest
from cue_table.setup import FULL_SIZE, TableSize
from cue_table.tip import DEFAULT_CUE

USUAL_CUE_LENGTH_MM = 1470
"""58 inches; common practice, no source."""

G_PER_KG = 1000.0


def add_card() -> html.Section:
    """Return the four forms, folded up."""
    forms = (
        (words.ADD_PLAYER, _player_form()),
        (words.ADD_CUE, _cue_form()),
        (words.ADD_TABLE, _table_form()),
        (words.ADD_ROLL, _roll_form()),
    )
    return card(
        html.H2(words.LOG_ADD),
        *[
            html.Details([html.Summary(title), html.Div(form, className="stack")], className="fold")
            for title, form in forms
        ],
        html.P(dcc.Link(words.ADD_SETUP, href="/setups")),
    )


def register(app: dash.Dash) -> None:
    """Connect the forms."""
    _connect(app, "player", add_player, ["name"])
    _connect(app, "cue", add_cue, ["name", "owner", "mass", "length", "tip"])
    _connect(app, "table", add_table, ["name", "length", "width"])
    _connect(app, "roll", add_roll, ["table", "distance", "time"])


def add_player(name: str | None) -> str:
    """Enter a player and say so, or say what is wrong."""
    return _tried(words.PLAYER, lambda: desk().log.add_player(name or ""))


def add_cue(name: str | None, owner: str | None, mass_g: Any, length_mm: Any, tip_mm: Any) -> str:
    """Enter a cue and say so, or say what is wrong."""
    missing = _missing(
        (words.CUE_MASS, mass_g), (words.CUE_LENGTH, length_mm), (words.TIP_WIDTH, tip_mm)
    )
    return missing or _tried(
        words.CUE,
        lambda: desk().log.add_cue(
            name or "",
            player_id=int(owner) if owner else None,
            mass_kg=mass_g / G_PER_KG,
            length_m=length_mm / MM_PER_M,
            tip_width_m=tip_mm / MM_PER_M,
        ),
    )


def add_table(name: str | None, length_mm: Any, width_mm: Any) -> str:
    """Enter a table and say so, or say what is wrong."""
    missing = _missing((words.TABLE_LENGTH, length_mm), (words.TABLE_WIDTH, width_mm))
    return missing or _tried(
        words.TABLE,
        lambda: desk().log.add_table(
            name or "", size=_size(length_mm / MM_PER_M, width_mm / MM_PER_M)
        ),
    )


def add_roll(table: str | None, distance_m: Any, time_s: Any) -> str:
    """Keep how fast a table is, from a ball rolled on it and timed, and say so."""
    missing = _missing(
        (words.TABLE, table), (words.ROLL_DISTANCE, distance_m), (words.ROLL_TIME, time_s)
    )
    if missing:
        return missing
    from cue_table.fit import fit_table  # heavy

    log = desk().log
    found = next(one for one in log.tables() if one.table_id == int(table or 0))
    try:
        return keep(log, found, fit_table([], roll_tests=[RollTest(distance_m, time_s)]))
    except (PracticeError, TableError) as fault:
        return str(fault)


def _size(length_m: float, width_m: float) -> TableSize:
    """Return a table of this size, its markings in proportion to a full-size one's."""
    share = length_m / FULL_SIZE.length_m
    return TableSize(
        length_m=length_m,
        width_m=width_m,
        baulk_line_m=share * FULL_SIZE.baulk_line_m,
        d_radius_m=share * FULL_SIZE.d_radius_m,
        black_from_top_m=share * FULL_SIZE.black_from_top_m,
    )


def _connect(app: dash.Dash, form: str, add: Callable[..., str], fields: list[str]) -> None:
    """Let a form's button enter what its fields say."""
    app.callback(
        Output(ids.add_said(form), "children"),
        Input(ids.add_button(form), "n_clicks"),
        *[State(ids.add_field(form, field), "value") for field in fields],
        prevent_initial_call=True,
    )(lambda _n, *values: add(*values))


def _tried(what: str, enter: Callable[[], object]) -> str:
    """Return what to say after entering something."""
    try:
        enter()
    except (PracticeError, TableError) as fault:
        return str(fault)
    return words.ADDED.format(what=what)


def _missing(*fields: tuple[str, Any]) -> str:
    """Return what still has to be filled in, empty where nothing has."""
    open_fields = [f"\u201c{name}\u201d" for name, value in fields if value is None or value == ""]
    return words.FILL_IN.format(missing=words.listed(open_fields)) if open_fields else ""


def _end(form: str) -> list[Any]:
    """Return a form's button and its answer."""
    return [
        html.P(id=ids.add_said(form), role="status"),
        button(words.SAVE, ids.add_button(form), kind="choice strong"),
    ]


def _player_form() -> list[Any]:
    """Return the form of a player."""
    return [text_field(words.NICKNAME, ids.add_field("player", "name"), value=""), *_end("player")]


def _cue_form() -> list[Any]:
    """Return the form of a cue."""
    players = [{"value": str(p.player_id), "label": p.nickname} for p in desk().log.players()]
    field = ids.add_field
    return [
        text_field(words.NAME_LABEL, field("cue", "name"), value=""),
        select(words.PLAYER, field("cue", "owner"), data=players, clearable=True),
        number(words.CUE_MASS, field("cue", "mass"), value=DEFAULT_CUE.mass_kg * G_PER_KG),
        number(words.CUE_LENGTH, field("cue", "length"), value=USUAL_CUE_LENGTH_MM),
        number(
            words.TIP_WIDTH,
            field("cue", "tip"),
            value=DEFAULT_CUE.tip_width_m * MM_PER_M,
            step=0.1,
        ),
        *_end("cue"),
    ]


def _table_form() -> list[Any]:
    """Return the form of a table, filled in for full size."""
    return [
        text_field(words.NAME_LABEL, ids.add_field("table", "name"), value=""),
        number(
            words.TABLE_LENGTH,
            ids.add_field("table", "length"),
            value=FULL_SIZE.length_m * MM_PER_M,
        ),
        number(
            words.TABLE_WIDTH, ids.add_field("table", "width"), value=FULL_SIZE.width_m * MM_PER_M
        ),
        *_end("table"),
    ]


def _roll_form() -> list[Any]:
    """Return the form of a ball that is rolled and timed."""
    tables = [{"value": str(t.table_id), "label": t.name} for t in desk().log.tables()]
    field = ids.add_field
    return [
        html.P(words.ROLL_HELP, className="help"),
        select(
            words.TABLE,
            field("roll", "table"),
            data=tables,
            value=next((one["value"] for one in tables), None),
        ),
        html.Div(
            [
                number(words.ROLL_DISTANCE, field("roll", "distance"), step=0.1),
                number(words.ROLL_TIME, field("roll", "time"), step=0.1),
            ],
            className="field-row",
        ),
        *_end("roll"),
    ]
