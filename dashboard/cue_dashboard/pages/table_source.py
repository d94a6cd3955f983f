"""At the table: where strokes come from, a sensor or a recording that is rehearsed."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import dash
from dash import ALL, Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.air import Heard, SensorChoice, last_sensor
from cue_dashboard.components.pieces import aria, button, card, segments, select
from cue_dashboard.desk import desk
from cue_dashboard.ids import table as table_ids
from cue_dashboard.looking import refuse_lookers
from cue_dashboard.pages.sensor_left import left_recordings
from cue_dashboard.words import sensor as sensor_words
from cue_dashboard.words import table as table_words
from cue_practice.errors import PracticeError
from cue_sensors.decoders import decoders
from cue_sensors.errors import SensorError

AUTO = "auto"
RATES_HZ = (100, 200, 400)


def source_card() -> html.Section:
    """Return the card: how the source stands, and the choice of one."""
    return card(
        html.Div(
            [
                html.Div(
                    [
                        html.Span(table_words.NOT_CONNECTED, id=ids.TABLE_STATE, role="status"),
                        html.Span(id=table_ids.FACTS, className="quiet small facts-line"),
                    ],
                    className="source-state",
                ),
                button(words.STOP_SOURCE, ids.TABLE_STOP, hidden=True),
            ],
            className="spread middle nowrap",
        ),
        html.Details(
            [html.Summary(table_words.CHOOSE_SOURCE, className="plain"), _choice()],
            id=ids.TABLE_SOURCE_CHOICE,
            open=True,
        ),
        *_left_note(),
        html.P(id=ids.TABLE_SOURCE_FAULT, className="fault", role="alert"),
        id=ids.TABLE_SOURCE,
    )


def _choice() -> html.Div:
    """Return the choice of a source; in mid-series it is folded up."""
    return html.Div(
        [
            html.H2(words.SOURCE_TITLE),
            segments(
                words.SOURCE_TITLE,
                ids.TABLE_SOURCE_KIND,
                [
                    {"value": "sensor", "label": words.SOURCE_SENSOR},
                    {"value": "rehearsal", "label": words.SOURCE_REHEARSAL},
                ],
                value="sensor" if last_sensor() else "rehearsal",
                fullWidth=True,
                size="md",
            ),
            _sensor_part(),
            _rehearsal_part(),
        ],
        className="stack",
    )


def _left_note() -> list[html.P]:
    """Return that a crash left recordings open, where it did."""
    left = left_recordings()
    if not left:
        return []
    link = dcc.Link(sensor_words.LEFT_LINK, href="/sensor")
    return [html.P([sensor_words.left_note(len(left)) + " ", link])]


def _sensor_part() -> html.Div:
    """Return the way to a sensor: the last one, those that are heard, kind and rate."""
    last = last_sensor()
    kinds = [{"value": AUTO, "label": table_words.KIND_AUTO}]
    kinds += [{"value": one, "label": table_words.kind(one)} for one in decoders]
    rates = [{"value": AUTO, "label": table_words.RATE_AUTO}]
    rates += [
        {"value": str(one), "label": table_words.RATE_HZ.format(rate=one)} for one in RATES_HZ
    ]
    rate = AUTO if last is None or last.rate_hz is None else f"{last.rate_hz:g}"
    known = {one["value"] for one in rates}
    return html.Div(
        [
            button(
                table_words.CONNECT_LAST.format(name=last.label) if last else "",
                table_ids.CONNECT_LAST,
                kind="choice strong",
                hidden=last is None,
            ),
            button(table_words.SCAN, table_ids.SCAN, kind="choice" if last else "choice strong"),
            html.Div(id=table_ids.SCAN_LIST, className="stack tight", **aria(live="polite")),
            html.P(id=table_ids.CONNECT_FAULT, className="fault", role="alert"),
            html.Details(
                [
                    html.Summary(table_words.RATE + ", " + table_words.KIND.lower()),
                    html.Div(
                        [
                            select(
                                table_words.RATE,
                                table_ids.RATE,
                                data=rates,
                                value=rate if rate in known else AUTO,
                            ),
                            select(table_words.KIND, table_ids.KIND, data=kinds, value=AUTO),
                        ],
                        className="field-row",
                    ),
                ],
                className="fold",
            ),
            html.P(
                [
                    table_words.SENSOR_HELP + " ",
                    dcc.Link(table_words.SENSOR_HELP_LINK, href="/sensor"),
                ],
                className="quiet",
            ),
        ],
        id=table_ids.CONNECT,
        className="stack",
    )


def _rehearsal_part() -> html.Div:
    """Return the choice of a recording and its speed."""
    recordings = [{"value": str(k), "label": r.label} for k, r in enumerate(desk().recordings)]
    return html.Div(
        [
            select(words.RECORDING, ids.TABLE_RECORDING, data=recordings, value=None),
            segments(
                words.SPEED,
                ids.TABLE_SPEED,
                [
                    {"value": "1", "label": words.SPEED_REAL},
                    {"value": "4", "label": words.SPEED_FAST},
                ],
                value="1",
                fullWidth=True,
            ),
            button(words.REHEARSE, ids.TABLE_REHEARSE, kind="choice strong", disabled=True),
            html.P(words.REHEARSE_NEEDS_SERIES, id=table_ids.REHEARSE_NOTE, hidden=True),
        ],
        id=ids.TABLE_SOURCE_REHEARSAL,
        className="stack",
    )


def register(app: dash.Dash) -> None:
    """Connect the card."""
    app.callback(
        Output(ids.TABLE_SOURCED, "data"),
        Output(ids.TABLE_SOURCE_FAULT, "children"),
        Input(ids.TABLE_REHEARSE, "n_clicks"),
        Input(ids.TABLE_STOP, "n_clicks"),
        Input(ids.TABLE_END, "n_clicks"),
        Input(table_ids.SCAN, "n_clicks"),
        Input(table_ids.CONNECT_LAST, "n_clicks"),
        State(ids.TABLE_RECORDING, "value"),
        State(ids.TABLE_SPEED, "value"),
        State(table_ids.RATE, "value"),
        State(ids.TABLE_DESK, "data"),
        prevent_initial_call=True,
    )(switch_source)
    # apart from the buttons above: the list is drawn anew while one of them is answered
    app.callback(
        Output(table_ids.CONNECT_FAULT, "children"),
        Input({"type": table_ids.FOUND, "address": ALL}, "n_clicks"),
        State(table_ids.KIND, "value"),
        State(table_ids.RATE, "value"),
        prevent_initial_call=True,
    )(connect_found)
    app.callback(
        Output(ids.TABLE_SOURCE_REHEARSAL, "hidden"),
        Output(table_ids.CONNECT, "hidden"),
        Input(ids.TABLE_SOURCE_KIND, "value"),
    )(show_kind)
    app.callback(
        Output(ids.TABLE_RECORDING, "value"),
        Output(ids.TABLE_REHEARSE, "disabled"),
        Output(table_ids.REHEARSE_NOTE, "hidden"),
        Input(ids.TABLE_DESK, "data"),
        State(ids.TABLE_RECORDING, "value"),
    )(offer_recording)
    app.callback(
        Output(table_ids.SCAN_LIST, "children"),
        Output(table_ids.SCAN, "disabled"),
        Input(ids.TABLE_DESK, "data"),
    )(show_heard)


def switch_source(*values: Any) -> tuple[Any, str]:
    """Start or stop what strokes come from, look for sensors, or end the series."""
    recording, speed, rate, state = values[-4:]
    tapped, at = ctx.triggered_id, desk()
    try:
        refuse_lookers()
        if tapped == table_ids.SCAN:
            at.air.listen()
        elif tapped == ids.TABLE_STOP:
            at.let_go()
        elif tapped == ids.TABLE_REHEARSE:
            _rehearse(state, recording, speed)
        elif tapped == ids.TABLE_END:
            _end_series(state)
        else:
            at.connect(_last(rate))
    except (SensorError, PracticeError) as fault:
        return no_update, str(fault)
    return datetime.now(UTC).isoformat(), ""


def _rehearse(state: Any, recording: str | None, speed: str) -> None:
    """Play the chosen recording into the open series."""
    at = desk()
    if not state or state["series_id"] is None:
        raise PracticeError(words.REHEARSE_NEEDS_SERIES)
    if recording is None:
        raise PracticeError(words.NO_RECORDINGS)
    at.rehearse(state["series_id"], at.recordings[int(recording)].path, float(speed))


def _end_series(state: Any) -> None:
    """End the open series; a sensor stays connected."""
    at = desk()
    if state and state["series_id"] is not None:
        at.log.edit_series(state["series_id"], ended_utc=datetime.now(UTC))
        at.follow_open_series()


def _last(rate: str | None) -> SensorChoice:
    """Return the sensor that was used last, with the rate that is chosen now."""
    last = last_sensor()
    if last is None:
        raise SensorError(table_words.SCAN_NONE)
    return replace(last, rate_hz=_rate_hz(rate))


def _rate_hz(rate: str | None) -> float | None:
    """Return a chosen rate, None for the sensor's own."""
    return None if rate in (None, AUTO) else float(rate or 0)


