"""Files the browser keeps: style, scripts, and the drawing library.

Dash names each of our own files with the moment of its last change; whoever asks for that may keep
it for good. The drawing library is plotly.js's "basic" bundle (MIT licence, as its head says): our
figures draw lines and marks only, and a phone reads a quarter of what the whole library weighs.
"""

import flask

DRAWING = "plotly-basic.min.js"
"""In the folder of assets; loaded when the first figure is drawn, see stunpace.js."""
YEAR_S = 31_536_000
_NAMED = "m"


def keep_files(server: flask.Flask) -> None:
    """Let browsers keep files that are asked for by name and version."""
    server.after_request(_keep)


def _keep(response: flask.Response) -> flask.Response:
    """Say how long an answer may be kept."""
    request = flask.request
    if (
        request.path.startswith("/assets/")
        and request.args.get(_NAMED)
        and response.status_code < 400
    ):
        response.cache_control.no_cache = None
        response.cache_control.private = True
        response.cache_control.max_age = YEAR_S
        response.cache_control.immutable = True
    return response
