"""The supervisor with unmodified bleak against a fake system service: found, kept, found again."""

import asyncio
import contextlib
import re
from dataclasses import replace

import numpy as np
import pytest

from cue_bench.sensor_drops import DROPS, Listener, disconnect, gap_errors
from cue_sensors.ble import BleSensor, StepError, scan
from cue_sensors.ble_loop import LoopThread
from cue_sensors.ble_scan import kind_of
from cue_sensors.decoders.stroke_stream import encode_info
from cue_sensors.errors import SensorError
from cue_sensors.rig.fake_device import BluezError


@pytest.fixture
def listen():
    made = []

    def start(sensor):
        made.append(Listener(sensor))
        return made[-1]

    yield start
    for one in made:
        one.close()


def test_a_scan_names_what_is_near_and_what_it_speaks(bench):
    _, loop, *_ = bench("cue tag A", "cue tag B")
    found = scan(seconds=0.3, loop=loop)
    assert sorted(one.name for one in found) == ["cue tag A", "cue tag B"]
    assert {one.kind for one in found} == {"stroke_stream"}
    assert {one.signal_dbm for one in found} == {-60}


@pytest.mark.parametrize("rate_hz", [208.0, 416.0])
def test_a_stream_arrives_whole_and_in_order(bench, hasty, listen, rate_hz):
    """Half a minute of the sensor's time, sent many times as fast as it was taken."""
    _, loop, tag = bench("cue tag A", rate_hz=rate_hz, per_packet=19)
    sensor = BleSensor("cue tag A", rate_hz=rate_hz, settings=hasty, loop=loop)
    listener = listen(sensor)
    n = round(30 * rate_hz / 19)
    listener.wait_for(lambda: len(listener.got) >= n)
    samples, assembler = listener.samples()
    index = tag.fake.index_of(samples)
    np.testing.assert_array_equal(np.diff(index), 1)
    assert assembler.problems() == ()
    assert sensor.battery_percent == 87
    assert sensor.signal_dbm == -60
    assert sensor.sensor.accel_range_m_s2 == pytest.approx(16 * 9.80665)
    hz = round(rate_hz).to_bytes(2, "little")
    assert tag.written[0] == b"\x02\x00" + hz + b"\x10\x00"
    assert tag.written[-1] == b"\x01"


@pytest.mark.parametrize("drop", DROPS.values(), ids=DROPS)
def test_a_drop_is_recovered_and_its_gap_has_its_true_length(bench, hasty, listen, drop):
    rig, loop, tag = bench("cue tag A")
    sensor = BleSensor("cue tag A", settings=hasty, loop=loop)
    listener = listen(sensor)
    listener.wait_for_more()
    for _ in range(2):
        drop(rig, tag)
        listener.wait_for_more()
    assert sensor.n_connects >= 3
    samples, assembler = listener.samples()
    n_gaps, _, worst_share = gap_errors(tag, samples)
    assert n_gaps >= 2
    # the sensor's time runs ten times as fast as the wall here, so arrivals cannot tell the
    # length; its own clock does, and the running clock bends it by half a thousandth at most
    assert worst_share < 0.001
    assert assembler.n_restarts == 0


def test_two_sensors_at_once_keep_their_streams_apart(bench, hasty, listen):
    _, loop, first, second = bench("cue tag A", "cue tag B")
    second.next_packet = 3000
    a = listen(BleSensor("cue tag A", settings=hasty, loop=loop))
    b = listen(BleSensor("cue tag B", settings=hasty, loop=loop))
    a.wait_for_more()
    b.wait_for_more()
    assert np.max(first.fake.index_of(a.samples()[0])) < 30_000
    assert np.min(second.fake.index_of(b.samples()[0])) >= 30_000


def test_the_battery_is_read_again_and_again_and_told_by_itself(bench, hasty, listen):
    rig, loop, tag = bench("cue tag A")
    listener = listen(BleSensor(settings=replace(hasty, battery_s=0.05), loop=loop))
    listener.wait_for(lambda: listener.sensor.battery_percent == 87)
    tag.level.value = bytes([34])
    listener.wait_for(lambda: listener.sensor.battery_percent == 34)
    rig.do(tag.level.notify, bytes([33]))
    listener.wait_for(lambda: listener.sensor.battery_percent == 33)


def test_a_battery_that_never_answers_costs_the_stream_nothing(bench, hasty, listen):
    rig, loop, tag = bench("cue tag A")

    async def never(message):
        if message.path == tag.level.path:
            await asyncio.sleep(60)
        return await read(message)

    read, rig.bluez.do_ReadValue = rig.bluez.do_ReadValue, never
    listener = listen(BleSensor(settings=replace(hasty, step_s=0.2, battery_s=0.01), loop=loop))
    listener.wait_for_more(100)
    assert listener.sensor.battery_percent is None
    assert (listener.sensor.n_connects, listener.sensor.is_connected) == (1, True)
    assert listener.samples()[1].problems() == ()


def test_a_sensor_taken_for_its_kind_stays_the_one_it_was(bench, hasty, listen):
    rig, loop, first, second = bench("cue tag A", "cue tag B")
    second.device.advertising = False
    sensor = BleSensor(settings=hasty, loop=loop)
    listener = listen(sensor)
    listener.wait_for_more()
    second.device.advertising, first.device.advertising = True, False
    disconnect(rig, first)
    listener.wait_for(lambda: "cue tag A was not heard" in sensor.words)
    first.device.advertising = True
    listener.wait_for(lambda: sensor.n_connects == 2)
    assert second.device.connects == 0


