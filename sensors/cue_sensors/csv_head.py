"""What stands before the rows of a CSV file, and where the rows start and stop."""

import io
from typing import Any, BinaryIO, Final

from cue_sensors.csv_columns import Columns, HeadError, Notes, read_comment, read_header
from cue_sensors.errors import RecordingError

MAX_HEAD_LINE_BYTES: Final = 4096


class CsvHead:
    """Comments, header and the place of the rows.

    Parameters
    ----------
    name : str
        Name of the file as the user gave it.
    file : binary file
        Open at its start; left at the first row.
    size : int
        Its length in bytes.

    Raises
    ------
    RecordingError
        If the head cannot be used, with the line.
    """

    def __init__(self, name: str, file: BinaryIO, size: int) -> None:
        self.notes = Notes()
        self.name = name
        self.n_lines = 0
        self.columns = self._read(file)
        self.start = file.tell()
        self.stop = _last_line_end(file, self.start, size)
        self.is_cut = self.stop < size

    def rows(self, file: BinaryIO) -> io.BufferedReader:
        """Return a file that holds the whole rows only."""
        return io.BufferedReader(_UpTo(file, self.start, self.stop))

    def _read(self, file: BinaryIO) -> Columns:
        """Read comments and header."""
        while line := file.readline(MAX_HEAD_LINE_BYTES):
            self.n_lines += 1
            text = self._text(line)
            try:
                if text.startswith("#"):
                    read_comment(text, self.notes)
                elif text:
                    return read_header(text)
            except HeadError as error:
                raise self._error(error.problem, error.remedy) from error
        remedy = "The first line that is no comment names the columns, for example time_s,ax_m_s2."
        raise RecordingError(self.name, "", "The file has no header.", remedy)

    def _text(self, line: bytes) -> str:
        """Return a head line as text, refusing what is no text."""
        if b"\x00" in line or len(line) == MAX_HEAD_LINE_BYTES:
            raise self._error("This is no text.", "Choose a recording or a CSV file.")
        try:
            return line.decode("utf-8-sig").strip()
        except UnicodeDecodeError as error:
            raise self._error("The text is not in UTF-8.", "Save the file as UTF-8.") from error

    def _error(self, problem: str, remedy: str) -> RecordingError:
        """Return an error at the line just read."""
        return RecordingError(self.name, f"line {self.n_lines}", problem, remedy)


class _UpTo(io.RawIOBase):
    """A file from one offset up to another."""

    def __init__(self, file: BinaryIO, start: int, stop: int) -> None:
        self._file = file
        self._left = stop - start
        file.seek(start)

    def readable(self) -> bool:
        """Return that it can be read."""
        return True

    def readinto(self, buffer: Any, /) -> int:
        """Read as much as fits and is left."""
        view = memoryview(buffer).cast("B")
        data = self._file.read(min(len(view), self._left))
        view[: len(data)] = data
        self._left -= len(data)
        return len(data)


def _last_line_end(file: BinaryIO, start: int, size: int) -> int:
    """Return the offset just behind the last line end, and leave the file at the start."""
    stop, block = size, 1 << 16
    while stop > start:
        begin = max(start, stop - block)
        file.seek(begin)
        at = file.read(stop - begin).rfind(b"\n")
        if at >= 0:
            stop = begin + at + 1
            break
        stop = begin
    file.seek(start)
    return max(stop, start)
