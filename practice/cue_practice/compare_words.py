"""Differences between two players, periods or cues, in plain sentences."""

from typing import TYPE_CHECKING

from cue_practice.trade_words import interval_texts, probability_words

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
    factor, unit = (1e3, "mm") if found.quantity == "sideways" else (100.0, "%")
    digits = 1 if found.quantity in ("sideways", "pace spread") else 0
    ends = (factor * measure.value, factor * measure.low, factor * measure.high)
    value, low, high = interval_texts(*ends, digits)
    if low == high:
        return f"{value} {unit} (90 % sure, as exactly as can be shown)"
    return f"{value} {unit} (90 % sure: {low} to {high})"
