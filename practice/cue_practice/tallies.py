"""Who played, with what and how often, counted by the database.

Pages ask these things on every opening, so none of them reads the series one by one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Select, func, select, type_coerce
from sqlalchemy.orm import Session
from sqlalchemy.types import NullType

from cue_practice.series_kept import BySeries
from cue_practice.store import Store
from cue_practice.tables import PlayerRow, SeriesRow, ShotRow


@dataclass(frozen=True)
class HeldSeries:
    """What a series held, and its shots that are not discarded.

    Parameters
    ----------
    held : tuple of int, int, float, float
        Player, set-up, tip below centre and side in metres.
    n_shots, n_graded : int
        Its shots, and those of them with a result.
    started, first, last : Any
        When it was begun, and when its first and its last shot were struck, discarded ones too, as
        the database has them: good for comparing.
    """

    held: tuple[int, int, float, float]
    n_shots: int
    n_graded: int
    started: Any
    first: Any
    last: Any


HeldRow = tuple[int, int, float, float, int, int]
"""Player, set-up, tip below centre and side in metres, shots, and those of them with a result."""


class Tallies(Store):
    """Counts over the whole log."""

    def last_player_id(self) -> int | None:
        """Return who played the newest shot that is not discarded, None before the first."""
        newest = _kept(select(SeriesRow.player_id)).order_by(ShotRow.struck_utc.desc()).limit(1)
        with self._read() as session:
            found: int | None = session.scalar(newest)
            return found

    def players_with_shots(self) -> set[int]:
        """Return the numbers of the players who have shots that are not discarded."""
        has_shots = _kept(select(ShotRow.shot_id)).where(SeriesRow.player_id == PlayerRow.player_id)
        with self._read() as session:
            return set(session.scalars(select(PlayerRow.player_id).where(has_shots.exists())))

    def cues_used(self, player_id: int) -> list[int]:
        """Return the cues that a player has shots with, the one used most first."""
        n_shots = func.count()
        wanted = (
            _kept(select(SeriesRow.cue_id))
            .where(SeriesRow.player_id == player_id)
            .group_by(SeriesRow.cue_id)
            .order_by(n_shots.desc(), SeriesRow.cue_id)
        )
        with self._read() as session:
            return list(session.scalars(wanted))

    def series_by_setup(self) -> dict[int, int]:
        """Return how many series that are not discarded each set-up has, by its number."""
        wanted = (
            select(SeriesRow.setup_id, func.count())
            .where(SeriesRow.is_discarded.is_(False))
            .group_by(SeriesRow.setup_id)
        )
        with self._read() as session:
            return {setup_id: n_series for setup_id, n_series in session.execute(wanted)}

    def shots_by_held(self) -> list[HeldRow]:
        """Return shots and graded shots of everything that series held, the newest first.

        Returns
        -------
        list of HeldRow
            Lengths as the series have them; discarded shots are not counted.
        """
        return self.kept("shots by held", lambda: _added_up(self.held_counts()))

    def held_counts(self) -> BySeries["HeldSeries"]:
        """Return what every series with shots held, and how many it has."""
        return self.kept_by_series("held", _read_held)


def _added_up(series: BySeries[HeldSeries]) -> list[HeldRow]:
    """Return the shots of everything that series held, the newest first."""
    found: dict[tuple[int, int, float, float], _HeldCount] = {}
    for series_id, one in series.made.items():
        found.setdefault(one.held, _HeldCount()).add(series_id, one)
    newest = sorted(found.items(), key=lambda pair: pair[1].newest, reverse=True)
    return [(*held, count.n_shots, count.n_graded) for held, count in newest]


class _HeldCount:
    """Shots of everything that was held alike."""

    def __init__(self) -> None:
        self.n_shots = self.n_graded = 0
        self._started: Any = None
        self._series_id = 0

    @property
    def newest(self) -> tuple[Any, int]:
        """Return when the newest series was begun, and the highest number of one."""
        return self._started, self._series_id

    def add(self, series_id: int, one: HeldSeries) -> None:
        """Count a series."""
        self.n_shots += one.n_shots
        self.n_graded += one.n_graded
        self._started = max(self._started or one.started, one.started)
        self._series_id = max(self._series_id, series_id)


def _read_held(session: Session, series_ids: Sequence[int] | None) -> dict[int, HeldSeries]:
    """Return what series with shots held, and how many they have."""
    # added up before they are joined: each by one index alone, and sorted by nothing
    counts = (
        select(
            ShotRow.series_id, func.count().label("n"), func.count(ShotRow.grade).label("graded")
        )
        .where(ShotRow.is_discarded.is_(False))
        .group_by(ShotRow.series_id)
    )
    struck = type_coerce(ShotRow.struck_utc, NullType)
    times = select(
        ShotRow.series_id, func.min(struck).label("first"), func.max(struck).label("last")
    ).group_by(ShotRow.series_id)
    if series_ids is not None:
        counts = counts.where(ShotRow.series_id.in_(series_ids))
        times = times.where(ShotRow.series_id.in_(series_ids))
    own, lasted = counts.subquery(), times.subquery()
    wanted = select(
        SeriesRow.series_id,
        SeriesRow.player_id,
        SeriesRow.setup_id,
        SeriesRow.tip_below_centre_m,
        SeriesRow.side_m,
        own.c.n,
        own.c.graded,
        type_coerce(SeriesRow.started_utc, NullType),
        lasted.c.first,
        lasted.c.last,
    ).join_from(own, SeriesRow, SeriesRow.series_id == own.c.series_id)
    wanted = wanted.join(lasted, lasted.c.series_id == own.c.series_id)
    wanted = wanted.where(SeriesRow.is_discarded.is_(False))
    return {
        row[0]: HeldSeries((*row[1:5],), *row[5:]) for row in session.connection().execute(wanted)
    }


def _kept(wanted: Select[*tuple[Any, ...]]) -> Select[*tuple[Any, ...]]:
    """Return a query of shots and their series, discarded ones left out."""
    return (
        wanted.select_from(ShotRow)
        .join(SeriesRow, ShotRow.series_id == SeriesRow.series_id)
        .where(ShotRow.is_discarded.is_(False), SeriesRow.is_discarded.is_(False))
    )
