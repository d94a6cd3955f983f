"""What the fit needs of the log: paces and results as plain arrays, without whole strokes."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Select, select

from cue_practice.control import CalledShot
from cue_practice.grades import Grade
from cue_practice.played import Played
from cue_practice.store import aware
from cue_practice.tables import SeriesRow, ShotRow, StrokeRow
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
    points: tuple[tuple[Point | None, Point | None], ...]
    cue_id: int | None
    broken_rules: dict[str, int]
    n_without_result: int
    n_without_stroke: int


_POINTS = (ShotRow.cushion_x_m, ShotRow.cushion_y_m, ShotRow.stop_x_m, ShotRow.stop_y_m)


class Paces(Played):
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
            Shots that broke a rule, have no result or no stroke are counted, not listed.
        """
        wanted = _pace_query(ShotRow.broken_rule, SeriesRow.cue_id, *_POINTS).where(
            SeriesRow.setup_id == setup_id,
            SeriesRow.player_id == player_id,
            _near(SeriesRow.tip_below_centre_m, tip_below_centre_m),
            _near(SeriesRow.side_m, side_m),
        )
        with self._read() as session:
            rows = session.connection().execute(wanted.limit(newest)).all()[::-1]
        kept = [row for row in rows if row.broken_rule is None]
        used = [row for row in kept if row.grade is not None and row.tip_speed_m_s is not None]
        cues = Counter(row.cue_id for row in used).most_common(1)
        return FitShots(
            shot_id=np.array([row.shot_id for row in used], dtype=np.int64),
            pace_m_s=np.array([row.tip_speed_m_s for row in used], dtype=np.float64),
            pace_sd_m_s=np.array([row.tip_speed_sd_m_s for row in used], dtype=np.float64),
            grades=tuple(Grade(row.grade) for row in used),
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
        ).where(
            SeriesRow.player_id == player_id,
            SeriesRow.called_pace_m_s.is_not(None),
            ShotRow.broken_rule.is_(None),
            StrokeRow.tip_speed_m_s.is_not(None),
        )
        if cue_id is not None:
            wanted = wanted.where(SeriesRow.cue_id == cue_id)
        if since_utc is not None:
            wanted = wanted.where(ShotRow.struck_utc >= aware(since_utc, "since_utc"))
        if until_utc is not None:
            wanted = wanted.where(ShotRow.struck_utc < aware(until_utc, "until_utc"))
        with self._read() as session:
            rows = session.connection().execute(wanted).all()[::-1]
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


def _pace_query(*more: Any) -> Select[*tuple[Any, ...]]:
    """Return the query of paces and results of all shots that are not discarded."""
    return (
        select(
            ShotRow.shot_id,
            ShotRow.grade,
            StrokeRow.tip_speed_m_s,
            StrokeRow.tip_speed_sd_m_s,
            *more,
        )
        .select_from(ShotRow)
        .join(SeriesRow, ShotRow.series_id == SeriesRow.series_id)
        .outerjoin(StrokeRow, ShotRow.stroke_id == StrokeRow.stroke_id)
        .where(ShotRow.is_discarded.is_(False), SeriesRow.is_discarded.is_(False))
        .order_by(ShotRow.struck_utc.desc(), ShotRow.shot_id.desc())
    )


def _point(x_m: float | None, y_m: float | None) -> Point | None:
    """Return a point, None where it was not tapped."""
    return None if x_m is None or y_m is None else (x_m, y_m)


def _near(column: Any, value_m: float) -> Any:
    """Return the condition that a length is the same."""
    return column.between(value_m - SAME_PLACE_M, value_m + SAME_PLACE_M)
