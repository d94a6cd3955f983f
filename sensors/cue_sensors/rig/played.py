"""A recording as a Bluetooth sensor: it is found, connected and listened to like a real one."""

import asyncio
import contextlib
import time
from collections.abc import AsyncIterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from cue_sensors.decoders import Decoder, decoder_for, stroke_stream
from cue_sensors.errors import SensorError
from cue_sensors.rehearsal import LOOP_PAUSE_S, RehearsalSensor
from cue_sensors.rig.fake_bluez import FakeBluez
from cue_sensors.rig.fake_device import FakeChar, FakeDevice
from cue_sensors.samples import SensorInfo

BATTERY_SERVICE_UUID: Final = "0000180f-0000-1000-8000-00805f9b34fb"
BATTERY_LEVEL_UUID: Final = "00002a19-0000-1000-8000-00805f9b34fb"
"""Bluetooth assigned numbers."""
BATTERY_PERCENT: Final = 87
LATE_S: Final = 0.005
"""Notifications this close together are sent at one go, as a radio does."""


@dataclass
class Progress:
    """How far a played sensor has come.

    Parameters
    ----------
    n_sent, n_missed : int
        Notifications that somebody listened to, and those that nobody did.
    is_over : bool
        It has come to its end and is switched off.
    """

    n_sent: int = 0
    n_missed: int = 0
    is_over: bool = False


class PlayedSensor:
    """Plays a recording to whoever connects, from the moment somebody first listens.

    Like a real sensor it does not wait for listeners after that: what nobody hears is lost.

    Parameters
    ----------
    path : path
        Recording or CSV file.
    number : int
        Tells sensors on one bus apart; the last part of the address.
    speed : float
        1 for real time, more for faster.
    loop : bool
        Begin again at the end, as a sensor that was switched off and on.

    Raises
    ------
    RecordingError
        If the file cannot be read or has nothing to send.
    """

    def __init__(
        self, path: Path, *, number: int = 1, speed: float = 1.0, loop: bool = False
    ) -> None:
        rehearsal = RehearsalSensor(path)
        self._notifications = rehearsal.notifications
        self._duration_s = rehearsal.duration_s
        self._speed, self._loop = speed, loop
        self._decoder = decoder_for(rehearsal.sensor.kind)
        self._listened = asyncio.Event()
        self.progress = Progress()
        self.data = FakeChar(self._decoder.notify_uuid, ["notify"], on_notify=self._on_notify)
        self.level = FakeChar(BATTERY_LEVEL_UUID, ["read", "notify"], bytes([BATTERY_PERCENT]))
        name = rehearsal.sensor.name or f"rehearsal {path.stem}"
        self.device = FakeDevice(
            f"C0:FF:EE:00:00:{number:02X}",
            name[:29],  # what fits an advertisement
            {
                self._decoder.service_uuid: [self.data, *self._others(rehearsal.sensor)],
                BATTERY_SERVICE_UUID: [self.level],
            },
        )

    @property
    def kind(self) -> str:
        """Return the protocol it speaks."""
        return self._decoder.kind

    async def play(self, bluez: FakeBluez) -> None:
        """Send everything once somebody listens; then switch off, or begin again."""
        await self._listened.wait()
        start_s = time.monotonic()
        while True:
            await self._round(start_s)
            if not self._loop:
                break
            start_s += (self._duration_s + LOOP_PAUSE_S) / self._speed
        self.progress.is_over = True
        await asyncio.sleep(0.2)  # what was sent is still on its way
        self.device.advertising = False
        bluez.drop_link(self.device)

    async def _round(self, start_s: float) -> None:
        """Send everything once."""
        for arrival_s, notification in self._notifications:
            wait_s = start_s + arrival_s / self._speed - time.monotonic()
            if wait_s > LATE_S:
                await asyncio.sleep(wait_s)
            if self.data.notify(notification):
                self.progress.n_sent += 1
            else:
                self.progress.n_missed += 1

    def _on_notify(self, _char: FakeChar, is_on: bool) -> None:
        """Begin once somebody listens."""
        if is_on:
            self._listened.set()

    def _others(self, sensor: SensorInfo) -> list[FakeChar]:
        """Return what it is described by and set going with; it takes every wish, and goes on."""
        chars = []
        if self._decoder.info_uuid:
            described = stroke_stream.encode_info(sensor)
            chars.append(FakeChar(self._decoder.info_uuid, ["read"], described))
        written = {
            uuid for uuid in _written(self._decoder, sensor) if uuid != self._decoder.notify_uuid
        }
        chars += [FakeChar(uuid, ["write"], on_write=_take) for uuid in sorted(written)]
        return chars


@contextlib.asynccontextmanager
async def playing(sensors: Sequence[PlayedSensor], address: str) -> AsyncIterator[FakeBluez]:
    """Put sensors on a bus and play them until left.

    Parameters
    ----------
    sensors : sequence of PlayedSensor
        Their numbers must differ.
    address : str
        Of a private bus.

    Yields
    ------
    FakeBluez
        The stand-in for the system's service.

    Raises
    ------
    SensorError
        If the bus cannot be reached.
    """
    bluez = FakeBluez([one.device for one in sensors], address)
    try:
        await bluez.__aenter__()
    except OSError as error:
        raise SensorError(f"The bus {address} cannot be reached ({error}). Try again.") from error
    try:
        for one in sensors:
            bluez.spawn(one.play(bluez))
        yield bluez
    finally:
        await bluez.__aexit__(None, None, None)


def _written(decoder: Decoder, sensor: SensorInfo) -> set[str]:
    """Return the characteristics that a listener may write to."""
    stated = replace(sensor, gyro_range_rad_s=1.0)
    commands = decoder.start(decoder.granted_rate_hz(100.0), None, stated)
    return {uuid for uuid, _ in (*commands.settings, *commands.go)}


def _take(_char: FakeChar, _data: bytes) -> None:
    """Take a command."""
