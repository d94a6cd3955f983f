"""What a live session listens to, and how it says that it stands."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Final, Protocol

import numpy as np

from cue_sensors.samples import Calibration, FloatArray, Mounting, SensorInfo
from cue_signal.stroke import Stroke


class LiveState(StrEnum):
    """What a live session is doing."""

    IDLE = "idle"
    """Not started yet."""
    STARTING = "starting"
    """Started, nothing has come from the sensor yet."""
    RUNNING = "running"
    """Samples are coming in."""
    FINISHED = "finished"
    """The source came to its end."""
    STOPPED = "stopped"
    """Somebody stopped it."""
    FAILED = "failed"
    """The source or the log failed; ``problem`` says how."""


WORDS: Final = {
    LiveState.IDLE: "Not listening yet.",
    LiveState.STARTING: "Waiting for the sensor's first data.",
    LiveState.RUNNING: "Listening: strokes appear as they are played.",
    LiveState.FINISHED: "The recording has come to its end.",
    LiveState.STOPPED: "Stopped.",
    LiveState.FAILED: "Listening ended early.",
}


class LiveSource(Protocol):
    """What a live session listens to: a sensor, or a rehearsal of one.

    Iterating gives ``(arrival_s, notification)`` as they come, arrival in seconds since the start.
    A source that can be interrupted has a ``close()``; one that must first be found has a
    ``connect()`` that returns once ``sensor`` is known; one that can lose its sensor says how it
    stands in ``words`` and ``is_connected``; one that knows has ``battery_percent``,
    ``signal_dbm`` and ``start_utc``, the moment its arrivals are counted from.
    """

    sensor: SensorInfo
    mounting: Mounting
    calibration: Calibration | None

    def __iter__(self) -> Iterator[tuple[float, bytes]]:
        """Yield notifications as they come."""
        ...


@dataclass(frozen=True, eq=False)
class LiveStatus:
    """How a live session stands.

    Parameters
    ----------
    state : LiveState
        What it is doing.
    words : str
        The same in a sentence, with what is wrong if anything is.
    rate_hz : float or None
        Sampling rate, None before the first samples.
    n_samples, n_lost, n_strokes : int
        Samples received, samples lost in gaps, strokes found.
    problem : str
        A sentence on what is wrong, empty if nothing is.
    recording_path : Path or None
        Where the raw notifications are kept, None if they are not.
    trace_time_s, trace_speed_m_s : ndarray, shape (n,)
        Speed along the cue over the last seconds, for drawing.
    n_packets : int
        Notifications received.
    n_entered : int
        Strokes that are in the log; the others came while no series was followed, or wait.
    series_id : int or None
        Series that strokes are entered into just now.
    last_stroke : Stroke or None
        The newest stroke, entered or not.
    first_look : Stroke or None
        A stroke that is not complete yet, as far as it can be told; never entered.
    is_measuring : bool
        Whether a hit may just have been, whose stroke is not complete yet.
    sensor_name : str
        What the sensor calls itself, empty before it is known.
    is_connected : bool
        Whether data can come from the sensor just now.
    battery_percent, signal_dbm : int or None
        As last heard; None where the sensor or the system does not tell.
    """

    state: LiveState
    words: str = ""
    rate_hz: float | None = None
    n_samples: int = 0
    n_lost: int = 0
    n_strokes: int = 0
    problem: str = ""
    recording_path: Path | None = None
    trace_time_s: FloatArray = field(default_factory=lambda: np.empty(0))
    trace_speed_m_s: FloatArray = field(default_factory=lambda: np.empty(0))
    n_packets: int = 0
    n_entered: int = 0
    series_id: int | None = None
    last_stroke: Stroke | None = None
    first_look: Stroke | None = None
    is_measuring: bool = False
    sensor_name: str = ""
    is_connected: bool = False
    battery_percent: int | None = None
    signal_dbm: int | None = None
