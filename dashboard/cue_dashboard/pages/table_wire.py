"""The wire between a page at the table and its server: what is live, and taps.

Both are plain requests of `assets/table.js`: they cost a fraction of a callback, go on through a
restart of the server, and let a tap be sent again until the log has it.
"""

import json
import math
import time
import zlib
from typing import Any
from weakref import WeakKeyDictionary

import dash
import flask

from cue_dashboard import words
from cue_dashboard.desk import Desk, desk
from cue_dashboard.figures.live import STROKE_POINTS, newer, thinned
from cue_dashboard.looking import only_looks
from cue_dashboard.pages.table_actions import do_tap
from cue_dashboard.pages.table_show import desk_state
from cue_dashboard.taps import TAP_PATH, TapBook, read_tap
from cue_dashboard.words import share as share_words
from cue_dashboard.words import table as table_words
from cue_practice.live_status import WORDS, LiveStatus

LIVE_PATH = "/table/live"
LOOK_AGAIN_S = 0.5
"""Another program may write to the same log; what this one does is seen at once."""

_glances: WeakKeyDictionary[Desk, tuple[tuple[int, ...], float, str]] = WeakKeyDictionary()
_books: WeakKeyDictionary[Desk, TapBook] = WeakKeyDictionary()


def register(app: dash.Dash) -> None:
    """Add the two addresses."""
    app.server.add_url_rule(LIVE_PATH, "table_live", live)
    app.server.add_url_rule(TAP_PATH, "table_tap", tap, methods=["POST"])


def live() -> flask.Response:
    """Return what is new for a page that says what it knows."""
    asked, at = flask.request.args, desk()
    # before the status: what an old session told, under a new one's name, would hold up its trace
    session = f"{at.run} {at.n_sessions}"
    status = at.status()
    state, key = glance(at, status)
    answer: dict[str, Any] = {"key": key, "session": session, "run": at.run} | _said(at, status)
    if asked.get("key") != key:
        answer["desk"] = json.loads(state)
    if status is not None:
        is_same = asked.get("session") == session
        after_s = _number(asked.get("after")) if is_same else -math.inf
        answer["t"], answer["v"] = newer(
            status.trace_time_s, status.trace_speed_m_s, after_s=after_s
        )
        answer |= _stroke(status, _number(asked.get("stroke")) if is_same else -math.inf)
        answer |= _first_look(status)
    return flask.jsonify(answer)


def tap() -> tuple[flask.Response, int] | flask.Response:
    """Do a tap, once, and answer what it did."""
    at = desk()
    try:
        sent = read_tap(flask.request.get_json(silent=True))
    except ValueError:
        return flask.jsonify(said=table_words.TAP_UNKNOWN, pick=None, kind=None), 400
    if only_looks():  # not 403: the page would keep the tap and send it again
        return flask.jsonify(said=share_words.ONLY_LOOKS_FAULT, pick=None, kind=None), 409
    book = _books.setdefault(at, TapBook())
    return flask.jsonify(book.once(sent, lambda one: do_tap(at, one).as_json()))


def glance(at: Desk, status: LiveStatus | None) -> tuple[str, str]:
    """Return the desk's state as text and its key, looked up anew only when something moved.

    Parameters
    ----------
    at : Desk
        The desk.
    status : LiveStatus or None
        Of its live session.
    """
    heard = at.air.heard()
    moves = (
        at.n_moves,
        0 if status is None else status.n_strokes,
        0 if status is None else status.n_entered,
        0 if status is None else list(type(status.state)).index(status.state),
        2 * heard.n_scans + heard.is_listening,
    )
    now_s = time.monotonic()
    known = _glances.get(at)
    if known is None or known[0] != moves or now_s - known[1] > LOOK_AGAIN_S:
        known = (moves, now_s, json.dumps(desk_state(at, status)))
        _glances[at] = known
    return known[2], f"{zlib.crc32(known[2].encode()):x}"


def _said(at: Desk, status: LiveStatus | None) -> dict[str, Any]:
    """Return how the source stands, in words, and what is known of it."""
    if status is None:
        return {"said": table_words.NOT_CONNECTED, "facts": "", "look": "state"}
    is_live = words.is_live(status)
    if at.sensor is None or not is_live:
        look = "state on" if is_live else "state"
        return {"said": words.live_state(status), "facts": "", "look": look}
    look = "state on" if status.is_connected else "state seeking"
    facts = " \u00b7 ".join(table_words.facts(status)) if status.is_connected else ""
    if status.is_connected and not status.problem:
        said = table_words.CONNECTED.format(name=status.sensor_name or at.sensor.label)
    else:  # what the sensor's way says of itself, without the session's own opening
        said = status.words.removeprefix(WORDS[status.state]).strip()
    return {"said": said, "facts": facts, "look": look}


def _stroke(status: LiveStatus, known_s: float) -> dict[str, Any]:
    """Return the newest stroke as it was measured, unless the page has it."""
    stroke = status.last_stroke
    if stroke is None or stroke.trace is None or stroke.impact_time_s <= known_s:
        return {}
    time_s, speed_m_s = thinned(stroke.trace.time_s, stroke.trace.speed_m_s, STROKE_POINTS)
    return {
        "stroke": {
            "at": stroke.impact_time_s,
            "pace": stroke.tip_speed_m_s,
            "t": time_s.round(4).tolist(),
            "v": speed_m_s.round(3).tolist(),
        }
    }


def _first_look(status: LiveStatus) -> dict[str, Any]:
    """Return how many strokes there were, whether one is on its way, and a first look at it."""
    answer: dict[str, Any] = {"n": status.n_strokes}
    if status.is_measuring:
        answer["soon"] = True
    if status.first_look is not None:
        answer["first"] = status.first_look.tip_speed_m_s
    return answer


def _number(text: str | None) -> float:
    """Return a number a page sent, minus infinity for none."""
    try:
        value = float(text or "")
    except ValueError:
        return -math.inf
    return value if math.isfinite(value) else -math.inf
