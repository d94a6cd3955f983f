"""Which strokes of the log a filter finds, in the order they were played."""

from dataclasses import dataclass
from typing import Any

from cue_dashboard.series_choice import ANY
from cue_practice.chosen import Chosen
from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_practice.views import Shot
from cue_signal.trend import HitTrend

ROWS = 12
"""Strokes on a page of the list."""


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
            "trend": self.trend,
        }


@dataclass(frozen=True)
class Opened:
    """A stroke among those that a filter finds, in the order they were played.

    Parameters
    ----------
    shot_id : int or None
        Its number in the log; None where nothing is found.
    place, total : int
        Its place from 0, and how many there are.
    """

    shot_id: int | None = None
    place: int = 0
    total: int = 0

    @property
    def is_end(self) -> tuple[bool, bool]:
        """Return whether it is the first, and whether it is the last."""
        return self.place <= 0, self.place >= self.total - 1

    @property
    def n_pages(self) -> int:
        """Return how many pages the list has."""
        return max(-(-self.total // ROWS), 1)

    @property
    def page(self) -> int:
        """Return the page of the list that it is on, the newest being on page 1."""
        return max(self.total - 1 - self.place, 0) // ROWS + 1


def opened(log: PracticeLog, wanted: Filter, current: int | None, step: int = 0) -> Opened:
    """Return a stroke of a list or its neighbour; the newest where the list does not hold it.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    wanted : Filter
        What the list holds.
    current : int or None
        The stroke to start from, by its shot's number.
    step : int
        How far to go from there, to later ones where it is above 0.
    """
    total = log.count_shots(**wanted.chosen)
    if not total:
        return Opened()
    place = None if current is None else log.shot_place(current, **wanted.chosen)
    place = min(max((total - 1 if place is None else place) + step, 0), total - 1)
    found = log.shot_ids(newest=1, offset=total - 1 - place, **wanted.chosen)
    return Opened(found[0], place, total) if found else Opened()


def strokes_page(log: PracticeLog, wanted: Filter, page: int) -> list[Shot]:
    """Return a page of the shots that a filter finds, the newest first.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    wanted : Filter
        What to list.
    page : int
        From 1.
    """
    return log.shots(newest=ROWS, offset=(page - 1) * ROWS, **wanted.chosen)[::-1]
