"""What one notification holds once it is decoded, and what a protocol must offer.

A decoder is two pure functions and a few facts about its protocol. It knows nothing of arrival
times, scales or lost packets: those are the assembler's.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from cue_sensors.samples import SensorInfo

CountArray = NDArray[np.int16] | NDArray[np.float32]
"""Readings as the sensor sends them: whole counts, or single-precision numbers."""

Command = tuple[str, bytes]
"""What to write to which characteristic."""

STANDARD_GRAVITY_M_S2 = 9.80665
"""Standard gravity, by definition (3rd CGPM, 1901); turns the data sheets' g into m/s^2."""


@dataclass(frozen=True, eq=False)
class Packet:
    """The samples of one notification as the sensor sent them.

    Parameters
    ----------
    counts : ndarray of int16 or float32, shape (n, 3) or (n, 6)
        Raw accelerometer readings, then gyroscope readings where there is one.
    period_us : float
        Nominal time between samples in microseconds; 0 where the protocol does not say.
    sequence : int or None
        Number of the notification, wrapping; None where the protocol has none.
    device_time_us : int or None
        Sensor's clock at the first sample in microseconds, wrapping; None where it has none.
    is_saturated : bool
        The sensor says that some sample stood at the end of its range.
    has_lost_before : bool
        The sensor says that it lost samples of its own before these.
    is_replayed : bool
        The samples repeat a stretch of time in another rate and are no part of the stream.
    """

    counts: CountArray
    period_us: float
    sequence: int | None = None
    device_time_us: int | None = None
    is_saturated: bool = False
    has_lost_before: bool = False
    is_replayed: bool = False

    def __len__(self) -> int:
        """Return the number of samples."""
        return len(self.counts)


@dataclass(frozen=True)
class Commands:
    """What to write to a sensor so that it sends as wanted.

    Parameters
    ----------
    settings : tuple of Command
        Before it is listened to: rate and range.
    go : tuple of Command
        Once it is listened to.
    """

    settings: tuple[Command, ...] = ()
    go: tuple[Command, ...] = ()


def _no_commands(_rate_hz: float | None, _range_g: float | None, _sensor: SensorInfo) -> Commands:
    """Return nothing to write: the sensor sends once somebody listens."""
    return Commands()


@dataclass(frozen=True)
class Decoder:
    """One protocol: bytes to packet and back, and what the counters and scales are.

    Parameters
    ----------
    kind : str
        Key in the registry and in recordings.
    decode : callable
        ``decode(notification) -> Packet``; raises DecodeError, never anything else.
    encode : callable
        ``encode(packet) -> bytes``, the inverse.
    sequence_span, clock_span_us : int or None
        Values before the counter or the clock wraps to 0; None where there is none.
    sensor : SensorInfo
        Ranges that hold unless the sensor or the recording says otherwise.
    service_uuid, notify_uuid : str
        Where the notifications come from.
    start : callable
        ``start(rate_hz, accel_range_g, sensor)`` gives the Commands that make it send, at that rate
        and range; None leaves one alone. ``sensor`` is what it says of itself.
    rates_hz : tuple of float
        Rates that it offers; empty: any, and it says itself what it took.
    has_ranges : bool
        Its range can be chosen.
    name_hints : tuple of str
        How its name begins where it advertises no service, in lower case, from memory.
    join : callable or None
        ``join()`` gives a function that puts notifications that hold a part each together: it
        takes one and returns the whole, or None while parts are missing. None: each is whole.
    info_uuid : str
        Characteristic that describes the sensor, empty where there is none.
    read_info : callable or None
        ``read_info(value, name=) -> SensorInfo`` for that characteristic.
    source : str
        The document it was written from, and whether it was tried on hardware.
    """

    kind: str
    decode: Callable[[bytes], Packet]
    encode: Callable[[Packet], bytes]
    sequence_span: int | None
    clock_span_us: int | None
    sensor: SensorInfo = field(default_factory=SensorInfo)
    service_uuid: str = ""
    notify_uuid: str = ""
    start: Callable[[float | None, float | None, SensorInfo], Commands] = _no_commands
    rates_hz: tuple[float, ...] = ()
    has_ranges: bool = False
    name_hints: tuple[str, ...] = ()
    join: Callable[[], Callable[[bytes], bytes | None]] | None = None
    info_uuid: str = ""
    read_info: Callable[..., SensorInfo] | None = None
    source: str = ""

    def granted_rate_hz(self, wanted_hz: float | None) -> float | None:
        """Return the rate that is set for a wish: the next below that is offered, or the lowest.

        Without a wish it is the usual one; None where the sensor is asked nothing and says itself.
        """
        if not self.rates_hz:
            return wanted_hz
        wish_hz = wanted_hz or self.sensor.nominal_rate_hz or max(self.rates_hz)
        below = [rate for rate in self.rates_hz if rate <= wish_hz]
        return max(below) if below else min(self.rates_hz)
