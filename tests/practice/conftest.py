import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from cue_practice.log import PracticeLog
from cue_practice.tables import Base
from cue_practice.views import Series
from cue_signal.stroke import Stroke, StrokeFlag, StrokeTrace
from cue_table.setup import FULL_SIZE, SetUp

EVENING_UTC = datetime(2026, 3, 4, 18, 30, tzinfo=UTC)


@pytest.fixture
def setup() -> SetUp:
    """A set-up of our own, full-size table, landing area to the left of the object ball."""
    return SetUp(
        name="Long lane",
        table=FULL_SIZE,
        white_m=(0.889, 2.0),
        object_ball_m=(1.1, 2.6),
        pocket="top_right",
        next_ball_m=(0.4, 1.2),
        landing_area_m=((0.2, 2.0), (0.9, 2.0), (0.9, 2.9), (0.2, 2.9)),
    )


@pytest.fixture(scope="session")
def empty_log_file(tmp_path_factory) -> Path:
    """A migrated log with nothing in it, copied for each test: migrating takes its time."""
    file = tmp_path_factory.mktemp("empty") / "log.sqlite3"
    PracticeLog(file).close()
    return file


ON_BOTH = {
    "test_log",
    "test_lessons",
    "test_sensor_entries",
    "test_frames",
    "test_series_kept",
    "test_two_programs",
}
"""Modules whose tests run on SQLite and on PostgreSQL."""


def pytest_generate_tests(metafunc) -> None:
    """Give every test of these modules that needs a log one of each kind."""
    if Path(metafunc.module.__file__).stem in ON_BOTH and "log_url" in metafunc.fixturenames:
        metafunc.parametrize("log_url", ["sqlite", "postgresql"], indirect=True)


@dataclass(frozen=True)
class Cluster:
    """A PostgreSQL server of our own, reached by a socket in its folder."""

    folder: Path
    programs: Path

    def url(self, database: str, user: str = "postgres") -> str:
        """Return the address of one of its databases."""
        return f"postgresql+psycopg://{user}@/{database}?host={self.folder}"

    def run(self, program: str, *arguments: str) -> None:
        """Run one of PostgreSQL's programs as somebody who may: it refuses to be root."""
        command = [str(self.programs / program), *arguments]
        if os.geteuid() == 0:
            command = ["runuser", "-u", "postgres", "--", *command]
        done = subprocess.run(command, capture_output=True, text=True, cwd=self.folder)
        if done.returncode:
            raise RuntimeError(f"{program}: {done.stdout}{done.stderr}")

    def control(self, what: str) -> None:
        """Start, stop or restart the server; nothing it writes needs to outlast the tests."""
        fast = "fsync=off", "synchronous_commit=off", "full_page_writes=off", "shared_buffers=16MB"
        settings = (*fast, "listen_addresses=", f"unix_socket_directories={self.folder}")
        options = " ".join(f"-c {one}" for one in settings)
        data, log = str(self.folder / "data"), str(self.folder / "server.log")
        how = ["-m", "immediate"] if what != "start" else []
        self.run("pg_ctl", "-w", "-s", "-D", data, "-l", log, "-o", options, *how, what)

    def sql(self, text: str, database: str = "postgres") -> None:
        """Run one statement outside of any transaction."""
        import psycopg

        with psycopg.connect(
            f"host={self.folder} user=postgres dbname={database}", autocommit=True
        ) as connection:
            connection.execute(text)  # pyright: ignore[reportArgumentType]


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A PostgreSQL server from Debian's packages, started once and only when a test needs it."""
    pytest.importorskip("psycopg")
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if not found:
        pytest.skip("there is no PostgreSQL here: apt-get install postgresql")
    # a short path: the name of a socket has at most 107 characters
    with tempfile.TemporaryDirectory(prefix="stunpace-pg-") as folder:
        if os.geteuid() == 0:
            shutil.chown(folder, "postgres")
        server = Cluster(Path(folder), found[-1].parent)
        data = str(server.folder / "data")
        server.run("initdb", "-D", data, "-U", "postgres", "-A", "trust", "-E", "UTF8",
                   "--locale=C", "--no-sync")  # fmt: skip
        server.control("start")
        try:
            server.sql("CREATE DATABASE log")
            PracticeLog(server.url("log")).close()
            yield server
        finally:
            server.control("stop")


