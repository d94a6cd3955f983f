"""The command line as a player meets it: rows, JSON, and one sentence when something is wrong."""

import json
import os
import shutil
import sys
from pathlib import Path

import numpy as np
import pytest

from cue_dashboard.cli import main
from cue_recordings import data_folder

SHIPPED = sorted(data_folder().glob("*.mcap"))
JSON_KEYS = [
    "impact_time_s",
    "tip_speed_m_s",
    "tip_speed_sd_m_s",
    "peak_speed_m_s",
    "accel_at_hit_m_s2",
    "slowing_probability",
    "backswing_m",
    "rear_pause_s",
    "delivery_s",
    "tip_lateral_mm",
    "tip_lateral_sd_mm",
    "tip_vertical_mm",
    "follow_through_m",
    "feathers",
    "flags",
    "tempo",
    "speed_lost_m_s",
    "stillness_m_s2",
    "ball_speed_m_s",
    "ball_speed_basis",
]
STEP_S = 0.0005
RATE_HZ = 200


@pytest.fixture
def run(monkeypatch, capsys):
    """Return a function that runs the command line and returns (exit code, stdout, stderr)."""

    def call(*arguments):
        monkeypatch.setattr(sys, "argv", ["stunpace", *map(str, arguments)])
        with pytest.raises(SystemExit) as end:
            main()
        streams = capsys.readouterr()
        return end.value.code or 0, streams.out, streams.err

    return call


def _speed_m_s(paces_m_s):
    """Return (speed at 2 kHz, hit times): rest, swing back, pause, even push, hit, run out."""

    def swing(way_m, time_s):
        share = np.arange(0, 1, STEP_S / time_s)
        return 30 * way_m / time_s * (share * (1 - share)) ** 2  # minimum jerk

    def still(time_s):
        return np.zeros(round(time_s / STEP_S))

    parts, hits_s, n_steps = [still(3.0)], [], round(3.0 / STEP_S)
    for pace in paces_m_s:
        push_s = 2 * 0.22 / pace  # uniform acceleration over 0.22 m
        before = [swing(-0.22, 0.9), still(0.4), np.linspace(0, pace, round(push_s / STEP_S))]
        after = [np.linspace(pace, 0.7 * pace, 3)[1:], np.linspace(0.7 * pace, 0, 600)]
        n_before = n_steps + sum(map(len, before))
        hits_s.append(n_before * STEP_S)
        parts += [*before, *after, still(1.5), swing(-0.1, 1.5), still(2.0)]
        n_steps = sum(map(len, parts))
    return np.concatenate(parts), np.array(hits_s)


@pytest.fixture
def level_cue_csv(tmp_path):
    """Write a cue that only slides along its axis: the sensor's y axis, its z axis up."""
    paces = (0.9, 1.6, 2.4)
    speed, hits_s = _speed_m_s(paces)
    position_m = np.cumsum(speed) * STEP_S
    every = round(1 / RATE_HZ / STEP_S)
    speed = np.diff(position_m[::every], prepend=0.0) * RATE_HZ  # box filter of one sample
    rng = np.random.default_rng(7)
    accel = np.diff(speed, prepend=0.0) * RATE_HZ
    force = np.column_stack([0 * accel, accel, 0 * accel + 9.81])
    force += rng.normal(scale=0.02, size=force.shape)
    rate = rng.normal(scale=0.001, size=force.shape)
    # a box filter and the backward difference each look back half a sample
    time_s = np.arange(len(accel)) / RATE_HZ
    header = "time_s,ax_m_s2,ay_m_s2,az_m_s2,gx_rad_s,gy_rad_s,gz_rad_s"
    path = tmp_path / "level.csv"
    table = np.column_stack([time_s, force, rate])
    np.savetxt(path, table, delimiter=",", header=header, comments="", fmt="%.6f")
    return path, np.array(paces), hits_s


def test_json_rows_give_the_speeds_the_cue_was_given(run, level_cue_csv):
    path, paces, hits_s = level_cue_csv
    code, out, _ = run("strokes", path, "--json", "--cue-axis", "0,1,0")
    rows = json.loads(out)
    assert code == 0
    assert all(set(JSON_KEYS) <= set(row) for row in rows)
    assert all(list(row) == list(rows[0]) for row in rows)
    found = np.array([row["tip_speed_m_s"] for row in rows])
    np.testing.assert_allclose(found, paces, rtol=0.03)  # 2 % is the aim over many strokes
    np.testing.assert_allclose([row["impact_time_s"] for row in rows], hits_s, atol=0.01)


def test_straightness_is_null_without_the_sensors_place(run, level_cue_csv):
    path, *_ = level_cue_csv
    _, out, _ = run("strokes", path, "--json")
    assert {row["tip_lateral_mm"] for row in json.loads(out)} == {None}


def test_straightness_is_small_for_a_cue_that_only_slides(run, level_cue_csv):
    path, *_ = level_cue_csv
    where = ("--sensor-from-butt-m", 0.3, "--cue-length-m", 1.45)
    _, out, _ = run("strokes", path, "--json", "--cue-axis", "0,1,0", *where)
    # noise of 0.001 rad/s over a second, 1.15 m from the tip, is well below a millimetre
    assert all(abs(row["tip_lateral_mm"]) < 3 for row in json.loads(out))


