"""What Alembic runs for each command; the log hands over its open connection."""

from alembic import context
from sqlalchemy import create_engine

from cue_practice.database import database_url
from cue_practice.tables import Base


def run(connection: object) -> None:
    """Run the migrations on an open connection."""
    context.configure(
        connection=connection,  # type: ignore[arg-type]
        target_metadata=Base.metadata,
        render_as_batch=True,
        compare_type=True,
    )
    with context.begin_transaction():
        context.run_migrations()


_given = context.config.attributes.get("connection")
if _given is not None:
    run(_given)
else:  # a developer's own `alembic revision --autogenerate`
    with create_engine(database_url()).begin() as _connection:
        run(_connection)
