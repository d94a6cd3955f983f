"""What Bluetooth sensors are near, and which of them this project can read."""

from dataclasses import dataclass
from typing import Final

from bleak import BleakScanner
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData

from cue_sensors.ble_loop import LoopThread, shared_loop
from cue_sensors.ble_steps import guarded
from cue_sensors.decoders import decoders

NO_SIGNAL_DBM: Final = -127
"""What stands for an unknown signal strength."""


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
        heard = await guarded(
            BleakScanner.discover(timeout=seconds, return_adv=True), "scan", seconds + 5.0
        )
    found = [found_in(device, advertisement) for device, advertisement in heard.values()]
    known = [one for one in found if one.name or one.kind]
    return sorted(known, key=lambda one: one.signal_dbm or NO_SIGNAL_DBM, reverse=True)


def found_in(device: BLEDevice, advertisement: AdvertisementData) -> FoundSensor:
    """Return a device as it was heard, its kind told from the services it advertises."""
    services = {uuid.lower() for uuid in advertisement.service_uuids}
    signal = advertisement.rssi if advertisement.rssi != NO_SIGNAL_DBM else None
    name = device.name or advertisement.local_name or ""
    return FoundSensor(name, device.address, kind_of(name, services), signal)


def kind_of(name: str, services: set[str]) -> str | None:
    """Return the protocol a device speaks, by its services or else by how its name begins.

    Parameters
    ----------
    name : str
        As it advertises.
    services : set of str
        UUIDs of the services it advertises, in lower case; many sensors advertise none.

    Returns
    -------
    str or None
        Key of the decoder registry, None if nothing tells.
    """
    for decoder in decoders.values():
        if decoder.service_uuid in services:
            return decoder.kind
    hinted = (d.kind for d in decoders.values() if name.lower().startswith(d.name_hints or ("\0",)))
    return next(hinted, None)
