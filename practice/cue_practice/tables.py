"""How the practice log lies in the database: one class a table, SI units in the column names.

Times are kept as UTC without a zone, so that every database gives back the same. Rows never leave
the package: the log hands out the views of :mod:`cue_practice.views`.
"""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    CheckConstraint,
    DateTime,
    Dialect,
    Double,
    ForeignKey,
    Index,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column


class UtcDateTime(TypeDecorator[datetime]):
    """A moment in UTC: aware in Python, without a zone in the database."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the moment in UTC without its zone."""
        return None if value is None else value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:
        """Return the moment with its zone."""
        return None if value is None else value.replace(tzinfo=UTC)


class Base(DeclarativeBase):
    """Common ground of all tables; named constraints, so that migrations can find them."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(column_0_label)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map = {  # noqa: RUF012  (read once by the declarative base)
        datetime: UtcDateTime(),
        dict[str, Any]: JSON(),
        str: Text(),
        float: Double(),
    }


class PlayerRow(Base):
    """A player."""

    __tablename__ = "player"

    player_id: Mapped[int] = mapped_column(primary_key=True)
    nickname: Mapped[str] = mapped_column(String(80), unique=True)
    added_utc: Mapped[datetime]


class CueRow(Base):
    """A cue."""

    __tablename__ = "cue"
    __table_args__ = (UniqueConstraint("player_id", "name"),)

    cue_id: Mapped[int] = mapped_column(primary_key=True)
    player_id: Mapped[int | None] = mapped_column(ForeignKey("player.player_id"))
    name: Mapped[str] = mapped_column(String(80))
    mass_kg: Mapped[float]
    length_m: Mapped[float]
    tip_width_m: Mapped[float]


class TableRow(Base):
    """A table to play on."""

    __tablename__ = "playing_table"

    table_id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(80), unique=True)
    length_m: Mapped[float]
    width_m: Mapped[float]
    other_sizes: Mapped[dict[str, Any]]
    sliding_friction: Mapped[float | None]
    rolling_resistance: Mapped[float | None]


class SetUpRow(Base):
    """A set-up: where everything lies."""

    __tablename__ = "setup"
    __table_args__ = (UniqueConstraint("table_id", "name"),)

    setup_id: Mapped[int] = mapped_column(primary_key=True)
    table_id: Mapped[int] = mapped_column(ForeignKey("playing_table.table_id"))
    name: Mapped[str] = mapped_column(String(80))
    white_x_m: Mapped[float]
    white_y_m: Mapped[float]
    object_ball_x_m: Mapped[float]
    object_ball_y_m: Mapped[float]
    pocket: Mapped[str] = mapped_column(String(20))
    next_ball_x_m: Mapped[float | None]
    next_ball_y_m: Mapped[float | None]
    landing_area_m: Mapped[list[list[float]]] = mapped_column(JSON())
    obstacles_m: Mapped[list[list[float]]] = mapped_column(JSON())


class SeriesRow(Base):
    """Shots under one set of held settings."""

    __tablename__ = "series"
    __table_args__ = (
        Index("ix_series_answer", "setup_id", "player_id", "tip_below_centre_m"),
        Index("ix_series_player_started", "player_id", "started_utc"),
    )

    series_id: Mapped[int] = mapped_column(primary_key=True)
    player_id: Mapped[int] = mapped_column(ForeignKey("player.player_id"))
    cue_id: Mapped[int] = mapped_column(ForeignKey("cue.cue_id"))
    table_id: Mapped[int] = mapped_column(ForeignKey("playing_table.table_id"))
    setup_id: Mapped[int] = mapped_column(ForeignKey("setup.setup_id"))
    tip_below_centre_m: Mapped[float]
    side_m: Mapped[float]
    called_pace_m_s: Mapped[float | None]
    started_utc: Mapped[datetime] = mapped_column(index=True)
    ended_utc: Mapped[datetime | None]
    conditions: Mapped[str]
    cloth: Mapped[str]
    note: Mapped[str]
    is_discarded: Mapped[bool]


class SeriesVersionRow(Base):
    """How often a series, its shots or their strokes were changed; the database itself counts.

    Nothing that anybody entered: a backup does without it.
    """

    __tablename__ = "series_version"

    series_id: Mapped[int] = mapped_column(
        ForeignKey("series.series_id"), primary_key=True, autoincrement=False
    )
    version: Mapped[int]


class RecordingRow(Base):
    """A recording of a sensor."""

    __tablename__ = "recording"

    recording_id: Mapped[int] = mapped_column(primary_key=True)
    path: Mapped[str] = mapped_column(index=True)
    name: Mapped[str]
    sha256: Mapped[str | None] = mapped_column(String(64), index=True)
    start_utc: Mapped[datetime | None]
    sensor_kind: Mapped[str]
    sensor_name: Mapped[str]
    added_utc: Mapped[datetime]
    analysed_with: Mapped[str | None] = mapped_column(String(20))


class StrokeRow(Base):
    """A stroke's measures, named as in :class:`cue_signal.stroke.Stroke`.

    Measures that came after this table was made lie in ``more_measures`` by name, so that a new
    measure needs no new schema.
    """

    __tablename__ = "stroke"
    __table_args__ = (UniqueConstraint("recording_id", "impact_time_s"),)

    stroke_id: Mapped[int] = mapped_column(primary_key=True)
    recording_id: Mapped[int] = mapped_column(ForeignKey("recording.recording_id"))
    method_version: Mapped[str] = mapped_column(String(20))
    impact_time_s: Mapped[float]
    backswing_start_s: Mapped[float]
    rear_s: Mapped[float]
    delivery_start_s: Mapped[float]
    follow_through_end_s: Mapped[float]
    tip_speed_m_s: Mapped[float]
    tip_speed_sd_m_s: Mapped[float]
    peak_speed_m_s: Mapped[float]
    peak_time_s: Mapped[float]
    accel_at_hit_m_s2: Mapped[float]
    accel_at_hit_sd_m_s2: Mapped[float]
    speed_lost_m_s: Mapped[float]
    slowing_probability: Mapped[float]
    level_probability: Mapped[float]
    backswing_m: Mapped[float]
    backswing_sd_m: Mapped[float]
    rear_pause_s: Mapped[float]
    delivery_s: Mapped[float]
    follow_through_m: Mapped[float]
    feathers: Mapped[int]
    smoothness: Mapped[float | None]
    tip_lateral_m: Mapped[float | None]
    tip_lateral_sd_m: Mapped[float | None]
    tip_vertical_m: Mapped[float | None]
    tip_vertical_sd_m: Mapped[float | None]
    yaw_rad: Mapped[float | None]
    pitch_rad: Mapped[float | None]
    twist_rad: Mapped[float | None]
    stillness_m_s2: Mapped[float | None]
    feather_period_s: Mapped[float | None]
    flags: Mapped[str]
    more_measures: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))


class OlderMeasuresRow(Base):
    """What an older method had measured of a stroke before a newer one took its place."""

    __tablename__ = "older_measures"
    __table_args__ = (Index("ix_older_measures_stroke_id", "stroke_id", "replaced_utc"),)

    older_measures_id: Mapped[int] = mapped_column(primary_key=True)
    stroke_id: Mapped[int] = mapped_column(ForeignKey("stroke.stroke_id"))
    method_version: Mapped[str] = mapped_column(String(20))
    replaced_utc: Mapped[datetime]
    measures: Mapped[dict[str, Any]]


class StrokeTraceRow(Base):
    """A stroke's course for drawing, apart from the measures so that lists never read it."""

    __tablename__ = "stroke_trace"

    stroke_id: Mapped[int] = mapped_column(ForeignKey("stroke.stroke_id"), primary_key=True)
    packed: Mapped[bytes] = mapped_column(LargeBinary)


