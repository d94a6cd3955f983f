"""Log: taking in a file; the browser sends it in parts, this page says how far it is."""

from typing import Any

import dash
import flask
from dash import Input, Output, State, dcc, html, no_update

from cue_dashboard import ids
from cue_dashboard.components.pieces import aria, button, card, select
from cue_dashboard.desk import desk
from cue_dashboard.errors import DashboardError
from cue_dashboard.ids import taking_in as own
from cue_dashboard.names import Names
from cue_dashboard.taking_in import MAX_FILE_BYTES, PART_BYTES, SUFFIXES, JobState, TakingIn
from cue_dashboard.words import taking_in as say

PATH = "/log/file"
TICK_MS = 400
N_SERIES = 50
_KEY = "STUNPACE_TAKING_IN"


def file_card() -> html.Section:
    """Return the card."""
    log = desk().log
    newest = log.all_series(newest=N_SERIES)
    names = Names(log, newest)
    series = [
        {"value": str(one.series_id), "label": f"{names.player_of(one.series_id)}: "
         f"{names.series(one)}"}
        for one in newest
    ]  # fmt: skip
    chosen = next((one["value"] for one in series), None)
    return card(
        html.H2(say.TITLE),
        html.P(say.HELP.format(most=MAX_FILE_BYTES // 1_000_000), className="help"),
        dcc.Store(id=own.SENT),
        dcc.Store(id=own.JOB),
        dcc.Interval(id=own.TICK, interval=TICK_MS, disabled=True),
        select(
            say.SERIES,
            own.SERIES,
            data=series,
            value=chosen,
            error=None if series else say.NO_SERIES,
        ),
        html.Div(
            button(
                say.CHOOSE,
                own.BUTTON,
                disabled=not series,
                **{
                    "data-to": PATH,
                    "data-part": str(PART_BYTES),
                    "data-kinds": ",".join(SUFFIXES),
                    "data-sending": say.SENDING,
                    "data-broken": say.BROKEN_OFF,
                },
            ),
            className="row",
        ),
        html.Progress(id=own.PROGRESS, max="1", value="0", hidden=True, **aria(label=say.PROGRESS)),
        html.P(id=own.SAID, role="status"),
        html.P(id=own.DONE),
    )


def register(app: dash.Dash) -> None:
    """Serve what the browser sends to, and connect what it says afterwards."""
    server = app.server
    server.config[_KEY] = TakingIn()
    server.add_url_rule(PATH, "file_begin", _begin, methods=["POST"])
    server.add_url_rule(f"{PATH}/<key>", "file_part", _part, methods=["POST"])
    app.callback(
        Output(own.JOB, "data"),
        Output(own.TICK, "disabled"),
        Output(own.SAID, "children"),
        Output(own.PROGRESS, "value"),
        Output(own.PROGRESS, "hidden"),
        Output(own.DONE, "children"),
        Input(own.SENT, "data"),
        Input(own.TICK, "n_intervals"),
        State(own.SERIES, "value"),
        State(own.JOB, "data"),
        prevent_initial_call=True,
    )(follow)


def follow(
    sent: dict[str, str] | None, _n: Any, series: str | None, job: str | None
) -> tuple[Any, ...]:
    """Start what was sent whole, then say how far it is until it is over."""
    key = (sent or {}).get("key")
    if key is None or series is None:
        return (no_update,) * 6
    try:
        if key != job:
            taking_in().start(key, desk().log, int(series))
        return _shown(key, taking_in().state(key))
    except DashboardError as fault:
        return key, True, str(fault), "0", True, None


def taking_in() -> TakingIn:
    """Return the files on their way of the dashboard that is answering just now."""
    found = flask.current_app.config[_KEY]
    if not isinstance(found, TakingIn):
        raise TypeError("the dashboard was made without create_app")
    return found


def _shown(key: str, state: JobState) -> tuple[Any, ...]:
    """Return what the card shows."""
    link = None
    if state.shot_id is not None:
        # the list of shots above is read anew
        dash.set_props(ids.LOG_CHANGED, {"data": state.shot_id})
        link = dcc.Link(say.LOOK, href=f"/strokes?shot={state.shot_id}")
    return key, state.is_over, state.words, f"{state.share:.2f}", state.is_over, link


def _begin() -> tuple[dict[str, str], int]:
    """Answer whether a file may come, and its key."""
    fields = flask.request.args
    try:
        key = taking_in().begin(fields.get("name", ""), fields.get("size", 0, type=int))
    except DashboardError as fault:
        return {"fault": str(fault)}, 400
    return {"key": key}, 200


def _part(key: str) -> tuple[dict[str, str], int]:
    """Take a part of a file."""
    try:
        at = flask.request.args.get("at", -1, type=int)
        taking_in().add(key, at, flask.request.get_data(cache=False))
    except DashboardError as fault:
        return {"fault": str(fault)}, 400
    return {}, 200
