"""What to practise next, in a sentence or two."""

from cue_practice.inference import PaceAnswer
from cue_practice.pace_words import IN_M_S, PaceWords

SURE_RATIO = 1.2
"""A best pace known more closely than this, high over low, is to be kept; else it is to be found.
A choice of ours."""


def next_exercise(answer: PaceAnswer, mark: str, pace: PaceWords = IN_M_S) -> str:
    """Return the next exercise for a set-up and tip height.

    Parameters
    ----------
    answer : PaceAnswer
        What is known there.
    mark : str
        Where it is played, for example "the mark, tip 9.5 mm below centre".
    pace : PaceWords
        How paces are written.

    Returns
    -------
    str
        To find the best pace where it is not known to a fifth, or right at no pace is an even
        chance yet; else to keep it.
    """
    is_unsure = answer.best_pace_high_m_s / answer.best_pace_low_m_s > SURE_RATIO
    if answer.n_shots == 0 or is_unsure or answer.band_m_s is None:
        return (
            f"Ten from {mark}, only the pace changed: begin at about "
            f"{pace.text(answer.next_pace_m_s)}, then let the results lead."
        )
    return (
        f"Ten from {mark}, every one at {pace.text(answer.best_pace_m_s)}. Count those within 5 % "
        "of it, and those that were right."
    )
