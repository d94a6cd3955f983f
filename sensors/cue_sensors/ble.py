"""A Bluetooth sensor that is found, kept and found again until it is closed.

The supervisor goes through the same steps each time: scan, connect, describe, subscribe, start,
watch. A step has its time-out and a sentence that says which step, how long and what to try. A
drop, a silent stall or a failed step ends with a disconnect, a short wait and a fresh scan, for the
system forgets devices. What was missed in between shows as a gap in the sensor's own clock.
"""

import asyncio
import contextlib
import logging
import queue
import threading
from collections.abc import Iterator
from concurrent.futures import Future
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from bleak import BleakClient, BleakScanner
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData

from cue_sensors.ble_gauges import Gauges
from cue_sensors.ble_loop import LoopThread, shared_loop
from cue_sensors.ble_scan import FoundSensor, found_in, scan
from cue_sensors.ble_steps import BleSettings, StepError, guarded
from cue_sensors.decoders import decoder_for
from cue_sensors.decoders.packet import Decoder
from cue_sensors.errors import SensorError
from cue_sensors.host_clock import steady_s
from cue_sensors.samples import Calibration, Mounting, SensorInfo

__all__ = ["BleSensor", "BleSettings", "FoundSensor", "StepError", "scan"]

logger = logging.getLogger(__name__)


