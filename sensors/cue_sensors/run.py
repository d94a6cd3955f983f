"""One run of a sensor, from switching on to switching off: its packets, ordered and timed."""

import math
from collections import deque
from dataclasses import dataclass
from typing import Final

from cue_sensors.clock import RunningClock
from cue_sensors.decoders.packet import Packet
from cue_sensors.order import PacketOrder, Placed

START_HOLD_S: Final = 0.5
"""At the start so much is collected, so that the first arrival is not taken at its word."""
PERIOD_PACKETS: Final = 64
"""The true sampling period is taken over so many packets."""
MAX_PERIOD_ERROR: Final = 0.2
"""Sensors' own oscillators miss their stated rate by up to a tenth; beyond this it is a gap."""
START_HOLD_WITHOUT_CLOCK_S: Final = 2.0
"""Without a clock the first arrivals must tell the rate as well."""
RATE_MISSED: Final = 0.1
"""First arrivals tell the rate to a few percent; a wrong setting is off by more than this."""
MAX_SLEW_WITHOUT_CLOCK: Final = 0.005
"""A wrong offset harms no stroke, a wrong rate bends its speed: half a percent is let pass."""
MAX_RATE_ERROR_WITHOUT_CLOCK: Final = math.inf
"""Then the counted samples are the clock, and arrivals alone say how fast it runs."""
COARSE_WITHOUT_CLOCK_S: Final = 1.0
RATE_POINTS_WITHOUT_CLOCK: Final = (4, 120)
"""The rate is taken over the last two minutes, from the fourth second on."""
MIN_STEP: Final = 0.5
"""Samples never come closer than this part of a period, whatever the sensor's clock says."""


@dataclass(frozen=True, eq=False)
class TimedPacket:
    """A packet with the host time of its first sample and the step between samples.

    Parameters
    ----------
    packet : Packet
        The packet.
    start_s, step_s : float
        Seconds on the host's axis.
    """

    packet: Packet
    start_s: float
    step_s: float


class PeriodFit:
    """The true sampling period, from the sensor's clock over the last packets."""

    def __init__(self) -> None:
        self._recent: deque[tuple[int, int]] = deque()
        self._sum_us = 0
        self._sum_n = 0
        self._nominal_us = 0.0
        self._before: Placed | None = None

    def learn_from(self, placed: Placed) -> None:
        """Take a packet's clock in; packets come in order."""
        nominal_us = placed.packet.period_us
        if nominal_us != self._nominal_us:
            self._nominal_us, self._before = nominal_us, None
            self._recent.clear()
            self._sum_us = self._sum_n = 0
        if self._before is not None:
            n = len(self._before.packet)
            elapsed_us = placed.clock_us - self._before.clock_us
            if abs(elapsed_us - n * nominal_us) <= MAX_PERIOD_ERROR * n * nominal_us:
                self._learn(elapsed_us, n)
        self._before = placed

    @property
    def rate_hz(self) -> float | None:
        """Return the sampling rate, None before the first packet."""
        return 1e6 / self.period_us if self._nominal_us else None

    @property
    def period_us(self) -> float:
        """Return the mean period over the recent packets, the nominal one where there are none."""
        return self._sum_us / self._sum_n if self._sum_n else self._nominal_us

    def _learn(self, elapsed_us: int, n: int) -> None:
        """Take n samples in that time in, and forget the oldest (whole numbers: no drift)."""
        self._recent.append((elapsed_us, n))
        self._sum_us += elapsed_us
        self._sum_n += n
        if len(self._recent) > PERIOD_PACKETS:
            old_us, old_n = self._recent.popleft()
            self._sum_us -= old_us
            self._sum_n -= old_n


