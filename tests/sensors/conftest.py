"""A sensor whose truth is known: every sample carries its own number."""

from dataclasses import dataclass

import numpy as np
import pytest

from cue_sensors.decoders import Packet, decoder_for
from cue_sensors.samples import SensorInfo

LATENCY_S = 0.005
"""Time from a packet's last sample to its earliest arrival; no clock can know it."""


@dataclass(frozen=True)
class Sent:
    """One notification with the truth on it."""

    first_index: int
    times_s: np.ndarray
    arrival_s: float
    notification: bytes


class FakeSensor:
    """Sends numbered samples of three or six axes at a steady true rate."""

    def __init__(
        self,
        *,
        rate_hz=200.0,
        per_packet=10,
        drift=0.0,
        sequence=0,
        clock_us=0,
        start_s=1.0,
        n_axes=6,
        nominal_rate_hz=None,
    ):
        self.rate_hz, self.per_packet, self.drift = rate_hz, per_packet, drift
        self.sequence, self.clock_us, self.start_s = sequence, clock_us, start_s
        self.n_axes = n_axes
        self.period_us = round(1e6 / (nominal_rate_hz or rate_hz))
        self.encode = decoder_for("stroke_stream").encode
        self.info = SensorInfo(kind="stroke_stream", nominal_rate_hz=rate_hz)

    def packet(self, i, *, delay_s=0.0, first_index=None):
        """Return packet number i, sent when its last sample is taken."""
        first = i * self.per_packet
        times_s = self.start_s + (first + np.arange(self.per_packet)) / self.rate_hz
        index = first + np.arange(self.per_packet) + (first_index or 0)
        counts = np.zeros((self.per_packet, self.n_axes), dtype=np.int16)
        counts[:, 0], counts[:, 1] = index % 30000, index // 30000
        clock_s = (times_s[0] - self.start_s) * (1 + self.drift)
        packet = Packet(
            counts=counts,
            period_us=self.period_us,
            sequence=(self.sequence + i) % 2**16,
            device_time_us=(self.clock_us + round(clock_s * 1e6)) % 2**32,
        )
        arrival_s = float(times_s[-1] + LATENCY_S + delay_s)
        return Sent(int(index[0]), times_s, arrival_s, self.encode(packet))

    def index_of(self, samples):
        """Return the numbers that the samples carry."""
        scale = 16 * 9.80665 / 32768
        counts = np.round(samples.specific_force_m_s2 / scale).astype(int)
        return counts[:, 0] + 30000 * counts[:, 1]


@pytest.fixture
def fake_sensor():
    return FakeSensor


@pytest.fixture
def latency_s():
    return LATENCY_S


@pytest.fixture(scope="session")
def fake_sensor_class():
    """Return the same for property tests, which must not depend on a function's fixture."""
    return FakeSensor
