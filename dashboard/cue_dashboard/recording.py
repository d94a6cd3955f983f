"""A recording as it is watched in a terminal: a line that is kept up, or plain lines in a pipe."""

import re
import shutil
import sys
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import click

from cue_practice.live import LiveSession, LiveSource, LiveState, LiveStatus
from cue_sensors.errors import RecordingError, SensorError
from cue_sensors.space import free_space_problem

LINE_EVERY_S: Final = 0.25
"""A line in a terminal is written anew so often."""
PLAIN_EVERY_S: Final = 10.0
"""A plain line at least so often; one more for each stroke and each change of state."""
LOW_BATTERY_PERCENT: Final = 15


@dataclass(frozen=True)
class Watched:
    """What is recorded, where to, and how long.

    Parameters
    ----------
    source : LiveSource
        The sensor.
    path : Path
        File to write.
    seconds : float or None
        Stop so long after the first data; None goes on until interrupted.
    wait_s : float
        Give up if no data came in so long.
    """

    source: LiveSource
    path: Path
    seconds: float | None = None
    wait_s: float = 60.0


def out_path(wanted: Path | None) -> Path:
    """Return where to record to, refused before anything is played if that cannot work.

    Parameters
    ----------
    wanted : Path or None
        File; None names one for the time, in the current folder.

    Raises
    ------
    RecordingError
        If there is such a file, no such folder, or no permission.
    """
    path = wanted or Path(f"stunpace {datetime.now(UTC):%Y-%m-%dT%H-%M-%SZ}.mcap")
    problem, remedy = "There is already a file of that name.", "Choose a name that is free."
    try:
        path.touch(exist_ok=False)
        path.unlink()
    except FileExistsError:
        pass
    except FileNotFoundError:
        problem, remedy = "The folder does not exist.", "Create it, or choose another one."
    except OSError as error:
        problem = f"Writing here fails ({error.strerror or error})."
        remedy = "Choose a folder that you may write to."
    else:
        return path
    raise RecordingError(str(path), "", problem, remedy)


def watch(watched: Watched) -> None:
    """Record until interrupted, the time is up or the source ends, and show how it stands.

    Parameters
    ----------
    watched : Watched
        What to record.

    Raises
    ------
    SensorError
        If no data came, or the source failed.
    """
    room = free_space_problem(watched.path.absolute().parent)
    if room:
        click.echo(f"note: {room}", err=True)
    session = LiveSession(None, watched.source, path=watched.path)
    line = _Line()
    session.start()
    try:
        _until_over(session, watched, line)
    finally:
        session.stop()
        line.end()
        _sum_up(session.status(), watched)
    _check(session.status(), watched)


def status_words(status: LiveStatus) -> str:
    """Return how a recording stands in one line.

    Parameters
    ----------
    status : LiveStatus
        Of the session.

    Returns
    -------
    str
        Rate, battery, signal, samples, loss and strokes as far as they are known, then words.
    """
    words = status.problem
    if not status.is_connected or not status.n_samples:
        words = status.words
    return _facts(status) + (f" | {words}" if words else "")


def _facts(status: LiveStatus) -> str:
    """Return the numbers of a recording as far as they are known."""
    parts = [f"{status.rate_hz:.0f} Hz"] if status.rate_hz else []
    if status.battery_percent is not None:
        is_low = status.battery_percent <= LOW_BATTERY_PERCENT
        parts.append(f"battery {status.battery_percent} %{', charge it' if is_low else ''}")
    if status.signal_dbm is not None:
        parts.append(f"signal {status.signal_dbm} dBm")
    parts += [f"{status.n_samples} samples", f"{status.n_lost} lost", _strokes(status)]
    return ", ".join(parts)


def _strokes(status: LiveStatus) -> str:
    """Return the number of strokes and the last one's pace."""
    one = status.last_stroke
    last = f", last {one.tip_speed_m_s:.2f} ± {one.tip_speed_sd_m_s:.2f} m/s" if one else ""
    return f"{status.n_strokes} strokes{last}"


def _until_over(session: LiveSession, watched: Watched, line: "_Line") -> None:
    """Show the session until it is over."""
    begin_s = time.monotonic()
    first_s: float | None = None
    while True:
        status = session.status()
        line.show(status)
        now_s = time.monotonic()
        if status.n_packets and first_s is None:
            first_s = now_s
        if status.state not in (LiveState.STARTING, LiveState.RUNNING):
            return
        if first_s is None and now_s - begin_s > watched.wait_s:
            return
        if first_s is not None and watched.seconds and now_s - first_s >= watched.seconds:
            return
        time.sleep(min(0.1, LINE_EVERY_S))


def _sum_up(status: LiveStatus, watched: Watched) -> None:
    """Say what was recorded."""
    if status.recording_path is None or not status.n_packets:
        return
    click.echo(f"Recorded in {status.recording_path}: {_facts(status)}.")
    click.echo(f'To see the strokes: stunpace strokes "{status.recording_path}"')


def _check(status: LiveStatus, watched: Watched) -> None:
    """Raise what kept a recording from being made."""
    if status.state is LiveState.FAILED or "could not be kept" in status.problem:
        raise SensorError(status.problem)
    if not status.n_packets:
        raise SensorError(
            f"No data came within {watched.wait_s:g} s. {_last_words(watched.source)}".strip()
        )


def _last_words(source: LiveSource) -> str:
    """Return what a source said last before it was closed."""
    return str(getattr(source, "last_problem", ""))


class _Line:
    """Shows a status again and again: in place in a terminal, as plain lines elsewhere."""

    def __init__(self) -> None:
        self._is_terminal = sys.stderr.isatty()
        self._shown_s = -PLAIN_EVERY_S
        self._key: tuple[object, ...] = ()

    def show(self, status: LiveStatus) -> None:
        """Show a status if it is time to, or something happened."""
        now_s = time.monotonic()
        said = re.sub(r"\d+", "", status.words)  # a count that grows is no news
        key = (status.state, said, status.n_strokes, status.is_connected)
        every_s = LINE_EVERY_S if self._is_terminal else PLAIN_EVERY_S
        if key == self._key and now_s - self._shown_s < every_s:
            return
        self._key, self._shown_s = key, now_s
        words = status_words(status)
        if self._is_terminal:
            width = shutil.get_terminal_size().columns - 1
            words = "\r" + words[:width].ljust(width)
        click.echo(words, err=True, nl=not self._is_terminal)

    def end(self) -> None:
        """Leave the line."""
        if self._is_terminal:
            click.echo("", err=True)
