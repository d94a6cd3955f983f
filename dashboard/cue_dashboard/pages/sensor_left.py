"""Recordings that a crash left open: shown, closed, and taken into the log."""

from pathlib import Path
from typing import Any

import dash
from dash import ALL, Input, Output, ctx, html, no_update

from cue_dashboard.components.pieces import button, card
from cue_dashboard.desk import desk
from cue_dashboard.ids import sensor as ids
from cue_dashboard.looking import refuse_lookers
from cue_dashboard.words import sensor as sensor_words
from cue_practice.errors import PracticeError
from cue_practice.folder import data_folder
from cue_practice.log import PracticeLog
from cue_sensors.errors import SensorError
from cue_sensors.space import close_left_open, left_open
from cue_signal.errors import SignalError

SERIES_LABEL = "series_id"
"""Label under which a live session notes the series it began with."""


def recordings_folder() -> Path:
    """Return the folder that live sessions record to."""
    return data_folder() / "recordings"


def left_recordings() -> list[Path]:
    """Return what a crash left open; what the running session writes to is none of it."""
    status = desk().status()
    now = None if status is None else status.recording_path
    return [path for path in left_open(recordings_folder()) if path != now]


def left_card() -> html.Section:
    """Return the card, hidden where nothing was left open."""
    left = left_recordings()
    return card(
        html.H2(sensor_words.LEFT_TITLE),
        html.P(sensor_words.LEFT_HELP, className="quiet"),
        html.Div(_buttons(left), id=ids.LEFT, className="stack tight"),
        html.P(id=ids.LEFT_SAID, role="status"),
        id=ids.LEFT_CARD,
        hidden=not left,
    )


def register(app: dash.Dash) -> None:
    """Connect the card."""
    app.callback(
        Output(ids.LEFT, "children"),
        Output(ids.LEFT_SAID, "children"),
        Input({"type": ids.LEFT_TAKE, "name": ALL}, "n_clicks"),
        prevent_initial_call=True,
        running=[(Output(ids.LEFT_CARD, "aria-busy"), "true", "false")],
    )(take_in)


def take_in(_clicks: list[int | None]) -> tuple[Any, Any]:
    """Close the recording that was tapped and enter its strokes, or say why not."""
    if not isinstance(ctx.triggered_id, dict) or not ctx.triggered[0]["value"]:
        return no_update, no_update
    name = ctx.triggered_id["name"]
    path = next((one for one in left_recordings() if one.name == name), None)
    if path is None:  # another browser was quicker
        return _buttons(left_recordings()), no_update
    try:
        refuse_lookers()
        said = taken_in(desk().log, path)
    except (SensorError, SignalError, PracticeError) as fault:
        said = str(fault)
    desk().moved()
    return _buttons(left_recordings()), said


def taken_in(log: PracticeLog, path: Path) -> str:
    """Close a recording and enter the strokes that the log lacks; return what was done.

    Parameters
    ----------
    log : PracticeLog
        Where its strokes belong.
    path : Path
        The recording.

    Raises
    ------
    SensorError, SignalError, PracticeError
        If it cannot be closed, read or entered; nothing recorded is changed by that.
    """
    from cue_sensors.load import load_recording  # heavy, and seldom needed
    from cue_signal.analysis import analyse

    close_left_open(path)
    recording = load_recording(path)
    strokes = analyse(recording).strokes
    series = recording.labels.get(SERIES_LABEL, "")
    if not series.isdecimal():
        return sensor_words.LEFT_NO_SERIES.format(name=path.name, n_found=len(strokes))
    before = log.n_strokes()
    entry = log.add_recording(path, recording=recording, is_growing=True)
    log.add_strokes(entry.recording_id, int(series), strokes)
    n_new = log.n_strokes() - before
    return sensor_words.LEFT_TAKEN.format(name=path.name, n_found=len(strokes), n_new=n_new)


def _buttons(left: list[Path]) -> list[Any]:
    """Return a button for each recording."""
    return [
        button(
            sensor_words.LEFT_TAKE.format(name=path.name),
            {"type": ids.LEFT_TAKE, "name": path.name},
            kind="plain wraps",
        )
        for path in left
    ]
