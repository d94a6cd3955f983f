"""First schema: players, cues, tables, set-ups, series, recordings, strokes, shots, history."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make all tables of the first practice log."""
    op.create_table(
        "player",
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("nickname", sa.String(length=80), nullable=False),
        sa.Column("added_utc", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("player_id", name=op.f("pk_player")),
        sa.UniqueConstraint("nickname", name=op.f("uq_player_nickname")),
    )
    op.create_table(
        "playing_table",
        sa.Column("table_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("length_m", sa.Double(), nullable=False),
        sa.Column("width_m", sa.Double(), nullable=False),
        sa.Column("other_sizes", sa.JSON(), nullable=False),
        sa.Column("sliding_friction", sa.Double(), nullable=True),
        sa.Column("rolling_resistance", sa.Double(), nullable=True),
        sa.PrimaryKeyConstraint("table_id", name=op.f("pk_playing_table")),
        sa.UniqueConstraint("name", name=op.f("uq_playing_table_name")),
    )
    op.create_table(
        "recording",
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("path", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=True),
        sa.Column("start_utc", sa.DateTime(), nullable=True),
        sa.Column("sensor_kind", sa.Text(), nullable=False),
        sa.Column("sensor_name", sa.Text(), nullable=False),
        sa.Column("added_utc", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("recording_id", name=op.f("pk_recording")),
    )
    with op.batch_alter_table("recording", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_recording_path"), ["path"], unique=False)
        batch_op.create_index(batch_op.f("ix_recording_sha256"), ["sha256"], unique=False)

    op.create_table(
        "cue",
        sa.Column("cue_id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=True),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("mass_kg", sa.Double(), nullable=False),
        sa.Column("length_m", sa.Double(), nullable=False),
        sa.Column("tip_width_m", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(
            ["player_id"], ["player.player_id"], name=op.f("fk_cue_player_id_player")
        ),
        sa.PrimaryKeyConstraint("cue_id", name=op.f("pk_cue")),
        sa.UniqueConstraint("player_id", "name", name=op.f("uq_cue_player_id")),
    )
    op.create_table(
        "setup",
        sa.Column("setup_id", sa.Integer(), nullable=False),
        sa.Column("table_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("white_x_m", sa.Double(), nullable=False),
        sa.Column("white_y_m", sa.Double(), nullable=False),
        sa.Column("object_ball_x_m", sa.Double(), nullable=False),
        sa.Column("object_ball_y_m", sa.Double(), nullable=False),
        sa.Column("pocket", sa.String(length=20), nullable=False),
        sa.Column("next_ball_x_m", sa.Double(), nullable=True),
        sa.Column("next_ball_y_m", sa.Double(), nullable=True),
        sa.Column("landing_area_m", sa.JSON(), nullable=False),
        sa.Column("obstacles_m", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["table_id"], ["playing_table.table_id"], name=op.f("fk_setup_table_id_playing_table")
        ),
        sa.PrimaryKeyConstraint("setup_id", name=op.f("pk_setup")),
        sa.UniqueConstraint("table_id", "name", name=op.f("uq_setup_table_id")),
    )
    op.create_table(
        "stroke",
        sa.Column("stroke_id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("method_version", sa.String(length=20), nullable=False),
        sa.Column("impact_time_s", sa.Double(), nullable=False),
        sa.Column("backswing_start_s", sa.Double(), nullable=False),
        sa.Column("rear_s", sa.Double(), nullable=False),
        sa.Column("delivery_start_s", sa.Double(), nullable=False),
        sa.Column("follow_through_end_s", sa.Double(), nullable=False),
        sa.Column("tip_speed_m_s", sa.Double(), nullable=False),
        sa.Column("tip_speed_sd_m_s", sa.Double(), nullable=False),
        sa.Column("peak_speed_m_s", sa.Double(), nullable=False),
        sa.Column("peak_time_s", sa.Double(), nullable=False),
        sa.Column("accel_at_hit_m_s2", sa.Double(), nullable=False),
        sa.Column("accel_at_hit_sd_m_s2", sa.Double(), nullable=False),
        sa.Column("speed_lost_m_s", sa.Double(), nullable=False),
        sa.Column("slowing_probability", sa.Double(), nullable=False),
        sa.Column("level_probability", sa.Double(), nullable=False),
        sa.Column("backswing_m", sa.Double(), nullable=False),
        sa.Column("backswing_sd_m", sa.Double(), nullable=False),
        sa.Column("rear_pause_s", sa.Double(), nullable=False),
        sa.Column("delivery_s", sa.Double(), nullable=False),
        sa.Column("follow_through_m", sa.Double(), nullable=False),
        sa.Column("feathers", sa.Integer(), nullable=False),
        sa.Column("smoothness", sa.Double(), nullable=True),
        sa.Column("tip_lateral_m", sa.Double(), nullable=True),
        sa.Column("tip_lateral_sd_m", sa.Double(), nullable=True),
        sa.Column("tip_vertical_m", sa.Double(), nullable=True),
        sa.Column("tip_vertical_sd_m", sa.Double(), nullable=True),
        sa.Column("yaw_rad", sa.Double(), nullable=True),
        sa.Column("pitch_rad", sa.Double(), nullable=True),
        sa.Column("twist_rad", sa.Double(), nullable=True),
        sa.Column("stillness_m_s2", sa.Double(), nullable=True),
        sa.Column("feather_period_s", sa.Double(), nullable=True),
        sa.Column("flags", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["recording_id"],
            ["recording.recording_id"],
            name=op.f("fk_stroke_recording_id_recording"),
        ),
        sa.PrimaryKeyConstraint("stroke_id", name=op.f("pk_stroke")),
        sa.UniqueConstraint("recording_id", "impact_time_s", name=op.f("uq_stroke_recording_id")),
    )
    op.create_table(
        "series",
        sa.Column("series_id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("cue_id", sa.Integer(), nullable=False),
        sa.Column("table_id", sa.Integer(), nullable=False),
        sa.Column("setup_id", sa.Integer(), nullable=False),
        sa.Column("tip_below_centre_m", sa.Double(), nullable=False),
        sa.Column("side_m", sa.Double(), nullable=False),
        sa.Column("called_pace_m_s", sa.Double(), nullable=True),
        sa.Column("started_utc", sa.DateTime(), nullable=False),
        sa.Column("ended_utc", sa.DateTime(), nullable=True),
        sa.Column("conditions", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("is_discarded", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["cue_id"], ["cue.cue_id"], name=op.f("fk_series_cue_id_cue")),
        sa.ForeignKeyConstraint(
            ["player_id"], ["player.player_id"], name=op.f("fk_series_player_id_player")
        ),
        sa.ForeignKeyConstraint(
            ["setup_id"], ["setup.setup_id"], name=op.f("fk_series_setup_id_setup")
        ),
        sa.ForeignKeyConstraint(
            ["table_id"], ["playing_table.table_id"], name=op.f("fk_series_table_id_playing_table")
        ),
        sa.PrimaryKeyConstraint("series_id", name=op.f("pk_series")),
    )
    with op.batch_alter_table("series", schema=None) as batch_op:
        batch_op.create_index(
            "ix_series_answer", ["setup_id", "player_id", "tip_below_centre_m"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_series_player_id"), ["player_id"], unique=False)

    op.create_table(
        "stroke_trace",
        sa.Column("stroke_id", sa.Integer(), nullable=False),
        sa.Column("packed", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["stroke_id"], ["stroke.stroke_id"], name=op.f("fk_stroke_trace_stroke_id_stroke")
        ),
        sa.PrimaryKeyConstraint("stroke_id", name=op.f("pk_stroke_trace")),
    )
    op.create_table(
        "shot",
        sa.Column("shot_id", sa.Integer(), nullable=False),
        sa.Column("series_id", sa.Integer(), nullable=False),
        sa.Column("stroke_id", sa.Integer(), nullable=True),
        sa.Column("struck_utc", sa.DateTime(), nullable=False),
        sa.Column("grade", sa.String(length=20), nullable=True),
        sa.Column("is_potted", sa.Boolean(), nullable=True),
        sa.Column("cushion_x_m", sa.Double(), nullable=True),
        sa.Column("cushion_y_m", sa.Double(), nullable=True),
        sa.Column("stop_x_m", sa.Double(), nullable=True),
        sa.Column("stop_y_m", sa.Double(), nullable=True),
        sa.Column("tapped_utc", sa.DateTime(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("is_discarded", sa.Boolean(), nullable=False),
        sa.Column("broken_rule", sa.Text(), nullable=True),
        sa.CheckConstraint(
            "grade IN ('too_little', 'right', 'too_much')", name=op.f("ck_shot_grade_is_known")
        ),
        sa.ForeignKeyConstraint(
            ["series_id"], ["series.series_id"], name=op.f("fk_shot_series_id_series")
        ),
        sa.ForeignKeyConstraint(
            ["stroke_id"], ["stroke.stroke_id"], name=op.f("fk_shot_stroke_id_stroke")
        ),
        sa.PrimaryKeyConstraint("shot_id", name=op.f("pk_shot")),
        sa.UniqueConstraint("stroke_id", name=op.f("uq_shot_stroke_id")),
    )
    with op.batch_alter_table("shot", schema=None) as batch_op:
        batch_op.create_index("ix_shot_series", ["series_id", "struck_utc"], unique=False)
        batch_op.create_index(batch_op.f("ix_shot_struck_utc"), ["struck_utc"], unique=False)

    op.create_table(
        "change",
        sa.Column("change_id", sa.Integer(), nullable=False),
        sa.Column("changed_utc", sa.DateTime(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("series_id", sa.Integer(), nullable=False),
        sa.Column("shot_id", sa.Integer(), nullable=True),
        sa.Column("before", sa.JSON(), nullable=False),
        sa.Column("after", sa.JSON(), nullable=False),
        sa.Column("is_undone", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["series_id"], ["series.series_id"], name=op.f("fk_change_series_id_series")
        ),
        sa.ForeignKeyConstraint(["shot_id"], ["shot.shot_id"], name=op.f("fk_change_shot_id_shot")),
        sa.PrimaryKeyConstraint("change_id", name=op.f("pk_change")),
    )
    with op.batch_alter_table("change", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_change_series_id"), ["series_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_change_shot_id"), ["shot_id"], unique=False)
