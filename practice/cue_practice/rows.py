"""Between the database's rows and the views the log hands out."""

import io
from collections.abc import Sequence
from dataclasses import fields
from functools import lru_cache
from typing import Any, TypeVar, cast

import numpy as np

from cue_practice.grades import Grade
from cue_practice.plain import default_of, plain, unplain
from cue_practice.tables import (
    ChangeRow,
    CueRow,
    PlayerRow,
    RecordingRow,
    SeriesRow,
    SetUpRow,
    ShotRow,
    StrokeRow,
    TableRow,
)
from cue_practice.views import (
    Change,
    Cue,
    Player,
    Point,
    RecordingEntry,
    Series,
    SetUpEntry,
    Shot,
    Table,
)
from cue_signal.stroke import METHOD_VERSION, Stroke, StrokeFlag, StrokeTrace
from cue_table.setup import PocketName, SetUp, TableSize

_View = TypeVar("_View")
_GRADES = {grade.value: grade for grade in Grade}
_KEPT = tuple(f for f in fields(Stroke) if f.name not in {"flags", "trace"})

MEASURES = tuple(f.name for f in _KEPT if f.name in StrokeRow.__table__.columns)
"""Measures of a stroke that have a column of their own."""

MORE_MEASURES = tuple(f.name for f in _KEPT if f.name not in StrokeRow.__table__.columns)
"""Measures that came later: kept by name in one column, at their defaults where they are not."""

_DEFAULTS = {f.name: default_of(f) for f in _KEPT if f.name in MORE_MEASURES}


def player_view(row: PlayerRow) -> Player:
    """Return the view of a player's row."""
    return Player(player_id=row.player_id, nickname=row.nickname, added_utc=row.added_utc)


def cue_view(row: CueRow) -> Cue:
    """Return the view of a cue's row."""
    return Cue(
        cue_id=row.cue_id,
        name=row.name,
        player_id=row.player_id,
        mass_kg=row.mass_kg,
        length_m=row.length_m,
        tip_width_m=row.tip_width_m,
    )


def table_view(row: TableRow) -> Table:
    """Return the view of a table's row."""
    return Table(
        table_id=row.table_id,
        name=row.name,
        size=table_size(row),
        sliding_friction=row.sliding_friction,
        rolling_resistance=row.rolling_resistance,
    )


def table_size(row: TableRow) -> TableSize:
    """Return the dimensions of a table's row."""
    return TableSize(length_m=row.length_m, width_m=row.width_m, **row.other_sizes)


def setup_view(row: SetUpRow, table: TableRow) -> SetUpEntry:
    """Return the view of a set-up's row on its table."""
    setup = SetUp(
        name=row.name,
        table=table_size(table),
        white_m=(row.white_x_m, row.white_y_m),
        object_ball_m=(row.object_ball_x_m, row.object_ball_y_m),
        pocket=cast("PocketName", row.pocket),
        next_ball_m=_point(row.next_ball_x_m, row.next_ball_y_m),
        landing_area_m=tuple((x, y) for x, y in row.landing_area_m),
        obstacles_m=tuple((x, y) for x, y in row.obstacles_m),
    )
    return SetUpEntry(setup_id=row.setup_id, table_id=row.table_id, setup=setup)


def setup_values(setup: SetUp) -> dict[str, Any]:
    """Return the columns of a set-up's row."""
    next_x, next_y = setup.next_ball_m or (None, None)
    return {
        "name": setup.name,
        "white_x_m": setup.white_m[0],
        "white_y_m": setup.white_m[1],
        "object_ball_x_m": setup.object_ball_m[0],
        "object_ball_y_m": setup.object_ball_m[1],
        "pocket": setup.pocket,
        "next_ball_x_m": next_x,
        "next_ball_y_m": next_y,
        "landing_area_m": [[float(x), float(y)] for x, y in setup.landing_area_m],
        "obstacles_m": [[float(x), float(y)] for x, y in setup.obstacles_m],
    }


_SERIES_FIELDS = tuple(f.name for f in fields(Series))
SERIES_COLUMNS = tuple(getattr(SeriesRow, name) for name in _SERIES_FIELDS[:-3])
"""Columns of one query that lists series; the counts of their shots follow."""


def series_view(row: Sequence[Any]) -> Series:
    """Return the view of a row of :data:`SERIES_COLUMNS` and counts."""
    return _quickly(Series, dict(zip(_SERIES_FIELDS, row, strict=True)))


def recording_view(row: RecordingRow) -> RecordingEntry:
    """Return the view of a recording's row."""
    return RecordingEntry(
        recording_id=row.recording_id,
        path=row.path,
        name=row.name,
        sha256=row.sha256,
        start_utc=row.start_utc,
        sensor_kind=row.sensor_kind,
        sensor_name=row.sensor_name,
        added_utc=row.added_utc,
        analysed_with=row.analysed_with,
    )


def change_view(row: ChangeRow) -> Change:
    """Return the view of an entry of the history."""
    return Change(
        change_id=row.change_id,
        changed_utc=row.changed_utc,
        what=row.what,
        series_id=row.series_id,
        shot_id=row.shot_id,
        before=dict(row.before),
        after=dict(row.after),
        is_undone=row.is_undone,
        entry=row.entry,
        entry_id=row.entry_id,
    )


