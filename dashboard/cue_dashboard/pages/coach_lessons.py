"""Coach: today's lesson, written down; the lessons so far, to correct or leave out."""

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard import ids
from cue_dashboard.components.pieces import FIELD_SIZE, aria, button, card, select
from cue_dashboard.desk import desk
from cue_dashboard.ids import coach as own
from cue_dashboard.pupil_shots import pupil_shots
from cue_dashboard.sides import day_text
from cue_dashboard.units import PaceScale
from cue_dashboard.words import coach as say
from cue_practice.errors import PracticeError
from cue_practice.exercise import next_exercise
from cue_practice.questions import graded
from cue_practice.trade_words import height_words
from cue_table.errors import TableError

if TYPE_CHECKING:
    from cue_practice.views import Lesson

NOW = "now"
N_EVENINGS = 10
"""Evenings that a lesson can be put after, when it is written down later."""


def form_card(times: list[dict[str, str]]) -> html.Section:
    """Return the form of a lesson, with the times it can be put at."""
    return card(
        html.H2(say.LESSON_TITLE, id=own.FORM_TITLE),
        dcc.Store(id=own.EDITING),
        dcc.Store(id=own.KEPT),
        select(say.LESSON_HELD, own.HELD, data=times, value=NOW),
        _area(say.LESSON_TEXT, own.TEXT),
        _area(say.LESSON_EXERCISE, own.EXERCISE),
        html.Div(
            [
                html.P(id=own.SUGGESTED, className="help"),
                button(say.TAKE, own.TAKE, hidden=True),
            ],
            className="stack tight",
        ),
        html.P(id=own.SAID, role="status"),
        html.Div(
            [
                button(say.SAVE, own.SAVE, kind="plain strong"),
                button(say.CANCEL, own.CANCEL, hidden=True),
                button(say.BRING_BACK, own.UNDO, hidden=True),
            ],
            className="row",
        ),
    )


def lessons_card(lessons: Any) -> html.Section:
    """Return the lessons so far."""
    return card(html.H2(say.LESSONS_TITLE), html.Div(lessons, id=own.LESSONS))


def register(app: dash.Dash) -> None:
    """Connect the form and the list."""
    app.callback(
        Output(own.LESSONS, "children"),
        Output(own.HELD, "data"),
        Input(own.CHANGED_OF, "data"),
        Input(own.KEPT, "data"),
        prevent_initial_call=True,
    )(show_lessons)
    app.callback(
        Output(own.SUGGESTED, "children"),
        Output(own.TAKE, "hidden"),
        Input(own.CHANGED_OF, "data"),
        Input(ids.UNIT, "value"),
    )(suggest)
    app.callback(
        Output(own.TEXT, "value"),
        Output(own.EXERCISE, "value"),
        Output(own.HELD, "value"),
        Output(own.EDITING, "data"),
        Output(own.FORM_TITLE, "children"),
        Output(own.CANCEL, "hidden"),
        Output(own.KEPT, "data"),
        Output(own.SAID, "children"),
        Output(own.UNDO, "hidden"),
        Input(own.PLAYER, "value"),
        Input(own.TAKE, "n_clicks"),
        Input(own.SAVE, "n_clicks"),
        Input(own.CANCEL, "n_clicks"),
        Input(own.UNDO, "n_clicks"),
        Input({"type": own.CORRECT, "lesson": ALL}, "n_clicks"),
        Input({"type": own.LEAVE_OUT, "lesson": ALL}, "n_clicks"),
        State(own.TEXT, "value"),
        State(own.EXERCISE, "value"),
        State(own.HELD, "value"),
        State(own.EDITING, "data"),
        State(own.KEPT, "data"),
        State(ids.UNIT, "value"),
        prevent_initial_call=True,
    )(write)


def show_lessons(player: str | None, _kept: Any) -> tuple[Any, list[dict[str, str]]]:
    """Return the lessons so far, the newest on top, and the times one can be put at."""
    now = {"value": NOW, "label": say.LESSON_NOW}
    if player is None:
        return None, [now]
    log = desk().log
    shots = pupil_shots(log, int(player))
    ends_s = [float(own.struck_s[-1]) for _, own in shots.by_evening()]
    times = [
        {"value": f"{end_s:.3f}", "label": day_text(datetime.fromtimestamp(end_s, UTC))}
        for end_s in ends_s[: -N_EVENINGS - 1 : -1]
    ]
    lessons = log.lessons(int(player))
    if not lessons:
        return html.P(say.LESSONS_NONE, className="quiet"), [now, *times]
    return html.Ol([_lesson(one) for one in lessons], className="said"), [now, *times]


def suggest(player: str | None, unit: str) -> tuple[str, bool]:
    """Return the exercise that the pupil's newest set-up asks for."""
    exercise = "" if player is None else suggested(int(player), PaceScale.of(unit))
    if not exercise:
        return say.SUGGESTED_NONE, True
    return say.SUGGESTED.format(exercise=exercise), False


