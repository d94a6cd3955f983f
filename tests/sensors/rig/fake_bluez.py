"""A small org.bluez service for tests: one adapter, some GATT devices.

It speaks BlueZ's D-Bus interface, so an unmodified client of BlueZ (bleak's
Linux backend, say) can scan, connect, read, write and subscribe with no radio.
"""

# ruff: noqa: N802 - the do_… methods are named as their D-Bus methods are

import asyncio
import collections
import contextlib
import os
import select
import socket
from dataclasses import dataclass, field

from dbus_fast import BusType, Message, MessageType, NameFlag, Variant
from dbus_fast.aio import MessageBus

OM, PROPS = "org.freedesktop.DBus.ObjectManager", "org.freedesktop.DBus.Properties"
ADAPTER, DEVICE, BATTERY = "org.bluez.Adapter1", "org.bluez.Device1", "org.bluez.Battery1"
SERVICE, CHAR, DESC = (
    "org.bluez.GattService1",
    "org.bluez.GattCharacteristic1",
    "org.bluez.GattDescriptor1",
)
ADAPTER_PATH = "/org/bluez/hci0"
BASE = "-0000-1000-8000-00805f9b34fb"


class BluezError(Exception):
    """Raise in a hook to answer the call with this D-Bus error."""

    def __init__(self, name, text=""):
        super().__init__(text)
        self.name, self.text = name, text


@dataclass
class FakeChar:
    uuid: str
    flags: list
    value: bytes = b""
    on_write: object = None  # callable(char, data)
    on_notify: object = None  # callable(char, bool)
    path: str = ""
    owner: object = None  # the FakeBluez, once resolved
    mtu: int = 247
    notifiers: set = field(default_factory=set)  # D-Bus names that called StartNotify
    fd: socket.socket | None = None  # our end of AcquireNotify
    sent: int = 0
    dropped: int = 0

    @property
    def subscribed(self):
        return bool(self.notifiers) or self.fd is not None

    def notify(self, data):
        """Send one notification the way BlueZ would; True if somebody listens."""
        self.value = bytes(data)
        if self.fd is not None:
            try:
                self.fd.send(data)
            except BlockingIOError:  # reader too slow: BlueZ loses it too
                self.dropped += 1
                return False
            except OSError:
                self.release()
                return False
        elif self.notifiers:
            self.owner.send(
                Message.new_signal(
                    self.path,
                    PROPS,
                    "PropertiesChanged",
                    "sa{sv}as",
                    [CHAR, {"Value": Variant("ay", self.value)}, []],
                )
            )
        else:
            return False
        self.sent += 1
        return True

    def release(self):
        """Nobody is subscribed any more; True if somebody was."""
        was = self.subscribed
        if self.fd is not None:
            asyncio.get_running_loop().remove_reader(self.fd)
            self.fd.close()
            self.fd = None
        self.notifiers.clear()
        return was


@dataclass
class FakeDevice:
    address: str
    name: str
    services: dict  # service uuid -> list of FakeChar
    manufacturer: dict = field(default_factory=dict)
    rssi: int = -60
    battery: int | None = None  # shown as org.bluez.Battery1 while connected
    connect_errors: list = field(default_factory=list)  # BluezError per coming Connect
    connect_delay: float = 0.0
    resolve_delay: float = 0.0
    resolve: bool = True  # False: services are never resolved
    advertising: bool = True
    connects: int = 0

    @property
    def path(self):
        return f"{ADAPTER_PATH}/dev_{self.address.replace(':', '_')}"

    def chars(self):
        return [c for cs in self.services.values() for c in cs]

    def char(self, uuid):
        return next(c for c in self.chars() if c.uuid == uuid)


