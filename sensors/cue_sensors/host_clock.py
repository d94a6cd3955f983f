"""What happened to the host's clocks while a session ran: set by somebody, stopped by sleep.

Arrivals are counted on a clock that nobody sets and that runs on during sleep, so neither moves a
sample; the player is told all the same.
"""

import time
from typing import Final

NOTED_S: Final = 1.0
"""Smaller steps are the system keeping its clock right."""


def steady_s() -> float:
    """Return seconds on a clock that nobody sets and that runs on while the host sleeps."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    return time.monotonic()


class HostClock:
    """Watches the host's clocks from the moment it is made."""

    def __init__(self) -> None:
        self._wall_s, self._awake_s = self._now()
        self.set_by_s = 0.0
        """How far the wall clock was moved in all, forwards positive."""
        self.slept_s = 0.0
        """How long the host slept in all."""

    def look(self) -> None:
        """Note what happened since the last look; to be called every second or so."""
        wall_s, awake_s = self._now()
        moved_s, slept_s = wall_s - self._wall_s, self._awake_s - awake_s
        if abs(moved_s) >= NOTED_S:
            self.set_by_s += moved_s
        if slept_s >= NOTED_S:
            self.slept_s += slept_s
        self._wall_s, self._awake_s = wall_s, awake_s

    @property
    def words(self) -> str:
        """Return what happened as sentences, empty if nothing did."""
        said = []
        if self.slept_s:
            said.append(
                f"The computer slept for {self.slept_s:.0f} s; what the sensor sent then is a gap."
            )
        if abs(self.set_by_s) >= NOTED_S:
            said.append(
                f"The computer's clock was set by {self.set_by_s:+.0f} s; the recording keeps the "
                "time it began with."
            )
        return " ".join(said)

    @staticmethod
    def _now() -> tuple[float, float]:
        """Return the wall clock and the waking time, both against the steady clock."""
        steady = steady_s()
        return time.time() - steady, time.monotonic() - steady
