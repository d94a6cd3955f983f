"""What every part of the practice log shares: transactions, look-ups and the history."""

from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from cue_practice.change_watch import ChangeWatch
from cue_practice.database import (
    database_url,
    make_engine,
    open_database,
    place_in_words,
    sentences,
)
from cue_practice.errors import PracticeError
from cue_practice.series_kept import BySeries, Read, SeriesKept
from cue_practice.tables import (
    Base,
    CalibrationRow,
    ChangeRow,
    LessonRow,
    MountingRow,
    RemarkRow,
    SeriesRow,
    ShotRow,
    TableRow,
)

_Row = TypeVar("_Row", bound=Base)
_Made = TypeVar("_Made")

_WORDS = {
    "PlayerRow": "player",
    "CueRow": "cue",
    "TableRow": "table",
    "SetUpRow": "set-up",
    "SeriesRow": "series",
    "RecordingRow": "recording",
    "ShotRow": "shot",
    "RemarkRow": "remark",
    "LessonRow": "lesson",
    "CalibrationRow": "calibration",
    "MountingRow": "mounting",
}

Changeable = ShotRow | SeriesRow | RemarkRow | LessonRow | CalibrationRow | MountingRow | TableRow
"""Rows whose changes are kept in the history and can be undone."""

Discardable = ShotRow | SeriesRow | RemarkRow | LessonRow | CalibrationRow | MountingRow
"""Those of them that can be left out everywhere."""

_CHANGEABLE: dict[str, type[Changeable]] = {
    "shot": ShotRow,
    "series": SeriesRow,
    "remark": RemarkRow,
    "lesson": LessonRow,
    "calibration": CalibrationRow,
    "mounting": MountingRow,
    "table": TableRow,
}


class Store:
    """An open practice log: every method is one transaction, committed before it returns.

    Parameters
    ----------
    url : str, Path or None
        An SQLAlchemy URL or the path of an SQLite file; None for the variable
        ``STUNPACE_DATABASE`` and, without it, the file in the player's data folder.

    Raises
    ------
    PracticeError
        If the log cannot be opened; one sentence says why, and nothing is changed.
    """

    def __init__(self, url: str | Path | None = None) -> None:
        self._url = database_url(url)
        self._engine = make_engine(self._url)
        try:
            open_database(self._engine)
        except PracticeError:
            self._engine.dispose()
            raise
        self._watch = ChangeWatch(self._engine)
        self._series_kept = SeriesKept()
        self._before_write: Callable[[], None] | None = None

    @property
    def place(self) -> str:
        """Return where the log is, in words fit for the screen."""
        return place_in_words(self._url)

    def ask_before_writing(self, may_write: Callable[[], None]) -> None:
        """Have a function called before every write, in the writer's thread.

        Parameters
        ----------
        may_write : callable
            Raises a PracticeError where nothing may be written.
        """
        self._before_write = may_write

    def close(self) -> None:
        """Close all connections; nothing is pending, every write was committed."""
        self._watch.close()
        self._engine.dispose()

    def kept(self, key: Hashable, make: Callable[[], _Made]) -> _Made:
        """Return what is made from the log, made once for as long as nobody changes the log.

        Parameters
        ----------
        key : hashable
            Names what is made, and everything but the log that it depends on.
        make : callable
            Makes it.

        Returns
        -------
        Any
            The same object for everybody who asks: never change it.
        """
        with sentences(self._url):
            return self._watch.kept(key, make)

    def kept_by_series(
        self, key: Hashable, read: Read[_Made], *, player_id: int | None = None
    ) -> BySeries[_Made]:
        """Return what is made of each series, made anew only for those that were changed.

        Parameters
        ----------
        key : hashable
            Names what is made, and everything but the log that it depends on.
        read : callable
            Makes it from a reading transaction, for some series or for all.
        player_id : int or None
            Whose series; None for everybody's.

        Returns
        -------
        BySeries
            The same object for everybody who asks: never change it.
        """
        whole = ("by series", key, player_id)

        def renew() -> BySeries[_Made]:
            with self._read(is_snapshot=True) as session:
                return self._series_kept.renewed(session, whole, read, player_id)

        return self.kept(whole, renew)

    def kept_for(self, content: Hashable, key: Hashable, make: Callable[[], _Made]) -> _Made:
        """Return what is made from a part of the log, made once for as long as that part stays.

        Parameters
        ----------
        content : hashable
            Another whenever the part is, for example the counts of changes of some series.
        key, make
            As for :meth:`kept`.

        Returns
        -------
        Any
            The same object for everybody who asks: never change it.
        """
        with sentences(self._url):
            return self._watch.kept_for(content, key, make)

    def __enter__(self) -> Self:
        """Return the log itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the log."""
        self.close()

    @contextmanager
    def _read(self, *, is_snapshot: bool = False) -> Iterator[Session]:
        """Run a reading transaction; a snapshot sees nothing that others change meanwhile."""
        engine = self._engine
        if is_snapshot and engine.dialect.name == "postgresql":  # SQLite has it so anyway
            engine = engine.execution_options(isolation_level="REPEATABLE READ")
        with sentences(self._url), Session(engine) as session:
            yield session

    @contextmanager
    def _write(self) -> Iterator[Session]:
        """Run a writing transaction: all of it, or nothing."""
        if self._before_write is not None:
            self._before_write()
        engine = self._engine.execution_options(is_write=True)
        with (
            sentences(self._url),
            Session(engine, expire_on_commit=False) as session,
            session.begin(),
        ):
            yield session


