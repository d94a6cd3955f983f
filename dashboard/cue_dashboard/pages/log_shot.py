"""Log: one shot put right in a drawer: result, note, what it belongs to, and its history."""

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import Input, Output, State, ctx, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import button, segments, select, text_field
from cue_dashboard.desk import desk
from cue_dashboard.ids import log_shot as own
from cue_dashboard.names import Names, when_text
from cue_dashboard.series_choice import N_OFFERED, Options
from cue_dashboard.shot_history import shot_history
from cue_dashboard.words import log_shot as say
from cue_practice.errors import PracticeError
from cue_practice.grades import Grade
from cue_practice.log import BROKEN_RULES, PracticeLog
from cue_practice.views import Shot

NOT_SAID = "not-said"
AS_SERIES = "as-series"


def register(app: dash.Dash) -> None:
    """Connect the drawer with the shots, and undo and redo."""
    app.callback(
        Output(ids.LOG_EDITED, "data"),
        Output(ids.LOG_DRAWER, "title"),
        Output(ids.LOG_EDIT_GRADE, "value"),
        Output(ids.LOG_EDIT_POTTED, "value"),
        Output(ids.LOG_EDIT_NOTE, "value"),
        Output(ids.LOG_EDIT_DISCARD, "children"),
        Output(own.RULE, "data"),
        Output(own.RULE, "value"),
        Output(own.SERIES, "data"),
        Output(own.SERIES, "value"),
        Output(own.MARK_NEW, "checked"),
        Output(own.HISTORY, "children"),
        Input(own.ROWS, "pressed"),
        prevent_initial_call=True,
    )(open_shot)
    app.callback(
        Output(ids.LOG_CHANGED, "data"),
        Output(ids.LOG_EDIT_FAULT, "children"),
        Output(own.SAID, "children"),
        Input(ids.LOG_EDIT_SAVE, "n_clicks"),
        Input(ids.LOG_EDIT_DISCARD, "n_clicks"),
        Input(own.UNDO, "n_clicks"),
        Input(own.REDO, "n_clicks"),
        State(ids.LOG_EDITED, "data"),
        State(ids.LOG_EDIT_GRADE, "value"),
        State(ids.LOG_EDIT_POTTED, "value"),
        State(ids.LOG_EDIT_NOTE, "value"),
        State(own.RULE, "value"),
        State(own.SERIES, "value"),
        State(own.MARK_NEW, "checked"),
        State(ids.LOG_CHANGED, "data"),
        prevent_initial_call=True,
    )(save_shot)
    app.callback(
        Output(ids.LOG_DRAWER, "opened"),
        Input(ids.LOG_EDITED, "data"),
        Input(ids.LOG_CHANGED, "data"),
        prevent_initial_call=True,
    )(move_drawer)


def open_shot(pressed: dict[str, Any] | None) -> tuple[Any, ...]:
    """Return what the drawer shows of the shot whose button was pressed."""
    if not pressed:
        return (no_update,) * 12
    return shown_of(desk().log, int(pressed["what"]), int(pressed["n"]))


def shown_of(log: PracticeLog, shot_id: int, n: int) -> tuple[Any, ...]:
    """Return what the drawer shows of a shot, in the order of its outputs.

    Parameters
    ----------
    log : PracticeLog
        Where the shot is.
    shot_id : int
        Which.
    n : int
        How often it was opened: a second opening of the same shot is a change.
    """
    shot = log.shot(shot_id)
    return (
        {"shot": shot.shot_id, "n": n},
        words.EDIT_TITLE.format(when=when_text(shot.struck_utc)),
        NOT_SAID if shot.grade is None else shot.grade.value,
        NOT_SAID if shot.is_potted is None else str(shot.is_potted),
        shot.note,
        words.RESTORE if shot.is_discarded else words.DISCARD,
        _rules(shot),
        shot.broken_rule or AS_SERIES,
        _series(log, shot),
        str(shot.series_id),
        shot.is_mark_new,
        _history(log, shot.shot_id),
    )


def save_shot(
    _save: Any,
    _discard: Any,
    _undo: Any,
    _redo: Any,
    edited: Any,
    grade: str,
    potted: str,
    note: str,
    rule: str | None,
    series: str | None,
    is_mark_new: bool | None,
    changed: int | None,
) -> tuple[Any, str, str]:
    """Keep what was put right, leave the shot out or take it back in, or undo a change."""
    pressed = ctx.triggered_id
    if not ctx.triggered[0]["value"] or (pressed not in (own.UNDO, own.REDO) and not edited):
        return no_update, "", ""
    log, said = desk().log, ""
    try:
        if pressed in (own.UNDO, own.REDO):
            said = _undo_or_redo(log, is_undo=pressed == own.UNDO)
        elif pressed == ids.LOG_EDIT_DISCARD:
            shot_id = int(edited["shot"])
            (log.restore if log.shot(shot_id).is_discarded else log.discard)(shot_id)
        else:
            shot = log.set_result(
                int(edited["shot"]),
                grade=None if grade == NOT_SAID else Grade(grade),
                is_potted=None if potted == NOT_SAID else potted == str(True),
                note=note or "",
            )
            _keep_the_rest(log, shot, rule, series, is_mark_new)
    except PracticeError as fault:
        return no_update, str(fault), ""
    return (changed or 0) + 1, "", said


