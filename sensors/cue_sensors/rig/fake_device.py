"""Devices and characteristics as the stand-in for the Bluetooth service knows them."""

import asyncio
import socket
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from dbus_fast import Message, Variant

if TYPE_CHECKING:
    from cue_sensors.rig.tree import ObjectTree

PROPERTIES = "org.freedesktop.DBus.Properties"
CHARACTERISTIC = "org.bluez.GattCharacteristic1"
ADAPTER_PATH = "/org/bluez/hci0"


class BluezError(Exception):
    """Raise in a hook to answer the call with this D-Bus error."""

    def __init__(self, name: str, text: str = "") -> None:
        super().__init__(text)
        self.name, self.text = name, text


@dataclass(eq=False)
class FakeChar:
    """One characteristic.

    Parameters
    ----------
    uuid : str
        Its UUID.
    flags : list of str
        What may be done with it: ``read``, ``write``, ``write-without-response``, ``notify``.
    value : bytes or callable
        What a read gives.
    on_write : callable or None
        ``on_write(char, data)``; may raise BluezError.
    on_notify : callable or None
        ``on_notify(char, is_on)`` when somebody begins or ceases to listen.
    """

    uuid: str
    flags: list[str]
    value: bytes | Callable[[], bytes] = b""
    on_write: Callable[["FakeChar", bytes], object] | None = None
    on_notify: Callable[["FakeChar", bool], object] | None = None
    path: str = ""
    owner: "ObjectTree | None" = None
    mtu: int = 247
    notifiers: set[str] = field(default_factory=set)
    fd: socket.socket | None = None
    sent: int = 0
    dropped: int = 0

    @property
    def subscribed(self) -> bool:
        """Return whether anybody listens."""
        return bool(self.notifiers) or self.fd is not None

    def notify(self, data: bytes) -> bool:
        """Send one notification as the service would; return whether somebody listens."""
        if "notify" in self.flags:
            self.value = bytes(data)
        if self.fd is not None:
            if not self._put(self.fd, data):
                return False
        elif self.notifiers and self.owner is not None:
            self.owner.send(self._changed(bytes(data)))
        else:
            return False
        self.sent += 1
        return True

    def release(self) -> bool:
        """Have nobody listen any more; return whether somebody did."""
        was = self.subscribed
        if self.fd is not None:
            asyncio.get_running_loop().remove_reader(self.fd)
            self.fd.close()
            self.fd = None
        self.notifiers.clear()
        return was

    def _put(self, fd: socket.socket, data: bytes) -> bool:
        """Send through a socket; what its reader is too slow for is lost, as in the service."""
        try:
            fd.send(data)
        except BlockingIOError:
            self.dropped += 1
            return False
        except OSError:
            self.release()
            return False
        return True

    def _changed(self, data: bytes) -> Message:
        """Return the signal that carries a notification."""
        body = [CHARACTERISTIC, {"Value": Variant("ay", data)}, []]
        return Message.new_signal(self.path, PROPERTIES, "PropertiesChanged", "sa{sv}as", body)


@dataclass(eq=False)
class FakeDevice:
    """One device near the adapter.

    Parameters
    ----------
    address, name : str
        As it advertises.
    services : dict of str to list of FakeChar
        Characteristics by their service's UUID.
    rssi : int
        Strength of its signal in dBm.
    connect_errors : list of BluezError
        One for each connection to come that fails.
    resolve : bool
        False: its services are never found.
    is_service_advertised : bool
        It names its services before it is connected.
    """

    address: str
    name: str
    services: dict[str, list[FakeChar]]
    rssi: int = -60
    connect_errors: list[BluezError] = field(default_factory=list)
    connect_delay: float = 0.0
    resolve_delay: float = 0.0
    resolve: bool = True
    advertising: bool = True
    is_service_advertised: bool = True
    connects: int = 0

    @property
    def path(self) -> str:
        """Return its object's path."""
        return f"{ADAPTER_PATH}/dev_{self.address.replace(':', '_')}"

    def chars(self) -> list[FakeChar]:
        """Return all its characteristics."""
        return [char for chars in self.services.values() for char in chars]

    def char(self, uuid: str) -> FakeChar:
        """Return one characteristic."""
        return next(char for char in self.chars() if char.uuid == uuid)
