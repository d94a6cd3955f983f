"""A player's shots as one array, of which only the series that were changed are read anew."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from cue_practice.limits import FASTEST_M_S, SLOWEST_M_S
from cue_practice.played import (
    GRADE_NUMBERS,
    HEAD,
    BoolArray,
    Played,
    PlayedShots,
    evenings_of,
    that_count,
)
from cue_practice.rows import MEASURES
from cue_practice.store import aware
from cue_practice.tables import SeriesRow, ShotRow, StrokeRow
from cue_signal.stroke import FloatArray

TABLE_HEAD = (
    *("shot_id", "series_id", "setup_id", "cue_id", "struck_s"),
    *("tip_below_centre_m", "side_m", "called_m_s", "grade", "is_potted"),
)
"""The first columns of a :class:`ShotTable`; the measures follow."""

_PACES = ("tip_speed_m_s", "tip_speed_sd_m_s")


@dataclass(frozen=True, eq=False)
class ShotTable:
    """Shots as one array.

    Parameters
    ----------
    values : ndarray, shape (n, k)
        A row each; nan where nothing is known.
    names : tuple of str
        Of the columns, k of them.
    """

    values: FloatArray
    names: tuple[str, ...]

    def column(self, name: str) -> FloatArray:
        """Return a column."""
        return np.ascontiguousarray(self.values[:, self.names.index(name)])

    def chosen(self, keep: BoolArray) -> "ShotTable":
        """Return the shots for which ``keep`` is true."""
        return self if keep.all() else ShotTable(self.values[keep], self.names)


class ShotTables(Played):
    """Played shots of the log that stay in memory."""

    def kept_shots(
        self,
        player_id: int,
        *,
        cue_id: int | None = None,
        since_utc: datetime | None = None,
        measures: Sequence[str] = MEASURES,
    ) -> PlayedShots:
        """Return the same as :meth:`played_shots`, of which only what was changed is read anew.

        For pages that ask again and again: all of it stays in memory.

        Parameters
        ----------
        player_id, cue_id, since_utc, measures
            As for :meth:`played_shots`.

        Returns
        -------
        PlayedShots
            Never change it.
        """
        table = self.shot_table(player_id, since_utc=since_utc, measures=measures)
        pace = table.column("tip_speed_m_s")
        is_kept = np.isnan(pace) | ((pace >= SLOWEST_M_S) & (pace <= FASTEST_M_S))
        if cue_id is not None:
            is_kept &= table.column("cue_id") == cue_id
        return _played_of(table.chosen(is_kept), measures)

    def shot_table(
        self, player_id: int, *, since_utc: datetime | None, measures: Sequence[str]
    ) -> ShotTable:
        """Return a player's shots as one array, of which only what was changed is read anew.

        Parameters
        ----------
        player_id, since_utc, measures
            As for :meth:`played_shots`; the paces are among the columns in any case.

        Returns
        -------
        ShotTable
            In the order they were played; a pace that no stroke can have is among them.
        """
        names = (*_PACES, *(one for one in measures if one not in _PACES))
        begin = None if since_utc is None else _first_of_month(aware(since_utc, "since_utc"))
        key = ("shots", names, begin)

        def read(session: Session, series_ids: Sequence[int] | None) -> dict[int, FloatArray]:
            wanted = _query(names).where(SeriesRow.player_id == player_id)
            if begin is not None:
                wanted = wanted.where(ShotRow.struck_utc >= begin)
            if series_ids is not None:
                wanted = wanted.where(SeriesRow.series_id.in_(series_ids))
            return _by_series(_values(session.connection().execute(wanted).all(), names))

        def make() -> ShotTable:
            by_series = self.kept_by_series(key, read, player_id=player_id)
            return _in_order(by_series.made.values(), names)

        table = self.kept((*key, player_id), make)
        if since_utc is None:
            return table
        return table.chosen(table.column("struck_s") >= since_utc.timestamp())


def _first_of_month(moment: datetime) -> datetime:
    """Return where the month of a moment begins, so that tomorrow the same is asked for."""
    return moment.replace(day=1, hour=0, minute=0, second=0, microsecond=0)


def _query(names: Sequence[str]) -> Select[*tuple[Any, ...]]:
    """Return the query of a table's columns, in no order."""
    measures: list[Any] = [getattr(StrokeRow, name) for name in names]
    return that_count(select(*HEAD[:3], SeriesRow.cue_id, *HEAD[3:], *measures))


def _values(rows: Sequence[Any], names: Sequence[str]) -> FloatArray:
    """Return rows of the query as an array of numbers."""
    columns = (*TABLE_HEAD, *names)
    values = np.empty((len(rows), len(columns)))
    if len(rows):
        for place, (name, column) in enumerate(zip(columns, zip(*rows, strict=True), strict=True)):
            values[:, place] = _numbers(name, column)
    return values


def _numbers(name: str, column: Sequence[Any]) -> FloatArray:
    """Return a column as numbers."""
    if name == "struck_s":
        moments = np.array(column, dtype="datetime64[us]").astype(np.int64)
        return np.asarray(moments / 1e6)
    if name == "grade":
        return np.array([np.nan if word is None else GRADE_NUMBERS[word] for word in column])
    return np.array(column, dtype=np.float64)


def _by_series(values: FloatArray) -> dict[int, FloatArray]:
    """Return the rows of each series."""
    ordered = values[np.argsort(values[:, 1], kind="stable")]
    numbers, first = np.unique(ordered[:, 1], return_index=True)
    parts = np.split(ordered, first[1:]) if len(numbers) else []
    return {int(number): part for number, part in zip(numbers, parts, strict=True)}


def _in_order(parts: Iterable[FloatArray], measures: Sequence[str]) -> ShotTable:
    """Return the shots of several series in the order they were played."""
    names = (*TABLE_HEAD, *measures)
    found = [*parts]
    values = np.concatenate(found) if found else np.zeros((0, len(names)))
    order = np.lexsort((values[:, 0], values[:, names.index("struck_s")]))
    return ShotTable(values[order], names)


def _played_of(table: ShotTable, measures: Sequence[str]) -> PlayedShots:
    """Return a table's shots with some of their measures."""
    struck_s = table.column("struck_s")
    shot_id, series_id, setup_id = (
        table.column(name).astype(np.int64) for name in ("shot_id", "series_id", "setup_id")
    )
    return PlayedShots(
        shot_id=shot_id,
        series_id=series_id,
        setup_id=setup_id,
        evening=evenings_of(struck_s),
        struck_s=struck_s,
        **{name: table.column(name) for name in TABLE_HEAD[5:]},
        measures={name: table.column(name) for name in measures},
    )
