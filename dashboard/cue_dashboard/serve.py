"""Serve the dashboard from this machine, one process with several threads."""

import logging
import threading
from collections.abc import Callable

import dash

from cue_dashboard.desk import desk_of
from cue_dashboard.door import door_of
from cue_dashboard.listen import open_server
from cue_dashboard.warm import warm_pages

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
    server = open_server(app.server, host, port)
    address = f"http://{host}:{server.effective_port}/"
    _logger.info("serving on %s", address)
    try:
        if on_ready is not None:
            on_ready(address)
        # beside the pages: they answer at once, and say how the sensor stands
        desk = desk_of(app.server)
        threading.Thread(target=desk.reconnect, name="sensor", daemon=True).start()
        threading.Thread(target=warm_pages, args=(desk.log,), name="warm", daemon=True).start()
        server.run()  # returns on Ctrl-C
    except KeyboardInterrupt:
        pass
    finally:
        door_of(app.server).close()
        desk_of(app.server).stop()
        server.close()
        server.task_dispatcher.shutdown(cancel_pending=True, timeout=1)
