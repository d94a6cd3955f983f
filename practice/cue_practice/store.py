"""What every part of the practice log shares: transactions, look-ups and the history."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from cue_practice.database import (
    database_url,
    make_engine,
    open_database,
    place_in_words,
    sentences,
)
from cue_practice.errors import PracticeError
from cue_practice.tables import Base, ChangeRow, SeriesRow, ShotRow

_Row = TypeVar("_Row", bound=Base)

_WORDS = {
    "PlayerRow": "player",
    "CueRow": "cue",
    "TableRow": "table",
    "SetUpRow": "set-up",
    "SeriesRow": "series",
    "RecordingRow": "recording",
    "ShotRow": "shot",
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

    @property
    def place(self) -> str:
        """Return where the log is, in words fit for the screen."""
        return place_in_words(self._url)

    def close(self) -> None:
        """Close all connections; nothing is pending, every write was committed."""
        self._engine.dispose()

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
    def _read(self) -> Iterator[Session]:
        """Run a reading transaction."""
        with sentences(self._url), Session(self._engine) as session:
            yield session

    @contextmanager
    def _write(self) -> Iterator[Session]:
        """Run a writing transaction: all of it, or nothing."""
        engine = self._engine.execution_options(is_write=True)
        with (
            sentences(self._url),
            Session(engine, expire_on_commit=False) as session,
            session.begin(),
        ):
            yield session


def get(session: Session, kind: type[_Row], key: int) -> _Row:
    """Return a row by its number.

    Raises
    ------
    PracticeError
        If there is none.
    """
    row = session.get(kind, key)
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


def change(session: Session, row: ShotRow | SeriesRow, what: str, values: dict[str, Any]) -> bool:
    """Set columns of a row and enter it in the history.

    Parameters
    ----------
    session : sqlalchemy.orm.Session
        A writing transaction.
    row : ShotRow or SeriesRow
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
    for name, value in new.items():
        setattr(row, name, value)
    is_shot = isinstance(row, ShotRow)
    entry = ChangeRow(
        changed_utc=now_utc(),
        what=f"{what} of {'shot' if is_shot else 'series'} {_key(row)}",
        series_id=row.series_id,
        shot_id=row.shot_id if isinstance(row, ShotRow) else None,
        before={name: _to_json(old[name]) for name in new},
        after={name: _to_json(value) for name, value in new.items()},
        is_undone=False,
    )
    session.add(entry)
    return True


def take_back(session: Session, entry: ChangeRow) -> None:
    """Set the fields of a change back to what they were."""
    _set(session, entry, entry.before)
    entry.is_undone = True


def repeat(session: Session, entry: ChangeRow) -> None:
    """Set the fields of a change that was taken back once more."""
    _set(session, entry, entry.after)
    entry.is_undone = False


def last_change(session: Session, *, is_undone: bool, series_id: int | None) -> ChangeRow | None:
    """Return the change that undo (or, for an undone one, redo) concerns, None without one."""
    wanted = select(ChangeRow).where(ChangeRow.is_undone.is_(is_undone))
    active = select(func.coalesce(func.max(ChangeRow.change_id), 0)).where(
        ChangeRow.is_undone.is_(False)
    )
    if series_id is not None:
        wanted = wanted.where(ChangeRow.series_id == series_id)
        active = active.where(ChangeRow.series_id == series_id)
    if is_undone:
        last = session.scalar(active) or 0
        wanted = wanted.where(ChangeRow.change_id > last).order_by(ChangeRow.change_id)
    else:
        wanted = wanted.order_by(ChangeRow.change_id.desc())
    return session.scalars(wanted.limit(1)).first()


def _set(session: Session, entry: ChangeRow, values: dict[str, Any]) -> None:
    """Set a changed row's fields from the history."""
    row: ShotRow | SeriesRow
    if entry.shot_id is not None:
        row = get(session, ShotRow, entry.shot_id)
    else:
        row = get(session, SeriesRow, entry.series_id)
    for name, value in values.items():
        setattr(row, name, _from_json(name, value))


def _key(row: ShotRow | SeriesRow) -> int:
    """Return the number of a row."""
    return row.shot_id if isinstance(row, ShotRow) else row.series_id


def _to_json(value: Any) -> Any:
    """Return a value as JSON can keep it."""
    return value.isoformat() if isinstance(value, datetime) else value


def _from_json(name: str, value: Any) -> Any:
    """Return a value of the history as its column wants it."""
    return datetime.fromisoformat(value) if name.endswith("_utc") and value else value
