"""What a live session leaves behind: its raw recording, and its strokes' entries in the log."""

import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from cue_practice.live_status import LiveSource
from cue_practice.log import PracticeLog
from cue_practice.views import Shot
from cue_sensors.recorder import Recorder
from cue_sensors.samples import Calibration, Mounting
from cue_sensors.space import free_space_problem
from cue_signal.stroke import Stroke

LOOK_EVERY_S: Final = 60.0
"""The room on the disk is looked at so often."""


@dataclass(frozen=True)
class KnownSensor:
    """What is known of how a sensor sits and reads.

    Parameters
    ----------
    mounting : Mounting
        How it sits on the cue.
    calibration : Calibration or None
        Its correction.
    """

    mounting: Mounting
    calibration: Calibration | None


class SessionRecord:
    """The recording of one session, on disk and in the log.

    Parameters
    ----------
    log : PracticeLog or None
        Where strokes go; None keeps the recording alone.
    folder : Path
        Where the recording goes, named for its start.
    path : Path or None
        Where it goes instead, if not None.

    Attributes
    ----------
    space_problem : str
        What is wrong with the room on the disk, empty if nothing is; looked at every minute.
    """

    def __init__(self, log: PracticeLog | None, folder: Path, path: Path | None = None) -> None:
        self._log, self._folder = log, folder if path is None else path.parent
        self._recorder: Recorder | None = None
        self._source: LiveSource | None = None
        self._wanted = path
        self._start_utc: datetime | None = None
        self._entered: dict[Path, int] = {}
        self.space_problem = ""
        self._looked_s = 0.0

    @property
    def path(self) -> Path | None:
        """Return the file being written, None if there is none."""
        parts = self._recorder.paths if self._recorder else []
        return parts[-1] if parts else None

    @property
    def problem(self) -> str:
        """Return what is wrong with the recording, empty if nothing is."""
        return self._recorder.problem if self._recorder else ""

    def open(
        self,
        source: LiveSource,
        start_utc: datetime,
        *,
        series_id: int | None,
        cue_id: int | None,
    ) -> KnownSensor:
        """Begin the recording and enter it into the log; without a disk the session goes on.

        Parameters
        ----------
        source : LiveSource
            The sensor, found by now.
        start_utc : datetime
            Second 0 of its arrivals.
        series_id, cue_id : int or None
            What it is recorded for, as far as that is known.

        Returns
        -------
        KnownSensor
            The source's own mounting and calibration, or what the log has where it has none.

        Raises
        ------
        PracticeError
            If the log cannot be written to.
        """
        labels = {"series_id": series_id, "cue_id": cue_id}
        if self._wanted is None:
            named = f" series {series_id}" if series_id is not None else ""
            self._wanted = self._folder / f"{start_utc:%Y-%m-%dT%H-%M-%S-%f}Z{named}.mcap"
        self._source, self._start_utc = source, start_utc
        self._look_for_room()
        known = self._known(source, series_id, cue_id)
        self._recorder = Recorder(
            self._wanted,
            sensor=source.sensor,
            mounting=known.mounting,
            calibration=known.calibration,
            labels={name: str(value) for name, value in labels.items() if value is not None},
            start_utc=start_utc,
        )
        if self._log is not None:
            self._recording_id(self._log)
        return known

    def write(self, notification: bytes, arrival_utc_ns: int) -> None:
        """Record a notification, now or as soon as the disk takes it."""
        if self._recorder is not None:
            self._recorder.write(notification, arrival_utc_ns)
        if time.monotonic() - self._looked_s >= LOOK_EVERY_S:
            self._look_for_room()

    def enter(self, series_id: int, strokes: Sequence[Stroke]) -> list[Shot]:
        """Enter strokes into a series; PracticeError if the log does not take them now."""
        if self._log is None:
            raise ValueError("there is no log to enter strokes into")
        return self._log.add_strokes(self._recording_id(self._log), series_id, list(strokes))

    def close(self) -> None:
        """End the recording."""
        if self._recorder is not None:
            self._recorder.close()

    def _look_for_room(self) -> None:
        """Look how much room the disk has."""
        self._looked_s = time.monotonic()
        self.space_problem = free_space_problem(self._folder) or ""

    def _recording_id(self, log: PracticeLog) -> int:
        """Return the log's number of the part being written, entered when first needed."""
        path = self.path or self._wanted
        if path is None or self._source is None:
            raise ValueError("the recording was not opened")
        if path not in self._entered:
            entry = log.add_recording(
                path,
                start_utc=self._start_utc,
                sensor_kind=self._source.sensor.kind,
                sensor_name=self._source.sensor.name,
                is_growing=True,
            )
            self._entered[path] = entry.recording_id
        return self._entered[path]

    def _known(self, source: LiveSource, series_id: int | None, cue_id: int | None) -> KnownSensor:
        """Return mounting and calibration: the source's own, else what the log has of it."""
        if self._log is None:
            return KnownSensor(source.mounting, source.calibration)
        kind, name = source.sensor.kind, source.sensor.name
        mounting, calibration = source.mounting, source.calibration
        if cue_id is None and series_id is not None:
            cue_id = self._log.series(series_id).cue_id
        if mounting.cue_axis is None and cue_id is not None and name:
            measured = self._log.mounting_for(cue_id, kind, name)
            mounting = measured.mounting if measured else mounting
        if calibration is None and name:
            entry = self._log.calibration_for(kind, name)
            calibration = entry.calibration if entry else None
        return KnownSensor(mounting, calibration)