SHOT_COLUMNS = (
    ShotRow.shot_id,
    ShotRow.series_id,
    ShotRow.grade,
    ShotRow.is_potted,
    ShotRow.cushion_x_m,
    ShotRow.cushion_y_m,
    ShotRow.stop_x_m,
    ShotRow.stop_y_m,
    ShotRow.struck_utc,
    ShotRow.tapped_utc,
    ShotRow.note,
    ShotRow.is_discarded,
    ShotRow.broken_rule,
    ShotRow.is_mark_new,
    StrokeRow.recording_id,
    StrokeRow.method_version,
    StrokeRow.flags,
    StrokeRow.more_measures,
    *(getattr(StrokeRow, name) for name in MEASURES),
)
"""Columns of one query that lists shots; plain tuples are twice as quick as mapped objects."""

_N_SHOT = len(SHOT_COLUMNS) - len(MEASURES)


def shot_view(row: Sequence[Any]) -> Shot:
    """Return the view of a row of :data:`SHOT_COLUMNS`."""
    (shot_id, series_id, grade, is_potted, cushion_x, cushion_y, stop_x, stop_y) = row[:8]
    (struck, tapped, note, is_discarded, broken, is_mark_new) = row[8:14]
    (recording_id, version, flags, more) = row[14:_N_SHOT]
    stroke = None
    if recording_id is not None:
        stroke = stroke_of(row[_N_SHOT:], flags, more)
    values = {
        "shot_id": shot_id,
        "series_id": series_id,
        "stroke": stroke,
        "grade": None if grade is None else _GRADES[grade],
        "is_potted": is_potted,
        "cushion_point_m": _point(cushion_x, cushion_y),
        "stop_point_m": _point(stop_x, stop_y),
        "struck_utc": struck,
        "tapped_utc": tapped,
        "note": note,
        "is_discarded": is_discarded,
        "broken_rule": broken,
        "recording_id": recording_id,
        "method_version": version,
        "is_mark_new": is_mark_new,
    }
    return _quickly(Shot, values)


def stroke_values(stroke: Stroke) -> dict[str, Any]:
    """Return the columns of a stroke's row, plain Python numbers."""
    values: dict[str, Any] = {name: plain(getattr(stroke, name)) for name in MEASURES}
    values["flags"] = " ".join(sorted(flag.value for flag in stroke.flags))
    more = {name: plain(getattr(stroke, name)) for name in MORE_MEASURES}
    values["more_measures"] = more or None
    values["method_version"] = METHOD_VERSION
    return values


def pack_trace(trace: StrokeTrace) -> bytes:
    """Return a trace as compressed NumPy arrays, single precision from its own start on."""
    start_s = trace.time_s[0] if len(trace.time_s) else 0.0
    arrays: dict[str, Any] = {
        "start_s": np.float64(start_s),
        "time_s": np.float32(trace.time_s - start_s),
    }
    for name in ("speed_m_s", "accel_m_s2", "tip_lateral_m", "tip_vertical_m"):
        values = getattr(trace, name)
        if values is not None:
            arrays[name] = np.asarray(values, dtype=np.float32)
    buffer = io.BytesIO()
    np.savez_compressed(buffer, allow_pickle=False, **arrays)
    return buffer.getvalue()


def unpack_trace(packed: bytes) -> StrokeTrace:
    """Return the trace that :func:`pack_trace` packed."""
    with np.load(io.BytesIO(packed), allow_pickle=False) as arrays:
        found = {name: arrays[name].astype(np.float64) for name in arrays.files}
    return StrokeTrace(
        time_s=found["start_s"] + found["time_s"],
        speed_m_s=found["speed_m_s"],
        accel_m_s2=found["accel_m_s2"],
        tip_lateral_m=found.get("tip_lateral_m"),
        tip_vertical_m=found.get("tip_vertical_m"),
    )


def stroke_of(measures: Sequence[Any], flags: str, more: dict[str, Any] | None) -> Stroke:
    """Return a stroke of a row's measures, flags and measures of later."""
    values = dict(zip(MEASURES, measures, strict=True))
    if MORE_MEASURES:
        kept = more or {}
        values |= _DEFAULTS
        values |= {n: unplain(kept[n]) for n in MORE_MEASURES if n in kept}
    values["flags"] = flags_from_text(flags)
    values["trace"] = None
    return _quickly(Stroke, values)


def _quickly(kind: type[_View], values: dict[str, Any]) -> _View:
    """Return a frozen dataclass as its constructor would, in a third of its time."""
    view = object.__new__(kind)
    object.__setattr__(view, "__dict__", values)
    return view


@lru_cache(maxsize=512)
def flags_from_text(text: str) -> frozenset[StrokeFlag]:
    """Return the flags of a stroke; words of a newer method are passed over."""
    known = set(StrokeFlag)
    return frozenset(StrokeFlag(word) for word in text.split() if word in known)


def _point(x: float | None, y: float | None) -> Point | None:
    """Return a point, None where it was not tapped."""
    return None if x is None or y is None else (x, y)
