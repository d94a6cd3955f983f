"""A recording that is kept up through a full, read-only or unplugged disk.

What the disk does not take waits in memory and is offered again, so that nothing is lost if room is
made or the disk comes back. Where the file itself is gone, the recording goes on in a new part
beside it, on the same time axis.
"""

import contextlib
import errno
import os
import time
from collections import deque
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from cue_sensors.errors import SensorError
from cue_sensors.samples import Calibration, Mounting, SensorInfo
from cue_sensors.writer import RecordingWriter

RETRY_S: Final = 1.0
"""A disk that refused is asked again so often, and a file is looked for where it was put."""
MOST_WAITING_BYTES: Final = 64_000_000
"""Two hours of six axes at 833 Hz; what comes after that is lost while the disk refuses."""
_ROOM_ERRORS: Final = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
"""After these the file is whole and can be written to again."""


class Recorder:
    """Records notifications and never raises for the disk's sake.

    Parameters
    ----------
    path : path
        File to create; parts after the first get ``part 2`` and so on into their name.
    sensor, mounting, calibration, labels, start_utc
        As for ``RecordingWriter``; all parts have the same start.

    Attributes
    ----------
    paths : list of Path
        The parts that exist, the last one being written.
    n_waiting, n_lost : int
        Notifications that the disk has not taken yet, and those given up.
    problem : str
        What is wrong with the disk and what to do, empty while everything is on it.
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
        self._path = Path(path)
        self._sensor, self._mounting, self._calibration = sensor, mounting, calibration
        self._labels = dict(labels or {})
        self._start_utc = start_utc or datetime.now(UTC)
        self.paths: list[Path] = []
        self.n_lost = 0
        self._refusal = ""
        self._waiting: deque[tuple[bytes, int]] = deque()
        self._n_waiting_bytes = 0
        self._writer: RecordingWriter | None = None
        self._asked_s = time.monotonic()
        self._is_closed = False
        self._offer()

    @property
    def n_waiting(self) -> int:
        """Return how many notifications the disk has not taken yet."""
        return len(self._waiting)

    @property
    def problem(self) -> str:
        """Return what is wrong with the disk, empty while everything is on it."""
        if not self._refusal and not self.n_lost:
            return ""
        said = [f"{self.n_lost} packets could not be kept."] if self.n_lost else []
        if self._refusal:
            said.append(f"The raw data wait in memory ({self.n_waiting} packets): {self._refusal}")
        return " ".join(said)

    def write(self, notification: bytes, arrival_utc_ns: int) -> None:
        """Record one notification, now or as soon as the disk takes it."""
        if self._is_closed:
            raise ValueError(f"{self._path} is closed")
        if not isinstance(notification, bytes):
            raise TypeError(f"a notification is bytes, not {type(notification).__name__}")
        self._waiting.append((notification, arrival_utc_ns))
        self._n_waiting_bytes += len(notification)
        while self._n_waiting_bytes > MOST_WAITING_BYTES:
            self._n_waiting_bytes -= len(self._waiting.popleft()[0])
            self.n_lost += 1
        is_due = time.monotonic() - self._asked_s >= RETRY_S
        if is_due and self._writer is not None and not _is_in_place(self._writer):
            self._give_up_part()
        if is_due or not self._refusal:
            self._offer()

    def close(self) -> None:
        """Offer what still waits a last time and end the recording; twice does no harm."""
        if self._is_closed:
            return
        self._is_closed = True
        self._offer()
        if self._writer is not None:
            try:
                self._writer.close()
            except SensorError as error:
                self._refusal = str(error)
        self.n_lost += self.n_waiting
        self._waiting.clear()

    def _offer(self) -> None:
        """Write what waits, as far as the disk takes it."""
        if self._refusal or not self._waiting:
            self._asked_s = time.monotonic()
        try:
            if self._writer is None:
                self._writer = self._new_part()
            while self._waiting:
                self._writer.write(*self._waiting[0])
                self._n_waiting_bytes -= len(self._waiting.popleft()[0])
            self._refusal = ""
        except (SensorError, OSError) as error:
            self._refusal = str(error)
            cause = error if isinstance(error, OSError) else error.__cause__
            if getattr(cause, "errno", None) not in _ROOM_ERRORS:
                self._give_up_part()

    def _new_part(self) -> RecordingWriter:
        """Return the writer of the next part."""
        path, number = self._path, len(self.paths) + 1
        while number > 1 and (path.exists() or path in self.paths):
            path = self._path.with_stem(f"{self._path.stem} part {number}")
            number += 1
        path.parent.mkdir(parents=True, exist_ok=True)
        labels = self._labels | ({"part": str(len(self.paths) + 1)} if self.paths else {})
        writer = RecordingWriter(
            path,
            sensor=self._sensor,
            mounting=self._mounting,
            calibration=self._calibration,
            labels=labels,
            start_utc=self._start_utc,
        )
        self.paths.append(path)
        return writer

    def _give_up_part(self) -> None:
        """Leave a file that cannot be written to any more."""
        if self._writer is not None:
            with contextlib.suppress(SensorError, OSError):
                self._writer.close()
            self._writer = None


def _is_in_place(writer: RecordingWriter) -> bool:
    """Return whether the file is still where it was put: not deleted, its disk not taken away."""
    try:
        there = writer.path.stat()
    except OSError:
        return False
    return writer.identity == (there.st_dev, there.st_ino)
