"""Headers and checks that keep the pages on this machine, or to those who were let in."""

import base64
import hashlib
import re
import secrets
from urllib.parse import urlsplit

import dash
import flask
from werkzeug.sansio.utils import host_is_trusted

from cue_dashboard import joining
from cue_dashboard.door import JOIN_PATH, came_through_door, door
from cue_dashboard.looking import mark_looker, only_looks
from cue_dashboard.sharing import PER_GUEST, PER_STRANGER
from cue_dashboard.taps import TAP_PATH

LOCAL_NAMES = ["127.0.0.1", "localhost", "[::1]"]
"""Names this machine may be called by; another name in a request is a page from elsewhere."""

MAX_REQUEST_BYTES = 2_000_000
_INLINE_SCRIPT = re.compile(r"<script(?![^>]*\bsrc=)[^>]*>(.*?)</script>", re.DOTALL)


CSRF_COOKIE = "_csrf_token"
CSRF_HEADER = "X-CSRFToken"
"""The names under which Dash's own pages hand back the token they were served with."""
_READS = {"GET", "HEAD", "OPTIONS"}
_ASKED_BY_POST = {"/_dash-update-component", JOIN_PATH, TAP_PATH}
"""Pages ask for what they show by POST as well; what would change something is refused inside."""


def guard(app: dash.Dash) -> None:
    """Let the server answer this machine and its guests only, and the pages ask no other.

    Parameters
    ----------
    app : dash.Dash
        With its layout, callbacks and door in place.
    """
    server = app.server
    server.config["MAX_CONTENT_LENGTH"] = MAX_REQUEST_BYTES
    for check in (
        _refuse_other_names,
        _refuse_strangers,
        _refuse_huge,
        _refuse_foreign_writes,
        _refuse_lookers,
    ):
        server.before_request(check)
    joining.register(server)
    server.after_request(_add_headers)


def content_security_policy(page: str) -> str:
    """Return a policy that lets a page load from its own server only.

    Parameters
    ----------
    page : str
        The page's HTML; scripts written in it are allowed by their hash.
    """
    hashes = " ".join(f"'sha256-{_hash(script)}'" for script in _INLINE_SCRIPT.findall(page))
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src 'self' {hashes}".rstrip(),
            # the controls and the figures write styles into their elements
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "font-src 'self' data:",
            "connect-src 'self'",
            "manifest-src 'self'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        )
    )


def _hash(script: str) -> str:
    """Return a script's hash as policies write it."""
    return base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


def _refuse_other_names() -> None:
    """Refuse a request for a name that is not ours: a page from elsewhere led here by its own."""
    names = [door().host] if came_through_door() else LOCAL_NAMES
    if not host_is_trusted(flask.request.headers.get("Host"), names):
        flask.abort(400)


def _refuse_strangers() -> flask.Response | None:
    """Refuse who came through the door without a pass, or who asks too often."""
    if not came_through_door():
        return None
    sharing = door().sharing
    guest = sharing.guest(flask.request.cookies.get(joining.PASS_COOKIE))
    if guest is not None:
        if not guest.may_change:
            mark_looker()
        is_within = sharing.may_ask(PER_GUEST, f"guest {guest.guest_id}")
        return None if is_within else joining.too_often()
    if not sharing.may_ask(PER_STRANGER, f"stranger {flask.request.remote_addr}"):
        return joining.too_often()
    return None if flask.request.path == JOIN_PATH else joining.not_let_in()


def _refuse_huge() -> None:
    """Refuse a request that says it is too long, before anybody reads it."""
    if (flask.request.content_length or 0) > MAX_REQUEST_BYTES:
        flask.abort(413)


def _refuse_foreign_writes() -> None:
    """Refuse a write that a page of another site sends, or a page that we did not serve."""
    origin = flask.request.headers.get("Origin")
    if origin is not None and urlsplit(origin).netloc != flask.request.host:
        flask.abort(403)
    if flask.request.method in _READS or flask.request.path == JOIN_PATH:
        return
    served = flask.request.cookies.get(CSRF_COOKIE, "")
    handed_back = flask.request.headers.get(CSRF_HEADER, "")
    if not served or not secrets.compare_digest(served.encode(), handed_back.encode()):
        flask.abort(403)


def _refuse_lookers() -> None:
    """Refuse what a device that may only look sends, but for what pages ask in the same way."""
    is_read = flask.request.method in _READS
    is_asked = flask.request.method == "POST" and flask.request.path in _ASKED_BY_POST
    if only_looks() and not is_read and not is_asked:
        flask.abort(403)


def _add_headers(response: flask.Response) -> flask.Response:
    """Add the headers that every answer carries."""
    response.headers["X-Content-Type-Options"] = "nosniff"
    # a form that is sent under "no-referrer" names no origin, and would be taken for another site's
    is_form = flask.request.path == JOIN_PATH
    response.headers["Referrer-Policy"] = "same-origin" if is_form else "no-referrer"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    if flask.request.is_secure or not came_through_door():  # elsewhere browsers only complain of it
        response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
    if response.mimetype == "text/html":
        page = response.get_data(as_text=True)
        response.headers["Content-Security-Policy"] = content_security_policy(page)
        if CSRF_COOKIE not in flask.request.cookies:
            # read by our own script, so not HttpOnly; a page of another site cannot read it
            response.set_cookie(
                CSRF_COOKIE,
                secrets.token_urlsafe(32),
                samesite="Strict",
                secure=flask.request.is_secure,
            )
    return response
