"""Bringing an older practice log to this program's schema, after a copy of the file."""

import logging
import sqlite3
from contextlib import closing
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Engine, create_engine, event, text
from sqlalchemy.pool import NullPool

from cue_practice.database import BUSY_SECONDS, HEAD_REVISION, place_in_words
from cue_practice.errors import PracticeError

_LOCK_KEY = 0x5374_756E
"""Names our lock among those of a PostgreSQL server."""

_logger = logging.getLogger(__name__)


def alembic_config() -> Config:
    """Return the settings Alembic needs to find the migrations in the installed package."""
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    return config


def revisions() -> list[str]:
    """Return all known revisions, oldest first."""
    script = ScriptDirectory.from_config(alembic_config())
    return [revision.revision for revision in script.walk_revisions()][::-1]


def upgrade(engine: Engine, revision: str | None, target: str = "head") -> Path | None:
    """Migrate a database; an SQLite file that holds something is copied first.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Of the log.
    revision : str or None
        Where it stands, None for an empty database.
    target : str
        Revision to reach.

    Returns
    -------
    Path or None
        The copy, None where there was nothing to copy.

    Raises
    ------
    PracticeError
        If the log is from a newer version, or the copy cannot be written.
    """
    if revision is not None and revision not in revisions():
        raise PracticeError(
            f"The practice log {place_in_words(engine.url)} was written by a newer version "
            f"(schema {revision}; this one knows up to {HEAD_REVISION}). Update the program."
        )
    copy = None if revision is None else _copy_file(engine, revision)
    if engine.url.get_backend_name() == "sqlite":
        _migrate_sqlite(engine, target)
    else:
        with engine.begin() as connection:
            # another program may be at the same at this moment: the second finds it done
            if connection.dialect.name == "postgresql":
                connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK_KEY})
            _run(connection, target)
    return copy


def _copy_file(engine: Engine, revision: str) -> Path | None:
    """Copy an SQLite file beside itself by SQLite's own backup, which sees the whole log."""
    if engine.url.get_backend_name() != "sqlite" or not engine.url.database:
        return None
    file = Path(engine.url.database)
    copy = file.with_name(f"{file.stem}-schema-{revision}{file.suffix}")
    partial = copy.with_name(copy.name + ".partial")
    try:
        partial.unlink(missing_ok=True)
        with closing(sqlite3.connect(file)) as old, closing(sqlite3.connect(partial)) as new:
            old.backup(new)
        partial.replace(copy)
    except (OSError, sqlite3.Error) as error:
        raise PracticeError(
            f"The practice log {file} needs a newer schema, but no copy of it could be written to "
            f"{copy}: {error}. Make room there; nothing was changed."
        ) from error
    _logger.info("copied %s to %s before its migration", file, copy)
    return copy


def _migrate_sqlite(engine: Engine, target: str) -> None:
    """Migrate in one transaction, foreign keys off as SQLite's documentation asks."""
    if not engine.url.database or engine.url.database == ":memory:":
        with engine.execution_options(is_write=True).begin() as connection:
            _run(connection, target)
        return
    bare = create_engine(engine.url, poolclass=NullPool, connect_args={"timeout": BUSY_SECONDS})
    event.listen(bare, "connect", lambda raw, _: setattr(raw, "isolation_level", None))
    with bare.connect() as connection:  # no transaction yet: SQLite changes its mode outside only
        connection.exec_driver_sql("PRAGMA journal_mode=WAL").scalar()
    event.listen(bare, "begin", lambda connection: connection.exec_driver_sql("BEGIN IMMEDIATE"))
    with bare.begin() as connection:
        _run(connection, target)
        if connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
            raise PracticeError(
                f"The practice log {place_in_words(engine.url)} contradicts itself and was not "
                "migrated. Put a backup in its place; nothing was changed."
            )


def _run(connection: object, target: str) -> None:
    """Run Alembic on an open connection, inside its transaction."""
    config = alembic_config()
    config.attributes["connection"] = connection
    command.upgrade(config, target)