def connect_found(_clicks: list[int | None], kind: str | None, rate: str | None) -> Any:
    """Connect to a sensor of the list that was tapped, or say why not."""
    if not isinstance(ctx.triggered_id, dict) or not ctx.triggered[0]["value"]:
        return no_update  # a list that was drawn, not tapped
    address, at = ctx.triggered_id["address"], desk()
    found = next((one for one in at.air.heard().found if one.address == address), None)
    if found is None:
        return table_words.SCAN_NONE
    spoken = found.kind if kind in (None, AUTO) else kind
    if spoken is None:
        return table_words.CHOOSE_KIND.format(name=found.name or found.address)
    try:
        at.connect(SensorChoice(spoken, found.name, found.address, _rate_hz(rate)))
    except (SensorError, PracticeError) as fault:
        return str(fault)
    return ""


def show_kind(kind: str) -> tuple[bool, bool]:
    """Return which part of the source's choice is hidden."""
    return kind != "rehearsal", kind != "sensor"


def offer_recording(state: Any, chosen: str | None) -> tuple[Any, bool, bool]:
    """Return a recording that fits the set-up of the series, unless one is chosen.

    Without a series there is nothing to rehearse into: the button waits, and a note says so.
    """
    at = desk()
    if not state or state["series_id"] is None:
        return no_update, True, False
    if chosen is not None or not at.recordings:
        return no_update, False, True
    name = at.log.setup(at.log.series(state["series_id"]).setup_id).name
    fitting = [k for k, one in enumerate(at.recordings) if one.setup_name == name]
    return str(fitting[0] if fitting else 0), False, True


