"""Entering strokes: each once, however often its recording is analysed."""

from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from cue_practice.rows import pack_trace, stroke_values
from cue_practice.tables import RecordingRow, SeriesRow, ShotRow, StrokeRow, StrokeTraceRow
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
                _renew(session, row, stroke)
            del known[index]
            return shot_id
    row = StrokeRow(recording_id=recording.recording_id, **stroke_values(stroke))
    session.add(row)
    session.flush()
    _keep_trace(session, row.stroke_id, stroke.trace)
    start_utc = recording.start_utc or series.started_utc
    shot = new_shot(series.series_id, row.stroke_id, start_utc + timedelta(seconds=impact_s))
    session.add(shot)
    session.flush()
    return shot.shot_id


def _renew(session: Session, row: StrokeRow, stroke: Stroke) -> None:
    """Put a newer method's measures in the place of older ones."""
    for name, value in stroke_values(stroke).items():
        setattr(row, name, value)
    _keep_trace(session, row.stroke_id, stroke.trace)


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
