"""Views of how a sensor reads and how it sat on a cue."""

from dataclasses import dataclass
from datetime import datetime

from cue_sensors.samples import Calibration, Mounting


@dataclass(frozen=True)
class CalibrationEntry:
    """A calibration of a sensor.

    Parameters
    ----------
    calibration_id : int
        Number in the log.
    sensor_kind, sensor_name : str
        Which sensor: its protocol's key, and what it calls itself.
    calibration : Calibration
        The correction itself.
    made_utc : datetime
        When it was measured.
    temperature_c : float or None
        The sensor's temperature at that time, in degrees Celsius.
    method : str
        How, for example ``"six rests"``.
    is_discarded : bool
        Left out, can be brought back.
    """

    calibration_id: int
    sensor_kind: str
    sensor_name: str
    calibration: Calibration
    made_utc: datetime
    temperature_c: float | None = None
    method: str = ""
    is_discarded: bool = False


@dataclass(frozen=True)
class MountingEntry:
    """How a sensor sat on a cue.

    Parameters
    ----------
    mounting_id, cue_id : int
        Numbers in the log.
    sensor_kind, sensor_name : str
        Which sensor: its protocol's key, and what it calls itself.
    mounting : Mounting
        Its direction and place on the cue.
    made_utc : datetime
        When it was measured.
    method : str
        How, for example ``"rolled on the cloth"``.
    is_discarded : bool
        Left out, can be brought back.
    """

    mounting_id: int
    cue_id: int
    sensor_kind: str
    sensor_name: str
    mounting: Mounting
    made_utc: datetime
    method: str = ""
    is_discarded: bool = False
