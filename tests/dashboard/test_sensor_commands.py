"""scan, record and rehearse as a player uses them: three programs, one private bus."""

import contextlib
import os
import re
import signal
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner

from cue_dashboard.cli import cli
from cue_dashboard.commands.sensor import KINDS
from cue_dashboard.recording import out_path, status_words
from cue_practice.live import LiveState, LiveStatus
from cue_sensors.decoders import decoders
from cue_sensors.errors import RecordingError, SensorError
from cue_sensors.load import load_recording
from cue_sensors.recording import RecordingWriter, read_notifications
from cue_sensors.rig.private_bus import BUS_VARIABLE, rig_problem
from cue_sensors.samples import Mounting
from cue_signal.analysis import analyse

SHIPPED = next(iter(sorted(Path(str(files("cue_recordings") / "data")).glob("5-*.mcap"))))
PLAYED_S = 45.0
"""As much of a shipped recording is played: five strokes and a loss."""
SPEED = 15.0
PATIENCE_S = 60.0

needs_rig = pytest.mark.skipif(bool(rig_problem()), reason=rig_problem() or "")


def stunpace(*arguments, bus=None, **options):
    environment = {**os.environ, "COLUMNS": "120"} | ({BUS_VARIABLE: bus} if bus else {})
    main = "from cue_dashboard.cli import main; main()"
    command = [sys.executable, "-c", main, *map(str, arguments)]
    return subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True, **options)


@pytest.fixture
def short_file(tmp_path):
    """Return a recording with the first part of a shipped one, byte for byte."""
    raw = read_notifications(SHIPPED)
    path = tmp_path / "short.mcap"
    described = raw.description
    with RecordingWriter(path, sensor=described.sensor, start_utc=described.start_utc) as writer:
        for time_ns, data in raw.notifications:
            if time_ns - described.start_utc_ns < PLAYED_S * 1e9:
                writer.write(data, time_ns)
    return path


@contextlib.contextmanager
def rehearsing(*arguments):
    """Play a file; yield the player and the address of its bus."""
    with stunpace("rehearse", *arguments) as player:
        try:
            said = said_until(player, "Ctrl-C")
            found = re.search(rf"{BUS_VARIABLE}=(\S+)", said)
            assert found, said
            yield player, found.group(1)
        finally:
            player.send_signal(signal.SIGTERM)


def said_until(program, words):
    """Return what a program prints until it prints these words."""
    said = ""
    while words not in said:
        line = program.stdout.readline()
        assert line, said
        said += line
    return said


@needs_rig
def test_a_recording_played_as_a_sensor_is_found_recorded_and_gives_its_own_strokes(
    short_file, tmp_path
):
    out = tmp_path / "mine.mcap"
    with rehearsing(short_file, "--speed", SPEED) as (player, bus):
        listing = stunpace("scan", "--seconds", 0.5, bus=bus).communicate(timeout=PATIENCE_S)[0]
        record = ("record", "--kind", "stroke_stream", "--out", out)
        recorder = stunpace(*record, bus=bus, stderr=subprocess.PIPE)
        said_until(player, "has come to its end")
        recorder.send_signal(signal.SIGINT)
        printed, shown = recorder.communicate(timeout=PATIENCE_S)
    assert player.returncode == 0
    assert recorder.returncode == 0, shown
    assert re.search(r"made sensor +stroke_stream +-60 dBm +C0:FF:EE:00:00:01", listing)
    mine, theirs = load_recording(out), load_recording(short_file)
    assert [data for _, data in read_notifications(out).notifications] == [
        data for _, data in read_notifications(short_file).notifications
    ]
    assert (len(mine.samples), mine.samples.n_lost) == (len(theirs.samples), theirs.samples.n_lost)
    n, n_lost = len(mine.samples), mine.samples.n_lost
    assert f"100 Hz, battery 87 %, signal -60 dBm, {n} samples, {n_lost} lost, " in printed
    assert "Connected to made sensor." in shown
    found, expected = (analyse(one, mounting=Mounting()).strokes for one in (mine, theirs))
    assert len(found) == len(expected) >= 4
    for one, other in zip(found, expected, strict=True):
        assert one.tip_speed_m_s == pytest.approx(other.tip_speed_m_s, rel=2e-3)


@needs_rig
def test_a_sensor_that_is_not_there_ends_record_with_a_sentence(short_file, tmp_path):
    with rehearsing(short_file, "--bus-folder", tmp_path) as (_, bus):
        assert bus == f"unix:path={tmp_path}/sock"
        options = ("--sensor", "nobody", "--kind", "wt901", "--wait", 0.5, "--out", tmp_path / "a")
        recorder = stunpace("record", *options, bus=bus, stderr=subprocess.PIPE)
        _, shown = recorder.communicate(timeout=PATIENCE_S)
    assert recorder.returncode == 1
    assert "No data came within 0.5 s." in shown
    assert "Traceback" not in shown
    assert not (tmp_path / "a").exists()


def test_the_kinds_that_can_be_asked_for_are_those_that_can_be_read():
    assert tuple(sorted(decoders)) == KINDS


def test_a_name_that_is_taken_and_a_folder_that_is_not_there_are_refused_first(tmp_path):
    (tmp_path / "a.mcap").touch()
    with pytest.raises(RecordingError, match="already a file of that name"):
        out_path(tmp_path / "a.mcap")
    with pytest.raises(RecordingError, match="folder does not exist"):
        out_path(tmp_path / "none" / "a.mcap")
    assert out_path(None).name.startswith("stunpace 20")


def test_where_the_rig_cannot_run_it_is_said(monkeypatch):
    monkeypatch.setattr("cue_sensors.rig.private_bus.shutil.which", lambda _: None)
    monkeypatch.setattr("cue_sensors.rig.private_bus.sys.platform", "linux")
    result = CliRunner().invoke(cli, ["rehearse", str(SHIPPED)])
    assert isinstance(result.exception, SensorError)
    assert "dbus-daemon is missing. Install" in str(result.exception)


def test_the_line_says_what_a_player_must_know():
    status = LiveStatus(
        LiveState.RUNNING,
        words="Listening.",
        rate_hz=208.2,
        n_samples=1000,
        n_lost=3,
        n_packets=100,
        is_connected=True,
        battery_percent=9,
        signal_dbm=-71,
    )
    assert status_words(status) == (
        "208 Hz, battery 9 %, charge it, signal -71 dBm, 1000 samples, 3 lost, 0 strokes"
    )
    lost = LiveStatus(LiveState.RUNNING, words="The connection was lost.", n_samples=10)
    assert status_words(lost).endswith("| The connection was lost.")


def test_scan_says_when_nothing_was_heard(monkeypatch):
    monkeypatch.setattr("cue_sensors.ble_scan.scan", lambda *, seconds: [])
    result = CliRunner().invoke(cli, ["scan", "--seconds", "1"])
    assert "Nothing was heard in 1 s. Wake the sensor" in result.output