def get(session: Session, kind: type[_Row], key: int, *, to_change: bool = False) -> _Row:
    """Return a row by its number; ``to_change`` keeps other programs' changes waiting.

    Raises
    ------
    PracticeError
        If there is none.
    """
    row = session.get(kind, key, with_for_update=True if to_change else None)
    if row is None:
        word = _WORDS[kind.__name__]
        raise PracticeError(
            f"There is no {word} {key} in the practice log. Choose one that is listed."
        )
    return row


def now_utc() -> datetime:
    """Return the time."""
    return datetime.now(UTC)


def aware(moment: datetime, name: str) -> datetime:
    """Return a moment in UTC.

    Raises
    ------
    ValueError
        If it has no time zone.
    """
    if moment.tzinfo is None:
        raise ValueError(f"{name} must have a time zone, got {moment.isoformat()}")
    return moment.astimezone(UTC)


def change(session: Session, row: Changeable, what: str, values: dict[str, Any]) -> bool:
    """Set columns of a row and enter it in the history.

    Parameters
    ----------
    session : sqlalchemy.orm.Session
        A writing transaction.
    row : Changeable
        What is changed.
    what : str
        In words, for example ``"result"``.
    values : dict
        New values by column.

    Returns
    -------
    bool
        Whether anything was different.
    """
    old = {name: getattr(row, name) for name in values}
    new = {name: value for name, value in values.items() if value != old[name]}
    if not new:
        return False
    series_id, shot_id = _place(session, row)
    for name, value in new.items():
        setattr(row, name, value)
    entry = _entry(row)
    session.add(
        ChangeRow(
            changed_utc=now_utc(),
            what=f"{what} of {entry} {_key(row)}",
            entry=entry,
            entry_id=_key(row),
            series_id=series_id,
            shot_id=shot_id,
            before={name: _to_json(old[name]) for name in new},
            after={name: _to_json(value) for name, value in new.items()},
            is_undone=False,
        )
    )
    return True


def enter(session: Session, row: Discardable) -> None:
    """Add a new row so that undoing discards it.

    Parameters
    ----------
    session : sqlalchemy.orm.Session
        A writing transaction.
    row : Discardable
        Not in the database yet.
    """
    row.is_discarded = True
    session.add(row)
    session.flush()
    change(session, row, "entering", {"is_discarded": False})
    session.flush()


def take_back(session: Session, entry: ChangeRow) -> None:
    """Set the fields of a change back to what they were."""
    _set(session, entry, entry.before)
    entry.is_undone = True


def repeat(session: Session, entry: ChangeRow) -> None:
    """Set the fields of a change that was taken back once more."""
    _set(session, entry, entry.after)
    entry.is_undone = False


def last_change(session: Session, *, is_undone: bool, series_id: int | None) -> ChangeRow | None:
    """Return the change that undo (or, for an undone one, redo) concerns, None without one.

    A change belongs to a series where it was made there, or where its shot lies now.
    """
    newest = ChangeRow.change_id.desc()
    done = select(ChangeRow).where(ChangeRow.is_undone.is_(False)).order_by(newest).limit(1)
    undone = select(ChangeRow).where(ChangeRow.is_undone.is_(True)).order_by(ChangeRow.change_id)
    if series_id is not None:
        its_shots = select(ShotRow.shot_id).where(ShotRow.series_id == series_id)
        is_within = (ChangeRow.series_id == series_id) | ChangeRow.shot_id.in_(its_shots)
        done, undone = done.where(is_within), undone.where(is_within)
    last = session.scalars(done.with_for_update()).first()
    if not is_undone:
        return last
    if last is not None:
        undone = undone.where(ChangeRow.change_id > last.change_id)
    return session.scalars(undone.limit(1).with_for_update()).first()


def _set(session: Session, entry: ChangeRow, values: dict[str, Any]) -> None:
    """Set a changed row's fields from the history."""
    row = get(session, _CHANGEABLE[entry.entry], entry.entry_id, to_change=True)
    for name, value in values.items():
        setattr(row, name, _from_json(name, value))


def _entry(row: Changeable) -> str:
    """Return what a row is, in a word."""
    return _WORDS[type(row).__name__]


def _key(row: Changeable) -> int:
    """Return the number of a row."""
    return int(getattr(row, f"{_entry(row)}_id"))


def _place(session: Session, row: Changeable) -> tuple[int | None, int | None]:
    """Return the series and the shot that a row belongs to, as far as it does."""
    if isinstance(row, RemarkRow):
        return get(session, ShotRow, row.shot_id).series_id, row.shot_id
    if isinstance(row, ShotRow):
        return row.series_id, row.shot_id
    return (row.series_id, None) if isinstance(row, SeriesRow) else (None, None)


def _to_json(value: Any) -> Any:
    """Return a value as JSON can keep it."""
    return value.isoformat() if isinstance(value, datetime) else value


def _from_json(name: str, value: Any) -> Any:
    """Return a value of the history as its column wants it."""
    return datetime.fromisoformat(value) if name.endswith("_utc") and value else value
