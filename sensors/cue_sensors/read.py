"""Recordings read back: everything before a cut, everything but what damage hit."""

import os
import zlib
from dataclasses import dataclass, field
from mmap import ACCESS_READ, mmap
from pathlib import Path
from typing import Final

from mcap.records import Metadata

from cue_sensors.assemble import SampleAssembler
from cue_sensors.description import Description
from cue_sensors.errors import RecordingError, SensorError
from cue_sensors.rate import joined
from cue_sensors.samples import Recording
from cue_sensors.walk import Damage, End, StoredMessage, walk
from cue_sensors.writer import DESCRIPTION_CHANNEL, NOTIFICATION_CHANNEL

MAX_BYTES: Final = 512 * 1024 * 1024
"""Largest recording that is read at once: more than a day of six axes at 200 Hz."""
MAX_PLACES_NAMED: Final = 3
"""Damage in more places is summed up."""


@dataclass(frozen=True, eq=False)
class RawRecording:
    """A recording's notifications as they came.

    Parameters
    ----------
    name : str
        Name of the file.
    description : Description
        What it says about itself.
    notifications : tuple of (int, bytes)
        Arrival in nanoseconds since 1970 UTC, and the bytes.
    problems : tuple of str
        Sentences on damage.
    """

    name: str
    description: Description
    notifications: tuple[tuple[int, bytes], ...]
    problems: tuple[str, ...] = ()

    def timed(self) -> list[tuple[float, bytes]]:
        """Return the notifications with their arrival in seconds on the recording's axis."""
        start_ns = self.description.start_utc_ns
        return [((time_ns - start_ns) * 1e-9, data) for time_ns, data in self.notifications]


def read_notifications(path: str | os.PathLike[str], *, max_bytes: int = MAX_BYTES) -> RawRecording:
    """Return the raw notifications of a recording.

    Parameters
    ----------
    path : path
        A recording as ``RecordingWriter`` makes it, whole, cut off or damaged.
    max_bytes : int
        Largest file to read.

    Returns
    -------
    RawRecording
        All intact notifications, and sentences on what is missing.

    Raises
    ------
    RecordingError
        If the file cannot be read or holds no intact description.
    """
    name = os.fspath(path)
    contents = _Contents()
    try:
        with Path(path).open("rb") as file:
            size = os.fstat(file.fileno()).st_size
            check_size(name, size, max_bytes)
            with mmap(file.fileno(), 0, access=ACCESS_READ) as data:
                contents.collect(data)
    except OSError as error:
        raise file_error(name, error) from error
    if contents.description is None:
        raise contents.no_description(name, size)
    return RawRecording(
        name, contents.description, tuple(contents.notifications), contents.problems(size)
    )


def read_recording(path: str | os.PathLike[str], *, max_bytes: int = MAX_BYTES) -> Recording:
    """Return a recording as calibrated samples.

    Parameters
    ----------
    path : path
        A recording as ``RecordingWriter`` makes it, whole, cut off or damaged.
    max_bytes : int
        Largest file to read.

    Returns
    -------
    Recording
        Its samples, what it says about itself, and sentences on what was met.

    Raises
    ------
    RecordingError
        If the file cannot be read, holds no intact description or no samples.
    """
    raw = read_notifications(path, max_bytes=max_bytes)
    description = raw.description
    try:
        assembler = SampleAssembler(description.sensor, description.calibration)
    except SensorError as error:
        remedy = "Read it with the version of this program that wrote it."
        raise RecordingError(raw.name, "description", str(error), remedy) from error
    pieces = [assembler.push_many(raw.timed()), assembler.finish()]
    samples = joined(pieces, rate_hz=assembler.rate_hz or 1.0)
    if len(samples) == 0:
        problem = f"It holds no samples ({len(raw.notifications)} notifications)."
        raise RecordingError(raw.name, "", problem, "Record again; the sensor sent nothing usable.")
    return Recording(
        name=raw.name,
        samples=samples,
        sensor=description.sensor,
        mounting=description.mounting,
        calibration=description.calibration,
        start_utc=description.start_utc,
        labels=description.labels,
        problems=raw.problems + assembler.problems(),
    )


