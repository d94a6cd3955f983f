"""A stand-in for Linux's Bluetooth service: one adapter, some devices.

It speaks the service's D-Bus interface, so an unmodified client of it can scan, connect, read,
write and subscribe with no radio. Written from the client library's source and from memory.
"""

# ruff: noqa: N802 - the do_… methods are named as their D-Bus methods are

import asyncio
import contextlib
import socket
from collections.abc import Iterator, Sequence
from typing import Any, Final, Self

from dbus_fast import Message, MessageType, NameFlag, Variant

from cue_sensors.rig.fake_device import (
    ADAPTER_PATH,
    CHARACTERISTIC,
    PROPERTIES,
    BluezError,
    FakeChar,
    FakeDevice,
)
from cue_sensors.rig.tree import MANAGER, ObjectTree

ADAPTER: Final = "org.bluez.Adapter1"
DEVICE: Final = "org.bluez.Device1"
SERVICE: Final = "org.bluez.GattService1"
DESCRIPTOR: Final = "org.bluez.GattDescriptor1"
CLIENT_CONFIGURATION: Final = "00002902-0000-1000-8000-00805f9b34fb"
FIRST_HANDLE: Final = 0x000A

Answer = tuple[str, Sequence[Any], Sequence[int]]


class FakeBluez(ObjectTree):
    """The service on a bus; an async context manager.

    Parameters
    ----------
    devices : sequence of FakeDevice
        What is near.
    address : str or None
        Of the bus; the system bus of this process's environment, if None.
    adv_period : float
        Devices advertise every so many seconds.
    """

    def __init__(
        self,
        devices: Sequence[FakeDevice],
        address: str | None = None,
        adv_period: float = 0.1,
    ) -> None:
        super().__init__(address)
        self.devices = {device.path: device for device in devices}
        self.adv_period = adv_period
        self._scanners: set[str] = set()
        self._users: dict[str, str] = {}

    async def __aenter__(self) -> Self:
        """Come up on the bus."""
        await self.connect()
        self.bus.add_message_handler(self._on_message)
        self.objects[ADAPTER_PATH] = {ADAPTER: _adapter_properties()}
        match = "type='signal',sender='org.freedesktop.DBus',member='NameOwnerChanged'"
        daemon = "org.freedesktop.DBus"
        path = "/org/freedesktop/DBus"
        await self.bus.call(Message(daemon, path, daemon, "AddMatch", signature="s", body=[match]))
        await self.bus.request_name("org.bluez", NameFlag.DO_NOT_QUEUE)
        return self

    async def __aexit__(self, *_: object) -> None:
        """Leave the bus."""
        for device in self.devices.values():
            for char in device.chars():
                char.release()
        await self.disconnect()

    # what the air would do

    def is_connected(self, device: FakeDevice) -> bool:
        """Return whether a client is connected to a device."""
        connected = self.objects.get(device.path, {}).get(DEVICE, {}).get("Connected")
        return bool(connected and connected.value)

    def drop_link(self, device: FakeDevice, *, forget: bool = False) -> None:
        """Have a device go out of range or switch off, and be forgotten if wanted."""
        self._release(device)
        if self.is_connected(device):
            self.change(device.path, DEVICE, {"ServicesResolved": Variant("b", False)})
            self.change(device.path, DEVICE, {"Connected": Variant("b", False)})
        if forget:
            self.vanish(device)

    def vanish(self, device: FakeDevice) -> None:
        """Remove a device's objects; no property tells that it was disconnected."""
        self._release(device)
        for path in sorted((p for p in self.objects if p.startswith(device.path)), reverse=True):
            self.remove(path)

    def power(self, is_on: bool) -> None:
        """Switch the adapter on or off."""
        self.change(ADAPTER_PATH, ADAPTER, {"Powered": Variant("b", is_on)})

    def _release(self, device: FakeDevice) -> None:
        """Have nobody listen to a device."""
        for char in device.chars():
            if char.release() and char.on_notify:
                char.on_notify(char, False)

    async def _advertise(self) -> None:
        """Have the devices heard for as long as somebody scans."""
        while self._scanners:
            for device in self.devices.values():
                if not device.advertising or self.is_connected(device):
                    continue
                if device.path not in self.objects:
                    self.add(device.path, {DEVICE: _device_properties(device)})
                else:
                    self.change(device.path, DEVICE, {"RSSI": Variant("n", device.rssi)})
            await asyncio.sleep(self.adv_period)

    async def _connect(self, device: FakeDevice) -> None:
        """Connect to a device, or fail as it was told to."""
        device.connects += 1
        await asyncio.sleep(device.connect_delay)
        if device.connect_errors:
            raise device.connect_errors.pop(0)
        if not device.advertising:
            raise BluezError("org.bluez.Error.Failed", "le-connection-abort-by-remote")
        self.change(device.path, DEVICE, {"Connected": Variant("b", True)})
        if device.resolve:
            self.spawn(self._resolve(device))

    async def _resolve(self, device: FakeDevice) -> None:
        """Show a connected device's services."""
        await asyncio.sleep(device.resolve_delay)
        for path, interfaces in self._attributes(device):
            self.add(path, interfaces)
        self.change(device.path, DEVICE, {"ServicesResolved": Variant("b", True)})

    def _attributes(self, device: FakeDevice) -> Iterator[tuple[str, dict[str, Any]]]:
        """Yield the objects of a device's services, paths shaped as the service shapes them."""
        handle = FIRST_HANDLE
        for uuid, chars in device.services.items():
            service = f"{device.path}/service{handle:04x}"
            yield service, {SERVICE: _service_properties(uuid, device.path)}
            for char in chars:
                handle += 1
                char.path, char.owner = f"{service}/char{handle:04x}", self
                yield char.path, {CHARACTERISTIC: _char_properties(char, service)}
                handle += 1  # of its value
                if "notify" in char.flags:
                    handle += 1
                    yield f"{char.path}/desc{handle:04x}", {DESCRIPTOR: _descriptor(char.path)}
            handle += 1

    # what clients ask

    def _on_message(self, message: Message) -> bool | None:
        """Take a message from the bus."""
        if message.message_type is MessageType.SIGNAL:
            if message.member == "NameOwnerChanged" and not message.body[2]:
                self._client_gone(message.body[0])
            return None
        if message.message_type is not MessageType.METHOD_CALL or message.interface in (
            "org.freedesktop.DBus.Peer",
            "org.freedesktop.DBus.Introspectable",
        ):
            return None
        self.spawn(self._answer(message))
        return True

    def _client_gone(self, name: str) -> None:
        """Forget a client that left the bus; the devices it connected to are let go."""
        self._scanners.discard(name)
        for device in self.devices.values():
            if self._users.get(device.path) == name:
                self.drop_link(device)

    async def _answer(self, message: Message) -> None:
        """Answer a call."""
        try:
            signature, body, fds = await self._call(message) or ("", [], [])
            reply = Message.new_method_return(message, signature, list(body), list(fds))
        except BluezError as error:
            reply, fds = Message.new_error(message, error.name, error.text), []
        self.send(reply, fds)

    async def _call(self, message: Message) -> Answer | None:
        """Return what a call returns."""
        tree = self.objects.get(message.path or "")
        if message.interface == MANAGER and message.path == "/":
            return "a{oa{sa{sv}}}", [self.objects], []
        unknown = "org.freedesktop.DBus.Error."
        if tree is None:
            raise BluezError(unknown + "UnknownObject", f"no object {message.path}")
        if message.interface == PROPERTIES:
            return self._properties(message, tree)
        if message.interface not in tree:
            raise BluezError(unknown + "UnknownMethod", f"no {message.interface}")
        handler = getattr(self, f"do_{message.member}", None)
        if handler is None:
            raise BluezError(unknown + "UnknownMethod", str(message.member))
        answer: Answer | None = await handler(message)
        return answer

    def _properties(self, message: Message, tree: dict[str, dict[str, Variant]]) -> Answer | None:
        """Answer a call about properties."""
        if message.member == "GetAll":
            return "a{sv}", [tree[message.body[0]]], []
        if message.member == "Get":
            return "v", [tree[message.body[0]][message.body[1]]], []
        self.change(message.path or "", message.body[0], {message.body[1]: message.body[2]})
        return None

    def _char(self, message: Message) -> FakeChar:
        """Return the characteristic that a call is about."""
        for device in self.devices.values():
            for char in device.chars():
                if char.path == message.path and self.is_connected(device):
                    return char
        raise BluezError("org.bluez.Error.Failed", "Not connected")

    async def do_SetDiscoveryFilter(self, _message: Message) -> None:
        """Take a filter: all devices are told of anyway."""

    async def do_StartDiscovery(self, message: Message) -> None:
        """Begin to scan for a client."""
        powered = self.objects[ADAPTER_PATH][ADAPTER]["Powered"].value
        if not powered:
            raise BluezError("org.bluez.Error.NotReady", "Resource Not Ready")
        is_first = not self._scanners
        self._scanners.add(message.sender or "")
        if is_first:
            self.change(ADAPTER_PATH, ADAPTER, {"Discovering": Variant("b", True)})
            self.spawn(self._advertise())

    async def do_StopDiscovery(self, message: Message) -> None:
        """Cease to scan for a client."""
        if message.sender not in self._scanners:
            raise BluezError("org.bluez.Error.Failed", "No discovery started")
        self._scanners.discard(message.sender)
        if not self._scanners:
            self.change(ADAPTER_PATH, ADAPTER, {"Discovering": Variant("b", False)})
            for path in self.devices:
                self.change(path, DEVICE, {}, ["RSSI"])

    async def do_RemoveDevice(self, message: Message) -> None:
        """Forget a device."""
        device = self.devices.get(message.body[0])
        if device is None or device.path not in self.objects:
            raise BluezError("org.bluez.Error.DoesNotExist", "Does Not Exist")
        self.drop_link(device, forget=True)

    async def do_Connect(self, message: Message) -> None:
        """Connect to a device."""
        self._users[message.path or ""] = message.sender or ""
        await self._connect(self.devices[message.path or ""])

    async def do_Disconnect(self, message: Message) -> None:
        """Disconnect from a device."""
        self.drop_link(self.devices[message.path or ""])

    async def do_ReadValue(self, message: Message) -> Answer:
        """Read a characteristic."""
        char = self._char(message)
        if "read" not in char.flags:
            raise BluezError("org.bluez.Error.NotPermitted", "Read not permitted")
        return "ay", [bytes(char.value() if callable(char.value) else char.value)], []

    async def do_WriteValue(self, message: Message) -> None:
        """Write to a characteristic."""
        char = self._char(message)
        if not {"write", "write-without-response"} & set(char.flags):
            raise BluezError("org.bluez.Error.NotPermitted", "Write not permitted")
        if char.on_write:
            char.on_write(char, bytes(message.body[0]))
        else:
            char.value = bytes(message.body[0])

    async def do_StartNotify(self, message: Message) -> None:
        """Begin to send notifications to a client."""
        char = self._char(message)
        if char.fd is not None:
            raise BluezError("org.bluez.Error.NotPermitted", "Notify acquired")
        char.notifiers.add(message.sender or "")
        self.change(char.path, CHARACTERISTIC, {"Notifying": Variant("b", True)})
        if char.on_notify:
            char.on_notify(char, True)

    async def do_StopNotify(self, message: Message) -> None:
        """Cease to send notifications to a client."""
        char = self._char(message)
        char.notifiers.discard(message.sender or "")
        is_on = bool(char.notifiers)
        self.change(char.path, CHARACTERISTIC, {"Notifying": Variant("b", is_on)})
        if char.on_notify and not is_on:
            char.on_notify(char, False)

    async def do_AcquireNotify(self, message: Message) -> Answer:
        """Hand a client a socket that notifications come through."""
        char = self._char(message)
        if char.subscribed:
            raise BluezError("org.bluez.Error.NotPermitted", "Notify acquired")
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        ours.setblocking(False)
        theirs.setblocking(False)
        char.fd = ours

        def hung_up() -> None:  # the client closed its end: that is its StopNotify
            char.release()
            self.change(char.path, CHARACTERISTIC, {"NotifyAcquired": Variant("b", False)})
            if char.on_notify:
                char.on_notify(char, False)

        asyncio.get_running_loop().add_reader(ours, hung_up)
        self.change(char.path, CHARACTERISTIC, {"NotifyAcquired": Variant("b", True)})
        if char.on_notify:
            char.on_notify(char, True)
        return "hq", [0, char.mtu], [theirs.detach()]

    async def do_AcquireWrite(self, message: Message) -> Answer:
        """Hand a client a socket that is good for learning the MTU only."""
        char = self._char(message)
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with contextlib.closing(ours):
            return "hq", [0, char.mtu], [theirs.detach()]


