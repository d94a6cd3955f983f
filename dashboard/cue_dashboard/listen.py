"""Open a listening server, or say in a sentence why not.

Waitress: a production WSGI server in pure Python that also runs on Windows; Werkzeug's own server
calls itself a development server and prints so.
"""

import errno
import socket
from typing import Any

from waitress.server import create_server

from cue_dashboard.errors import DashboardError, PortBusyError

N_THREADS = 8
"""Each browser asks a few times a second and holds its connections open between."""

_CLOSED_TO_US = {errno.EACCES, errno.EPERM}


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
    listening = _listen(host, port)
    try:
        return create_server(
            application, map=connections, sockets=[listening], threads=N_THREADS, ident=None
        )
    except BaseException:
        listening.close()
        raise


def _listen(host: str, port: int) -> socket.socket:
    """Return a listening socket, or say why there is none."""
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
