"""What a recorder should look at before it starts: room on the disk, recordings left open."""

import os
import shutil
from pathlib import Path
from typing import Final

from cue_sensors.walk import MAGIC

EVENING_BYTES: Final = 100_000_000
"""Two hours of six axes at 833 Hz: 44 notifications of 240 bytes a second, 80 more for each."""


def free_space_problem(
    folder: str | os.PathLike[str], *, needed_bytes: int = EVENING_BYTES
) -> str | None:
    """Return a sentence if the disk has too little room for an evening.

    Parameters
    ----------
    folder : path
        Where the recording will lie; it need not exist yet.
    needed_bytes : int
        How much room is wanted.

    Returns
    -------
    str or None
        What is wrong and what to do, None if there is room or the system does not say.
    """
    place = Path(folder).absolute()
    while not place.exists() and place != place.parent:
        place = place.parent
    try:
        free_bytes = shutil.disk_usage(place).free
    except OSError:
        return None
    if free_bytes >= needed_bytes:
        return None
    return (
        f"Only {free_bytes / 1e6:.0f} MB are free in {place}; an evening may need "
        f"{needed_bytes / 1e6:.0f} MB. Make room before you play."
    )


def left_open(folder: str | os.PathLike[str]) -> list[Path]:
    """Return the recordings in a folder that were never closed, the oldest first.

    They read like any other up to their last notification; a session that is still running has
    one, too.

    Parameters
    ----------
    folder : path
        Where recordings lie; an absent one has none.

    Returns
    -------
    list of Path
        Files that begin as a recording and do not end as one.
    """
    return sorted(path for path in Path(folder).glob("*.mcap") if _is_open(path))


def _is_open(path: Path) -> bool:
    """Return whether a file begins as a recording and does not end as one."""
    try:
        with path.open("rb") as file:
            begins = file.read(len(MAGIC)) == MAGIC
            file.seek(-len(MAGIC), os.SEEK_END)
            return begins and (file.read() != MAGIC or file.tell() == len(MAGIC))
    except OSError:
        return False
