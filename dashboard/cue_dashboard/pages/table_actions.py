"""At the table: what a tap does. Every tap is in the log when its callback returns."""

from datetime import UTC, datetime
from typing import Any

import dash
from dash import ALL, Input, Output, State, ctx, no_update

from cue_dashboard import ids, words
from cue_dashboard.desk import desk
from cue_dashboard.figures.plan import on_cushion, on_table
from cue_dashboard.judging import Pick, after_this
from cue_dashboard.units import MM_PER_M, PaceScale
from cue_practice.errors import PracticeError
from cue_practice.grades import Grade
from cue_practice.views import Point
from cue_sensors.errors import SensorError

NUDGE_M = 0.02
_STEP = {"left": (-1, 0), "right": (1, 0), "up": (0, 1), "down": (0, -1)}
_GRADE_OF = {button: Grade(value) for value, button in ids.TABLE_GRADE.items()}
_WAY_OF = {button: way for way, button in ids.TABLE_NUDGE.items()}


def register(app: dash.Dash) -> None:
    """Connect the taps."""
    app.callback(
        Output(ids.TABLE_STARTED, "data"),
        Output(ids.TABLE_START_FAULT, "children"),
        Input(ids.TABLE_START_BUTTON, "n_clicks"),
        State(ids.TABLE_START_PLAYER, "value"),
        State(ids.TABLE_START_CUE, "value"),
        State(ids.TABLE_START_SETUP, "value"),
        State(ids.TABLE_START_TIP, "value"),
        State(ids.TABLE_START_CALLED, "value"),
        State(ids.UNIT, "value"),
        prevent_initial_call=True,
    )(start_series)
    app.callback(
        Output(ids.TABLE_SOURCED, "data"),
        Output(ids.TABLE_SOURCE_FAULT, "children"),
        Input(ids.TABLE_REHEARSE, "n_clicks"),
        Input(ids.TABLE_STOP, "n_clicks"),
        Input(ids.TABLE_END, "n_clicks"),
        State(ids.TABLE_RECORDING, "value"),
        State(ids.TABLE_SPEED, "value"),
        State(ids.TABLE_DESK, "data"),
        prevent_initial_call=True,
    )(switch_source)
    app.callback(
        Output(ids.TABLE_SOURCE_REHEARSAL, "hidden"),
        Output(ids.TABLE_SOURCE_LATER, "hidden"),
        Input(ids.TABLE_SOURCE_KIND, "value"),
    )(show_kind)
    app.callback(
        Output(ids.TABLE_RECORDING, "value"),
        Input(ids.TABLE_DESK, "data"),
        State(ids.TABLE_RECORDING, "value"),
    )(offer_recording)
    app.callback(
        Output(ids.TABLE_ACT, "data"),
        Output(ids.TABLE_SAID, "children"),
        Output(ids.TABLE_PICK, "data"),
        Output(ids.TABLE_WHERE_KIND, "value"),
        *[Input(one, "n_clicks") for one in _BUTTONS],
        Input(ids.TABLE_PLAN, "clickData"),
        State(ids.TABLE_SHOWN, "data"),
        State(ids.TABLE_DESK, "data"),
        State(ids.TABLE_WHERE_KIND, "value"),
        prevent_initial_call=True,
    )(act)
    # apart from the taps: marks are drawn anew with every stroke, which asks this callback again
    app.callback(
        Output(ids.TABLE_MARKED, "data"),
        Input({"type": ids.TABLE_MARK, "shot": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )(go_back)


_BUTTONS = (
    *ids.TABLE_GRADE.values(),
    ids.TABLE_POTTED,
    ids.TABLE_MISSED,
    ids.TABLE_NEXT,
    ids.TABLE_UNDO,
    ids.TABLE_NO_SHOT,
    *ids.TABLE_NUDGE.values(),
)


def start_series(
    _n: int,
    player: str | None,
    cue: str | None,
    setup: str | None,
    tip_mm: Any,
    called: Any,
    unit: str,
) -> tuple[Any, str]:
    """Enter a new series, or say what is missing."""
    missing = [
        name.lower()
        for name, value in ((words.PLAYER, player), (words.CUE, cue), (words.SETUP, setup))
        if value is None
    ]
    if missing:
        return no_update, words.START_MISSING.format(missing=words.listed(missing))
    if not isinstance(tip_mm, int | float):
        return no_update, words.START_MISSING.format(missing=words.A_TIP_HEIGHT)
    log = desk().log
    try:
        series = log.add_series(
            int(player or 0),
            int(cue or 0),
            log.setup(int(setup or 0)).table_id,
            int(setup or 0),
            tip_mm / MM_PER_M,
            called_pace_m_s=_called_m_s(called, unit),
        )
    except PracticeError as fault:
        return no_update, str(fault)
    return series.series_id, ""


def switch_source(
    _rehearse: Any, _stop: Any, _end: Any, recording: str | None, speed: str, state: Any
) -> tuple[Any, str]:
    """Start or stop the rehearsal, or end the series."""
    at, series_id = desk(), state and state["series_id"]
    if series_id is None:
        return no_update, ""
    if ctx.triggered_id == ids.TABLE_REHEARSE:
        if recording is None:
            return no_update, words.NO_RECORDINGS
        try:
            at.rehearse(series_id, at.recordings[int(recording)].path, float(speed))
        except (SensorError, PracticeError) as fault:
            return no_update, str(fault)
    else:
        at.stop()
    if ctx.triggered_id == ids.TABLE_END:
        at.log.edit_series(series_id, ended_utc=datetime.now(UTC))
    return datetime.now(UTC).isoformat(), ""


def show_kind(kind: str) -> tuple[bool, bool]:
    """Return which part of the source's choice is hidden."""
    return kind != "rehearsal", kind != "sensor"


def offer_recording(state: Any, chosen: str | None) -> Any:
    """Return a recording that fits the set-up of the series, unless one is chosen."""
    at = desk()
    if not state or state["series_id"] is None or chosen is not None or not at.recordings:
        return no_update
    name = at.log.setup(at.log.series(state["series_id"]).setup_id).name
    fitting = [k for k, one in enumerate(at.recordings) if one.setup_name == name]
    return str(fitting[0] if fitting else 0)


def act(*values: Any) -> tuple[Any, Any, Any, Any]:
    """Do what was tapped, for the shot that the page showed when it was tapped."""
    shown, state, kind = values[-3:]
    tapped = ctx.triggered_id
    if not state or state["series_id"] is None or not ctx.triggered[0]["value"]:
        return (no_update,) * 4
    try:
        shot_id = shown["shot_id"] if shown else None
        said, pick, next_kind = _do(tapped, shot_id, state["series_id"], kind, values[-4])
    except PracticeError as fault:
        said, pick, next_kind = str(fault), no_update, no_update
    stamp = datetime.now(UTC).isoformat()
    return stamp, said, pick if pick is no_update else {**vars(pick), "at": stamp}, next_kind


def go_back(_clicks: list[int | None]) -> Any:
    """Return the pick of a shot whose mark was tapped."""
    if not isinstance(ctx.triggered_id, dict) or not ctx.triggered[0]["value"]:
        return no_update
    pick = Pick(int(ctx.triggered_id["shot"]), is_held=True)
    return {**vars(pick), "at": datetime.now(UTC).isoformat()}


def _do(tapped: Any, shown: int | None, series_id: int, kind: str, click: Any) -> tuple[Any, ...]:
    """Return what was done in words, the pick from now on, and what the plan asks for next."""
    log = desk().log
    if tapped == ids.TABLE_UNDO:
        undone = log.undo(series_id)
        said = words.UNDONE.format(what=undone.what) if undone else words.NOTHING_TO_UNDO
        return said, Pick(undone.shot_id if undone else None), no_update
    if shown is None:
        return words.NO_SHOT, no_update, no_update
    shots = log.shots(series_id=series_id)
    number = 1 + [shot.shot_id for shot in shots].index(shown) if shown in _ids(shots) else 0
    if tapped == ids.TABLE_NEXT:
        return "", after_this(shots, shown), "cushion"
    if tapped == ids.TABLE_NO_SHOT:
        log.discard(shown)
        return words.DISCARDED.format(number=number), Pick(), "cushion"
    if tapped in _GRADE_OF:
        log.set_result(shown, grade=_GRADE_OF[tapped])
        said = words.GRADE_NAME[_GRADE_OF[tapped]].lower()
        return words.SAVED.format(number=number, what=said), Pick(shown), no_update
    if tapped in (ids.TABLE_POTTED, ids.TABLE_MISSED):
        is_potted = tapped == ids.TABLE_POTTED
        log.set_result(shown, is_potted=is_potted)
        said = (words.POTTED if is_potted else words.MISSED).lower()
        return words.SAVED.format(number=number, what=said), Pick(shown, is_held=True), no_update
    return _mark_place(tapped, shown, number, kind, click)


def _mark_place(
    tapped: str, shown: int, number: int, kind: str, click: Any
) -> tuple[str, Pick, Any]:
    """Keep a tap on the plan, or move the last one a little."""
    log = desk().log
    shot = log.shot(shown)
    setup = log.setup(log.series(shot.series_id).setup_id).setup
    if tapped in _WAY_OF:
        point = shot.cushion_point_m if kind == "cushion" else shot.stop_point_m
        if point is None:
            return words.NOTHING_TO_MOVE, Pick(shown, is_held=True), no_update
        step_x, step_y = _STEP[_WAY_OF[tapped]]
        point = (point[0] + NUDGE_M * step_x, point[1] + NUDGE_M * step_y)
    else:
        point = _clicked(click)
        if point is None:
            return "", Pick(shown, is_held=True), no_update
    what = words.WHERE_CUSHION if kind == "cushion" else words.WHERE_STOP
    if kind == "cushion":
        log.set_result(shown, cushion_point_m=on_cushion(setup, point))
    else:
        log.set_result(shown, stop_point_m=on_table(setup, point))
    next_kind = "stop" if tapped not in _WAY_OF else no_update
    said = words.SAVED.format(number=number, what=what.lower())
    return said, Pick(shown, is_held=True), next_kind


def _clicked(click: Any) -> Point | None:
    """Return the place of a click on the plan, wherever on it; None where there is none."""
    if not click:
        return None
    if click.get("xvals"):
        return float(click["xvals"][0]), float(click["yvals"][0])
    points = click.get("points") or []
    return (float(points[0]["x"]), float(points[0]["y"])) if points else None


def _called_m_s(called: Any, unit: str) -> float | None:
    """Return the called pace in m/s, None where none is called."""
    if not isinstance(called, int | float):
        return None
    return called / PaceScale.of(unit).factor


def _ids(shots: list[Any]) -> list[int]:
    """Return the shots' numbers in the log."""
    return [shot.shot_id for shot in shots]
