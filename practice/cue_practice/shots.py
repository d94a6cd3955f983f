"""The log's shots: strokes come in, results are tapped, and every change can be undone."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy import select

from cue_practice.errors import PracticeError
from cue_practice.grades import Grade
from cue_practice.limits import checked_text
from cue_practice.rows import change_view, unpack_trace
from cue_practice.shot_lists import ShotLists, shots_by_id
from cue_practice.store import (
    aware,
    change,
    enter,
    get,
    last_change,
    now_utc,
    repeat,
    take_back,
)
from cue_practice.stroke_entry import enter_stroke, known_strokes, new_shot
from cue_practice.tables import (
    ChangeRow,
    RecordingRow,
    SeriesRow,
    ShotRow,
    StrokeTraceRow,
)
from cue_practice.unset import UNSET, Unset, given
from cue_practice.views import Change, Point, Shot
from cue_signal.stroke import Stroke, StrokeTrace

TABLE_REACH_M = 4.0
"""No point on a table lies further from its corner than this along one side."""

BROKEN_RULES = (
    "another tip height",
    "side that was not meant",
    "the white was off its mark",
    "miscue",
    "another shot was played",
)
"""Words to choose from for a shot that did not keep what its series holds."""


class Shots(ShotLists):
    """The log's shots."""

    def add_strokes(
        self, recording_id: int, series_id: int, strokes: Iterable[Stroke]
    ) -> list[Shot]:
        """Enter strokes of a recording as shots of a series.

        A stroke that is there already stays the shot it is, with its result and series; its
        measures are renewed where a newer method made them.

        Parameters
        ----------
        recording_id, series_id : int
            Where the strokes come from and belong to.
        strokes : iterable of Stroke
            With or without traces.

        Returns
        -------
        list of Shot
            One for each stroke, in their order.

        Raises
        ------
        PracticeError
            If recording or series are unknown.
        """
        with self._write() as session:
            recording = get(session, RecordingRow, recording_id)
            series = get(session, SeriesRow, series_id)
            known = known_strokes(session, recording_id)
            ids = [enter_stroke(session, recording, series, known, stroke) for stroke in strokes]
            session.flush()
            return shots_by_id(session, ids)

    def add_shot(self, series_id: int, *, struck_utc: datetime | None = None) -> Shot:
        """Enter a shot that no sensor saw, for its result alone; undo takes it away.

        Parameters
        ----------
        series_id : int
            Where it belongs.
        struck_utc : datetime or None
            With a time zone; None for now.

        Returns
        -------
        Shot
            The new entry.
        """
        struck = aware(struck_utc or now_utc(), "struck_utc")
        with self._write() as session:
            get(session, SeriesRow, series_id)
            row = new_shot(series_id, None, struck)
            enter(session, row)
            return shots_by_id(session, [row.shot_id])[0]

    def shot(self, shot_id: int) -> Shot:
        """Return a shot by its number; PracticeError if there is none."""
        with self._read() as session:
            get(session, ShotRow, shot_id)
            return shots_by_id(session, [shot_id])[0]

    def stroke_trace(self, shot_id: int) -> StrokeTrace | None:
        """Return the course of a shot's stroke for drawing, None where none was kept."""
        wanted = (
            select(StrokeTraceRow.packed)
            .join(ShotRow, ShotRow.stroke_id == StrokeTraceRow.stroke_id)
            .where(ShotRow.shot_id == shot_id)
        )
        with self._read() as session:
            get(session, ShotRow, shot_id)
            packed = session.scalar(wanted)
            return None if packed is None else unpack_trace(packed)

    def set_result(
        self,
        shot_id: int,
        grade: Grade | str | Unset | None = UNSET,
        is_potted: bool | Unset | None = UNSET,
        cushion_point_m: Point | Unset | None = UNSET,
        stop_point_m: Point | Unset | None = UNSET,
        note: str | Unset = UNSET,
        tapped_utc: datetime | None = None,
    ) -> Shot:
        """Keep what a shot did; what is not given stays as it is.

        Parameters
        ----------
        shot_id : int
            Which.
        grade : Grade, its word, or None
            What it did.
        is_potted : bool or None
            Whether the object ball went in.
        cushion_point_m, stop_point_m : tuple of two floats or None
            Where the white met its first cushion after the object ball, and where it stopped.
        note : str
            The player's or coach's words.
        tapped_utc : datetime or None
            With a time zone; None for now.

        Returns
        -------
        Shot
            As it is now, on the disk.

        Raises
        ------
        PracticeError
            If there is no such shot, or a point lies off every table.
        """
        values = given(is_potted=is_potted, note=note)
        if not isinstance(grade, Unset):
            values["grade"] = None if grade is None else Grade(grade).value
        values |= _point_columns("cushion", cushion_point_m)
        values |= _point_columns("stop", stop_point_m)
        if not isinstance(note, Unset):
            checked_text(note, "note")
        with self._write() as session:
            row = get(session, ShotRow, shot_id, to_change=True)
            if any(getattr(row, name) != value for name, value in values.items()):
                if set(values) != {"note"}:
                    values["tapped_utc"] = aware(tapped_utc or now_utc(), "tapped_utc")
                change(session, row, "result", values)
                session.flush()
            return shots_by_id(session, [shot_id])[0]

    def clear_result(self, shot_id: int) -> Shot:
        """Take a shot's whole result away; its note stays."""
        names = ("grade", "is_potted", "cushion_x_m", "cushion_y_m", "stop_x_m", "stop_y_m")
        return self._change_shot(shot_id, "result", dict.fromkeys((*names, "tapped_utc")))

    def discard(self, shot_id: int) -> Shot:
        """Leave a shot out everywhere; nothing is erased."""
        return self._change_shot(shot_id, "discarding", {"is_discarded": True})

    def restore(self, shot_id: int) -> Shot:
        """Bring a discarded shot back."""
        return self._change_shot(shot_id, "restoring", {"is_discarded": False})

    def set_broken_rule(self, shot_id: int, why: str | None) -> Shot:
        """Mark a shot that did not keep what its series holds; it is left out of the fit.

        Parameters
        ----------
        shot_id : int
            Which.
        why : str or None
            In a few words, for example one of :data:`BROKEN_RULES`; None takes the mark away.

        Returns
        -------
        Shot
            As it is now.

        Raises
        ------
        PracticeError
            If the words are empty or there is no such shot.
        """
        words = None if why is None else " ".join(checked_text(why, "mark").split())
        if words == "":
            raise PracticeError(
                "A shot that breaks a rule needs a word why, got none. Say which setting changed."
            )
        return self._change_shot(shot_id, "mark", {"broken_rule": words})

    def set_mark_new(self, shot_id: int, is_new: bool) -> Shot:
        """Say whether the white's mark was chalked anew before a shot."""
        return self._change_shot(shot_id, "white's mark", {"is_mark_new": is_new})

    def move(self, shot_id: int, series_id: int) -> Shot:
        """Move a shot to the series it belongs to."""
        with self._read() as session:
            get(session, SeriesRow, series_id)
        return self._change_shot(shot_id, "series", {"series_id": series_id})

    def undo(self, series_id: int | None = None) -> Change | None:
        """Take the last change of a result, a shot or a series' settings back.

        Parameters
        ----------
        series_id : int or None
            Only changes within this series, where several players tap at a time.

        Returns
        -------
        Change or None
            What was taken back; None if there is nothing left.
        """
        with self._write() as session:
            entry = last_change(session, is_undone=False, series_id=series_id)
            if entry is None:
                return None
            take_back(session, entry)
            return change_view(entry)

    def redo(self, series_id: int | None = None) -> Change | None:
        """Repeat the change that was taken back last, unless something else was changed since."""
        with self._write() as session:
            entry = last_change(session, is_undone=True, series_id=series_id)
            if entry is None:
                return None
            repeat(session, entry)
            return change_view(entry)

    def history(
        self, *, shot_id: int | None = None, series_id: int | None = None, newest: int | None = None
    ) -> list[Change]:
        """Return the changes of a shot, of a series and its shots, or all, the newest first."""
        wanted = select(ChangeRow).order_by(ChangeRow.change_id.desc()).limit(newest)
        if shot_id is not None:
            wanted = wanted.where(ChangeRow.shot_id == shot_id)
        if series_id is not None:
            wanted = wanted.where(ChangeRow.series_id == series_id)
        with self._read() as session:
            return [change_view(row) for row in session.scalars(wanted)]

    def _change_shot(self, shot_id: int, what: str, values: dict[str, Any]) -> Shot:
        """Change a shot's columns and return it as it is then."""
        with self._write() as session:
            change(session, get(session, ShotRow, shot_id, to_change=True), what, values)
            session.flush()
            return shots_by_id(session, [shot_id])[0]


def _point_columns(name: str, point: Point | Unset | None) -> dict[str, float | None]:
    """Return the columns of a tapped point; none if it was not given."""
    if isinstance(point, Unset):
        return {}
    if point is None:
        return {f"{name}_x_m": None, f"{name}_y_m": None}
    x_m, y_m = (float(value) for value in point)
    if not (abs(x_m) <= TABLE_REACH_M and abs(y_m) <= TABLE_REACH_M):
        raise PracticeError(
            f"The {name} point ({x_m:g}, {y_m:g}) m lies off every table. "
            "Tap it on the drawn table, or give metres."
        )
    return {f"{name}_x_m": x_m, f"{name}_y_m": y_m}
