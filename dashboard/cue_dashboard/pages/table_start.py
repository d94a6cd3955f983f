"""At the table: the form that starts a series, filled in as the last one was."""

from typing import Any

import dash
from dash import Input, Output, State, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import button, card, number, select
from cue_dashboard.desk import desk
from cue_dashboard.ids import table as table_ids
from cue_dashboard.shown import scale_shown
from cue_dashboard.units import MM_PER_M, tips_text
from cue_practice.log import PracticeLog
from cue_practice.views import Series, SetUpEntry

USUAL_TIP_MM = 9.5
"""One tip below centre, where a first series starts; common practice, no source."""
MOST_MM = 26
"""Farther from the white's centre is off the ball, whose radius is 26.25 mm."""


def register(app: dash.Dash) -> None:
    """Connect the form."""
    app.callback(
        Output(ids.TABLE_START_CUE, "data"),
        Output(ids.TABLE_START_CUE, "value"),
        Input(ids.TABLE_START_PLAYER, "value"),
        State(ids.TABLE_START_CUE, "value"),
        prevent_initial_call=True,
    )(offer_cues)
    app.callback(
        Output(ids.TABLE_START_TIP_WORDS, "children"),
        Input(ids.TABLE_START_TIP, "value"),
        Input(ids.TABLE_START_CUE, "value"),
        prevent_initial_call=True,
    )(say_tips)
    app.callback(Output(ids.TABLE_START_CALLED, "label"), Input(ids.UNIT, "value"))(label_called)


def offer_cues(player: str | None, chosen: str | None) -> tuple[Any, Any]:
    """Return the cues of a player, the chosen one kept where it is among them."""
    if player is None:
        return [], None
    offered = [
        {"value": str(cue.cue_id), "label": cue.name} for cue in desk().log.cues(int(player))
    ]
    values = [one["value"] for one in offered]
    return offered, chosen if chosen in values else next(iter(values), None)


def say_tips(tip_mm: Any, cue: str | None) -> str:
    """Return the tip height in tips of the chosen cue."""
    if not isinstance(tip_mm, int | float):
        return ""
    width_m = next(
        (one.tip_width_m for one in desk().log.cues() if str(one.cue_id) == cue), USUAL_TIP_MM / 1e3
    )
    return tips_text(tip_mm / MM_PER_M, width_m)


def label_called(unit: str) -> Any:
    """Return the label of the called pace in the unit of the screen."""
    return words.CALLED_PACE.format(unit=unit) if unit else no_update


def start_card() -> html.Section:
    """Return the form that starts a series, filled in as the last one was."""
    log = desk().log
    last = next(iter(log.all_series(newest=1)), None)
    return card(
        html.H2(words.START_TITLE),
        html.P(words.START_HELP, className="quiet"),
        html.Div(what_is_missing(), id=ids.TABLE_START_MISSING),
        html.Div(
            [
                *_start_fields(last, log.setups()),
                html.P(id=ids.TABLE_START_FAULT, className="fault", role="alert"),
                button(words.START, ids.TABLE_START_BUTTON, kind="choice strong"),
            ],
            id=table_ids.START_FIELDS,
            className="stack",
            hidden=bool(what_is_missing()),
        ),
        id=ids.TABLE_START,
        hidden=True,
    )


def what_is_missing() -> list[html.P]:
    """Return what has to be in the log before a series can be started."""
    log = desk().log
    lists = ((words.PLAYER, log.players()), (words.CUE, log.cues()), (words.SETUP, log.setups()))
    missing = [name.lower() for name, entries in lists if not entries]
    if not missing:
        return []
    return [html.P(words.START_EMPTY.format(missing=words.listed(missing)), className="fault")]


def player_choice(log: PracticeLog) -> list[dict[str, str]]:
    """Return the players for a choice."""
    return [{"value": str(one.player_id), "label": one.nickname} for one in log.players()]


def _start_fields(last: Series | None, setups: list[SetUpEntry]) -> list[Any]:
    """Return the fields of the form."""
    players = player_choice(desk().log)
    player = str(last.player_id) if last else next((p["value"] for p in players), None)
    setup = str(last.setup_id) if last else next((str(s.setup_id) for s in setups), None)
    cues, cue = offer_cues(player, str(last.cue_id) if last else None)
    return [
        html.Div(
            [
                select(words.PLAYER, ids.TABLE_START_PLAYER, data=players, value=player),
                select(words.CUE, ids.TABLE_START_CUE, data=cues, value=cue),
            ],
            className="field-row",
        ),
        select(words.SETUP, ids.TABLE_START_SETUP, data=setups_by_table(setups), value=setup),
        html.Div(_held_fields(last, cue), className="field-row held-fields"),
    ]


def _held_fields(last: Series | None, cue: str | None) -> list[Any]:
    """Return the fields for where the tip meets the white, and for a pace that is called."""
    tip_mm = last.tip_below_centre_m * MM_PER_M if last else USUAL_TIP_MM
    side_mm = last.side_m * MM_PER_M if last else 0.0
    tip = _offset_field(words.TIP_HEIGHT, ids.TABLE_START_TIP, tip_mm, words.TIP_HEIGHT_HELP)
    side = _offset_field(words.TIP_SIDE, ids.TABLE_START_SIDE, side_mm, words.TIP_SIDE_HELP)
    label = label_called(scale_shown().unit)
    called = number(
        label, ids.TABLE_START_CALLED, min=0, step=0.1, description=words.CALLED_PACE_HELP
    )
    return [
        html.Div(
            [tip, html.P(say_tips(tip_mm, cue), id=ids.TABLE_START_TIP_WORDS, className="quiet")]
        ),
        side,
        called,
    ]


def _offset_field(label: str, field_id: str, offset_mm: float, help_text: str) -> Any:
    """Return the field for how far from the white's centre the tip meets it, one way."""
    return number(
        label,
        field_id,
        value=round(offset_mm, 2),
        min=-MOST_MM,
        max=MOST_MM,
        step=0.5,
        description=help_text,
    )


def setups_by_table(setups: list[SetUpEntry]) -> list[dict[str, Any]]:
    """Return the set-ups for a choice, grouped by the table they are marked on."""
    return [
        {
            "group": table.name,
            "items": [
                {"value": str(one.setup_id), "label": one.name}
                for one in setups
                if one.table_id == table.table_id
            ],
        }
        for table in desk().log.tables()
        if any(one.table_id == table.table_id for one in setups)
    ]
