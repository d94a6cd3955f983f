"""Files that are either there whole or not at all, and the hash that tells a whole one."""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from cue_practice.errors import PracticeError


def sha256_of(file: str | Path) -> str:
    """Return the hash of a file's bytes, in hexadecimal; OSError if it cannot be read."""
    with Path(file).open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


@contextmanager
def whole_file(path: str | Path, what: str, *, newline: str | None = None) -> Iterator[TextIO]:
    """Give a stream for a file that takes the place of an older one once it is whole.

    Parameters
    ----------
    path : str or Path
        Where to.
    what : str
        What is written, for the message, for example ``"backup"``.
    newline : str, optional
        As in :func:`open`.

    Yields
    ------
    TextIO
        To write UTF-8 text to.

    Raises
    ------
    PracticeError
        If it cannot be written; an older file is untouched and no part is left behind.
    """
    file = Path(path)
    partial = file.with_name(file.name + ".partial")
    try:
        with partial.open("w", encoding="utf-8", newline=newline) as stream:
            yield stream
        partial.replace(file)
    except OSError as error:
        if partial.is_file():
            partial.unlink()
        raise PracticeError(
            f"The {what} cannot be written to {file}: {error.strerror}. Choose another place."
        ) from error


def write_whole(data: bytes, path: str | Path, what: str) -> None:
    """Write bytes to a file that takes the place of an older one once it is whole.

    Parameters
    ----------
    data : bytes
        What to write.
    path : str or Path
        Where to.
    what : str
        What is written, for the message.

    Raises
    ------
    PracticeError
        If it cannot be written; an older file is untouched and no part is left behind.
    """
    file = Path(path)
    partial = file.with_name(file.name + ".partial")
    try:
        partial.write_bytes(data)
        partial.replace(file)
    except OSError as error:
        if partial.is_file():
            partial.unlink()
        raise PracticeError(
            f"The {what} cannot be written to {file}: {error.strerror}. Choose another place."
        ) from error
