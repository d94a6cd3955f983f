"""At the table: what helps between shots: the pace aloud, a tone, a screen that stays on.

The switches are kept by the browser, not by the log: another player's phone is another matter.
"""

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ClientsideFunction, Input, Output, html

from cue_dashboard.components.pieces import aria, card, segments
from cue_dashboard.ids import table as table_ids
from cue_dashboard.words import table as table_words

TOLERANCES_PERCENT = ("3", "5", "10")
USUAL_TOLERANCE_PERCENT = "5"

_KEPT: dict[str, Any] = {"persistence": True, "persistence_type": "local"}


def register(app: dash.Dash) -> None:
    """Connect the switches to the page's own script."""
    app.clientside_callback(
        ClientsideFunction("table", "aids"),
        Output(table_ids.AIDS_NOTE, "children"),
        Input(table_ids.SAY, "checked"),
        Input(table_ids.TONE, "checked"),
        Input(table_ids.AWAKE, "checked"),
    )


def aids_row() -> html.Section:
    """Return the switches in one row, and beneath them what the browser cannot do."""
    return html.Section(
        [
            html.Div(
                [
                    _chip(table_ids.SAY, table_words.SAY, is_on=False),
                    _chip(table_ids.TONE, table_words.TONE, is_on=False),
                    _chip(table_ids.AWAKE, table_words.AWAKE, is_on=True),
                ],
                className="aids-chips",
            ),
            html.P(id=table_ids.AIDS_NOTE, className="quiet small note", role="status"),
        ],
        id=table_ids.AIDS,
        className="aids",
        hidden=True,
        **aria(label=table_words.AIDS_TITLE),
    )


def tolerance_card() -> html.Section:
    """Return how near to a called pace counts, and what the tone says of it."""
    choices = [
        {"value": one, "label": table_words.TOLERANCE_CHOICE.format(percent=one)}
        for one in TOLERANCES_PERCENT
    ]
    return card(
        html.H2(table_words.TOLERANCE),
        segments(
            table_words.TOLERANCE,
            table_ids.TOLERANCE,
            choices,
            value=USUAL_TOLERANCE_PERCENT,
            fullWidth=True,
            size="md",
            **_KEPT,
        ),
        html.P(table_words.TONE_HELP, className="help"),
        id=table_ids.TOLERANCE_ROW,
        hidden=True,
    )


def _chip(chip_id: str, label: str, *, is_on: bool) -> dmc.Chip:
    """Return a switch that the browser keeps."""
    return dmc.Chip(label, id=chip_id, checked=is_on, size="lg", radius="md", **_KEPT)
