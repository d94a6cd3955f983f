"""Where exactly a CSV file cannot be read: a slow second look, taken only when the first fails."""

import math
import re
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Final

from cue_sensors.csv_columns import Columns
from cue_sensors.errors import RecordingError

NUMBER: Final = re.compile(rb"\s*[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?\s*")
"""What counts as a number: a point for the decimals, no thousands, no underscores."""


def find_fault(path: Path, name: str, columns: Columns, first_line: int) -> RecordingError:
    """Return the first fault in the rows of a CSV file.

    Parameters
    ----------
    path : path
        The file.
    name : str
        Its name as the user gave it.
    columns : Columns
        From its header.
    first_line : int
        Number of the first line after the header, counted from 1.

    Returns
    -------
    RecordingError
        With the line and the column.
    """
    for number, line in _rows(path, first_line):
        cells = line.split(b",")
        if len(cells) != len(columns.names):
            problem = f"It has {len(cells)} values; the header has {len(columns.names)} columns."
            return RecordingError(name, f"line {number}", problem, "Correct or remove the line.")
        for column, cell in zip(columns.names, cells, strict=True):
            fault = _cell_fault(cell)
            if fault is not None:
                place = f"line {number}, column {column}"
                return RecordingError(name, place, fault, "Correct or remove the line.")
    return RecordingError(name, "", "The rows cannot be read.", "Export the file again.")


def line_of_row(path: Path, first_line: int, row: int) -> int:
    """Return the line number of a row, counted from 0; empty lines are no rows."""
    rows = islice(_rows(path, first_line), row, None)
    return next(rows, (first_line + row, b""))[0]


def _rows(path: Path, first_line: int) -> Iterator[tuple[int, bytes]]:
    """Yield line number and content of every line from the first that is not empty."""
    with path.open("rb") as file:
        for number, line in enumerate(file, start=1):
            if number >= first_line and line.strip():
                yield number, line.rstrip(b"\r\n")


def _cell_fault(cell: bytes) -> str | None:
    """Return what is wrong with one value, None if nothing is."""
    try:
        text = cell.decode().strip()
    except UnicodeDecodeError:
        return "It is not text in UTF-8."
    if not text:
        return "The value is missing."
    if NUMBER.fullmatch(cell):
        return None if math.isfinite(float(text)) else f"{text[:40]!r} is beyond all numbers."
    if text.lower().lstrip("+-") in ("nan", "inf", "infinity"):
        return f"{text!r} stands where a measured number belongs."
    return f"{text[:40]!r} is no number."
