"""Generic CSV in and out; the units stand in the header, nothing is guessed.

The columns are specified in ``recordings/FORMAT.md``, section "Generic CSV".
"""

import os
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO, Final

import numpy as np
import pandas as pd

from cue_sensors.csv_columns import ACCEL_UNITS, CLIPPED_COLUMN, comment_lines
from cue_sensors.csv_faults import find_fault, line_of_row
from cue_sensors.csv_head import CsvHead
from cue_sensors.errors import RecordingError
from cue_sensors.plausible import (
    clipped,
    likely_unit,
    range_from_flat_tops,
    rest_magnitude_m_s2,
)
from cue_sensors.rate import fitted_rate_hz
from cue_sensors.read import check_size, file_error
from cue_sensors.samples import BoolArray, FloatArray, Recording, Samples

MAX_BYTES: Final = 512 * 1024 * 1024
"""Largest file read at once: about ten hours of six axes at 200 Hz; takes 1.1 GB of memory."""
ROWS_AT_ONCE: Final = 200_000
RATE_LIMITS_HZ: Final = (5.0, 50_000.0)
"""Outside these the times are in another unit than the header says."""


def read_csv(path: str | os.PathLike[str], *, max_bytes: int = MAX_BYTES) -> Recording:
    """Return the recording in a CSV file.

    A last line without a line end may have been cut in the middle of a number; it is left out
    and said so. Where neither a comment nor a column tells the range of the accelerometer, flat
    tops do.

    Parameters
    ----------
    path : path
        The file, in UTF-8.
    max_bytes : int
        Largest file to read.

    Returns
    -------
    Recording
        Samples in SI units, with what the comments say.

    Raises
    ------
    RecordingError
        If the file cannot be read as it is, with line and column.
    """
    name, path = os.fspath(path), Path(path)
    try:
        with path.open("rb") as file:
            size = os.fstat(file.fileno()).st_size
            check_size(name, size, max_bytes)
            head = CsvHead(name, file, size)
            table = _rows(path, head, file)
    except OSError as error:
        raise file_error(name, error) from error
    if len(table) < 2:
        problem = f"It has {len(table)} whole rows; a recording needs at least 2."
        raise RecordingError(name, f"line {head.n_lines}", problem, "Record again.")
    _check_times(path, head, table)
    return _recording(head, table)


def _rows(path: Path, head: CsvHead, file: BinaryIO) -> FloatArray:
    """Return all rows as numbers, shape (n, columns), in the file's units."""
    n_columns = len(head.columns.names)
    try:
        parts = [
            part.to_numpy(dtype=np.float64)
            for part in pd.read_csv(
                head.rows(file),
                header=None,
                dtype=np.float64,
                na_filter=False,
                chunksize=ROWS_AT_ONCE,
            )
        ]
        table = np.concatenate(parts)
    except pd.errors.EmptyDataError:
        return np.empty((0, n_columns))
    except (ValueError, OverflowError) as error:  # ParserError and UnicodeDecodeError are these
        raise find_fault(path, head.name, head.columns, head.n_lines + 1) from error
    if table.shape[1] != n_columns or not np.all(np.isfinite(table)):
        raise find_fault(path, head.name, head.columns, head.n_lines + 1)
    return table


def _check_times(path: Path, head: CsvHead, table: FloatArray) -> None:
    """Refuse times that stand still or run backwards."""
    time = table[:, head.columns.quantities.index("time")]
    wrong = np.flatnonzero(np.diff(time) <= 0)
    if not len(wrong):
        return
    row = int(wrong[0]) + 1
    before, after = time[row - 1], time[row]
    column = head.columns.name_of("time")
    place = f"line {line_of_row(path, head.n_lines + 1, row)}, column {column}"
    problem = f"The time runs backwards, from {before:g} to {after:g}."
    if before == after:
        problem = f"The time {after:g} comes twice."
    raise RecordingError(head.name, place, problem, "Export again with times that only grow.")


def _recording(head: CsvHead, table: FloatArray) -> Recording:
    """Return the recording of a table of rows."""
    columns = head.columns
    table *= np.array(columns.factors)  # in place: a copy of a large file would not fit
    values = dict(zip(columns.quantities, table.T, strict=True))
    force = np.column_stack([values[axis] for axis in ("ax", "ay", "az")])
    rate = None
    if columns.has_gyroscope:
        rate = np.column_stack([values[axis] for axis in ("gx", "gy", "gz")])
    rate_hz = fitted_rate_hz(values["time"])
    _check_rate(head, rate_hz)
    problems = [*_cut_problem(head), *_unit_problem(head, force, rate_hz)]
    is_clipped, range_m_s2, clip_problem = _clipped(head, values.get(CLIPPED_COLUMN), force)
    return Recording(
        name=head.name,
        samples=Samples(np.ascontiguousarray(values["time"]), force, rate, is_clipped, rate_hz),
        sensor=replace(head.notes.sensor, accel_range_m_s2=range_m_s2),
        mounting=head.notes.mounting,
        start_utc=head.notes.start_utc,
        labels=head.notes.labels,
        problems=(*problems, *clip_problem),
    )


