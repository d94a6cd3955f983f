"""Taking in a recording through the pages: in parts, limited, checked, analysed in a thread.

A file comes in parts of at most a megabyte, so that no request is large and the browser can say how
far it is. Nothing of it reaches the log before all of it was read and analysed without a fault.
"""

import hashlib
import logging
import secrets
import threading
import time
from dataclasses import dataclass
from pathlib import Path, PurePath

from cue_dashboard.errors import DashboardError
from cue_dashboard.looking import refuse_lookers
from cue_dashboard.words import taking_in as say
from cue_practice.errors import PracticeError
from cue_practice.folder import data_folder
from cue_practice.log import PracticeLog
from cue_sensors.errors import SensorError
from cue_signal.errors import SignalError

MAX_FILE_BYTES = 64_000_000
"""Some two hours at 200 samples a second as CSV, a day as a recording."""
PART_BYTES = 1_000_000
SUFFIXES = (".mcap", ".csv")
MOST_JOBS = 3
STALE_S = 120.0
"""A file of which no part came for so long was given up."""
FOLDER = "taken-in"
LONGEST_NAME = 60
_MB = 1_000_000

_logger = logging.getLogger(__name__)


@dataclass(frozen=True)
class JobState:
    """How far a file is.

    Parameters
    ----------
    words : str
        For people.
    share : float
        From 0 to 1.
    is_over : bool
        Whether nothing more happens.
    is_fault : bool
        Whether it ended by a fault: then nothing was kept.
    shot_id : int or None
        Its first stroke's shot, where some were kept.
    """

    words: str
    share: float
    is_over: bool = False
    is_fault: bool = False
    shot_id: int | None = None


@dataclass
class _Job:
    """One file on its way."""

    name: str
    path: Path
    n_bytes: int
    n_got: int
    state: JobState
    touched_s: float
    is_running: bool = False


