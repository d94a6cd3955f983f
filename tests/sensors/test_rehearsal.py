"""The rehearsal sensor sends what the recording holds, when it held it."""

import threading
import time
from datetime import UTC, datetime

import numpy as np
import pytest

from cue_sensors.assemble import SampleAssembler
from cue_sensors.csv_file import write_csv
from cue_sensors.errors import RecordingError
from cue_sensors.load import load_recording
from cue_sensors.rate import joined
from cue_sensors.recording import RecordingWriter, read_notifications
from cue_sensors.rehearsal import RehearsalSensor
from cue_sensors.samples import Calibration, Mounting, Samples

START = datetime(2026, 1, 2, tzinfo=UTC)
START_NS = 1_767_312_000_000_000_000
G = 9.80665


@pytest.fixture
def recording_file(tmp_path, fake_sensor):
    sensor = fake_sensor(start_s=0.1)
    with RecordingWriter(
        tmp_path / "a.mcap",
        sensor=sensor.info,
        mounting=Mounting((1.0, 0.0, 0.0)),
        calibration=Calibration((0.1, 0.0, 0.0)),
        start_utc=START,
    ) as writer:
        for i in range(40):
            one = sensor.packet(i)
            writer.write(one.notification, START_NS + round(one.arrival_s * 1e9))
    return tmp_path / "a.mcap"


def assembled(sensor):
    assembler = SampleAssembler(sensor.sensor, sensor.calibration)
    pieces = [assembler.push(*one) for one in sensor]
    return joined([*pieces, assembler.finish()], rate_hz=200.0)


def test_a_recording_replays_its_own_bytes_with_its_own_arrivals(recording_file):
    sensor = RehearsalSensor(recording_file, speed=float("inf"))
    sent, stored = list(sensor), read_notifications(recording_file).timed()
    assert [data for _, data in sent] == [data for _, data in stored]
    np.testing.assert_allclose([a for a, _ in sent], [a for a, _ in stored])
    assert sensor.mounting.cue_axis == (1.0, 0.0, 0.0)
    assert sensor.calibration is not None
    assert sensor.calibration.accel_bias_m_s2 == (0.1, 0.0, 0.0)


def test_the_live_path_gives_the_samples_of_the_file(recording_file):
    live = assembled(RehearsalSensor(recording_file, speed=float("inf")))
    offline = load_recording(recording_file).samples
    np.testing.assert_array_equal(live.time_s, offline.time_s)
    np.testing.assert_array_equal(live.specific_force_m_s2, offline.specific_force_m_s2)


def seeded_samples(*, n, has_gyroscope):
    rng = np.random.default_rng(4)
    time_s = np.arange(n) / 200 + 0.25
    time_s[n // 2 :] += 0.5  # a gap
    force = rng.normal((0, 0, G), 3.0, (n, 3))
    is_clipped = np.zeros(n, dtype=bool)
    force[30, 1], is_clipped[30] = -16 * G, True
    return Samples(
        time_s=time_s,
        specific_force_m_s2=force,
        angular_rate_rad_s=rng.normal(0, 2, (n, 3)) if has_gyroscope else None,
        is_clipped=is_clipped,
        rate_hz=200.0,
    )


@pytest.mark.parametrize("has_gyroscope", [True, False])
def test_a_csv_file_is_sent_as_stroke_stream_to_half_a_count(tmp_path, has_gyroscope):
    samples = seeded_samples(n=397, has_gyroscope=has_gyroscope)
    write_csv(samples, tmp_path / "a.csv")
    sensor = RehearsalSensor(tmp_path / "a.csv", speed=float("inf"))
    assert sensor.sensor.kind == "stroke_stream"
    got = assembled(sensor)
    half_a_count = 16 * G / 32768 / 2
    assert len(got) == 397
    np.testing.assert_allclose(got.time_s, samples.time_s + 0.004, atol=1e-5)
    np.testing.assert_allclose(
        got.specific_force_m_s2, samples.specific_force_m_s2, atol=2.1 * half_a_count
    )  # twice: -16 g is one count nearer on the positive side
    assert np.flatnonzero(got.is_clipped).tolist() == [30]
    assert got.n_lost == 100
    assert got.has_gyroscope is has_gyroscope


def test_values_beyond_the_usual_range_get_a_wider_one(tmp_path):
    samples = seeded_samples(n=200, has_gyroscope=False)
    samples.specific_force_m_s2[100:102, 0] = 50 * G
    samples.is_clipped[:] = False
    write_csv(samples, tmp_path / "a.csv")
    sensor = RehearsalSensor(tmp_path / "a.csv", speed=float("inf"))
    assert (sensor.sensor.accel_range_m_s2 or 0) >= 50 * G
    assert assembled(sensor).specific_force_m_s2[100, 0] == pytest.approx(50 * G, rel=1e-3)


def test_speed_sets_the_time_it_takes(recording_file):
    begin_s = time.monotonic()
    n = sum(1 for _ in RehearsalSensor(recording_file, speed=10.0))
    assert n == 40
    assert time.monotonic() - begin_s >= 0.2  # 2.1 s of recording; a busy machine may take longer


def test_a_loop_goes_on_as_a_sensor_switched_on_again(recording_file):
    sensor = RehearsalSensor(recording_file, speed=float("inf"), loop=True)
    assembler = SampleAssembler(sensor.sensor)
    n, end_s = 0, -np.inf
    for n, one in enumerate(sensor, start=1):
        samples = assembler.push(*one)
        if len(samples):
            assert samples.time_s[0] > end_s
            end_s = samples.time_s[-1]
        if n == 130:
            sensor.close()
    assert n == 130
    assert assembler.n_restarts == 3


def test_closing_ends_a_wait_at_once(recording_file):
    sensor = RehearsalSensor(recording_file, speed=1e-6)
    threading.Timer(0.05, sensor.close).start()
    begin_s = time.monotonic()
    assert list(sensor) == []
    assert time.monotonic() - begin_s < 10  # the first wait alone would be hours


def test_a_speed_of_nothing_is_refused(recording_file):
    with pytest.raises(ValueError, match="above 0, not 0"):
        RehearsalSensor(recording_file, speed=0)


def test_a_recording_without_notifications_is_refused(tmp_path, fake_sensor):
    RecordingWriter(tmp_path / "a.mcap", sensor=fake_sensor().info).close()
    with pytest.raises(RecordingError, match=r"a\.mcap: It has no notifications"):
        RehearsalSensor(tmp_path / "a.mcap")
