"""Guests who may only look: whatever their device sends, it changes nothing.

A page that is shown and one that changes something are asked for in the same way, so requests
cannot be told apart at the door. What changes something asks here instead: every write of the log,
what connects or lets go of a sensor, and what takes in a file.
"""

import flask

from cue_dashboard.words import share as words
from cue_practice.errors import PracticeError

_MARK = "stunpace_only_looks"


class OnlyLooksError(PracticeError):
    """A device that may only look asked for a change."""

    def __init__(self) -> None:
        super().__init__(words.ONLY_LOOKS_FAULT)


def mark_looker() -> None:
    """Note that the request that is being answered came from a device that may only look."""
    setattr(flask.g, _MARK, True)


def only_looks() -> bool:
    """Return whether what runs just now was asked for by a device that may only look."""
    return flask.has_request_context() and bool(flask.g.get(_MARK, False))


def refuse_lookers() -> None:
    """Stop what changes something where a device that may only look asked for it.

    Raises
    ------
    OnlyLooksError
        If so.
    """
    if only_looks():
        raise OnlyLooksError
