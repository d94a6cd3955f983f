"""The recorder never stops for the disk's sake, and loses nothing that the disk takes later."""

import errno
import os
import shutil

import pytest

from cue_sensors import recorder as module
from cue_sensors.recorder import Recorder
from cue_sensors.recording import read_notifications, read_recording
from cue_sensors.samples import SensorInfo
from cue_sensors.writer import RecordingWriter

T0 = 1_767_323_045_000_000_000


@pytest.fixture
def clock(monkeypatch):
    """Let tests say how late it is."""
    now = [100.0]
    monkeypatch.setattr(module.time, "monotonic", lambda: now[0])
    return now


@pytest.fixture
def disk(monkeypatch):
    """Let tests say what the disk answers to a write: an error number, or None if it takes it."""
    answer = [None]
    write = os.write

    def asked(file, data):
        if answer[0] is not None:
            raise OSError(answer[0], os.strerror(answer[0]))
        return write(file, data)

    monkeypatch.setattr("cue_sensors.writer.os.write", asked)
    return answer


def recorder(path, **options):
    return Recorder(path, sensor=SensorInfo(kind="stroke_stream"), **options)


def send(recorder, fake_sensor, numbers):
    for i in numbers:
        one = fake_sensor.packet(i)
        recorder.write(one.notification, T0 + round(one.arrival_s * 1e9))


def test_what_a_full_disk_refuses_is_written_once_there_is_room(tmp_path, fake_sensor, clock, disk):
    path = tmp_path / "a.mcap"
    kept, sensor = recorder(path), fake_sensor()
    send(kept, sensor, range(20))
    disk[0] = errno.ENOSPC
    send(kept, sensor, range(20, 40))
    assert kept.n_waiting == 20
    assert "wait in memory (20 packets)" in kept.problem
    assert "The disk is full. Make room" in kept.problem
    disk[0] = None
    clock[0] += 2.0
    send(kept, sensor, range(40, 60))
    assert (kept.problem, kept.n_waiting, kept.paths) == ("", 0, [path])
    kept.close()
    read = read_recording(path)
    assert (len(read.samples), read.samples.n_lost, read.problems) == (600, 0, ())


@pytest.mark.parametrize("number", [errno.EIO, errno.EROFS, errno.ENODEV])
def test_a_disk_that_fails_and_comes_back_gets_the_rest_in_a_second_part(
    tmp_path, fake_sensor, clock, disk, number
):
    path = tmp_path / "a.mcap"
    kept, sensor = recorder(path, labels={"invented": "yes"}), fake_sensor()
    send(kept, sensor, range(20))
    disk[0] = number
    for i in range(20, 40):
        clock[0] += 0.3
        send(kept, sensor, [i])
    assert kept.n_waiting == 20
    disk[0] = None
    clock[0] += 2.0
    send(kept, sensor, range(40, 60))
    kept.close()
    assert [one.name for one in kept.paths] == ["a.mcap", "a part 2.mcap"]
    assert sorted(tmp_path.iterdir()) == sorted(kept.paths)
    first, second = (read_notifications(one) for one in kept.paths)
    got = [data for _, data in first.notifications + second.notifications]
    assert got == [sensor.packet(i).notification for i in range(60)]
    assert first.description.start_utc == second.description.start_utc
    assert second.description.labels == {"invented": "yes", "part": "2"}


def test_a_folder_that_is_taken_away_is_noticed_and_made_anew(tmp_path, fake_sensor, clock):
    path = tmp_path / "disk" / "a.mcap"
    kept, sensor = recorder(path), fake_sensor()
    send(kept, sensor, range(20))
    shutil.rmtree(tmp_path / "disk")
    clock[0] += 2.0
    send(kept, sensor, range(20, 40))
    kept.close()
    assert len(read_notifications(kept.paths[-1]).notifications) == 20
    assert kept.problem == ""


def test_a_disk_that_is_there_only_later_gets_everything(tmp_path, fake_sensor, clock):
    (tmp_path / "disk").write_text("in the way")
    kept, sensor = recorder(tmp_path / "disk" / "a.mcap"), fake_sensor()
    send(kept, sensor, range(20))
    assert kept.paths == []
    assert "wait in memory (20 packets)" in kept.problem
    (tmp_path / "disk").unlink()
    clock[0] += 2.0
    send(kept, sensor, range(20, 21))
    assert len(read_notifications(kept.paths[0]).notifications) == 21


def test_memory_is_not_filled_without_end(tmp_path, fake_sensor, clock, disk, monkeypatch):
    monkeypatch.setattr(module, "MOST_WAITING_BYTES", 10 * 132)
    kept, sensor = recorder(tmp_path / "a.mcap"), fake_sensor()
    disk[0] = errno.ENOSPC
    send(kept, sensor, range(25))
    assert (kept.n_waiting, kept.n_lost) == (10, 15)
    assert "15 packets could not be kept" in kept.problem


def test_what_never_found_a_place_is_said_at_the_end(tmp_path, fake_sensor, disk):
    kept = recorder(tmp_path / "a.mcap")
    disk[0] = errno.EDQUOT
    send(kept, fake_sensor(), range(5))
    kept.close()
    kept.close()
    assert "5 packets could not be kept" in kept.problem
    assert "quota" in kept.problem
    with pytest.raises(ValueError, match="closed"):
        kept.write(b"", 0)


def test_a_file_that_could_not_even_be_begun_is_not_left_behind(tmp_path, disk):
    disk[0] = errno.ENOSPC
    with pytest.raises(Exception, match="disk is full"):
        RecordingWriter(tmp_path / "a.mcap", sensor=SensorInfo(kind="stroke_stream"))
    assert list(tmp_path.iterdir()) == []


def test_what_is_no_bytes_is_the_caller_s_mistake(tmp_path):
    with pytest.raises(TypeError, match="bytes, not str"):
        recorder(tmp_path / "a.mcap").write("x", 0)
