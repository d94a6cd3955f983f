"""Share: the switch, the link as text and as a square for a camera, and who was let in."""

from datetime import UTC, datetime
from typing import Any

import dash
import dash_mantine_components as dmc
import segno
from dash import ALL, Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard.components.pieces import aria, button, card
from cue_dashboard.door import came_through_door, door
from cue_dashboard.errors import DashboardError
from cue_dashboard.guest_book import Guest
from cue_dashboard.ids import share as ids
from cue_dashboard.words import share as words

PATH = "/share"
TITLE = words.TITLE

TICK_MS = 2000
_S_PER_MIN = 60


def layout(**_: Any) -> html.Div:
    """Return the page; a guest only learns where sharing is switched."""
    if came_through_door():
        return html.Div([html.H1(words.TITLE), html.P(words.ONLY_HERE, className="card")])
    return html.Div(
        [
            html.H1(words.TITLE),
            dcc.Interval(id=ids.TICK, interval=TICK_MS),
            dcc.Store(id=ids.CHANGED),
            dcc.Store(id=ids.REMOVED),
            dcc.Store(id=ids.SHOWN),
            html.Div(
                [
                    html.Div([_switch_card(), _link_card()], className="stack"),
                    html.Div([_guests_card(), _cautions()], className="stack"),
                ],
                className="columns",
            ),
        ]
    )


