"""What a recorder should look at before it starts: room on the disk, recordings left open."""

import contextlib
import os
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from cue_sensors.errors import RecordingError
from cue_sensors.read import read_notifications
from cue_sensors.walk import MAGIC, Damage, walk
from cue_sensors.writer import disk_error, ending, hold, write_all

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

    They read like any other up to their last notification. Those that a running session is writing
    to are left out, where the system can tell.

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


@dataclass(frozen=True)
class ClosedRecording:
    """A recording that was closed after the fact.

    Parameters
    ----------
    path : Path
        The file.
    n_notifications : int
        How many it holds; all that were in it before.
    rest : Path or None
        Where the bytes after the last whole notification were put, None if there were none.
    """

    path: Path
    n_notifications: int
    rest: Path | None = None


def close_left_open(path: str | os.PathLike[str]) -> ClosedRecording:
    """Close a recording that a crash left open; nothing that can be read from it changes.

    A half-written notification at its end is moved to a file beside it, ending in ``.rest``, and
    the ending is appended.

    Parameters
    ----------
    path : path
        One of ``left_open``.

    Returns
    -------
    ClosedRecording
        What it holds.

    Raises
    ------
    RecordingError
        If it cannot be read or written, or is being written to by a running session.
    """
    place = Path(path)
    raw = read_notifications(place)
    try:
        file = os.open(place, os.O_RDWR | getattr(os, "O_BINARY", 0))
    except OSError as error:
        raise disk_error(place, error) from error
    try:
        if not hold(file):
            problem = "It is being written to."
            raise RecordingError(str(place), "", problem, "Stop the session first.")
        rest = _cut_rest(place, file)
        times = [time_ns for time_ns, _ in raw.notifications] or [0]
        size = os.lseek(file, 0, os.SEEK_END)
        tail = ending(
            raw.description,
            size=size,
            n_notifications=len(raw.notifications),
            first_ns=times[0],
            last_ns=max(times),
        )
        _append_whole(file, tail, size)
    except OSError as error:
        raise disk_error(place, error) from error
    finally:
        os.close(file)
    return ClosedRecording(place, len(raw.notifications), rest)


def _cut_rest(path: Path, file: int) -> Path | None:
    """Move what stands after the last intact record into a file of its own."""
    content = path.read_bytes()
    damage = [found for found in walk(content) if isinstance(found, Damage)]
    if not damage or damage[-1].stop < len(content):
        return None
    rest = path.with_name(path.name + ".rest")
    with rest.open("xb") as copy:
        copy.write(content[damage[-1].start :])
        copy.flush()
        os.fsync(copy.fileno())
    os.ftruncate(file, damage[-1].start)
    return rest


def _append_whole(file: int, data: bytes, size: int) -> None:
    """Append the data, or leave the file as long as it was."""
    try:
        write_all(file, data)
        os.fsync(file)
    except OSError:
        with contextlib.suppress(OSError):
            os.ftruncate(file, size)
        raise


def _is_open(path: Path) -> bool:
    """Return whether a file begins as a recording, does not end as one, and nobody writes to it."""
    try:
        with path.open("rb") as file:
            begins = file.read(len(MAGIC)) == MAGIC
            file.seek(-len(MAGIC), os.SEEK_END)
            is_open = begins and (file.read() != MAGIC or file.tell() == len(MAGIC))
            return is_open and hold(file.fileno())
    except OSError:
        return False
