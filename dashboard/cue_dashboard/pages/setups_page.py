"""Set-ups: build one on the plan by hand, keyboard or numbers, try a stroke, keep it in the log."""

from typing import Any

import dash
from dash import ALL, ClientsideFunction, Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard.desk import desk
from cue_dashboard.drafts import (
    USUAL_PACE_M_S,
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
from cue_dashboard.pages import setups_cards, setups_keep, setups_say, setups_ways
from cue_dashboard.pages.setups_cards import DERIVED, DRAWN, USUAL_TIP_MM
from cue_dashboard.units import MM_PER_M, PaceScale
from cue_dashboard.words import setups as words
from cue_table.setup import POCKETS

PATH = "/setups"
TITLE = words.TITLE

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
            setups_cards.list_card(),
            html.Div(
                [
                    html.Div([setups_cards.board_card()], className="stack setups-sticky"),
                    html.Div(
                        [
                            setups_cards.place_card(tables),
                            setups_cards.area_card(),
                            setups_cards.shot_card(),
                            setups_cards.save_card(),
                        ],
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
