"""Measures of several methods: recordings whose strokes are out of date, and their renewal.

Nothing that was played or tapped is touched: a stroke that is found again stays the shot it is,
with new measures; the old ones are kept beside, so that the two methods can be compared.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from cue_practice.rows import recording_view
from cue_practice.store import Store, change, get
from cue_practice.stroke_entry import (
    SAME_STROKE_S,
    add_stroke,
    known_strokes,
    renew,
    stroke_of_older,
    stroke_of_row,
)
from cue_practice.tables import (
    ChangeRow,
    OlderMeasuresRow,
    RecordingRow,
    RemarkRow,
    SeriesRow,
    ShotRow,
    StrokeRow,
)
from cue_practice.views import RecordingEntry
from cue_signal.stroke import METHOD_VERSION, Stroke


@dataclass(frozen=True, eq=False)
class OlderMeasures:
    """What an older method had measured of a shot's stroke.

    Parameters
    ----------
    method_version : str
        Which method.
    replaced_utc : datetime
        When a newer one took its place.
    stroke : Stroke
        Its measures, without a trace.
    """

    method_version: str
    replaced_utc: datetime
    stroke: Stroke


@dataclass(frozen=True, eq=False)
class Moved:
    """One stroke before and after.

    Parameters
    ----------
    shot_id : int
        Its shot.
    before, after : Stroke
        Measures of the method before and of this one.
    """

    shot_id: int
    before: Stroke
    after: Stroke


@dataclass(frozen=True, eq=False)
class Renewal:
    """What became of one recording's strokes.

    Parameters
    ----------
    recording : RecordingEntry
        Which.
    moved : tuple of Moved
        Strokes found again, whether or not anything is different.
    new : tuple of (Stroke, int or None)
        Strokes found for the first time and the number of their new shots, None in a dry run.
    lost_kept : tuple of int
        Shots whose stroke is no longer found, kept as they were: they have a result, a note, a
        mark or a remark.
    lost_discarded : tuple of int
        Shots whose stroke is no longer found and which nobody had said anything about: discarded,
        which undo takes back.
    """

    recording: RecordingEntry
    moved: tuple[Moved, ...]
    new: tuple[tuple[Stroke, int | None], ...]
    lost_kept: tuple[int, ...]
    lost_discarded: tuple[int, ...]


class Generations(Store):
    """Measures of several methods in the log."""

    def outdated_recordings(self, *, is_all: bool = False) -> list[RecordingEntry]:
        """Return recordings with strokes that another version of the method measured.

        Parameters
        ----------
        is_all : bool
            All recordings that strokes come from, up to date or not.

        Returns
        -------
        list of RecordingEntry
            In the order they were entered.
        """
        strokes = select(StrokeRow.recording_id)
        if not is_all:
            strokes = strokes.where(StrokeRow.method_version != METHOD_VERSION)
        wanted = select(RecordingRow).where(RecordingRow.recording_id.in_(strokes))
        if not is_all:
            done = func.coalesce(RecordingRow.analysed_with, "")
            wanted = wanted.where(done != METHOD_VERSION)
        with self._read() as session:
            rows = session.scalars(wanted.order_by(RecordingRow.recording_id))
            return [recording_view(row) for row in rows]

    def renew_strokes(
        self, recording_id: int, strokes: Sequence[Stroke], *, is_dry_run: bool = False
    ) -> Renewal:
        """Put what a recording's analysis finds now in the place of what it found before.

        Parameters
        ----------
        recording_id : int
            Which.
        strokes : sequence of Stroke
            All its strokes as the present method finds them.
        is_dry_run : bool
            Only tell what would become of them; nothing is changed.

        Returns
        -------
        Renewal
            What moved, what is new and what is no longer found.

        Raises
        ------
        PracticeError
            If there is no such recording.
        """
        if is_dry_run:
            with self._read() as session:
                return _renewal(session, recording_id, strokes, is_dry_run=True)
        with self._write() as session:
            return _renewal(session, recording_id, strokes, is_dry_run=False)

    def older_measures(self, shot_id: int) -> list[OlderMeasures]:
        """Return what older methods had measured of a shot's stroke, the newest first."""
        wanted = (
            select(OlderMeasuresRow)
            .join(ShotRow, ShotRow.stroke_id == OlderMeasuresRow.stroke_id)
            .where(ShotRow.shot_id == shot_id)
            .order_by(OlderMeasuresRow.older_measures_id.desc())
        )
        with self._read() as session:
            get(session, ShotRow, shot_id)
            return [
                OlderMeasures(row.method_version, row.replaced_utc, stroke_of_older(row.measures))
                for row in session.scalars(wanted)
            ]


