"""Shots that the page Coach speaks of: a pupil's newest, read once while nobody plays."""

from datetime import datetime

from cue_practice.log import PracticeLog
from cue_practice.played import PlayedShots

MOST_SHOTS = 5_000
"""Fifty long evenings: the player of today, and few enough to be weighed while somebody waits."""


def pupil_shots(log: PracticeLog, player_id: int) -> PlayedShots:
    """Return a pupil's newest shots, with all measures of their strokes.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    player_id : int
        Whose.
    """
    return log.kept(
        ("pupil", player_id),
        lambda: log.kept_shots(player_id, since_utc=pupil_since(log, player_id)),
    )


def pupil_since(log: PracticeLog, player_id: int) -> datetime | None:
    """Return when the oldest of these shots was played, None where all of them count."""
    return log.kept(
        ("pupil since", player_id),
        lambda: log.since_newest(player_id, MOST_SHOTS),
    )
