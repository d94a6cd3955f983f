"""A bench for Bluetooth without a radio: a private bus, a fake system service, fake sensors."""

import contextlib
from types import SimpleNamespace

import pytest

from cue_bench.sensor_rig import Rig, Streamer
from cue_sensors.ble import BleSettings
from cue_sensors.ble_loop import LoopThread
from cue_sensors.rig.private_bus import private_bus as make_bus
from cue_sensors.rig.private_bus import rig_problem


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
