"""WT901BLE-type tags: 20-byte packets of acceleration, angular rate and angles.

From public documents, not tried on hardware: the maker's manual of the WT901BLECL (chapter 6.1,
packet and scales) and its protocol page (register writes). The tag sends neither a clock nor a
counter, so lost packets show only as pauses, and sample times rest on the rate it was set to.
A packet's scales are fixed at 16 g and 2000 degrees a second, so there is no range to choose.
"""

import math
import struct
from typing import Final

import numpy as np

from cue_sensors.decoders.packet import STANDARD_GRAVITY_M_S2, Commands, Decoder, Packet
from cue_sensors.errors import DecodeError
from cue_sensors.samples import SensorInfo

KIND: Final = "wt901"
SERVICE_UUID: Final = "0000ffe5-0000-1000-8000-00805f9a34fb"
NOTIFY_UUID: Final = "0000ffe4-0000-1000-8000-00805f9a34fb"
WRITE_UUID: Final = "0000ffe9-0000-1000-8000-00805f9a34fb"
PACKET_BYTES: Final = 20
HEAD: Final = b"\x55\x61"

RATE_CODES: Final = {10.0: 0x06, 20.0: 0x07, 50.0: 0x08, 100.0: 0x09, 200.0: 0x0B}
"""Value of the rate register; whether a unit reaches 200 Hz by radio is not known."""
USUAL_RATE_HZ: Final = 100.0
UNLOCK: Final = bytes.fromhex("ffaa6988b5")
SAVE: Final = bytes.fromhex("ffaa000000")


def decode(notification: bytes) -> Packet:
    """Return the packet in a notification, which may hold several samples.

    Parameters
    ----------
    notification : bytes
        One whole notification.

    Returns
    -------
    Packet
        Six axes; period 0, for the tag does not send it.

    Raises
    ------
    DecodeError
        If it does not follow the layout, or is one of the tag's other packets.
    """
    n, rest = divmod(len(notification), PACKET_BYTES)
    if n == 0 or rest:
        raise DecodeError(
            f"A notification of {len(notification)} bytes is no multiple of {PACKET_BYTES}."
        )
    table = np.frombuffer(notification, np.uint8).reshape(n, PACKET_BYTES)
    if bytes(table[:, :2].tobytes()) != HEAD * n:
        raise DecodeError(f"A packet begins with {notification[:2].hex()} instead of 5561.")
    words = np.ascontiguousarray(table[:, 2:14]).view("<i2")
    return Packet(counts=words.astype(np.int16), period_us=0.0)


def encode(packet: Packet) -> bytes:
    """Return the notification for a packet of six axes; the angles are sent as 0."""
    n, n_axes = packet.counts.shape
    if n == 0 or n_axes != 6:
        raise ValueError(f"the tag sends six axes, not {n} samples of {n_axes}")
    return b"".join(HEAD + struct.pack("<6h", *row) + bytes(6) for row in packet.counts.tolist())


def start_commands(rate_hz: float | None, _range_g: float | None, _sensor: SensorInfo) -> Commands:
    """Return what to write to set the rate; the tag sends once somebody listens."""
    rate = DECODER.granted_rate_hz(rate_hz) or USUAL_RATE_HZ
    set_rate = bytes([0xFF, 0xAA, 0x03, RATE_CODES[rate], 0x00])
    return Commands(settings=((WRITE_UUID, UNLOCK), (WRITE_UUID, set_rate), (WRITE_UUID, SAVE)))


DECODER: Final = Decoder(
    kind=KIND,
    decode=decode,
    encode=encode,
    sequence_span=None,
    clock_span_us=None,
    sensor=SensorInfo(
        kind=KIND,
        accel_range_m_s2=16 * STANDARD_GRAVITY_M_S2,
        gyro_range_rad_s=math.radians(2000),
        nominal_rate_hz=USUAL_RATE_HZ,
    ),
    service_uuid=SERVICE_UUID,
    notify_uuid=NOTIFY_UUID,
    start=start_commands,
    rates_hz=tuple(RATE_CODES),
    name_hints=("wt901",),
    source="maker's manual of the WT901BLECL, chapter 6.1; not tried on hardware",
)