def show_heard(state: Any) -> tuple[Any, bool]:
    """Return what was heard, and whether looking goes on."""
    if not state or not state["heard"][0]:
        return html.P(table_words.SCAN_HINT, className="quiet"), False
    heard = desk().air.heard()
    return _heard(heard), heard.is_listening


def _heard(heard: Heard) -> list[Any]:
    """Return the sensors that were heard as buttons, and how looking stands."""
    said: list[Any] = []
    if heard.is_listening:
        said.append(
            html.Div(
                [html.Span(table_words.SCANNING), html.Span(className="busy")],
                className="scanning",
                role="status",
            )
        )
    elif heard.fault:
        said.append(html.P(heard.fault, className="fault", role="alert"))
    elif not heard.found:
        said.append(html.P(table_words.SCAN_NONE, className="quiet"))
    if heard.found:
        known_first = sorted(heard.found, key=lambda one: one.kind is None)
        said.append(html.P(table_words.FOUND_TITLE, className="quiet"))
        said += [_found(one) for one in known_first]
    return said


def _found(one: Any) -> html.Button:
    """Return one sensor that was heard, as a button that connects to it."""
    facts = [table_words.kind(one.kind), table_words.signal(one.signal_dbm)]
    return html.Button(
        [
            html.Span(one.name or table_words.NO_NAME, className="found-name"),
            html.Span(" \u00b7 ".join(filter(None, facts)), className="quiet small"),
        ],
        id={"type": table_ids.FOUND, "address": one.address},
        type="button",
        className="found",
    )
