"""Calibrations, mountings, remarks, lessons, older measures; a history of every kind of entry."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the new tables and give the old ones their new columns."""
    _add_columns()
    _widen_history()
    _make_remarks_and_lessons()
    _make_sensor_tables()
    op.create_table(
        "older_measures",
        sa.Column("older_measures_id", sa.Integer(), nullable=False),
        sa.Column("stroke_id", sa.Integer(), nullable=False),
        sa.Column("method_version", sa.String(length=20), nullable=False),
        sa.Column("replaced_utc", sa.DateTime(), nullable=False),
        sa.Column("measures", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["stroke_id"], ["stroke.stroke_id"], name=op.f("fk_older_measures_stroke_id_stroke")
        ),
        sa.PrimaryKeyConstraint("older_measures_id", name=op.f("pk_older_measures")),
    )
    op.create_index("ix_older_measures_stroke_id", "older_measures", ["stroke_id", "replaced_utc"])


def _add_columns() -> None:
    """Add columns; a default of the database's own lets rows that are there have a value."""
    op.add_column("stroke", sa.Column("more_measures", sa.JSON(), nullable=True))
    op.add_column("recording", sa.Column("analysed_with", sa.String(length=20), nullable=True))
    op.add_column("series", sa.Column("cloth", sa.Text(), nullable=False, server_default=""))
    op.add_column(
        "shot",
        sa.Column("is_mark_new", sa.Boolean(), nullable=False, server_default=sa.false()),
    )
    op.create_index("ix_shot_counts", "shot", ["series_id", "is_discarded", "grade"])


def _widen_history() -> None:
    """Let the history tell of entries that are neither shot nor series."""
    op.add_column("change", sa.Column("entry", sa.String(length=20), nullable=True))
    op.add_column("change", sa.Column("entry_id", sa.Integer(), nullable=True))
    op.execute("UPDATE change SET entry = 'shot', entry_id = shot_id WHERE shot_id IS NOT NULL")
    op.execute("UPDATE change SET entry = 'series', entry_id = series_id WHERE shot_id IS NULL")
    with op.batch_alter_table("change") as batch_op:
        batch_op.alter_column("entry", existing_type=sa.String(length=20), nullable=False)
        batch_op.alter_column("entry_id", existing_type=sa.Integer(), nullable=False)
        batch_op.alter_column("series_id", existing_type=sa.Integer(), nullable=True)


def _make_remarks_and_lessons() -> None:
    """Make the tables of what is said about a shot, and in a lesson."""
    op.create_table(
        "remark",
        sa.Column("remark_id", sa.Integer(), nullable=False),
        sa.Column("shot_id", sa.Integer(), nullable=False),
        sa.Column("at_s", sa.Double(), nullable=True),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("added_utc", sa.DateTime(), nullable=False),
        sa.Column("is_discarded", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["shot_id"], ["shot.shot_id"], name=op.f("fk_remark_shot_id_shot")),
        sa.PrimaryKeyConstraint("remark_id", name=op.f("pk_remark")),
    )
    op.create_index(op.f("ix_remark_shot_id"), "remark", ["shot_id"])
    op.create_table(
        "lesson",
        sa.Column("lesson_id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("held_utc", sa.DateTime(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("exercise", sa.Text(), nullable=False),
        sa.Column("added_utc", sa.DateTime(), nullable=False),
        sa.Column("is_discarded", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["player_id"], ["player.player_id"], name=op.f("fk_lesson_player_id_player")
        ),
        sa.PrimaryKeyConstraint("lesson_id", name=op.f("pk_lesson")),
    )
    op.create_index("ix_lesson_player_id", "lesson", ["player_id", "held_utc"])


def _make_sensor_tables() -> None:
    """Make the tables of how a sensor reads, and how it sits on a cue."""
    op.create_table(
        "calibration",
        sa.Column("calibration_id", sa.Integer(), nullable=False),
        sa.Column("sensor_kind", sa.Text(), nullable=False),
        sa.Column("sensor_name", sa.Text(), nullable=False),
        sa.Column("accel_bias_m_s2", sa.JSON(), nullable=False),
        sa.Column("gyro_bias_rad_s", sa.JSON(), nullable=False),
        sa.Column("accel_matrix", sa.JSON(), nullable=False),
        sa.Column("more_values", sa.JSON(), nullable=True),
        sa.Column("made_utc", sa.DateTime(), nullable=False),
        sa.Column("temperature_c", sa.Double(), nullable=True),
        sa.Column("method", sa.Text(), nullable=False),
        sa.Column("is_discarded", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("calibration_id", name=op.f("pk_calibration")),
    )
    op.create_index(
        "ix_calibration_sensor", "calibration", ["sensor_kind", "sensor_name", "made_utc"]
    )
    op.create_table(
        "mounting",
        sa.Column("mounting_id", sa.Integer(), nullable=False),
        sa.Column("cue_id", sa.Integer(), nullable=False),
        sa.Column("sensor_kind", sa.Text(), nullable=False),
        sa.Column("sensor_name", sa.Text(), nullable=False),
        sa.Column("cue_axis", sa.JSON(), nullable=True),
        sa.Column("cue_axis_sd_rad", sa.Double(), nullable=True),
        sa.Column("sensor_from_butt_m", sa.Double(), nullable=True),
        sa.Column("cue_length_m", sa.Double(), nullable=True),
        sa.Column("more_values", sa.JSON(), nullable=True),
        sa.Column("made_utc", sa.DateTime(), nullable=False),
        sa.Column("method", sa.Text(), nullable=False),
        sa.Column("is_discarded", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["cue_id"], ["cue.cue_id"], name=op.f("fk_mounting_cue_id_cue")),
        sa.PrimaryKeyConstraint("mounting_id", name=op.f("pk_mounting")),
    )
    op.create_index(
        "ix_mounting_sensor", "mounting", ["cue_id", "sensor_kind", "sensor_name", "made_utc"]
    )
