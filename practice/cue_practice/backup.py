"""The whole log as one JSON file, and back again.

The file names format and schema and holds every table row by row, traces and history too, so that
nothing is lost and any other program can read it. A hash over the rows tells a file that was
damaged, or changed, since it was written. A file of an older version is brought to this version's
schema by the same migrations as a log.
"""

import base64
import binascii
import hashlib
import json
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from sqlalchemy import DateTime, LargeBinary, MetaData, Table, func, insert, literal, select
from sqlalchemy.exc import StatementError
from sqlalchemy.orm import Session

from cue_practice.database import (
    DATABASE_VARIABLE,
    HEAD_REVISION,
    database_url,
    make_engine,
)
from cue_practice.errors import PracticeError
from cue_practice.log import PracticeLog
from cue_practice.store import now_utc
from cue_practice.tables import Base, UtcDateTime, entered
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
    with whole_file(path, "backup") as stream, log._read(is_snapshot=True) as session:
        return _write(session, stream)


def restore_backup(log: PracticeLog, path: str | Path) -> int:
    """Read a backup into an empty log: all of it, or nothing.

    Parameters
    ----------
    log : PracticeLog
        With nothing in it.
    path : str or Path
        A file of :func:`write_backup`, of this version or an older one.

    Returns
    -------
    int
        Rows read.

    Raises
    ------
    PracticeError
        If the file is no backup, is damaged, contradicts itself, is from a newer version, or the
        log holds something.
    """
    file = Path(path)
    content = _checked(file)
    if content["schema"] == HEAD_REVISION:
        tables = entered(Base.metadata.sorted_tables)
        found = _all_rows(file, tables, content)
        return _fill(log, file, ((table, found[table.name]) for table in tables))
    with tempfile.TemporaryDirectory(prefix="stunpace-restore-") as folder:
        older = Path(folder) / "log.sqlite3"
        _make_older(older, file, content)
        with PracticeLog(older) as migrated, migrated._read() as session:
            tables = entered(Base.metadata.sorted_tables)
            every = ((table, _plain_rows(session, table)) for table in tables)
            return _fill(log, file, every)


def _fill(
    log: PracticeLog, file: Path, tables: Iterable[tuple[Table, list[dict[str, Any]]]]
) -> int:
    """Put rows into an empty log in one transaction."""
    n_rows = 0
    with log._write() as session:
        for table in entered(Base.metadata.sorted_tables):
            if session.scalar(select(literal(1)).select_from(table).limit(1)):
                raise PracticeError(
                    f"The log {log.place} already holds something. Read the backup into a new, "
                    f"empty one: name another file in {DATABASE_VARIABLE}."
                )
        for table, rows in tables:
            _insert(session, file, table, rows)
            n_rows += len(rows)
        if session.get_bind().dialect.name == "postgresql":
            _count_on(session)
    return n_rows


def _count_on(session: Session) -> None:
    """Let PostgreSQL number new rows after those that came with their numbers."""
    for table in entered(Base.metadata.sorted_tables):
        (key,) = table.primary_key.columns
        sequence = func.pg_get_serial_sequence(table.name, key.name)
        last = select(func.max(key)).scalar_subquery()
        session.execute(select(func.setval(sequence, last)).where(last.is_not(None)))


def _make_older(older: Path, file: Path, content: dict[str, Any]) -> None:
    """Make a log with the schema of an older backup and put its rows in."""
    from cue_practice.migrate import upgrade  # Alembic is slow to import and seldom needed

    engine = make_engine(database_url(older))
    try:
        upgrade(engine, None, content["schema"])
        schema = MetaData()
        schema.reflect(engine)
        tables = entered(t for t in schema.sorted_tables if t.name != "alembic_version")
        found = _all_rows(file, tables, content)
        with Session(engine.execution_options(is_write=True)) as session, session.begin():
            for table in tables:
                _insert(session, file, table, found[table.name])
    finally:
        engine.dispose()


def _plain_rows(session: Session, table: Table) -> list[dict[str, Any]]:
    """Return a table's rows as another database takes them."""
    return [dict(row) for row in session.execute(select(table)).mappings()]


def _write(session: Session, stream: IO[str]) -> int:
    """Write all tables, a few hundred rows in memory at a time."""
    head = {"format": FORMAT, "schema": HEAD_REVISION, "written_utc": now_utc().isoformat()}
    stream.write(json.dumps(head)[:-1] + ', "tables": {')
    n_rows, digest = 0, hashlib.sha256()
    for number, table in enumerate(entered(Base.metadata.sorted_tables)):
        stream.write((", " if number else "") + json.dumps(table.name) + ": [")
        for place, row in enumerate(_rows(session, table)):
            text = _text(row)
            digest.update(text.encode())
            stream.write((",\n" if place else "\n") + text)
            n_rows += 1
        stream.write("]")
    stream.write(f'}}, "rows": {n_rows}, "rows_sha256": "{digest.hexdigest()}"}}\n')
    return n_rows


def _text(row: Any) -> str:
    """Return a row as JSON, always the same for the same row."""
    return json.dumps(row, ensure_ascii=False)


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


def _checked(file: Path) -> dict[str, Any]:
    """Return the content of a backup file, refusing any other."""
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
    schema = content.get("schema")
    from cue_practice.migrate import revisions  # Alembic is slow to import and seldom needed

    if schema not in revisions():
        raise PracticeError(
            f"{file} was written by a newer version (schema {schema!r}; this one knows up to "
            f"{HEAD_REVISION}). Update the program."
        )
    tables = content.get("tables")
    if not isinstance(tables, dict) or not all(isinstance(rows, list) for rows in tables.values()):
        raise PracticeError(f"{file}, tables: every table is a list of rows. Use another file.")
    return content


def _all_rows(
    file: Path, tables: Sequence[Table], content: dict[str, Any]
) -> dict[str, list[dict[str, Any]]]:
    """Return the rows of a backup by table, each checked, and the whole against its hash."""
    given, names = content["tables"], {table.name for table in tables}
    if set(given) != names:
        raise PracticeError(f"{file}, tables: expected {', '.join(sorted(names))}. Use another.")
    found = {
        table.name: [_row(file, table, row, k) for k, row in enumerate(given[table.name])]
        for table in tables
    }
    expected = content.get("rows_sha256")
    digest = hashlib.sha256()
    for rows in given.values():
        for row in rows:
            digest.update(_text(row).encode())
    if expected is not None and digest.hexdigest() != expected:
        raise PracticeError(
            f"{file} is damaged, or was changed after it was written: its rows do not match their "
            "hash. Use another backup; to read it all the same, take 'rows_sha256' out of it."
        )
    return found


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
    if isinstance(kind, DateTime):  # of an older schema, read from the database itself
        return datetime.fromisoformat(value).astimezone(UTC).replace(tzinfo=None)
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
