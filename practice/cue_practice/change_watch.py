"""Whether the log was changed since, asked in well under a millisecond.

What was worked out from the whole log holds until anybody writes to it, this program or another.
SQLite counts the commits of other connections for each connection ("PRAGMA data_version");
PostgreSQL's snapshot names the transactions that are finished and those that are not.
"""

import threading
from collections.abc import Callable, Hashable
from functools import lru_cache
from typing import Any, TypeVar, cast

from sqlalchemy import Connection, Engine, StaticPool, event, text

_Found = TypeVar("_Found")

N_KEPT = 64
"""Answers kept at a time; the one not asked for the longest goes first."""


class ChangeWatch:
    """Watches a database for changes.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Of the log.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._is_postgres = engine.dialect.name == "postgresql"
        # one connection serves everybody there: our own commits are all there can be
        self._is_alone = isinstance(engine.pool, StaticPool)
        self._lock = threading.Lock()
        self._connection: Connection | None = None
        self._n_commits = 0
        self._kept = lru_cache(maxsize=N_KEPT)(_Once)
        self._kept_for = lru_cache(maxsize=4 * N_KEPT)(_Once)
        event.listen(engine, "commit", self._count)

    def stamp(self) -> Hashable:
        """Return something that is another whenever the log was changed, by whomever."""
        if self._is_alone:
            return self._n_commits
        if self._is_postgres:
            with self._engine.connect() as connection:
                return str(connection.execute(_POSTGRES).scalar())
        with self._lock:
            return self._sqlite_stamp()

    def kept(self, key: Hashable, make: Callable[[], _Found]) -> _Found:
        """Return what is made, made once for as long as the log stays as it is.

        Parameters
        ----------
        key : hashable
            Names what is made, and everything but the log that it depends on.
        make : callable
            Makes it from the log. Several that ask at once wait for one making.

        Returns
        -------
        Any
            The same object for everybody: never change it.
        """
        return cast("_Found", self._kept(self.stamp(), key).get(make))

    def kept_for(self, content: Hashable, key: Hashable, make: Callable[[], _Found]) -> _Found:
        """Return what is made, made once for as long as what it depends on stays as it is.

        Parameters
        ----------
        content : hashable
            Another whenever anything in the log that it depends on is.
        key, make
            As for :meth:`kept`.

        Returns
        -------
        Any
            The same object for everybody: never change it.
        """
        return cast("_Found", self._kept_for(content, key).get(make))

    def close(self) -> None:
        """Let go of the connection."""
        with self._lock:
            self._drop()

    def _sqlite_stamp(self) -> str:
        """Return the count of commits, by a connection that we never write by."""
        if self._connection is None:
            self._connection = self._engine.connect()
        try:
            found = str(self._connection.execute(_SQLITE).scalar())
            self._connection.rollback()
        except BaseException:
            self._drop()
            raise
        return found

    def _drop(self) -> None:
        """Close the connection; the next question opens another."""
        connection, self._connection = self._connection, None
        if connection is not None:
            connection.close()

    def _count(self, _connection: Connection) -> None:
        """Count a commit of this program."""
        self._n_commits += 1


class _Once:
    """A place for one thing that is made when it is first asked for."""

    def __init__(self, *_names: Hashable) -> None:
        self._lock = threading.Lock()
        self._found: list[Any] = []

    def get(self, make: Callable[[], Any]) -> Any:
        """Return the thing; where making fails, the next to ask tries again."""
        with self._lock:
            if not self._found:
                self._found.append(make())
            return self._found[0]


_SQLITE = text("PRAGMA data_version")
_POSTGRES = text("SELECT pg_current_snapshot()::text")
