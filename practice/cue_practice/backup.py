"""The whole log as one JSON file, and back again.

The file names format and schema and holds every table row by row, traces and history too, so that
nothing is lost and any other program can read it.
"""

import base64
import binascii
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from sqlalchemy import LargeBinary, Table, func, insert, select
from sqlalchemy.exc import StatementError
from sqlalchemy.orm import Session

from cue_practice.database import HEAD_REVISION
from cue_practice.errors import PracticeError
from cue_practice.log import PracticeLog
from cue_practice.store import now_utc
from cue_practice.tables import Base, UtcDateTime
from cue_practice.whole_file import whole_file

FORMAT = "stunpace-log/1"
_ROWS_AT_ONCE = 500


def write_backup(log: PracticeLog, path: str | Path) -> int:
    """Write everything in a log to a JSON file.

    Parameters
    ----------
    log : PracticeLog
        What to keep.
    path : str or Path
        Where to; a file that is there is replaced once the new one is whole.

    Returns
    -------
    int
        Rows written.

    Raises
    ------
    PracticeError
        If the file cannot be written.
    """
    with whole_file(path, "backup") as stream, log._read() as session:
        return _write(session, stream)


def restore_backup(log: PracticeLog, path: str | Path) -> int:
    """Read a backup into an empty log: all of it, or nothing.

    Parameters
    ----------
    log : PracticeLog
        With nothing in it, on SQLite.
    path : str or Path
        A file of :func:`write_backup`.

    Returns
    -------
    int
        Rows read.

    Raises
    ------
    PracticeError
        If the file is no backup, contradicts itself, is from another version, or the log holds
        something.
    """
    file = Path(path)
    tables = _checked(file)
    if log._engine.dialect.name != "sqlite":
        raise PracticeError(
            f"A backup is read into an SQLite log only, and {log.place} is none. "
            "Name an SQLite file."
        )
    n_rows = 0
    with log._write() as session:
        for table in Base.metadata.sorted_tables:
            if session.scalar(select(func.count()).select_from(table)):
                raise PracticeError(
                    f"The log {log.place} already holds something. "
                    "Read the backup into a new, empty one."
                )
        for table in Base.metadata.sorted_tables:
            rows = [_row(file, table, row, k) for k, row in enumerate(tables[table.name])]
            if rows:
                _insert(session, file, table, rows)
            n_rows += len(rows)
    return n_rows


def _write(session: Session, stream: IO[str]) -> int:
    """Write all tables, a few hundred rows in memory at a time."""
    head = {"format": FORMAT, "schema": HEAD_REVISION, "written_utc": now_utc().isoformat()}
    stream.write(json.dumps(head)[:-1] + ', "tables": {')
    n_rows = 0
    for number, table in enumerate(Base.metadata.sorted_tables):
        stream.write((", " if number else "") + json.dumps(table.name) + ": [")
        for place, row in enumerate(_rows(session, table)):
            stream.write((",\n" if place else "\n") + json.dumps(row, ensure_ascii=False))
            n_rows += 1
        stream.write("]")
    stream.write("}}\n")
    return n_rows


def _rows(session: Session, table: Table) -> Iterator[dict[str, Any]]:
    """Yield a table's rows as JSON can hold them."""
    ordered = select(table).order_by(*table.primary_key.columns)
    result = session.connection().execute(ordered.execution_options(yield_per=_ROWS_AT_ONCE))
    for row in result.mappings():
        yield {name: _to_json(value) for name, value in row.items()}


def _to_json(value: Any) -> Any:
    """Return a value as JSON can hold it."""
    if isinstance(value, bytes):
        return base64.b64encode(value).decode("ascii")
    return value.isoformat() if isinstance(value, datetime) else value


def _checked(file: Path) -> dict[str, list[Any]]:
    """Return the tables of a backup file, refusing any other."""
    try:
        content = json.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise PracticeError(
            f"The backup {file} cannot be read: {error.strerror}. Check the path."
        ) from error
    except (ValueError, RecursionError) as error:
        raise PracticeError(
            f"{file} is no whole backup: {error}. Use a file that was written as a backup."
        ) from error
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        raise PracticeError(
            f"{file} is no backup of a practice log ('{FORMAT}' is missing). Use another file."
        )
    if content.get("schema") != HEAD_REVISION:
        raise PracticeError(
            f"{file} was written by another version (schema {content.get('schema')!r}; this one "
            f"has {HEAD_REVISION}). Use the version that wrote it."
        )
    tables = content.get("tables")
    names = {table.name for table in Base.metadata.sorted_tables}
    if not isinstance(tables, dict) or set(tables) != names:
        raise PracticeError(f"{file}, tables: expected {', '.join(sorted(names))}. Use another.")
    if not all(isinstance(rows, list) for rows in tables.values()):
        raise PracticeError(f"{file}, tables: every table is a list of rows. Use another file.")
    return tables


def _row(file: Path, table: Table, row: Any, place: int) -> dict[str, Any]:
    """Return a row as the database wants it."""
    here = f"{file}, tables.{table.name}[{place}]"
    if not isinstance(row, dict) or set(row) != set(table.columns.keys()):
        raise PracticeError(f"{here}: expected the fields {', '.join(table.columns.keys())}.")
    values = {}
    for column in table.columns:
        try:
            values[column.name] = _from_json(column.type, row[column.name])
        except (ValueError, TypeError, binascii.Error) as error:
            raise PracticeError(f"{here}.{column.name}: {error}. Use a whole backup.") from error
    return values


def _from_json(kind: Any, value: Any) -> Any:
    """Return a value as its column wants it."""
    if value is None:
        return None
    if isinstance(kind, UtcDateTime):
        moment = datetime.fromisoformat(value)
        return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    if isinstance(kind, LargeBinary):
        return base64.b64decode(value, validate=True)
    expected = kind.python_type
    allowed = (int, float) if expected is float else (expected,)
    is_flag = isinstance(value, bool) and expected is not bool
    if expected in (int, float, str, bool) and (not isinstance(value, allowed) or is_flag):
        raise TypeError(f"expected {expected.__name__}, got {value!r}")
    return value


def _insert(session: Session, file: Path, table: Table, rows: list[dict[str, Any]]) -> None:
    """Insert a table's rows, telling which table contradicts another."""
    try:
        for start in range(0, len(rows), _ROWS_AT_ONCE):
            session.execute(insert(table), rows[start : start + _ROWS_AT_ONCE])
    except StatementError as error:
        raise PracticeError(
            f"{file}, tables.{table.name}: {error.orig}. The backup contradicts itself; nothing "
            "was changed."
        ) from error
