"""Serve the dashboard from this machine, one process with several threads.

Waitress: a production WSGI server in pure Python that also runs on Windows; Werkzeug's own server
calls itself a development server and prints so.
"""

import errno
import logging
import socket
from collections.abc import Callable
from typing import Any

import dash
from waitress.server import create_server

from cue_dashboard.desk import desk_of
from cue_dashboard.errors import DashboardError, PortBusyError

N_THREADS = 8
"""Each browser asks a few times a second and holds its connections open between."""

_CLOSED_TO_US = {errno.EACCES, errno.EPERM}
_logger = logging.getLogger(__name__)


def serve(
    app: dash.Dash,
    host: str = "127.0.0.1",
    port: int = 8050,
    on_ready: Callable[[str], None] | None = None,
) -> None:
    """Serve until Ctrl-C.

    Parameters
    ----------
    app : dash.Dash
        What `create_app` returned.
    host : str
        Address to listen on; 127.0.0.1 is this machine only.
    port : int
        Port to listen on; 0 lets the system choose a free one.
    on_ready : callable, optional
        Called once with the address for the browser, when the socket is open.

    Raises
    ------
    PortBusyError
        If another program listens there.
    DashboardError
        If the system does not let this program listen there.
    """
    server = open_server(app, host, port)
    address = f"http://{host}:{server.effective_port}/"
    _logger.info("serving on %s", address)
    try:
        if on_ready is not None:
            on_ready(address)
        server.run()  # returns on Ctrl-C
    except KeyboardInterrupt:
        pass
    finally:
        desk_of(app.server).stop()
        server.close()
        server.task_dispatcher.shutdown(cancel_pending=True, timeout=1)


def open_server(app: dash.Dash, host: str = "127.0.0.1", port: int = 8050) -> Any:
    """Return a waitress server that listens already; its `run` serves until its `close`.

    Parameters
    ----------
    app : dash.Dash
        What `create_app` returned.
    host, port : str, int
        Where to listen; `effective_port` of the result is the port that was got.

    Raises
    ------
    PortBusyError, DashboardError
        As for `serve`.
    """
    # the socket is ours: waitress leaves its own one open when it cannot have the port
    listening = _listen(host, port)
    try:
        return create_server(app.server, sockets=[listening], threads=N_THREADS, ident=None)
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
