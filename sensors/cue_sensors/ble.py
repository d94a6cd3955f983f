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
import time
from collections.abc import Awaitable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Final, TypeVar

from bleak import BleakClient, BleakScanner
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData
from bleak.exc import BleakError

from cue_sensors.ble_loop import LoopThread, shared_loop
from cue_sensors.decoders import decoder_for, decoders
from cue_sensors.errors import SensorError
from cue_sensors.samples import Calibration, Mounting, SensorInfo

T = TypeVar("T")

BATTERY_LEVEL_UUID: Final = "00002a19-0000-1000-8000-00805f9b34fb"
"""Battery level, percent (Bluetooth assigned numbers)."""
NO_SIGNAL_DBM: Final = -127
"""What stands for an unknown signal strength."""

logger = logging.getLogger(__name__)


@dataclass(frozen=True)
class BleSettings:
    """How patient the supervisor is, in seconds.

    Parameters
    ----------
    scan_s, connect_s, step_s : float
        Time-outs of scanning, of connecting, of every other step.
    stall_s : float
        Silence after which a connection is taken for dead, whatever the system says.
    back_off_s : tuple of float
        Waits before the first, second … new attempt; the last holds from then on.
    """

    scan_s: float = 10.0
    connect_s: float = 15.0
    step_s: float = 5.0
    stall_s: float = 1.5
    back_off_s: tuple[float, ...] = (0.25, 0.5, 1.0, 2.0, 4.0, 5.0)


@dataclass(frozen=True)
class FoundSensor:
    """A device that was heard.

    Parameters
    ----------
    name, address : str
        As it advertises.
    kind : str or None
        Protocol it speaks by the services it advertises, None if that is not known.
    signal_dbm : int or None
        Strength of its signal.
    """

    name: str
    address: str
    kind: str | None
    signal_dbm: int | None


class StepError(SensorError):
    """A step of the connection that failed.

    Parameters
    ----------
    step : str
        Which step.
    problem, remedy : str
        What happened, and what to try, as sentences.
    """

    def __init__(self, step: str, problem: str, remedy: str) -> None:
        super().__init__(f"{problem} {remedy}")
        self.step = step


def scan(*, seconds: float = 5.0, loop: LoopThread | None = None) -> list[FoundSensor]:
    """Return the devices near, the strongest first.

    Parameters
    ----------
    seconds : float
        How long to listen.
    loop : LoopThread or None
        The Bluetooth loop; the program's one, if None.

    Returns
    -------
    list of FoundSensor
        Those that advertise a name or a service this project knows.

    Raises
    ------
    StepError
        If Bluetooth is off or missing.
    """
    where = loop or shared_loop()
    return where.call(_scan(where, seconds))


async def _scan(loop: LoopThread, seconds: float) -> list[FoundSensor]:
    """Listen for so long and return what was heard."""
    async with loop.scanning:
        heard = await _guarded(
            BleakScanner.discover(timeout=seconds, return_adv=True), "scan", seconds + 5.0
        )
    found = [_found(device, advertisement) for device, advertisement in heard.values()]
    known = [one for one in found if one.name or one.kind]
    return sorted(known, key=lambda one: one.signal_dbm or NO_SIGNAL_DBM, reverse=True)


def _found(device: BLEDevice, advertisement: AdvertisementData) -> FoundSensor:
    """Return a device as it was heard."""
    services = {uuid.lower() for uuid in advertisement.service_uuids}
    kind = next((d.kind for d in decoders.values() if d.service_uuid in services), None)
    signal = advertisement.rssi if advertisement.rssi != NO_SIGNAL_DBM else None
    name = device.name or advertisement.local_name or ""
    return FoundSensor(name, device.address, kind, signal)


