"""The sensor page: six rests and a roll on a live sensor, kept for the next session."""

import json
import shutil
import threading
import time

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from cue_dashboard import air
from cue_dashboard.air import Air, SensorChoice, last_sensor, remember_sensor
from cue_dashboard.app import create_app
from cue_dashboard.desk import desk_of
from cue_dashboard.ids import sensor as ids
from cue_dashboard.ids import table as table_ids
from cue_dashboard.pages.sensor_left import recordings_folder, taken_in
from cue_dashboard.words import sensor as sensor_words
from cue_dashboard.words import table as table_words
from cue_practice.folder import FOLDER_VARIABLE
from cue_recordings import data_folder
from cue_sensors.ble import FoundSensor
from cue_sensors.errors import SensorError
from cue_sensors.read import read_notifications
from cue_sensors.rehearsal import RehearsalSensor
from cue_sensors.samples import Recording, Samples, SensorInfo
from cue_sensors.space import left_open
from cue_sensors.writer import RecordingWriter

RATE_HZ = 100.0
GRAVITY_M_S2 = 9.80665
BIAS_M_S2 = np.array([0.25, -0.15, 0.08])
TAG = SensorChoice("stroke_stream", "Tag nine", "C0:FF:EE:00:00:09")
MOUNT = Rotation.from_rotvec([0.2, -0.1, 0.9])


def recording_of(force, rate):
    n = len(force)
    samples = Samples(np.arange(n) / RATE_HZ, force, rate, np.zeros(n, dtype=np.bool_), RATE_HZ)
    return Recording("made up", samples, SensorInfo("stroke_stream", TAG.name))


def six_sides():
    """Return a sensor with a known bias that lies two and a half seconds on each of its sides."""
    rng = np.random.default_rng(5)
    ups = np.vstack([np.eye(3), -np.eye(3)])
    rest = [np.tile(GRAVITY_M_S2 * up, (250, 1)) for up in ups]
    turn = [GRAVITY_M_S2 * up + 2.0 * rng.standard_normal((60, 3)) for up in ups]
    force = np.vstack([part for pair in zip(rest, turn, strict=True) for part in pair])
    return recording_of(force + BIAS_M_S2, np.zeros_like(force))


def rolled():
    """Return a sensor on a cue that is rolled one turn on the cloth and lifted at the tip."""
    share = np.linspace(0, 1, 300)
    smooth = share - np.sin(2 * np.pi * share) / (2 * np.pi)
    still = np.full(150, 1.0)
    phi = 6.6 * np.concatenate([0 * still, smooth, still, still, still])
    pitch = 0.02 + 0.7 * np.concatenate([np.zeros(600), smooth[::2], still])
    pose = Rotation.from_euler("ZYX", np.column_stack([0 * phi, -pitch, phi])) * MOUNT
    force = pose.inv().apply([0.0, 0.0, GRAVITY_M_S2])
    step = (pose[:-1].inv() * pose[1:]).as_rotvec() * RATE_HZ
    return recording_of(force, np.vstack([step, step[-1:]]))


class Gated:
    """A rehearsal that waits to be let go, as a player does before lifting the sensor."""

    def __init__(self, recording, gate):
        self._source, self._gate = RehearsalSensor(recording, speed=float("inf")), gate
        self._over = threading.Event()
        self.sensor, self.mounting = self._source.sensor, self._source.mounting
        self.calibration = None

    def __iter__(self):
        self._gate.wait(20)
        yield from self._source
        self._over.wait(20)

    def close(self):
        self._source.close()
        self._gate.set()
        self._over.set()


@pytest.fixture(autouse=True)
def own_folder(monkeypatch, tmp_path):
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path))


@pytest.fixture
def gate():
    return threading.Event()


@pytest.fixture
def app(log, gate, request):
    """Return the dashboard with a sensor in the air that plays what the test asks for."""
    made = request.param() if hasattr(request, "param") else six_sides()
    return create_app(log, recordings=(), sensor_source=lambda _: Gated(made, gate))


@pytest.fixture
def desk(app):
    at = desk_of(app.server)
    yield at
    at.stop()


