"""What is set side by side on the page Progress: one player, or two, two times, two cues."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from cue_dashboard.words import progress as say
from cue_practice.evening_sums import EVENING_MEASURES
from cue_practice.log import PracticeLog
from cue_practice.played import PlayedShots

NOBODY, PLAYER, PERIOD, CUE = "nobody", "player", "period", "cue"
YEAR, ALWAYS = "year", "always"
_YEAR = timedelta(days=365)


@dataclass(frozen=True, eq=False)
class Side:
    """Shots under one name.

    Parameters
    ----------
    name : str
        What it is called.
    shots : PlayedShots
        In the order they were played.
    """

    name: str
    shots: PlayedShots


@dataclass(frozen=True)
class Choice:
    """One thing that can be chosen to set beside.

    Parameters
    ----------
    value : str
        For :func:`sides_of`.
    label : str
        For people.
    """

    value: str
    label: str


def newest_player(log: PracticeLog) -> str | None:
    """Return who played last as a choice holds it, None before the first shot."""
    found = log.last_player_id()
    return None if found is None else str(found)


def choices(log: PracticeLog, player_id: int, kind: str, over: str = ALWAYS) -> list[Choice]:
    """Return what can be set beside a player, the likeliest first.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    player_id : int
        The first side.
    kind : str
        ``"nobody"``, ``"player"``, ``"period"`` or ``"cue"``.
    over : str
        ``"year"`` for the last year that anybody played, or ``"always"``.
    """
    if kind == PLAYER:
        played = log.players_with_shots()
        return [
            Choice(str(one.player_id), one.nickname)
            for one in log.players()
            if one.player_id != player_id and one.player_id in played
        ]
    if kind == PERIOD:
        return _evening_choices(_shots(log, player_id, over))
    if kind == CUE:
        names = {one.cue_id: one.name for one in log.cues()}
        used = log.cues_used(player_id)
        return [Choice(str(cue_id), names[cue_id]) for cue_id in used[1:]]
    return []


def sides_of(
    log: PracticeLog, player_id: int, kind: str, which: str | None, over: str = ALWAYS
) -> list[Side]:
    """Return one side, or two.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    player_id : int
        The first side.
    kind : str
        As in :func:`choices`.
    which : str or None
        Value of a choice; without one there is one side.
    over : str
        As in :func:`choices`.

    Returns
    -------
    list of Side
        Two times have the earlier one first, two cues the one that was used more.
    """
    names = {one.player_id: one.nickname for one in log.players()}
    if kind == PLAYER and which:
        both = (player_id, int(which))
        return [Side(names[one], _shots(log, one, over)) for one in both]
    if kind == CUE and which:
        cues = {one.cue_id: one.name for one in log.cues()}
        first = next(one for one in log.cues_used(player_id) if one != int(which))
        return [
            Side(cues[one], _shots(log, player_id, over, cue_id=one)) for one in (first, int(which))
        ]
    shots = _shots(log, player_id, over)
    if kind == PERIOD and which:
        return _two_times(shots, float(which))
    return [Side(names[player_id], shots)]


def split_of(kind: str, which: str | None) -> datetime | None:
    """Return the moment at which the later time begins, None where nothing is split."""
    if kind != PERIOD or not which:
        return None
    return datetime.fromtimestamp(float(which), UTC)


def day_text(moment: datetime) -> str:
    """Return a day in the reader's own time zone."""
    return moment.astimezone().strftime("%d %b %Y").lstrip("0")


def since_of(log: PracticeLog, over: str) -> datetime | None:
    """Return the moment from which shots count, None where all of them do."""
    newest = log.shots(newest=1) if over == YEAR else []
    return newest[0].struck_utc - _YEAR if newest else None


def _shots(
    log: PracticeLog, player_id: int, over: str, *, cue_id: int | None = None
) -> PlayedShots:
    """Return a player's shots with what the page needs of them, read once while nobody plays."""
    return log.kept(
        ("evenings", player_id, cue_id, over),
        lambda: log.kept_shots(
            player_id, cue_id=cue_id, since_utc=since_of(log, over), measures=EVENING_MEASURES
        ),
    )


def _two_times(shots: PlayedShots, split_s: float) -> list[Side]:
    """Return what was played before a moment, and from it on."""
    when = day_text(datetime.fromtimestamp(split_s, UTC))
    # half a second of grace: the choice names the first shot of an evening
    is_later = shots.struck_s >= split_s - 0.5
    return [
        Side(say.BEFORE.format(when=when), shots.chosen(~is_later)),
        Side(say.FROM.format(when=when), shots.chosen(is_later)),
    ]


def _evening_choices(shots: PlayedShots) -> list[Choice]:
    """Return the evenings that a later time can begin with: the middle one first."""
    numbers, first, counts = np.unique(shots.evening, return_index=True, return_counts=True)
    if len(numbers) < 2:
        return []
    found = []
    for start, n_shots in zip(first[1:], counts[1:], strict=True):
        moment = datetime.fromtimestamp(float(shots.struck_s[start]), UTC)
        label = say.EVENING_OF.format(when=day_text(moment), n=n_shots)
        found.append(Choice(f"{shots.struck_s[start]:.3f}", label))
    middle = found.pop(len(found) // 2)
    return [middle, *reversed(found)]
