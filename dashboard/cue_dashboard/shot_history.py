"""What was changed of a shot, in words, the newest first."""

from collections.abc import Mapping
from typing import Any

from cue_dashboard import words
from cue_dashboard.names import Names, when_text
from cue_dashboard.words import log_shot as say
from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_practice.views import Change


def shot_history(log: PracticeLog, shot_id: int) -> list[str]:
    """Return every change of a shot in a sentence, the newest first.

    Parameters
    ----------
    log : PracticeLog
        Where the shot is.
    shot_id : int
        Which.
    """
    names = Names(log)
    return [change_words(one, log, names) for one in log.history(shot_id=shot_id)]


def change_words(change: Change, log: PracticeLog, names: Names) -> str:
    """Return one change: when, and what became what."""
    parts = _parts(change.before, change.after, log, names)
    what = ", ".join(parts) or change.what
    if change.is_undone:
        what = say.TAKEN_BACK.format(what=what)
    return say.CHANGED.format(when=when_text(change.changed_utc), what=what)


def _parts(
    before: Mapping[str, Any], after: Mapping[str, Any], log: PracticeLog, names: Names
) -> list[str]:
    """Return what became what, field by field."""
    found = []
    if "grade" in after:
        found.append(_from_to(say.RESULT, _grade(before.get("grade")), _grade(after["grade"])))
    if "is_potted" in after:
        was, now = (_potted(one.get("is_potted")) for one in (before, after))
        found.append(_from_to(say.POTTED, was, now))
    found += [_point(name, after) for name in say.POINTS if f"{name}_x_m" in after]
    if "note" in after:
        found.append(say.SET_TO.format(what=say.NOTE, after=after["note"] or say.EMPTY))
    if "is_discarded" in after:
        found.append(say.DISCARDED[bool(after["is_discarded"])])
    if "broken_rule" in after:
        why = after["broken_rule"]
        found.append(say.RULE_KEPT if why is None else say.RULE_BROKEN.format(why=why))
    if "is_mark_new" in after:
        found.append(say.MARKED_NEW[bool(after["is_mark_new"])])
    if "series_id" in after:
        series = names.series(log.series(int(after["series_id"])))
        found.append(say.MOVED.format(series=series))
    return found


def _from_to(what: str, before: str | None, after: str | None) -> str:
    """Return one field's change; what was not there before is only set."""
    if before is None:
        return say.SET_TO.format(what=what, after=(after or say.EMPTY).lower())
    return say.FROM_TO.format(what=what, before=before.lower(), after=(after or say.EMPTY).lower())


def _grade(word: str | None) -> str | None:
    """Return a result's name."""
    return None if word is None else words.GRADE_NAME[Grade(word)]


def _potted(is_potted: bool | None) -> str | None:
    """Return potted or missed."""
    if is_potted is None:
        return None
    return words.POTTED if is_potted else words.MISSED


def _point(name: str, after: Mapping[str, Any]) -> str:
    """Return that a point was tapped or taken away."""
    is_there = after[f"{name}_x_m"] is not None
    return (say.POINTS if is_there else say.POINTS_GONE)[name]
