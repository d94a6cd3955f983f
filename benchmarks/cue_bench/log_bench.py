"""How quickly a long log is read and written: ``python -m cue_bench.log_bench``.

Each reading is timed beside bare sqlite3 running the very same statements and fetching the very
same rows, in the same run and in turn; the ratio is what our layer costs. Processor time counts
there, so that other programs do not. Writing is timed by the clock, since it waits for the disk,
beside a bare transaction of one row with the same safe settings.
"""

import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import click
import numpy as np
from rich.console import Console
from rich.table import Table
from sqlalchemy import event, insert

from cue_bench.long_log import FIRST_UTC
from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_practice.rows import MEASURES
from cue_practice.tables import Base, RecordingRow, SeriesRow, ShotRow, StrokeRow
from cue_table.setup import FULL_SIZE, SetUp

N_PLAYERS = 20
SHOTS_PER_SERIES = 10
SERIES_PER_RECORDING = 10
AT_ONCE = 10_000


@dataclass(frozen=True)
class Reading:
    """One way of reading the log: what it is for, and the call."""

    name: str
    call: Callable[[PracticeLog], Any]


READINGS = (
    Reading("count, all", lambda log: log.count_shots()),
    Reading("count, one player", lambda log: log.count_shots(player_id=3)),
    Reading("page of 50, all", lambda log: log.shots(newest=50)),
    Reading("page of 50, one player", lambda log: log.shots(newest=50, player_id=3)),
    Reading("page of 50, deep", lambda log: log.shots(newest=50, offset=50_000)),
    Reading("shots of one series", lambda log: log.shots(series_id=77)),
    Reading("numbers of one player's shots", lambda log: log.shot_ids(player_id=3)),
    Reading("one shot", lambda log: log.shot(4_321)),
    Reading("newest 20 series", lambda log: log.all_series(newest=20)),
    Reading("one player's series", lambda log: log.all_series(player_id=3)),
    Reading("all series", lambda log: log.all_series()),
    Reading("sums of one player's series", lambda log: log.series_frame(player_id=3)),
    Reading(
        "frame of 5 columns, one player",
        lambda log: log.shots_frame(
            player_id=3,
            columns=("shot_id", "struck_utc", "tip_speed_m_s", "grade", "slowing_probability"),
        ),
    ),
    Reading("frame, all columns, newest 10,000", lambda log: log.shots_frame(newest=10_000)),
    Reading("shots, newest 10,000", lambda log: log.shots(newest=10_000)),
    Reading("history, newest 50", lambda log: log.history(newest=50)),
)


def fill_quickly(log: PracticeLog, n_shots: int, *, seed: int = 1) -> None:
    """Fill an empty log with invented shots in a few large transactions.

    Parameters
    ----------
    log : PracticeLog
        An empty log.
    n_shots : int
        How many; rounded up to whole recordings.
    seed : int
        Of the draws.
    """
    table = log.add_table("Window table")
    setups = [log.add_setup(_setup(k), table.table_id).setup_id for k in range(4)]
    players = [log.add_player(f"Player {k}").player_id for k in range(N_PLAYERS)]
    cues = [log.add_cue("ash", player_id=player).cue_id for player in players]
    rng = np.random.default_rng(seed)
    for start in range(0, n_shots, AT_ONCE):
        rows = _rows(rng, start, min(AT_ONCE, n_shots - start), players, cues, setups)
        with log._write() as session:
            for kind, some in rows.items():
                session.execute(insert(kind), some)


def _rows(
    rng: np.random.Generator,
    start: int,
    n: int,
    players: list[int],
    cues: list[int],
    setups: list[int],
) -> dict[type[Base], list[dict[str, Any]]]:
    """Return rows of shots ``start`` and on, with everything they hang on."""
    found: dict[type[Base], list[dict[str, Any]]] = {
        kind: [] for kind in (RecordingRow, SeriesRow, StrokeRow, ShotRow)
    }
    pace = rng.uniform(1.2, 3.2, n)
    for k in range(n):
        shot = start + k
        series, place = divmod(shot, SHOTS_PER_SERIES)
        recording = series // SERIES_PER_RECORDING
        begun = FIRST_UTC + timedelta(hours=recording)
        if shot % (SHOTS_PER_SERIES * SERIES_PER_RECORDING) == 0:
            found[RecordingRow].append(
                {"recording_id": recording + 1, "path": f"/r/{recording}", "name": f"{recording}",
                 "start_utc": begun, "sensor_kind": "made up", "sensor_name": "made up",
                 "added_utc": begun}
            )  # fmt: skip
        at_s = 300.0 * (series % SERIES_PER_RECORDING) + 25.0 * place
        if place == 0:
            who = recording % N_PLAYERS
            found[SeriesRow].append(
                {"series_id": series + 1, "player_id": players[who], "cue_id": cues[who],
                 "table_id": 1, "setup_id": setups[series % 4],
                 "tip_below_centre_m": (0.0095, 0.007)[series % 2], "side_m": 0.0,
                 "called_pace_m_s": 2.0 if series % 3 else None,
                 "started_utc": begun + timedelta(seconds=at_s),
                 "ended_utc": begun + timedelta(seconds=at_s + 260), "conditions": "", "cloth": "",
                 "note": "", "is_discarded": False}
            )  # fmt: skip
        found[StrokeRow].append(_stroke(shot + 1, recording + 1, at_s, float(pace[k])))
        struck = begun + timedelta(seconds=at_s)
        found[ShotRow].append(
            {"shot_id": shot + 1, "series_id": series + 1, "stroke_id": shot + 1,
             "struck_utc": struck, "grade": list(Grade)[shot % 3].value, "is_potted": shot % 5 > 0,
             "tapped_utc": struck, "note": "", "is_discarded": shot % 50 == 7, "broken_rule": None,
             "is_mark_new": False}
        )  # fmt: skip
    return found