def _adapter_properties() -> dict[str, Variant]:
    """Return what the adapter shows."""
    return {
        "Address": Variant("s", "00:00:00:00:00:01"),
        "Name": Variant("s", "rehearsal"),
        "Alias": Variant("s", "rehearsal"),
        "Powered": Variant("b", True),
        "Discovering": Variant("b", False),
        "Roles": Variant("as", ["central"]),
        "UUIDs": Variant("as", []),
    }


def _device_properties(device: FakeDevice) -> dict[str, Variant]:
    """Return what a device shows."""
    flags = ("Paired", "Bonded", "Trusted", "Blocked", "Connected", "ServicesResolved")
    uuids = list(device.services) if device.is_service_advertised else []
    return {
        "Address": Variant("s", device.address),
        "AddressType": Variant("s", "random"),
        "Name": Variant("s", device.name),
        "Alias": Variant("s", device.name),
        "Adapter": Variant("o", ADAPTER_PATH),
        "RSSI": Variant("n", device.rssi),
        "UUIDs": Variant("as", uuids),
        **{flag: Variant("b", False) for flag in flags},
    }


def _service_properties(uuid: str, device_path: str) -> dict[str, Variant]:
    """Return what a service shows."""
    return {
        "UUID": Variant("s", uuid),
        "Primary": Variant("b", True),
        "Device": Variant("o", device_path),
        "Includes": Variant("ao", []),
    }


def _char_properties(char: FakeChar, service_path: str) -> dict[str, Variant]:
    """Return what a characteristic shows."""
    notifying = ("Notifying", "NotifyAcquired") if "notify" in char.flags else ()
    return {
        "UUID": Variant("s", char.uuid),
        "Service": Variant("o", service_path),
        "Value": Variant("ay", b""),
        "Flags": Variant("as", char.flags),
        "MTU": Variant("q", char.mtu),
        **{name: Variant("b", False) for name in notifying},
    }


def _descriptor(char_path: str) -> dict[str, Variant]:
    """Return what the descriptor that switches notifications on shows."""
    return {
        "UUID": Variant("s", CLIENT_CONFIGURATION),
        "Characteristic": Variant("o", char_path),
        "Value": Variant("ay", b""),
    }
