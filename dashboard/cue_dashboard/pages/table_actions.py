"""At the table: what a tap does. Every tap is in the log when it is answered."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import dash
from dash import ALL, Input, Output, State, ctx, no_update

from cue_dashboard import ids, words
from cue_dashboard.desk import Desk, desk
from cue_dashboard.figures.plan import on_cushion, on_table
from cue_dashboard.judging import Pick, after_this
from cue_dashboard.taps import Tap
from cue_dashboard.units import MM_PER_M, PaceScale
from cue_dashboard.words import table as table_words
from cue_practice.errors import PracticeError
from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_practice.views import Point, Shot

NUDGE_M = 0.02
_STEP = {"left": (-1, 0), "right": (1, 0), "up": (0, 1), "down": (0, -1)}


@dataclass(frozen=True)
class Tapped:
    """What a tap did.

    Parameters
    ----------
    said : str
        In words.
    pick : Pick or None
        The shot in hand from now on, None if that stays.
    kind : str or None
        What the plan asks for next, None if that stays.
    is_kept : bool
        Whether the log has something new of the shot.
    """

    said: str
    pick: Pick | None = None
    kind: str | None = None
    is_kept: bool = False

    def as_json(self) -> dict[str, Any]:
        """Return it as a browser takes it."""
        stamp = datetime.now(UTC).isoformat()
        pick = None if self.pick is None else {**vars(self.pick), "at": stamp}
        return {"said": self.said, "pick": pick, "kind": self.kind, "is_kept": self.is_kept}


def register(app: dash.Dash) -> None:
    """Connect the start of a series, and the marks of its shots."""
    app.callback(
        Output(ids.TABLE_STARTED, "data"),
        Output(ids.TABLE_START_FAULT, "children"),
        Input(ids.TABLE_START_BUTTON, "n_clicks"),
        State(ids.TABLE_START_PLAYER, "value"),
        State(ids.TABLE_START_CUE, "value"),
        State(ids.TABLE_START_SETUP, "value"),
        State(ids.TABLE_START_TIP, "value"),
        State(ids.TABLE_START_SIDE, "value"),
        State(ids.TABLE_START_CALLED, "value"),
        State(ids.UNIT, "value"),
        prevent_initial_call=True,
    )(start_series)
    # apart from the taps: marks are drawn anew with every stroke, which asks this callback again
    app.callback(
        Output(ids.TABLE_MARKED, "data"),
        Input({"type": ids.TABLE_MARK, "shot": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )(go_back)


def start_series(
    _n: int,
    player: str | None,
    cue: str | None,
    setup: str | None,
    tip_mm: Any,
    side_mm: Any,
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
    for value, name in ((tip_mm, words.A_TIP_HEIGHT), (side_mm, words.A_SIDE)):
        if not isinstance(value, int | float):
            return no_update, words.START_MISSING.format(missing=name)
    log = desk().log
    try:
        series = log.add_series(
            int(player or 0),
            int(cue or 0),
            log.setup(int(setup or 0)).table_id,
            int(setup or 0),
            tip_mm / MM_PER_M,
            side_m=side_mm / MM_PER_M,
            called_pace_m_s=_called_m_s(called, unit),
        )
    except PracticeError as fault:
        return no_update, str(fault)
    desk().follow_open_series()
    return series.series_id, ""


def go_back(_clicks: list[int | None]) -> Any:
    """Return the pick of a shot whose mark was tapped."""
    if not isinstance(ctx.triggered_id, dict) or not ctx.triggered[0]["value"]:
        return no_update
    pick = Pick(int(ctx.triggered_id["shot"]), is_held=True)
    return {**vars(pick), "at": datetime.now(UTC).isoformat()}


def do_tap(at: Desk, tap: Tap) -> Tapped:
    """Do what was tapped, for the shot that the page showed when it was tapped."""
    try:
        return _do(at.log, tap)
    except PracticeError as fault:
        return Tapped(str(fault))
    finally:
        at.moved()


def _do(log: PracticeLog, tap: Tap) -> Tapped:
    """Return what was done."""
    if tap.what == "undo":
        undone = log.undo(tap.series_id)
        said = words.UNDONE.format(what=undone.what) if undone else words.NOTHING_TO_UNDO
        return Tapped(said, Pick(undone.shot_id if undone else None))
    if tap.shot_id is None:
        return Tapped(words.NO_SHOT)
    shots = log.shots(series_id=tap.series_id)
    numbers = {shot.shot_id: number for number, shot in enumerate(shots, start=1)}
    if tap.what == "next":
        return Tapped("", after_this(shots, tap.shot_id), "cushion")
    number, others_wait = numbers.get(tap.shot_id, 0), _others_wait(shots, tap.shot_id)
    if tap.what == "no_shot":
        log.discard(tap.shot_id)
        return Tapped(words.DISCARDED.format(number=number), Pick(), "cushion")
    if tap.what in ("plan", "nudge"):
        done = _mark_place(log, tap, number, others_wait=others_wait)
    else:
        done = _give_result(log, tap, tap.shot_id, number)
    if done.is_kept and not others_wait and log.shot(tap.shot_id).grade is not None:
        return replace(done, said=words.IN_THE_LOG)  # the page's heading says what
    return done


def _others_wait(shots: list[Shot], shot_id: int) -> bool:
    """Return whether other shots have no result yet."""
    return any(one.grade is None and one.shot_id != shot_id for one in shots)


def _give_result(log: PracticeLog, tap: Tap, shot_id: int, number: int) -> Tapped:
    """Keep a tap on a result, or on potted or missed."""
    tapped_utc = datetime.now(UTC) - timedelta(seconds=tap.age_s)
    if tap.what == "grade" and tap.value in set(Grade):
        grade = Grade(tap.value)
        log.set_result(shot_id, grade=grade, tapped_utc=tapped_utc)
        said = words.SAVED.format(number=number, what=words.GRADE_NAME[grade].lower())
        return Tapped(said, Pick(shot_id), is_kept=True)
    if tap.what == "potted" and tap.value in ("yes", "no"):
        is_potted = tap.value == "yes"
        log.set_result(shot_id, is_potted=is_potted, tapped_utc=tapped_utc)
        said = (words.POTTED if is_potted else words.MISSED).lower()
        # not held: who plays on after it is asked about the new shot, not about this one again
        said = words.SAVED.format(number=number, what=said)
        return Tapped(said, Pick(shot_id), is_kept=True)
    return Tapped(table_words.TAP_UNKNOWN)


def _mark_place(log: PracticeLog, tap: Tap, number: int, *, others_wait: bool) -> Tapped:
    """Keep a tap on the plan, or move the last one a little.

    Between cushion and stop a new stroke waits; after the stop it is asked about as soon as it is
    there. Where others wait already the page stays until the player goes on.
    """
    shot_id, is_cushion = int(tap.shot_id or 0), tap.kind == "cushion"
    held = Pick(shot_id, is_held=is_cushion or others_wait)
    shot = log.shot(shot_id)
    setup = log.setup(log.series(shot.series_id).setup_id).setup
    point: Point | None = tap.point_m
    if tap.what == "nudge":
        point = shot.cushion_point_m if is_cushion else shot.stop_point_m
        if point is None:
            return Tapped(words.NOTHING_TO_MOVE, held)
        step_x, step_y = _STEP.get(tap.value, (0, 0))
        point = (point[0] + NUDGE_M * step_x, point[1] + NUDGE_M * step_y)
    if point is None:
        return Tapped("", held)
    tapped_utc = datetime.now(UTC) - timedelta(seconds=tap.age_s)
    if is_cushion:
        log.set_result(shot_id, cushion_point_m=on_cushion(setup, point), tapped_utc=tapped_utc)
    else:
        log.set_result(shot_id, stop_point_m=on_table(setup, point), tapped_utc=tapped_utc)
    what = words.WHERE_CUSHION if is_cushion else words.WHERE_STOP
    said = words.SAVED.format(number=number, what=what.lower())
    return Tapped(said, held, "stop" if tap.what == "plan" else None, is_kept=True)


def _called_m_s(called: Any, unit: str) -> float | None:
    """Return the called pace in m/s, None where none is called."""
    if not isinstance(called, int | float):
        return None
    return called / PaceScale.of(unit).factor
