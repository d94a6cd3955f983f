"""A live session: the strokes of the sensor reach the log, whatever fails beside them."""

import threading
import time
from importlib.resources import files
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from cue_practice.errors import PracticeError
from cue_practice.live import LiveSession, LiveState
from cue_practice.live_trace import FADE_S, SpeedTrace
from cue_sensors.errors import RecordingError, SensorError
from cue_sensors.load import load_recording
from cue_sensors.recording import read_notifications
from cue_sensors.rehearsal import RehearsalSensor
from cue_sensors.samples import Calibration, Mounting, Samples, SensorInfo
from cue_signal.live import StrokeFinder

SHIPPED = Path(str(files("cue_recordings") / "data"))
RECORDING = next(iter(sorted(SHIPPED.glob("5-*.mcap"))))
"""15 strokes at 100 Hz, the first of them 8 and 16 s after the start, with lost packets."""
SOME = 150
"""Notifications for the first 28 s."""
FAST = float("inf")
PATIENCE_S = 60.0


@pytest.fixture
def session_of(bench, tmp_path):
    made = []

    def make(source, **options):
        options = {"folder": tmp_path / "raw", "series_id": bench.series.series_id, **options}
        session = LiveSession(bench.log, source, **options)
        made.append(session)
        return session

    yield make
    for session in made:
        session.stop()


def wait_for(session, *states):
    end_s = time.monotonic() + PATIENCE_S
    while session.status().state not in states:
        assert time.monotonic() < end_s, session.status()
        time.sleep(0.01)
    return session.status()


class Source:
    """The shipped recording's first notifications, then whatever the test wants."""

    def __init__(self, n, then=lambda: iter(())):
        rehearsal = RehearsalSensor(RECORDING, speed=FAST)
        self.sensor, self.mounting = rehearsal.sensor, rehearsal.mounting
        self.calibration = rehearsal.calibration
        self._sent = [one for _, one in zip(range(n), rehearsal, strict=False)]
        self._then = then

    def __iter__(self):
        yield from self._sent
        yield from self._then()


class Silent:
    """A sensor that is connected and sends nothing until it is closed."""

    sensor, mounting, calibration = SensorInfo(kind="stroke_stream"), Mounting(), None

    def __init__(self):
        self._closed = threading.Event()

    def __iter__(self):
        self._closed.wait(PATIENCE_S)
        return iter(())

    def close(self):
        self._closed.set()


def test_every_stroke_of_a_rehearsal_is_in_the_log_as_found_offline(session_of, bench):
    shots = []
    session = session_of(RehearsalSensor(RECORDING, speed=FAST), on_stroke=shots.append)
    assert session.status().state is LiveState.IDLE
    session.start()
    status = wait_for(session, LiveState.FINISHED, LiveState.FAILED)
    recording = load_recording(RECORDING)
    finder = StrokeFinder(recording.mounting)
    expected = [*finder.push(recording.samples), *finder.finish()]
    logged = bench.log.shots(series_id=bench.series.series_id)
    assert status.state is LiveState.FINISHED, status
    assert status.n_strokes == len(expected) == len(logged) == len(shots) > 5
    found = sorted(shot.stroke.impact_time_s for shot in logged)
    np.testing.assert_allclose(found, [stroke.impact_time_s for stroke in expected], atol=1e-6)
    assert status.n_samples == len(recording.samples)
    assert status.n_lost == recording.samples.n_lost > 0
    assert status.rate_hz == pytest.approx(recording.samples.rate_hz, rel=1e-3)
    assert status.problem == ""


def test_the_raw_bytes_are_kept_and_read_back_as_the_same_samples(session_of):
    session = session_of(Source(SOME))
    session.start()
    path = wait_for(session, LiveState.FINISHED).recording_path
    session.stop()
    kept, sent = load_recording(path), load_recording(RECORDING)
    n = len(kept.samples)
    assert [data for _, data in read_notifications(path).notifications] == [
        data for _, data in read_notifications(RECORDING).notifications[:SOME]
    ]
    np.testing.assert_allclose(kept.samples.time_s, sent.samples.time_s[:n], atol=1e-6)
    assert kept.mounting == sent.mounting
    assert kept.problems == ()


def test_the_trace_shows_the_last_seconds_and_the_cue_moving(session_of):
    session = session_of(Source(SOME))
    session.start()
    status = wait_for(session, LiveState.FINISHED)
    assert status.trace_time_s.shape == status.trace_speed_m_s.shape
    assert 5 < status.trace_time_s[-1] - status.trace_time_s[0] <= 10
    assert np.all(np.isfinite(status.trace_speed_m_s))


