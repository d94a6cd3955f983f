"""Where the player's own data lie."""

import os
from pathlib import Path

import platformdirs

FOLDER_VARIABLE = "STUNPACE_DATA"
"""Environment variable that names another data folder."""


def data_folder() -> Path:
    """Return the folder for the practice log and live recordings; it may not exist yet."""
    named = os.environ.get(FOLDER_VARIABLE)
    return Path(named) if named else platformdirs.user_data_path("stunpace", appauthor=False)
