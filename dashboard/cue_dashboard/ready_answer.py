"""An answer's tools made ready while a series is still without results.

The first answer of a program's run loads the table model and tabulates the shot in hand, which
takes a second or more. Between the start of a series and its first result there is time for that.
"""

import logging
import threading
from weakref import WeakKeyDictionary

from cue_dashboard.desk import Desk
from cue_practice.questions import Held

_logger = logging.getLogger(__name__)
_ready: WeakKeyDictionary[Desk, set[Held]] = WeakKeyDictionary()


def make_ready(at: Desk, held: Held) -> threading.Thread | None:
    """Work out what is known before the first result, in a thread of its own, once a question.

    Parameters
    ----------
    at : Desk
        The desk.
    held : Held
        What the series holds.

    Returns
    -------
    Thread or None
        None where that was begun before.
    """
    known = _ready.setdefault(at, set())
    if held in known:
        return None
    known.add(held)
    # not a daemon: a compiler that is cut off can take the program with it
    thread = threading.Thread(target=_answer, args=(at, held), name="answer made ready")
    thread.start()
    return thread


def _answer(at: Desk, held: Held) -> None:
    """Answer once, for what that leaves ready; who asks next is told what is wrong, if anything."""
    try:
        held.answer(at.log)
    except Exception:  # nobody asked yet, and the log may be closed by now
        _logger.debug("the answer was not made ready", exc_info=True)
