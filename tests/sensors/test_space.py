"""Room on the disk is looked at before a recording starts, and open recordings are found."""

from collections import namedtuple

import pytest
from mcap.reader import make_reader

from cue_sensors.errors import RecordingError
from cue_sensors.recording import RecordingWriter, read_notifications
from cue_sensors.samples import SensorInfo
from cue_sensors.space import close_left_open, free_space_problem, left_open

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


@pytest.fixture
def left(tmp_path):
    """Return a recording of 30 notifications as a crash leaves it, and its whole content."""
    writer = RecordingWriter(tmp_path / "a.mcap", sensor=SensorInfo("stroke_stream"))
    for i in range(30):
        writer.write(bytes([i]) * 20, 10**18 + i)
    content = (tmp_path / "a.mcap").read_bytes()
    writer.close()
    (tmp_path / "a.mcap").write_bytes(content)
    return tmp_path / "a.mcap", content


@pytest.mark.parametrize("n_cut", [0, 1, 30, 85])
def test_closing_what_a_crash_left_changes_nothing_that_can_be_read(left, n_cut):
    path, content = left
    path.write_bytes(content[: len(content) - n_cut])
    before = read_notifications(path)
    closed = close_left_open(path)
    after = read_notifications(path)
    assert after.notifications == before.notifications
    assert closed.n_notifications == len(before.notifications) == (30 if n_cut == 0 else 29)
    assert after.problems == ()
    assert left_open(path.parent) == []
    with path.open("rb") as file:  # the library that the format comes from agrees
        summary = make_reader(file).get_summary()
    assert summary.statistics.channel_message_counts == {1: 1, 2: closed.n_notifications}
    rest = b"" if closed.rest is None else closed.rest.read_bytes()
    n_whole = len(content) - n_cut - len(rest)
    assert path.read_bytes()[:n_whole] + rest == content[: len(content) - n_cut]


def test_a_recording_that_is_being_written_is_no_leftover_and_is_not_closed(tmp_path):
    writer = RecordingWriter(tmp_path / "a.mcap", sensor=SensorInfo("stroke_stream"))
    writer.write(b"x", 10**18)
    assert left_open(tmp_path) == []
    with pytest.raises(RecordingError, match=r"being written to. Stop the session"):
        close_left_open(tmp_path / "a.mcap")
    writer.close()
    assert read_notifications(tmp_path / "a.mcap").problems == ()


def test_what_is_no_recording_is_not_touched(tmp_path):
    (tmp_path / "a.mcap").write_text("no recording")
    with pytest.raises(RecordingError, match="no recording"):
        close_left_open(tmp_path / "a.mcap")
    assert (tmp_path / "a.mcap").read_text() == "no recording"