class TakingIn:
    """Files on their way into the log.

    Parameters
    ----------
    folder : Path, optional
        Where they are kept; a folder of the player's data if not given.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder
        self._jobs: dict[str, _Job] = {}
        self._lock = threading.Lock()

    def begin(self, name: str, n_bytes: int) -> str:
        """Return the key of a new file, once its name and size are found good.

        Parameters
        ----------
        name : str
            As the browser has it; only its end and plain letters of it are used.
        n_bytes : int
            How long it is.

        Raises
        ------
        DashboardError
            If it cannot be taken in; one sentence says why.
        """
        shown = PurePath(name.replace("\\", "/")).name[-LONGEST_NAME:]
        suffix = PurePath(shown).suffix.lower()
        if suffix not in SUFFIXES:
            raise DashboardError(say.NOT_A_FILE.format(name=shown, suffixes=" or ".join(SUFFIXES)))
        if n_bytes <= 0:
            raise DashboardError(say.EMPTY.format(name=shown))
        if n_bytes > MAX_FILE_BYTES:
            size, most = n_bytes / _MB, MAX_FILE_BYTES // _MB
            raise DashboardError(say.TOO_LARGE.format(name=shown, size=size, most=most))
        with self._lock:
            self._drop_stale()
            if sum(not job.state.is_over for job in self._jobs.values()) >= MOST_JOBS:
                raise DashboardError(say.TOO_MANY.format(n=MOST_JOBS))
            key = secrets.token_urlsafe(16)
            path = self._place() / f"{_plain(shown)}-{secrets.token_hex(4)}{suffix}"
            state = JobState(say.SENDING.format(share=0), 0.0)
            self._jobs[key] = _Job(shown, path, n_bytes, 0, state, time.monotonic())
            return key

    def add(self, key: str, at: int, part: bytes) -> None:
        """Add a part of a file where the one before it ended.

        Parameters
        ----------
        key : str
            From :meth:`begin`.
        at : int
            Where in the file the part belongs.
        part : bytes
            At most ``PART_BYTES``.

        Raises
        ------
        DashboardError
            If the file is not known, the part is out of order, or the disk is full.
        """
        with self._lock:
            job = self._known(key)
            if at != job.n_got or len(part) > PART_BYTES or at + len(part) > job.n_bytes:
                self._forget(key)
                raise DashboardError(say.OUT_OF_ORDER)
            try:
                with job.path.open("ab") as stream:
                    stream.write(part)
            except OSError as fault:
                self._forget(key)
                raise DashboardError(say.NO_ROOM.format(why=fault.strerror)) from fault
            job.n_got += len(part)
            job.touched_s = time.monotonic()

    def start(self, key: str, log: PracticeLog, series_id: int) -> None:
        """Analyse a file that came whole, in a thread, and keep its strokes in a series.

        Parameters
        ----------
        key : str
            From :meth:`begin`.
        log : PracticeLog
            Where to.
        series_id : int
            What its strokes belong to.

        Raises
        ------
        DashboardError
            If the file is not known or not whole.
        """
        refuse_lookers()
        with self._lock:
            job = self._known(key)
            if job.n_got != job.n_bytes:
                self._forget(key)
                raise DashboardError(say.BROKEN_OFF)
            job.is_running = True
            job.state = JobState(say.READING.format(name=job.name), 0.1)
        thread = threading.Thread(
            target=_take_in, args=(job, log, series_id), name="taking-in", daemon=True
        )
        thread.start()

    def state(self, key: str) -> JobState:
        """Return how far a file is; one that is not known is over."""
        job = self._jobs.get(key)
        return JobState(say.LOST, 0.0, is_over=True, is_fault=True) if job is None else job.state

    def _known(self, key: str) -> _Job:
        """Return a file that still comes in; the lock is held."""
        job = self._jobs.get(key)
        if job is None or job.is_running:
            raise DashboardError(say.LOST)
        return job

    def _forget(self, key: str) -> None:
        """Throw away what came of a file; the lock is held."""
        self._jobs.pop(key).path.unlink(missing_ok=True)

    def _drop_stale(self) -> None:
        """Forget files that were given up, and those long over; the lock is held."""
        old_s = time.monotonic() - STALE_S
        for key, job in list(self._jobs.items()):
            if job.touched_s < old_s and not job.is_running:
                self._forget(key)
            elif job.state.is_over and job.touched_s < old_s:
                del self._jobs[key]  # what was kept belongs to the log now

    def _place(self) -> Path:
        """Return the folder, made where it is not there yet."""
        folder = self._folder or data_folder() / FOLDER
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as fault:
            raise DashboardError(say.NO_ROOM.format(why=fault.strerror)) from fault
        return folder


def _take_in(job: _Job, log: PracticeLog, series_id: int) -> None:
    """Read, analyse and keep one file; whatever goes wrong is said, and then nothing is kept."""
    try:
        job.state = _kept(job, log, series_id)
    except (SensorError, SignalError, PracticeError) as fault:
        # the path of the copy means nothing to whoever chose the file
        words = str(fault).replace(str(job.path), job.name).replace(job.path.name, job.name)
        job.state = JobState(words, 1.0, is_over=True, is_fault=True)
    except Exception:
        _logger.exception("taking in %s failed", job.path)
        words = say.UNEXPECTED.format(name=job.name)
        job.state = JobState(words, 1.0, is_over=True, is_fault=True)
    finally:
        job.touched_s = time.monotonic()
        if job.state.shot_id is None:
            job.path.unlink(missing_ok=True)


def _kept(job: _Job, log: PracticeLog, series_id: int) -> JobState:
    """Return what became of a file."""
    from cue_sensors.load import load_recording  # heavy
    from cue_signal.analysis import analyse

    log.series(series_id)  # refuses one that is not there before anything is kept
    with job.path.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
    if any(one.sha256 == digest for one in log.recordings()):
        raise PracticeError(say.KNOWN)
    recording = load_recording(job.path)
    time_s = recording.samples.time_s
    minutes = f"{(time_s[-1] - time_s[0]) / 60.0:.1f}" if len(time_s) else "0"
    job.state = JobState(say.FINDING.format(name=job.name, minutes=minutes), 0.4)
    strokes = analyse(recording).strokes
    if not strokes:
        raise PracticeError(say.NO_STROKE.format(name=job.name))
    job.state = JobState(say.KEEPING.format(n=len(strokes)), 0.9)
    entry = log.add_recording(job.path, recording=recording)
    shots = log.add_strokes(entry.recording_id, series_id, strokes)
    said = say.KEPT_ONE if len(shots) == 1 else say.KEPT
    words = said.format(n=len(shots), name=job.name)
    return JobState(words, 1.0, is_over=True, shot_id=shots[0].shot_id)


def _plain(name: str) -> str:
    """Return the stem of a file's name with nothing in it that a path could mind."""
    stem = PurePath(name).stem
    return "".join(one if one.isalnum() and one.isascii() else "-" for one in stem) or "file"
