"""Backup, restore and reanalysis as commands."""

import json
import shutil
import sqlite3
import sys
from contextlib import closing

import pytest

from cue_dashboard.cli import main
from cue_practice.evening_file import read_evening
from cue_practice.log import PracticeLog
from cue_recordings import data_folder
from cue_sensors.csv_file import write_csv
from cue_sensors.load import load_recording
from cue_signal.analysis import analyse
from cue_table.setup import SetUp


@pytest.fixture
def run(monkeypatch, capsys, tmp_path):
    """Return a function that runs the command line and returns (exit code, stdout, stderr)."""
    monkeypatch.delenv("STUNPACE_DATABASE", raising=False)

    def call(*arguments, data="mine"):
        monkeypatch.setenv("STUNPACE_DATA", str(tmp_path / data))
        monkeypatch.setattr(sys, "argv", ["stunpace", *map(str, arguments)])
        with pytest.raises(SystemExit) as end:
            main()
        streams = capsys.readouterr()
        return end.value.code or 0, streams.out, streams.err

    return call


@pytest.fixture
def log_file(a_practice_log, tmp_path):
    """A log of one recording, measured by an older method that called the first pace 1 m/s."""
    file = tmp_path / "mine" / "practice-log.sqlite3"
    file.parent.mkdir()
    shutil.copy(a_practice_log, file)
    return file


@pytest.fixture(scope="module")
def a_practice_log(tmp_path_factory):
    """Such a log, made once."""
    folder = tmp_path_factory.mktemp("kept")
    (recording,) = data_folder().glob("5-*.mcap")
    csv = folder / "short.csv"
    write_csv(load_recording(recording).samples.between(0.0, 33.0), csv)
    entry = read_evening(data_folder()).setups[0]
    with PracticeLog(folder / "log.sqlite3") as log:
        table = log.add_table("Attic table")
        setup = log.add_setup(_setup(entry, table), table.table_id)
        player, cue = log.add_player("Heron"), log.add_cue("ash")
        series = log.add_series(
            player.player_id, cue.cue_id, table.table_id, setup.setup_id, 0.0095
        )
        strokes = analyse(load_recording(csv)).strokes
        kept = log.add_recording(csv)
        for shot in log.add_strokes(kept.recording_id, series.series_id, strokes):
            log.set_result(shot.shot_id, grade="right")
    with closing(sqlite3.connect(folder / "log.sqlite3")) as connection:
        connection.execute("UPDATE stroke SET method_version = '0'")
        connection.execute("UPDATE stroke SET tip_speed_m_s = 1.0 WHERE stroke_id = 1")
        connection.commit()
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return folder / "log.sqlite3"


def _setup(entry, table):
    return SetUp(
        name=entry.name, table=table.size, white_m=entry.white_m,
        object_ball_m=entry.object_ball_m, pocket=entry.pocket, next_ball_m=entry.next_ball_m,
        landing_area_m=entry.landing_area_m,
    )  # fmt: skip


def test_a_backup_is_restored_into_another_data_folder(run, log_file, tmp_path):
    code, out, _ = run("backup", tmp_path / "all.json")
    assert (code, out.startswith("3 shots, ")) == (0, True)
    assert json.loads((tmp_path / "all.json").read_text(encoding="utf-8"))["rows"] > 10
    code, out, _ = run("restore", tmp_path / "all.json", data="yours")
    assert (code, out.startswith("3 shots, ")) == (0, True)
    code, _, err = run("restore", tmp_path / "all.json", data="yours")
    assert (code, "already holds something" in err) == (1, True)


def test_a_backup_does_not_replace_a_file_unless_told_to(run, log_file, tmp_path):
    (tmp_path / "all.json").write_text("kept")
    code, _, err = run("backup", tmp_path / "all.json")
    assert (code, "already a file" in err) == (1, True)
    assert (tmp_path / "all.json").read_text() == "kept"
    assert run("backup", tmp_path / "all.json", "--overwrite")[0] == 0


def test_a_file_that_is_no_backup_is_one_sentence(run, log_file, tmp_path):
    (tmp_path / "notes.json").write_text("[]")
    code, out, err = run("restore", tmp_path / "notes.json", data="yours")
    assert (code, out) == (1, "")
    assert "is no backup of a practice log" in err
    assert "Traceback" not in err


def test_reanalysis_says_what_would_move_then_moves_it(run, log_file):
    code, tried, _ = run("reanalyse", "--dry-run", "--cores", "1")
    assert (code, "1 recording would be brought to method" in tried) == (0, True)
    code, done, _ = run("reanalyse", "--cores", "1")
    assert done == tried.replace("would be brought", "brought")
    (row,) = [line.split() for line in done.splitlines() if "pace, m/s" in line]
    assert row[2:4] == ["3", "1"]  # three strokes, one moved
    assert float(row[4]) == pytest.approx(load_speed(log_file) - 1.0, abs=1e-3)
    code, out, _ = run("reanalyse")
    assert (code, out.startswith("Every stroke is up to date with method")) == (0, True)


def load_speed(file):
    with PracticeLog(file) as log:
        return log.shot(1).stroke.tip_speed_m_s


def test_a_recording_that_is_gone_is_named_and_nothing_lost(run, log_file):
    with closing(sqlite3.connect(log_file)) as connection:
        connection.execute("UPDATE recording SET path = '/nowhere/short.csv'")
        connection.commit()
    code, _, err = run("reanalyse", "--cores", "1")
    assert code == 1
    assert "not analysed: /nowhere/short.csv cannot be read: No such file" in err
    assert load_speed(log_file) == 1.0
