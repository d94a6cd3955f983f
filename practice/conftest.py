"""Keeps the doctest run out of the migrations, which only Alembic can import."""

collect_ignore_glob = ["cue_practice/migrations/*"]
