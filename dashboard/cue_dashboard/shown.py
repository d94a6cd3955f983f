"""How this browser shows things: light or dark, and its unit of pace, as its cookies say.

A page that knows both before it is sent comes with its content, in one answer: without them it
would come empty and ask for its content afterwards. The script stunpace.js keeps the two cookies.
"""

from urllib.parse import unquote

import flask

from cue_dashboard.units import PaceScale

SCHEME_COOKIE = "stunpace_scheme"
UNIT_COOKIE = "stunpace_unit"


def scheme_shown() -> str:
    """Return the colour scheme of the browser that asks, light where it does not say."""
    return "dark" if _cookie(SCHEME_COOKIE) == "dark" else "light"


def scale_shown() -> PaceScale:
    """Return the unit of pace of the browser that asks, metres a second where it does not say."""
    return PaceScale.of(_cookie(UNIT_COOKIE))


def _cookie(name: str) -> str:
    """Return what a cookie says, empty without one or outside a request."""
    if not flask.has_request_context():
        return ""
    return unquote(flask.request.cookies.get(name, ""))
