"""Set-ups: the cards beside the plan, and the plan's own."""

from typing import Any

import dash_mantine_components as dmc
from dash import html

from cue_dashboard.components.pieces import aria, button, card, number, segments, select, text_field
from cue_dashboard.desk import desk
from cue_dashboard.drafts import HARDEST_M_S, USUAL_PACE_M_S, USUAL_TIP_M, AreaWish
from cue_dashboard.ids import setups as ids
from cue_dashboard.pages import setups_keep
from cue_dashboard.playing import NOBODY, player_choices
from cue_dashboard.units import MM_PER_M
from cue_dashboard.words import POCKET_NAME
from cue_dashboard.words import setups as words
from cue_table.setup import POCKETS

SOFTEST_M_S = 0.3
USUAL_TIP_MM = USUAL_TIP_M * MM_PER_M
MOST_TIP_MM = 14.0
MOST_SIDE_MM = 12.0
ANY_POCKET = "any"
TYPED_MS = 400
"""How long a typed number rests before it counts."""

DRAWN, DERIVED = "drawn", "derived"


def list_card() -> html.Section:
    """Return the card of the set-ups in the log."""
    return card(
        html.Div(
            [html.H2(words.LIST_TITLE), button(words.NEW, ids.NEW)],
            className="spread",
        ),
        html.Div(setups_keep.list_items(None), id=ids.LIST),
    )


def board_card() -> html.Section:
    """Return the card of the plan."""
    return card(
        html.H2(words.BOARD_TITLE),
        html.Div(id=ids.BOARD, className="setups-board"),
        html.P(words.BOARD_HELP, className="help"),
        kind="setups-plan",
    )


def place_card(tables: list[dict[str, str]]) -> html.Section:
    """Return the card that says where things lie."""
    pockets = [{"value": name, "label": POCKET_NAME[name]} for name in POCKETS]
    return card(
        html.H2(words.PLACE_TITLE),
        html.Div(
            [
                text_field(words.NAME, ids.NAME, value=""),
                select(words.TABLE, ids.TABLE, data=tables, value=tables[0]["value"]),
            ],
            className="field-row",
        ),
        html.Div(
            [
                select(words.POCKET, ids.POCKET, data=pockets, value="top_right"),
                select(
                    words.CHOSEN,
                    ids.CHOSEN,
                    data=[{"value": "white", "label": words.WHITE}],
                    value="white",
                ),
            ],
            className="field-row",
        ),
        html.Div(
            [
                number(words.ACROSS, ids.ACROSS, debounce=TYPED_MS),
                number(words.UP, ids.UP, debounce=TYPED_MS),
            ],
            className="field-row",
        ),
        html.Div(
            [
                button(words.ADD_NEXT, ids.ADD_NEXT),
                button(words.ADD_OBSTACLE, ids.ADD_OBSTACLE),
                button(words.REMOVE, ids.REMOVE),
            ],
            className="row",
        ),
    )


def area_card() -> html.Section:
    """Return the card of the landing area: drawn, or derived from the next ball."""
    usual = AreaWish()
    pockets = [{"value": ANY_POCKET, "label": words.BEST_POCKET}]
    pockets += [{"value": name, "label": POCKET_NAME[name]} for name in POCKETS]
    return card(
        html.H2(words.AREA_TITLE),
        segments(
            words.AREA_KIND,
            ids.AREA_KIND,
            [
                {"value": DRAWN, "label": words.AREA_DRAWN},
                {"value": DERIVED, "label": words.AREA_DERIVED},
            ],
            value=DRAWN,
            fullWidth=True,
        ),
        html.Div(
            [
                dmc.Switch(id=ids.TAP_CORNERS, label=words.TAP_CORNERS, checked=False, size="lg"),
                html.Div(
                    [
                        button(words.ADD_CORNER, ids.ADD_CORNER),
                        button(words.CLEAR_CORNERS, ids.CLEAR_CORNERS),
                    ],
                    className="row",
                ),
            ],
            id=ids.AREA_DRAWN,
            className="stack",
        ),
        html.Div(
            [
                html.P(words.DERIVED_NEEDS_NEXT, className="help"),
                select(words.NEXT_POCKET, ids.NEXT_POCKET, data=pockets, value=ANY_POCKET),
                number(
                    words.GREATEST_CUT,
                    ids.GREATEST_CUT,
                    value=usual.greatest_cut_deg,
                    min=1,
                    max=89,
                    debounce=TYPED_MS,
                ),
                html.Div(
                    [
                        number(
                            words.NEAREST,
                            ids.NEAREST,
                            value=usual.nearest_m * MM_PER_M,
                            step=10,
                            debounce=TYPED_MS,
                        ),
                        number(
                            words.FURTHEST,
                            ids.FURTHEST,
                            value=usual.furthest_m * MM_PER_M,
                            step=10,
                            debounce=TYPED_MS,
                        ),
                    ],
                    className="field-row",
                ),
            ],
            id=ids.AREA_DERIVED,
            className="stack",
            hidden=True,
        ),
    )


def shot_card() -> html.Section:
    """Return the card of the stroke that is tried."""
    return card(
        html.H2(words.SHOT_TITLE),
        html.Div(
            [html.Span(words.PACE), html.Strong(id=ids.PACE_WORDS)],
            className="spread",
        ),
        dmc.Slider(
            id=ids.PACE,
            min=SOFTEST_M_S,
            max=HARDEST_M_S,
            step=0.05,
            value=USUAL_PACE_M_S,
            label=None,
            updatemode="drag",
            size="xl",
            thumbSize=30,
            thumbLabel=words.PACE,
        ),
        html.Div(
            [
                number(
                    words.TIP,
                    ids.TIP,
                    value=USUAL_TIP_MM,
                    min=-MOST_TIP_MM,
                    max=MOST_TIP_MM,
                    step=0.5,
                    description=words.TIP_HELP,
                    debounce=TYPED_MS,
                ),
                number(
                    words.SIDE,
                    ids.SIDE,
                    value=0,
                    min=-MOST_SIDE_MM,
                    max=MOST_SIDE_MM,
                    step=0.5,
                    description=words.SIDE_HELP,
                    debounce=TYPED_MS,
                ),
            ],
            className="field-row",
        ),
        select(words.PLAYED_BY, ids.PLAYED_BY, **_players()),
        html.Div(id=ids.RUN, className="stack tight", **aria(live="polite")),
        html.Ul(id=ids.FAULTS, className="setups-faults", **aria(live="polite")),
        kind="setups-shot",
    )


def _players() -> dict[str, Any]:
    """Return who may play the stroke, and who does at first."""
    known, newest = player_choices(desk().log)
    data = [{"value": value, "label": name} for value, name in known]
    return {"data": [{"value": NOBODY, "label": words.NOBODY}, *data], "value": newest}


def save_card() -> html.Section:
    """Return the card that keeps the set-up."""
    return card(
        html.Div(
            [
                button(words.SAVE, ids.SAVE, kind="choice strong"),
                button(words.SAVE_NEW, ids.SAVE_NEW, kind="choice"),
            ],
            className="pair",
        ),
        html.P(id=ids.SAID, className="said", role="status"),
    )
