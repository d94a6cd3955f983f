"""What the live chain costs, from notification bytes to a stroke, on made playing."""

import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from cue_bench.maker import make_strokes
from cue_bench.sensor_fuzz import resident_bytes
from cue_practice.live_trace import SpeedTrace
from cue_sensors.assemble import SampleAssembler
from cue_sensors.recorder import Recorder
from cue_sensors.rehearsal import RehearsalSensor
from cue_signal.live import StrokeFinder

N_STROKES: Final = 10
SEED: Final = 4711
PAUSE_S: Final = 1.0
"""Between two rounds of the same playing, as a sensor switched off and on."""


@dataclass(frozen=True)
class Load:
    """What one session cost.

    Parameters
    ----------
    seconds : float
        Length of the session.
    n_strokes : int
        Found in it.
    cpu_s : float
        Time of one core.
    slowest_s : float
        Longest time that one notification took.
    known_after_s : float
        Median time from the end of a stroke's follow-through until it is known: waiting for
        samples and working it out.
    """

    seconds: float
    n_strokes: int
    cpu_s: float
    slowest_s: float
    known_after_s: float


class _Chain:
    """Everything a live session does with a notification, the log left out."""

    def __init__(self, source: RehearsalSensor, path: Path) -> None:
        self._assembler = SampleAssembler(source.sensor, source.calibration)
        self._finder = StrokeFinder(source.mounting)
        self._recorder = Recorder(path, sensor=source.sensor)
        self._trace = SpeedTrace()
        self.n_strokes = 0
        self.known_after_s: list[float] = []

    def take(self, arrival_s: float, notification: bytes) -> float:
        """Take one notification in; return how long that took."""
        start_s = time.perf_counter()
        self._recorder.write(notification, round((1e9 + arrival_s) * 1e9))
        samples = self._assembler.push(arrival_s, notification)
        strokes = self._finder.push(samples)
        axis = self._finder.cue_axis
        self._trace.push(samples, None if axis is None else axis.direction)
        took_s = time.perf_counter() - start_s
        self.n_strokes += len(strokes)
        self.known_after_s += [arrival_s + took_s - one.follow_through_end_s for one in strokes]
        return took_s

    def close(self) -> None:
        """End the recording."""
        self._recorder.close()


def live_load(rate_hz: float) -> Load:
    """Return what a live session of made playing at that rate costs.

    Parameters
    ----------
    rate_hz : float
        Of a sensor with six axes.

    Returns
    -------
    Load
        Of one core.
    """
    source = _source(rate_hz)
    with tempfile.TemporaryDirectory() as folder:
        chain = _Chain(source, Path(folder) / "a.mcap")
        before_s = time.process_time()
        took_s = [chain.take(at, data) for at, data in source.notifications]
        cpu_s = time.process_time() - before_s
        chain.close()
    known_s = float(np.median(chain.known_after_s)) if chain.known_after_s else np.nan
    return Load(source.duration_s, chain.n_strokes, cpu_s, max(took_s), known_s)


def memory_over(hours: float, *, n_points: int = 5) -> Iterator[tuple[float, int]]:
    """Yield hours of device time and the process's memory, while a long session goes on.

    Parameters
    ----------
    hours : float
        Length of the session.
    n_points : int
        How often to look.

    Yields
    ------
    at_h : float
        Hours since the start.
    size : int
        Bytes.
    """
    source = _source(200.0)
    next_h = 0.0
    with tempfile.TemporaryDirectory() as folder:
        chain = _Chain(source, Path(folder) / "a.mcap")
        first_s = 0.0
        while first_s < 3600 * hours:
            for arrival_s, notification in source.notifications:
                chain.take(first_s + arrival_s, notification)
            first_s += source.duration_s + PAUSE_S
            if first_s / 3600 >= next_h:
                yield first_s / 3600, resident_bytes()
                next_h += hours / n_points
        chain.close()


def _source(rate_hz: float) -> RehearsalSensor:
    """Return made playing as a sensor sends it."""
    session = make_strokes(N_STROKES, SEED, rate_hz=rate_hz, known_mounting=True)
    return RehearsalSensor(session.recording, speed=float("inf"))