@pytest.fixture
def postgres_url(cluster) -> str:
    """The address of an empty log on PostgreSQL: emptied, ten times as quick as made anew."""
    tables = ", ".join(f'"{table.name}"' for table in Base.metadata.sorted_tables)
    cluster.sql(f"TRUNCATE {tables} RESTART IDENTITY", "log")
    return cluster.url("log")


@pytest.fixture
def log_url(request, tmp_path, empty_log_file) -> str | Path:
    """Where an empty log is: SQLite unless a test asks for the other."""
    if getattr(request, "param", "sqlite") == "postgresql":
        return request.getfixturevalue("postgres_url")
    shutil.copy(empty_log_file, tmp_path / "log.sqlite3")
    return tmp_path / "log.sqlite3"


@pytest.fixture
def log(log_url) -> Iterator[PracticeLog]:
    with PracticeLog(log_url) as opened:
        yield opened


@dataclass(frozen=True)
class Bench:
    """A log with a player, a cue, a table, a set-up, a series and a recording."""

    log: PracticeLog
    series: Series
    recording_id: int
    make_stroke: Callable[..., Stroke]

    def add(self, *strokes: Stroke, series_id: int | None = None):
        """Enter strokes and return their shots."""
        return self.log.add_strokes(self.recording_id, series_id or self.series.series_id, strokes)

    def play(self, *paces_and_grades: tuple[float, str | None], start_s: float = 10.0):
        """Enter shots of these paces, tap their grades and return them."""
        strokes = [
            self.make_stroke(start_s + 20.0 * k, tip_speed_m_s=pace)
            for k, (pace, _) in enumerate(paces_and_grades)
        ]
        shots = self.add(*strokes)
        for shot, (_, grade) in zip(shots, paces_and_grades, strict=True):
            if grade is not None:
                self.log.set_result(shot.shot_id, grade=grade)
        return [self.log.shot(shot.shot_id) for shot in shots]

    def another_series(self, **changed) -> Series:
        """Begin another series, with some settings changed."""
        kept = {
            name: getattr(self.series, name)
            for name in ("player_id", "cue_id", "table_id", "setup_id", "tip_below_centre_m")
        }
        return self.log.add_series(**(kept | changed))


@pytest.fixture
def make_stroke() -> Callable[..., Stroke]:
    """Return a function that makes a stroke at a time, any measure of it changed by name."""

    def make(impact_time_s: float, **changed) -> Stroke:
        time_s = impact_time_s + np.linspace(-2.0, 0.5, 501)
        trace = StrokeTrace(
            time_s=time_s, speed_m_s=np.cos(time_s), accel_m_s2=-np.sin(time_s),
            tip_lateral_m=np.sin(time_s) * 1e-3,
        )  # fmt: skip
        values = {
            "impact_time_s": impact_time_s,
            "backswing_start_s": impact_time_s - 1.4,
            "rear_s": impact_time_s - 0.9,
            "delivery_start_s": impact_time_s - 0.4,
            "follow_through_end_s": impact_time_s + 0.4,
            "tip_speed_m_s": 2.0,
            "tip_speed_sd_m_s": 0.02,
            "peak_speed_m_s": 2.02,
            "peak_time_s": impact_time_s - 0.01,
            "accel_at_hit_m_s2": 0.5,
            "accel_at_hit_sd_m_s2": 0.4,
            "speed_lost_m_s": 0.02,
            "slowing_probability": 0.1,
            "level_probability": 0.7,
            "backswing_m": 0.22,
            "backswing_sd_m": 0.01,
            "rear_pause_s": 0.3,
            "delivery_s": 0.4,
            "follow_through_m": 0.15,
            "feathers": 3,
            "smoothness": None,
            "tip_lateral_m": -0.001,
            "flags": frozenset({StrokeFlag.CLIPPED_HIT, StrokeFlag.NO_TIP_DISTANCE}),
            "trace": trace,
        }
        return Stroke(**(values | changed))

    return make


@pytest.fixture
def bench(log, setup, make_stroke, tmp_path) -> Bench:
    player = log.add_player("Heron")
    cue = log.add_cue("ash", player_id=player.player_id)
    table = log.add_table("Attic table")
    entry = log.add_setup(setup, table.table_id)
    series = log.add_series(
        player.player_id, cue.cue_id, table.table_id, entry.setup_id, 0.0095,
        started_utc=EVENING_UTC,
    )  # fmt: skip
    file = tmp_path / "evening.mcap"
    file.write_bytes(b"not read here")
    recording = log.add_recording(file, start_utc=EVENING_UTC)
    return Bench(log, series, recording.recording_id, make_stroke)