class BleSensor:
    """A sensor over Bluetooth; connect it, then iterate for ``(arrival_s, notification)``.

    Parameters
    ----------
    name_or_address : str or None
        Which one; None takes the first of its kind that is heard, and stays with it.
    kind : str
        Its protocol, a key of the decoder registry.
    rate_hz : float or None
        Rate to ask for, or the next below that it offers; None leaves it alone where the sensor
        says what it is set to, and asks for the protocol's usual one where it does not.
    accel_range_g : float or None
        Range to ask for; None leaves it alone.
    mounting, calibration
        How it sits on the cue, and its correction.
    settings : BleSettings
        Time-outs and waits.
    loop : LoopThread or None
        The Bluetooth loop; the program's one, if None.

    Attributes
    ----------
    sensor : SensorInfo
        What it is; complete once it has been connected.
    start_utc : datetime or None
        UTC at arrival 0, None before the first connection.
    start_steady_s : float
        The same on the host's steady clock.
    is_connected : bool
        Whether data can come just now.
    n_connects : int
        How often a connection reached the point where data can come.
    words, last_problem : str
        How the connection stands, in a sentence; what went wrong last, empty if nothing did.

    Raises
    ------
    SensorError
        If there is no such kind, or it offers no choice of range.
    """

    def __init__(
        self,
        name_or_address: str | None = None,
        *,
        kind: str = "stroke_stream",
        rate_hz: float | None = None,
        accel_range_g: float | None = None,
        mounting: Mounting | None = None,
        calibration: Calibration | None = None,
        settings: BleSettings | None = None,
        loop: LoopThread | None = None,
    ) -> None:
        self._wanted, self._address = name_or_address, ""
        self._decoder = decoder_for(kind)
        _check_range(self._decoder, accel_range_g)
        self._rate_hz, self._accel_range_g = self._decoder.granted_rate_hz(rate_hz), accel_range_g
        self._settings = settings or BleSettings()
        self._loop = loop or shared_loop()
        self.sensor: SensorInfo = replace(self._decoder.sensor, name=name_or_address or "")
        self.mounting = mounting or Mounting()
        self.calibration = calibration
        self.start_utc: datetime | None = None
        self.is_connected = False
        self.n_connects = 0
        self.words = "Not connected yet."
        self.last_problem = ""
        self._gauges = Gauges(self._settings)
        self._received: queue.SimpleQueue[tuple[float, bytes]] = queue.SimpleQueue()
        self.start_steady_s = self._last_data_s = 0.0
        self._described = threading.Event()
        self._closing, self._ended = threading.Event(), threading.Event()
        self._failure: SensorError | None = None
        self._future: Future[None] | None = None

    @property
    def battery_percent(self) -> int | None:
        """Return the battery's charge as last heard, None if the sensor does not tell."""
        return self._gauges.battery_percent

    @property
    def signal_dbm(self) -> int | None:
        """Return the signal's strength as last heard, in most systems while it was looked for."""
        return self._gauges.signal_dbm

    def connect(self) -> None:
        """Begin to look for the sensor, and wait until it is there or this is closed."""
        if self._future is None:
            self._future = self._loop.submit(self._supervise())
        while not self._described.wait(0.1) and not self._closing.is_set():
            if self._future.done() and not self._future.cancelled():
                self._future.result()

    def __iter__(self) -> Iterator[tuple[float, bytes]]:
        """Yield notifications as they come, through every reconnection, until it is closed."""
        self.connect()
        while True:
            try:
                arrived_s, notification = self._received.get(timeout=0.1)
            except queue.Empty:
                if self._failure is not None:
                    raise self._failure from None
                if self._closing.is_set():
                    return
            else:
                yield arrived_s - self.start_steady_s, notification

    def close(self) -> None:
        """Disconnect and end the iteration, from any thread but the loop's."""
        self._closing.set()
        if self._future is not None:
            self._future.cancel()  # no step is waited for, the disconnecting excepted
            self._ended.wait(2 * self._settings.step_s)

    async def _supervise(self) -> None:
        """Keep a connection until closed."""
        try:
            await self._connect_again_and_again()
        finally:
            if self._failure is None:
                self.words = "Closed."
            self._ended.set()

    async def _connect_again_and_again(self) -> None:
        """Make one connection after the other."""
        failures = 0
        while not self._closing.is_set():
            before = self.n_connects
            try:
                await self._one_connection()
            except SensorError as error:
                self.words = self.last_problem = str(error)
            except Exception as error:  # one attempt may fail in any way; the next must be made
                logger.exception("a connection failed")
                self.words = f"The connection failed ({error!r}). Trying again."
                self.last_problem = self.words
            if self._failure is not None:
                return
            failures = 0 if self.n_connects > before else failures + 1
            waits = self._settings.back_off_s
            await asyncio.sleep(waits[min(failures, len(waits) - 1)])

    async def _one_connection(self) -> None:
        """Go through all steps once; returns or raises when the connection is over."""
        settings = self._settings
        device = await self._find()
        dropped = asyncio.Event()
        client = BleakClient(
            device,
            disconnected_callback=lambda _: dropped.set(),
            timeout=settings.connect_s + 1.0,
        )
        gauges: asyncio.Task[None] | None = None
        try:
            self.words = f"Connecting to {device.name or device.address}."
            await guarded(client.connect(), "connect", settings.connect_s)
            await self._start(client, device)
            self._have_connected(device)
            gauges = asyncio.create_task(self._gauges.keep_reading(client))
            await self._watch(dropped)
        finally:
            self.is_connected = False
            if gauges is not None:
                gauges.cancel()
            with contextlib.suppress(Exception):
                await asyncio.wait_for(client.disconnect(), settings.step_s)

    def _have_connected(self, device: BLEDevice) -> None:
        """Note that data can come now."""
        self._address = device.address
        self.n_connects += 1
        self.is_connected = True
        self._described.set()
        self.words = f"Connected to {device.name or device.address}."

    async def _find(self) -> BLEDevice:
        """Return the device, from a fresh scan."""
        known = self.sensor.name if self.n_connects else self._wanted
        wanted = known or f"a sensor of kind {self._decoder.kind}"
        self.words = f"Looking for {wanted}."
        async with self._loop.scanning:
            device = await guarded(
                BleakScanner.find_device_by_filter(self._is_it, timeout=self._settings.scan_s),
                "scan",
                self._settings.scan_s + 5.0,
            )
        if device is None:
            raise StepError(
                "scan",
                f"{wanted} was not heard in {self._settings.scan_s:g} s of scanning.",
                "Wake it, bring it nearer, or charge it.",
            )
        return device

    def _is_it(self, device: BLEDevice, advertisement: AdvertisementData) -> bool:
        """Return whether this is the sensor looked for."""
        found = found_in(device, advertisement)
        if self._address:  # the one that it was before, whatever else is near
            is_it = found.address == self._address
        elif self._wanted is not None:
            is_it = self._wanted.lower() in (found.name.lower(), found.address.lower())
        else:
            is_it = found.kind == self._decoder.kind
        if is_it:
            self._gauges.signal_dbm = found.signal_dbm
        return is_it

    async def _start(self, client: BleakClient, device: BLEDevice) -> None:
        """Have the sensor say what it is, listen to it, and set it going."""
        decoder, step_s = self._decoder, self._settings.step_s
        info = await self._described_by(client, device)
        commands = decoder.start(self._rate_hz, self._accel_range_g, info)
        for uuid, data in commands.settings:
            await guarded(_write(client, uuid, data), "set", step_s)
        if commands.settings:  # it may have taken the nearest that it can
            info = await self._described_by(client, device)
        self._check_unchanged(info)
        self.sensor = info
        self._last_data_s = steady_s()
        if self.start_utc is None:
            self.start_steady_s, self.start_utc = self._last_data_s, datetime.now(UTC)
        await guarded(client.start_notify(decoder.notify_uuid, self._take), "subscribe", step_s)
        for uuid, data in commands.go:
            await guarded(_write(client, uuid, data), "start", step_s)

    async def _described_by(self, client: BleakClient, device: BLEDevice) -> SensorInfo:
        """Return what the sensor says about itself, what is usual where it says nothing."""
        decoder, name = self._decoder, device.name or ""
        if decoder.read_info is None:
            rate_hz = self._rate_hz or decoder.sensor.nominal_rate_hz
            return replace(decoder.sensor, name=name, nominal_rate_hz=rate_hz)
        reading = client.read_gatt_char(decoder.info_uuid)
        value = await guarded(reading, "describe", self._settings.step_s)
        return decoder.read_info(bytes(value), name=name)

    def _check_unchanged(self, info: SensorInfo) -> None:
        """Refuse a sensor that came back with other scales: its counts would be misread."""
        if self.n_connects and replace(info, name=self.sensor.name) != self.sensor:
            self._failure = SensorError(
                f"{self.sensor.name or 'The sensor'} came back with another range or rate. "
                "Connect it anew, so that a new recording begins."
            )
            raise self._failure

    def _take(self, _characteristic: Any, data: bytearray) -> None:
        """Put a notification aside with its arrival; nothing else, for the loop must not wait."""
        self._last_data_s = steady_s()
        self._received.put((self._last_data_s, bytes(data)))

    async def _watch(self, dropped: asyncio.Event) -> None:
        """Wait until the connection is lost, silent or no longer wanted."""
        stall_s = self._settings.stall_s
        while not self._closing.is_set():
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(dropped.wait(), min(0.1, stall_s / 4))
            if dropped.is_set():
                raise StepError("watch", "The connection was lost.", "Connecting again.")
            silent_s = steady_s() - self._last_data_s
            if silent_s > stall_s:
                problem = f"The sensor has been silent for {silent_s:.1f} s."
                raise StepError("watch", problem, "Connecting again; bring it nearer.")


async def _write(client: BleakClient, uuid: str, data: bytes) -> None:
    """Write to a characteristic, and have it confirmed where it can be."""
    target = client.services.get_characteristic(uuid)
    is_confirmed = target is None or "write" in target.properties
    await client.write_gatt_char(uuid, data, response=is_confirmed)


def _check_range(decoder: Decoder, accel_range_g: float | None) -> None:
    """Refuse a range for a protocol that offers no choice."""
    if accel_range_g is not None and not decoder.has_ranges:
        raise SensorError(
            f"A sensor of kind {decoder.kind} offers no choice of range, so "
            f"{accel_range_g:g} g cannot be set. Leave the range out."
        )
