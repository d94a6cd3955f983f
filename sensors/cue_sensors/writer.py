"""Recordings: the raw notifications of one sensor on disk, safe from the moment they are written.

The container is MCAP, an open standard (https://mcap.dev/spec): each notification is a chunk of
its own with a checksum, appended in one write. Nothing is ever rewritten. The use made of the
container is specified in ``recordings/FORMAT.md``.
"""

import contextlib
import errno
import os
import time
import zlib
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Final, Self

from mcap.data_stream import RecordBuilder
from mcap.records import (
    Channel,
    Chunk,
    DataEnd,
    Footer,
    Header,
    McapRecord,
    Message,
    Metadata,
    Statistics,
)

from cue_sensors.description import FORMAT, Description
from cue_sensors.errors import RecordingError
from cue_sensors.samples import Calibration, Mounting, SensorInfo

MAGIC: Final = b"\x89MCAP0\r\n"
DESCRIPTION_CHANNEL: Final = 1
NOTIFICATION_CHANNEL: Final = 2
SYNC_EVERY_S: Final = 1.0
"""Data are pushed through to the disk itself at most so often; it costs time and wears flash."""


class RecordingWriter:
    """Writes one recording; a context manager.

    Parameters
    ----------
    path : path
        File to create; it must not exist.
    sensor : SensorInfo
        What sends the notifications.
    mounting, calibration
        How it sits on the cue, and its correction where it was measured.
    labels : dict of str to str, or None
        Free notes.
    start_utc : datetime or None
        Second 0 of the recording's axis; now, if None.

    Attributes
    ----------
    n_written, n_refused : int
        Notifications on disk, and notifications that the disk would not take.

    Raises
    ------
    RecordingError
        If the file exists or cannot be created.
    """

    def __init__(
        self,
        path: str | os.PathLike[str],
        *,
        sensor: SensorInfo,
        mounting: Mounting | None = None,
        calibration: Calibration | None = None,
        labels: dict[str, str] | None = None,
        start_utc: datetime | None = None,
    ) -> None:
        self.path = Path(path)
        self.description = Description(
            sensor=sensor,
            start_utc=_in_utc(start_utc),
            mounting=mounting or Mounting(),
            calibration=calibration,
            labels=dict(labels or {}),
        )
        self.n_written = 0
        self.n_refused = 0
        self._first_ns = self._last_ns = 0
        self._size = 0
        self._synced_s = time.monotonic()
        self._file: int | None = _create(self.path)
        try:
            self._append(self._opening())
            os.fsync(self._file)
        except (RecordingError, OSError) as error:
            self._abandon()
            raise (
                error if isinstance(error, RecordingError) else disk_error(self.path, error)
            ) from error

    def __enter__(self) -> Self:
        """Return the writer."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the recording."""
        self.close()

    @property
    def identity(self) -> tuple[int, int] | None:
        """Return device and number of the file, None once it is closed."""
        if self._file is None:
            return None
        opened = os.fstat(self._file)
        return opened.st_dev, opened.st_ino

    def write(self, notification: bytes, arrival_utc_ns: int) -> None:
        """Append one notification; when this returns the operating system has it.

        Parameters
        ----------
        notification : bytes
            As it came.
        arrival_utc_ns : int
            When it came, in nanoseconds since 1970 UTC.

        Raises
        ------
        RecordingError
            If the disk does not take it. The recording stays whole and may be written to again.
        ValueError
            If the recording is closed.
        """
        message = _message(NOTIFICATION_CHANNEL, self.n_written, arrival_utc_ns, notification)
        try:
            self._append(_chunk([message], arrival_utc_ns))
        except RecordingError:
            self.n_refused += 1
            raise
        self._first_ns = self._first_ns if self.n_written else arrival_utc_ns
        self._last_ns = max(self._last_ns, arrival_utc_ns)
        self.n_written += 1
        self._sync_now_and_then()

    def close(self) -> None:
        """Write the ending, push everything to the disk and close; twice does no harm."""
        if self._file is None:
            return
        try:
            with contextlib.suppress(RecordingError):
                self._append(
                    ending(
                        self.description,
                        size=self._size,
                        n_notifications=self.n_written,
                        first_ns=self._first_ns,
                        last_ns=self._last_ns,
                    )
                )
            os.fsync(self._file)
        except OSError as error:
            raise disk_error(self.path, error) from error
        finally:
            os.close(self._file)
            self._file = None

    def _abandon(self) -> None:
        """Leave no file behind that could not even be begun."""
        if self._file is not None:
            os.close(self._file)
            self._file = None
        with contextlib.suppress(OSError):
            self.path.unlink()

    def _opening(self) -> bytes:
        """Return magic, header, and the description twice, once under a checksum."""
        text = self.description.to_json()
        start_ns = self.description.start_utc_ns
        kind = self.description.sensor.kind
        described = _message(DESCRIPTION_CHANNEL, 0, start_ns, text.encode())
        metadata = {"description": text, "crc32": f"{zlib.crc32(text.encode()):08x}"}
        return (
            MAGIC
            + _bytes(Header(profile="", library=FORMAT))
            + _bytes(Metadata(name="stunpace", metadata=metadata))
            + _chunk([*_channels(kind), described], start_ns)
        )

    def _append(self, data: bytes) -> None:
        """Append all of the data or none of it."""
        if self._file is None:
            raise ValueError(f"{self.path} is closed")
        try:
            write_all(self._file, data)
        except OSError as error:
            with contextlib.suppress(OSError):
                os.ftruncate(self._file, self._size)
                os.lseek(self._file, self._size, os.SEEK_SET)
            raise disk_error(self.path, error) from error
        self._size += len(data)

    def _sync_now_and_then(self) -> None:
        """Push the file through to the disk if that was not done for a while."""
        now_s = time.monotonic()
        if self._file is not None and now_s - self._synced_s >= SYNC_EVERY_S:
            self._synced_s = now_s
            try:
                os.fsync(self._file)
            except OSError as error:
                raise disk_error(self.path, error) from error