def _check_rate(head: CsvHead, rate_hz: float) -> None:
    """Refuse a rate that only a wrong unit of time explains."""
    slowest, fastest = RATE_LIMITS_HZ
    if slowest <= rate_hz <= fastest:
        return
    column = head.columns.name_of("time")
    problem = f"Read as {column}, the times make {rate_hz:.3g} samples a second."
    remedy = "The times look like another unit; name the column time_s, time_ms or time_us."
    raise RecordingError(head.name, f"column {column}", problem, remedy)


def _cut_problem(head: CsvHead) -> list[str]:
    """Return a sentence if the last line had to be left out."""
    if not head.is_cut:
        return []
    return ["The last line has no line end and may be cut off in a number; it is left out."]


def _unit_problem(head: CsvHead, force: FloatArray, rate_hz: float) -> list[str]:
    """Refuse a unit that gravity contradicts; return a sentence if gravity is not to be seen."""
    unit = head.columns.accel_unit
    rest_m_s2 = rest_magnitude_m_s2(force, rate_hz=rate_hz)
    likely = likely_unit(rest_m_s2, unit=unit)
    if likely == unit:
        return []
    said = rest_m_s2 / ACCEL_UNITS[unit]
    expected = ACCEL_UNITS["g"] / ACCEL_UNITS[unit]
    shown = f"At rest the accelerometer reads {said:.3g} {unit} instead of {expected:.3g} {unit}"
    if likely is None:
        return [f"{shown}; gravity seems to be missing or the range too small."]
    problem = f"{shown}, which looks like {likely}."
    remedy = (
        f"If the values are in {likely}, name the columns ax_{likely}, ay_{likely}, az_{likely}."
    )
    raise RecordingError(head.name, f"column {head.columns.name_of('ax')}", problem, remedy)


def _clipped(
    head: CsvHead, stated: FloatArray | None, force: FloatArray
) -> tuple[BoolArray, float | None, list[str]]:
    """Return where the range ended, the range, and a sentence if flat tops had to tell it."""
    range_m_s2 = head.notes.sensor.accel_range_m_s2
    if stated is not None:
        return stated != 0, range_m_s2, []
    if range_m_s2 is not None:
        return clipped(force, range_m_s2), range_m_s2, []
    flat_m_s2 = range_from_flat_tops(force)
    if flat_m_s2 is None:
        return np.zeros(len(force), dtype=bool), None, []
    marked = clipped(force, flat_m_s2)
    sentence = (
        f"{np.count_nonzero(marked)} samples stand at the file's largest value, "
        f"{flat_m_s2:.4g} m/s^2, and are taken as clipped; a comment accel_range_g would say so."
    )
    return marked, flat_m_s2, [sentence]


def write_csv(what: Recording | Samples, path: str | os.PathLike[str]) -> None:
    """Write samples as CSV in SI units; every number reads back as it was.

    Parameters
    ----------
    what : Recording or Samples
        A recording also gets its mounting, ranges, start and labels as comments.
    path : path
        File to create; one that exists is left alone.

    Raises
    ------
    RecordingError
        If the file exists or cannot be written.
    """
    samples = what.samples if isinstance(what, Recording) else what
    comments = comment_lines(what) if isinstance(what, Recording) else []
    name = os.fspath(path)
    try:
        with Path(path).open("x", encoding="utf-8", newline="") as file:
            file.writelines(f"{line}\n" for line in comments)
            _frame(samples).to_csv(file, index=False, lineterminator="\n")
    except FileExistsError as error:
        problem = "There is already a file of that name."
        raise RecordingError(name, "", problem, "Choose another name.") from error
    except OSError as error:
        raise file_error(name, error, doing="Writing") from error


def _frame(samples: Samples) -> pd.DataFrame:
    """Return the samples with one column per value."""
    force, rate = samples.specific_force_m_s2, samples.angular_rate_rad_s
    columns = {"time_s": samples.time_s}
    columns |= {f"a{axis}_m_s2": force[:, i] for i, axis in enumerate("xyz")}
    if rate is not None:
        columns |= {f"g{axis}_rad_s": rate[:, i] for i, axis in enumerate("xyz")}
    frame = pd.DataFrame(columns)
    if np.any(samples.is_clipped):
        frame[CLIPPED_COLUMN] = samples.is_clipped.astype(int)
    return frame
