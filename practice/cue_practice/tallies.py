"""Who played, with what and how often, counted by the database.

Pages ask these things on every opening, so none of them reads the series one by one.
"""

from typing import Any

from sqlalchemy import Select, func, select

from cue_practice.store import Store
from cue_practice.tables import PlayerRow, SeriesRow, ShotRow

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
        held = (
            SeriesRow.player_id,
            SeriesRow.setup_id,
            SeriesRow.tip_below_centre_m,
            SeriesRow.side_m,
        )
        wanted = (
            _kept(select(*held, func.count(), func.count(ShotRow.grade)))
            .group_by(*held)
            .order_by(func.max(SeriesRow.started_utc).desc(), func.max(SeriesRow.series_id).desc())
        )
        with self._read() as session:
            return [(*row,) for row in session.execute(wanted)]


def _kept(wanted: Select[*tuple[Any, ...]]) -> Select[*tuple[Any, ...]]:
    """Return a query of shots and their series, discarded ones left out."""
    return (
        wanted.select_from(ShotRow)
        .join(SeriesRow, ShotRow.series_id == SeriesRow.series_id)
        .where(ShotRow.is_discarded.is_(False), SeriesRow.is_discarded.is_(False))
    )
