"""The log as tables for other programs: pandas frames with units in the column names, and CSV."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from cue_practice.rows import MEASURES
from cue_practice.views import Point, Series, Shot
from cue_practice.whole_file import whole_file

if TYPE_CHECKING:
    from cue_practice.log import PracticeLog

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What makes a spreadsheet take a text for a formula (OWASP, "CSV Injection", from memory)."""


def shots_frame(log: "PracticeLog", **chosen: Any) -> pd.DataFrame:
    """Return shots as a frame, one row a shot, in the order they were played.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    **chosen
        As for :meth:`cue_practice.log.PracticeLog.shots`.

    Returns
    -------
    pandas.DataFrame
        Every measure of the stroke under its own name, held settings and result; missing values
        where the sensor cannot tell or nothing was tapped.
    """
    names = _names(log)
    series = {entry.series_id: entry for entry in log.all_series(include_discarded=True)}
    rows = [_row(shot, series[shot.series_id], names) for shot in log.shots(**chosen)]
    frame = pd.DataFrame(rows, columns=list(_COLUMNS))
    return frame.astype(_COLUMNS)


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


def _defused(value: Any) -> Any:
    """Return a value that no spreadsheet takes for a formula."""
    if isinstance(value, str) and value.startswith(_FORMULA_STARTS):
        return "'" + value
    if isinstance(value, pd.Timestamp):
        return value.isoformat()
    return value


_COLUMNS = {
    "shot_id": "int64",
    "series_id": "int64",
    "struck_utc": "datetime64[us, UTC]",
    **dict.fromkeys(("player", "cue", "table", "setup"), "string"),
    **dict.fromkeys(("tip_below_centre_m", "side_m", "called_pace_m_s"), "float64"),
    "grade": "string",
    "is_potted": "boolean",
    **dict.fromkeys(("cushion_x_m", "cushion_y_m", "stop_x_m", "stop_y_m"), "float64"),
    "tapped_utc": "datetime64[us, UTC]",
    "note": "string",
    "is_discarded": "bool",
    "broken_rule": "string",
    **dict.fromkeys(MEASURES, "float64"),
    "feathers": "Int64",
    "flags": "string",
    "recording_id": "Int64",
    "method_version": "string",
}


def _names(log: "PracticeLog") -> dict[str, dict[int, str]]:
    """Return what everything is called, by number."""
    return {
        "player": {player.player_id: player.nickname for player in log.players()},
        "cue": {cue.cue_id: cue.name for cue in log.cues()},
        "table": {table.table_id: table.name for table in log.tables()},
        "setup": {entry.setup_id: entry.name for entry in log.setups()},
    }


def _row(shot: Shot, series: Series, names: dict[str, dict[int, str]]) -> dict[str, Any]:
    """Return one shot as a row."""
    row: dict[str, Any] = {
        "shot_id": shot.shot_id,
        "series_id": shot.series_id,
        "struck_utc": shot.struck_utc,
        "player": names["player"][series.player_id],
        "cue": names["cue"][series.cue_id],
        "table": names["table"][series.table_id],
        "setup": names["setup"][series.setup_id],
        "tip_below_centre_m": series.tip_below_centre_m,
        "side_m": series.side_m,
        "called_pace_m_s": series.called_pace_m_s,
        "grade": None if shot.grade is None else shot.grade.value,
        "is_potted": shot.is_potted,
        "tapped_utc": shot.tapped_utc,
        "note": shot.note,
        "is_discarded": shot.is_discarded,
        "broken_rule": shot.broken_rule,
        "recording_id": shot.recording_id,
        "method_version": shot.method_version,
    }
    row |= _xy("cushion", shot.cushion_point_m) | _xy("stop", shot.stop_point_m)
    if shot.stroke is not None:
        row |= {name: getattr(shot.stroke, name) for name in MEASURES}
        row["flags"] = " ".join(sorted(flag.value for flag in shot.stroke.flags))
    return row


def _xy(name: str, point: Point | None) -> dict[str, float | None]:
    """Return the two columns of a point."""
    x_m, y_m = point or (None, None)
    return {f"{name}_x_m": x_m, f"{name}_y_m": y_m}
