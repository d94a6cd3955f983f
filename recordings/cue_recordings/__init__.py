"""Shipped sample recordings, all invented, and where to find them."""

from importlib.resources import files
from pathlib import Path


def data_folder() -> Path:
    """Return the folder that holds the shipped recordings."""
    return Path(str(files("cue_recordings") / "data"))