def test_a_sensor_that_comes_back_with_another_range_ends_with_a_sentence(bench, hasty):
    rig, loop, tag = bench("cue tag A")
    sensor = BleSensor(settings=hasty, loop=loop)
    listener = Listener(sensor)
    listener.wait_for_more()
    tag.info.value = encode_info(replace(tag.fake.info, accel_range_m_s2=8 * 9.80665))
    disconnect(rig, tag)
    listener.join()
    assert re.search("came back with another range.*Connect it anew", str(listener.error))


def test_a_setting_that_is_refused_is_said(bench, hasty, listen):
    _, loop, tag = bench("cue tag A")

    def refuse(_char, data):
        if data[0] == 2:
            raise BluezError("org.bluez.Error.Failed", "Operation failed with ATT error: 0x13")

    tag.control.on_write = refuse
    sensor = BleSensor(rate_hz=5000.0, settings=hasty, loop=loop)
    listener = listen(sensor)
    listener.wait_for(lambda: "step set failed" in sensor.words)
    assert "Ask for another rate or range" in sensor.words


STEPS = {
    "connect": ("do_Connect", "step connect took more than 2 s. Bring the sensor nearer"),
    "describe": ("do_ReadValue", "step describe took more than 1 s. Switch the sensor off"),
    "subscribe": ("do_StartNotify", "step subscribe took more than 1 s. Switch the sensor off"),
    "start": ("do_WriteValue", "step start took more than 1 s. Switch the sensor off"),
}


@pytest.mark.parametrize(("method", "said"), STEPS.values(), ids=STEPS)
def test_a_step_that_never_ends_says_which_how_long_and_what_to_try(
    bench, hasty, listen, method, said
):
    rig, loop, _ = bench("cue tag A")

    async def never(_message):
        await asyncio.sleep(60)

    setattr(rig.bluez, method, never)
    sensor = BleSensor("cue tag A", settings=hasty, loop=loop)
    listener = listen(sensor)
    heard = []
    listener.wait_for(lambda: heard.append(sensor.words) or any(said in w for w in heard))


def test_a_range_is_asked_for_and_what_the_sensor_took_is_believed(bench, hasty, listen):
    _, loop, tag = bench("cue tag A")

    def take_the_nearest(_char, data):
        tag.written.append(bytes(data))
        if data[:2] == b"\x02\x00":  # the sensor has 8 and 16 g, and takes 16 for 12
            tag.info.value = encode_info(replace(tag.fake.info, accel_range_m_s2=16 * 9.80665))
        elif data[0] == 1:
            tag.on_control(_char, data)

    tag.info.value = encode_info(replace(tag.fake.info, accel_range_m_s2=8 * 9.80665))
    tag.control.on_write = take_the_nearest
    listener = listen(BleSensor(accel_range_g=12.0, settings=hasty, loop=loop))
    listener.wait_for_more()
    assert tag.written[0] == b"\x02\x00\xc8\x00\x0c\x00"
    assert listener.sensor.sensor.accel_range_m_s2 == pytest.approx(16 * 9.80665)


def test_a_kind_without_a_choice_of_range_says_so():
    with pytest.raises(SensorError, match=r"wt901 offers no choice of range, so 8 g.*Leave"):
        BleSensor(kind="wt901", accel_range_g=8.0, loop=object())


@pytest.mark.parametrize(
    ("name", "services", "kind"),
    [
        ("WT901BLE67", set(), "wt901"),
        ("Movesense 1234", set(), "movesense"),
        ("a watch", set(), None),
        ("Thingy", {"5709d59e-c04f-4fe8-a8cd-46e0ec1e0a9f"}, "stroke_stream"),
    ],
)
def test_a_sensor_that_advertises_no_service_is_known_by_its_name(name, services, kind):
    assert kind_of(name, services) == kind


def test_a_sensor_that_is_not_there_is_said_in_words_and_closing_ends_the_search(bench, hasty):
    _, loop, _ = bench("cue tag A")
    sensor = BleSensor("nobody", settings=hasty, loop=loop)
    listener = Listener(sensor)
    heard = []

    def is_said():
        heard.append(sensor.words)
        return any("nobody was not heard in 2 s of scanning. Wake it" in w for w in heard)

    listener.wait_for(is_said)
    listener.close()
    assert listener.got == []
    assert sensor.words == "Closed."


def test_closing_disconnects_the_sensor(bench, hasty):
    rig, loop, tag = bench("cue tag A")
    listener = Listener(BleSensor(settings=hasty, loop=loop))
    listener.wait_for_more()
    listener.close()
    assert rig.do(rig.bluez.is_connected, tag.device) is False


def test_a_bus_that_dies_and_comes_back_is_found_again(parts, tmp_path_factory, hasty):
    """The system's message bus restarts under a connected sensor."""
    folder = tmp_path_factory.mktemp("b")
    tag = parts.streamer("cue tag A")
    with contextlib.ExitStack() as stack:
        loop = stack.enter_context(contextlib.closing(parts.loop()))
        with parts.bus(folder=folder):
            rig = parts.rig(tag)
            listener = Listener(BleSensor("cue tag A", settings=hasty, loop=loop))
            stack.callback(listener.close)
            listener.wait_for_more()
            rig.close()
        listener.wait_for(lambda: "Connected" not in listener.sensor.words)
        stack.enter_context(parts.bus(folder=folder))
        stack.enter_context(contextlib.closing(parts.rig(tag)))
        listener.wait_for_more()
        assert listener.sensor.n_connects == 2
        listener.close()


def test_bluetooth_that_is_missing_is_said(private_bus):
    with (
        contextlib.closing(LoopThread()) as loop,
        pytest.raises(StepError, match=r"step scan failed.*Switch Bluetooth on"),
    ):
        scan(seconds=0.1, loop=loop)
