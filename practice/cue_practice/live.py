"""A live session: a sensor's notifications become strokes in the log, as they come.

The raw notifications are kept in a recording of their own, so every live stroke can be worked out
again. Nothing that goes wrong with the disk, the sensor or a screen ends the session or loses a
stroke that was found.
"""

import contextlib
import logging
import threading
import time
from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

from cue_practice.errors import PracticeError
from cue_practice.folder import data_folder
from cue_practice.live_record import SessionRecord
from cue_practice.live_status import WORDS, LiveSource, LiveState, LiveStatus
from cue_practice.live_trace import SpeedTrace
from cue_practice.log import PracticeLog
from cue_practice.views import Shot
from cue_sensors.assemble import SampleAssembler
from cue_sensors.errors import SensorError
from cue_sensors.host_clock import HostClock
from cue_sensors.samples import GAP_FACTOR, Samples
from cue_signal.errors import SignalError
from cue_signal.live import StrokeFinder
from cue_signal.stroke import Stroke
from cue_signal.warm import warm_up

__all__ = ["LiveSession", "LiveSource", "LiveState", "LiveStatus"]

STOP_WAIT_S: Final = 10.0
"""How long stop() waits for a source that does not answer."""

DRAIN_S: Final = 5.0
"""How long what has already arrived is taken in after stop()."""

SampleListener = Callable[[Samples], object]

logger = logging.getLogger(__name__)