def ending(
    description: Description, *, size: int, n_notifications: int, first_ns: int, last_ns: int
) -> bytes:
    """Return what ends a recording: the end of the data, a summary, the footer.

    Parameters
    ----------
    description : Description
        What the recording says about itself.
    size : int
        Bytes in the file so far.
    n_notifications, first_ns, last_ns : int
        How many it holds, and when the first and the last came, in nanoseconds since 1970 UTC.

    Returns
    -------
    bytes
        To be appended.
    """
    start_ns = description.start_utc_ns
    statistics = Statistics(
        attachment_count=0,
        channel_count=2,
        channel_message_counts={DESCRIPTION_CHANNEL: 1, NOTIFICATION_CHANNEL: n_notifications},
        chunk_count=1 + n_notifications,
        message_count=1 + n_notifications,
        metadata_count=1,
        message_start_time=min(start_ns, first_ns or 2**63),
        message_end_time=max(start_ns, last_ns),
        schema_count=0,
    )
    end = _bytes(DataEnd(data_section_crc=0))
    footer = Footer(summary_start=size + len(end), summary_offset_start=0, summary_crc=0)
    summary = [*_channels(description.sensor.kind), statistics, footer]
    return end + b"".join(map(_bytes, summary)) + MAGIC


def hold(file: int) -> bool:
    """Mark an open file as being written to; return False if another program has marked it.

    Where the system has no such marks, nobody is kept out.
    """
    try:
        import fcntl
    except ImportError:
        return True
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # a file system without locks
        return True
    return True


def _create(path: Path) -> int:
    """Return a descriptor of the new file; O_BINARY matters on Windows only."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    try:
        file = os.open(path, flags, 0o644)
    except OSError as error:
        raise disk_error(path, error) from error
    hold(file)
    return file


def write_all(file: int, data: bytes) -> None:
    """Write all of the data: one call, more only where the system takes less at once."""
    left = memoryview(data)
    while left:
        left = left[os.write(file, left) :]


def disk_error(path: Path, error: OSError) -> RecordingError:
    """Return what went wrong on the disk while writing, as a sentence."""
    sentences = {
        errno.ENOSPC: ("The disk is full.", "Make room; what was recorded so far is safe."),
        errno.EDQUOT: ("The disk quota is used up.", "Make room; what was recorded is safe."),
        errno.EEXIST: ("There is already a file of that name.", "Choose another name."),
        errno.ENOENT: ("The folder does not exist.", "Create it, or choose another one."),
        errno.EACCES: ("Writing here is not allowed.", "Choose a folder that you may write to."),
        errno.EROFS: ("The disk is read-only.", "Choose a folder that you may write to."),
    }
    reason = error.strerror or type(error).__name__
    usual = (f"Writing failed ({reason}).", "Check the disk; what was recorded so far is safe.")
    problem, remedy = sentences.get(error.errno or 0, usual)
    return RecordingError(str(path), "", problem, remedy)


def _channels(kind: str) -> list[McapRecord]:
    """Return the two channels every recording has."""
    return [
        Channel(
            id=DESCRIPTION_CHANNEL,
            topic="description",
            message_encoding="json",
            metadata={},
            schema_id=0,
        ),
        Channel(
            id=NOTIFICATION_CHANNEL,
            topic="notifications",
            message_encoding=kind,
            metadata={},
            schema_id=0,
        ),
    ]


def _message(channel: int, sequence: int, time_ns: int, data: bytes) -> Message:
    """Return a message; the sequence number lets a reader count what damage took."""
    return Message(
        channel_id=channel,
        log_time=time_ns,
        data=data,
        publish_time=time_ns,
        sequence=sequence % 2**32,
    )


def _chunk(records: list[McapRecord], time_ns: int) -> bytes:
    """Return a chunk of records with its checksum."""
    data = b"".join(map(_bytes, records))
    return _bytes(
        Chunk(
            compression="",
            data=data,
            message_start_time=time_ns,
            message_end_time=time_ns,
            uncompressed_crc=zlib.crc32(data),
            uncompressed_size=len(data),
        )
    )


def _bytes(record: McapRecord) -> bytes:
    """Return a record as it stands in the file."""
    builder = RecordBuilder()
    record.write(builder)
    return bytes(builder.end())  # type: ignore[no-untyped-call]


def _in_utc(moment: datetime | None) -> datetime:
    """Return the moment with its zone, now where there is none; a bare one is taken as UTC."""
    if moment is None:
        return datetime.now(UTC)
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