def register(app: dash.Dash) -> None:
    """Connect the switch, the link and the list of guests."""
    app.callback(
        Output(ids.CHANGED, "data"),
        Output(ids.FAULT, "children"),
        Output(ids.LINK, "children"),
        Input(ids.START, "n_clicks"),
        Input(ids.STOP, "n_clicks"),
        Input(ids.NEW_LINK, "n_clicks"),
        Input(ids.LOOK_LINK, "n_clicks"),
        State(ids.ENCRYPTED, "checked"),
        prevent_initial_call=True,
    )(switch)
    app.callback(
        Output(ids.REMOVED, "data"),
        Input({"part": ids.REMOVE, "guest": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )(remove)
    app.callback(
        Output(ids.STATE, "children"),
        Output(ids.START, "hidden"),
        Output(ids.STOP, "hidden"),
        Output(ids.LINK_CARD, "hidden"),
        Output(ids.GUESTS_CARD, "hidden"),
        Output(ids.LEFT, "children"),
        Output(ids.ENCRYPTED, "disabled"),
        Input(ids.TICK, "n_intervals"),
        Input(ids.CHANGED, "data"),
    )(show_state)
    app.callback(
        Output(ids.GUESTS, "children"),
        Output(ids.SHOWN, "data"),
        Input(ids.TICK, "n_intervals"),
        Input(ids.CHANGED, "data"),
        Input(ids.REMOVED, "data"),
        State(ids.SHOWN, "data"),
    )(show_guests)


def switch(*values: Any) -> tuple[Any, str, Any]:
    """Open or shut the door, or make a new link."""
    if came_through_door():
        return no_update, words.ONLY_HERE, no_update
    if ctx.triggered_id == ids.STOP:
        door().shut()
        return datetime.now(UTC).isoformat(), "", []
    try:
        door().open(is_encrypted=values[-1] is not False)
    except DashboardError as fault:
        return no_update, str(fault), no_update
    may_change = ctx.triggered_id != ids.LOOK_LINK
    allows = html.P(html.B(words.LINK_CHANGES if may_change else words.LINK_LOOKS))
    link = [allows, *link_picture(door().link(may_change=may_change)), *_what_the_phone_says()]
    return datetime.now(UTC).isoformat(), "", link


def _what_the_phone_says() -> list[Any]:
    """Return what another device's browser will say of the connection, and how to check it."""
    if not door().fingerprint:
        return [html.P(words.NOT_ENCRYPTED)]
    return [
        html.P(words.WARNING.format(host=door().host)),
        html.Code(door().fingerprint, className="share-link"),
    ]


def remove(clicks: list[int | None]) -> Any:
    """Let a guest in no more."""
    if came_through_door() or not any(clicks) or not isinstance(ctx.triggered_id, dict):
        return no_update
    door().sharing.remove(int(ctx.triggered_id["guest"]))
    return datetime.now(UTC).isoformat()


def show_state(*_: Any) -> tuple[str, bool, bool, bool, bool, str, bool]:
    """Return whether the pages are shared, in words, and what can be done about it."""
    address = door().address
    is_open = bool(address) and not came_through_door()
    said = words.ON.format(address=address) if is_open else words.OFF
    left_s = door().sharing.link_left_s()
    minutes = -(-int(left_s) // _S_PER_MIN)
    left = words.LINK_LEFT.format(minutes=minutes) if minutes else words.LINK_SPENT
    return said, is_open, not is_open, not is_open, not is_open, left, is_open


def show_guests(*values: Any) -> tuple[Any, Any]:
    """Return the list of guests; left alone while it says the same, so that focus stays."""
    if came_through_door():
        return no_update, no_update
    now = datetime.now(UTC)
    guests = door().sharing.guests()
    shown = [[one.guest_id, _minutes(one, now)] for one in guests]
    if shown == values[-1]:
        return no_update, no_update
    return guest_list(guests, now), shown


def guest_list(guests: tuple[Guest, ...], now: datetime) -> Any:
    """Return a table of the guests, each with a way to remove him.

    Parameters
    ----------
    guests : tuple of Guest
        As `Sharing.guests` gives them.
    now : datetime
        Against which the last visit is counted.
    """
    if not guests:
        return html.P(words.NO_GUESTS, className="quiet")
    head = html.Tr([html.Th(words.GUEST, scope="col"), html.Th(words.GUEST_SEEN, scope="col"),
                    html.Td()])  # fmt: skip
    return html.Table([html.Thead(head), html.Tbody([_guest_row(one, now) for one in guests])])


def link_picture(link: str) -> list[Any]:
    """Return the link as a QR code (ISO/IEC 18004) and as text."""
    square = segno.make(link, error="m").svg_data_uri(scale=6, border=4, light="#fff")
    return [
        html.Img(src=square, alt=words.QR_ALT, className="share-square"),
        html.Code(link, className="share-link"),
    ]


def _guest_row(guest: Guest, now: datetime) -> html.Tr:
    """Return one guest."""
    minutes = _minutes(guest, now)
    seen = words.SEEN_MINUTES.format(minutes=minutes) if minutes > 0 else words.SEEN_NOW
    label = f"{guest.guest_id}: {guest.label}"
    label = label if guest.may_change else words.GUEST_LOOKS.format(label=label)
    away = button(
        words.GUEST_REMOVE,
        {"part": ids.REMOVE, "guest": guest.guest_id},
        **aria(label=words.GUEST_REMOVE_WHICH.format(label=label)),
    )
    return html.Tr([html.Th(label, scope="row"), html.Td(seen), html.Td(away)])


def _minutes(guest: Guest, now: datetime) -> int:
    """Return how many whole minutes ago a guest last asked for something."""
    return int((now - guest.seen_utc).total_seconds() // _S_PER_MIN)


def _switch_card() -> html.Section:
    """Return the switch."""
    return card(
        html.P(words.INTRO),
        html.P(id=ids.STATE, role="status", className="share-state"),
        html.P(id=ids.FAULT, className="fault", role="alert"),
        dmc.Switch(
            id=ids.ENCRYPTED,
            label=words.ENCRYPTED,
            description=words.ENCRYPTED_HELP,
            checked=True,
            size="lg",
        ),
        html.Div(
            [
                button(words.START, ids.START, kind="choice strong"),
                button(words.STOP, ids.STOP, kind="choice", hidden=True),
            ],
            className="row",
        ),
    )


def _link_card() -> html.Section:
    """Return the link."""
    return card(
        html.H2(words.LINK_TITLE),
        html.P(words.LINK_HELP, className="quiet"),
        html.Div(id=ids.LINK, className="share-way"),
        html.P(id=ids.LEFT, className="quiet", role="status"),
        html.Div(
            [button(words.NEW_LINK, ids.NEW_LINK), button(words.LOOK_LINK, ids.LOOK_LINK)],
            className="row",
        ),
        id=ids.LINK_CARD,
        hidden=True,
    )


def _guests_card() -> html.Section:
    """Return the list of guests."""
    return card(
        html.H2(words.GUESTS_TITLE), html.Div(id=ids.GUESTS), id=ids.GUESTS_CARD, hidden=True
    )


def _cautions() -> html.Section:
    """Return what to know before sharing."""
    return card(html.H2(words.CAUTIONS_TITLE), html.Ul([html.Li(one) for one in words.CAUTIONS]))
