"""What the pages of one dashboard share: the log, the recordings to rehearse, the live session.

What was played and tapped is in the log alone. The desk only holds what ends with the program: the
source that strokes come from just now.
"""

import json
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import flask

from cue_practice.log import PracticeLog
from cue_practice.views import Series
from cue_recordings import data_folder

if TYPE_CHECKING:
    from cue_practice.live import LiveSession, LiveStatus

LiveSource = Callable[[Path, float], Any]
"""Makes a source of notifications from a recording and a speed."""

_CONFIG_KEY = "STUNPACE_DESK"


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
    folder = folder or data_folder()
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
    """The log of this dashboard and its one live session.

    Parameters
    ----------
    log : PracticeLog
        Open for as long as the dashboard runs.
    live_source : callable, optional
        Makes a source from a recording and a speed; the rehearsal sensor if not given.
    recordings : tuple of Rehearsable, optional
        What can be rehearsed; the shipped recordings if not given.
    """

    def __init__(
        self,
        log: PracticeLog,
        *,
        live_source: LiveSource | None = None,
        recordings: tuple[Rehearsable, ...] | None = None,
    ) -> None:
        self.log = log
        self.recordings = shipped_recordings() if recordings is None else recordings
        self._live_source = live_source or _rehearsal
        self._session: LiveSession | None = None
        self._series_id: int | None = None
        self._lock = threading.Lock()

    def open_series(self) -> Series | None:
        """Return the newest series that was not ended, None if there is none."""
        return next((one for one in self.log.all_series() if one.ended_utc is None), None)

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
        from cue_practice.live import LiveSession  # heavy, and not needed to read the log

        if path not in {one.path for one in self.recordings}:
            raise ValueError(f"{path.name!r} is none of the shipped recordings")
        with self._lock:
            self._stop()
            source = self._live_source(path, speed)
            self._session = LiveSession(self.log, source, series_id=series_id)
            self._series_id = series_id
            self._session.start()

    def stop(self) -> None:
        """Stop the live session if there is one; its strokes stay in the log."""
        with self._lock:
            self._stop()

    def status(self, series_id: int | None) -> "LiveStatus | None":
        """Return what the live session of a series is doing, None if it has none."""
        session = self._session
        if session is None or series_id is None or series_id != self._series_id:
            return None
        return session.status()

    def _stop(self) -> None:
        """Stop the session; the lock is held."""
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
