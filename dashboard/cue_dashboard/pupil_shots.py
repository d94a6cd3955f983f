"""Shots that the page Coach speaks of: a pupil's newest, read once while nobody plays."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from cue_practice.evening_sums import EVENING_MEASURES
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


@dataclass(frozen=True, eq=False)
class SinceLesson:
    """A pupil's shots on either side of their last lesson.

    Parameters
    ----------
    since : PlayedShots
        From the lesson on; of very many the newest.
    before : PlayedShots
        Between it and the lesson before it, or all before it where nothing was played between the
        two; of very many the last ones before the lesson.
    n_since : int
        Shots since the lesson, all of them.
    """

    since: PlayedShots
    before: PlayedShots
    n_since: int


def since_lesson(log: PracticeLog, player_id: int, lessons_utc: Sequence[datetime]) -> SinceLesson:
    """Return a pupil's shots since their last lesson, and those from before it.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    player_id : int
        Whose.
    lessons_utc : sequence of datetime
        When the lessons were, the newest first; at least one.
    """
    shots, held_utc = pupil_shots(log, player_id), lessons_utc[0]
    is_since = shots.struck_s >= held_utc.timestamp()
    since, before, n_since = shots.chosen(is_since), shots.chosen(~is_since), int(is_since.sum())
    if len(shots) and is_since.all():  # the lesson may lie before the oldest shot of these
        n_since = log.count_shots(player_id=player_id, since_utc=held_utc)
        before = log.kept(
            ("before lesson", player_id, held_utc),
            lambda: _before(log, player_id, held_utc, n_since),
        )
    if len(lessons_utc) > 1:
        is_between = before.struck_s >= lessons_utc[1].timestamp()
        before = before.chosen(is_between) if is_between.any() else before
    return SinceLesson(since, before, n_since)


def _before(log: PracticeLog, player_id: int, held_utc: datetime, n_since: int) -> PlayedShots:
    """Return the last shots before a lesson, with what two times are compared in."""
    oldest = log.shots(player_id=player_id, newest=1, offset=n_since + MOST_SHOTS - 1)
    return log.played_shots(
        player_id,
        since_utc=oldest[0].struck_utc if oldest else None,
        until_utc=held_utc,
        measures=EVENING_MEASURES,
    )
