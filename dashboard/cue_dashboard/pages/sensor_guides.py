"""The sensor page's two guides: start, what the sensor sees, the result, and saving it."""

import math
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

import dash
from dash import Input, Output, State, ctx, html

from cue_dashboard.components.pieces import aria
from cue_dashboard.desk import Desk, desk
from cue_dashboard.errors import DashboardError
from cue_dashboard.guides import GuideRun, GuideView, Kind, begin, connected
from cue_dashboard.ids import sensor as ids
from cue_dashboard.looking import refuse_lookers
from cue_dashboard.units import MM_PER_M
from cue_dashboard.words import sensor as sensor_words
from cue_practice.errors import PracticeError

if TYPE_CHECKING:
    from cue_signal.calibrate_guide import GuideState

_runs: WeakKeyDictionary[Desk, GuideRun] = WeakKeyDictionary()
METHOD = {"rests": "six rests, guided", "roll": "rolled on the cloth, guided"}


def register(app: dash.Dash) -> None:
    """Connect the guides."""
    app.callback(
        Output(ids.RUN, "data"),
        Output(ids.SAID, "children"),
        Input(ids.RESTS_START, "n_clicks"),
        Input(ids.ROLL_START, "n_clicks"),
        Input(ids.STOP, "n_clicks"),
        Input(ids.SAVE, "n_clicks"),
        State(ids.CUE, "value"),
        State(ids.FROM_BUTT, "value"),
        prevent_initial_call=True,
    )(steer)
    app.callback(
        Output(ids.RESTS, "children"),
        Output(ids.ROLL, "children"),
        Output(ids.RESTS_START, "hidden"),
        Output(ids.ROLL_START, "hidden"),
        Output(ids.STOP, "hidden"),
        Output(ids.SAVE, "hidden"),
        Output(ids.GUIDE, "hidden"),
        Input(ids.TICK, "n_intervals"),
        Input(ids.RUN, "data"),
        Input(ids.SAID, "children"),
    )(show_guide)


def steer(_rests: Any, _roll: Any, _stop: Any, _save: Any, cue: Any, from_butt: Any) -> Any:
    """Start, stop or save a guide, and say what was done."""
    at, stamp = desk(), datetime.now(UTC).isoformat()
    cue_id = int(cue) if cue else None
    try:
        refuse_lookers()
        if ctx.triggered_id == ids.SAVE:
            return stamp, _save_result(at, cue_id)
        _end(at)
        if ctx.triggered_id == ids.STOP:
            return stamp, ""
        kind: Kind = "rests" if ctx.triggered_id == ids.RESTS_START else "roll"
        if kind == "roll" and cue_id is None:
            return stamp, sensor_words.NEEDS_CUE
        _runs[at] = begin(at, kind, cue_id, _from_butt_m(at, cue_id, from_butt))
    except DashboardError:
        return stamp, sensor_words.NEEDS_SENSOR
    except PracticeError as fault:
        return stamp, str(fault)
    return stamp, ""


def _from_butt_m(at: Desk, cue_id: int | None, from_butt: Any) -> float | None:
    """Return the distance from the butt end in metres, None where it was not measured."""
    if not isinstance(from_butt, int | float):
        return None
    length_m = next((one.length_m for one in at.log.cues() if one.cue_id == cue_id), None)
    if length_m is not None and from_butt / MM_PER_M >= length_m:
        said = sensor_words.WRONG_LENGTH
        length = f"{length_m * MM_PER_M:.0f}"
        raise PracticeError(said.format(value=f"{from_butt:g}", length=length))
    return from_butt / MM_PER_M


def _end(at: Desk) -> None:
    """End the guide that runs."""
    run = _runs.pop(at, None)
    if run is not None:
        run.close()


