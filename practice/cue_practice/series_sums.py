"""Counts of results, and mean and spread of pace, a series at a time and by the database itself."""

from typing import Any

from sqlalchemy import DateTime, Float, Select, and_, case, func, select, type_coerce

from cue_practice.grades import Grade
from cue_practice.tables import SeriesRow, ShotRow, StrokeRow


def sums_query() -> Select[*tuple[Any, ...]]:
    """Return the query of series and their sums over shots, in the order they were begun.

    In the place of the spread stands the sample variance: not every SQLite knows roots. Its sum of
    squares is taken about the called pace, or 2 m/s, so that little is lost by subtracting.
    """
    pace = _of_kept(StrokeRow.tip_speed_m_s)
    middle = func.coalesce(SeriesRow.called_pace_m_s, 2.0)
    off = pace - middle
    n_kept = func.count(pace)
    mean_off = func.avg(off)
    squares = func.sum(off * off) - n_kept * mean_off * mean_off
    variance = case((n_kept > 1, _at_least_0(squares) / (n_kept - 1.0)))
    return (
        select(
            SeriesRow.series_id,
            type_coerce(SeriesRow.started_utc, DateTime),
            SeriesRow.player_id,
            SeriesRow.cue_id,
            SeriesRow.table_id,
            SeriesRow.setup_id,
            SeriesRow.tip_below_centre_m,
            SeriesRow.side_m,
            SeriesRow.called_pace_m_s,
            func.count(),
            func.count(ShotRow.stroke_id),
            *(_count(ShotRow.grade == grade.value) for grade in Grade),
            _count(ShotRow.is_potted.is_(True)),
            _count(ShotRow.is_potted.is_(False)),
            n_kept,
            middle + mean_off,
            variance,
            func.min(pace),
            func.max(pace),
            func.avg(_of_kept(StrokeRow.accel_at_hit_m_s2)),
            func.avg(_of_kept(StrokeRow.slowing_probability)),
        )
        .select_from(ShotRow)
        .join(SeriesRow, ShotRow.series_id == SeriesRow.series_id)
        .outerjoin(StrokeRow, ShotRow.stroke_id == StrokeRow.stroke_id)
        .group_by(SeriesRow.series_id)
        .order_by(SeriesRow.started_utc, SeriesRow.series_id)
    )


def _of_kept(column: Any) -> Any:
    """Return a measure, nothing for a shot that broke a rule."""
    return case((and_(ShotRow.broken_rule.is_(None), column.is_not(None)), column))


def _count(condition: Any) -> Any:
    """Return how many shots meet a condition."""
    return func.count(case((condition, 1)))


def _at_least_0(value: Any) -> Any:
    """Return a value that rounding may have put a hair below 0."""
    return type_coerce(case((value > 0.0, value), else_=0.0), Float)
