"""Number and clock for packets of sensors that send none, from what they do send.

Without a counter, packets are numbered as they come. Without a clock, samples are counted at the
rate the sensor was set to, and a pause in arrivals counts as lost samples.
"""

from dataclasses import replace
from typing import Final

from cue_sensors.decoders.packet import Decoder, Packet
from cue_sensors.samples import SensorInfo

SEQUENCE_SPAN: Final = 1 << 16
CLOCK_SPAN_US: Final = 1 << 40
PAUSE_S: Final = 0.5
"""A pause this long in a stream without a clock is taken for a loss and not for a delay."""
FALLBACK_RATE_HZ: Final = 100.0


class Stamper:
    """Completes the packets of one sensor.

    Parameters
    ----------
    decoder : Decoder
        Its protocol.
    sensor : SensorInfo
        States the rate where the protocol does not send it.
    """

    def __init__(self, decoder: Decoder, sensor: SensorInfo) -> None:
        self.sequence_span = decoder.sequence_span or SEQUENCE_SPAN
        self.clock_span_us = decoder.clock_span_us or CLOCK_SPAN_US
        self.has_clock = decoder.clock_span_us is not None
        rate_hz = sensor.nominal_rate_hz or decoder.sensor.nominal_rate_hz or FALLBACK_RATE_HZ
        self.nominal_rate_hz = rate_hz
        self._period_us = 1e6 / rate_hz
        self._sequence = 0
        self._n_samples = 0
        self._before_s: float | None = None

    def stamped(self, packet: Packet, arrival_s: float, rate: float = 1.0) -> Packet:
        """Return the packet with period, number and clock.

        Parameters
        ----------
        packet : Packet
            As it came.
        arrival_s : float
            When.
        rate : float
            Host seconds per second of the counted clock, as known so far.

        Returns
        -------
        Packet
            Complete.
        """
        period_us = packet.period_us or self._period_us
        sequence, time_us = packet.sequence, packet.device_time_us
        if sequence is None:
            sequence = self._sequence
            self._sequence = (sequence + 1) % self.sequence_span
        if time_us is None:
            self._count_pause(len(packet), arrival_s, rate)
            time_us = round(self._n_samples * period_us) % self.clock_span_us
            self._n_samples += len(packet)
        return replace(packet, period_us=period_us, sequence=sequence, device_time_us=time_us)

    def _count_pause(self, n: int, arrival_s: float, rate: float) -> None:
        """Count the samples that a pause before this packet swallowed."""
        if self._before_s is not None and arrival_s - self._before_s > PAUSE_S:
            missed = (arrival_s - self._before_s) * 1e6 / (rate * self._period_us) - n
            self._n_samples += max(0, round(missed))
        self._before_s = arrival_s