def file_error(name: str, error: OSError, *, doing: str = "Reading") -> RecordingError:
    """Return what keeps a file from being read or written as a sentence."""
    if isinstance(error, FileNotFoundError):
        return RecordingError(name, "", "There is no such file.", "Check the name and the folder.")
    if isinstance(error, IsADirectoryError):
        return RecordingError(name, "", "This is a folder.", "Name a file in it.")
    if isinstance(error, PermissionError):
        return RecordingError(
            name, "", "You have no permission.", "Ask the owner, or choose another place."
        )
    reason = error.strerror or type(error).__name__
    return RecordingError(name, "", f"{doing} failed ({reason}).", "Check the disk.")


def check_size(name: str, size: int, max_bytes: int) -> None:
    """Refuse an empty file and one that is too large."""
    if size == 0:
        raise RecordingError(name, "", "The file is empty.", "Choose another file.")
    if size > max_bytes:
        problem = f"The file has {size / 1e6:.0f} MB; at most {max_bytes / 1e6:.0f} MB are read."
        raise RecordingError(name, "", problem, "Cut it into shorter recordings.")


@dataclass
class _Contents:
    """What a walk through the file found."""

    description: Description | None = None
    notifications: list[tuple[int, bytes]] = field(default_factory=list)
    damage: list[Damage] = field(default_factory=list)
    n_lost: int = 0
    is_closed: bool = False
    has_unreadable_description: str = ""
    _next_sequence: int = 0

    def collect(self, data: mmap) -> None:
        """Walk through the file."""
        for found in walk(data):
            if isinstance(found, StoredMessage):
                self._take_message(found)
            elif isinstance(found, Metadata):
                self._take_metadata(found)
            elif isinstance(found, Damage):
                self.damage.append(found)
            elif isinstance(found, End):
                self.is_closed = True

    def problems(self, size: int) -> tuple[str, ...]:
        """Return sentences on damage, cut and lost notifications."""
        sentences = []
        inner = [one for one in self.damage if one.stop < size or self.is_closed]
        cut = next((one for one in self.damage if one not in inner), None)
        if inner:
            places = ", ".join(str(one.start) for one in inner[:MAX_PLACES_NAMED])
            more = len(inner) - MAX_PLACES_NAMED
            places += f" and {more} more places" if more > 0 else ""
            sentences.append(f"The file is damaged at byte {places}.")
        if self.n_lost:
            sentences.append(f"{self.n_lost} notifications are lost to damage and leave gaps.")
        if cut is not None:
            sentences.append(
                f"The file is cut off or damaged from byte {cut.start} on; all before is read."
            )
        elif not self.is_closed:
            sentences.append("The recording was not closed; all that was written is read.")
        return tuple(sentences)

    def no_description(self, name: str, size: int) -> RecordingError:
        """Return why the file cannot be understood."""
        if self.has_unreadable_description:
            problem = f"Its description cannot be read: {self.has_unreadable_description}."
            return RecordingError(name, "description", problem, "Use the program that wrote it.")
        if self.notifications:
            problem = (
                f"Its description is damaged; {len(self.notifications)} notifications are whole."
            )
            return RecordingError(name, "description", problem, "Restore the file from a copy.")
        problem = f"This is no recording, or it was cut off before its description ({size} bytes)."
        return RecordingError(name, "", problem, "Choose a recording or a CSV file.")

    def _take_message(self, message: StoredMessage) -> None:
        """Keep a notification, or the description."""
        if message.channel == DESCRIPTION_CHANNEL:
            self._describe(message.data)
        elif message.channel == NOTIFICATION_CHANNEL:
            self.n_lost += (message.sequence - self._next_sequence) % 2**32
            self._next_sequence = (message.sequence + 1) % 2**32
            self.notifications.append((message.time_ns, message.data))

    def _take_metadata(self, metadata: Metadata) -> None:
        """Use the second copy of the description if its checksum holds."""
        text = metadata.metadata.get("description", "").encode()
        if f"{zlib.crc32(text):08x}" == metadata.metadata.get("crc32"):
            self._describe(text)

    def _describe(self, text: bytes) -> None:
        """Read the description."""
        try:
            self.description = Description.from_json(text.decode())
        except ValueError as error:
            self.has_unreadable_description = str(error)
