"""A sensor made of a recording: the same bytes, or a CSV's samples as stroke-stream bytes."""

import math
import os
import threading
import time
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np

from cue_sensors.decoders import stroke_stream
from cue_sensors.decoders.packet import STANDARD_GRAVITY_M_S2, CountArray, Packet
from cue_sensors.errors import RecordingError
from cue_sensors.load import is_recording, load_recording
from cue_sensors.read import read_notifications
from cue_sensors.samples import Calibration, FloatArray, Mounting, Recording, SensorInfo

BATCH_S: Final = 0.05
"""Samples are sent in batches of this length, as the stroke stream asks of a sensor."""
TRAVEL_S: Final = 0.004
"""A batch arrives this long after its last sample."""
LOOP_PAUSE_S: Final = 1.0
"""Rest between two rounds: a sensor that was switched off and on."""
DEFAULT_ACCEL_RANGE_M_S2: Final = 16 * STANDARD_GRAVITY_M_S2
DEFAULT_GYRO_RANGE_RAD_S: Final = math.radians(2000)
FULL_SCALE: Final = 32768


class RehearsalSensor:
    """Plays a recording as a sensor would send it; iterate it for ``(arrival_s, notification)``.

    Parameters
    ----------
    what : path or Recording
        A recording replays its own bytes with its own arrival pattern; a CSV file or samples are
        sent as stroke stream, in batches of 50 ms, rounded to the counts of their range.
    speed : float
        1 for real time, more for faster, infinity for as fast as possible.
    loop : bool
        Begin again at the end, as a sensor that was switched off and on.

    Attributes
    ----------
    sensor : SensorInfo
        Kind and scales of what is sent.
    mounting : Mounting
        How the sensor sat on the cue.
    calibration : Calibration or None
        To be applied to the samples.
    duration_s : float
        From start to the last notification, at speed 1.

    Raises
    ------
    RecordingError
        If the file cannot be read or has nothing to send.
    ValueError
        If the speed is not above 0.
    """

    def __init__(
        self,
        what: str | os.PathLike[str] | Recording,
        speed: float = 1.0,
        loop: bool = False,
    ) -> None:
        if not speed > 0:
            raise ValueError(f"speed must be above 0, not {speed}")
        self.speed = speed
        self.loop = loop
        self.calibration: Calibration | None = None
        self._stopped = threading.Event()
        if not isinstance(what, Recording) and is_recording(what):
            self._load_bytes(what)
        else:
            self._load_samples(what if isinstance(what, Recording) else load_recording(what))
        if not self._notifications:
            remedy = "Choose another recording."
            raise RecordingError(self.name, "", "It has no notifications to send.", remedy)
        self.duration_s = max(arrival_s for arrival_s, _ in self._notifications)

    @property
    def notifications(self) -> tuple[tuple[float, bytes], ...]:
        """Return arrival in seconds and bytes of everything it sends in one round, at speed 1."""
        return tuple(self._notifications)

    def __iter__(self) -> Iterator[tuple[float, bytes]]:
        """Yield arrival in seconds since the start of the rehearsal, and the notification."""
        begin_s = time.monotonic()
        first_s = 0.0
        while not self._stopped.is_set():
            for arrival_s, notification in self._notifications:
                at_s = first_s + max(arrival_s, 0.0)
                wait_s = begin_s + at_s / self.speed - time.monotonic()
                if self._stopped.is_set() or (wait_s > 0 and self._stopped.wait(wait_s)):
                    return
                yield at_s, notification
            if not self.loop:
                return
            first_s += self.duration_s + LOOP_PAUSE_S

    def close(self) -> None:
        """End the rehearsal at once, from any thread."""
        self._stopped.set()

    def _load_bytes(self, path: str | os.PathLike[str]) -> None:
        """Take the notifications of a recording as they are."""
        raw = read_notifications(path)
        self.name = Path(raw.name).name
        self.sensor: SensorInfo = raw.description.sensor
        self.mounting: Mounting = raw.description.mounting
        self.calibration = raw.description.calibration
        self._notifications = raw.timed()

    def _load_samples(self, recording: Recording) -> None:
        """Encode samples, which are calibrated already, as stroke stream."""
        samples = recording.samples
        self.name = Path(recording.name).name
        self.mounting = recording.mounting
        has_gyro = samples.angular_rate_rad_s is not None
        self.sensor = SensorInfo(
            kind=stroke_stream.KIND,
            name=recording.sensor.name or self.name,
            accel_range_m_s2=_accel_range(recording),
            gyro_range_rad_s=_range(samples.angular_rate_rad_s, DEFAULT_GYRO_RANGE_RAD_S)
            if has_gyro
            else None,
            nominal_rate_hz=samples.rate_hz,
        )
        self._notifications = _encoded(recording, self.sensor)


