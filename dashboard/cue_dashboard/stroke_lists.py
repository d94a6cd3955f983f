"""Which strokes of the log a filter finds, in the order they were played."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_signal.stroke import FloatArray
from cue_signal.trend import SURE_PROBABILITY, HitTrend

ANY = "any"


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


def stroke_ids(log: PracticeLog, wanted: Filter) -> NDArray[np.int64]:
    """Return the numbers of the shots with a stroke that a filter finds, in the order played."""
    frame = log.shots_frame(player_id=wanted.player_id, series_id=wanted.series_id)
    is_found = frame["tip_speed_m_s"].notna().to_numpy()
    if wanted.grade is not None:
        is_found = is_found & (frame["grade"] == wanted.grade.value).fillna(False).to_numpy(
            dtype=bool
        )
    if wanted.trend is not None:
        slowing = frame["slowing_probability"].to_numpy(dtype=np.float64)
        level = frame["level_probability"].to_numpy(dtype=np.float64)
        is_found = is_found & (trends(slowing, level) == wanted.trend.value)
    return np.asarray(frame["shot_id"].to_numpy()[is_found], dtype=np.int64)


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