def test_a_first_look_at_a_stroke_is_shown_and_never_entered(session_of, bench):
    session = session_of(Source(SOME))
    seen = []
    session.add_sample_listener(lambda _samples: seen.append(session.status()))
    session.start()
    status = wait_for(session, LiveState.FINISHED)
    logged = [one.stroke for one in bench.log.shots(series_id=bench.series.series_id)]
    looks = {id(one.first_look): one.first_look for one in seen if one.first_look is not None}
    assert len(logged) == status.n_strokes > 1
    assert looks  # what arrives in long pieces may be measured before anybody can look
    for look in looks.values():
        stroke = min(logged, key=lambda one: abs(one.impact_time_s - look.impact_time_s))
        assert look.impact_time_s == pytest.approx(stroke.impact_time_s, abs=0.01)
        assert look.tip_speed_m_s == pytest.approx(stroke.tip_speed_m_s, rel=0.05)
    assert any(one.is_measuring for one in seen)
    assert not status.is_measuring
    assert status.first_look is None


def test_a_source_that_raises_keeps_the_strokes_before_and_says_why(session_of, bench):
    def lost():
        raise SensorError("The sensor was silent for 5 s. Bring it nearer.")
        yield

    session = session_of(Source(SOME, then=lost))
    session.start()
    status = wait_for(session, LiveState.FAILED)
    assert "silent for 5 s" in status.words
    assert status.n_strokes == len(bench.log.shots(series_id=bench.series.series_id)) > 0
    assert len(read_notifications(status.recording_path).notifications) == SOME


def test_a_source_with_a_bug_is_shown_and_does_not_take_the_program_down(session_of, caplog):
    def bug():
        yield from [(99.0, "not bytes")]

    session = session_of(Source(50, then=bug))
    session.start()
    status = wait_for(session, LiveState.FAILED)
    assert "Connect again" in status.problem
    assert status.n_samples > 0


def test_stop_interrupts_a_silent_source_and_joins(session_of):
    session = session_of(Silent())
    session.start()
    assert wait_for(session, LiveState.STARTING).words.startswith("Waiting")
    session.stop()
    assert session.status().state is LiveState.STOPPED
    assert not [t for t in threading.enumerate() if t.name == "live session"]


def test_a_sensor_that_must_be_found_first_says_how_it_stands(session_of):
    class Found(Silent):
        words = "Looking for tag 7."

        def connect(self):
            self._closed.wait(PATIENCE_S)

    session = session_of(Found())
    session.start()
    assert "Looking for tag 7." in session.status().words
    session.stop()
    assert session.status().state is LiveState.STOPPED
    assert session.status().recording_path is None


def test_stop_in_the_middle_closes_the_recording_and_keeps_what_came(session_of):
    session = session_of(RehearsalSensor(RECORDING, speed=20.0))
    session.start()
    wait_for(session, LiveState.RUNNING)
    session.stop()
    status = session.status()
    assert status.state is LiveState.STOPPED
    assert read_notifications(status.recording_path).problems == ()


def test_a_session_starts_only_once(session_of):
    session = session_of(Silent())
    session.start()
    with pytest.raises(ValueError, match="started before"):
        session.start()


def test_a_screen_that_fails_costs_no_stroke(session_of, bench, caplog):
    def broken(_shot):
        raise RuntimeError("no screen")

    session = session_of(Source(SOME), on_stroke=broken)
    session.start()
    status = wait_for(session, LiveState.FINISHED)
    assert status.n_strokes == len(bench.log.shots(series_id=bench.series.series_id)) > 0
    assert "a listener of a live session failed" in caplog.text


def test_a_disk_that_takes_nothing_is_said_and_strokes_go_on(session_of, monkeypatch):
    def full(self, notification, arrival_utc_ns):
        raise RecordingError("x.mcap", "", "The disk is full.", "Make room.") from OSError(28, "")

    monkeypatch.setattr("cue_sensors.recorder.RecordingWriter.write", full)
    session = session_of(Source(SOME))
    session.start()
    status = wait_for(session, LiveState.FINISHED)
    assert f"{SOME} packets could not be kept" in status.words
    assert "disk is full" in status.words
    assert status.n_strokes > 0