class BleSensor:
    """A sensor over Bluetooth; connect it, then iterate for ``(arrival_s, notification)``.

    Parameters
    ----------
    name_or_address : str or None
        Which one; None takes the first of its kind that is heard.
    kind : str
        Its protocol, a key of the decoder registry.
    rate_hz : float or None
        Rate to ask for; None leaves it alone.
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
    battery_percent, signal_dbm : int or None
        As last read.
    n_connects : int
        How often a connection reached the point where data can come.
    words : str
        How the connection stands, in a sentence.
    """

    def __init__(
        self,
        name_or_address: str | None = None,
        *,
        kind: str = "stroke_stream",
        rate_hz: float | None = None,
        mounting: Mounting | None = None,
        calibration: Calibration | None = None,
        settings: BleSettings | None = None,
        loop: LoopThread | None = None,
    ) -> None:
        self._wanted = name_or_address
        self._decoder = decoder_for(kind)
        self._rate_hz = rate_hz
        self._settings = settings or BleSettings()
        self._loop = loop or shared_loop()
        self.sensor: SensorInfo = replace(self._decoder.sensor, name=name_or_address or "")
        self.mounting = mounting or Mounting()
        self.calibration = calibration
        self.battery_percent: int | None = None
        self.signal_dbm: int | None = None
        self.n_connects = 0
        self.words = "Not connected yet."
        self._received: queue.SimpleQueue[tuple[float, bytes]] = queue.SimpleQueue()
        self._last_data_s = 0.0
        self._described = threading.Event()
        self._closing = threading.Event()
        self._future: Any = None

    def connect(self) -> None:
        """Begin to look for the sensor, and wait until it is there or this is closed."""
        if self._future is None:
            self._future = self._loop.submit(self._supervise())
        while not self._described.wait(0.1) and not self._closing.is_set():
            if self._future.done():
                self._future.result()

    def __iter__(self) -> Iterator[tuple[float, bytes]]:
        """Yield notifications as they come, through every reconnection, until it is closed."""
        self.connect()
        start_s = _now_s()
        while True:
            try:
                arrived_s, notification = self._received.get(timeout=0.1)
            except queue.Empty:
                if self._closing.is_set():
                    return
            else:
                yield arrived_s - start_s, notification

    def close(self) -> None:
        """Disconnect and end the iteration, from any thread but the loop's."""
        self._closing.set()
        if self._future is not None:
            with contextlib.suppress(Exception):
                self._future.result(self._settings.step_s + self._settings.connect_s)

    async def _supervise(self) -> None:
        """Connect again and again until closed."""
        failures = 0
        while not self._closing.is_set():
            before = self.n_connects
            try:
                await self._one_connection()
            except SensorError as error:
                self.words = str(error)
            except Exception as error:  # one attempt may fail in any way; the next must be made
                logger.exception("a connection failed")
                self.words = f"The connection failed ({error!r}). Trying again."
            failures = 0 if self.n_connects > before else failures + 1
            waits = self._settings.back_off_s
            await self._pause(waits[min(failures, len(waits) - 1)])
        self.words = "Closed."

    async def _pause(self, seconds: float) -> None:
        """Wait, but not once closed."""
        end_s = time.monotonic() + seconds
        while time.monotonic() < end_s and not self._closing.is_set():
            await asyncio.sleep(min(0.05, seconds))

    async def _one_connection(self) -> None:
        """Go through all steps once; returns or raises when the connection is over."""
        settings = self._settings
        device = await self._find()
        dropped = asyncio.Event()
        client = BleakClient(
            device,
            disconnected_callback=lambda _: dropped.set(),
            timeout=settings.connect_s,
        )
        try:
            self.words = f"Connecting to {device.name or device.address}."
            await _guarded(client.connect(), "connect", settings.connect_s + 1.0)
            await self._describe(client, device)
            self._last_data_s = _now_s()
            await _guarded(
                client.start_notify(self._decoder.notify_uuid, self._take), "subscribe",
                settings.step_s,
            )  # fmt: skip
            for uuid, data in self._decoder.start(self._rate_hz):
                await _guarded(
                    client.write_gatt_char(uuid, data, response=True), "start", settings.step_s
                )
            self.n_connects += 1
            self._described.set()
            self.words = f"Connected to {device.name or device.address}."
            await self._watch(dropped)
        finally:
            with contextlib.suppress(Exception):
                await asyncio.wait_for(client.disconnect(), settings.step_s)

    async def _find(self) -> BLEDevice:
        """Return the device, from a fresh scan."""
        wanted = self._wanted or self._decoder.kind
        self.words = f"Looking for {wanted}."
        async with self._loop.scanning:
            device = await _guarded(
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
        found = _found(device, advertisement)
        is_it = found.kind == self._decoder.kind
        if self._wanted is not None:
            is_it = self._wanted.lower() in (found.name.lower(), found.address.lower())
        if is_it:
            self.signal_dbm = found.signal_dbm
        return is_it

    async def _describe(self, client: BleakClient, device: BLEDevice) -> None:
        """Read what the sensor says about itself; the battery only if it has one."""
        step_s = self._settings.step_s
        if self._decoder.read_info is not None:
            value = await _guarded(
                client.read_gatt_char(self._decoder.info_uuid), "describe", step_s
            )
            self.sensor = self._decoder.read_info(bytes(value), name=device.name or "")
        else:
            rate_hz = self._rate_hz or self._decoder.sensor.nominal_rate_hz
            name = device.name or ""
            self.sensor = replace(self._decoder.sensor, name=name, nominal_rate_hz=rate_hz)
        with contextlib.suppress(BleakError, TimeoutError):
            level = await asyncio.wait_for(client.read_gatt_char(BATTERY_LEVEL_UUID), step_s)
            self.battery_percent = level[0] if level else None

    def _take(self, _characteristic: Any, data: bytearray) -> None:
        """Put a notification aside with its arrival; nothing else, for the loop must not wait."""
        self._last_data_s = _now_s()
        self._received.put((self._last_data_s, bytes(data)))

    async def _watch(self, dropped: asyncio.Event) -> None:
        """Wait until the connection is lost, silent or no longer wanted."""
        stall_s = self._settings.stall_s
        while not self._closing.is_set():
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(dropped.wait(), min(0.1, stall_s / 4))
            if dropped.is_set():
                raise StepError("watch", "The connection was lost.", "Connecting again.")
            silent_s = _now_s() - self._last_data_s
            if silent_s > stall_s:
                problem = f"The sensor has been silent for {silent_s:.1f} s."
                raise StepError("watch", problem, "Connecting again; bring it nearer.")


_REMEDIES: Final = {
    "scan": "Switch Bluetooth on, and allow this program to use it.",
    "connect": "Bring the sensor nearer, and close other programs that use it.",
    "describe": "Switch the sensor off and on; it may be of another kind.",
    "subscribe": "Switch the sensor off and on; it may be of another kind.",
    "start": "Switch the sensor off and on; it may not offer this rate.",
}


async def _guarded(step: Awaitable[T], name: str, seconds: float) -> T:
    """Return what a step returns; its failure or time-out becomes a sentence."""
    try:
        return await asyncio.wait_for(step, seconds)
    except TimeoutError as error:
        problem = f"Bluetooth step {name} took more than {seconds:g} s."
        raise StepError(name, problem, _REMEDIES[name]) from error
    except (BleakError, OSError, EOFError) as error:
        problem = f"Bluetooth step {name} failed ({error})."
        raise StepError(name, problem, _REMEDIES[name]) from error


def _now_s() -> float:
    """Return seconds on a clock that nobody sets and that runs on while the host sleeps."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    return time.monotonic()
