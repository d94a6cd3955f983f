"""Coach: the page to take home, opened to print or downloaded."""

from typing import Any

import dash
from dash import Input, Output, State, html

from cue_dashboard import ids
from cue_dashboard.components.pieces import aria, card, select
from cue_dashboard.desk import desk
from cue_dashboard.ids import coach as own
from cue_dashboard.pupil_sheets import PAGE_PATH, PDF_PATH, Sheet
from cue_dashboard.units import PaceScale
from cue_dashboard.words import coach as say
from cue_practice.questions import Held, graded
from cue_practice.trade_words import height_words, side_words


def print_card() -> html.Section:
    """Return the choice of the page and the two ways to it."""
    return card(
        html.H2(say.PRINT_TITLE),
        html.P(say.PRINT_HELP, className="help"),
        html.Div(
            [
                select(say.PRINT_QUESTION, own.QUESTION, data=[], value=None),
                html.Div(
                    [
                        html.A(
                            say.PRINT_OPEN,
                            id=own.PRINT,
                            target="_blank",
                            rel="noopener",
                            className="plain strong as-button",
                            **aria(label=say.PRINT_OPENS),
                        ),
                        html.A(say.PRINT_PDF, id=own.PDF, className="plain as-button"),
                    ],
                    className="row",
                ),
            ],
            id=own.PRINT_CARD,
            className="stack",
        ),
    )


def register(app: dash.Dash) -> None:
    """Connect the choice and the ways."""
    app.callback(
        Output(own.QUESTION, "data"),
        Output(own.QUESTION, "value"),
        Output(own.QUESTION, "error"),
        Input(own.CHANGED_OF, "data"),
        State(own.QUESTION, "value"),
    )(offer)
    app.callback(
        Output(own.PRINT, "href"),
        Output(own.PDF, "href"),
        Input(own.QUESTION, "value"),
        Input(ids.UNIT, "value"),
        State(own.PLAYER, "value"),
    )(ways)


def offer(player: str | None, chosen: str | None) -> tuple[Any, ...]:
    """Return the set-ups and heights that a pupil has results of, the newest first."""
    log = desk().log
    held = [one for one in graded(log) if str(one.player_id) == player]
    options = [{"value": _key(one), "label": _label(one)} for one in held]
    values = [one["value"] for one in options]
    value = chosen if chosen in values else next(iter(values), None)
    return options, value, None if options else say.PRINT_NONE


def ways(question: str | None, unit: str, player: str | None) -> tuple[Any, Any]:
    """Return the addresses of the page and of its PDF; none while nothing is chosen."""
    if question is None or player is None:
        return None, None
    setup, below, side = question.split("|")
    held = Held(int(player), int(setup), float(below), float(side))
    query = Sheet(held, PaceScale.of(unit)).query
    return f"{PAGE_PATH}?{query}", f"{PDF_PATH}?{query}"


def _key(held: Held) -> str:
    """Return what names a question among a player's own."""
    return f"{held.setup_id}|{held.tip_below_centre_m:.4f}|{held.side_m:.4f}"


def _label(held: Held) -> str:
    """Return a question in words."""
    words = f"{desk().log.setup(held.setup_id).name}, {height_words(held.tip_below_centre_m)}"
    return f"{words}, {side_words(held.side_m)}" if held.side_m else words
