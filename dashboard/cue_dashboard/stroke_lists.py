"""Which strokes of the log a filter finds, in the order they were played."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cue_practice.chosen import Chosen
from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_practice.views import Shot
from cue_signal.stroke import FloatArray
from cue_signal.trend import SURE_PROBABILITY, HitTrend

ANY = "any"
_TREND_COLUMNS = ("shot_id", "slowing_probability", "level_probability")


@dataclass(frozen=True)
class Filter:
    """What strokes to list; None leaves a thing open.

    Parameters
    ----------
    player_id, series_id : int or None
        Numbers in the log.
    grade : Grade or None
        Result.
    trend : HitTrend or None
        What the cue's speed was doing into the ball.
    """

    player_id: int | None = None
    series_id: int | None = None
    grade: Grade | None = None
    trend: HitTrend | None = None

    @classmethod
    def of(cls, player: Any, series: Any, grade: Any, trend: Any) -> "Filter":
        """Return the filter of the page's fields, "any" or nothing leaving one open."""
        return cls(
            player_id=None if player in (None, ANY) else int(player),
            series_id=None if series in (None, ANY) else int(series),
            grade=None if grade in (None, ANY) else Grade(grade),
            trend=None if trend in (None, ANY) else HitTrend(trend),
        )

    @property
    def chosen(self) -> Chosen:
        """Return the conditions that the log can check by itself."""
        return {
            "player_id": self.player_id,
            "series_id": self.series_id,
            "grade": self.grade,
            "has_stroke": True,
        }


def stroke_ids(log: PracticeLog, wanted: Filter) -> NDArray[np.int64]:
    """Return the numbers of the shots with a stroke that a filter finds, in the order played."""
    if wanted.trend is None:
        return np.array(log.shot_ids(**wanted.chosen), dtype=np.int64)
    frame = log.shots_frame(columns=_TREND_COLUMNS, **wanted.chosen)
    shot_id, slowing, level = (frame[name].to_numpy() for name in _TREND_COLUMNS)
    is_found = trends(slowing, level) == wanted.trend.value
    return np.asarray(shot_id[is_found], dtype=np.int64)


def strokes_page(log: PracticeLog, wanted: Filter, *, start: int, rows: int) -> list[Shot]:
    """Return some of the shots that a filter finds, the newest first.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    wanted : Filter
        What to list.
    start, rows : int
        How many to pass over, and how many to return.
    """
    if wanted.trend is None:
        return log.shots(newest=rows, offset=start, **wanted.chosen)[::-1]
    newest_first = stroke_ids(log, wanted)[::-1]
    return [log.shot(int(shot_id)) for shot_id in newest_first[start : start + rows]]


def trends(slowing_probability: FloatArray, level_probability: FloatArray) -> NDArray[np.str_]:
    """Return the word of :func:`cue_signal.trend.hit_trend` for many strokes at once.

    Parameters
    ----------
    slowing_probability, level_probability : ndarray, shape (n,)
        As in :class:`cue_signal.stroke.Stroke`.
    """
    return np.select(
        [
            level_probability > 1 / 2,
            slowing_probability >= SURE_PROBABILITY,
            slowing_probability <= 1 - SURE_PROBABILITY,
        ],
        [HitTrend.LEVEL.value, HitTrend.SLOWING.value, HitTrend.GAINING.value],
        HitTrend.UNSURE.value,
    )