def suggested(player_id: int, scale: PaceScale) -> str:
    """Return an exercise for the set-up and tip height a player has results of most lately.

    Where the best pace is not yet known to a fifth, it is to be found; else it is to be kept.
    """
    log = desk().log
    held = next((one for one in graded(log) if one.player_id == player_id), None)
    if held is None:
        return ""
    try:
        answer = log.kept(held, lambda: held.answer(log))
    except (PracticeError, TableError):
        return ""
    height = height_words(held.tip_below_centre_m)
    mark = f"the mark of {log.setup(held.setup_id).name}, tip {height}"
    return next_exercise(answer, mark, scale)


def write(
    player: str | None,
    _take: Any,
    _save: Any,
    _cancel: Any,
    _undo: Any,
    _correct: Any,
    _leave_out: Any,
    text: str | None,
    exercise: str | None,
    held: str | None,
    editing: int | None,
    kept: dict[str, Any] | None,
    unit: str,
) -> tuple[Any, ...]:
    """Keep, correct, leave out or bring back a lesson; return the whole form and what to say."""
    touched = ctx.triggered_id
    if touched == own.PLAYER:
        return _form("", "", said="")
    if player is None or not ctx.triggered[0]["value"]:
        return (no_update,) * 9
    before = kept or {"n": 0, "left_out": None}
    done = {"n": before["n"] + 1, "left_out": None}
    log = desk().log
    try:
        if isinstance(touched, dict) and touched["type"] == own.CORRECT:
            return _opened(log.lesson(int(touched["lesson"])))
        if isinstance(touched, dict):
            lesson = log.update_lesson(int(touched["lesson"]), is_discarded=True)
            said = say.LESSON_LEFT_OUT.format(when=day_text(lesson.held_utc))
            kept_now = done | {"left_out": lesson.lesson_id}
            return _form("", "", kept=kept_now, said=said, is_undo_hidden=False)
        if touched == own.UNDO and before["left_out"]:
            log.update_lesson(int(before["left_out"]), is_discarded=False)
            return _form(no_update, no_update, kept=done, said=say.LESSON_BACK)
        if touched == own.TAKE:
            taken = suggested(int(player), PaceScale.of(unit))
            rest = _form(no_update, taken, said="")
            return (*rest[:2], no_update, *(no_update,) * 3, *rest[6:])
        if touched == own.CANCEL:
            return _form("", "", said="")
        return _kept(int(player), text or "", exercise or "", held, editing, done)
    except PracticeError as fault:
        return (*(no_update,) * 7, str(fault), True)


def _kept(
    player_id: int,
    text: str,
    exercise: str,
    held: str | None,
    editing: int | None,
    done: dict[str, Any],
) -> tuple[Any, ...]:
    """Enter a lesson or its correction."""
    if not (text.strip() or exercise.strip()):
        return (*(no_update,) * 7, say.LESSON_EMPTY, True)
    log = desk().log
    if editing is not None:
        log.update_lesson(editing, text=text.strip(), exercise=exercise.strip())
    else:
        at = None if held in (None, NOW) else datetime.fromtimestamp(float(str(held)), UTC)
        log.add_lesson(player_id, held_utc=at, text=text.strip(), exercise=exercise.strip())
    return _form("", "", kept=done, said=say.LESSON_KEPT)


def _form(
    text: Any, exercise: Any, *, said: str, kept: Any = no_update, is_undo_hidden: bool = True
) -> tuple[Any, ...]:
    """Return the form of a new lesson."""
    title = say.LESSON_TITLE
    return text, exercise, NOW, None, title, True, kept, said, is_undo_hidden


def _opened(lesson: "Lesson") -> tuple[Any, ...]:
    """Return the form with a lesson to correct."""
    title = say.LESSON_CORRECT_TITLE.format(when=day_text(lesson.held_utc))
    form = (lesson.text, lesson.exercise, no_update, lesson.lesson_id, title, False)
    return (*form, no_update, title, True)


def _area(label: str, area_id: str) -> dmc.Textarea:
    """Return a field for some lines of text."""
    return dmc.Textarea(
        id=area_id, label=label, value="", autosize=True, minRows=2, maxRows=12, size=FIELD_SIZE
    )


def _lesson(lesson: "Lesson") -> html.Li:
    """Return one lesson with what can be done with it."""
    when = day_text(lesson.held_utc)
    parts = [html.P(part) for part in lesson.text.split("\n") if part.strip()]
    if lesson.exercise:
        parts.append(html.P(say.EXERCISE_WAS.format(exercise=lesson.exercise)))
    buttons = [
        button(
            what,
            {"type": kind, "lesson": lesson.lesson_id},
            **aria(label=say.LESSON_OF.format(what=what, when=when)),
        )
        for what, kind in (
            (say.LESSON_CORRECT, own.CORRECT),
            (say.LESSON_LEAVE_OUT, own.LEAVE_OUT),
        )
    ]
    return html.Li([html.H3(when), *parts, html.Div(buttons, className="row")])