def move_drawer(_edited: Any, _changed: Any) -> bool:
    """Return whether the drawer is open: it opens with a shot and closes when that is saved."""
    return bool(ctx.triggered_id == ids.LOG_EDITED)


def _keep_the_rest(
    log: PracticeLog, shot: Shot, rule: str | None, series: str | None, is_mark_new: bool | None
) -> None:
    """Keep whether the shot kept to its series, which that is, and the white's mark."""
    why = None if rule == AS_SERIES else rule
    if rule is not None and why != shot.broken_rule:
        log.set_broken_rule(shot.shot_id, why)
    if is_mark_new is not None and is_mark_new != shot.is_mark_new:
        log.set_mark_new(shot.shot_id, is_mark_new)
    if series is not None and int(series) != shot.series_id:
        log.move(shot.shot_id, int(series))


def _undo_or_redo(log: PracticeLog, *, is_undo: bool) -> str:
    """Take the last change back, or repeat it, and return what that was."""
    change = log.undo() if is_undo else log.redo()
    if change is None:
        return words.NOTHING_TO_UNDO if is_undo else say.NOTHING_TO_REDO
    return (words.UNDONE if is_undo else say.REDONE).format(what=change.what)


def _rules(shot: Shot) -> Options:
    """Return what may be said of how a shot kept to its series, its own words among them."""
    whys = list(BROKEN_RULES)
    if shot.broken_rule is not None and shot.broken_rule not in whys:
        whys.append(shot.broken_rule)
    broken = [{"value": why, "label": say.NOT_AS_SERIES.format(why=why)} for why in whys]
    return [{"value": AS_SERIES, "label": say.AS_SERIES}, *broken]


def _series(log: PracticeLog, shot: Shot) -> Options:
    """Return the series a shot may belong to: the newest ones, and its own."""
    names = Names(log)
    offered = {one.series_id: one for one in log.all_series(newest=N_OFFERED)}
    offered.setdefault(shot.series_id, log.series(shot.series_id))
    return [
        {
            "value": str(number),
            "label": say.SERIES_NAME.format(
                player=names.player_of(number), series=names.series(one)
            ),
        }
        for number, one in offered.items()
    ]


def _history(log: PracticeLog, shot_id: int) -> Any:
    """Return what was changed of a shot, folded."""
    said = shot_history(log, shot_id)
    if not said:
        return html.P(say.HISTORY_NONE, className="quiet")
    return html.Details(
        [
            html.Summary(say.HISTORY.format(n=len(said))),
            html.Ol([html.Li(one) for one in said], className="said"),
        ],
        className="fold",
    )


def undo_pieces() -> list[Any]:
    """Return undo and redo, and what they did."""
    return [
        button(say.UNDO, own.UNDO),
        button(say.REDO, own.REDO),
        html.P(id=own.SAID, className="quiet", role="status"),
    ]


def shot_drawer() -> dmc.Drawer:
    """Return where a shot is put right."""
    not_said = {"value": NOT_SAID, "label": words.POTTED_UNKNOWN}
    grades = [{"value": grade.value, "label": words.GRADE_NAME[grade]} for grade in Grade]
    potted = [
        {"value": str(True), "label": words.POTTED},
        {"value": str(False), "label": words.MISSED},
    ]
    return dmc.Drawer(
        [
            html.Div(
                [
                    html.P(words.RESULT),
                    segments(
                        words.RESULT,
                        ids.LOG_EDIT_GRADE,
                        [not_said, *grades],
                        value=NOT_SAID,
                        orientation="vertical",
                        fullWidth=True,
                    ),
                    segments(
                        words.POTTED,
                        ids.LOG_EDIT_POTTED,
                        [not_said, *potted],
                        value=NOT_SAID,
                        fullWidth=True,
                        size="md",
                    ),
                    text_field(words.NOTE, ids.LOG_EDIT_NOTE, value=""),
                    select(say.RULE, own.RULE, data=[], value=None),
                    dmc.Switch(id=own.MARK_NEW, label=say.MARK_NEW, size="lg"),
                    select(say.SERIES, own.SERIES, data=[], value=None, searchable=True),
                    html.P(id=ids.LOG_EDIT_FAULT, className="fault", role="alert"),
                    button(words.SAVE, ids.LOG_EDIT_SAVE, kind="choice strong"),
                    button(words.DISCARD, ids.LOG_EDIT_DISCARD),
                    html.Div(id=own.HISTORY),
                ],
                className="stack",
            )
        ],
        id=ids.LOG_DRAWER,
        opened=False,
        position="right",
        size="md",
        closeButtonProps={"aria-label": words.CLOSE, "size": "xl"},
        keepMounted=True,
    )
