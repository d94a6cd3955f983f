"""Series are found by when they were begun: the newest of all, and of one player."""

from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make two indexes; the second serves what the one on players alone did."""
    op.create_index("ix_series_started_utc", "series", ["started_utc"])
    op.create_index("ix_series_player_started", "series", ["player_id", "started_utc"])
    op.drop_index("ix_series_player_id", "series")
