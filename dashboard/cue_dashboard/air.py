"""Sensors in the air: who is near, which one was used last, and the connection to one."""

import contextlib
import json
import threading
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cue_practice.folder import data_folder
from cue_practice.whole_file import whole_file
from cue_sensors.errors import SensorError

if TYPE_CHECKING:
    from cue_sensors.ble import FoundSensor

SCAN_S = 5.0
"""How long to listen for sensors; most advertise several times a second."""
LAST_NAME = "last-sensor.json"
IN_USE_NAME = "sensor-in-use.json"
IN_USE_LASTS_S = 12 * 3600
"""A note that is older is of another day's practice."""


@dataclass(frozen=True)
class SensorChoice:
    """A sensor to connect to.

    Parameters
    ----------
    kind : str
        Its protocol.
    name, address : str
        As it advertises.
    rate_hz : float or None
        Rate to ask for, None for the sensor's own.
    """

    kind: str
    name: str
    address: str
    rate_hz: float | None = None

    @property
    def label(self) -> str:
        """Return what people call it: its name, or its address where it has none."""
        return self.name or self.address


SensorSource = Callable[[SensorChoice], Any]
"""Makes a source of notifications from a sensor."""


def last_sensor(folder: Path | None = None) -> SensorChoice | None:
    """Return the sensor that was connected last, None if there is none or the note is damaged.

    Parameters
    ----------
    folder : Path, optional
        The player's data folder if not given.
    """
    path = (folder or data_folder()) / LAST_NAME
    try:
        return SensorChoice(**json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def remember_sensor(choice: SensorChoice, folder: Path | None = None) -> None:
    """Keep which sensor was connected, to offer it first the next time.

    Raises
    ------
    PracticeError
        If the note cannot be written.
    """
    folder = folder or data_folder()
    folder.mkdir(parents=True, exist_ok=True)
    with whole_file(folder / LAST_NAME, "note of the sensor used last") as stream:
        json.dump(asdict(choice), stream)


def note_in_use(choice: SensorChoice | None, folder: Path | None = None) -> None:
    """Note which sensor is connected, so that a program started anew connects to it again.

    Parameters
    ----------
    choice : SensorChoice or None
        None once the player has let go of it.
    folder : Path, optional
        The player's data folder if not given.

    Raises
    ------
    PracticeError
        If the note cannot be written.
    """
    path = (folder or data_folder()) / IN_USE_NAME
    if choice is None:
        with contextlib.suppress(OSError):
            path.unlink(missing_ok=True)
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path, "note of the sensor in use") as stream:
        json.dump(asdict(choice), stream)


def sensor_in_use(folder: Path | None = None) -> SensorChoice | None:
    """Return the sensor that was connected when the program ended, None if there was none.

    Parameters
    ----------
    folder : Path, optional
        The player's data folder if not given.
    """
    path = (folder or data_folder()) / IN_USE_NAME
    try:
        if time.time() - path.stat().st_mtime > IN_USE_LASTS_S:
            return None
        return SensorChoice(**json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None


@dataclass(frozen=True)
class Heard:
    """How looking for sensors stands.

    Parameters
    ----------
    is_listening : bool
        Whether it goes on.
    n_scans : int
        Scans that were begun; 0 before the first.
    found : tuple of FoundSensor
        Of the last scan that ended, the strongest first.
    fault : str
        Why the last one failed, empty if it did not.
    """

    is_listening: bool = False
    n_scans: int = 0
    found: tuple["FoundSensor", ...] = field(default=())
    fault: str = ""


class Air:
    """Looks for sensors in a thread of its own, one look at a time.

    Parameters
    ----------
    scan : callable, optional
        ``scan(seconds)`` returns what was heard; Bluetooth's if not given.
    """

    def __init__(self, scan: Callable[[float], "list[FoundSensor]"] | None = None) -> None:
        self._scan = scan or _bluetooth_scan
        self._lock = threading.Lock()
        self._heard = Heard()

    def heard(self) -> Heard:
        """Return how looking stands."""
        return self._heard

    def listen(self) -> None:
        """Begin to look for `SCAN_S`, unless that goes on already."""
        with self._lock:
            before = self._heard
            if before.is_listening:
                return
            self._heard = Heard(True, before.n_scans + 1, before.found)
        threading.Thread(target=self._listen, args=(SCAN_S,), name="scan", daemon=True).start()

    def _listen(self, seconds: float) -> None:
        """Look once; the thread's own function."""
        found, fault = self._heard.found, ""
        try:
            found = tuple(self._scan(seconds))
        except SensorError as error:
            fault = str(error)
        except Exception as error:  # the system's Bluetooth may fail in any way; it must be said
            fault = f"Looking for sensors failed ({error!r}). Switch Bluetooth off and on."
        with self._lock:
            self._heard = Heard(False, self._heard.n_scans, found, fault)


def bluetooth_source(choice: SensorChoice) -> Any:
    """Return a Bluetooth sensor that is found, kept and found again until it is closed."""
    from cue_sensors.ble import BleSensor  # heavy, and not needed without a sensor

    wanted = choice.address or choice.name
    return BleSensor(wanted, kind=choice.kind, rate_hz=choice.rate_hz)


def _bluetooth_scan(seconds: float) -> "list[FoundSensor]":
    """Return what Bluetooth hears."""
    from cue_sensors.ble import scan  # heavy, and not needed without a sensor

    return scan(seconds=seconds)
