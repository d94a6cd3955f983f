"""Differences between two players, periods or cues, in plain sentences."""

from typing import TYPE_CHECKING

from cue_practice.trade_words import probability_words

if TYPE_CHECKING:
    from cue_practice.compare import Difference
    from cue_practice.control import Measure

SURE = 0.95
"""From this probability on one side is named as the better one."""

_UNLIKELY = 0.1

_QUANTITY = {
    "pace spread": ("Spread of pace", "keeps closer to the pace"),
    "sideways": ("Tip sideways at the hit", "is straighter"),
    "slowing": ("Slowing into the ball", "slows into the ball less often"),
    "right": ("Right results", "has the right result more often"),
}


def difference_words(found: "Difference", names: tuple[str, str]) -> tuple[str, ...]:
    """Return a difference in sentences: sizes, who is better and how surely, what it rests on.

    Parameters
    ----------
    found : Difference
        Without words.
    names : tuple of two str
        What the sides are called.
    """
    title, better = _QUANTITY[found.quantity]
    said = [
        f"{title}: {names[0]} {_size(found, found.first)}, {names[1]} {_size(found, found.second)}."
    ]
    matters = probability_words(found.probability_matters)
    sure = max(found.probability_first_better, 1.0 - found.probability_first_better)
    ahead = names[0] if found.probability_first_better >= 0.5 else names[1]
    by = "by a fifth or more" if found.is_ratio else "by one shot in ten or more"
    if sure >= SURE:
        said.append(
            f"{ahead} {better}: {probability_words(sure)} sure, and {matters} that it is {by}."
        )
    else:
        said.append(
            f"They cannot be told apart yet: {probability_words(sure)} that {ahead} {better}"
            + (
                f"; that it is {by} is unlikely ({matters})."
                if found.probability_matters <= _UNLIKELY
                else f", {matters} that it is {by}."
            )
        )
    if min(found.n_evenings) == 1:
        said.append("With a single evening on a side, how much evenings differ is only assumed.")
    return tuple(said)


def _size(found: "Difference", measure: "Measure") -> str:
    """Return a quantity with its interval."""
    if found.quantity == "sideways":
        low, high = measure.low * 1e3, measure.high * 1e3
        return f"{measure.value * 1e3:.1f} mm (90 % sure: {low:.1f} to {high:.1f})"
    digits = 1 if found.quantity == "pace spread" else 0
    low, high = measure.low * 100.0, measure.high * 100.0
    return (
        f"{measure.value * 100.0:.{digits}f} % (90 % sure: {low:.{digits}f} to {high:.{digits}f})"
    )
