"""A sensor whose truth is known: every sample carries its own number."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from cue_sensors.decoders import Packet, decoder_for
from cue_sensors.samples import FloatArray, IntArray, Samples, SensorInfo

LATENCY_S: Final = 0.005
"""Time from a packet's last sample to its earliest arrival; no clock can know it."""
DIGIT: Final = 30_000
"""Numbers are written in this base: a digit fits a count below the end of the range."""


@dataclass(frozen=True, eq=False)
class Sent:
    """One notification with the truth on it.

    Parameters
    ----------
    first_index : int
        Number of its first sample.
    times_s : ndarray, shape (n,)
        When its samples were taken.
    arrival_s : float
        When it arrives.
    notification : bytes
        As it is sent.
    """

    first_index: int
    times_s: FloatArray
    arrival_s: float
    notification: bytes


class NumberedSensor:
    """Sends numbered samples of three or six axes at a steady true rate, as stroke stream.

    Parameters
    ----------
    rate_hz, nominal_rate_hz : float
        The true rate, and the one it states; the same if left out.
    per_packet : int
        Samples in a notification.
    drift : float
        Its clock's error.
    sequence, clock_us : int
        Where its counters begin.
    start_s : float
        When its first sample is taken.
    n_axes : int
        3 or 6.
    """

    def __init__(
        self,
        *,
        rate_hz: float = 200.0,
        per_packet: int = 10,
        drift: float = 0.0,
        sequence: int = 0,
        clock_us: int = 0,
        start_s: float = 1.0,
        n_axes: int = 6,
        nominal_rate_hz: float | None = None,
    ) -> None:
        self.rate_hz, self.per_packet, self.drift = rate_hz, per_packet, drift
        self.sequence, self.clock_us, self.start_s = sequence, clock_us, start_s
        self.n_axes = n_axes
        self.period_us = round(1e6 / (nominal_rate_hz or rate_hz))
        self.encode = decoder_for("stroke_stream").encode
        self.info = SensorInfo(kind="stroke_stream", nominal_rate_hz=rate_hz, gyro_range_rad_s=34.9)

    def packet(self, i: int, *, delay_s: float = 0.0, first_index: int = 0) -> Sent:
        """Return packet number i, sent when its last sample is taken."""
        first = i * self.per_packet
        times_s = self.start_s + (first + np.arange(self.per_packet)) / self.rate_hz
        index = first + np.arange(self.per_packet) + first_index
        counts = np.zeros((self.per_packet, self.n_axes), dtype=np.int16)
        counts[:, 0], counts[:, 1] = index % DIGIT, index // DIGIT
        clock_s = (times_s[0] - self.start_s) * (1 + self.drift)
        packet = Packet(
            counts=counts,
            period_us=self.period_us,
            sequence=(self.sequence + i) % 2**16,
            device_time_us=(self.clock_us + round(clock_s * 1e6)) % 2**32,
        )
        arrival_s = float(times_s[-1] + LATENCY_S + delay_s)
        return Sent(int(index[0]), times_s, arrival_s, self.encode(packet))

    def index_of(self, samples: Samples) -> IntArray:
        """Return the numbers that the samples carry."""
        scale = 16 * 9.80665 / 32768
        counts = np.round(samples.specific_force_m_s2 / scale).astype(np.int64)
        return np.asarray(counts[:, 0] + DIGIT * counts[:, 1], dtype=np.int64)
