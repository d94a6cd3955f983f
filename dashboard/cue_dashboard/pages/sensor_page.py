"""The sensor: clip it on, calibrate it, roll the cue, and what a crash left open."""

from typing import Any

import dash
from dash import Input, Output, dcc, html, no_update

from cue_dashboard import words
from cue_dashboard.air import last_sensor
from cue_dashboard.components.pieces import aria, button, card, number, select
from cue_dashboard.desk import desk
from cue_dashboard.errors import DashboardError
from cue_dashboard.guides import connected
from cue_dashboard.ids import sensor as ids
from cue_dashboard.pages.sensor_left import left_card
from cue_dashboard.words import sensor as sensor_words
from cue_dashboard.words import table as table_words
from cue_practice.errors import PracticeError
from cue_practice.live_status import LiveStatus
from cue_sensors.errors import SensorError

PATH = "/sensor"
TITLE = sensor_words.TITLE
TICK_MS = 400


def layout(**_: Any) -> html.Div:
    """Return the page."""
    return html.Div(
        [
            html.H1(sensor_words.TITLE),
            dcc.Interval(id=ids.TICK, interval=TICK_MS),
            dcc.Store(id=ids.RUN),
            html.Div(
                [
                    html.Div([_state_card(), _mount_card(), left_card()], className="stack"),
                    html.Div([_rests_card(), _roll_card(), _guide_card()], className="stack"),
                ],
                className="columns halves",
            ),
            _cautions(),
        ]
    )


def register(app: dash.Dash) -> None:
    """Connect the sensor's state and the button that connects it."""
    app.callback(
        Output(ids.STATE, "children"),
        Output(ids.STATE, "className"),
        Output(ids.KNOWN, "children"),
        Output(ids.CONNECT, "hidden"),
        Input(ids.TICK, "n_intervals"),
        Input(ids.CUE, "value"),
    )(show_state)
    app.callback(
        Output(ids.CONNECT_FAULT, "children"),
        Input(ids.CONNECT, "n_clicks"),
        prevent_initial_call=True,
    )(connect_last)


def _state_card() -> html.Section:
    """Return whether a sensor is connected, and what is known of it."""
    last = last_sensor()
    return card(
        html.P(sensor_words.INTRO, className="quiet"),
        html.P(sensor_words.NONE, id=ids.STATE, className="state", role="status"),
        html.Div(id=ids.KNOWN, className="quiet"),
        html.Div(
            [
                button(
                    sensor_words.CONNECT.format(name=last.label) if last else "",
                    ids.CONNECT,
                    kind="plain strong",
                    hidden=last is None,
                ),
                dcc.Link(sensor_words.GO_TO_TABLE, href="/", className="plain as-button"),
            ],
            className="row",
        ),
        html.P(id=ids.CONNECT_FAULT, className="fault", role="alert"),
    )


def _mount_card() -> html.Section:
    """Return where the sensor goes, and on which cue."""
    cues = desk().log.cues()
    last = next(iter(desk().log.all_series(newest=1)), None)
    cue = str(last.cue_id) if last else next((str(one.cue_id) for one in cues), None)
    return card(
        html.H2(sensor_words.MOUNT_TITLE),
        _picture(),
        html.Ol([html.Li(step) for step in sensor_words.MOUNT_STEPS], className="spaced"),
        html.Div(
            [
                select(
                    sensor_words.CUE,
                    ids.CUE,
                    data=[{"value": str(one.cue_id), "label": one.name} for one in cues],
                    value=cue,
                ),
                number(
                    sensor_words.FROM_BUTT,
                    ids.FROM_BUTT,
                    min=0,
                    max=1600,
                    step=5,
                    description=sensor_words.FROM_BUTT_HELP,
                ),
            ],
            className="field-row",
        ),
    )


def _picture() -> html.Div:
    """Return a cue from butt to tip with the sensor on it."""
    parts = [
        html.Span(html.Span(name), className=f"cue-part cue-{name}") for name in sensor_words.PARTS
    ]
    return html.Div(parts, className="cue-picture", role="img", **aria(label=sensor_words.PICTURE))


def _rests_card() -> html.Section:
    """Return the six rests."""
    return card(
        html.H2(sensor_words.RESTS_TITLE),
        html.P(sensor_words.RESTS_HELP, className="quiet"),
        html.Div(id=ids.RESTS),
        button(sensor_words.RESTS_START, ids.RESTS_START, kind="choice strong"),
    )


def _roll_card() -> html.Section:
    """Return the roll."""
    return card(
        html.H2(sensor_words.ROLL_TITLE),
        html.P(sensor_words.ROLL_HELP, className="quiet"),
        html.Div(id=ids.ROLL),
        button(sensor_words.ROLL_START, ids.ROLL_START, kind="choice strong"),
    )


def _guide_card() -> html.Section:
    """Return what goes with either guide: stop, save, what was said."""
    return card(
        html.Div(
            [
                button(sensor_words.SAVE, ids.SAVE, kind="plain strong", hidden=True),
                button(sensor_words.STOP, ids.STOP, hidden=True),
            ],
            className="row",
        ),
        html.P(id=ids.SAID, role="status"),
        id=ids.GUIDE,
        hidden=True,
    )


def _cautions() -> html.Section:
    """Return what keeps a player from harm."""
    return card(
        html.H2(words.CAUTIONS_TITLE),
        html.Ul([html.Li(caution) for caution in words.CAUTIONS], className="spaced"),
        kind="below",
    )


def show_state(_n: Any, cue: str | None) -> tuple[Any, ...]:
    """Return how the sensor stands, and what is known of it on the chosen cue."""
    at = desk()
    status = at.status()
    if at.sensor is None or status is None or not words.is_live(status):
        return sensor_words.NONE, "state", "", last_sensor() is None
    is_sending = status.is_connected and status.n_samples > 0
    name = status.sensor_name or at.sensor.label
    said = sensor_words.CONNECTED if is_sending else sensor_words.SEEKING
    look = "state on" if is_sending else "state seeking"
    known = _known(status, cue)
    if is_sending:
        known = [html.P(" \u00b7 ".join(table_words.facts(status)), className="quiet"), *known]
    return said.format(name=name, words=status.words), look, known, True


def _known(status: LiveStatus, cue: str | None) -> list[html.P]:
    """Return which calibration and mounting are in use."""
    log = desk().log
    try:
        kind, name = connected(desk())
    except DashboardError:
        return []
    said = []
    calibration = log.calibration_for(kind, name)
    if calibration is not None:
        when = calibration.made_utc.strftime(sensor_words.WHEN)
        said.append(sensor_words.KNOWN_CALIBRATION.format(when=when))
    mounting = log.mounting_for(int(cue), kind, name) if cue else None
    if mounting is not None:
        when = mounting.made_utc.strftime(sensor_words.WHEN)
        on = next(one.name for one in log.cues() if one.cue_id == mounting.cue_id)
        said.append(sensor_words.KNOWN_MOUNTING.format(cue=on, when=when))
    return [html.P(one) for one in said or [sensor_words.KNOWN_NOTHING]]


def connect_last(_n: Any) -> Any:
    """Connect to the sensor that was used last, or say why not."""
    last = last_sensor()
    if last is None:
        return no_update
    try:
        desk().connect(last)
    except (SensorError, PracticeError) as fault:
        return str(fault)
    return ""
