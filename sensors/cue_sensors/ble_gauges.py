"""A connected sensor's battery and signal, kept fresh without ever disturbing its data."""

import asyncio
import contextlib
from typing import Any, Final

from bleak import BleakClient
from bleak.exc import BleakError

from cue_sensors.ble_steps import BleSettings

BATTERY_LEVEL_UUID: Final = "00002a19-0000-1000-8000-00805f9b34fb"
"""Battery level, percent (Bluetooth assigned numbers)."""


class Gauges:
    """Battery level and signal strength of one sensor, as last heard.

    Parameters
    ----------
    settings : BleSettings
        How long a reading may take and how often it is made.

    Attributes
    ----------
    battery_percent, signal_dbm : int or None
        None where the sensor or the system does not tell.
    """

    def __init__(self, settings: BleSettings) -> None:
        self._settings = settings
        self.battery_percent: int | None = None
        self.signal_dbm: int | None = None

    async def keep_reading(self, client: BleakClient) -> None:
        """Read both now and every while until cancelled; no failure ends it.

        Parameters
        ----------
        client : BleakClient
            Connected.
        """
        await self._quietly(self._listen(client))
        while True:
            await self._quietly(self._read_battery(client))
            await self._quietly(self._read_signal(client))
            await asyncio.sleep(self._settings.battery_s)

    async def _listen(self, client: BleakClient) -> None:
        """Have the sensor tell of its battery by itself, if it can."""
        level = client.services.get_characteristic(BATTERY_LEVEL_UUID)
        if level is not None and "notify" in level.properties:
            await client.start_notify(level, self._take_battery)

    async def _read_battery(self, client: BleakClient) -> None:
        """Read the battery's level."""
        if client.services.get_characteristic(BATTERY_LEVEL_UUID) is not None:
            self._take_battery(None, await client.read_gatt_char(BATTERY_LEVEL_UUID))

    async def _read_signal(self, client: BleakClient) -> None:
        """Read the signal's strength, where the system tells it of a connected device.

        On Linux and Windows it does not: there the strength is that of the last scan.
        """
        read = getattr(client._backend, "get_rssi", None)
        if read is not None:
            self.signal_dbm = int(await read())

    async def _quietly(self, step: Any) -> None:
        """Do something that may fail or take too long without harm."""
        with contextlib.suppress(BleakError, TimeoutError, OSError, EOFError):
            await asyncio.wait_for(step, self._settings.step_s)

    def _take_battery(self, _characteristic: Any, data: bytearray) -> None:
        """Take a level in; a value that is no percentage is none."""
        self.battery_percent = data[0] if data and data[0] <= 100 else None