class SensorRun:
    """Orders and times the packets of one run.

    Parameters
    ----------
    order : PacketOrder
        For this run's first packet.
    after_s : float
        Host time that all samples must come after.
    has_clock : bool
        The packets carry the sensor's own clock; without it, arrivals must tell the rate.

    Attributes
    ----------
    last_s : float
        Host time of the last sample given out.
    """

    def __init__(self, order: PacketOrder, after_s: float, *, has_clock: bool = True) -> None:
        self._has_clock = has_clock
        self.order = order
        self.period = PeriodFit()
        self.last_s = after_s
        self._clock: RunningClock | None = None
        self._held: list[Placed] = []

    @property
    def rate(self) -> float:
        """Return host seconds per second of the sensor's clock."""
        return self._clock.rate if self._clock else 1.0

    @property
    def rate_hz(self) -> float | None:
        """Return the sampling rate on the host's axis, None before the first packet."""
        by_sensor = self.period.rate_hz
        return None if by_sensor is None else by_sensor / self.rate

    def put(self, packet: Packet, arrival_s: float) -> bool:
        """Take a packet in; return False if it belongs to another run."""
        expected_s = self._clock.clock_s(arrival_s) if self._clock else None
        return self.order.put(packet, arrival_s, expected_s)

    def settle(self, arrival_s: float) -> list[TimedPacket]:
        """Return the packets held at the start, once they have been held long enough."""
        hold_s = START_HOLD_S if self._has_clock else START_HOLD_WITHOUT_CLOCK_S
        is_over = bool(self._held) and arrival_s - self._held[0].arrival_s >= hold_s
        return self._start() if is_over else []

    def take(self, arrival_s: float, *, is_last: bool = False) -> list[TimedPacket]:
        """Return the packets whose place and times are settled."""
        placed = self.order.take(arrival_s, is_last=is_last)
        if self._clock is None:
            self._held += placed
            return []
        timed = []
        for one in placed:
            self.period.learn_from(one)
            timed.append(self._timed(one, self._clock))
        return timed

    def flush(self) -> list[TimedPacket]:
        """Return everything that is left."""
        timed = self.take(math.inf, is_last=True)
        return self._start() if self._held else timed

    def _start(self) -> list[TimedPacket]:
        """Start the clock from the earliest of the arrivals held, and time what was held."""
        held, self._held = self._held, []
        for one in held:
            self.period.learn_from(one)
        first_s = held[0].clock_us * 1e-6
        delay_s = min(one.arrival_s - _last_clock_s(one) for one in held)
        if self._has_clock:
            self._clock = RunningClock(first_s, first_s + delay_s)
        else:
            drift = _first_drift(held)
            # the earliest arrival is late by what the counted time has run away since the first
            delay_s = min(
                one.arrival_s - first_s - (1 + drift) * (_last_clock_s(one) - first_s)
                for one in held
            )
            self._clock = _clock_of_counts(first_s, first_s + delay_s, drift)
        return [self._timed(one, self._clock) for one in held]

    def _timed(self, placed: Placed, clock: RunningClock) -> TimedPacket:
        """Return the packet with its times, and let the clock learn from its arrival."""
        clock.observe(_last_clock_s(placed), placed.arrival_s)
        start_s = clock.advance(placed.clock_us * 1e-6)
        step_s = clock.rate * self.period.period_us * 1e-6
        start_s = max(start_s, self.last_s + MIN_STEP * step_s)
        self.last_s = start_s + (len(placed.packet) - 1) * step_s
        return TimedPacket(placed.packet, start_s, step_s)


def _clock_of_counts(clock_s: float, host_s: float, drift: float) -> RunningClock:
    """Return the running clock for a sensor without a clock of its own."""
    least, most = RATE_POINTS_WITHOUT_CLOCK
    return RunningClock(
        clock_s,
        host_s,
        max_slew=MAX_SLEW_WITHOUT_CLOCK,
        max_rate_error=MAX_RATE_ERROR_WITHOUT_CLOCK,
        coarse_s=COARSE_WITHOUT_CLOCK_S,
        min_rate_points=least,
        rate_points=most,
        drift=drift,
    )


def _first_drift(held: list[Placed]) -> float:
    """Return how far the stated rate is off by the first arrivals, 0 where it may be right."""
    counted_s = (held[-1].clock_us - held[0].clock_us) * 1e-6
    took_s = held[-1].arrival_s - held[0].arrival_s
    if counted_s <= 0 or took_s <= 0:
        return 0.0
    drift = took_s / counted_s - 1.0
    return drift if abs(drift) > RATE_MISSED else 0.0


def _last_clock_s(placed: Placed) -> float:
    """Return the sensor's clock at the packet's last sample, in seconds."""
    packet = placed.packet
    return (placed.clock_us + (len(packet) - 1) * packet.period_us) * 1e-6
