"""Numbered sensors on the stand-in for the system's Bluetooth service, in a thread of its own."""

import asyncio
import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import Any, Final, TypeVar

from cue_bench.numbered import NumberedSensor
from cue_sensors.decoders import stroke_stream
from cue_sensors.host_clock import steady_s
from cue_sensors.rig.fake_bluez import FakeBluez
from cue_sensors.rig.fake_device import FakeChar, FakeDevice
from cue_sensors.rig.played import BATTERY_LEVEL_UUID, BATTERY_SERVICE_UUID

T = TypeVar("T")
CALL_S: Final = 10.0


class Streamer:
    """What a stroke-stream sensor does: sends numbered packets once it is started.

    Parameters
    ----------
    numbered : NumberedSensor
        What it sends.
    name, address : str
        As it advertises.
    battery : int
        Percent.
    period_s : float
        Time between packets on the wall, whatever the sensor's own clock says.

    Attributes
    ----------
    sent_s : list of float
        When each packet that somebody listened to was sent, on the steady clock.
    is_silent : bool
        It takes samples and sends none.
    """

    def __init__(
        self,
        numbered: NumberedSensor,
        name: str,
        address: str,
        *,
        battery: int = 87,
        period_s: float = 0.005,
    ) -> None:
        self.rig: Rig | None = None
        self.fake = numbered
        self.data = FakeChar(stroke_stream.DATA_UUID, ["notify"])
        info = stroke_stream.encode_info(numbered.info)
        self.info = FakeChar(stroke_stream.INFO_UUID, ["read"], info)
        self.control = FakeChar(stroke_stream.CONTROL_UUID, ["write"], on_write=self.on_control)
        self.level = FakeChar(BATTERY_LEVEL_UUID, ["read", "notify"], bytes([battery]))
        services = {
            stroke_stream.SERVICE_UUID: [self.data, self.info, self.control],
            BATTERY_SERVICE_UUID: [self.level],
        }
        self.device = FakeDevice(address, name, services)
        self.written: list[bytes] = []
        self.sent_s: list[float] = []
        self.next_packet = 0
        self.last_packet: int | None = None
        self.is_silent = False
        self.is_running = False
        self.period_s = period_s

    def on_control(self, _char: FakeChar, data: bytes) -> None:
        """Take a command; the start sets it going for good."""
        self.written.append(bytes(data))
        if data[0] == 1 and not self.is_running and self.rig is not None:
            self.is_running = True
            self.rig.bluez.spawn(self._stream())

    async def _stream(self) -> None:
        """Take samples for ever, or up to the last packet; send those somebody listens to."""
        next_s = steady_s()
        while self.last_packet is None or self.next_packet < self.last_packet:
            one = self.fake.packet(self.next_packet)
            self.next_packet += 1
            if not self.is_silent and self.data.notify(one.notification):
                self.sent_s.append(steady_s())
            next_s = max(next_s + self.period_s, steady_s() - 0.1)
            await asyncio.sleep(max(0.0, next_s - steady_s()))


class Rig:
    """The fake service with its sensors, run in a thread of its own.

    Parameters
    ----------
    streamers : Streamer
        What is near.
    """

    def __init__(self, *streamers: Streamer) -> None:
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="rig", daemon=True)
        self._thread.start()
        self.bluez = FakeBluez([one.device for one in streamers], adv_period=0.02)
        for one in streamers:
            one.rig, one.is_running = self, False
        self._call(self.bluez.__aenter__())

    def do(self, function: Callable[..., T], *arguments: Any, **options: Any) -> T:
        """Call a function on the rig's loop and return what it returns."""

        async def call() -> T:
            return function(*arguments, **options)

        result: T = self._call(call())
        return result

    def close(self) -> None:
        """Leave the bus and stop the loop."""
        self._call(self.bluez.__aexit__(None, None, None))
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(CALL_S)
        self._loop.close()

    def _call(self, coroutine: Any) -> Any:
        """Run a coroutine on the rig's loop."""
        future: Future[Any] = asyncio.run_coroutine_threadsafe(coroutine, self._loop)
        return future.result(CALL_S)
