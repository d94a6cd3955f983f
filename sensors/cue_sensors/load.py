"""Any file of samples, told by its content: a recording or generic CSV."""

import os
from pathlib import Path
from typing import Final

from cue_sensors.read import MAX_BYTES, check_size, file_error, read_recording
from cue_sensors.samples import Recording
from cue_sensors.walk import MAGIC

SNIFFED_BYTES: Final = 512


def load_recording(path: str | os.PathLike[str], *, max_bytes: int = MAX_BYTES) -> Recording:
    """Return the recording in a file.

    Parameters
    ----------
    path : path
        A recording as the recorder makes it, or generic CSV; the name's ending does not matter.
    max_bytes : int
        Largest file to read.

    Returns
    -------
    Recording
        Samples in SI units and what the file says about them.

    Raises
    ------
    RecordingError
        If the file cannot be read as it is; the sentence says where and what to do.
    """
    if is_recording(path, max_bytes=max_bytes):
        return read_recording(path, max_bytes=max_bytes)
    from cue_sensors.csv_file import read_csv  # pandas takes half a second to import

    return read_csv(path, max_bytes=max_bytes)


def is_recording(path: str | os.PathLike[str], *, max_bytes: int = MAX_BYTES) -> bool:
    """Return whether a file is a recording, perhaps a damaged one, rather than text.

    Raises
    ------
    RecordingError
        If it cannot be read, is empty or too large.
    """
    name = os.fspath(path)
    try:
        with Path(path).open("rb") as file:
            check_size(name, os.fstat(file.fileno()).st_size, max_bytes)
            start = file.read(SNIFFED_BYTES)
    except OSError as error:
        raise file_error(name, error) from error
    return start.startswith(MAGIC) or b"\x00" in start