def _save_result(at: Desk, cue_id: int | None) -> str:
    """Keep what was measured, and have the sensor use it from now on."""
    run = _runs.get(at)
    view = None if run is None else run.view()
    if view is None or view.result is None:
        return ""
    kind, name = connected(at)
    if view.kind == "rests":
        at.log.save_calibration(kind, name, view.result.calibration, method=METHOD["rests"])
        said = sensor_words.SAVED_RESTS
    elif cue_id is None:
        return sensor_words.NEEDS_CUE
    else:
        at.log.save_mounting(cue_id, kind, name, view.result.mounting, method=METHOD["roll"])
        cue = next(one.name for one in at.log.cues() if one.cue_id == cue_id)
        said = sensor_words.SAVED_ROLL.format(cue=cue)
    _end(at)
    if at.sensor is not None:
        at.connect(at.sensor)  # the session reads what the log knows when it begins
    return said


def show_guide(_n: Any, _run: Any, said: Any) -> tuple[Any, ...]:
    """Return how the guide that runs stands."""
    run = _runs.get(desk())
    if run is None:
        return "", "", False, False, True, True, not said
    view = run.view()
    shown = _progress(view)
    is_rests = view.kind == "rests"
    return (
        shown if is_rests else "",
        "" if is_rests else shown,
        True,
        True,
        False,
        view.result is None,
        False,
    )


def _progress(view: GuideView) -> html.Div:
    """Return what to do now, how far it is, and what the sensor sees."""
    state = view.state
    if state is None:
        return html.Div(sensor_words.NEEDS_SENSOR if view.fault else sensor_words.NOT_STILL)
    parts: list[Any] = [html.P(html.B(state.words), role="status")]
    parts.append(_bar(state))
    if view.kind == "rests":
        parts.append(_faces(state))
    if view.result is not None:
        parts += [html.P(sentence) for sentence in view.result.words]
    else:
        parts.append(_sees(state))
    if view.fault:
        parts.append(html.P(view.fault, className="fault", role="alert"))
    return html.Div(parts, className="stack tight")


def _bar(state: "GuideState") -> html.Div:
    """Return a bar of the parts that are done."""
    said = sensor_words.PROGRESS.format(n_done=state.n_done, n_wanted=state.n_wanted)
    share = 100 * state.n_done / max(state.n_wanted, 1)
    return html.Div(
        html.Span(style={"width": f"{share:.0f}%"}),
        className="progress",
        role="progressbar",
        title=said,
        **aria(label=said, valuemin="0", valuemax=str(state.n_wanted), valuenow=str(state.n_done)),
    )


def _faces(state: "GuideState") -> html.Ul:
    """Return the six sides, each done or to do."""
    return html.Ul(
        [
            html.Li(
                [
                    html.Span(sensor_words.FACE[face]),
                    html.Span(
                        sensor_words.DONE if face in state.done else sensor_words.OPEN,
                        className="quiet small",
                    ),
                ],
                className="face done" if face in state.done else "face",
            )
            for face in sensor_words.FACE
        ],
        className="faces",
    )


def _sees(state: "GuideState") -> html.Div:
    """Return what the sensor sees: which way is up, and whether it lies still."""
    if state.still_s > 0:
        still = sensor_words.STILL.format(seconds=state.still_s)
    else:
        still = sensor_words.NOT_STILL
    said: list[Any] = [html.P(f"{sensor_words.SEES}: {still}", className="quiet")]
    if state.turned_rad:
        degrees = math.degrees(abs(state.turned_rad))
        said.append(html.P(sensor_words.TURNED.format(degrees=degrees), className="quiet"))
    if state.up is not None:
        said += [
            _axis(name, share) for name, share in zip(sensor_words.AXES, state.up, strict=True)
        ]
    return html.Div(said, className="sees")


def _axis(name: str, share: float) -> html.Div:
    """Return how much of one of the sensor's axes points up, as a bar from the middle."""
    low, high = sorted((50.0, 50.0 + 50.0 * max(-1.0, min(share, 1.0))))
    bar = html.Span(style={"left": f"{low:.1f}%", "right": f"{100 - high:.1f}%"})
    label = f"{name} {sensor_words.UP}: {share:+.2f}"
    return html.Div(
        [html.Span(name), html.Div(bar, className="axis-bar")],
        className="axis",
        role="img",
        **aria(label=label),
    )
