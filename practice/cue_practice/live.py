"""A live session: a sensor's notifications become strokes in the log, as they come.

The raw notifications are kept in a recording of their own, so every live stroke can be worked out
again. Nothing that goes wrong with the disk, the sensor or a screen ends the session or loses a
stroke that was found.
"""

import contextlib
import logging
import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Final, Protocol

import numpy as np

from cue_practice.errors import PracticeError
from cue_practice.folder import data_folder
from cue_practice.live_trace import SpeedTrace
from cue_practice.log import PracticeLog
from cue_practice.views import Shot
from cue_sensors.assemble import SampleAssembler
from cue_sensors.errors import SensorError
from cue_sensors.recording import RecordingWriter
from cue_sensors.samples import GAP_FACTOR, Calibration, FloatArray, Mounting, Samples, SensorInfo
from cue_sensors.space import free_space_problem
from cue_signal.errors import SignalError
from cue_signal.live import StrokeFinder
from cue_signal.stroke import Stroke

STOP_WAIT_S: Final = 10.0
"""How long stop() waits for a source that does not answer."""

logger = logging.getLogger(__name__)


class LiveState(StrEnum):
    """What a live session is doing."""

    IDLE = "idle"
    """Not started yet."""
    STARTING = "starting"
    """Started, nothing has come from the sensor yet."""
    RUNNING = "running"
    """Samples are coming in."""
    FINISHED = "finished"
    """The source came to its end."""
    STOPPED = "stopped"
    """Somebody stopped it."""
    FAILED = "failed"
    """The source or the log failed; ``problem`` says how."""


class LiveSource(Protocol):
    """What a live session listens to: a sensor, or a rehearsal of one.

    Iterating gives ``(arrival_s, notification)`` as they come, arrival in seconds since the start.
    A source that can be interrupted has a ``close()``; one that must first be found has a
    ``connect()`` that returns once ``sensor`` is known; one that can lose its sensor says how it
    stands in ``words``.
    """

    sensor: SensorInfo
    mounting: Mounting
    calibration: Calibration | None

    def __iter__(self) -> Iterator[tuple[float, bytes]]:
        """Yield notifications as they come."""
        ...


@dataclass(frozen=True, eq=False)
class LiveStatus:
    """How a live session stands.

    Parameters
    ----------
    state : LiveState
        What it is doing.
    words : str
        The same in a sentence, with what is wrong if anything is.
    rate_hz : float or None
        Sampling rate, None before the first samples.
    n_samples, n_lost, n_strokes : int
        Samples received, samples lost in gaps, strokes found.
    problem : str
        A sentence on what is wrong, empty if nothing is.
    recording_path : Path or None
        Where the raw notifications are kept, None if they are not.
    trace_time_s, trace_speed_m_s : ndarray, shape (n,)
        Speed along the cue over the last seconds, for drawing.
    """

    state: LiveState
    words: str = ""
    rate_hz: float | None = None
    n_samples: int = 0
    n_lost: int = 0
    n_strokes: int = 0
    problem: str = ""
    recording_path: Path | None = None
    trace_time_s: FloatArray = field(default_factory=lambda: np.empty(0))
    trace_speed_m_s: FloatArray = field(default_factory=lambda: np.empty(0))