def pair_up(
    known_s: Sequence[float], found_s: Sequence[float]
) -> tuple[list[tuple[int, int]], list[int], list[int]]:
    """Pair strokes by the time of their touch, the closest first, each at most once.

    Parameters
    ----------
    known_s, found_s : sequence of float
        Times of touch in the log and in the new analysis.

    Returns
    -------
    pairs : list of (int, int)
        Places in the two.
    new, lost : list of int
        Places in ``found_s`` and ``known_s`` without a partner.
    """
    close = sorted(
        (abs(known - found), i, j)
        for i, known in enumerate(known_s)
        for j, found in enumerate(found_s)
        if abs(known - found) <= SAME_STROKE_S
    )
    partner: dict[int, int] = {}
    for _, i, j in close:
        if i not in partner and j not in partner.values():
            partner[i] = j
    taken = set(partner.values())
    new = [j for j in range(len(found_s)) if j not in taken]
    lost = [i for i in range(len(known_s)) if i not in partner]
    return sorted(partner.items()), new, lost


def _renewal(
    session: Session, recording_id: int, strokes: Sequence[Stroke], *, is_dry_run: bool
) -> Renewal:
    """Renew the strokes of a recording, or only tell what would become of them."""
    recording = get(session, RecordingRow, recording_id, to_change=not is_dry_run)
    known = known_strokes(session, recording_id)
    pairs, new, lost = pair_up(
        [row.impact_time_s for row, _ in known], [float(s.impact_time_s) for s in strokes]
    )
    moved = []
    for i, j in pairs:
        row, shot_id = known[i]
        moved.append(Moved(shot_id, before=stroke_of_row(row), after=strokes[j]))
        if not is_dry_run:
            renew(session, row, strokes[j])
            _bring_back(session, shot_id)
    said = {shot_id for _, shot_id in known if _is_anything_said(session, shot_id)}
    gone = [known[i][1] for i in lost]
    entered: list[tuple[Stroke, int | None]] = []
    for j in new:
        where = None if is_dry_run else _series_near(session, known, strokes[j])
        number = None if where is None else add_stroke(session, recording, where, strokes[j])
        entered.append((strokes[j], number))
    if not is_dry_run:
        for shot_id in gone:
            if shot_id not in said:
                shot = get(session, ShotRow, shot_id)
                change(session, shot, _DISCARDING, {"is_discarded": True})
        recording.analysed_with = METHOD_VERSION
    return Renewal(
        recording=recording_view(recording),
        moved=tuple(moved),
        new=tuple(entered),
        lost_kept=tuple(shot_id for shot_id in gone if shot_id in said),
        lost_discarded=tuple(shot_id for shot_id in gone if shot_id not in said),
    )


_DISCARDING = "discarding (its stroke is no longer found)"


def _is_anything_said(session: Session, shot_id: int) -> bool:
    """Return whether somebody tapped, noted or marked anything about a shot."""
    shot = get(session, ShotRow, shot_id)
    taps = (shot.tapped_utc, shot.grade, shot.is_potted, shot.cushion_x_m, shot.stop_x_m)
    if any(tap is not None for tap in taps) or shot.note or shot.broken_rule or shot.is_mark_new:
        return True
    remarks = select(func.count()).where(
        RemarkRow.shot_id == shot_id, RemarkRow.is_discarded.is_(False)
    )
    return bool(session.scalar(remarks))


def _bring_back(session: Session, shot_id: int) -> None:
    """Bring a shot back that was discarded only because its stroke was not found for a while."""
    shot = get(session, ShotRow, shot_id)
    if not shot.is_discarded:
        return
    newest = (
        select(ChangeRow.what)
        .where(ChangeRow.shot_id == shot_id, ChangeRow.is_undone.is_(False))
        .order_by(ChangeRow.change_id.desc())
        .limit(1)
    )
    what = session.scalar(newest)
    if what is not None and what.startswith(_DISCARDING):
        change(session, shot, "restoring (its stroke is found again)", {"is_discarded": False})


def _series_near(
    session: Session, known: Sequence[tuple[StrokeRow, int]], stroke: Stroke
) -> SeriesRow | None:
    """Return the series of the stroke nearest in time, where a new one belongs most likely."""
    if not known:
        return None
    near = min(known, key=lambda one: abs(one[0].impact_time_s - float(stroke.impact_time_s)))
    return get(session, SeriesRow, get(session, ShotRow, near[1]).series_id)
