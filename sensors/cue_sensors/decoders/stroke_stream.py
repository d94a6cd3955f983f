"""The open stroke stream, version 1: bytes to packet and back.

The layout is specified on one page in ``sensors/STROKE_STREAM.md``; everything is little-endian
and one notification is one batch of samples.
"""

import math
import struct
from typing import Final

import numpy as np

from cue_sensors.decoders.packet import STANDARD_GRAVITY_M_S2, Commands, Decoder, Packet
from cue_sensors.errors import DecodeError
from cue_sensors.samples import SensorInfo

KIND: Final = "stroke_stream"
VERSION: Final = 1
SERVICE_UUID: Final = "5709d59e-c04f-4fe8-a8cd-46e0ec1e0a9f"
DATA_UUID: Final = "570ad59e-c04f-4fe8-a8cd-46e0ec1e0a9f"
INFO_UUID: Final = "570bd59e-c04f-4fe8-a8cd-46e0ec1e0a9f"
CONTROL_UUID: Final = "570cd59e-c04f-4fe8-a8cd-46e0ec1e0a9f"

USUAL_RATE_HZ: Final = 208.0
USUAL_RANGE_G: Final = 16.0
"""Asked for beside what is wanted where the sensor does not say what it is set to."""

MAX_NOTIFICATION_BYTES: Final = 244
"""Most that fits a notification when both sides agree on the usual 247-byte MTU."""

HAS_ACCEL: Final = 0x01
HAS_GYRO: Final = 0x02
HAS_HIGH_G: Final = 0x04
IS_SATURATED: Final = 0x08
HAS_LOST_BEFORE: Final = 0x10
IS_REPLAYED: Final = 0x20

_HEADER = struct.Struct("<BBHIHBB")
_INFO = struct.Struct("<BBHHIffH")
_COUNTS = np.dtype("<i2")


def samples_per_notification(n_axes: int, *, payload_bytes: int = MAX_NOTIFICATION_BYTES) -> int:
    """Return how many samples of 3 or 6 axes fit one notification of that many bytes."""
    return (payload_bytes - _HEADER.size) // (2 * n_axes)