class LiveSession:
    """Listens to a source in a thread of its own and enters its strokes into the log.

    Parameters
    ----------
    log : PracticeLog
        Where strokes go, each the moment it is found.
    source : LiveSource
        The sensor.
    series_id : int
        Series that the strokes belong to.
    on_stroke : callable, optional
        Called with each new Shot, in the session's thread; what it raises is logged, no more.
    folder : path, optional
        Where the raw recording is kept; ``recordings`` in the player's data folder, if None.
    """

    def __init__(
        self,
        log: PracticeLog,
        source: LiveSource,
        *,
        series_id: int,
        on_stroke: Callable[[Shot], object] | None = None,
        folder: Path | None = None,
    ) -> None:
        self._log, self._source, self._series_id = log, source, series_id
        self._on_stroke = on_stroke
        self._folder = folder or data_folder() / "recordings"
        self._lock = threading.Lock()
        self._stopping = threading.Event()
        self._thread: threading.Thread | None = None
        self._state = LiveState.IDLE
        self._problems: dict[str, str] = {}
        self._n_samples = self._n_lost = self._n_strokes = 0
        self._end_s: float | None = None
        self._rate_hz: float | None = None
        self._trace = SpeedTrace()
        self._writer: RecordingWriter | None = None
        self._recording_path: Path | None = None
        self._recording_id: int | None = None
        self._unlogged: list[Stroke] = []

    def start(self) -> None:
        """Begin to listen.

        Raises
        ------
        ValueError
            If it was started before.
        """
        with self._lock:
            if self._thread is not None:
                raise ValueError("the live session was started before; make a new one")
            self._state = LiveState.STARTING
            self._thread = threading.Thread(target=self._run, name="live session", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop listening, enter what is still to be entered, and wait until that is done."""
        self._stopping.set()
        close = getattr(self._source, "close", None)
        if callable(close):
            with contextlib.suppress(Exception):
                close()
        thread = self._thread
        if thread is not None and thread is not threading.current_thread():
            thread.join(STOP_WAIT_S)

    def status(self) -> LiveStatus:
        """Return how the session stands, from any thread."""
        with self._lock:
            time_s, speed_m_s = self._trace.tail()
            problem = " ".join(self._problems.values())
            return LiveStatus(
                state=self._state,
                words=" ".join(filter(None, (_WORDS[self._state], self._source_words(), problem))),
                rate_hz=self._rate_hz,
                n_samples=self._n_samples,
                n_lost=self._n_lost,
                n_strokes=self._n_strokes,
                problem=problem,
                recording_path=self._recording_path,
                trace_time_s=time_s,
                trace_speed_m_s=speed_m_s,
            )

    def _source_words(self) -> str:
        """Return how the source says it stands, while it is listened to."""
        is_live = self._state in (LiveState.STARTING, LiveState.RUNNING)
        return str(getattr(self._source, "words", "")) if is_live else ""

    def _run(self) -> None:
        """Listen until the source ends, fails or is stopped; the thread's own function."""
        ended = LiveState.FAILED
        try:
            ended = self._listen()
        except (SensorError, SignalError, PracticeError) as error:
            self._note("source", str(error))
        except Exception as error:  # a source is anybody's code; its failure must be shown
            logger.exception("the source of a live session failed")
            self._note("source", f"The sensor's connection failed: {error!r}. Connect again.")
        finally:
            self._close_recording()
            with self._lock:
                self._state = ended

    def _listen(self) -> LiveState:
        """Take in everything the source gives, and return how it ended."""
        connect = getattr(self._source, "connect", None)
        if callable(connect):
            connect()
        if self._stopping.is_set():
            return LiveState.STOPPED
        start_utc = datetime.now(UTC)
        self._open_recording(start_utc)
        assembler = SampleAssembler(self._source.sensor, self._source.calibration)
        finder = StrokeFinder(self._source.mounting)
        start_ns = _since_1970_ns(start_utc)
        try:
            for arrival_s, notification in self._source:
                if self._stopping.is_set():
                    break
                self._keep(notification, start_ns + round(arrival_s * 1e9))
                self._take(assembler.push(arrival_s, notification), assembler, finder)
        finally:  # what came before a failure is worth as much as before an end
            self._take(assembler.finish(), assembler, finder)
            self._enter(finder.finish())
        return LiveState.STOPPED if self._stopping.is_set() else LiveState.FINISHED

    def _take(self, samples: Samples, assembler: SampleAssembler, finder: StrokeFinder) -> None:
        """Count samples, draw them, and enter the strokes they complete."""
        if len(samples) == 0:
            return
        strokes = finder.push(samples)
        axis = finder.cue_axis
        with self._lock:
            if self._state is LiveState.STARTING:
                self._state = LiveState.RUNNING
            self._count(samples, assembler)
            self._trace.push(samples, None if axis is None else axis.direction)
        self._enter(strokes)

    def _count(self, samples: Samples, assembler: SampleAssembler) -> None:
        """Count samples and those lost in and before them; the lock is held."""
        self._rate_hz = assembler.rate_hz
        self._n_samples += len(samples)
        self._n_lost += samples.n_lost
        if self._end_s is not None:
            periods = (float(samples.time_s[0]) - self._end_s) * samples.rate_hz
            self._n_lost += round(periods) - 1 if periods > GAP_FACTOR else 0
        self._end_s = float(samples.time_s[-1])

    def _enter(self, strokes: Iterable[Stroke]) -> None:
        """Enter strokes into the log; what it does not take now is offered again later."""
        self._unlogged += strokes
        if not self._unlogged or self._recording_id is None:
            return
        try:
            shots = self._log.add_strokes(self._recording_id, self._series_id, self._unlogged)
        except PracticeError as error:
            n = len(self._unlogged)
            self._note("log", f"{n} strokes wait to be entered: {error}")
            return
        self._note("log", "")
        self._unlogged = []
        with self._lock:
            self._n_strokes += len(shots)
        for shot in shots:
            self._announce(shot)

    def _announce(self, shot: Shot) -> None:
        """Tell whoever asked for it of a new shot."""
        if self._on_stroke is None:
            return
        try:
            self._on_stroke(shot)
        except Exception:  # a screen's fault must not cost a stroke
            logger.exception("on_stroke failed")

    def _open_recording(self, start_utc: datetime) -> None:
        """Begin the recording and enter it into the log; without a disk the session goes on."""
        name = f"{start_utc:%Y-%m-%dT%H-%M-%S-%f}Z series {self._series_id}.mcap"
        path = self._folder / name
        sensor = self._source.sensor
        self._note("space", free_space_problem(self._folder) or "")
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            self._writer = RecordingWriter(
                path,
                sensor=sensor,
                mounting=self._source.mounting,
                calibration=self._source.calibration,
                labels={"series_id": str(self._series_id)},
                start_utc=start_utc,
            )
        except (SensorError, OSError) as error:
            self._note("recording", f"The raw data are not being kept: {error}")
        entry = self._log.add_recording(
            path,
            start_utc=start_utc,
            sensor_kind=sensor.kind,
            sensor_name=sensor.name,
            is_growing=True,
        )
        self._recording_id = entry.recording_id
        with self._lock:
            self._recording_path = path if self._writer else None

    def _keep(self, notification: bytes, arrival_utc_ns: int) -> None:
        """Write a notification to the recording."""
        if self._writer is None:
            return
        try:
            self._writer.write(notification, arrival_utc_ns)
        except SensorError as error:
            self._note("recording", f"{self._writer.n_refused} packets are not kept: {error}")

    def _close_recording(self) -> None:
        """End the recording."""
        if self._writer is not None:
            try:
                self._writer.close()
            except SensorError as error:
                self._note("recording", str(error))

    def _note(self, about: str, sentence: str) -> None:
        """Set or clear what is wrong with one thing."""
        with self._lock:
            self._problems.pop(about, None)
            if sentence:
                self._problems[about] = sentence


_WORDS: Final = {
    LiveState.IDLE: "Not listening yet.",
    LiveState.STARTING: "Waiting for the sensor's first data.",
    LiveState.RUNNING: "Listening: strokes appear as they are played.",
    LiveState.FINISHED: "The recording has come to its end.",
    LiveState.STOPPED: "Stopped.",
    LiveState.FAILED: "Listening ended early.",
}


def _since_1970_ns(moment: datetime) -> int:
    """Return a moment in nanoseconds since 1970 UTC, exactly."""
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1) * 1000
