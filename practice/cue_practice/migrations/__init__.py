"""Alembic's environment and the steps from each schema of the practice log to the next."""