def test_little_room_on_the_disk_is_said_and_the_session_goes_on(session_of, monkeypatch):
    monkeypatch.setattr("shutil.disk_usage", lambda _: SimpleNamespace(free=3_000_000))
    session = session_of(Source(10))
    session.start()
    status = wait_for(session, LiveState.FINISHED)
    assert "Only 3 MB are free" in status.problem
    assert status.recording_path is not None


def test_a_folder_that_cannot_be_made_is_said_and_strokes_go_on(session_of, tmp_path):
    (tmp_path / "file").write_text("in the way")
    session = session_of(Source(SOME), folder=tmp_path / "file" / "raw")
    session.start()
    status = wait_for(session, LiveState.FINISHED)
    assert f"{SOME} packets could not be kept" in status.problem
    assert status.recording_path is None
    assert status.n_strokes > 0


def test_strokes_that_a_busy_log_refuses_are_entered_later(session_of, bench, monkeypatch):
    add, n_calls = bench.log.add_strokes, []

    def busy_at_first(*arguments):
        n_calls.append(1)
        if len(n_calls) == 1:
            raise PracticeError("The log is busy. Close the other program.")
        return add(*arguments)

    monkeypatch.setattr(bench.log, "add_strokes", busy_at_first)
    session = session_of(RehearsalSensor(RECORDING, speed=FAST))
    session.start()
    status = wait_for(session, LiveState.FINISHED)
    assert status.n_strokes == len(bench.log.shots(series_id=bench.series.series_id)) > 5
    assert status.problem == ""


def test_a_log_that_is_gone_fails_with_its_reason(session_of, bench, monkeypatch):
    def gone(*_, **__):
        raise PracticeError("The log cannot be opened. Check the disk.")

    monkeypatch.setattr(bench.log, "add_recording", gone)
    session = session_of(Source(100))
    session.start()
    assert "log cannot be opened" in wait_for(session, LiveState.FAILED).words


def test_a_sensor_that_reads_g_for_m_s2_is_refused_in_words(session_of, monkeypatch):
    class Wrong(Source):
        def __init__(self):
            super().__init__(200)
            assert self.sensor.accel_range_m_s2 is not None
            scale = self.sensor.accel_range_m_s2 / 9.80665
            self.sensor = SensorInfo(kind="stroke_stream", accel_range_m_s2=scale)

    session = session_of(Wrong())
    session.start()
    assert "looks like g" in wait_for(session, LiveState.FAILED).words


def test_two_sessions_at_once_keep_their_strokes_apart(session_of, bench, tmp_path):
    other = bench.another_series()
    first = session_of(Source(SOME))
    second = LiveSession(
        bench.log, Source(SOME), series_id=other.series_id, folder=tmp_path / "raw"
    )
    first.start()
    second.start()
    a, b = (wait_for(one, LiveState.FINISHED, LiveState.FAILED) for one in (first, second))
    assert (a.problem, b.problem) == ("", "")
    assert a.recording_path != b.recording_path
    for status, series in ((a, bench.series), (b, other)):
        assert status.n_strokes == len(bench.log.shots(series_id=series.series_id)) > 0


def test_strokes_go_where_the_session_is_told_while_the_connection_stays(session_of, bench):
    """First no series, then one, then another: shown, entered there, entered here."""
    other = bench.another_series()
    follow = {0: bench.series.series_id, 2: other.series_id, 4: None}
    source = Source(10_000)
    session = session_of(source, series_id=None)
    seen = []

    def turn(samples):
        n = session.status().n_strokes
        seen.append(n)
        if n in follow:
            session.follow(follow.pop(n))

    session.add_sample_listener(turn)
    session.start()
    status = wait_for(session, LiveState.FINISHED, LiveState.FAILED)
    entered = [len(bench.log.shots(series_id=one.series_id)) for one in (bench.series, other)]
    assert status.problem == ""
    assert entered == [2, 2]
    assert (status.n_entered, status.series_id) == (4, None)
    assert status.n_strokes > 5
    assert status.last_stroke.impact_time_s > 100
    assert len(read_notifications(status.recording_path).notifications) == status.n_packets