class LiveSession:
    """Listens to a source in a thread of its own and enters its strokes into the log.

    Parameters
    ----------
    log : PracticeLog or None
        Where strokes go, each the moment it is found; None shows and records, and enters nothing.
    source : LiveSource
        The sensor.
    series_id : int or None
        Series that the strokes belong to; None shows them without entering them, see ``follow``.
    cue_id : int or None
        Cue that the sensor sits on; the series' own where one is followed. With it the session
        uses the mounting that the log has of this sensor on this cue, unless the source knows its
        own.
    on_stroke : callable, optional
        Called with each new Shot, in the session's thread; what it raises is logged, no more.
    folder : path, optional
        Where the raw recording is kept; ``recordings`` in the player's data folder, if None.
    path : path, optional
        File to keep it in, instead of one named for its start in the folder.

    Raises
    ------
    ValueError
        If a series is to be followed without a log.
    """

    def __init__(
        self,
        log: PracticeLog | None,
        source: LiveSource,
        *,
        series_id: int | None = None,
        cue_id: int | None = None,
        on_stroke: Callable[[Shot], object] | None = None,
        folder: Path | None = None,
        path: Path | None = None,
    ) -> None:
        self._has_log, self._source, self._cue_id = log is not None, source, cue_id
        self._check_followed(series_id)
        self._series_id = series_id
        self._on_stroke = on_stroke
        self._listeners: list[SampleListener] = []
        self._record = SessionRecord(log, folder or data_folder() / "recordings", path)
        self._lock = threading.Lock()
        self._stopping = threading.Event()
        self._stopped_s = 0.0
        self._thread: threading.Thread | None = None
        self._state = LiveState.IDLE
        self._problems: dict[str, str] = {}
        self._n_packets = self._n_samples = self._n_lost = self._n_strokes = self._n_entered = 0
        self._end_s: float | None = None
        self._rate_hz: float | None = None
        self._trace = SpeedTrace()
        self._last_stroke: Stroke | None = None
        self._first_look: Stroke | None = None
        self._is_measuring = False
        self._unlogged: list[tuple[int, Stroke]] = []

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
        # not a daemon: a compiler that is cut off can take the program with it
        threading.Thread(target=warm_up, name="warm up").start()
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

    def follow(self, series_id: int | None) -> None:
        """Enter the strokes found from now on into that series, without dropping the connection.

        Parameters
        ----------
        series_id : int or None
            None: strokes are shown and recorded, and not entered.

        Raises
        ------
        ValueError
            If there is no log.
        """
        self._check_followed(series_id)
        with self._lock:
            self._series_id = series_id

    def add_sample_listener(self, listener: SampleListener) -> Callable[[], None]:
        """Have a function called with all samples from now on, as they come.

        Parameters
        ----------
        listener : callable
            Called with Samples in the session's thread, so it must be quick; what it raises is
            logged, no more.

        Returns
        -------
        callable
            Ends it; twice does no harm.
        """
        with self._lock:
            self._listeners.append(listener)

        def remove() -> None:
            with self._lock, contextlib.suppress(ValueError):
                self._listeners.remove(listener)

        return remove

    def status(self) -> LiveStatus:
        """Return how the session stands, from any thread."""
        source = self._source
        with self._lock:
            time_s, speed_m_s = self._trace.tail()
            problem = " ".join(self._problems.values())
            return LiveStatus(
                state=self._state,
                words=" ".join(filter(None, (*self._state_words(), problem))),
                rate_hz=self._rate_hz,
                n_samples=self._n_samples,
                n_lost=self._n_lost,
                n_strokes=self._n_strokes,
                problem=problem,
                recording_path=self._record.path,
                trace_time_s=time_s,
                trace_speed_m_s=speed_m_s,
                n_packets=self._n_packets,
                n_entered=self._n_entered,
                series_id=self._series_id,
                last_stroke=self._last_stroke,
                first_look=self._first_look,
                is_measuring=self._is_measuring,
                sensor_name=source.sensor.name,
                is_connected=self._is_connected(),
                battery_percent=getattr(source, "battery_percent", None),
                signal_dbm=getattr(source, "signal_dbm", None),
            )

    def _is_connected(self) -> bool:
        """Return whether data can come just now."""
        is_running = self._state is LiveState.RUNNING
        is_live = is_running or self._state is LiveState.STARTING
        return is_live and bool(getattr(self._source, "is_connected", is_running))

    def _state_words(self) -> tuple[str, ...]:
        """Return how the session stands; while the sensor is lost, what is done about it."""
        if self._state not in (LiveState.STARTING, LiveState.RUNNING):
            return (WORDS[self._state],)
        said = str(getattr(self._source, "words", ""))
        is_lost = self._state is LiveState.RUNNING and not self._is_connected()
        return (said,) if is_lost and said else (WORDS[self._state], said)

    def _check_followed(self, series_id: int | None) -> None:
        """Refuse a series without a log."""
        if series_id is not None and not self._has_log:
            raise ValueError("without a log there is no series to follow")

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
            self._record.close()
            self._note("recording", self._record.problem)
            with self._lock:
                self._state, self._first_look, self._is_measuring = ended, None, False

    def _listen(self) -> LiveState:
        """Take in everything the source gives, and return how it ended."""
        source = self._source
        connect = getattr(source, "connect", None)
        if callable(connect):
            connect()
        if self._stopping.is_set():
            return LiveState.STOPPED
        start_utc = getattr(source, "start_utc", None) or datetime.now(UTC)
        known = self._record.open(source, start_utc, series_id=self._series_id, cue_id=self._cue_id)
        assembler = SampleAssembler(source.sensor, known.calibration)
        finder = StrokeFinder(known.mounting, calibration=known.calibration)
        self._take_all(_since_1970_ns(start_utc), assembler, finder)
        return LiveState.STOPPED if self._stopping.is_set() else LiveState.FINISHED

    def _take_all(self, start_ns: int, assembler: SampleAssembler, finder: StrokeFinder) -> None:
        """Take in what comes until it ends or is stopped."""
        clock = HostClock()
        try:
            for arrival_s, notification in self._source:
                if self._is_time_to_stop():
                    break
                self._keep(notification, start_ns + round(arrival_s * 1e9), clock)
                self._take(assembler.push(arrival_s, notification), assembler, finder)
        finally:  # what came before a failure is worth as much as before an end
            self._take(assembler.finish(), assembler, finder)
            self._enter(finder.finish())

    def _is_time_to_stop(self) -> bool:
        """Return whether to stop now: what a source that was closed still holds is taken in."""
        if not self._stopping.is_set():
            return False
        self._stopped_s = self._stopped_s or time.monotonic()
        can_close = callable(getattr(self._source, "close", None))
        return not can_close or time.monotonic() - self._stopped_s > DRAIN_S

    def _keep(self, notification: bytes, arrival_utc_ns: int, clock: HostClock) -> None:
        """Write a notification to the recording, and say what the host does to it."""
        self._record.write(notification, arrival_utc_ns)
        clock.look()
        with self._lock:
            self._n_packets += 1
        self._note("space", self._record.space_problem)
        self._note("recording", self._record.problem)
        self._note("clock", clock.words)

    def _take(self, samples: Samples, assembler: SampleAssembler, finder: StrokeFinder) -> None:
        """Count samples, draw them, and enter the strokes they complete."""
        if len(samples) == 0:
            return
        self._tell(samples)
        strokes = finder.push(samples)
        axis = finder.cue_axis
        with self._lock:
            if self._state is LiveState.STARTING:
                self._state = LiveState.RUNNING
            self._count(samples, assembler)
            self._trace.push(samples, None if axis is None else axis.direction)
            self._is_measuring = finder.is_measuring
        self._enter(strokes)
        self._look_first(finder)

    def _look_first(self, finder: StrokeFinder) -> None:
        """Show what can be told of a stroke that is not complete yet; nothing of it is kept."""
        look = finder.first_look()
        with self._lock:
            self._first_look = look

    def _tell(self, samples: Samples) -> None:
        """Hand samples to whoever asked for them."""
        with self._lock:
            listeners = tuple(self._listeners)
        for listener in listeners:
            _shielded(listener, samples)

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
        with self._lock:
            series_id = self._series_id
            for stroke in strokes:
                self._n_strokes += 1
                self._last_stroke, self._first_look = stroke, None
                if series_id is not None:
                    self._unlogged.append((series_id, stroke))
        while self._unlogged:
            series_id = self._unlogged[0][0]
            some = [stroke for of, stroke in self._unlogged if of == series_id]
            try:
                shots = self._record.enter(series_id, some)
            except PracticeError as error:
                n = len(self._unlogged)
                self._note("log", f"{n} strokes wait to be entered: {error}")
                return
            self._unlogged = [one for one in self._unlogged if one[0] != series_id]
            with self._lock:
                self._n_entered += len(shots)
            for shot in shots:
                if self._on_stroke is not None:
                    _shielded(self._on_stroke, shot)
        self._note("log", "")

    def _note(self, about: str, sentence: str) -> None:
        """Set or clear what is wrong with one thing."""
        with self._lock:
            if sentence:
                self._problems[about] = sentence
            else:
                self._problems.pop(about, None)


def _shielded(function: Callable[[Any], object], argument: object) -> None:
    """Call somebody's function; its failure must cost no stroke."""
    try:
        function(argument)
    except Exception:
        logger.exception("a listener of a live session failed")


def _since_1970_ns(moment: datetime) -> int:
    """Return a moment in nanoseconds since 1970 UTC, exactly."""
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1) * 1000
