"""Any file is told by its content, and what is no recording is refused in one sentence."""

import json
import os
from datetime import UTC, datetime

import pytest

from cue_sensors.description import Description
from cue_sensors.errors import RecordingError
from cue_sensors.load import load_recording
from cue_sensors.recording import RecordingWriter
from cue_sensors.samples import SensorInfo


def rubbish(path):
    path.write_bytes(bytes(range(256)) * 10)


def empty(path):
    path.touch()


def folder(path):
    path.mkdir()


def missing(path):
    return path


def a_gigabyte(path):
    path.touch()
    os.truncate(path, 10**9)


def zeros(path):
    path.write_bytes(bytes(5000))


def words(path):
    path.write_text("Dear diary, I played well.\n")


def magic_only(path):
    path.write_bytes(b"\x89MCAP0\r\n")


def no_samples(path):
    RecordingWriter(path, sensor=SensorInfo(kind="stroke_stream")).close()


def unknown_kind(path):
    RecordingWriter(path, sensor=SensorInfo(kind="abacus")).close()


def nonsense_notifications(path):
    with RecordingWriter(path, sensor=SensorInfo(kind="stroke_stream")) as writer:
        writer.write(b"nonsense", 10**18)


FAULTS = [
    (rubbish, "no recording"),
    (empty, "empty"),
    (folder, "folder"),
    (missing, "no such file"),
    (a_gigabyte, "1000 MB"),
    (zeros, "no recording"),
    (words, "unknown column"),
    (magic_only, "cut off before its description (8 bytes)"),
    (no_samples, "no samples (0 notifications)"),
    (unknown_kind, "'abacus'"),
    (nonsense_notifications, "no samples (1 notifications)"),
]


@pytest.mark.parametrize(("make", "problem"), FAULTS, ids=[f[0].__name__ for f in FAULTS])
def test_what_is_no_recording_is_refused_in_one_sentence(tmp_path, make, problem):
    path = tmp_path / "thing"
    make(path)
    with pytest.raises(RecordingError) as caught:
        load_recording(path)
    assert problem in caught.value.problem
    assert caught.value.file == str(path)
    assert caught.value.remedy.endswith(".")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"format": "stunpace-recording/9"}, "format is not"),
        ({"sensor": None}, "lacks or misspells"),
        ({"sensor": {"kind": "x", "accel_range_m_s2": "16 g"}}, "accel_range_m_s2"),
        ({"start_utc": "noon"}, "noon"),
        ({"mounting": {"cue_axis": [1, 0]}}, "cue_axis"),
        ({"calibration": {"accel_matrix": [1, 2]}}, "accel_matrix"),
        ({"labels": 5}, "lacks or misspells"),
    ],
)
def test_a_description_with_nonsense_is_refused_with_the_field(change, words):
    good = json.loads(Description(SensorInfo(), start_utc=_now()).to_json())
    with pytest.raises(ValueError, match=words):
        Description.from_json(json.dumps({**good, **change}))


def test_fields_of_a_later_version_are_skipped():
    good = json.loads(Description(SensorInfo(name="n"), start_utc=_now()).to_json())
    good["weather"] = "dry"
    good["sensor"]["colour"] = "green"
    assert Description.from_json(json.dumps(good)).sensor == SensorInfo(name="n")


def _now():
    return datetime.now(UTC)
