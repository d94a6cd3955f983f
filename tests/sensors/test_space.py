"""Room on the disk is looked at before a recording starts, and open recordings are found."""

from collections import namedtuple

import pytest

from cue_sensors.recording import RecordingWriter
from cue_sensors.samples import SensorInfo
from cue_sensors.space import free_space_problem, left_open

Usage = namedtuple("Usage", "total used free")


@pytest.mark.parametrize(
    ("free", "words"),
    [(100_000_000, None), (99_999_999, "Only 100 MB are free"), (2_400_000, "Only 2 MB are free")],
)
def test_too_little_room_is_said_before_it_runs_out(tmp_path, monkeypatch, free, words):
    asked = []

    def usage(place):
        asked.append(place)
        return Usage(10**12, 0, free)

    monkeypatch.setattr("shutil.disk_usage", usage)
    problem = free_space_problem(tmp_path / "not" / "yet")
    assert asked == [tmp_path]
    assert problem is None if words is None else words in problem and "Make room" in problem


def test_a_system_that_does_not_say_is_not_taken_for_a_full_one(tmp_path, monkeypatch):
    def refuse(_place):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("shutil.disk_usage", refuse)
    assert free_space_problem(tmp_path) is None


def test_recordings_left_open_are_found_and_closed_ones_are_not(tmp_path):
    for name in ("a", "b", "c"):
        writer = RecordingWriter(tmp_path / f"{name}.mcap", sensor=SensorInfo("stroke_stream"))
        writer.write(b"x", 10**18)
        content = (tmp_path / f"{name}.mcap").read_bytes()
        writer.close()
        if name != "b":
            (tmp_path / f"{name}.mcap").write_bytes(content)
    (tmp_path / "d.mcap").write_bytes(b"\x89MCAP0\r\n")
    (tmp_path / "e.mcap").write_text("no recording")
    (tmp_path / "f.mcap").touch()
    assert [path.name for path in left_open(tmp_path)] == ["a.mcap", "c.mcap", "d.mcap"]
    assert left_open(tmp_path / "none") == []