class FakeBluez:
    def __init__(self, devices, address=None, adv_period=0.1):
        self.devices = {d.path: d for d in devices}
        self.address, self.adv_period = address, adv_period
        self.objects, self.calls, self.filters = {}, [], {}
        self._scanners, self._tasks = set(), set()
        self._out, self._busy = collections.deque(), False

    # -- life cycle
    async def __aenter__(self):
        self.bus = await MessageBus(
            bus_address=self.address or os.environ["DBUS_SYSTEM_BUS_ADDRESS"],
            bus_type=BusType.SYSTEM,
            negotiate_unix_fd=True,
        ).connect()
        self.bus.add_message_handler(self._on_message)
        self.objects[ADAPTER_PATH] = {
            ADAPTER: {
                "Address": Variant("s", "00:00:00:00:00:01"),
                "Name": Variant("s", "fake"),
                "Alias": Variant("s", "fake"),
                "Powered": Variant("b", True),
                "Discovering": Variant("b", False),
                "Roles": Variant("as", ["central"]),
                "UUIDs": Variant("as", []),
            }
        }
        await self.bus.call(
            Message(
                destination="org.freedesktop.DBus",
                path="/org/freedesktop/DBus",
                interface="org.freedesktop.DBus",
                member="AddMatch",
                signature="s",
                body=["type='signal',sender='org.freedesktop.DBus',member='NameOwnerChanged'"],
            )
        )
        await self.bus.request_name("org.bluez", NameFlag.DO_NOT_QUEUE)
        return self

    async def __aexit__(self, *exc):
        for t in list(self._tasks):
            t.cancel()
        for d in self.devices.values():
            for c in d.chars():
                c.release()
        self.bus.disconnect()
        with contextlib.suppress(Exception):
            await self.bus.wait_for_disconnect()

    def _spawn(self, coro):
        t = asyncio.get_running_loop().create_task(coro)
        self._tasks.add(t)
        t.add_done_callback(self._tasks.discard)
        return t

    # dbus-fast 5.2 closes the bus when its socket is full, so look before each message
    def send(self, msg, fds=()):
        self._out.append((msg, fds))
        if not self._busy:
            self._busy = True
            self._pump()

    def _pump(self):
        while self._out and self.bus.connected:
            if not select.select([], [self.bus._fd], [], 0)[1]:
                asyncio.get_running_loop().call_later(0.001, self._pump)
                return
            msg, fds = self._out.popleft()
            done = self.bus.send(msg)
            for fd in fds:  # the peer gets its own copy
                done.add_done_callback(lambda _, fd=fd: os.close(fd))
        self._busy = False

    # -- object tree
    def add(self, path, interfaces):
        self.objects.setdefault(path, {}).update(interfaces)
        self.send(Message.new_signal("/", OM, "InterfacesAdded", "oa{sa{sv}}", [path, interfaces]))

    def remove(self, path, interfaces=None):
        gone = interfaces or list(self.objects.get(path, {}))
        for i in gone:
            self.objects.get(path, {}).pop(i, None)
        if not self.objects.get(path):
            self.objects.pop(path, None)
        if gone:
            self.send(Message.new_signal("/", OM, "InterfacesRemoved", "oas", [path, gone]))

    def change(self, path, interface, changed, invalidated=()):
        props = self.objects[path][interface]
        props.update(changed)
        for k in invalidated:
            props.pop(k, None)
        self.send(
            Message.new_signal(
                path,
                PROPS,
                "PropertiesChanged",
                "sa{sv}as",
                [interface, changed, list(invalidated)],
            )
        )

    # -- what the air would do
    async def _advertise(self):
        while self._scanners:
            for d in self.devices.values():
                if not d.advertising or self._prop(d, "Connected"):
                    continue
                if d.path not in self.objects:
                    self.add(d.path, {DEVICE: self._device_props(d)})
                else:
                    self.change(d.path, DEVICE, {"RSSI": Variant("n", d.rssi)})
            await asyncio.sleep(self.adv_period)

    def _device_props(self, d):
        p = {
            "Address": Variant("s", d.address),
            "AddressType": Variant("s", "random"),
            "Name": Variant("s", d.name),
            "Alias": Variant("s", d.name),
            "Paired": Variant("b", False),
            "Bonded": Variant("b", False),
            "Trusted": Variant("b", False),
            "Blocked": Variant("b", False),
            "Connected": Variant("b", False),
            "ServicesResolved": Variant("b", False),
            "Adapter": Variant("o", ADAPTER_PATH),
            "RSSI": Variant("n", d.rssi),
            "UUIDs": Variant("as", list(d.services)),
        }
        if d.manufacturer:
            p["ManufacturerData"] = Variant(
                "a{qv}", {k: Variant("ay", v) for k, v in d.manufacturer.items()}
            )
        return p

    def _prop(self, d, name):
        v = self.objects.get(d.path, {}).get(DEVICE, {}).get(name)
        return v.value if v else None

    def drop_link(self, device, forget=False):
        """The device went out of range or switched off."""
        for c in device.chars():
            if c.release() and c.on_notify:
                c.on_notify(c, False)
        if self._prop(device, "Connected"):
            if BATTERY in self.objects[device.path]:
                self.remove(device.path, [BATTERY])
            self.change(device.path, DEVICE, {"ServicesResolved": Variant("b", False)})
            self.change(device.path, DEVICE, {"Connected": Variant("b", False)})
        if forget:  # BlueZ does this to unpaired devices after a while
            for p in sorted((p for p in self.objects if p.startswith(device.path)), reverse=True):
                self.remove(p)

    async def _connect(self, d):
        d.connects += 1
        await asyncio.sleep(d.connect_delay)
        if d.connect_errors:
            raise d.connect_errors.pop(0)
        if not d.advertising:
            raise BluezError("org.bluez.Error.Failed", "le-connection-abort-by-remote")
        self.change(d.path, DEVICE, {"Connected": Variant("b", True)})
        if d.resolve:
            self._spawn(self._resolve(d))

    async def _resolve(self, d):
        await asyncio.sleep(d.resolve_delay)
        handle = 0x000A
        for uuid, chars in d.services.items():
            spath = f"{d.path}/service{handle:04x}"
            self.add(
                spath,
                {
                    SERVICE: {
                        "UUID": Variant("s", uuid),
                        "Primary": Variant("b", True),
                        "Device": Variant("o", d.path),
                        "Includes": Variant("ao", []),
                    }
                },
            )
            for c in chars:
                handle += 1
                c.path, c.owner = f"{spath}/char{handle:04x}", self
                props = {
                    "UUID": Variant("s", c.uuid),
                    "Service": Variant("o", spath),
                    "Value": Variant("ay", b""),
                    "Flags": Variant("as", c.flags),
                    "MTU": Variant("q", c.mtu),
                }
                if "notify" in c.flags:
                    props |= {
                        "Notifying": Variant("b", False),
                        "NotifyAcquired": Variant("b", False),
                    }
                self.add(c.path, {CHAR: props})
                handle += 1  # the value handle
                if "notify" in c.flags:
                    handle += 1
                    self.add(
                        f"{c.path}/desc{handle:04x}",
                        {
                            DESC: {
                                "UUID": Variant("s", "00002902" + BASE),
                                "Characteristic": Variant("o", c.path),
                                "Value": Variant("ay", b""),
                            }
                        },
                    )
            handle += 1
        if d.battery is not None:
            self.add(d.path, {BATTERY: {"Percentage": Variant("y", d.battery)}})
        self.change(d.path, DEVICE, {"ServicesResolved": Variant("b", True)})

    # -- D-Bus side
    def _on_message(self, m):
        if m.message_type is MessageType.SIGNAL:
            if m.member == "NameOwnerChanged" and not m.body[2]:
                self._client_gone(m.body[0])
            return None
        if m.message_type is not MessageType.METHOD_CALL or m.interface in (
            "org.freedesktop.DBus.Peer",
            "org.freedesktop.DBus.Introspectable",
        ):
            return None
        self.calls.append((m.member, m.path))
        self._spawn(self._answer(m))
        return True

    def _client_gone(self, name):
        self._scanners.discard(name)
        for d in self.devices.values():
            for c in d.chars():
                c.notifiers.discard(name)

    async def _answer(self, m):
        try:
            sig, body, fds = await self._call(m) or ("", [], [])
            reply = Message.new_method_return(m, sig, body, fds)
        except BluezError as e:
            reply, fds = Message.new_error(m, e.name, e.text), []
        self.send(reply, fds)

    async def _call(self, m):
        tree = self.objects.get(m.path)
        if m.interface == OM and m.path == "/":
            return "a{oa{sa{sv}}}", [self.objects], []
        if tree is None:
            raise BluezError("org.freedesktop.DBus.Error.UnknownObject", f"no object {m.path}")
        if m.interface == PROPS:
            if m.member == "GetAll":
                return "a{sv}", [tree[m.body[0]]], []
            if m.member == "Get":
                return "v", [tree[m.body[0]][m.body[1]]], []
            return self.change(m.path, m.body[0], {m.body[1]: m.body[2]})
        if m.interface not in tree:
            raise BluezError(
                "org.freedesktop.DBus.Error.UnknownMethod", f"no {m.interface} at {m.path}"
            )
        handler = getattr(self, "do_" + m.member, None)
        if handler is None:
            raise BluezError("org.freedesktop.DBus.Error.UnknownMethod", m.member)
        return await handler(m)

    def _char(self, m):
        c = next((c for d in self.devices.values() for c in d.chars() if c.path == m.path), None)
        if c is None or not self._prop(self._device_of(c), "Connected"):
            raise BluezError("org.bluez.Error.Failed", "Not connected")
        return c

    def _device_of(self, c):
        return next(d for d in self.devices.values() if c in d.chars())

    async def do_SetDiscoveryFilter(self, m):
        self.filters = m.body[0]

    async def do_StartDiscovery(self, m):
        first, _ = not self._scanners, self._scanners.add(m.sender)
        if first:
            self.change(ADAPTER_PATH, ADAPTER, {"Discovering": Variant("b", True)})
            self._spawn(self._advertise())

    async def do_StopDiscovery(self, m):
        if m.sender not in self._scanners:
            raise BluezError("org.bluez.Error.Failed", "No discovery started")
        self._scanners.discard(m.sender)
        if not self._scanners:
            self.change(ADAPTER_PATH, ADAPTER, {"Discovering": Variant("b", False)})
            for d in self.devices.values():
                if d.path in self.objects:
                    self.change(d.path, DEVICE, {}, ["RSSI"])

    async def do_RemoveDevice(self, m):
        d = self.devices.get(m.body[0])
        if d is None or d.path not in self.objects:
            raise BluezError("org.bluez.Error.DoesNotExist", "Does Not Exist")
        self.drop_link(d, forget=True)

    async def do_Connect(self, m):
        await self._connect(self.devices[m.path])

    async def do_Disconnect(self, m):
        self.drop_link(self.devices[m.path])

    async def do_Pair(self, m):
        d = self.devices[m.path]
        await self._connect(d)
        self.change(d.path, DEVICE, {"Paired": Variant("b", True), "Bonded": Variant("b", True)})

    async def do_ReadValue(self, m):
        c = self._char(m)
        if "read" not in c.flags:
            raise BluezError("org.bluez.Error.NotPermitted", "Read not permitted")
        return "ay", [bytes(c.value() if callable(c.value) else c.value)], []

    async def do_WriteValue(self, m):
        c = self._char(m)
        if not {"write", "write-without-response"} & set(c.flags):
            raise BluezError("org.bluez.Error.NotPermitted", "Write not permitted")
        if c.on_write:
            c.on_write(c, bytes(m.body[0]))  # may raise BluezError
        else:
            c.value = bytes(m.body[0])

    async def do_StartNotify(self, m):
        c = self._char(m)
        if c.fd is not None:
            raise BluezError("org.bluez.Error.NotPermitted", "Notify acquired")
        c.notifiers.add(m.sender)
        self.change(c.path, CHAR, {"Notifying": Variant("b", True)})
        if c.on_notify:
            c.on_notify(c, True)

    async def do_StopNotify(self, m):
        c = self._char(m)
        c.notifiers.discard(m.sender)
        self.change(c.path, CHAR, {"Notifying": Variant("b", bool(c.notifiers))})
        if c.on_notify and not c.notifiers:
            c.on_notify(c, False)

    async def do_AcquireNotify(self, m):
        c = self._char(m)
        if c.subscribed:
            raise BluezError("org.bluez.Error.NotPermitted", "Notify acquired")
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        ours.setblocking(False)
        theirs.setblocking(False)
        c.fd = ours

        def hung_up():  # the client closed its end: that is its StopNotify
            c.release()
            if c.path in self.objects:
                self.change(c.path, CHAR, {"NotifyAcquired": Variant("b", False)})
            if c.on_notify:
                c.on_notify(c, False)

        asyncio.get_running_loop().add_reader(ours, hung_up)
        self.change(c.path, CHAR, {"NotifyAcquired": Variant("b", True)})
        if c.on_notify:
            c.on_notify(c, True)
        return "hq", [0, c.mtu], [theirs.detach()]

    async def do_AcquireWrite(self, m):
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        ours.close()  # only good for learning the MTU
        return "hq", [0, self._char(m).mtu], [theirs.detach()]
