"""Which shots of the log are meant: one set of conditions for lists, counts, frames and sums."""

from datetime import datetime
from typing import Any, TypedDict

from sqlalchemy import Select, select

from cue_practice.grades import Grade
from cue_practice.tables import SeriesRow, ShotRow, StrokeRow
from cue_signal.trend import SURE_PROBABILITY, HitTrend

SAME_HEIGHT_M = 5e-5
"""Tip heights this close are the same: half the tenth of a millimetre that a screen shows."""


class MoreChosen(TypedDict, total=False):
    """Conditions besides those every list has; one left out, or None, leaves its thing open.

    Parameters
    ----------
    cue_id, table_id : int or None
        Only shots with one cue, on one table.
    side_m : float or None
        Only those of series held at this side.
    since_utc, until_utc : datetime or None
        Only those from the first moment on, and before the second; with a time zone.
    grade : Grade, its word, or None
        Only those with this result.
    has_stroke : bool or None
        Only those that a sensor saw, or that none saw.
    has_result : bool or None
        Only those with a grade, or without.
    trend : HitTrend or None
        Only those whose cue did this into the ball.
    """

    cue_id: int | None
    table_id: int | None
    side_m: float | None
    since_utc: datetime | None
    until_utc: datetime | None
    grade: Grade | str | None
    has_stroke: bool | None
    has_result: bool | None
    trend: HitTrend | None


class Chosen(MoreChosen, total=False):
    """All conditions.

    Parameters
    ----------
    series_id, setup_id, player_id : int or None
        Only shots of one series, on one set-up, of one player.
    tip_below_centre_m : float or None
        Only those of series held at this tip height.
    include_discarded : bool
        Whether discarded shots, and shots of discarded series, are meant too.
    """

    series_id: int | None
    setup_id: int | None
    player_id: int | None
    tip_below_centre_m: float | None
    include_discarded: bool


def where(wanted: Select[*tuple[Any, ...]], chosen: Chosen) -> Select[*tuple[Any, ...]]:
    """Return a query of shots joined to their series with the conditions added.

    Parameters
    ----------
    wanted : sqlalchemy.Select
        Of shots, joined to series.
    chosen : Chosen
        What is meant.

    Returns
    -------
    sqlalchemy.Select
        With the conditions.

    Raises
    ------
    ValueError
        If a moment has no time zone or a grade is none.
    """
    for name, value in chosen.items():
        if name != "include_discarded" and value is not None:
            wanted = wanted.where(_condition(name, value))
    if not chosen.get("include_discarded", False):
        wanted = wanted.where(ShotRow.is_discarded.is_(False), SeriesRow.is_discarded.is_(False))
    return wanted


def _condition(name: str, value: Any) -> Any:
    """Return one condition."""
    match name:
        case "series_id":
            return ShotRow.series_id == value
        case "tip_below_centre_m" | "side_m":
            column = getattr(SeriesRow, name)
            low, high = value - SAME_HEIGHT_M, value + SAME_HEIGHT_M
            return column.between(low, high)
        case "since_utc" | "until_utc":
            if value.tzinfo is None:
                raise ValueError(f"{name} must have a time zone, got {value.isoformat()}")
            return (
                ShotRow.struck_utc >= value if name == "since_utc" else ShotRow.struck_utc < value
            )
        case "grade":
            return ShotRow.grade == Grade(value).value
        case "has_stroke":
            return _is_there(ShotRow.stroke_id, value)
        case "has_result":
            return _is_there(ShotRow.grade, value)
        case "trend":
            return ShotRow.stroke_id.in_(select(StrokeRow.stroke_id).where(_has_trend(value)))
        case _:
            return getattr(SeriesRow, name) == value


def _has_trend(trend: HitTrend) -> Any:
    """Return the condition of :func:`cue_signal.trend.hit_trend` on a stroke's row."""
    slowing, level = StrokeRow.slowing_probability, StrokeRow.level_probability
    if trend is HitTrend.LEVEL:
        return level > 1 / 2
    conditions = {
        HitTrend.SLOWING: slowing >= SURE_PROBABILITY,
        HitTrend.GAINING: slowing <= 1 - SURE_PROBABILITY,
        HitTrend.UNSURE: (slowing < SURE_PROBABILITY) & (slowing > 1 - SURE_PROBABILITY),
    }
    return (level <= 1 / 2) & conditions[trend]


def _is_there(column: Any, is_wanted: bool) -> Any:
    """Return the condition that a column holds something, or nothing."""
    return column.is_not(None) if is_wanted else column.is_(None)