class ShotRow(Base):
    """A shot: a stroke, or none, and what it did."""

    __tablename__ = "shot"
    __table_args__ = (
        Index("ix_shot_series", "series_id", "struck_utc"),
        Index("ix_shot_counts", "series_id", "is_discarded", "grade"),
        CheckConstraint("grade IN ('too_little', 'right', 'too_much')", name="grade_is_known"),
    )

    shot_id: Mapped[int] = mapped_column(primary_key=True)
    series_id: Mapped[int] = mapped_column(ForeignKey("series.series_id"))
    stroke_id: Mapped[int | None] = mapped_column(ForeignKey("stroke.stroke_id"), unique=True)
    struck_utc: Mapped[datetime] = mapped_column(index=True)
    grade: Mapped[str | None] = mapped_column(String(20))
    is_potted: Mapped[bool | None]
    cushion_x_m: Mapped[float | None]
    cushion_y_m: Mapped[float | None]
    stop_x_m: Mapped[float | None]
    stop_y_m: Mapped[float | None]
    tapped_utc: Mapped[datetime | None]
    note: Mapped[str]
    is_discarded: Mapped[bool]
    broken_rule: Mapped[str | None]
    is_mark_new: Mapped[bool]


class RemarkRow(Base):
    """A remark on a shot, pinned to a moment of its stroke or to all of it."""

    __tablename__ = "remark"

    remark_id: Mapped[int] = mapped_column(primary_key=True)
    shot_id: Mapped[int] = mapped_column(ForeignKey("shot.shot_id"), index=True)
    at_s: Mapped[float | None]
    text: Mapped[str]
    added_utc: Mapped[datetime]
    is_discarded: Mapped[bool]


