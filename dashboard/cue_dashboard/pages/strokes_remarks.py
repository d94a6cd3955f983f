"""Stroke by stroke: what the coach remarks on a stroke, pinned to a moment or not."""

from typing import TYPE_CHECKING, Any

import dash
from dash import ALL, Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard import ids
from cue_dashboard.components.pieces import aria, button, card, number, text_field
from cue_dashboard.desk import desk
from cue_dashboard.ids import strokes as own
from cue_dashboard.words import strokes as say
from cue_practice.errors import PracticeError

if TYPE_CHECKING:
    from cue_practice.views import Remark

MOMENT_DIGITS = 3


def card_of_remarks() -> html.Section:
    """Return the list of remarks and the form of a new one."""
    return card(
        html.H2(say.REMARKS_TITLE),
        dcc.Store(id=own.REMARKED),
        html.Div(id=own.REMARKS),
        html.Div(
            [
                text_field(say.REMARK, own.REMARK_TEXT, value=""),
                number(
                    say.REMARK_AT,
                    own.REMARK_AT,
                    value="",
                    decimalScale=MOMENT_DIGITS,
                    step=0.01,
                ),
            ],
            className="field-row remark-fields",
        ),
        html.P(say.REMARKS_HELP, className="help"),
        html.Div(
            [
                button(say.REMARK_SAVE, own.REMARK_SAVE, kind="plain strong"),
                html.P(id=own.REMARK_SAID, role="status"),
                button(say.REMARK_UNDO, own.REMARK_UNDO, hidden=True),
            ],
            className="row",
        ),
    )


def register(app: dash.Dash) -> None:
    """Connect the list, the form, and the curve that sets the moment."""
    app.callback(
        Output(own.REMARKS, "children"),
        Input(ids.STROKES_SHOT, "data"),
        Input(own.REMARKED, "data"),
    )(show_remarks)
    app.callback(
        Output(own.REMARK_AT, "value"),
        Input(ids.STROKES_SPEED_GRAPH, "clickData"),
        Input(ids.STROKES_SHOT, "data"),
        Input(own.REMARKED, "data"),
        prevent_initial_call=True,
    )(set_moment)
    app.callback(
        Output(own.REMARKED, "data"),
        Output(own.REMARK_SAID, "children"),
        Output(own.REMARK_TEXT, "value"),
        Output(own.REMARK_UNDO, "hidden"),
        Input(own.REMARK_SAVE, "n_clicks"),
        Input(own.REMARK_TEXT, "n_submit"),
        Input(own.REMARK_UNDO, "n_clicks"),
        Input({"type": own.REMARK_REMOVE, "remark": ALL}, "n_clicks"),
        Input(ids.STROKES_SHOT, "data"),
        State(own.REMARK_TEXT, "value"),
        State(own.REMARK_AT, "value"),
        State(own.REMARKED, "data"),
        prevent_initial_call=True,
    )(change_remarks)


def show_remarks(shot_id: int | None, _remarked: Any) -> Any:
    """Return the remarks on a stroke, numbered as on its curve."""
    if shot_id is None:
        return None
    try:
        remarks = desk().log.remarks(shot_id)
    except PracticeError:
        return None
    if not remarks:
        return html.P(say.REMARKS_NONE, className="quiet")
    return html.Ol(
        [_remark(number, one) for number, one in enumerate(remarks, start=1)], className="remarks"
    )


def set_moment(click: Any, _shot: Any, _remarked: Any) -> Any:
    """Return the moment that was tapped on the curve; another stroke or a kept remark clears it."""
    if ctx.triggered_id != ids.STROKES_SPEED_GRAPH:
        return ""
    at_s = moment_of(click)
    return no_update if at_s is None else at_s


def moment_of(click: Any) -> float | None:
    """Return the time of a tap on the curve, None where it has none."""
    if not isinstance(click, dict):
        return None
    places = click.get("xvals") or [point.get("x") for point in click.get("points") or ()]
    if not places or not isinstance(places[0], int | float):
        return None
    return round(float(places[0]), MOMENT_DIGITS)


def change_remarks(
    _save: Any,
    _submit: Any,
    _undo: Any,
    _remove: Any,
    shot_id: int | None,
    text: str | None,
    at_s: float | str | None,
    remarked: dict[str, Any] | None,
) -> tuple[Any, ...]:
    """Keep a remark, take one away or bring it back, and say so."""
    touched = ctx.triggered_id
    if touched == ids.STROKES_SHOT:
        return no_update, "", no_update, True
    if shot_id is None or not ctx.triggered[0]["value"]:
        return (no_update,) * 4
    before = remarked or {"n": 0, "gone": None}
    done = {"n": before["n"] + 1, "gone": None}
    try:
        if isinstance(touched, dict):
            gone = desk().log.remove_remark(int(touched["remark"]))
            return done | {"gone": [gone.text, gone.at_s]}, say.REMARK_GONE, no_update, False
        if touched == own.REMARK_UNDO and before["gone"]:
            # written anew: the log's own undo might meet what another browser changed since
            _keep(shot_id, *before["gone"])
            return done, say.REMARK_BACK, no_update, True
        if not (text or "").strip():
            return no_update, say.REMARK_EMPTY, no_update, True
        _keep(shot_id, text, at_s)
    except PracticeError as fault:
        return no_update, str(fault), no_update, True
    return done, say.REMARK_KEPT, "", True


def _keep(shot_id: int, text: Any, at_s: Any) -> None:
    """Enter a remark; a field that was left empty is no moment."""
    moment = float(at_s) if isinstance(at_s, int | float) else None
    desk().log.add_remark(shot_id, str(text), at_s=moment)


def _remark(number: int, remark: "Remark") -> html.Li:
    """Return one remark with its number, its moment and the way to take it away."""
    when = say.REMARK_WHOLE if remark.at_s is None else say.REMARK_WHEN.format(at=_signed(remark))
    return html.Li(
        [
            html.Span(str(number), className="pin", **aria(hidden="true")),
            html.Span([remark.text, html.Span(f" {when}", className="quiet small")]),
            button(
                say.REMARK_REMOVE,
                {"type": own.REMARK_REMOVE, "remark": remark.remark_id},
                **aria(label=say.REMARK_REMOVE_WHICH.format(number=number)),
            ),
        ]
    )


def _signed(remark: "Remark") -> str:
    """Return a remark's moment with its sign, as on the curve."""
    return f"{remark.at_s or 0.0:+.2f}".replace("-", "\u2212")
