"""The way in from the local network: a second listener that is shut unless somebody opens it.

The pages of this machine keep their own listener. What comes through this one is marked, so that
the guard can ask it for a pass; who somebody is never hangs on the address he comes from.
"""

import socket
import threading
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import dash
import flask

from cue_dashboard.errors import DashboardError, PortBusyError
from cue_dashboard.guest_book import FILE_NAME, Guest, GuestBook, read_book, write_book
from cue_dashboard.listen import Listener
from cue_dashboard.sharing import Sharing
from cue_practice.folder import data_folder

if TYPE_CHECKING:
    from cue_dashboard.listen_encrypted import EncryptedListener

CAME_THROUGH = "stunpace.door"
"""Key in the environment of a request that came through the door."""
JOIN_PATH = "/join"
TOKEN_FIELD = "k"

_CONFIG_KEY = "STUNPACE_DOOR"
_NOWHERE = ("192.0.2.1", 9)
"""An address of the range for documentation (RFC 5737); nothing is sent to it."""

Application = Callable[[dict[str, Any], Any], Iterable[bytes]]


class Door:
    """Opens and shuts the way in from the local network.

    Parameters
    ----------
    app : dash.Dash
        What is shared.
    """

    def __init__(self, app: dash.Dash) -> None:
        self._app = app
        self._lock = threading.Lock()
        self._listener: Listener | EncryptedListener | None = None
        self._host = self._fingerprint = ""
        self.sharing = Sharing(on_change=self._keep)

    @property
    def host(self) -> str:
        """Return the address that the door listens on, empty while it is shut."""
        return self._host

    @property
    def address(self) -> str:
        """Return the door's address for a browser, empty while it is shut."""
        listener = self._listener
        return "" if listener is None else listener.address

    @property
    def fingerprint(self) -> str:
        """Return the fingerprint of the door's certificate, empty while nothing is encrypted."""
        return self._fingerprint

    def open(self, host: str | None = None, port: int = 0, *, is_encrypted: bool = True) -> str:
        """Open the door and return its address; a door that is open stays as it is.

        Devices that were let in before the program was started anew are let in again.

        Parameters
        ----------
        host : str, optional
            Address of this machine to listen on; its address on the local network if not given.
        port : int
            0 takes the port of the last time where it is free, so that devices find it again.
        is_encrypted : bool
            Over TLS, with a certificate of this computer's own.

        Raises
        ------
        PortBusyError, DashboardError
            If this machine is on no network, the port cannot be had, or the certificate cannot be
            written.
        """
        with self._lock:
            if self._listener is None:
                chosen = host or local_network_address()
                book = read_book(_book_path())
                try:
                    self._listen(chosen, port or book.port, is_encrypted=is_encrypted)
                except PortBusyError:
                    if port:
                        raise
                    self._listen(chosen, 0, is_encrypted=is_encrypted)
                self._host = chosen
                self.sharing.welcome_back(book.guests)
                self._keep(book.guests)
            return self.address

    def link(self, *, may_change: bool = True) -> str:
        """Return a new one-time link; the door must be open.

        Parameters
        ----------
        may_change : bool
            Whether the device that it lets in may tap and change, or only look.
        """
        if not self.address:
            raise ValueError("the door is shut")
        return (
            f"{self.address}{JOIN_PATH}?{TOKEN_FIELD}={self.sharing.invite(may_change=may_change)}"
        )

    def shut(self) -> None:
        """Shut the door and forget all guests; a door that is shut stays so."""
        with self._lock:
            if self._listener is not None:
                self.sharing.remove_all()
            self._close()

    def close(self) -> None:
        """Shut the door because the program ends; its guests are known again the next time."""
        with self._lock:
            self._close()

    def _close(self) -> None:
        """Stop listening; the lock is held."""
        if self._listener is not None:
            self._listener.stop()
        self._listener, self._host, self._fingerprint = None, "", ""

    def _listen(self, host: str, port: int, *, is_encrypted: bool) -> None:
        """Listen; the lock is held."""
        marked = mark_requests(self._app.server.wsgi_app)
        if not is_encrypted:
            self._listener = Listener(marked, host, port)
            return
        # heavy, and not needed by who does not share
        from cue_dashboard.certificate import own_certificate
        from cue_dashboard.listen_encrypted import EncryptedListener

        own = own_certificate(host, data_folder())
        self._listener = EncryptedListener(marked, own.path, host, port)
        self._fingerprint = own.fingerprint

    def _keep(self, guests: Mapping[bytes, Guest]) -> None:
        """Write down who was let in."""
        port = int(self.address.rpartition(":")[2] or 0)
        write_book(_book_path(), GuestBook(port, guests))


def _book_path() -> Path:
    """Return where it is kept who was let in."""
    return data_folder() / FILE_NAME


def mark_requests(application: Application) -> Application:
    """Return a WSGI application that marks what it passes on as come through the door."""

    def marked(environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        return application({**environ, CAME_THROUGH: True}, start_response)

    return marked


def local_network_address() -> str:
    """Return this machine's address on the network that it would reach others by.

    Raises
    ------
    DashboardError
        If it is on no network.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_NOWHERE)  # chooses the route; a datagram socket sends nothing here
            address = str(probe.getsockname()[0])
        except OSError:
            address = ""
    if not address or address.startswith("127."):
        raise DashboardError(
            "This computer is on no local network. "
            "Join the wireless network that the phone is on, then share again."
        )
    return address


def put_door(app: dash.Dash) -> Door:
    """Give an app its door, shut."""
    door = Door(app)
    app.server.config[_CONFIG_KEY] = door
    return door


def door_of(server: flask.Flask) -> Door:
    """Return the door of a server that `put_door` was called for."""
    found = server.config[_CONFIG_KEY]
    if not isinstance(found, Door):
        raise TypeError("the dashboard was made without create_app")
    return found


def door() -> Door:
    """Return the door of the dashboard that is answering just now."""
    return door_of(flask.current_app)


def came_through_door() -> bool:
    """Return whether the request that is being answered came from another device."""
    return bool(flask.request.environ.get(CAME_THROUGH))