def decode(notification: bytes) -> Packet:
    """Return the packet in a notification.

    Parameters
    ----------
    notification : bytes
        One whole notification of the data characteristic.

    Returns
    -------
    Packet
        Its counts, its clock and its sequence number.

    Raises
    ------
    DecodeError
        If it does not follow the layout.
    """
    if len(notification) < _HEADER.size:
        raise DecodeError(
            f"A notification of {len(notification)} bytes is shorter than the header of "
            f"{_HEADER.size} bytes."
        )
    version, flags, sequence, time_us, period_us, n, size = _HEADER.unpack_from(notification)
    if version != VERSION:
        raise DecodeError(f"The stream has version {version}; this decoder reads {VERSION}.")
    n_axes = _n_axes(flags)
    _check_lengths(len(notification), n, size, n_axes, period_us)
    words = np.frombuffer(notification, _COUNTS, count=n * size // 2, offset=_HEADER.size)
    return Packet(
        counts=words.reshape(n, size // 2)[:, :n_axes].astype(np.int16),
        period_us=float(period_us),
        sequence=sequence,
        device_time_us=time_us,
        is_saturated=bool(flags & IS_SATURATED),
        has_lost_before=bool(flags & HAS_LOST_BEFORE),
        is_replayed=bool(flags & IS_REPLAYED),
    )


def encode(packet: Packet) -> bytes:
    """Return the notification that carries a packet.

    Parameters
    ----------
    packet : Packet
        1 to 255 samples with sequence and device time.

    Returns
    -------
    bytes
        The notification; counters are taken modulo their span.

    Raises
    ------
    ValueError
        If the packet has no clock or sequence, or does not fit the layout.
    """
    n, n_axes = packet.counts.shape
    period_us = round(packet.period_us)
    if packet.sequence is None or packet.device_time_us is None:
        raise ValueError("the stroke stream needs a sequence number and a device time")
    if n_axes not in (3, 6) or not 1 <= n <= 255 or not 1 <= period_us <= 0xFFFF:
        raise ValueError(f"{n} samples of {n_axes} axes at {period_us} us do not fit the layout")
    flags = HAS_ACCEL | (HAS_GYRO if n_axes == 6 else 0)
    flags |= IS_SATURATED if packet.is_saturated else 0
    flags |= HAS_LOST_BEFORE if packet.has_lost_before else 0
    flags |= IS_REPLAYED if packet.is_replayed else 0
    header = _HEADER.pack(
        VERSION,
        flags,
        packet.sequence % 0x1_0000,
        packet.device_time_us % 0x1_0000_0000,
        period_us,
        n,
        2 * n_axes,
    )
    return header + packet.counts.astype(_COUNTS).tobytes()


def decode_info(value: bytes, *, name: str = "") -> SensorInfo:
    """Return what the info characteristic says about the sensor.

    Parameters
    ----------
    value : bytes
        Value of the info characteristic, at least 20 bytes.
    name : str
        Name the sensor advertises.

    Returns
    -------
    SensorInfo
        Ranges, scales and rate in SI units.

    Raises
    ------
    DecodeError
        If it is too short, of another version, or has no usable accelerometer scale.
    """
    if len(value) < _INFO.size:
        raise DecodeError(
            f"The sensor's description has {len(value)} bytes instead of {_INFO.size}."
        )
    version, channels, range_g, range_deg_s, rate_mhz, g, deg_s, _ = _INFO.unpack_from(value)
    if version != VERSION:
        raise DecodeError(f"The description has version {version}; this decoder reads {VERSION}.")
    if not (math.isfinite(g) and g > 0 and math.isfinite(deg_s) and rate_mhz > 0):
        raise DecodeError(f"The sensor states {g} g a count at {rate_mhz / 1000} Hz.")
    has_gyro = bool(channels & HAS_GYRO) and deg_s > 0
    return SensorInfo(
        kind=KIND,
        name=name,
        accel_range_m_s2=range_g * STANDARD_GRAVITY_M_S2,
        gyro_range_rad_s=math.radians(range_deg_s) if has_gyro else None,
        nominal_rate_hz=rate_mhz / 1000,
        accel_m_s2_per_count=g * STANDARD_GRAVITY_M_S2,
        gyro_rad_s_per_count=math.radians(deg_s) if has_gyro else None,
    )


def encode_info(sensor: SensorInfo, *, model: int = 0) -> bytes:
    """Return the value of the info characteristic for a sensor, the inverse of decode_info."""
    accel_range = sensor.accel_range_m_s2 or 16 * STANDARD_GRAVITY_M_S2
    gyro_range = sensor.gyro_range_rad_s or 0.0
    accel_step = sensor.accel_m_s2_per_count or accel_range / 32768
    gyro_step = sensor.gyro_rad_s_per_count or gyro_range / 32768
    return _INFO.pack(
        VERSION,
        HAS_ACCEL | (HAS_GYRO if gyro_step else 0),
        round(accel_range / STANDARD_GRAVITY_M_S2),
        round(math.degrees(gyro_range)),
        round(1000 * (sensor.nominal_rate_hz or 200.0)),
        accel_step / STANDARD_GRAVITY_M_S2,
        math.degrees(gyro_step),
        model,
    )


def start_commands(
    rate_hz: float | None, accel_range_g: float | None, sensor: SensorInfo
) -> Commands:
    """Return what to write so that the sensor sends, at that rate and range if they are wanted.

    Parameters
    ----------
    rate_hz, accel_range_g : float or None
        What is wanted; None keeps what the sensor is set to.
    sensor : SensorInfo
        What it is set to.

    Returns
    -------
    Commands
        Settings for each channel it has, and the start.
    """
    go = ((CONTROL_UUID, bytes([1])),)
    if rate_hz is None and accel_range_g is None:
        return Commands(go=go)
    rate = round(rate_hz or sensor.nominal_rate_hz or USUAL_RATE_HZ)
    stated_g = (sensor.accel_range_m_s2 or 0.0) / STANDARD_GRAVITY_M_S2
    channels = [(0, round(accel_range_g or stated_g or USUAL_RANGE_G))]
    if sensor.gyro_range_rad_s:
        channels.append((1, round(math.degrees(sensor.gyro_range_rad_s))))
    sets = tuple(
        (CONTROL_UUID, struct.pack("<BBHH", 2, channel, rate, full)) for channel, full in channels
    )
    return Commands(settings=sets, go=go)


def _n_axes(flags: int) -> int:
    """Return how many axes the flags promise."""
    if not flags & HAS_ACCEL:
        raise DecodeError("The stream has no accelerometer (flag bit 0 is not set).")
    return 6 if flags & HAS_GYRO else 3


def _check_lengths(n_bytes: int, n: int, size: int, n_axes: int, period_us: int) -> None:
    """Refuse a header whose numbers contradict one another or the length."""
    if n == 0 or period_us == 0:
        raise DecodeError(f"The header states {n} samples {period_us} microseconds apart.")
    if size < 2 * n_axes or size % 2:
        raise DecodeError(f"{size} bytes a sample cannot hold {n_axes} axes of 2 bytes.")
    expected = _HEADER.size + n * size
    if n_bytes != expected:
        raise DecodeError(
            f"The notification has {n_bytes} bytes; {n} samples of {size} bytes need {expected}."
        )


DECODER: Final = Decoder(
    kind=KIND,
    decode=decode,
    encode=encode,
    sequence_span=0x1_0000,
    clock_span_us=0x1_0000_0000,
    sensor=SensorInfo(
        kind=KIND,
        accel_range_m_s2=16 * STANDARD_GRAVITY_M_S2,
        gyro_range_rad_s=math.radians(2000),
    ),
    service_uuid=SERVICE_UUID,
    notify_uuid=DATA_UUID,
    start=start_commands,
    has_ranges=True,
    info_uuid=INFO_UUID,
    read_info=decode_info,
    source="sensors/STROKE_STREAM.md, our own layout; no hardware speaks it yet",
)