def test_the_table_has_a_row_a_stroke(run, level_cue_csv):
    path, *_ = level_cue_csv
    code, out, _ = run("strokes", path)
    assert code == 0
    assert "3 strokes" in out
    assert sum(" ± " in line for line in out.splitlines()) == 3


def test_a_recording_becomes_the_same_strokes_as_its_csv(run, tmp_path):
    source = SHIPPED[0]
    copy = tmp_path / "copy.csv"
    assert run("to-csv", source, copy)[0] == 0
    _, direct, _ = run("strokes", source, "--json")
    _, by_csv, _ = run("strokes", copy, "--json")
    speeds = [[row["tip_speed_m_s"] for row in json.loads(out)] for out in (direct, by_csv)]
    np.testing.assert_allclose(speeds[1], speeds[0], rtol=0.01)


def test_to_csv_never_overwrites(run, tmp_path):
    there = tmp_path / "there.csv"
    there.write_text("mine")
    code, _, err = run("to-csv", SHIPPED[0], there)
    assert code == 1
    assert "there.csv" in err
    assert there.read_text() == "mine"


HEADER = "time_s,ax_m_s2,ay_m_s2,az_m_s2\n"


def _rows(n, az="9.81", start=0):
    return "".join(f"{i / 200:.4f},0.01,0.02,{az}\n" for i in range(start, start + n))


BAD = {
    "empty": ("", ["bad.csv", "empty"]),
    "text": (HEADER + _rows(500) + "2.5,0.01,abc,9.81\n" + _rows(99, start=501), ["502", "ay"]),
    "backwards": (HEADER + _rows(500) + "1.0,0,0,9.81\n" + _rows(99, start=501), ["502", "time"]),
    "nan": (HEADER + _rows(500) + "2.5,0.01,nan,9.81\n" + _rows(99, start=501), ["502", "ay"]),
    "axis": ("time_s,ax_m_s2,ay_m_s2\n0,0,0\n", ["az"]),
    "unit": ("time_s,ax_furlong,ay_m_s2,az_m_s2\n0,0,0,0\n", ["ax_furlong"]),
    "g": (HEADER + _rows(2000, az="1.001"), ["looks like g"]),
    "header only": (HEADER, ["bad.csv"]),
    "slow": (HEADER + "".join(f"{i / 20},0,0,9.81\n" for i in range(400)), ["20", "50 Hz"]),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_csv_gets_one_sentence_and_exit_code_1(run, tmp_path, case):
    text, words = BAD[case]
    path = tmp_path / "bad.csv"
    path.write_text(text)
    code, out, err = run("strokes", path)
    assert code == 1
    assert out == ""
    assert "bad.csv" in err
    assert "Traceback" not in err
    assert len(err.strip().splitlines()) == 1
    for word in words:
        assert word in err
    assert path.read_text() == text


def test_a_huge_file_is_refused_without_being_read(run, tmp_path):
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.write(HEADER.encode())
        file.truncate(1 << 30)
    code, _, err = run("strokes", path)
    assert code == 1
    assert "huge.csv" in err


@pytest.mark.parametrize("share", [0.001, 0.3, 0.77])
def test_a_cut_off_recording_still_gives_its_strokes(run, tmp_path, share):
    path = tmp_path / "cut.mcap"
    shutil.copy(SHIPPED[0], path)
    os.truncate(path, int(path.stat().st_size * share))
    before = path.read_bytes()
    code, out, err = run("strokes", path, "--json")
    assert path.read_bytes() == before
    if share < 0.01:
        assert code == 1
        assert "cut.mcap" in err
    else:
        assert code == 0
        assert json.loads(out)


def test_a_missing_file_is_named(run, tmp_path):
    code, _, err = run("strokes", tmp_path / "nowhere.csv")
    assert code == 1
    assert "nowhere.csv" in err


@pytest.mark.parametrize("axis", ["1,0", "a,b,c", "0,0,0", "nan,0,1"])
def test_misuse_is_exit_code_2(run, level_cue_csv, axis):
    path, *_ = level_cue_csv
    code, _, err = run("strokes", path, "--cue-axis", axis)
    assert code == 2
    assert "--cue-axis" in err


def test_demo_prints_strokes_and_answers_and_leaves_nothing_behind(run, tmp_path, monkeypatch):
    monkeypatch.setenv("STUNPACE_DATA", str(tmp_path / "own"))
    monkeypatch.setenv("STUNPACE_DATABASE", f"sqlite:///{tmp_path / 'own.sqlite'}")
    code, out, _ = run("demo", "--no-serve")
    assert code == 0
    assert sum(" ± " in line for line in out.splitlines()) >= 90
    assert "m/s" in out.splitlines()[-1] or "best" in out
    assert list(Path(tmp_path).iterdir()) == []


def test_every_command_has_help(run):
    code, out, _ = run("--help")
    assert code == 0
    for command in ("strokes", "demo", "serve", "to-csv"):
        assert command in out
        assert run(command, "--help")[0] == 0
