"""The one path from notification bytes to samples, live and from a file alike.

The result does not depend on how the notifications are handed in: what comes out is settled by
their order and arrival times only, and nothing given out is ever changed.
"""

import math
from collections.abc import Iterable
from typing import Final

import numpy as np

from cue_sensors.decoders import decoder_for
from cue_sensors.decoders.packet import Packet
from cue_sensors.errors import DecodeError
from cue_sensors.order import PacketOrder
from cue_sensors.run import SensorRun, TimedPacket
from cue_sensors.samples import BoolArray, Calibration, IntArray, Samples, SensorInfo
from cue_sensors.scaling import Scaling
from cue_sensors.stamp import Stamper

MAX_RATE_MISSED: Final = 0.05
"""A sampling clock that misses its rate by more was set to another one."""


class SampleAssembler:
    """Turns notifications into samples on the host's time axis.

    Parameters
    ----------
    sensor : SensorInfo
        What sends them; its kind picks the decoder.
    calibration : Calibration or None
        Applied to every sample.

    Attributes
    ----------
    n_undecodable, n_restarts : int
        Notifications that broke their protocol; times the sensor started anew.
    """

    def __init__(self, sensor: SensorInfo, calibration: Calibration | None = None) -> None:
        self.sensor = sensor
        self.n_undecodable = 0
        self.n_restarts = 0
        self._decoder = decoder_for(sensor.kind)
        self._join = self._decoder.join() if self._decoder.join else None
        self._stamper = Stamper(self._decoder, sensor)
        self._scaling = Scaling(sensor, self._decoder.sensor, calibration)
        self._n_axes: int | None = None
        self._run: SensorRun | None = None
        self._n_dropped = 0
        self._last_s = -math.inf

    @property
    def n_dropped(self) -> int:
        """Return how many packets came twice or too late to be placed."""
        return self._n_dropped + (self._run.order.n_dropped if self._run else 0)

    @property
    def rate_hz(self) -> float | None:
        """Return the sampling rate as known so far, None before the first packet."""
        return self._run.rate_hz if self._run else None

    def push(self, arrival_s: float, notification: bytes) -> Samples:
        """Take one notification in and return the samples whose place is now settled.

        Parameters
        ----------
        arrival_s : float
            When it came, in seconds on the recording's axis.
        notification : bytes
            The notification as it came; one that breaks its protocol is counted and left out.

        Returns
        -------
        Samples
            New samples, later than all before; often none.
        """
        return self.push_many([(arrival_s, notification)])

    def push_many(self, notifications: Iterable[tuple[float, bytes]]) -> Samples:
        """Take many notifications in: the same as push after push, joined.

        Parameters
        ----------
        notifications : iterable of (arrival_s, bytes)
            In the order they came.

        Returns
        -------
        Samples
            New samples, later than all before.
        """
        timed: list[TimedPacket] = []
        for arrival_s, notification in notifications:
            packet = self._decoded(notification)
            if packet is not None:
                rate = self._run.rate if self._run else 1.0
                timed += self._take_in(arrival_s, self._stamper.stamped(packet, arrival_s, rate))
        return self._samples(timed)

    def finish(self) -> Samples:
        """Return what was still held back; call it once, at the end of the stream."""
        return self._samples(self._end_run())

    def problems(self) -> tuple[str, ...]:
        """Return sentences on what was met: empty for a clean stream."""
        met = (
            (self.n_undecodable, "{n} notifications do not follow the protocol and are left out."),
            (self.n_dropped, "{n} notifications came twice or too late and are left out."),
            (self.n_restarts, "The sensor started anew {n} times; the time between is a gap."),
        )
        said = [text.format(n=n) for n, text in met if n]
        return (*said, *self._rate_problem())

    def _rate_problem(self) -> tuple[str, ...]:
        """Return whether a sensor without a clock sends at another rate than it was set to."""
        wanted = self._stamper.nominal_rate_hz
        if self._stamper.has_clock or self.rate_hz is None:
            return ()
        if abs(self.rate_hz / wanted - 1) <= MAX_RATE_MISSED:
            return ()
        return (
            f"The sensor sends {self.rate_hz:.0f} samples a second and not {wanted:.0f}, as it was "
            "set to.",
        )

    def _decoded(self, notification: bytes) -> Packet | None:
        """Return the packet, None where it breaks its protocol or changes the axes in mid-way."""
        whole = notification if self._join is None else self._join(notification)
        if whole is None:
            return None
        try:
            packet = self._decoder.decode(whole)
        except DecodeError:
            self.n_undecodable += 1
            return None
        n_axes = packet.counts.shape[1]
        if self._n_axes not in (None, n_axes):
            self.n_undecodable += 1
            return None
        self._n_axes = n_axes
        return packet

    def _take_in(self, arrival_s: float, packet: Packet) -> list[TimedPacket]:
        """Return the packets that one more packet settles, with their times."""
        if self._run is None:
            self._run = self._new_run(packet)
        timed = self._run.settle(arrival_s)
        if not self._run.put(packet, arrival_s):
            timed += self._end_run()
            self.n_restarts += 1
            self._run = self._new_run(packet)
            self._run.put(packet, arrival_s)
        return timed + self._run.take(arrival_s)

    def _new_run(self, first: Packet) -> SensorRun:
        """Return the state for a sensor that has just begun to send."""
        stamper = self._stamper
        order = PacketOrder(stamper.sequence_span, stamper.clock_span_us, first)
        return SensorRun(order, self._last_s, has_clock=stamper.has_clock)

    def _end_run(self) -> list[TimedPacket]:
        """Return what the run still holds, and close it."""
        if self._run is None:
            return []
        timed = self._run.flush()
        self._n_dropped += self._run.order.n_dropped
        self._last_s = self._run.last_s
        self._run.order.n_dropped = 0
        return timed

    def _samples(self, timed: list[TimedPacket]) -> Samples:
        """Return the samples of packets whose times are settled."""
        lengths = np.array([len(one.packet) for one in timed], dtype=np.int64)
        first = np.repeat(np.cumsum(lengths) - lengths, lengths)
        start_s = np.repeat(np.array([one.start_s for one in timed]), lengths)
        step_s = np.repeat(np.array([one.step_s for one in timed]), lengths)
        within = np.arange(len(first)) - first
        none = np.empty((0, self._n_axes or 3), dtype=np.int16)
        counts = np.concatenate([none, *(one.packet.counts for one in timed)])
        is_clipped = self._scaling.is_clipped(counts)
        is_clipped |= np.repeat(_is_saturated_unseen(timed, is_clipped, lengths), lengths)
        return Samples(
            time_s=np.asarray(start_s + within * step_s, dtype=np.float64),
            specific_force_m_s2=self._scaling.specific_force_m_s2(counts),
            angular_rate_rad_s=self._scaling.angular_rate_rad_s(counts),
            is_clipped=is_clipped,
            rate_hz=self.rate_hz or self.sensor.nominal_rate_hz or 1.0,
        )


def _is_saturated_unseen(
    timed: list[TimedPacket], is_clipped: BoolArray, lengths: IntArray
) -> BoolArray:
    """Return, for each packet, whether its sensor reports an end of range that no count shows."""
    ends = np.cumsum(lengths)
    so_far = np.concatenate([[0], np.cumsum(is_clipped)])
    n_seen = so_far[ends] - so_far[ends - lengths]
    is_reported = np.array([one.packet.is_saturated for one in timed], dtype=bool)
    return np.asarray(is_reported & (n_seen == 0))