def _stroke(stroke_id: int, recording_id: int, at_s: float, pace: float) -> dict[str, Any]:
    """Return a stroke's row; the measures nobody filters by are all alike."""
    return {
        **dict.fromkeys(MEASURES, 0.25),
        "stroke_id": stroke_id,
        "recording_id": recording_id,
        "method_version": "1",
        "impact_time_s": at_s,
        "tip_speed_m_s": pace,
        "feathers": 3,
        "flags": "clipped_hit",
    }


def _setup(number: int) -> SetUp:
    """Return a set-up of our own."""
    return SetUp(
        name=f"Lane {number}",
        table=FULL_SIZE,
        white_m=(0.7, 2.1),
        object_ball_m=(1.25, 2.7),
        pocket="top_right",
        next_ball_m=(0.5, 3.2),
        landing_area_m=((0.9, 1.9), (1.6, 1.9), (1.6, 2.4), (0.9, 2.4)),
    )


def read_table(log: PracticeLog, file: Path, *, n_times: int) -> Table:
    """Return how long each reading takes, and the same statements by bare sqlite3.

    Parameters
    ----------
    log : PracticeLog
        The log in ``file``.
    file : Path
        An SQLite file.
    n_times : int
        Each is timed this often; the middle one counts.
    """
    table = Table(title=f"Reading a log of {log.count_shots(include_discarded=True):,} shots")
    for name in ("what", "CPU ms", "bare sqlite3 ms", "ratio"):
        table.add_column(name, justify="left" if name == "what" else "right")
    with closing(sqlite3.connect(file)) as bare:
        for reading in READINGS:
            ours_s, bare_s = _timed(log, bare, reading, n_times)
            ratio = f"{ours_s / bare_s:.1f}" if bare_s > 0 else ""
            table.add_row(reading.name, f"{1e3 * ours_s:.1f}", f"{1e3 * bare_s:.1f}", ratio)
    return table


def _timed(
    log: PracticeLog, bare: sqlite3.Connection, reading: Reading, n_times: int
) -> tuple[float, float]:
    """Return the middle times of a reading and of its bare statements, taken in turn."""
    seen: list[tuple[str, Any]] = []

    def note(_connection: Any, _cursor: Any, text: str, values: Any, *_more: Any) -> None:
        if text.startswith("SELECT"):
            seen.append((text, values))

    event.listen(log._engine, "before_cursor_execute", note)
    reading.call(log)
    event.remove(log._engine, "before_cursor_execute", note)
    ours, theirs = [], []
    for _ in range(n_times):
        ours.append(_seconds(lambda: reading.call(log), time.process_time))
        theirs.append(
            _seconds(lambda: [bare.execute(*one).fetchall() for one in seen], time.process_time)
        )
    return float(np.median(ours)), float(np.median(theirs)) if seen else 0.0


def write_table(log: PracticeLog, folder: Path, *, n_times: int) -> Table:
    """Return how long a tap takes until it is on the disk, beside a bare transaction.

    Parameters
    ----------
    log : PracticeLog
        A log that holds shots.
    folder : Path
        For the bare database, on the same disk.
    n_times : int
        Taps timed; the middle one counts.
    """
    with closing(sqlite3.connect(folder / "bare.sqlite3", isolation_level=None)) as bare:
        bare.execute("PRAGMA journal_mode=WAL").fetchone()
        bare.execute("PRAGMA synchronous=FULL")
        bare.execute("CREATE TABLE tap (shot_id INTEGER PRIMARY KEY, grade TEXT)")
        ours, theirs = [], []
        grades = list(Grade)
        for k in range(n_times):
            ours.append(
                _seconds(lambda k=k: log.set_result(k + 1, grade=grades[(k + 1) % 3]))  # type: ignore[misc]
            )
            theirs.append(
                _seconds(lambda k=k: bare.execute("INSERT INTO tap VALUES (?, 'right')", (k,)))  # type: ignore[misc]
            )
    table = Table(title="A tap until it is on the disk")
    for name in ("ours ms", "bare sqlite3 ms", "ratio"):
        table.add_column(name, justify="right")
    ours_s, bare_s = float(np.median(ours)), float(np.median(theirs))
    table.add_row(f"{1e3 * ours_s:.1f}", f"{1e3 * bare_s:.1f}", f"{ours_s / bare_s:.1f}")
    return table


def _seconds(call: Callable[[], Any], clock: Callable[[], float] = time.perf_counter) -> float:
    """Return how long a call takes."""
    start = clock()
    call()
    return clock() - start


@click.command()
@click.option("--shots", "n_shots", default=100_000, show_default=True, help="In the log.")
@click.option("--times", "n_times", default=7, show_default=True, help="Each reading, this often.")
@click.option("--keep", type=click.Path(path_type=Path), help="Keep the log in this new folder.")
def main(n_shots: int, n_times: int, keep: Path | None) -> None:
    """Time reading and writing of a long log against bare sqlite3."""
    console = Console()
    with tempfile.TemporaryDirectory(prefix="stunpace-bench-") as temporary:
        folder = keep or Path(temporary)
        file = folder / "log.sqlite3"
        is_new = not file.exists()
        with PracticeLog(file) as log:
            if is_new:
                console.print(f"filled in {_seconds(lambda: fill_quickly(log, n_shots)):.1f} s")
            console.print(read_table(log, file, n_times=n_times))
            console.print(write_table(log, Path(temporary), n_times=30))


if __name__ == "__main__":
    main()
