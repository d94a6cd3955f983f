"""What the fit needs of the log: paces and results as plain arrays, without whole strokes."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from cue_practice.control import CalledColumns, CalledShot
from cue_practice.evening_sums import EVENING_MEASURES
from cue_practice.grades import Grade
from cue_practice.played import that_count
from cue_practice.series_kept import MOST_AT_ONCE, BySeries
from cue_practice.shot_table import ShotTables
from cue_practice.spread import OwnSpread, SpreadSums, spread_of, spread_sums
from cue_practice.store import aware
from cue_practice.tables import SeriesRow, ShotRow, StrokeRow
from cue_practice.tallies import HeldSeries, Tallies
from cue_practice.views import Point
from cue_signal.stroke import FloatArray

SAME_PLACE_M = 5e-5
"""Tip heights and sides this close are the same: half a tenth of a millimetre."""


@dataclass(frozen=True, eq=False)
class FitShots:
    """Shots that can teach which pace is right, in the order they were played.

    Parameters
    ----------
    shot_id : ndarray of int, shape (n,)
        Numbers in the log.
    pace_m_s, pace_sd_m_s : ndarray, shape (n,)
        Tip speed at the hit and its standard uncertainty.
    grades : tuple of Grade
        What each did.
    is_potted : tuple of bool or None
        Whether the object ball was potted, None where nobody tapped it.
    points : tuple of (cushion point, stopping point)
        Where its white met the first cushion and where it stopped, in metres, None if not tapped.
    cue_id : int or None
        The cue most of them were played with, None without shots.
    broken_rules : dict of str to int
        Words why other shots are left out, and how many each.
    n_without_result : int
        Shots with a stroke that wait for a result.
    n_without_stroke : int
        Shots with a result that no sensor saw.
    """

    shot_id: NDArray[np.int64]
    pace_m_s: FloatArray
    pace_sd_m_s: FloatArray
    grades: tuple[Grade, ...]
    is_potted: tuple[bool | None, ...]
    points: tuple[tuple[Point | None, Point | None], ...]
    cue_id: int | None
    broken_rules: dict[str, int]
    n_without_result: int
    n_without_stroke: int


@dataclass(frozen=True)
class _HeldVersion:
    """A series, the count of its changes, and what it held."""

    series_id: int
    version: int
    series: HeldSeries


_POINTS = (ShotRow.cushion_x_m, ShotRow.cushion_y_m, ShotRow.stop_x_m, ShotRow.stop_y_m)


class Paces(ShotTables, Tallies):
    """Paces and results of the log."""

    def fit_shots(
        self,
        setup_id: int,
        player_id: int,
        tip_below_centre_m: float,
        *,
        side_m: float = 0.0,
        newest: int | None = None,
    ) -> FitShots:
        """Return the shots of a player on a set-up, at one tip height and side.

        Parameters
        ----------
        setup_id, player_id : int
            Which set-up, whose shots.
        tip_below_centre_m, side_m : float
            What the series held.
        newest : int or None
            Only this many, the last ones.

        Returns
        -------
        FitShots
            Shots that broke a rule, have no result or no stroke are counted, not listed. The same
            object for everybody who asks: never change it.
        """
        held = (player_id, setup_id, tip_below_centre_m, side_m)
        by_held = self.kept("series by held", lambda: _by_held(self.held_counts()))
        series = [one for own in _alike(by_held, held) for one in own]
        return self.kept_for(
            tuple((one.series_id, one.version) for one in series),
            ("fit shots", held, newest),
            lambda: self._fit_shots(series, newest),
        )

    def since_newest(self, player_id: int, n: int) -> datetime | None:
        """Return when the oldest of a player's newest shots was struck.

        Parameters
        ----------
        player_id : int
            Whose.
        n : int
            How many the newest are, discarded ones not counted.

        Returns
        -------
        datetime or None
            None where there are fewer.
        """
        by_held = self.kept("series by held", lambda: _by_held(self.held_counts()))
        own = [of for held, of in by_held.items() if held[0] == player_id]
        series = [one for heights in own for alike in heights.values() for one in alike]
        if sum(one.series.n_shots for one in series) < n:
            return None
        wanted = (
            select(ShotRow.struck_utc)
            .where(ShotRow.series_id.in_([one.series_id for one in _lately(series, n)]))
            .where(ShotRow.is_discarded.is_(False))
            .order_by(ShotRow.struck_utc.desc(), ShotRow.shot_id.desc())
        )
        with self._read() as session:
            found: datetime | None = session.scalar(wanted.limit(1).offset(n - 1))
            return found

    def _fit_shots(self, series: Sequence[_HeldVersion], newest: int | None) -> FitShots:
        """Return the shots of :meth:`fit_shots`, read from the database."""
        asked = [one.series_id for one in (series if newest is None else _lately(series, newest))]
        wanted = _pace_query(
            ShotRow.broken_rule, SeriesRow.cue_id, ShotRow.is_potted, ShotRow.struck_utc, *_POINTS
        )
        rows: list[Any] = []
        with self._read(is_snapshot=True) as session:
            for start in range(0, len(asked), MOST_AT_ONCE):
                some = SeriesRow.series_id.in_(asked[start : start + MOST_AT_ONCE])
                rows += session.connection().execute(wanted.where(some)).all()
        rows.sort(key=lambda row: (row.struck_utc, row.shot_id))
        rows = rows if newest is None else rows[max(len(rows) - newest, 0) :]
        kept = [row for row in rows if row.broken_rule is None]
        used = [row for row in kept if row.grade is not None and row.tip_speed_m_s is not None]
        cues = Counter(row.cue_id for row in used).most_common(1)
        return FitShots(
            shot_id=np.array([row.shot_id for row in used], dtype=np.int64),
            pace_m_s=np.array([row.tip_speed_m_s for row in used], dtype=np.float64),
            pace_sd_m_s=np.array([row.tip_speed_sd_m_s for row in used], dtype=np.float64),
            grades=tuple(Grade(row.grade) for row in used),
            is_potted=tuple(row.is_potted for row in used),
            points=tuple(
                (_point(row.cushion_x_m, row.cushion_y_m), _point(row.stop_x_m, row.stop_y_m))
                for row in used
            ),
            cue_id=cues[0][0] if cues else None,
            broken_rules=dict(Counter(r.broken_rule for r in rows if r.broken_rule is not None)),
            n_without_result=sum(row.grade is None for row in kept),
            n_without_stroke=sum(
                row.grade is not None and row.tip_speed_m_s is None for row in kept
            ),
        )

    def called_shots(
        self,
        player_id: int,
        *,
        cue_id: int | None = None,
        since_utc: datetime | None = None,
        until_utc: datetime | None = None,
    ) -> list[CalledShot]:
        """Return every shot of a player to a called pace, in the order they were played.

        Parameters
        ----------
        player_id : int
            Whose shots.
        cue_id : int or None
            Only those with this cue.
        since_utc, until_utc : datetime or None
            Only those from the first moment on, and before the second; with a time zone.

        Returns
        -------
        list of CalledShot
            Discarded shots and shots that broke a rule are left out.
        """
        wanted = _pace_query(
            ShotRow.series_id, ShotRow.struck_utc, SeriesRow.called_pace_m_s
        ).where(SeriesRow.player_id == player_id, *_IS_CALLED)
        wanted = wanted.order_by(ShotRow.struck_utc, ShotRow.shot_id)
        if cue_id is not None:
            wanted = wanted.where(SeriesRow.cue_id == cue_id)
        if since_utc is not None:
            wanted = wanted.where(ShotRow.struck_utc >= aware(since_utc, "since_utc"))
        if until_utc is not None:
            wanted = wanted.where(ShotRow.struck_utc < aware(until_utc, "until_utc"))
        with self._read() as session:
            rows = session.connection().execute(wanted).all()
        return [
            CalledShot(
                series_id=row.series_id,
                struck_utc=row.struck_utc,
                pace_m_s=row.tip_speed_m_s,
                pace_sd_m_s=row.tip_speed_sd_m_s,
                called_m_s=row.called_pace_m_s,
            )
            for row in rows
        ]

    def called_columns(self, player_id: int, *, since_utc: datetime | None = None) -> CalledColumns:
        """Return the same as :meth:`called_shots` as columns, which stay in memory.

        Parameters
        ----------
        player_id, since_utc
            As for :meth:`called_shots`.
        """
        table = self.shot_table(player_id, since_utc=since_utc, measures=EVENING_MEASURES)
        is_called = np.isfinite(table.column("called_m_s"))
        called = table.chosen(is_called & np.isfinite(table.column("tip_speed_m_s")))
        return CalledColumns(
            series_id=called.column("series_id").astype(np.int64),
            struck_s=called.column("struck_s"),
            pace_m_s=called.column("tip_speed_m_s"),
            pace_sd_m_s=called.column("tip_speed_sd_m_s"),
            called_m_s=called.column("called_m_s"),
        )

    def own_spread(self, player_id: int) -> OwnSpread:
        """Return a player's spread of pace within series to a called pace.

        Parameters
        ----------
        player_id : int
            Whose.

        Returns
        -------
        OwnSpread
            As :func:`cue_practice.spread.own_spread` has it of all of :meth:`called_shots`.
        """

        def read(session: Session, series_ids: Sequence[int] | None) -> dict[int, SpreadSums]:
            wanted = _called_query(SeriesRow.series_id).where(SeriesRow.player_id == player_id)
            if series_ids is not None:
                wanted = wanted.where(SeriesRow.series_id.in_(series_ids))
            rows = session.connection().execute(wanted).all()
            columns = [*zip(*rows, strict=True)] or [()] * 3  # numpy takes columns the quickest
            series_id = np.array(columns[0], dtype=np.int64)
            return spread_sums(series_id, *(np.array(one, dtype=float) for one in columns[1:]))

        found = self.kept_by_series("own spread", read, player_id=player_id)
        return spread_of(found.made.values())

    def tip_heights(self, setup_id: int, player_id: int | None = None) -> list[float]:
        """Return the tip heights in metres below centre that series on a set-up held, rising."""
        wanted = select(SeriesRow.tip_below_centre_m).where(
            SeriesRow.setup_id == setup_id, SeriesRow.is_discarded.is_(False)
        )
        if player_id is not None:
            wanted = wanted.where(SeriesRow.player_id == player_id)
        with self._read() as session:
            found = sorted(session.scalars(wanted.distinct()))
        return [h for i, h in enumerate(found) if i == 0 or h - found[i - 1] > SAME_PLACE_M]


_ByHeld = dict[tuple[int, int], dict[tuple[float, float], list[_HeldVersion]]]


def _by_held(counts: BySeries[HeldSeries]) -> _ByHeld:
    """Return the series of each player and set-up by tip height and side."""
    found: _ByHeld = {}
    for series_id, one in counts.made.items():
        own = found.setdefault(one.held[:2], {}).setdefault(one.held[2:], [])
        own.append(_HeldVersion(series_id, counts.versions[series_id], one))
    return found


def _alike(by_held: _ByHeld, held: tuple[int, int, float, float]) -> Iterator[list[_HeldVersion]]:
    """Yield the series that held the same."""
    for (below_m, side_m), own in by_held.get(held[:2], {}).items():
        if abs(below_m - held[2]) <= SAME_PLACE_M and abs(side_m - held[3]) <= SAME_PLACE_M:
            yield own


def _lately(series: Sequence[_HeldVersion], newest: int) -> list[_HeldVersion]:
    """Return the series among which the newest shots are: whatever ended since the first of them.

    Shots may be moved from series to series, so that series may overlap in time.
    """
    ordered = sorted(series, key=lambda one: one.series.last, reverse=True)
    n_shots, since = 0, None
    for one in ordered:
        if n_shots >= newest:
            break
        n_shots += one.series.n_shots
        since = one.series.first if since is None else min(since, one.series.first)
    return [one for one in ordered if since is not None and one.series.last >= since]


_IS_CALLED = (
    SeriesRow.called_pace_m_s.is_not(None),
    ShotRow.broken_rule.is_(None),
    StrokeRow.tip_speed_m_s.is_not(None),
)


def _called_query(*columns: Any) -> Select[*tuple[Any, ...]]:
    """Return the query of some columns and the paces of shots to a called pace, in no order."""
    paces = (StrokeRow.tip_speed_m_s, StrokeRow.tip_speed_sd_m_s)
    return that_count(select(*columns, *paces)).where(*_IS_CALLED)


def _pace_query(*more: Any) -> Select[*tuple[Any, ...]]:
    """Return the query of paces and results of all shots that are not discarded, in no order."""
    columns = (ShotRow.shot_id, ShotRow.grade, StrokeRow.tip_speed_m_s, StrokeRow.tip_speed_sd_m_s)
    return (
        select(*columns, *more)
        .select_from(ShotRow)
        .join(SeriesRow, ShotRow.series_id == SeriesRow.series_id)
        .outerjoin(StrokeRow, ShotRow.stroke_id == StrokeRow.stroke_id)
        .where(ShotRow.is_discarded.is_(False), SeriesRow.is_discarded.is_(False))
    )


def _point(x_m: float | None, y_m: float | None) -> Point | None:
    """Return a point, None where it was not tapped."""
    return None if x_m is None or y_m is None else (x_m, y_m)
