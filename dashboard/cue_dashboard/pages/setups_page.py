"""Set-ups: build one on the plan by hand, keyboard or numbers, try a stroke, keep it in the log."""

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard.components.pieces import aria, button, card, number, segments, select, text_field
from cue_dashboard.desk import desk
from cue_dashboard.drafts import (
    HARDEST_M_S,
    USUAL_PACE_M_S,
    USUAL_TIP_M,
    AreaWish,
    Draft,
    draft_of,
    fresh_draft,
    is_draft,
    judged,
    moved_to,
    picture_of,
    setup_of,
)
from cue_dashboard.ids import UNIT
from cue_dashboard.ids import setups as ids
from cue_dashboard.pages import setups_keep, setups_say, setups_ways
from cue_dashboard.playing import NOBODY, player_choices
from cue_dashboard.units import MM_PER_M, PaceScale
from cue_dashboard.words import POCKET_NAME
from cue_dashboard.words import setups as words
from cue_table.setup import POCKETS

PATH = "/setups"
TITLE = words.TITLE

SOFTEST_M_S = 0.3
USUAL_TIP_MM = USUAL_TIP_M * MM_PER_M
MOST_TIP_MM = 14.0
MOST_SIDE_MM = 12.0
ANY_POCKET = "any"
TYPED_MS = 400
"""How long a typed number rests before it counts."""

DRAWN, DERIVED = "drawn", "derived"

ON_PAGE = (
    State(ids.DRAFT, "data"),
    State(ids.TABLE, "value"),
    State(ids.NAME, "value"),
    State(ids.POCKET, "value"),
    State(ids.AREA_KIND, "value"),
    State(ids.NEXT_POCKET, "value"),
    State(ids.GREATEST_CUT, "value"),
    State(ids.NEAREST, "value"),
    State(ids.FURTHEST, "value"),
)
"""Everything a set-up on the page is made of, in the order of `wished`."""


def layout(**_: Any) -> html.Div:
    """Return the page."""
    tables = setups_keep.table_choices()
    first = tables[0]["value"]
    return html.Div(
        [
            html.H1(words.TITLE),
            dcc.Store(id=ids.EDITED),
            dcc.Store(id=ids.KEPT),
            dcc.Store(id=ids.SHOWN),
            dcc.Store(id=ids.DRAWN),
            dcc.Store(id=ids.TYPED),
            dcc.Store(id=ids.EDITS),
            dcc.Store(id=ids.NAMES, data=_names()),
            dcc.Store(id=ids.DRAFT, data=fresh_draft(setups_keep.size_of(first))),
            _list_card(),
            html.Div(
                [
                    html.Div([_board_card()], className="stack setups-sticky"),
                    html.Div(
                        [_place_card(tables), _area_card(), _shot_card(), _save_card()],
                        className="stack",
                    ),
                ],
                className="columns setups-columns below",
                id=ids.BUILDER,
            ),
            setups_ways.ways_card(),
        ]
    )


def register(app: dash.Dash) -> None:
    """Connect the plan, the numbers beside it, and what is said of the shot."""
    _register_plan(app)
    app.callback(
        Output(ids.DRAFT, "data"),
        Output(ids.EDITED, "data"),
        Output(ids.NAME, "value"),
        Output(ids.TABLE, "value"),
        Output(ids.TABLE, "data"),
        Output(ids.POCKET, "value"),
        Output(ids.AREA_KIND, "value"),
        Input({"part": ids.OPEN, "setup": ALL}, "n_clicks"),
        Input(ids.NEW, "n_clicks"),
        Input(ids.TABLE, "value"),
        Input(ids.KEPT, "data"),
        State(ids.DRAFT, "data"),
        prevent_initial_call=True,
    )(hold)
    app.callback(
        Output(ids.SHOWN, "data"),
        Output(ids.FAULTS, "children"),
        Output(ids.FAULTS, "className"),
        Output(ids.RUN, "children"),
        Output(ids.PACE_WORDS, "children"),
        Output(ids.AREA_DRAWN, "hidden"),
        Output(ids.AREA_DERIVED, "hidden"),
        *[Input(one.component_id, one.component_property) for one in ON_PAGE],
        Input(ids.PACE, "value"),
        Input(ids.TIP, "value"),
        Input(ids.SIDE, "value"),
        Input(ids.PLAYED_BY, "value"),
        Input(UNIT, "value"),
    )(judge)
    setups_keep.register(app, ON_PAGE, wished)
    setups_ways.register(app, ON_PAGE, wished)


def hold(
    _clicks: list[int | None], _new: int | None, table: str, kept: Any, draft: Draft
) -> tuple[Any, ...]:
    """Put a set-up of the log or a fresh one on the plan, or what is there on another table."""
    none = no_update
    if not any(one.get("value") for one in ctx.triggered):
        return (none,) * 7
    if ctx.triggered_id == ids.KEPT:
        setup_id, table = kept
        return none, setup_id, none, table, setups_keep.table_choices(), none, none
    if ctx.triggered_id == ids.TABLE:
        return change_table(table, draft), none, none, none, none, none, none
    if ctx.triggered_id == ids.NEW:
        fresh = fresh_draft(setups_keep.size_of(table))
        return fresh, None, "", none, none, "top_right", DRAWN
    entry = desk().log.setup(int(ctx.triggered_id["setup"]))
    setup, table = entry.setup, setups_keep.table_value(entry.table_id)
    return draft_of(setup), entry.setup_id, setup.name, table, none, setup.pocket, DRAWN