class LessonRow(Base):
    """A lesson: what was talked over with a player, and what to practise next."""

    __tablename__ = "lesson"
    __table_args__ = (Index("ix_lesson_player_id", "player_id", "held_utc"),)

    lesson_id: Mapped[int] = mapped_column(primary_key=True)
    player_id: Mapped[int] = mapped_column(ForeignKey("player.player_id"))
    held_utc: Mapped[datetime]
    text: Mapped[str]
    exercise: Mapped[str]
    added_utc: Mapped[datetime]
    is_discarded: Mapped[bool]


class CalibrationRow(Base):
    """A calibration of a sensor, kept with all those before it."""

    __tablename__ = "calibration"
    __table_args__ = (Index("ix_calibration_sensor", "sensor_kind", "sensor_name", "made_utc"),)

    calibration_id: Mapped[int] = mapped_column(primary_key=True)
    sensor_kind: Mapped[str]
    sensor_name: Mapped[str]
    accel_bias_m_s2: Mapped[list[float]] = mapped_column(JSON())
    gyro_bias_rad_s: Mapped[list[float]] = mapped_column(JSON())
    accel_matrix: Mapped[list[float]] = mapped_column(JSON())
    more_values: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    made_utc: Mapped[datetime]
    temperature_c: Mapped[float | None]
    method: Mapped[str]
    is_discarded: Mapped[bool]


class MountingRow(Base):
    """How a sensor sat on a cue, kept with all mountings before it."""

    __tablename__ = "mounting"
    __table_args__ = (
        Index("ix_mounting_sensor", "cue_id", "sensor_kind", "sensor_name", "made_utc"),
    )

    mounting_id: Mapped[int] = mapped_column(primary_key=True)
    cue_id: Mapped[int] = mapped_column(ForeignKey("cue.cue_id"))
    sensor_kind: Mapped[str]
    sensor_name: Mapped[str]
    cue_axis: Mapped[list[float] | None] = mapped_column(JSON(none_as_null=True))
    cue_axis_sd_rad: Mapped[float | None]
    sensor_from_butt_m: Mapped[float | None]
    cue_length_m: Mapped[float | None]
    more_values: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    made_utc: Mapped[datetime]
    method: Mapped[str]
    is_discarded: Mapped[bool]


class ChangeRow(Base):
    """One entry of the history: fields before and after.

    ``entry`` and ``entry_id`` say what was changed; series and shot, where there are any, where
    it belongs.
    """

    __tablename__ = "change"

    change_id: Mapped[int] = mapped_column(primary_key=True)
    changed_utc: Mapped[datetime]
    what: Mapped[str]
    entry: Mapped[str] = mapped_column(String(20))
    entry_id: Mapped[int]
    series_id: Mapped[int | None] = mapped_column(ForeignKey("series.series_id"), index=True)
    shot_id: Mapped[int | None] = mapped_column(ForeignKey("shot.shot_id"), index=True)
    before: Mapped[dict[str, Any]]
    after: Mapped[dict[str, Any]]
    is_undone: Mapped[bool]


def entered(tables: Iterable[Table]) -> list[Table]:
    """Return those of the log's tables that hold what was entered, in their order."""
    return [table for table in tables if table.name != SeriesVersionRow.__tablename__]