def _range(values: FloatArray | None, usual: float) -> float:
    """Return the usual range, doubled until the values fit."""
    largest = float(np.max(np.abs(values))) if values is not None and len(values) else 0.0
    return usual * 2.0 ** max(0, math.ceil(math.log2(max(largest, 1e-9) / usual)))


def _accel_range(recording: Recording) -> float:
    """Return the stated range; without one what clipped samples show; without them a usual one."""
    samples = recording.samples
    if recording.sensor.accel_range_m_s2 is not None:
        return recording.sensor.accel_range_m_s2
    if np.any(samples.is_clipped):
        return float(np.max(np.abs(samples.specific_force_m_s2)))
    return _range(samples.specific_force_m_s2, DEFAULT_ACCEL_RANGE_M_S2)


def _counts(recording: Recording, sensor: SensorInfo) -> CountArray:
    """Return samples as counts; clipped ones stand at the end of the range."""
    samples = recording.samples
    columns = [samples.specific_force_m_s2 / ((sensor.accel_range_m_s2 or 1.0) / FULL_SCALE)]
    if samples.angular_rate_rad_s is not None:
        columns.append(samples.angular_rate_rad_s / ((sensor.gyro_range_rad_s or 1.0) / FULL_SCALE))
    counts = np.round(np.hstack(columns))
    accel = counts[:, :3]
    is_end = samples.is_clipped[:, None] & (
        np.abs(accel) == np.max(np.abs(accel), axis=1, keepdims=True)
    )
    accel[is_end] = np.copysign(FULL_SCALE, accel[is_end])
    return np.clip(counts, -FULL_SCALE, FULL_SCALE - 1).astype(np.int16)


def _encoded(recording: Recording, sensor: SensorInfo) -> list[tuple[float, bytes]]:
    """Return arrival times and notifications; a gap in the samples ends a batch."""
    samples = recording.samples
    n_axes = 6 if samples.has_gyroscope else 3
    n_max = stroke_stream.samples_per_notification(n_axes)
    size = max(1, min(n_max, round(BATCH_S * samples.rate_hz)))
    counts = _counts(recording, sensor)
    edges = [0, *samples.gap_indices.tolist(), len(samples)]
    return [
        _batch(samples.time_s[start : min(start + size, stop)], counts[start:], i, samples.rate_hz)
        for i, (start, stop) in enumerate(
            (start, last) for first, last in pairwise(edges) for start in range(first, last, size)
        )
    ]


def _batch(
    time_s: FloatArray, counts: CountArray, sequence: int, rate_hz: float
) -> tuple[float, bytes]:
    """Return arrival and bytes of one batch."""
    packet = Packet(
        counts=counts[: len(time_s)],
        period_us=min(max(1e6 / rate_hz, 1), 0xFFFF),
        sequence=sequence,
        device_time_us=round(float(time_s[0]) * 1e6),
    )
    return float(time_s[-1]) + TRAVEL_S, stroke_stream.encode(packet)