def change_table(table: str, draft: Draft) -> Any:
    """Move everything to a table of another size, in proportion."""
    size = setups_keep.size_of(table)
    shown = draft["table"]
    if shown["length_m"] == size.length_m and shown["width_m"] == size.width_m:
        return no_update
    return moved_to(draft, size)


def wished(*values: Any) -> tuple[Any, AreaWish] | None:
    """Return the set-up on the page, unchecked, and how its area is found; None before it is there.

    Parameters
    ----------
    *values
        In the order of `ON_PAGE`.
    """
    draft, table, name, pocket, kind, next_pocket, cut, nearest, furthest = values
    if not is_draft(draft) or pocket not in POCKETS:
        return None
    setup = setup_of(draft, setups_keep.size_of(table), name=(name or "").strip(), pocket=pocket)
    usual = AreaWish()
    return setup, AreaWish(
        is_derived=kind == DERIVED,
        pocket=next_pocket if next_pocket in POCKETS else None,
        greatest_cut_deg=_number(cut, usual.greatest_cut_deg),
        nearest_m=_number(nearest, usual.nearest_m * MM_PER_M) / MM_PER_M,
        furthest_m=_number(furthest, usual.furthest_m * MM_PER_M) / MM_PER_M,
    )


def judge(*values: Any) -> tuple[Any, ...]:
    """Return what the table model says of the set-up on the page and of the stroke tried."""
    *page, pace_m_s, tip_mm, side_mm, player, unit = values
    scale, kind = PaceScale.of(unit), page[4]
    found = wished(*page)
    if found is None:
        return (no_update,) * 7
    answer = judged(
        *found,
        tip_speed_m_s=_number(pace_m_s, USUAL_PACE_M_S),
        below_centre_m=_number(tip_mm, USUAL_TIP_MM) / MM_PER_M,
        side_m=_number(side_mm, 0.0) / MM_PER_M,
        playing=setups_keep.playing_on(page[1], player),
    )
    return (
        picture_of(answer),
        setups_say.fault_items(answer),
        "setups-faults" if answer.faults else "setups-faults none",
        setups_say.run_words(answer, scale),
        scale.text(_number(pace_m_s, USUAL_PACE_M_S)),
        kind != DRAWN,
        kind != DERIVED,
    )


def _register_plan(app: dash.Dash) -> None:
    """Connect the plan with the numbers beside it, in the browser alone."""

    def browser(name: str, *wires: Any, **more: Any) -> None:
        app.clientside_callback(ClientsideFunction("setups", name), *wires, **more)

    names = State(ids.NAMES, "data")
    browser(
        "draw",
        Output(ids.DRAWN, "data"),
        Input(ids.DRAFT, "data"),
        Input(ids.SHOWN, "data"),
        Input(ids.CHOSEN, "value"),
        Input(ids.AREA_KIND, "value"),
        Input(ids.TAP_CORNERS, "checked"),
        names,
    )
    browser(
        "things",
        Output(ids.CHOSEN, "data"),
        Input(ids.DRAFT, "data"),
        Input(ids.AREA_KIND, "value"),
        names,
    )
    browser(
        "place_of",
        Output(ids.ACROSS, "value"),
        Output(ids.UP, "value"),
        Input(ids.DRAFT, "data"),
        Input(ids.CHOSEN, "value"),
    )
    browser(
        "typed",
        Output(ids.TYPED, "data"),
        Input(ids.ACROSS, "value"),
        Input(ids.UP, "value"),
        State(ids.DRAFT, "data"),
        State(ids.CHOSEN, "value"),
        prevent_initial_call=True,
    )
    browser(
        "edit",
        Output(ids.EDITS, "data"),
        *[
            Input(one, "n_clicks")
            for one in (
                ids.ADD_NEXT,
                ids.ADD_OBSTACLE,
                ids.REMOVE,
                ids.ADD_CORNER,
                ids.CLEAR_CORNERS,
            )
        ],
        prevent_initial_call=True,
    )


def _names() -> dict[str, str]:
    """Return the words the plan itself says, for the browser."""
    return {
        "board": words.BOARD_LABEL,
        "white": words.WHITE,
        "object": words.OBJECT,
        "next": words.NEXT,
        "obstacle": words.OBSTACLE,
        "corner": words.CORNER,
        "place": words.ITEM_PLACE,
    }


def _number(value: Any, usual: float) -> float:
    """Return a number that was typed, the usual one where the field is empty."""
    return float(value) if isinstance(value, int | float) else usual


def _list_card() -> html.Section:
    """Return the card of the set-ups in the log."""
    return card(
        html.Div(
            [html.H2(words.LIST_TITLE), button(words.NEW, ids.NEW)],
            className="spread",
        ),
        html.Div(setups_keep.list_items(None), id=ids.LIST),
    )


def _board_card() -> html.Section:
    """Return the card of the plan."""
    return card(
        html.H2(words.BOARD_TITLE),
        html.Div(id=ids.BOARD, className="setups-board"),
        html.P(words.BOARD_HELP, className="help"),
        kind="setups-plan",
    )


def _place_card(tables: list[dict[str, str]]) -> html.Section:
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


def _area_card() -> html.Section:
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


def _shot_card() -> html.Section:
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


def _save_card() -> html.Section:
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
