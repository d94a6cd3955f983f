"""A listening server whose connections are encrypted, with a thread of its own."""

import asyncio
import contextlib
import logging
import socket
import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any
from weakref import WeakSet

import hypercorn.asyncio
from hypercorn.config import Config, Sockets

from cue_dashboard.listen import listen
from cue_dashboard.security import MAX_REQUEST_BYTES

STOP_WAIT_S = 5.0
_GRACE_S = 0.5
"""How long answers that are under way may take once it is to stop."""
_HANG_UP_S = 1.0
_LOOK_AGAIN_S = 0.01

Application = Callable[[dict[str, Any], Any], Iterable[bytes]]

logger = logging.getLogger(__name__)


class EncryptedListener:
    """Serves an application over TLS from its start until `stop`.

    Parameters
    ----------
    application : WSGI application
        What answers.
    certificate : Path
        PEM file with key and certificate.
    host, port : str, int
        Where to listen; port 0 lets the system choose.

    Raises
    ------
    PortBusyError, DashboardError
        As for `cue_dashboard.listen.open_server`.
    """

    def __init__(
        self, application: Application, certificate: Path, host: str, port: int = 0
    ) -> None:
        listening = listen(host, port)
        self.address = f"https://{host}:{listening.getsockname()[1]}"
        # the socket is opened here, so that a busy port is said; from now on it is the server's
        self._listening = _Listening(fileno=listening.detach())
        self._config = _configured(self._listening, certificate)
        self._application = application
        self._loop: asyncio.AbstractEventLoop | None = None
        self._stopping = asyncio.Event()
        self._is_running = threading.Event()
        self._thread = threading.Thread(target=self._serve, name="encrypted listener", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Hang up on everybody; once it returns, nothing listens."""
        self._is_running.wait(STOP_WAIT_S)
        if self._loop is not None and not self._loop.is_closed():
            with contextlib.suppress(RuntimeError):  # it has just ended by itself
                self._loop.call_soon_threadsafe(self._stopping.set)
        self._thread.join(STOP_WAIT_S)

    def _serve(self) -> None:
        """Answer until told to stop, and leave nothing running; the thread's own function."""
        try:
            asyncio.run(self._answer())
        finally:
            self._is_running.set()

    async def _answer(self) -> None:
        """Answer until told to stop."""
        self._loop = asyncio.get_running_loop()
        # beside the server: it waits for connections to close, and TLS for the other end's farewell
        hanging_up = asyncio.create_task(self._hang_up())
        self._is_running.set()
        try:
            await hypercorn.asyncio.serve(
                self._as_usual, self._config, shutdown_trigger=self._stopping.wait, mode="wsgi"
            )
        except OSError:  # TLS's faults are of this kind
            if not self._stopping.is_set():
                raise
            # a device went on talking while it was hung up on
            logger.debug("a connection did not end in order", exc_info=True)
        finally:
            self._stopping.set()
            await hanging_up

    async def _hang_up(self) -> None:
        """Once it is to stop, end the connections that do not end by themselves."""
        await self._stopping.wait()
        await self._all_gone(_GRACE_S)
        self._listening.hang_up()
        await self._all_gone(_HANG_UP_S)

    async def _all_gone(self, within_s: float) -> None:
        """Wait until nobody is connected, for so long at most."""
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(within_s):
                while self._listening.is_connected():
                    await asyncio.sleep(_LOOK_AGAIN_S)

    def _as_usual(self, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        """Answer with the environment as PEP 3333 has it: the port is text."""
        return self._application(
            {**environ, "SERVER_PORT": str(environ["SERVER_PORT"])}, start_response
        )


class _Listening(socket.socket):
    """A listening socket that knows whom it has let in."""

    def __init__(self, fileno: int) -> None:
        super().__init__(fileno=fileno)
        self._connections: WeakSet[socket.socket] = WeakSet()

    def accept(self) -> tuple[socket.socket, Any]:
        """Let somebody in."""
        connection, address = super().accept()
        self._connections.add(connection)
        return connection, address

    def hang_up(self) -> None:
        """Say to everybody who is still there that nothing more comes, and hear nothing more."""
        for one in tuple(self._connections):
            with contextlib.suppress(OSError):  # gone meanwhile
                one.shutdown(socket.SHUT_RDWR)

    def is_connected(self) -> bool:
        """Return whether a connection is still open."""
        return any(one.fileno() >= 0 for one in tuple(self._connections))


class _Configured(Config):
    """The server's configuration, with a socket that listens already."""

    listening: socket.socket

    def create_sockets(self) -> Sockets:
        """Return the socket."""
        return Sockets([self.listening], [], [])


def _configured(listening: socket.socket, certificate: Path) -> Config:
    """Return the server's configuration."""
    config = _Configured()
    config.listening = listening
    config.certfile = config.keyfile = str(certificate)
    config.alpn_protocols = ["http/1.1"]
    config.wsgi_max_body_size = MAX_REQUEST_BYTES
    # longer than it takes to hang up: what ends by that is not broken off with a traceback
    config.graceful_timeout = _GRACE_S + _HANG_UP_S
    config.include_server_header = False
    config.errorlog = logger
    return config
