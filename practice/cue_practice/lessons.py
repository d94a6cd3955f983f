"""The log's remarks on shots and lessons with players; all of it can be undone."""

import math
from datetime import datetime

from sqlalchemy import select

from cue_practice.errors import PracticeError
from cue_practice.limits import checked_text
from cue_practice.store import Store, aware, change, enter, get, now_utc
from cue_practice.tables import LessonRow, PlayerRow, RemarkRow, SeriesRow, ShotRow
from cue_practice.unset import UNSET, Unset, given
from cue_practice.views import Lesson, Remark

FARTHEST_S = 30.0
"""No remark on a stroke is pinned further from its hit than this."""


class Lessons(Store):
    """Remarks and lessons of the log."""

    def add_remark(self, shot_id: int, text: str, *, at_s: float | None = None) -> Remark:
        """Enter a remark on a shot.

        Parameters
        ----------
        shot_id : int
            Which.
        text : str
            Not empty.
        at_s : float or None
            Moment it is about, in seconds from the hit, negative before it; None for all of it.

        Returns
        -------
        Remark
            The new entry.

        Raises
        ------
        PracticeError
            If there is no such shot, no word, or the moment lies far from the stroke.
        """
        words = _words(text, "remark")
        if at_s is not None and not abs(at_s) <= FARTHEST_S:  # also refuses NaN
            raise PracticeError(
                f"The remark is pinned {at_s:g} s from the hit, at most {FARTHEST_S:g} s make "
                "sense. Pin it to a moment of the stroke."
            )
        with self._write() as session:
            get(session, ShotRow, shot_id)
            row = RemarkRow(
                shot_id=shot_id,
                text=words,
                at_s=None if at_s is None else float(at_s),
                added_utc=now_utc(),
            )
            enter(session, row)
            return _remark_view(row)

    def edit_remark(
        self, remark_id: int, *, text: str | Unset = UNSET, at_s: float | Unset | None = UNSET
    ) -> Remark:
        """Correct a remark; what is not given stays, and the change can be undone."""
        values = given(at_s=at_s)
        if not isinstance(text, Unset):
            values["text"] = _words(text, "remark")
        with self._write() as session:
            row = get(session, RemarkRow, remark_id, to_change=True)
            change(session, row, "words", values)
            session.flush()
            return _remark_view(row)

    def remarks(self, shot_id: int) -> list[Remark]:
        """Return the remarks on a shot: on all of it first, then in the order of their moments."""
        wanted = select(RemarkRow).where(
            RemarkRow.shot_id == shot_id, RemarkRow.is_discarded.is_(False)
        )
        with self._read() as session:
            found = [_remark_view(row) for row in session.scalars(wanted)]
        return sorted(found, key=_moment)

    def remarks_of(self, player_id: int) -> list[Remark]:
        """Return the remarks on all shots of a player, the newest first."""
        wanted = (
            select(RemarkRow)
            .join(ShotRow, RemarkRow.shot_id == ShotRow.shot_id)
            .join(SeriesRow, ShotRow.series_id == SeriesRow.series_id)
            .where(
                SeriesRow.player_id == player_id,
                RemarkRow.is_discarded.is_(False),
                ShotRow.is_discarded.is_(False),
                SeriesRow.is_discarded.is_(False),
            )
            .order_by(RemarkRow.added_utc.desc(), RemarkRow.remark_id.desc())
        )
        with self._read() as session:
            return [_remark_view(row) for row in session.scalars(wanted)]

    def remove_remark(self, remark_id: int) -> Remark:
        """Take a remark away; undo brings it back."""
        with self._write() as session:
            row = get(session, RemarkRow, remark_id, to_change=True)
            change(session, row, "removal", {"is_discarded": True})
            session.flush()
            return _remark_view(row)

    def add_lesson(
        self,
        player_id: int,
        *,
        held_utc: datetime | None = None,
        text: str = "",
        exercise: str = "",
    ) -> Lesson:
        """Enter a lesson.

        Parameters
        ----------
        player_id : int
            With whom.
        held_utc : datetime or None
            With a time zone; None for now.
        text : str
            What was talked over.
        exercise : str
            What to practise until the next one.

        Returns
        -------
        Lesson
            The new entry.

        Raises
        ------
        PracticeError
            If there is no such player.
        """
        held = aware(held_utc or now_utc(), "held_utc")
        with self._write() as session:
            get(session, PlayerRow, player_id)
            row = LessonRow(
                player_id=player_id,
                held_utc=held,
                text=checked_text(text, "lesson"),
                exercise=checked_text(exercise, "exercise"),
                added_utc=now_utc(),
            )
            enter(session, row)
            return _lesson_view(row)

    def lessons(self, player_id: int, *, include_discarded: bool = False) -> list[Lesson]:
        """Return the lessons with a player, the newest first."""
        wanted = (
            select(LessonRow)
            .where(LessonRow.player_id == player_id)
            .order_by(LessonRow.held_utc.desc(), LessonRow.lesson_id.desc())
        )
        if not include_discarded:
            wanted = wanted.where(LessonRow.is_discarded.is_(False))
        with self._read() as session:
            return [_lesson_view(row) for row in session.scalars(wanted)]

    def lesson(self, lesson_id: int) -> Lesson:
        """Return a lesson by its number; PracticeError if there is none."""
        with self._read() as session:
            return _lesson_view(get(session, LessonRow, lesson_id))

    def update_lesson(
        self,
        lesson_id: int,
        *,
        held_utc: datetime | Unset = UNSET,
        text: str | Unset = UNSET,
        exercise: str | Unset = UNSET,
        is_discarded: bool | Unset = UNSET,
    ) -> Lesson:
        """Correct a lesson; what is not given stays, and the change can be undone.

        Parameters
        ----------
        lesson_id : int
            Which.
        held_utc : datetime
            When it was held, with a time zone.
        text, exercise : str
            What was talked over, and what to practise.
        is_discarded : bool
            True leaves the lesson out.

        Returns
        -------
        Lesson
            As it is now.

        Raises
        ------
        PracticeError
            If there is no such lesson.
        """
        values = given(text=text, exercise=exercise, is_discarded=is_discarded)
        for name in values.keys() & {"text", "exercise"}:
            values[name] = checked_text(values[name], name)
        if not isinstance(held_utc, Unset):
            values["held_utc"] = aware(held_utc, "held_utc")
        with self._write() as session:
            row = get(session, LessonRow, lesson_id, to_change=True)
            change(session, row, "text", values)
            session.flush()
            return _lesson_view(row)


def _words(text: str, what: str) -> str:
    """Return a text without blanks around it, refusing an empty one."""
    words = checked_text(text, what).strip()
    if not words:
        raise PracticeError(f"A {what} needs at least a word, got none. Write what you saw.")
    return words


def _moment(remark: Remark) -> tuple[float, int]:
    """Return where a remark stands in the list of its shot."""
    return (-math.inf if remark.at_s is None else remark.at_s, remark.remark_id)


def _remark_view(row: RemarkRow) -> Remark:
    """Return the view of a remark's row."""
    return Remark(
        remark_id=row.remark_id,
        shot_id=row.shot_id,
        text=row.text,
        at_s=row.at_s,
        added_utc=row.added_utc,
        is_discarded=row.is_discarded,
    )


def _lesson_view(row: LessonRow) -> Lesson:
    """Return the view of a lesson's row."""
    return Lesson(
        lesson_id=row.lesson_id,
        player_id=row.player_id,
        held_utc=row.held_utc,
        text=row.text,
        exercise=row.exercise,
        added_utc=row.added_utc,
        is_discarded=row.is_discarded,
    )
