"""Thingy:52-type motion service: one raw sample of three sensors a notification.

From public documents, not tried on hardware: Nordic's firmware documentation (motion service, raw
data characteristic: accelerometer 6Q10 g, gyroscope 11Q5 degrees a second, magnetometer 12Q4). It
sends neither a clock nor a counter. The format reaches 32 g, the part in it may end at 2 g (the
driver's default, from memory), so ends of the range cannot be marked unless the range is stated.
"""

import math
import struct
from typing import Final

import numpy as np

from cue_sensors.decoders.packet import STANDARD_GRAVITY_M_S2, Commands, Decoder, Packet
from cue_sensors.errors import DecodeError
from cue_sensors.samples import SensorInfo

KIND: Final = "thingy52"
SERVICE_UUID: Final = "ef680400-9b35-4933-9b10-52ffa9740042"
CONFIG_UUID: Final = "ef680401-9b35-4933-9b10-52ffa9740042"
RAW_UUID: Final = "ef680406-9b35-4933-9b10-52ffa9740042"
MAX_RATE_HZ: Final = 200
MIN_RATE_HZ: Final = 5

_SAMPLE = struct.Struct("<9h")
_CONFIG = struct.Struct("<HHHHB")


def decode(notification: bytes) -> Packet:
    """Return the sample in a notification.

    Parameters
    ----------
    notification : bytes
        One whole notification of the raw data characteristic.

    Returns
    -------
    Packet
        One sample of six axes, the magnetometer left out; period 0, for it is not sent.

    Raises
    ------
    DecodeError
        If it has not 18 bytes.
    """
    if len(notification) != _SAMPLE.size:
        raise DecodeError(f"A raw motion sample has {_SAMPLE.size} bytes, not {len(notification)}.")
    counts = np.array([_SAMPLE.unpack(notification)[:6]], dtype=np.int16)
    return Packet(counts=counts, period_us=0.0)


def encode(packet: Packet) -> bytes:
    """Return the notification for a packet of one sample; the magnetometer is sent as 0."""
    if packet.counts.shape != (1, 6):
        raise ValueError(f"one sample of six axes is sent, not {packet.counts.shape}")
    return _SAMPLE.pack(*packet.counts[0].tolist(), 0, 0, 0)


def start_commands(rate_hz: float | None, _range_g: float | None, _sensor: SensorInfo) -> Commands:
    """Return what to write to set the rate; it sends once somebody listens."""
    rate = round(DECODER.granted_rate_hz(rate_hz) or MAX_RATE_HZ)
    # step counter, temperature and magnetometer intervals in ms at their defaults, no wake-up
    return Commands(settings=((CONFIG_UUID, _CONFIG.pack(1000, 1000, 1000, rate, 0)),))


DECODER: Final = Decoder(
    kind=KIND,
    decode=decode,
    encode=encode,
    sequence_span=None,
    clock_span_us=None,
    sensor=SensorInfo(
        kind=KIND,
        nominal_rate_hz=200.0,
        accel_m_s2_per_count=STANDARD_GRAVITY_M_S2 / 1024,
        gyro_rad_s_per_count=math.radians(1 / 32),
    ),
    service_uuid=SERVICE_UUID,
    notify_uuid=RAW_UUID,
    start=start_commands,
    rates_hz=tuple(float(rate) for rate in range(MIN_RATE_HZ, MAX_RATE_HZ + 1)),
    name_hints=("thingy",),
    source="Nordic's firmware documentation, motion service; not tried on hardware",
)
