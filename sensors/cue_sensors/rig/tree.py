"""Objects on a D-Bus with their properties, and a way of sending that never closes the bus."""

import asyncio
import collections
import contextlib
import os
import select
from collections.abc import Callable, Coroutine, Sequence
from typing import Any

from dbus_fast import BusType, Message, Variant
from dbus_fast.aio import MessageBus

from cue_sensors.rig.fake_device import PROPERTIES

MANAGER = "org.freedesktop.DBus.ObjectManager"
Interfaces = dict[str, dict[str, Variant]]


class ObjectTree:
    """What one D-Bus service shows: objects by path, interfaces by name, properties by name.

    Parameters
    ----------
    address : str or None
        Of the bus; the system bus of this process's environment, if None.
    """

    def __init__(self, address: str | None = None) -> None:
        self._address = address
        self._bus: MessageBus | None = None
        self._out: collections.deque[tuple[Message, Sequence[int]]] = collections.deque()
        self._is_sending = False
        self._tasks: set[asyncio.Task[Any]] = set()
        self.objects: dict[str, Interfaces] = {}

    @property
    def bus(self) -> MessageBus:
        """Return the bus, once connected."""
        if self._bus is None:
            raise RuntimeError("the bus is not connected")
        return self._bus

    async def connect(self) -> None:
        """Connect to the bus."""
        self._bus = await MessageBus(
            bus_address=self._address or os.environ["DBUS_SYSTEM_BUS_ADDRESS"],
            bus_type=BusType.SYSTEM,
            negotiate_unix_fd=True,
        ).connect()

    async def disconnect(self) -> None:
        """Cancel what runs and leave the bus."""
        for task in list(self._tasks):
            task.cancel()
        self.bus.disconnect()
        with contextlib.suppress(Exception):
            await self.bus.wait_for_disconnect()  # type: ignore[no-untyped-call]

    def spawn(self, coroutine: Coroutine[Any, Any, Any]) -> None:
        """Run a coroutine until it ends or the bus is left."""
        task = asyncio.get_running_loop().create_task(coroutine)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    def send(self, message: Message, fds: Sequence[int] = ()) -> None:
        """Send a message in its turn; descriptors are closed once the peer has its own."""
        self._out.append((message, fds))
        if not self._is_sending:
            self._is_sending = True
            self._pump()

    def add(self, path: str, interfaces: Interfaces) -> None:
        """Show an object, or more of it."""
        self.objects.setdefault(path, {}).update(interfaces)
        body = [path, interfaces]
        self.send(Message.new_signal("/", MANAGER, "InterfacesAdded", "oa{sa{sv}}", body))

    def remove(self, path: str) -> None:
        """Take an object away."""
        gone = list(self.objects.pop(path, {}))
        if gone:
            self.send(Message.new_signal("/", MANAGER, "InterfacesRemoved", "oas", [path, gone]))

    def change(
        self,
        path: str,
        interface: str,
        changed: dict[str, Variant],
        invalidated: Sequence[str] = (),
    ) -> None:
        """Change properties of an object, and tell of it."""
        properties = self.objects.get(path, {}).get(interface)
        if properties is None:
            return
        properties.update(changed)
        for name in invalidated:
            properties.pop(name, None)
        body = [interface, changed, list(invalidated)]
        self.send(Message.new_signal(path, PROPERTIES, "PropertiesChanged", "sa{sv}as", body))

    def _pump(self) -> None:
        """Send what waits; dbus-fast 5.2 closes the bus when its socket is full, so look first."""
        while self._out and self.bus.connected:
            if not _takes_more(self.bus._fd or 0):
                asyncio.get_running_loop().call_later(0.001, self._pump)
                return
            message, fds = self._out.popleft()
            done = self.bus.send(message)
            for fd in fds:
                done.add_done_callback(_closing(fd))
        self._is_sending = False


def _closing(fd: int) -> Callable[[object], None]:
    """Return a function that closes our copy of a descriptor."""
    return lambda _: os.close(fd)


def _takes_more(fd: int) -> bool:
    """Return whether a socket has room."""
    poll = select.poll()
    poll.register(fd, select.POLLOUT)
    return bool(poll.poll(0))
