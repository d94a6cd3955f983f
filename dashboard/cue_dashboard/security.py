"""Headers and checks that keep the pages on this machine."""

import base64
import hashlib
import re
from urllib.parse import urlsplit

import dash
import flask

LOCAL_NAMES = ["127.0.0.1", "localhost", "[::1]"]
"""Names this machine may be called by; another name in a request is a page from elsewhere."""

MAX_REQUEST_BYTES = 2_000_000
_INLINE_SCRIPT = re.compile(r"<script(?![^>]*\bsrc=)[^>]*>(.*?)</script>", re.DOTALL)


def guard(app: dash.Dash) -> None:
    """Let the server answer this machine only, and the pages ask no other.

    Parameters
    ----------
    app : dash.Dash
        With its layout and callbacks in place.
    """
    server = app.server
    server.config["TRUSTED_HOSTS"] = LOCAL_NAMES
    server.config["MAX_CONTENT_LENGTH"] = MAX_REQUEST_BYTES
    server.before_request(_refuse_foreign_writes)
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
            "form-action 'none'",
            "frame-ancestors 'none'",
        )
    )


def _hash(script: str) -> str:
    """Return a script's hash as policies write it."""
    return base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


def _refuse_foreign_writes() -> None:
    """Refuse a request that a page of another site sends."""
    origin = flask.request.headers.get("Origin")
    if origin is not None and urlsplit(origin).netloc != flask.request.host:
        flask.abort(403)


def _add_headers(response: flask.Response) -> flask.Response:
    """Add the headers that every answer carries."""
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    if response.mimetype == "text/html":
        page = response.get_data(as_text=True)
        response.headers["Content-Security-Policy"] = content_security_policy(page)
    return response
