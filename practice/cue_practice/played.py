"""Played shots as columns: every measure of the stroke beside what the shot did.

What statistics over many shots need, read by one query without whole strokes. An evening is a run
of shots without a long pause; it may go past midnight.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Select, or_, select, type_coerce
from sqlalchemy.types import NullType

from cue_practice.grades import Grade
from cue_practice.limits import FASTEST_M_S, SLOWEST_M_S
from cue_practice.rows import MEASURES
from cue_practice.store import Store, aware
from cue_practice.tables import SeriesRow, ShotRow, StrokeRow
from cue_signal.stroke import FloatArray
from cue_signal.trend import SURE_PROBABILITY

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

EVENING_PAUSE_S = 4 * 3600.0
"""After a pause this long a new evening begins; common practice, no source."""

GRADE_NUMBERS = {Grade.TOO_LITTLE.value: -1.0, Grade.RIGHT.value: 0.0, Grade.TOO_MUCH.value: 1.0}


@dataclass(frozen=True, eq=False)
class PlayedShots:
    """Shots of one player in the order they were played, n of them; nan where nothing is known.

    Parameters
    ----------
    shot_id, series_id, setup_id : ndarray of int, shape (n,)
        Numbers in the log.
    evening : ndarray of int, shape (n,)
        Which evening, from 0.
    struck_s : ndarray, shape (n,)
        When, in seconds since 1970 UTC.
    tip_below_centre_m, side_m, called_m_s : ndarray, shape (n,)
        What the series held; nan where no pace was called.
    grade : ndarray, shape (n,)
        -1 too little stun, 0 right, +1 too much.
    is_potted : ndarray, shape (n,)
        1 potted, 0 missed.
    measures : dict of str to ndarray of shape (n,)
        Every measure of :class:`cue_signal.stroke.Stroke` under its own name.
    """

    shot_id: IntArray
    series_id: IntArray
    setup_id: IntArray
    evening: IntArray
    struck_s: FloatArray
    tip_below_centre_m: FloatArray
    side_m: FloatArray
    called_m_s: FloatArray
    grade: FloatArray
    is_potted: FloatArray
    measures: dict[str, FloatArray]

    def __len__(self) -> int:
        """Return how many shots there are."""
        return len(self.shot_id)

    @property
    def pace_m_s(self) -> FloatArray:
        """Return the tip speed at the hit."""
        return self.measures["tip_speed_m_s"]

    @property
    def pace_off_log(self) -> FloatArray:
        """Return the logarithm of pace over called pace, nan where no pace was called."""
        return np.asarray(np.log(self.pace_m_s / self.called_m_s))

    @property
    def question(self) -> IntArray:
        """Return a number for each set-up, tip height and side."""
        tenth_mm = [np.round(one * 1e4) for one in (self.tip_below_centre_m, self.side_m)]
        keys = np.stack([self.setup_id.astype(np.float64), *tenth_mm], axis=-1)
        return np.unique(keys, axis=0, return_inverse=True)[1].reshape(-1).astype(np.int64)

    @property
    def is_slowing(self) -> FloatArray:
        """Return 1 where the cue surely slowed into the ball, 0 where not, nan without a stroke."""
        slowing, level = self.measures["slowing_probability"], self.measures["level_probability"]
        is_sure = (slowing >= SURE_PROBABILITY) & (level <= 0.5)
        return np.where(np.isnan(slowing), np.nan, is_sure.astype(np.float64))

    def chosen(self, keep: BoolArray | slice) -> "PlayedShots":
        """Return the shots for which ``keep`` is true, or a run of them; evenings stay numbered."""
        some = {
            one.name: getattr(self, one.name)[keep]
            for one in fields(self)
            if one.name != "measures"
        }
        return PlayedShots(**some, measures={k: v[keep] for k, v in self.measures.items()})

    def by_evening(self) -> Iterator[tuple[int, "PlayedShots"]]:
        """Yield the number of every evening and its shots, which share their memory with all."""
        numbers, first = np.unique(self.evening, return_index=True)
        ends = [*first[1:].tolist(), len(self)][: len(first)]
        for number, start, end in zip(numbers.tolist(), first.tolist(), ends, strict=True):
            yield number, self.chosen(slice(start, end))


class Played(Store):
    """Played shots of the log as columns."""

    def played_shots(
        self,
        player_id: int,
        *,
        setup_id: int | None = None,
        cue_id: int | None = None,
        since_utc: datetime | None = None,
        until_utc: datetime | None = None,
        measures: Sequence[str] = MEASURES,
    ) -> PlayedShots:
        """Return the shots of a player as columns.

        Parameters
        ----------
        player_id : int
            Whose shots.
        setup_id, cue_id : int or None
            Only those on this set-up, with this cue.
        since_utc, until_utc : datetime or None
            Only those from the first moment on, and before the second; with a time zone.
        measures : sequence of str
            Only these measures of the strokes: half of the time goes into reading them.

        Returns
        -------
        PlayedShots
            Discarded shots, shots that broke a rule and those with a pace that no stroke can
            have are left out.
        """
        wanted = _query(measures).where(SeriesRow.player_id == player_id)
        if setup_id is not None:
            wanted = wanted.where(SeriesRow.setup_id == setup_id)
        if cue_id is not None:
            wanted = wanted.where(SeriesRow.cue_id == cue_id)
        if since_utc is not None:
            wanted = wanted.where(ShotRow.struck_utc >= aware(since_utc, "since_utc"))
        if until_utc is not None:
            wanted = wanted.where(ShotRow.struck_utc < aware(until_utc, "until_utc"))
        with self._read() as session:
            return played(session.connection().execute(wanted).all(), measures)


def evenings_of(struck_s: FloatArray) -> IntArray:
    """Return the number of the evening of every moment, from 0.

    Parameters
    ----------
    struck_s : ndarray, shape (n,)
        Rising, in seconds.

    Examples
    --------
    >>> evenings_of(np.array([0.0, 60.0, 90_000.0])).tolist()
    [0, 0, 1]
    """
    if len(struck_s) == 0:
        return np.zeros(0, dtype=np.int64)
    is_new = np.diff(struck_s, prepend=struck_s[0]) > EVENING_PAUSE_S
    return np.cumsum(is_new).astype(np.int64)


def played(rows: Sequence[Any], names: Sequence[str] = MEASURES) -> PlayedShots:
    """Return rows of the query, in the order they were played, as columns."""
    columns = list(zip(*rows, strict=True)) or [()] * (_N_HEAD + len(names))
    ids = [np.array(column, dtype=np.int64) for column in columns[:3]]
    struck_s = np.array(columns[3], dtype="datetime64[us]").astype(np.int64) / 1e6
    numbers = [np.array(column, dtype=np.float64) for column in (*columns[4:7], *columns[8:])]
    below_m, side_m, called_m_s, is_potted, *found = numbers
    grade = [np.nan if word is None else GRADE_NUMBERS[word] for word in columns[7]]
    return PlayedShots(
        shot_id=ids[0],
        series_id=ids[1],
        setup_id=ids[2],
        evening=evenings_of(struck_s),
        struck_s=struck_s,
        tip_below_centre_m=below_m,
        side_m=side_m,
        called_m_s=called_m_s,
        grade=np.array(grade, dtype=np.float64),
        is_potted=is_potted,
        measures=dict(zip(names, found, strict=True)),
    )


HEAD = (
    ShotRow.shot_id,
    ShotRow.series_id,
    SeriesRow.setup_id,
    # as it lies in the database, text or moment: numpy reads a column of either at once
    type_coerce(ShotRow.struck_utc, NullType),
    SeriesRow.tip_below_centre_m,
    SeriesRow.side_m,
    SeriesRow.called_pace_m_s,
    ShotRow.grade,
    ShotRow.is_potted,
)
"""Columns that come before the measures."""
_N_HEAD = len(HEAD)


def _query(names: Sequence[str]) -> Select[*tuple[Any, ...]]:
    """Return the query of shots with some measures, in the order they were played."""
    measures: list[Any] = [getattr(StrokeRow, name) for name in names]
    pace = StrokeRow.tip_speed_m_s
    is_a_pace = or_(pace.is_(None), pace.between(SLOWEST_M_S, FASTEST_M_S))
    wanted = that_count(select(*HEAD, *measures)).where(is_a_pace)
    return wanted.order_by(ShotRow.struck_utc, ShotRow.shot_id)


def that_count(wanted: Select[*tuple[Any, ...]]) -> Select[*tuple[Any, ...]]:
    """Return a query of shots that count, with their series and strokes."""
    return (
        wanted.select_from(ShotRow)
        .join(SeriesRow, ShotRow.series_id == SeriesRow.series_id)
        .outerjoin(StrokeRow, ShotRow.stroke_id == StrokeRow.stroke_id)
        .where(
            ShotRow.is_discarded.is_(False),
            SeriesRow.is_discarded.is_(False),
            ShotRow.broken_rule.is_(None),
        )
    )
