"""Tables for other programs, written and read back: CSV and Parquet.

Headers hold the units. Parquet keeps the columns' types by itself; CSV is typed again by what the
log says of its columns, so that both read back as they were written.
"""

import io
from pathlib import Path
from typing import Any

import pandas as pd

from cue_practice.errors import PracticeError
from cue_practice.frames import SERIES_KINDS, SHOT_KINDS, undefused, write_csv
from cue_practice.whole_file import write_whole

__all__ = ["read_csv", "read_parquet", "write_csv", "write_parquet"]

_ZSTD_LEVEL = 9


def write_parquet(frame: pd.DataFrame, path: str | Path) -> None:
    """Write a frame as a Parquet file.

    Parameters
    ----------
    frame : pandas.DataFrame
        For example of :func:`cue_practice.frames.shots_frame`.
    path : str or Path
        Where to; a file that is there is replaced once the new one is whole.

    Raises
    ------
    PracticeError
        If it cannot be written, or pyarrow is not installed.
    """
    stream = io.BytesIO()
    try:
        frame.to_parquet(
            stream, engine="pyarrow", index=False, compression="zstd",
            compression_level=_ZSTD_LEVEL,
        )  # fmt: skip
    except ImportError as error:
        raise _no_pyarrow() from error
    write_whole(stream.getvalue(), path, "table")


def read_parquet(path: str | Path) -> pd.DataFrame:
    """Return a frame from a Parquet file.

    Parameters
    ----------
    path : str or Path
        Written by :func:`write_parquet`.

    Raises
    ------
    PracticeError
        If it cannot be read, or pyarrow is not installed.
    """
    try:
        frame = pd.read_parquet(path, engine="pyarrow")
    except ImportError as error:
        raise _no_pyarrow() from error
    except (OSError, ValueError) as error:
        raise PracticeError(
            f"{path} cannot be read as a Parquet file ({error}). Choose one that was exported."
        ) from error
    return _typed(frame)


def read_csv(path: str | Path) -> pd.DataFrame:
    """Return a frame from a CSV file.

    Parameters
    ----------
    path : str or Path
        Written by :func:`write_csv`; apostrophes that keep spreadsheets from running texts are
        taken away.

    Raises
    ------
    PracticeError
        If it cannot be read, or a column holds what it cannot.
    """
    try:
        raw = pd.read_csv(path, dtype="string", keep_default_na=False, encoding="utf-8")
        return _typed(
            raw.apply(lambda column: column.map(undefused).astype("string")), is_text=True
        )
    except (OSError, ValueError) as error:
        raise PracticeError(
            f"{path} cannot be read as a table ({error}). Choose one that was exported as CSV."
        ) from error


_KINDS = {**SERIES_KINDS, **SHOT_KINDS}


def _typed(frame: pd.DataFrame, *, is_text: bool = False) -> pd.DataFrame:
    """Return a frame whose columns have the types the log gives them."""
    columns: dict[Any, Any] = {}
    for name in frame.columns:
        kind = _KINDS.get(str(name))
        column: Any = frame[name]
        if is_text and kind != "string":
            column = column.mask(column == "")
        if is_text and name in _NEVER_EMPTY:
            column = column.fillna("")
        elif is_text and kind == "string":
            column = column.mask(column == "")
        columns[name] = _as_kind(column, kind)
    if is_text and {"flags", "tip_speed_m_s"} <= set(columns):
        # a stroke without flags has an empty text, a shot without a stroke has none
        is_empty = columns["flags"].isna() & columns["tip_speed_m_s"].notna()
        columns["flags"] = columns["flags"].mask(is_empty, "")
    return pd.DataFrame(columns)


_NEVER_EMPTY = {"player", "cue", "table", "setup", "note"}
"""Texts that are empty rather than missing."""


def _as_kind(column: Any, kind: str | None) -> Any:
    """Return a column of one type."""
    if kind is None:
        return column
    if kind.startswith("datetime"):
        return pd.to_datetime(column, utc=True, format="ISO8601").astype(kind)
    if kind in {"bool", "boolean"} and column.dtype == "string":
        column = column.map({"True": True, "False": False}).astype("boolean")
    if kind in {"int64", "Int64"} and column.dtype == "string":
        column = column.astype("Int64")
    if kind == "float64" and column.dtype == "string":
        column = column.map(float, na_action="ignore").astype("Float64")
    return column.astype(kind)


def _no_pyarrow() -> PracticeError:
    """Return the error of a missing library."""
    return PracticeError(
        "Parquet files need pyarrow, which is not installed. Install it with: "
        "pip install 'stunpace[parquet]', or export CSV."
    )
