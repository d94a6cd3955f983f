"""What the pages of one dashboard share: the log, the recordings to rehearse, the live session.

What was played and tapped is in the log alone. The desk only holds what ends with the program: the
source that strokes come from just now.
"""

import json
import logging
import secrets
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import flask
from filelock import FileLock, Timeout

from cue_dashboard.air import (
    Air,
    SensorChoice,
    SensorSource,
    bluetooth_source,
    note_in_use,
    remember_sensor,
    sensor_in_use,
)
from cue_dashboard.errors import DashboardError
from cue_dashboard.looking import refuse_lookers
from cue_practice.errors import PracticeError
from cue_practice.folder import data_folder
from cue_practice.log import PracticeLog
from cue_practice.views import Series
from cue_recordings import data_folder as recordings_folder
from cue_sensors.errors import SensorError

if TYPE_CHECKING:
    from cue_practice.live import LiveSession, LiveStatus
    from cue_sensors.samples import Samples

LiveSource = Callable[[Path, float], Any]
"""Makes a source of notifications from a recording and a speed."""

_CONFIG_KEY = "STUNPACE_DESK"
LOCK_NAME = "sensor-in-use.lock"

_logger = logging.getLogger(__name__)


@dataclass(frozen=True)
class Rehearsable:
    """A shipped recording that can be played into a series.

    Parameters
    ----------
    path : Path
        The file.
    label : str
        What it is, for people.
    setup_name : str
        The set-up it was recorded on, empty where that is not known.
    """

    path: Path
    label: str
    setup_name: str = ""


def shipped_recordings(folder: Path | None = None) -> tuple[Rehearsable, ...]:
    """Return the shipped recordings in the order of their evening.

    Parameters
    ----------
    folder : Path, optional
        Where `evening.json` lies; the shipped folder if not given.
    """
    folder = folder or recordings_folder()
    evening = folder / "evening.json"
    if not evening.is_file():
        return ()
    return tuple(_rehearsables(folder, json.loads(evening.read_text(encoding="utf-8"))))


def _rehearsables(folder: Path, evening: dict[str, Any]) -> Iterator[Rehearsable]:
    """Yield one entry a series that has its recording."""
    for series in evening.get("series", ()):
        path = folder / str(series.get("recording", ""))
        if not path.is_file():
            continue
        tip_mm = 1e3 * float(series["tip_below_centre_m"])
        label = f"{series['setup']}, {tip_mm:.1f} mm below centre ({series['player']})"
        yield Rehearsable(path, label, str(series["setup"]))


