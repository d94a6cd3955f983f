"""Entering strokes: each once, however often its recording is analysed."""

from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from cue_practice.rows import MEASURES, pack_trace, stroke_of, stroke_values
from cue_practice.store import now_utc
from cue_practice.tables import (
    OlderMeasuresRow,
    RecordingRow,
    SeriesRow,
    ShotRow,
    StrokeRow,
    StrokeTraceRow,
)
from cue_signal.stroke import METHOD_VERSION, Stroke, StrokeTrace

SAME_STROKE_S = 0.1
"""Two touches in one recording less than this apart are one stroke, measured twice."""


def known_strokes(session: Session, recording_id: int) -> list[tuple[StrokeRow, int]]:
    """Return the strokes of a recording that are in the log, with their shots' numbers."""
    wanted = (
        select(StrokeRow, ShotRow.shot_id)
        .join(ShotRow, ShotRow.stroke_id == StrokeRow.stroke_id)
        .where(StrokeRow.recording_id == recording_id)
    )
    return [(row, shot_id) for row, shot_id in session.execute(wanted).all()]


def enter_stroke(
    session: Session,
    recording: RecordingRow,
    series: SeriesRow,
    known: list[tuple[StrokeRow, int]],
    stroke: Stroke,
) -> int:
    """Enter one stroke and return its shot's number."""
    impact_s = float(stroke.impact_time_s)
    for index, (row, shot_id) in enumerate(known):
        if abs(row.impact_time_s - impact_s) <= SAME_STROKE_S:
            if row.method_version != METHOD_VERSION:
                renew(session, row, stroke)
            del known[index]
            return shot_id
    return add_stroke(session, recording, series, stroke)


def add_stroke(session: Session, recording: RecordingRow, series: SeriesRow, stroke: Stroke) -> int:
    """Enter a stroke that is not in the log yet and return its shot's number."""
    row = StrokeRow(recording_id=recording.recording_id, **stroke_values(stroke))
    session.add(row)
    session.flush()
    _keep_trace(session, row.stroke_id, stroke.trace)
    start_utc = recording.start_utc or series.started_utc
    struck_utc = start_utc + timedelta(seconds=float(stroke.impact_time_s))
    shot = new_shot(series.series_id, row.stroke_id, struck_utc)
    session.add(shot)
    session.flush()
    return shot.shot_id


def renew(session: Session, row: StrokeRow, stroke: Stroke) -> bool:
    """Put a newer method's measures in the place of older ones, which are kept beside.

    Parameters
    ----------
    session : sqlalchemy.orm.Session
        A writing transaction.
    row : StrokeRow
        As it was measured before.
    stroke : Stroke
        As it is measured now.

    Returns
    -------
    bool
        Whether anything is different.
    """
    values = stroke_values(stroke)
    old = {name: getattr(row, name) for name in values}
    if old == values:
        return False
    version = old.pop("method_version")
    session.add(
        OlderMeasuresRow(
            stroke_id=row.stroke_id, method_version=version, replaced_utc=now_utc(), measures=old
        )
    )
    for name, value in values.items():
        setattr(row, name, value)
    _keep_trace(session, row.stroke_id, stroke.trace)
    return True


def stroke_of_row(row: StrokeRow) -> Stroke:
    """Return the stroke of a row, without its trace."""
    return stroke_of([getattr(row, name) for name in MEASURES], row.flags, row.more_measures)


def stroke_of_older(measures: dict[str, Any]) -> Stroke:
    """Return the stroke that an older method had measured."""
    more = measures.get("more_measures")
    return stroke_of([measures.get(n) for n in MEASURES], measures.get("flags", ""), more)


def _keep_trace(session: Session, stroke_id: int, trace: StrokeTrace | None) -> None:
    """Keep a stroke's trace, if it has one."""
    if trace is not None:
        session.merge(StrokeTraceRow(stroke_id=stroke_id, packed=pack_trace(trace)))


def new_shot(series_id: int, stroke_id: int | None, struck_utc: datetime) -> ShotRow:
    """Return a new shot without a result."""
    return ShotRow(
        series_id=series_id,
        stroke_id=stroke_id,
        struck_utc=struck_utc,
        note="",
        is_discarded=False,
        is_mark_new=False,
    )
