"""Packets in the order they were sent, their wrapping clocks turned into growing ones.

Radio links keep their order; the host may swap, repeat or delay. A missing number is waited for
a little while, then given up as lost. Whether a jump is a long gap or a sensor that started anew
is told from its counter, its clock and the time of arrival together.
"""

from dataclasses import dataclass
from typing import Final

from cue_sensors.decoders.packet import Packet

HOLD_S: Final = 0.15
"""How long a packet waits for a missing one before it."""
HOLD_PACKETS: Final = 8
"""How many packets wait at most."""
LATE_PACKETS: Final = 32
"""A number this little behind is a late or repeated packet, one further behind a new start."""
NEAR_PACKETS: Final = 1024
"""Within so many packets, counter and clock alone say that the run goes on."""
CLOCK_SLACK_S: Final = 1.0
"""How far counter and clock may disagree: the sensor may itself have lost samples."""
MAX_EARLY_S: Final = 2.0
MAX_LATE_S: Final = 10.0
"""Delivery outside these bounds against the running clock is not the same run of the sensor."""


@dataclass(frozen=True, eq=False)
class Placed:
    """A packet whose place is known.

    Parameters
    ----------
    packet : Packet
        The packet.
    clock_us : int
        Sensor's clock at its first sample, unwrapped.
    arrival_s : float
        When it came, on the host's axis.
    """

    packet: Packet
    clock_us: int
    arrival_s: float


class PacketOrder:
    """Orders the packets of one run of a sensor.

    Parameters
    ----------
    sequence_span, clock_span_us : int
        Values before the counter and the clock wrap.
    first : Packet
        First packet of the run; it must still be given to ``put``.
    """

    def __init__(self, sequence_span: int, clock_span_us: int, first: Packet) -> None:
        self._sequence_span = sequence_span
        self._clock_span_us = clock_span_us
        self._next_sequence = _sequence(first)
        self._next_clock_us = _clock_us(first)
        self._last_clock_us = self._next_clock_us - 1
        self._waiting: dict[int, Placed] = {}
        self._replayed: set[int] = set()
        self.n_dropped = 0
        """Packets that came twice, or after their place had been given up."""

    def put(self, packet: Packet, arrival_s: float, expected_clock_s: float | None) -> bool:
        """Take a packet in; return False if it belongs to a new run of the sensor.

        Parameters
        ----------
        packet : Packet
            With sequence number and device time.
        arrival_s : float
            When it came, on the host's axis.
        expected_clock_s : float or None
            What the running clock takes the sensor's clock to be then; None at the start.
        """
        if packet.is_replayed:
            self._replayed.add(_sequence(packet))
            return True
        clock_us = self._unwrapped(packet, expected_clock_s)
        if clock_us is None:
            return False
        if clock_us <= self._last_clock_us or clock_us in self._waiting:
            self.n_dropped += 1
        else:
            self._waiting[clock_us] = Placed(packet, clock_us, arrival_s)
        return True

    def take(self, arrival_s: float, *, is_last: bool = False) -> list[Placed]:
        """Return the packets whose place is settled, in order."""
        taken: list[Placed] = []
        while self._waiting:
            placed = self._waiting[min(self._waiting)]
            self._skip_replayed()
            is_next = _sequence(placed.packet) == self._next_sequence
            if not (is_next or is_last or self._is_given_up(arrival_s)):
                break
            taken.append(self._pass_on(placed))
        return taken

    def _pass_on(self, placed: Placed) -> Placed:
        """Settle a packet's place and go on behind it."""
        del self._waiting[placed.clock_us]
        packet = placed.packet
        self._last_clock_us = placed.clock_us
        self._next_clock_us = placed.clock_us + round(len(packet) * packet.period_us)
        self._next_sequence = (_sequence(packet) + 1) % self._sequence_span
        return placed

    def _skip_replayed(self) -> None:
        """Step over numbers that repeated stretches used up."""
        while self._next_sequence in self._replayed:
            self._replayed.discard(self._next_sequence)
            self._next_sequence = (self._next_sequence + 1) % self._sequence_span
        if len(self._replayed) > NEAR_PACKETS:
            self._replayed.clear()

    def _is_given_up(self, arrival_s: float) -> bool:
        """Return whether a missing packet has been waited for long enough."""
        first_s = min(placed.arrival_s for placed in self._waiting.values())
        return len(self._waiting) > HOLD_PACKETS or arrival_s - first_s > HOLD_S

    def _unwrapped(self, packet: Packet, expected_clock_s: float | None) -> int | None:
        """Return the packet's clock without wraps, None if the run cannot have gone on to it."""
        ahead = _signed(_sequence(packet) - self._next_sequence, self._sequence_span)
        step_us = _signed(_clock_us(packet) - self._next_clock_us, self._clock_span_us)
        clock_us = self._next_clock_us + step_us
        duration_us = len(packet) * packet.period_us
        slack_us = CLOCK_SLACK_S * 1e6 + 0.5 * abs(ahead) * duration_us
        is_near = -LATE_PACKETS <= ahead <= NEAR_PACKETS
        if is_near and abs(step_us - ahead * duration_us) <= slack_us:
            late_s = 0.0 if expected_clock_s is None else expected_clock_s - clock_us * 1e-6
            if ahead <= HOLD_PACKETS or late_s <= MAX_LATE_S:
                return clock_us
        if expected_clock_s is None:
            return None
        return self._nearest(clock_us, expected_clock_s)

    def _nearest(self, clock_us: int, expected_clock_s: float) -> int | None:
        """Return that clock with the number of wraps that fits the time of arrival, if one does."""
        wraps = round((expected_clock_s * 1e6 - clock_us) / self._clock_span_us)
        clock_us += wraps * self._clock_span_us
        late_s = expected_clock_s - clock_us * 1e-6
        fits = -MAX_EARLY_S <= late_s <= MAX_LATE_S and clock_us > self._last_clock_us
        return clock_us if fits else None


def _sequence(packet: Packet) -> int:
    """Return the packet's number, which these protocols always have."""
    if packet.sequence is None:
        raise ValueError("this protocol promises sequence numbers")
    return packet.sequence


def _clock_us(packet: Packet) -> int:
    """Return the packet's clock, which these protocols always have."""
    if packet.device_time_us is None:
        raise ValueError("this protocol promises device times")
    return packet.device_time_us


def _signed(difference: int, span: int) -> int:
    """Return a difference of wrapping numbers as the nearest signed one."""
    return (difference + span // 2) % span - span // 2
