"""The answer about pace in plain sentences, doubts included."""

from typing import TYPE_CHECKING

import numpy as np

from cue_practice.likelihood import FloatArray, IntArray
from cue_practice.pace_words import IN_M_S, PaceWords
from cue_practice.trade_words import shots_words

if TYPE_CHECKING:
    from cue_practice.inference import PaceAnswer

_OVERRULED_SD = 2.0
_FEW = 5
_FEWEST_TO_CONTRADICT = 2
_REVERSED_SHARE = 0.6


def in_words(answer: "PaceAnswer", pace: PaceWords = IN_M_S) -> tuple[str, ...]:
    """Return the sentences that go with an answer.

    Parameters
    ----------
    answer : PaceAnswer
        With the shots that were used.
    pace : PaceWords
        How paces are written.

    Returns
    -------
    tuple of str
        What there is, the best pace, the band, doubts, the player's chance, the next shot, shots
        left out.
    """
    sentences = [_what_there_is(answer), _best(answer, pace), _band(answer, pace)]
    sentences += _other_bands(answer, pace)
    sentences += _doubts(answer)
    sentences += [_own_chance(answer, pace), _next(answer, pace)]
    sentences += _left_out(answer, pace)
    return tuple(sentences)


def remarks_in_words(answer: "PaceAnswer", pace: PaceWords = IN_M_S) -> tuple[str, ...]:
    """Return those of the sentences that no figure of the answer says.

    Parameters
    ----------
    answer : PaceAnswer
        With the shots that were used.
    pace : PaceWords
        How paces are written.

    Returns
    -------
    tuple of str
        What the shots cannot tell, where they contradict each other or the model, and which of
        them were left out.
    """
    nothing = [_what_there_is(answer)] if answer.n_shots == 0 else []
    return (*nothing, *_doubts(answer), *_left_out(answer, pace))


def _what_there_is(answer: "PaceAnswer") -> str:
    """Return how many shots there are, by result."""
    if answer.n_shots == 0:
        return f"No shot with pace and result yet: all of this comes from {answer.prior.source}."
    shots = shots_words(answer.n_shots)
    return (
        f"{shots}: {answer.n_too_little} with too little stun, {answer.n_right} right, "
        f"{answer.n_too_much} with too much."
    )


def _best(answer: "PaceAnswer", pace: PaceWords) -> str:
    """Return the best pace with its interval."""
    return (
        f"Best pace about {pace.text(answer.best_pace_m_s)}; 90 % sure that it lies between "
        f"{pace.number(answer.best_pace_low_m_s)} and {pace.text(answer.best_pace_high_m_s)}."
    )


def _band(answer: "PaceAnswer", pace: PaceWords) -> str:
    """Return where right is at least an even chance."""
    if answer.band_m_s is None:
        return (
            "At no pace is the right result an even chance yet: at the best one it is "
            f"{_percent(answer.best_chance)}."
        )
    return f"From {pace.span(*answer.band_m_s)} the right result is at least an even chance."


def _other_bands(answer: "PaceAnswer", pace: PaceWords) -> list[str]:
    """Return where else the white lands in the model."""
    others = answer.prior.other_bands_m_s
    if not others:
        return []
    spans = " and ".join(pace.span(*band) for band in others)
    return [
        f"In the table model the white also lands there, another way, from {spans}; all of this is "
        "about the way these shots were played."
    ]


def _doubts(answer: "PaceAnswer") -> list[str]:
    """Return what these shots cannot tell, and where they contradict each other or the model."""
    log_pace, result = answer.used_log_pace, answer.used_result
    if answer.n_shots == 0:
        return []
    found = []
    if 0 < answer.n_shots < _FEW:
        found.append("So few shots say little; most of this is still the table model's word.")
    found += _missing_results(answer)
    if answer.n_shots > 1 and np.ptp(log_pace) < 1e-9:
        found.append("All had the same pace, so they cannot tell what another pace would do.")
    if _is_contradictory(log_pace, result):
        found.append(
            "They contradict each other: softer shots had too much and harder ones too little. "
            "Check that tip height and mark were kept."
        )
    return found + _overruled(answer)


def _missing_results(answer: "PaceAnswer") -> list[str]:
    """Return which edge of the right band nothing was seen of."""
    source = answer.prior.source
    if answer.n_too_little == 0 and answer.n_too_much == 0:
        return [f"No shot was too soft or too hard: both edges come from {source}."]
    if answer.n_right == 0 and (answer.n_too_little == 0 or answer.n_too_much == 0):
        softer = "softer" if answer.n_too_little == 0 else "harder"
        return [f"None was right and all went the same way: play {softer} ones."]
    if answer.n_right == 0:
        return ["None was right yet, so how wide the right band is cannot be told."]
    if answer.n_too_much == 0:
        return [f"None was too hard yet: where too much begins comes from {source}."]
    if answer.n_too_little == 0:
        return [f"None was too soft yet: where too little ends comes from {source}."]
    return []


def _is_contradictory(log_pace: FloatArray, result: IntArray) -> bool:
    """Return whether most pairs of a shot with too little and one with too much are reversed."""
    little, much = log_pace[result < 0], log_pace[result > 0]
    if min(len(little), len(much)) < _FEWEST_TO_CONTRADICT:
        return False
    is_reversed = little[:, np.newaxis] > much[np.newaxis, :]
    return bool(is_reversed.mean() > _REVERSED_SHARE)


def _overruled(answer: "PaceAnswer") -> list[str]:
    """Return that the results overrule the prior, where they clearly do."""
    shift = float(np.log(answer.best_pace_m_s / answer.prior.centre_m_s))
    is_outside = not (
        answer.best_pace_low_m_s < answer.prior.centre_m_s < answer.best_pace_high_m_s
    )
    if abs(shift) < _OVERRULED_SD * answer.prior.centre_sd_log or not is_outside:
        return []
    word = "more" if shift > 0 else "less"
    return [
        f"That is {abs(np.expm1(shift)) * 100:.0f} % {word} pace than expected from "
        f"{answer.prior.source}; your results count for more."
    ]


def _own_chance(answer: "PaceAnswer", pace: PaceWords) -> str:
    """Return the chance of right when the player tries for the best pace."""
    spread = answer.own_spread
    origin = (
        f"your own spread of {pace.text(answer.own_spread_m_s)}"
        if spread.n_shots
        else f"a usual spread of {pace.text(answer.own_spread_m_s)} (a series to a called pace "
        "would measure yours)"
    )
    return (
        f"Trying for the best pace with {origin}, the right result comes in about "
        f"{_percent(answer.chance_at_own_spread)} of shots, between {_percent(answer.chance_low)} "
        f"and {_percent(answer.chance_high)}."
    )


def _next(answer: "PaceAnswer", pace: PaceWords) -> str:
    """Return the pace to play next."""
    return f"The next shot teaches most at about {pace.text(answer.next_pace_m_s)}."


def _left_out(answer: "PaceAnswer", pace: PaceWords) -> list[str]:
    """Return which shots were not used and why."""
    return [
        f"Shot {place + 1} of these is left out: "
        + (f"no stroke has a pace of {pace.text(odd)}." if np.isfinite(odd) else f"{why}.")
        for (place, why), odd in zip(answer.left_out, answer.left_out_pace_m_s, strict=True)
    ]


def _percent(share: float) -> str:
    """Return a share in words."""
    return f"{100.0 * share:.0f} %"
