"""Movesense-type GATT sensor-data stream: eight samples of floats, in one or two notifications.

From public documents, not tried on hardware: the maker's "GATT SensorData protocol" page (packet
types, commands) and its Python client (order of the arrays). From memory: that a second part
repeats type and reference only, and that the units are m/s^2 and degrees a second. The clock
counts milliseconds; there is no packet counter.
"""

import math
import struct
from collections.abc import Callable
from typing import Final

import numpy as np

from cue_sensors.decoders.packet import Commands, Decoder, Packet
from cue_sensors.errors import DecodeError
from cue_sensors.samples import SensorInfo

KIND: Final = "movesense"
SERVICE_UUID: Final = "34802252-7185-4d5d-b431-630e7050e8f0"
WRITE_UUID: Final = "34800001-7185-4d5d-b431-630e7050e8f0"
NOTIFY_UUID: Final = "34800002-7185-4d5d-b431-630e7050e8f0"
REFERENCE: Final = 99
SUBSCRIBE: Final = 1
DATA: Final = 2
DATA_PART_2: Final = 3
RATES_HZ: Final = (13.0, 26.0, 52.0, 104.0, 208.0, 416.0, 833.0)
USUAL_RATE_HZ: Final = 104.0
MAX_NOTIFICATION_BYTES: Final = 155

_HEAD = struct.Struct("<BBI")
_AXES = 6


def decode(message: bytes) -> Packet:
    """Return the packet in a whole message: head, accelerations, then angular rates.

    Parameters
    ----------
    message : bytes
        One notification, or two that ``joiner`` has put together.

    Returns
    -------
    Packet
        Readings in m/s^2 and degrees a second; period 0, for it is not sent.

    Raises
    ------
    DecodeError
        If it does not follow the layout or holds values that are no numbers.
    """
    if len(message) < _HEAD.size or message[0] != DATA:
        raise DecodeError(f"A message of {len(message)} bytes is no sensor data.")
    _, _, time_ms = _HEAD.unpack_from(message)
    n, rest = divmod(len(message) - _HEAD.size, 4 * _AXES)
    if n == 0 or rest:
        raise DecodeError(f"{len(message)} bytes are not {_HEAD.size} and whole samples of 24.")
    values = np.frombuffer(message, "<f4", offset=_HEAD.size).astype(np.float32)
    if not np.all(np.isfinite(values)):
        raise DecodeError("The message holds values that are no numbers.")
    counts = values.reshape(2, n, 3).swapaxes(0, 1).reshape(n, _AXES)
    return Packet(counts=np.ascontiguousarray(counts), period_us=0.0, device_time_us=1000 * time_ms)


def encode(packet: Packet) -> bytes:
    """Return the whole message for a packet of six axes, not yet cut into notifications."""
    n, n_axes = packet.counts.shape
    if n == 0 or n_axes != _AXES or packet.device_time_us is None:
        raise ValueError(f"six axes with a device time are sent, not {n} samples of {n_axes}")
    halves = packet.counts.reshape(n, 2, 3).swapaxes(0, 1).astype("<f4")
    time_ms = round(packet.device_time_us / 1000) % 2**32
    return _HEAD.pack(DATA, REFERENCE, time_ms) + halves.tobytes()


def split(message: bytes) -> tuple[bytes, ...]:
    """Return the notifications that carry a message."""
    if len(message) <= MAX_NOTIFICATION_BYTES:
        return (message,)
    first, rest = message[:MAX_NOTIFICATION_BYTES], message[MAX_NOTIFICATION_BYTES:]
    return first, bytes([DATA_PART_2, message[1]]) + rest


def joiner() -> Callable[[bytes], bytes | None]:
    """Return a function that takes notifications and returns a message once it is whole."""
    waiting: list[bytes] = []

    def join(notification: bytes) -> bytes | None:
        if notification[:1] == bytes([DATA_PART_2]):
            first = waiting.pop() if waiting else b""
            return first + notification[2:]  # without its first part it fails to decode
        waiting.clear()  # a first part whose second never came
        is_part = (len(notification) - _HEAD.size) % (4 * _AXES) != 0
        if is_part and notification[:1] == bytes([DATA]):
            waiting.append(notification)
            return None
        return notification

    return join


def start_commands(rate_hz: float | None, _range_g: float | None, _sensor: SensorInfo) -> Commands:
    """Return what to write to subscribe to six axes; its commands offer no choice of range."""
    rate = round(DECODER.granted_rate_hz(rate_hz) or USUAL_RATE_HZ)
    path = f"/Meas/IMU6/{rate}".encode()
    return Commands(go=((WRITE_UUID, bytes([SUBSCRIBE, REFERENCE]) + path),))


DECODER: Final = Decoder(
    kind=KIND,
    decode=decode,
    encode=encode,
    sequence_span=None,
    clock_span_us=2**32 * 1000,
    sensor=SensorInfo(
        kind=KIND,
        nominal_rate_hz=USUAL_RATE_HZ,
        accel_m_s2_per_count=1.0,
        gyro_rad_s_per_count=math.radians(1),
    ),
    service_uuid=SERVICE_UUID,
    notify_uuid=NOTIFY_UUID,
    start=start_commands,
    rates_hz=RATES_HZ,
    name_hints=("movesense",),
    join=joiner,
    source="maker's GATT SensorData protocol page; not tried on hardware",
)
