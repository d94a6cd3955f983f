"""Which shot the player is asked about, so that no stroke is lost while taps are pending.

The shots themselves say what is still to be tapped; the browser only remembers which shot a player
went back to.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from cue_practice.views import Shot


@dataclass(frozen=True)
class Pick:
    """The shot a player has in hand.

    Parameters
    ----------
    shot_id : int or None
        Its number, None for nothing in particular.
    is_held : bool
        Whether the player went to it, or began to tap where the white went: then a new stroke
        waits until the player goes on.
    """

    shot_id: int | None = None
    is_held: bool = False


@dataclass(frozen=True)
class Judged:
    """What the player is asked about.

    Parameters
    ----------
    shot : Shot or None
        The shot in hand, None before the first.
    number : int
        Its place in the series, from 1.
    n_waiting : int
        Shots without a result beside this one.
    """

    shot: Shot | None
    number: int
    n_waiting: int


def shot_in_hand(shots: Sequence[Shot], pick: Pick) -> Judged:
    """Return the shot to ask about.

    The picked shot while it is held or has no result yet; else the oldest without a result; else
    the picked one, or the newest.

    Parameters
    ----------
    shots : sequence of Shot
        Shots of the series that are not discarded, in the order they were played.
    pick : Pick
        What the player has in hand.
    """
    if not shots:
        return Judged(None, 0, 0)
    waiting = [shot for shot in shots if shot.grade is None]
    picked = next((shot for shot in shots if shot.shot_id == pick.shot_id), None)
    if picked is not None and (pick.is_held or picked.grade is None):
        chosen = picked
    elif waiting:
        chosen = waiting[0]
    else:
        chosen = picked or shots[-1]
    others = [shot for shot in waiting if shot.shot_id != chosen.shot_id]
    return Judged(chosen, _number(shots, chosen), len(others))


def after_this(shots: Sequence[Shot], shot_id: int) -> Pick:
    """Return the pick when the player goes on from a shot: the oldest that waits, or the newest."""
    waiting = [shot for shot in shots if shot.grade is None and shot.shot_id != shot_id]
    if waiting:
        return Pick(waiting[0].shot_id)
    return Pick(shots[-1].shot_id if shots else None)


def _number(shots: Sequence[Shot], chosen: Shot) -> int:
    """Return a shot's place in the series."""
    return 1 + [shot.shot_id for shot in shots].index(chosen.shot_id)
