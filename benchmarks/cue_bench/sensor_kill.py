"""Recordings whose program was killed: what is left of them, and whether it is right."""

import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from cue_recordings import data_folder
from cue_sensors.errors import SensorError
from cue_sensors.recording import read_notifications
from cue_sensors.rig.private_bus import BUS_VARIABLE
from cue_sensors.space import close_left_open, left_open

MAIN: Final = "from cue_dashboard.cli import main; main()"
PATIENCE_S: Final = 60.0


@dataclass(frozen=True)
class Left:
    """What many killed recordings left.

    Parameters
    ----------
    n, n_open, n_in_order, n_closed : int
        Kills; recordings that open; those that hold a stretch of what was sent, byte for byte;
        those that could be closed afterwards with the same content.
    worst_missing_s : float
        Longest time between the last packet kept and the kill.
    """

    n: int
    n_open: int
    n_in_order: int
    n_closed: int
    worst_missing_s: float


def kill_record(n: int, *, seed: int) -> Left:
    """Start ``stunpace record`` on the rig and kill it at a random moment, many times.

    Parameters
    ----------
    n : int
        How often.
    seed : int
        Of the moments.

    Returns
    -------
    Left
        What was left.
    """
    rng = np.random.default_rng(seed)
    played = sorted(data_folder().glob("*.mcap"))[0]
    sent = [data for _, data in read_notifications(played).notifications]
    n_open = n_in_order = n_closed = 0
    worst_s = 0.0
    with tempfile.TemporaryDirectory(prefix="k-") as name, _rehearsal(played) as bus:
        folder = Path(name)
        for i in range(n):
            path = folder / f"{i}.mcap"
            killed_ns = _killed(path, bus, float(rng.uniform(0.0, 3.0)))
            try:
                raw = read_notifications(path)
            except SensorError:
                continue
            n_open += 1
            kept = [data for _, data in raw.notifications]
            n_in_order += _is_stretch(kept, sent)
            worst_s = max(worst_s, (killed_ns - raw.notifications[-1][0]) * 1e-9)
        for path in left_open(folder):
            before = read_notifications(path).notifications
            close_left_open(path)
            after = read_notifications(path)
            n_closed += after.notifications == before and not after.problems
    return Left(n, n_open, n_in_order, n_closed, worst_s)


def _is_stretch(kept: list[bytes], sent: list[bytes]) -> bool:
    """Return whether what was kept is a stretch of what was sent over and over."""
    if not kept or kept[0] not in sent:
        return False
    first = sent.index(kept[0])
    return all(data == sent[(first + i) % len(sent)] for i, data in enumerate(kept))


def _killed(path: Path, bus: str, after_s: float) -> int:
    """Record, kill it so long after its first packet, and return when, in ns since 1970."""
    command = [sys.executable, "-c", MAIN, "record", "--kind", "stroke_stream", "--out", str(path)]
    with subprocess.Popen(
        command,
        env={**os.environ, BUS_VARIABLE: bus},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as process:
        end_s = time.monotonic() + PATIENCE_S
        while not _has_packets(path) and time.monotonic() < end_s:
            time.sleep(0.01)
        time.sleep(after_s)
        killed_ns = time.time_ns()
        process.send_signal(signal.SIGKILL)
    return killed_ns


def _has_packets(path: Path) -> bool:
    """Return whether a recording holds anything yet."""
    try:
        return len(read_notifications(path).notifications) > 0
    except SensorError:
        return False


@contextmanager
def _rehearsal(path: Path) -> Iterator[str]:
    """Play a recording over and over; yield the address of its bus."""
    command = [sys.executable, "-c", MAIN, "rehearse", str(path), "--loop"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as player:
        try:
            bus = ""
            for line in player.stdout or ():
                found = re.search(rf"{BUS_VARIABLE}=(\S+)", line)
                bus = found.group(1) if found else bus
                if "Ctrl-C" in line:
                    break
            yield bus
        finally:
            player.send_signal(signal.SIGTERM)
