"""A bench for Bluetooth without a radio: a private bus, a fake system service, fake sensors."""

import asyncio
import contextlib
import threading
from types import SimpleNamespace

import pytest

from cue_sensors.ble import BleSettings
from cue_sensors.ble_loop import LoopThread
from cue_sensors.decoders import stroke_stream
from cue_sensors.rig.private_bus import private_bus as make_bus
from cue_sensors.rig.private_bus import rig_problem

BATTERY_SERVICE = "0000180f-0000-1000-8000-00805f9b34fb"
BATTERY_LEVEL = "00002a19-0000-1000-8000-00805f9b34fb"


class Streamer:
    """What a stroke-stream sensor does: sends numbered packets once it is started."""

    def __init__(self, fake_sensor, name, address, *, battery=87):
        from cue_sensors.rig import fake_device as bluez

        self.rig, self.fake = None, fake_sensor
        self.data = bluez.FakeChar(stroke_stream.DATA_UUID, ["notify"])
        self.info = bluez.FakeChar(
            stroke_stream.INFO_UUID, ["read"], stroke_stream.encode_info(fake_sensor.info)
        )
        self.control = bluez.FakeChar(
            stroke_stream.CONTROL_UUID, ["write"], on_write=self._on_control
        )
        self.level = bluez.FakeChar(BATTERY_LEVEL, ["read", "notify"], bytes([battery]))
        services = {
            stroke_stream.SERVICE_UUID: [self.data, self.info, self.control],
            BATTERY_SERVICE: [self.level],
        }
        self.device = bluez.FakeDevice(address, name, services)
        self.written = []
        self.n_sent = 0
        self.next_packet = 0
        self.is_silent = False
        self.period_s = 0.005
        self.is_running = False

    def _on_control(self, _char, data):
        self.written.append(bytes(data))
        if data[0] == 1 and not self.is_running:
            self.is_running = True
            self.rig.bluez.spawn(self._stream())

    async def _stream(self):
        """Take samples for ever; send those for which somebody listens."""
        while True:
            one = self.fake.packet(self.next_packet)
            self.next_packet += 1
            if not self.is_silent and self.data.notify(one.notification):
                self.n_sent += 1
            await asyncio.sleep(self.period_s)


class Rig:
    """The bus and the fake service, run in a thread of their own."""

    def __init__(self, *streamers):
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="rig", daemon=True)
        self._thread.start()
        from cue_sensors.rig.fake_bluez import FakeBluez

        self.bluez = FakeBluez([one.device for one in streamers], adv_period=0.02)
        for one in streamers:
            one.rig, one.is_running = self, False
        self._call(self.bluez.__aenter__())

    def _call(self, coroutine):
        return asyncio.run_coroutine_threadsafe(coroutine, self._loop).result(10)

    def do(self, function, *arguments, **options):
        """Call a function on the rig's loop and return what it returns."""

        async def call():
            return function(*arguments, **options)

        return self._call(call())

    def close(self):
        self._call(self.bluez.__aexit__(None, None, None))
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(10)
        self._loop.close()


@pytest.fixture(scope="session")
def private_bus():
    if rig_problem():
        pytest.skip(rig_problem())
    with make_bus(set_env=True) as address:
        yield address


@pytest.fixture
def bench(private_bus, fake_sensor):
    """Return a function that puts streaming sensors on the bench, by name."""
    with contextlib.ExitStack() as stack:
        loop = LoopThread()
        stack.callback(loop.close)

        def put(*names, **options):
            streamers = [
                Streamer(fake_sensor(**options), name, f"C0:FF:EE:00:00:{i:02X}")
                for i, name in enumerate(names, start=1)
            ]
            rig = Rig(*streamers)
            stack.callback(rig.close)
            return rig, loop, *streamers

        yield put


@pytest.fixture
def parts(private_bus, fake_sensor):
    """Return what a bench is made of, for tests that break it."""
    return SimpleNamespace(
        bus=lambda **options: make_bus(set_env=True, **options),
        rig=Rig,
        loop=LoopThread,
        streamer=lambda name: Streamer(fake_sensor(), name, "C0:FF:EE:00:00:01"),
    )


@pytest.fixture
def hasty():
    """Return settings that make tests quick; the order of steps does not depend on them."""
    return BleSettings(
        scan_s=2.0, connect_s=2.0, step_s=1.0, stall_s=0.4, back_off_s=(0.02, 0.05, 0.1)
    )
