"""The log as tables for other programs: pandas frames with units in the column names, and CSV.

Frames are read column by column straight from the database: only what is asked for, and no object
for each shot.
"""

from collections.abc import Callable, Sequence
from dataclasses import fields
from pathlib import Path
from types import UnionType
from typing import TYPE_CHECKING, Any, Unpack, get_args

import numpy as np
import pandas as pd
from sqlalchemy import DateTime, Select, func, select, type_coerce

from cue_practice.chosen import Chosen, where
from cue_practice.plain import default_of, unplain
from cue_practice.rows import MEASURES, MORE_MEASURES
from cue_practice.series_sums import sums_query
from cue_practice.shot_lists import page
from cue_practice.tables import CueRow, PlayerRow, SeriesRow, SetUpRow, ShotRow, StrokeRow, TableRow
from cue_practice.whole_file import whole_file
from cue_signal.stroke import Stroke

if TYPE_CHECKING:
    from cue_practice.log import PracticeLog

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What makes a spreadsheet take a text for a formula (OWASP, "CSV Injection", from memory)."""


def shots_frame(
    log: "PracticeLog",
    *,
    columns: Sequence[str] | None = None,
    newest: int | None = None,
    offset: int = 0,
    **chosen: Unpack[Chosen],
) -> pd.DataFrame:
    """Return shots as a frame, one row a shot, in the order they were played.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    columns : sequence of str or None
        Only these, in this order, and nothing else is read; None for all.
    newest, offset, **chosen
        As for :meth:`cue_practice.log.PracticeLog.shots`.

    Returns
    -------
    pandas.DataFrame
        Every measure of the stroke under its own name, held settings and result; missing values
        where the sensor cannot tell or nothing was tapped.

    Raises
    ------
    ValueError
        If there is no such column.
    """
    names = list(SHOT_KINDS) if columns is None else list(columns)
    unknown = [name for name in names if name not in SHOT_KINDS]
    if unknown:
        raise ValueError(f"no column {unknown[0]!r}; there are {', '.join(SHOT_KINDS)}")
    wanted = (
        select(*(_column(name).label(name) for name in names))
        .select_from(ShotRow)
        .join(SeriesRow, ShotRow.series_id == SeriesRow.series_id)
    )
    if any(name in _OF_STROKE for name in names):
        wanted = wanted.outerjoin(StrokeRow, ShotRow.stroke_id == StrokeRow.stroke_id)
    rows = _read(log, page(wanted, chosen, newest, offset))[::-1]
    return _frame(log, rows, {name: SHOT_KINDS[name] for name in names})


def series_frame(log: "PracticeLog", **chosen: Unpack[Chosen]) -> pd.DataFrame:
    """Return series as a frame with sums over their shots, in the order they were begun.

    Parameters
    ----------
    log : PracticeLog
        Where they are.
    **chosen
        Conditions on the shots, see :class:`cue_practice.chosen.Chosen`; series without such a
        shot are left out.

    Returns
    -------
    pandas.DataFrame
        One row a series: what it holds, ``n_shots``, ``n_strokes``, ``n_too_little``, ``n_right``,
        ``n_too_much``, ``n_potted``, ``n_missed``; over shots with a stroke and no broken rule
        ``n_kept``, mean, spread (sample standard deviation) and ends of ``pace_m_s``, mean of
        ``accel_at_hit_m_s2`` and of ``slowing_probability``.
    """
    frame = _frame(log, _read(log, where(sums_query(), chosen)), SERIES_KINDS)
    frame["pace_spread_m_s"] = np.sqrt(frame["pace_spread_m_s"].to_numpy())
    return frame


def write_csv(frame: pd.DataFrame, path: str | Path) -> None:
    """Write a frame as CSV; no text in it can run as a spreadsheet's formula.

    Parameters
    ----------
    frame : pandas.DataFrame
        For example of :func:`shots_frame`.
    path : str or Path
        Where to; a file that is there is replaced once the new one is whole.

    Raises
    ------
    PracticeError
        If it cannot be written.
    """
    with whole_file(path, "table", newline="") as stream:
        stream.write(csv_text(frame))


def csv_text(frame: pd.DataFrame) -> str:
    """Return a frame as CSV; a text that begins like a formula gets an apostrophe before it.

    Parameters
    ----------
    frame : pandas.DataFrame
        Anything.

    Returns
    -------
    str
        Lines end with CR LF as RFC 4180 has it; times in ISO 8601.
    """
    safe = frame.copy()
    for name in safe.columns:
        if not pd.api.types.is_numeric_dtype(safe[name].dtype):
            safe[name] = [_defused(value) for value in safe[name]]
    safe.columns = pd.Index([_defused(name) for name in safe.columns])
    return safe.to_csv(index=False, lineterminator="\r\n")


def undefused(text: str) -> str:
    """Return a text of a CSV file as it was before an apostrophe was put before it.

    Examples
    --------
    >>> undefused("'=1+1"), undefused("'tis right")
    ('=1+1', "'tis right")
    """
    return text[1:] if text.startswith("'") and _is_risky(text) else text


def _is_risky(text: str) -> bool:
    """Return whether a text, apostrophes before it aside, begins like a formula."""
    return text.lstrip("'").startswith(_FORMULA_STARTS)


def _defused(value: Any) -> Any:
    """Return a value that no spreadsheet takes for a formula."""
    if isinstance(value, str) and _is_risky(value):
        return "'" + value
    if isinstance(value, pd.Timestamp):
        return value.isoformat()
    return value


def _kind_of(annotation: Any) -> str:
    """Return the type of a column for a field of a dataclass."""
    one = next((a for a in get_args(annotation) if a is not type(None)), annotation)
    is_plain = not isinstance(annotation, UnionType) or len(get_args(annotation)) == 2
    kinds = {float: "float64", int: "Int64", bool: "boolean", str: "string"}
    return kinds.get(one, "object") if is_plain else "object"


_MOMENT = "datetime64[us, UTC]"
_STROKE_FIELDS = {field.name: field for field in fields(Stroke)}

SHOT_KINDS = {
    "shot_id": "int64",
    "series_id": "int64",
    "struck_utc": _MOMENT,
    **dict.fromkeys(("player", "cue", "table", "setup"), "string"),
    **dict.fromkeys(("tip_below_centre_m", "side_m", "called_pace_m_s"), "float64"),
    **dict.fromkeys(("cloth", "conditions"), "string"),
    "grade": "string",
    "is_potted": "boolean",
    **dict.fromkeys(("cushion_x_m", "cushion_y_m", "stop_x_m", "stop_y_m"), "float64"),
    "tapped_utc": _MOMENT,
    "note": "string",
    "is_discarded": "bool",
    "broken_rule": "string",
    "is_mark_new": "bool",
    **{name: _kind_of(_STROKE_FIELDS[name].type) for name in (*MEASURES, *MORE_MEASURES)},
    "flags": "string",
    "recording_id": "Int64",
    "method_version": "string",
}
"""Columns of :func:`shots_frame` and their types."""

SERIES_KINDS = {
    "series_id": "int64",
    "started_utc": _MOMENT,
    **dict.fromkeys(("player", "cue", "table", "setup"), "string"),
    **dict.fromkeys(("tip_below_centre_m", "side_m", "called_pace_m_s"), "float64"),
    **dict.fromkeys(("n_shots", "n_strokes", "n_too_little", "n_right", "n_too_much"), "int64"),
    **dict.fromkeys(("n_potted", "n_missed", "n_kept"), "int64"),
    **dict.fromkeys(
        ("pace_mean_m_s", "pace_spread_m_s", "pace_min_m_s", "pace_max_m_s"), "float64"
    ),
    **dict.fromkeys(("accel_at_hit_mean_m_s2", "slowing_probability_mean"), "float64"),
}
"""Columns of :func:`series_frame` and their types."""

_OF_STROKE = {*MEASURES, *MORE_MEASURES, "flags", "recording_id", "method_version"}
_OF_SERIES = {"tip_below_centre_m", "side_m", "called_pace_m_s", "cloth", "conditions"}
_NAMED: dict[str, Any] = {
    "player": SeriesRow.player_id,
    "cue": SeriesRow.cue_id,
    "table": SeriesRow.table_id,
    "setup": SeriesRow.setup_id,
}
_NAMES: dict[str, Any] = {
    "player": (PlayerRow.player_id, PlayerRow.nickname),
    "cue": (CueRow.cue_id, CueRow.name),
    "table": (TableRow.table_id, TableRow.name),
    "setup": (SetUpRow.setup_id, SetUpRow.name),
}


def _column(name: str) -> Any:
    """Return where a column of the frame is read from."""
    if name in _NAMED:
        return _NAMED[name]
    if name in MORE_MEASURES:
        return StrokeRow.more_measures
    row = StrokeRow if name in _OF_STROKE else SeriesRow if name in _OF_SERIES else ShotRow
    column = getattr(row, name)
    if name in ("cloth", "conditions"):
        return func.nullif(column, "")  # nothing said is a missing value
    # without our own type: whole columns get their zone at once
    return type_coerce(column, DateTime) if name.endswith("_utc") else column


def _read(log: "PracticeLog", wanted: Select[*tuple[Any, ...]]) -> Sequence[Any]:
    """Return the rows of a query as plain tuples."""
    with log._read() as session:
        return session.connection().execute(wanted).all()


def _frame(log: "PracticeLog", rows: Sequence[Any], kinds: dict[str, str]) -> pd.DataFrame:
    """Return rows as a frame, each column of its kind."""
    columns: list[Sequence[Any]] = list(zip(*rows, strict=True)) or [()] * len(kinds)
    made: dict[str, Any] = {}
    for (name, kind), values in zip(kinds.items(), columns, strict=True):
        if name in _NAMES:
            known = dict(tuple(row) for row in _read(log, select(*_NAMES[name])))
            values = [known[key] for key in values]
        elif name in MORE_MEASURES:
            values = [_more(name, kept) for kept in values]
        made[name] = _MAKE.get(kind, _any)(values, kind)
    return pd.DataFrame(made)


def _more(name: str, kept: dict[str, Any] | None) -> Any:
    """Return a measure of later from all that were kept."""
    return unplain(kept[name]) if kept and name in kept else default_of(_STROKE_FIELDS[name])


def _moments(values: Sequence[Any], _kind: str) -> Any:
    """Return a column of moments."""
    found = np.array(values, dtype="datetime64[us]")
    return pd.Series(found, dtype="datetime64[us]").dt.tz_localize("UTC")


def _numbers(values: Sequence[Any], kind: str) -> Any:
    """Return a column of numbers, NaN where there is none."""
    return np.array(values, dtype=kind)


def _any(values: Sequence[Any], kind: str) -> Any:
    """Return a column that pandas makes itself."""
    return pd.Series(list(values), dtype=kind)


_MAKE: dict[str, Callable[[Sequence[Any], str], Any]] = {
    _MOMENT: _moments,
    "float64": _numbers,
    "int64": _numbers,
    "bool": _numbers,
}
