"""Open a listening server, or say in a sentence why not.

Waitress: a production WSGI server in pure Python that also runs on Windows; Werkzeug's own server
calls itself a development server and prints so.
"""

import errno
import socket
import threading
from typing import Any

from waitress import wasyncore
from waitress.server import create_server

from cue_dashboard.errors import DashboardError, PortBusyError

N_THREADS = 8
"""Each browser asks a few times a second and holds its connections open between."""

_CLOSED_TO_US = {errno.EACCES, errno.EPERM}


class Listener:
    """A server with a thread of its own, from its start until `stop`.

    Parameters
    ----------
    application : WSGI application
        What answers.
    host, port : str, int
        Where to listen; port 0 lets the system choose.

    Raises
    ------
    PortBusyError, DashboardError
        As for `open_server`.
    """

    def __init__(self, application: Any, host: str = "127.0.0.1", port: int = 0) -> None:
        self._connections: dict[int, Any] = {}
        self._server = open_server(application, host, port, connections=self._connections)
        self._is_stopping = threading.Event()
        self.address = f"http://{host}:{self._server.effective_port}"
        self._thread = threading.Thread(target=self._serve, name="listener", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Hang up on everybody; once it returns, nothing listens."""
        if self._thread.is_alive():
            self._is_stopping.set()
            self._server.pull_trigger()  # wakes the loop
            self._thread.join()

    def _serve(self) -> None:
        """Answer until told to stop; waitress's own loop cannot be told so by another thread."""
        try:
            while not self._is_stopping.is_set():
                wasyncore.loop(timeout=1.0, map=self._connections, use_poll=True, count=1)
        finally:
            self._server.task_dispatcher.shutdown(cancel_pending=True, timeout=1)
            wasyncore.close_all(self._connections, ignore_all=True)


def open_server(
    application: Any,
    host: str = "127.0.0.1",
    port: int = 8050,
    *,
    connections: dict[int, Any] | None = None,
) -> Any:
    """Return a waitress server that listens already; its `run` serves until its `close`.

    Parameters
    ----------
    application : WSGI application
        What answers.
    host, port : str, int
        Where to listen; `effective_port` of the result is the port that was got.
    connections : dict, optional
        Filled with the server's open sockets, for a caller that runs the loop himself.

    Raises
    ------
    PortBusyError, DashboardError
        As for `serve`.
    """
    # the socket is ours: waitress leaves its own one open when it cannot have the port
    listening = listen(host, port)
    try:
        return create_server(
            application, map=connections, sockets=[listening], threads=N_THREADS, ident=None
        )
    except BaseException:
        listening.close()
        raise


def listen(host: str, port: int) -> socket.socket:
    """Return a listening socket, or say why there is none.

    Parameters
    ----------
    host, port : str, int
        Where to listen; port 0 lets the system choose.

    Raises
    ------
    PortBusyError, DashboardError
        If the port cannot be had.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family)
    except OSError as fault:
        if fault.errno == errno.EADDRINUSE:
            raise PortBusyError(host, port) from fault
        if fault.errno in _CLOSED_TO_US:
            raise DashboardError(
                f"This system does not let a program of yours listen on port {port}. "
                "Choose a port above 1023."
            ) from fault
        raise DashboardError(
            f"Cannot listen on {host}, port {port}: {fault.strerror or fault}. "
            "Choose an address of this machine, for example 127.0.0.1."
        ) from fault
