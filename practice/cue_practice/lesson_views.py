"""Views of what is said about a shot, and in a lesson."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Remark:
    """A remark on a shot, pinned to a moment of its stroke or to all of it.

    Parameters
    ----------
    remark_id, shot_id : int
        Numbers in the log.
    text : str
        The coach's or player's words.
    at_s : float or None
        Moment it is about, in seconds from the hit, negative before it; None for the whole shot.
    added_utc : datetime
        When it was entered.
    is_discarded : bool
        Removed, can be brought back by undo.
    """

    remark_id: int
    shot_id: int
    text: str
    at_s: float | None
    added_utc: datetime
    is_discarded: bool = False


@dataclass(frozen=True)
class Lesson:
    """A lesson: what was talked over with a player, and what to practise next.

    Parameters
    ----------
    lesson_id, player_id : int
        Numbers in the log.
    held_utc : datetime
        When it was held.
    text : str
        What was talked over.
    exercise : str
        What to practise until the next one.
    added_utc : datetime
        When it was entered.
    is_discarded : bool
        Left out, can be brought back.
    """

    lesson_id: int
    player_id: int
    held_utc: datetime
    text: str
    exercise: str
    added_utc: datetime
    is_discarded: bool = False