def until(ask, within_s=20.0):
    """Wait until something is so and return it."""
    end_s = time.monotonic() + within_s
    while not (found := ask()):
        assert time.monotonic() < end_s
        time.sleep(0.05)
    return found


def seen(wire):
    """Return what the page shows of the guide, as text, and whether it may be saved."""
    answer = wire.fire(f"{ids.RESTS}.children", (ids.TICK, 1))
    return json.dumps(answer), not answer[ids.SAVE]["hidden"]


@pytest.mark.parametrize("app", [six_sides], indirect=True)
def test_six_guided_rests_give_the_bias_and_are_used_from_then_on(wire, desk, gate, log):
    desk.connect(TAG)
    wire.fire(f"{ids.RUN}.data", (ids.RESTS_START, 1))
    gate.set()
    until(lambda: seen(wire)[1])
    stands = json.dumps(wire.fire(f"{ids.STATE}.children", (ids.TICK, 1)))
    assert table_words.RATE_NOW.format(rate=RATE_HZ) in stands
    answer = wire.fire(f"{ids.RUN}.data", (ids.SAVE, 1))
    assert answer[ids.SAID]["children"] == sensor_words.SAVED_RESTS
    kept = log.calibration_for(TAG.kind, TAG.name)
    # one count of a 16 g sensor is 0.005 m/s^2
    assert kept.calibration.accel_bias_m_s2 == pytest.approx(tuple(BIAS_M_S2), abs=0.01)
    assert desk.status() is not None
    assert desk.sensor == TAG  # connected anew, so that the correction is in use


@pytest.mark.parametrize("app", [rolled], indirect=True)
def test_a_guided_roll_gives_the_cue_in_the_sensor_and_is_kept_for_that_cue(
    wire, desk, gate, log, series
):
    desk.connect(TAG)
    cue = str(series.cue_id)
    wire.fire(f"{ids.RUN}.data", (ids.ROLL_START, 1), sensor_cue=cue, sensor_from_butt=300)
    gate.set()
    until(lambda: seen(wire)[1])
    wire.fire(f"{ids.RUN}.data", (ids.SAVE, 1), sensor_cue=cue)
    kept = log.mounting_for(series.cue_id, TAG.kind, TAG.name).mounting
    assert kept.cue_axis == pytest.approx(tuple(MOUNT.inv().apply([1.0, 0.0, 0.0])), abs=0.01)
    assert kept.sensor_from_butt_m == pytest.approx(0.3)


def test_a_guide_without_a_sensor_says_what_to_do(wire):
    answer = wire.fire(f"{ids.RUN}.data", (ids.RESTS_START, 1))
    assert answer[ids.SAID]["children"] == sensor_words.NEEDS_SENSOR


def test_a_sensor_beyond_the_end_of_the_cue_is_refused_with_both_lengths(wire, series):
    sent = {"sensor_cue": str(series.cue_id), "sensor_from_butt": 1500}
    answer = wire.fire(f"{ids.RUN}.data", (ids.ROLL_START, 1), **sent)
    assert "1500 mm" in answer[ids.SAID]["children"]
    assert "1470 mm" in answer[ids.SAID]["children"]


def test_the_connection_outlives_a_series_and_follows_the_next(desk, log, series):
    desk.connect(TAG)
    number = desk.n_sessions
    assert desk.status().series_id == series.series_id
    log.edit_series(series.series_id, ended_utc=series.started_utc)
    desk.follow_open_series()
    assert (desk.status().series_id, desk.n_sessions) == (None, number)
    ids_ = (series.player_id, series.cue_id, series.table_id, series.setup_id)
    then = log.add_series(*ids_, 0.005)
    desk.follow_open_series()
    assert (desk.status().series_id, desk.n_sessions) == (then.series_id, number)


def test_the_sensor_used_last_is_remembered_and_a_damaged_note_is_none(tmp_path):
    assert last_sensor() is None
    remember_sensor(TAG)
    assert last_sensor() == TAG
    (tmp_path / air.LAST_NAME).write_text("{", encoding="utf-8")
    assert last_sensor() is None


