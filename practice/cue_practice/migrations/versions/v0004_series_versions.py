"""Each series counts its changes, by triggers: what was worked out of the others still holds.

Whatever program writes, and by whatever statement, the count goes up with a series' own row, its
shots and their strokes.
"""

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_COUNT = """
INSERT INTO series_version (series_id, version) VALUES ({series_id}, 1)
ON CONFLICT (series_id) DO UPDATE SET version = series_version.version + 1;
"""
_NEW, _OLD = _COUNT.format(series_id="NEW.series_id"), _COUNT.format(series_id="OLD.series_id")
_OF_STROKE = """
UPDATE series_version SET version = version + 1
WHERE series_id IN (SELECT series_id FROM shot WHERE stroke_id = NEW.stroke_id);
"""

TRIGGERS = {
    "series_added": ("INSERT ON series", _NEW),
    "series_changed": ("UPDATE ON series", _NEW),
    "shot_added": ("INSERT ON shot", _NEW),
    "shot_changed": ("UPDATE ON shot", _NEW),
    "shot_moved": ("UPDATE OF series_id ON shot", _OLD),
    "shot_removed": ("DELETE ON shot", _OLD),
    "stroke_changed": ("UPDATE ON stroke", _OF_STROKE),
}
"""What sets each off, and what it does."""


def upgrade() -> None:
    """Make the table, count every series that is there as changed once, and make the triggers."""
    op.execute(
        "CREATE TABLE series_version (series_id INTEGER NOT NULL, version INTEGER NOT NULL, "
        "CONSTRAINT pk_series_version PRIMARY KEY (series_id), "
        "CONSTRAINT fk_series_version_series_id_series "
        "FOREIGN KEY (series_id) REFERENCES series (series_id))"
    )
    op.execute("INSERT INTO series_version SELECT series_id, 1 FROM series")
    is_postgres = op.get_bind().dialect.name == "postgresql"
    for name, (event, what) in TRIGGERS.items():
        if is_postgres:
            op.execute(
                f"CREATE FUNCTION count_{name}() RETURNS trigger LANGUAGE plpgsql AS "
                f"$$ BEGIN {what} RETURN NULL; END $$"
            )
            op.execute(
                f"CREATE TRIGGER {name} AFTER {event} FOR EACH ROW EXECUTE FUNCTION count_{name}()"
            )
        else:
            op.execute(f"CREATE TRIGGER {name} AFTER {event} FOR EACH ROW BEGIN {what} END")