def test_a_sample_listener_gets_every_sample_until_it_is_removed(session_of, caplog):
    got, few = [], []
    session = session_of(Source(SOME), series_id=None)

    def broken(_samples):
        raise RuntimeError("no screen")

    session.add_sample_listener(broken)
    session.add_sample_listener(lambda samples: got.append(len(samples)))

    def once(samples):
        few.append(len(samples))
        remove()

    remove = session.add_sample_listener(once)
    session.start()
    status = wait_for(session, LiveState.FINISHED)
    assert sum(got) == status.n_samples > 1000
    assert len(few) == 1
    assert "a listener of a live session failed" in caplog.text


def test_what_the_sensor_says_of_itself_is_in_the_status(session_of):
    source = Source(SOME, then=lambda: iter(Silent()))
    source.battery_percent, source.signal_dbm, source.is_connected = 61, -70, True
    session = session_of(source)
    before = session.status()
    assert (before.is_connected, before.n_packets) == (False, 0)
    session.start()
    wait_for(session, LiveState.RUNNING)
    status = session.status()
    assert (status.battery_percent, status.signal_dbm, status.is_connected) == (61, -70, True)
    assert status.sensor_name == source.sensor.name
    source.is_connected = False
    assert not session.status().is_connected


def test_the_log_s_mounting_and_calibration_of_the_sensor_are_used(session_of, bench):
    """The source knows neither; the log knows both for this sensor on this series' cue."""
    source = Source(SOME)
    kind, name = source.sensor.kind, source.sensor.name
    told = source.mounting
    source.mounting = Mounting()
    bench.log.save_mounting(bench.series.cue_id, kind, name, told)
    bench.log.save_calibration(kind, name, Calibration(accel_bias_m_s2=(0.1, 0.2, 0.3)))
    session = session_of(source)
    session.start()
    kept = load_recording(wait_for(session, LiveState.FINISHED).recording_path)
    assert kept.mounting == told
    assert kept.calibration.accel_bias_m_s2 == (0.1, 0.2, 0.3)
    raw = load_recording(RECORDING).samples.specific_force_m_s2[: len(kept.samples)]
    moved = (raw - kept.samples.specific_force_m_s2).mean(axis=0)
    np.testing.assert_allclose(moved, [0.1, 0.2, 0.3], atol=1e-9)


def test_without_a_log_strokes_are_shown_and_recorded(tmp_path):
    session = LiveSession(None, Source(SOME), path=tmp_path / "a.mcap")
    with pytest.raises(ValueError, match="no series to follow"):
        session.follow(1)
    session.start()
    status = wait_for(session, LiveState.FINISHED)
    assert status.recording_path == tmp_path / "a.mcap"
    assert (status.n_strokes > 0, status.n_entered) == (True, 0)


def test_no_samples_make_no_trace():
    trace = SpeedTrace()
    empty = Samples(np.empty(0), np.empty((0, 3)), None, np.empty(0, dtype=bool), 200.0)
    trace.push(empty, np.array([1.0, 0.0, 0.0]))
    assert len(trace.tail()[0]) == 0


def traced(accel):
    """Return the trace of a cue with this force along it, at 200 Hz, pushed in batches of ten."""
    time_s = np.arange(len(accel)) / 200.0
    force = np.column_stack([accel, 0 * accel, 9.81 + 0 * accel])
    trace = SpeedTrace()
    for k in range(0, len(time_s), 10):
        part = slice(k, k + 10)
        still = np.zeros(len(time_s[part]), dtype=bool)
        trace.push(Samples(time_s[part], force[part], None, still, 200.0), np.array([1.0, 0, 0]))
    return trace.tail()


def test_the_trace_follows_a_steady_push_as_its_closed_form_says():
    """From rest a push A reads A t exp(-t / T): a high pass and a leaky sum in a row."""
    time_s = np.arange(0, 1.8, 0.005)
    seconds, speed = traced(np.where((time_s >= 1) & (time_s < 1.4), 2.0, 0.0))
    assert np.max(speed) == pytest.approx(2.0 * 0.4 * np.exp(-0.4 / FADE_S), rel=0.02)
    assert seconds[np.argmax(speed)] == pytest.approx(1.4, abs=0.02)
    assert np.all(speed[seconds < 1] == 0)


def test_a_cue_put_upright_stays_on_the_scale_and_comes_back():
    wobble = np.random.default_rng(3).normal(0, 0.5, 1600)  # never still
    seconds, speed = traced(np.where(np.arange(1600) < 200, 0.0, 9.81) + wobble)
    assert np.max(np.abs(speed)) < 3.2  # the closed form's 9.81 T / e is 2.9, and the wobble
    assert np.max(np.abs(speed[seconds > 7])) < 0.15