@pytest.mark.parametrize(
    ("outcome", "said"),
    [
        ([FoundSensor("Tag nine", "C0", "stroke_stream", -60)], "strong signal"),
        ([FoundSensor("Kettle", "C1", None, -85)], table_words.FOUND_KIND_UNKNOWN),
        ([], table_words.SCAN_NONE),
        (SensorError("Bluetooth is off. Switch it on."), "Bluetooth is off."),
    ],
    ids=["known", "unknown", "nothing", "off"],
)
def test_what_was_heard_is_said_in_words(wire, desk, outcome, said):
    def scan(_seconds):
        if isinstance(outcome, Exception):
            raise outcome
        return outcome

    desk.air = Air(scan)
    desk.air.listen()
    until(lambda: not desk.air.heard().is_listening)
    state = {"heard": [1, False]}
    shown = wire.fire(f"{table_ids.SCAN_LIST}.children", ("table-desk", state))
    assert said in json.dumps(shown, ensure_ascii=False)


def cut_off(series_id):
    """Return a recording of one stroke and more that nobody closed, as a crash leaves it."""
    raw = read_notifications(data_folder() / "2-wren-pale-higher.mcap")
    folder = recordings_folder()
    folder.mkdir(parents=True)
    begun = folder.parent / "begun.mcap"
    told = raw.description
    labels = {"series_id": str(series_id)}
    writer = RecordingWriter(
        begun,
        sensor=told.sensor,
        mounting=told.mounting,
        calibration=told.calibration,
        labels=labels,
    )
    for arrival_s, notification in raw.timed():
        if arrival_s < 9.0:  # the first stroke is hit at 6.3 s
            writer.write(notification, round(1e9 * (1.7e9 + arrival_s)))
    time.sleep(1.1)  # by then every packet is on the disk
    shutil.copy(begun, folder / "cut.mcap")
    writer.close()
    return folder / "cut.mcap"


def test_a_recording_cut_off_by_a_crash_is_taken_in_with_the_stroke_that_was_missing(log, series):
    path = cut_off(series.series_id)
    assert left_open(path.parent) == [path]
    assert taken_in(log, path) == sensor_words.LEFT_TAKEN.format(name=path.name, n_found=1, n_new=1)
    assert left_open(path.parent) == []
    (shot,) = log.shots(series_id=series.series_id)
    truth = json.loads((data_folder() / "2-wren-pale-higher.truth.json").read_text("utf-8"))
    true_m_s = truth["strokes"][0]["tip_speed_m_s"]
    # samples of this stroke were lost on the way, and it says so
    assert abs(shot.pace_m_s - true_m_s) < 2 * shot.pace_sd_m_s < 2.5


def test_a_program_started_anew_connects_to_the_sensor_that_was_connected(log, gate):
    asked = []

    def source(choice):
        asked.append(choice)
        return Gated(six_sides(), gate)

    first = desk_of(create_app(log, recordings=(), sensor_source=source).server)
    first.reconnect()
    assert asked == []  # none was connected before
    first.connect(TAG)
    beside = desk_of(create_app(log, recordings=(), sensor_source=source).server)
    beside.reconnect()
    assert asked == [TAG]  # another program on the same folder leaves the sensor alone
    first.stop()
    again = desk_of(create_app(log, recordings=(), sensor_source=source).server)
    again.reconnect()
    assert (asked, again.sensor) == ([TAG, TAG], TAG)
    again.let_go()
    again.stop()
    last = desk_of(create_app(log, recordings=(), sensor_source=source).server)
    last.reconnect()
    assert asked == [TAG, TAG]  # the player had let go of it
    last.stop()


def test_a_note_of_another_day_or_a_damaged_one_connects_nothing(tmp_path, monkeypatch):
    air.note_in_use(TAG)
    assert air.sensor_in_use() == TAG
    monkeypatch.setattr(air, "IN_USE_LASTS_S", -1)
    assert air.sensor_in_use() is None
    monkeypatch.undo()
    (tmp_path / air.IN_USE_NAME).write_text("{")
    assert air.sensor_in_use(tmp_path) is None