class Desk:
    """The log of this dashboard, the sensors in the air, and its one live session.

    Parameters
    ----------
    log : PracticeLog
        Open for as long as the dashboard runs.
    live_source : callable, optional
        Makes a source from a recording and a speed; the rehearsal sensor if not given.
    recordings : tuple of Rehearsable, optional
        What can be rehearsed; the shipped recordings if not given.
    sensor_source : callable, optional
        Makes a source from a sensor that was chosen; Bluetooth's if not given.
    air : Air, optional
        Looks for sensors; by Bluetooth if not given.
    """

    def __init__(
        self,
        log: PracticeLog,
        *,
        live_source: LiveSource | None = None,
        recordings: tuple[Rehearsable, ...] | None = None,
        sensor_source: SensorSource | None = None,
        air: Air | None = None,
    ) -> None:
        self.log = log
        self.recordings = shipped_recordings() if recordings is None else recordings
        self.air = air or Air()
        self._live_source = live_source or _rehearsal
        self._sensor_source = sensor_source or bluetooth_source
        self._session: LiveSession | None = None
        self._cue_id: int | None = None
        self._sensor: SensorChoice | None = None
        self.run = secrets.token_hex(8)
        """Another one after every start of the program, by which pages know that there was one."""
        self._n_sessions = 0
        self._n_moves = 0
        self._lock = threading.RLock()
        self._alone = FileLock(data_folder() / LOCK_NAME, timeout=0, thread_local=False)

    @property
    def sensor(self) -> SensorChoice | None:
        """The sensor that is connected, or being looked for."""
        return self._sensor

    @property
    def n_moves(self) -> int:
        """Goes up whenever something happened that a page should see at once."""
        return self._n_moves

    def moved(self) -> None:
        """Let the pages look again at once."""
        self._n_moves += 1

    def open_series(self) -> Series | None:
        """Return the newest series that was not ended, None if there is none."""
        return next(iter(self.log.all_series(is_open=True, newest=1)), None)

    def rehearse(self, series_id: int, path: Path, speed: float) -> None:
        """Play a recording into a series, in place of what was playing.

        Parameters
        ----------
        series_id : int
            Series that its strokes belong to.
        path : Path
            One of `recordings`.
        speed : float
            1 is as it was played.
        """
        refuse_lookers()
        if path not in {one.path for one in self.recordings}:
            raise ValueError(f"{path.name!r} is none of the shipped recordings")
        note_in_use(None)
        with self._lock:
            self._stop()
            self._start(self._live_source(path, speed), series_id)

    def connect(self, choice: SensorChoice) -> None:
        """Connect to a sensor, in place of what was playing, and stay with it.

        Its strokes go to the series that is open; one that is started later is followed.

        Parameters
        ----------
        choice : SensorChoice
            Which.
        """
        refuse_lookers()
        series = self.open_series()
        with self._lock:
            self._stop()
            self._sensor = choice
            self._cue_id = series.cue_id if series else self._last_cue_id()
            self._start(self._sensor_source(choice), series.series_id if series else None)
        remember_sensor(choice)
        note_in_use(choice)

    def reconnect(self) -> None:
        """Connect to the sensor that was connected when the program ended, if there was one.

        Another program that runs on the same folder may hold that sensor: then nothing is done,
        for two that listen to one sensor would enter each stroke twice.
        """
        try:
            self._alone.acquire()
        except (Timeout, OSError):
            return
        choice = sensor_in_use()
        if choice is None:
            return
        try:
            self.connect(choice)
        except (SensorError, PracticeError) as fault:
            _logger.warning("the sensor is not connected again: %s", fault)

    def follow_open_series(self) -> None:
        """Let the live session's strokes go to the series that is open now.

        A sensor stays connected, also without a series; a recording that is rehearsed ends with
        its series. A sensor that sits on another cue is connected anew, for it sits another way.
        """
        refuse_lookers()
        series = self.open_series()
        with self._lock:
            self.moved()
            if self._session is None:
                return
            if self._sensor is None:
                self._stop()
            elif series is not None and series.cue_id != self._cue_id:
                self.connect(self._sensor)
            else:
                self._session.follow(series.series_id if series else None)

    def let_go(self) -> None:
        """Stop the live session because the player wants so: no sensor is connected again."""
        refuse_lookers()
        note_in_use(None)
        with self._lock:
            self._stop()
            self.moved()

    def stop(self) -> None:
        """Stop the live session because the program ends; its strokes stay in the log."""
        with self._lock:
            self._stop()
            self._alone.release(force=True)
            self.moved()

    def status(self) -> "LiveStatus | None":
        """Return what the live session is doing, None if there is none."""
        session = self._session
        return None if session is None else session.status()

    @property
    def n_sessions(self) -> int:
        """Live sessions so far: another number means another time axis."""
        return self._n_sessions

    def listen(self, take: "Callable[[Samples], None]") -> "Callable[[], None]":
        """Hand the live session's samples to a function, until what is returned is called.

        Raises
        ------
        DashboardError
            If nothing is connected.
        """
        refuse_lookers()
        session = self._session
        if session is None:
            raise DashboardError("No sensor is connected. Connect one at the table first.")
        return session.add_sample_listener(take)

    def _start(self, source: Any, series_id: int | None) -> None:
        """Begin to listen to a source; the lock is held."""
        from cue_practice.live import LiveSession  # heavy, and not needed to read the log

        self._session = LiveSession(self.log, source, series_id=series_id, cue_id=self._cue_id)
        self._n_sessions += 1  # after it: who reads the number and then the status has its own
        self._session.start()
        self.moved()

    def _last_cue_id(self) -> int | None:
        """Return the cue that was played last, None if none was."""
        return next((one.cue_id for one in self.log.all_series(newest=1)), None)

    def _stop(self) -> None:
        """Stop the session; the lock is held."""
        self._sensor = self._cue_id = None
        if self._session is not None:
            self._session.stop()


def put_desk(server: flask.Flask, desk: Desk) -> None:
    """Give the pages served by this server their desk."""
    server.config[_CONFIG_KEY] = desk


def desk_of(server: flask.Flask) -> Desk:
    """Return the desk of a server that `put_desk` was called for."""
    found = server.config[_CONFIG_KEY]
    if not isinstance(found, Desk):
        raise TypeError("the dashboard was made without create_app")
    return found


def desk() -> Desk:
    """Return the desk of the dashboard that is answering just now."""
    return desk_of(flask.current_app)


def _rehearsal(path: Path, speed: float) -> Any:
    """Return a rehearsal sensor for a recording."""
    from cue_sensors.rehearsal import RehearsalSensor

    return RehearsalSensor(path, speed=speed)
