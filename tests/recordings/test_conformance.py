"""Every conformance file reads as what was chosen when it was made."""

import json
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from cue_sensors.decoders import decoder_for
from cue_sensors.errors import DecodeError
from cue_sensors.load import load_recording
from cue_sensors.recording import read_notifications

FOLDER = files("cue_recordings") / "conformance"
RECORDINGS = sorted(p.name for p in FOLDER.iterdir() if p.name.endswith(".mcap"))
TABLES = sorted(p.name for p in FOLDER.iterdir() if p.name.endswith(".csv"))
STREAM = json.loads((FOLDER / "stroke_stream.json").read_text(encoding="utf-8"))
START_NS = 1_770_145_200_250_000_000


def expected_of(name):
    return json.loads((FOLDER / (name.rsplit(".", 1)[0] + ".json")).read_text(encoding="utf-8"))


def test_there_are_files_of_each_sort():
    assert len(RECORDINGS) == 10
    assert len(TABLES) == 3
    assert len(STREAM) == 14


def test_today_s_writer_still_makes_the_same_files(tmp_path):
    builder = Path(__file__).with_name("build_conformance.py")
    subprocess.run([sys.executable, str(builder), str(tmp_path)], check=True)
    for made in tmp_path.iterdir():
        assert made.read_bytes() == (FOLDER / made.name).read_bytes(), made.name


@pytest.mark.parametrize("name", RECORDINGS + TABLES)
def test_samples_read_as_they_were_made(name):
    recording, expected = load_recording(FOLDER / name), expected_of(name)
    samples, at = recording.samples, expected["checked_samples"]
    assert len(samples) == expected["n_samples"]
    assert samples.rate_hz == pytest.approx(expected["rate_hz"], rel=1e-4)
    assert recording.mounting.cue_axis == pytest.approx(expected["cue_axis"])
    assert recording.labels == {"invented": "yes"}
    np.testing.assert_allclose(samples.time_s[at], expected["time_s"], atol=1e-4)
    force = expected["specific_force_m_s2"]
    np.testing.assert_allclose(samples.specific_force_m_s2[at], force, atol=1e-8)
    assert len(recording.problems) == expected["n_problems"]


@pytest.mark.parametrize("name", RECORDINGS)
def test_gaps_ends_of_range_and_rates_read_as_they_were_made(name):
    recording, expected = load_recording(FOLDER / name), expected_of(name)
    samples, at = recording.samples, expected["checked_samples"]
    assert samples.n_lost == expected["n_samples_missing"]
    assert np.flatnonzero(samples.is_clipped).tolist() == expected["clipped_samples"]
    assert recording.start_utc is not None
    assert recording.start_utc.isoformat() == expected["start_utc"].replace("Z", "+00:00")
    assert recording.mounting.sensor_to_tip_m == pytest.approx(expected["sensor_to_tip_m"])
    if "angular_rate_rad_s" in expected:
        assert samples.angular_rate_rad_s is not None
        rate = samples.angular_rate_rad_s[at]
        np.testing.assert_allclose(rate, expected["angular_rate_rad_s"], atol=1e-8)
    else:
        assert not samples.has_gyroscope


@pytest.mark.parametrize("name", RECORDINGS)
def test_notifications_read_back_with_their_arrival(name):
    raw, expected = read_notifications(FOLDER / name), expected_of(name)
    assert len(raw.notifications) == expected["n_notifications"]
    lost = expected["n_notifications_lost_to_damage"]
    assert any(f"{lost} notifications are lost" in p for p in raw.problems) is bool(lost)
    first_ns, _ = raw.notifications[0]
    assert first_ns == START_NS + 150_000_000  # samples 0.1 to 0.145 s, and 5 ms on the way


@pytest.mark.parametrize("case", STREAM, ids=[case["is"] for case in STREAM])
def test_a_notification_of_the_stroke_stream_reads_as_specified(case):
    decoder, data = decoder_for("stroke_stream"), bytes.fromhex(case["hex"])
    if case["reads"] is None:
        with pytest.raises(DecodeError):
            decoder.decode(data)
        return
    packet, expected = decoder.decode(data), case["reads"]
    assert packet.counts.tolist() == expected["counts"]
    assert (packet.sequence, packet.device_time_us) == (expected["sequence"], expected["clock_us"])
    assert packet.period_us == expected["period_us"]
    for remark in ("is_saturated", "has_lost_before", "is_replayed"):
        assert getattr(packet, remark) is expected[remark]
