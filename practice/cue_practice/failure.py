"""What goes with failure: which measures of the stroke go with misses and with a wrong pace.

Every shot is compared with the others of its own series, the pace and the place in the evening
taken out first: a long backswing that only went with a hard shot, or a miss at the end of a long
evening, says nothing about the action. Something is said only where chance alone would say as much
of one player in twenty, over all measures and outcomes together. What goes together need not cause
each other.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import expit, logit

from cue_practice.failure_cases import Case, missed, off_pace, pace_beside, too_few, wrong
from cue_practice.failure_fit import Weighed, set_apart, weigh_number, weigh_yes_no
from cue_practice.failure_words import (
    NO_TRAITS,
    NOTHING_MEANS,
    link_words,
    nothing_words,
    together_words,
)
from cue_practice.likelihood import FloatArray
from cue_practice.played import PlayedShots

FALSE_ALARM = 0.05
"""Share of players without any link of whom something is said."""

NEWEST = 2000
"""Older shots than these say little about the player of today."""

_SURE_OF_SIGN = 0.95
_MOST_UNKNOWN = 0.4
_THIRD = 1.0 / 3.0
_ALIKE = 0.7


def _as_it_is(values: FloatArray) -> FloatArray:
    """Return the measure itself."""
    return values


def _turned(values: FloatArray) -> FloatArray:
    """Return the measure with its sign turned."""
    return -values


def _size(values: FloatArray) -> FloatArray:
    """Return how far from nought the measure is, either way."""
    return np.asarray(np.abs(values))


TRAITS: dict[str, tuple[str, Callable[[FloatArray], FloatArray]]] = {
    "slowing": ("accel_at_hit_m_s2", _turned),
    "backswing": ("backswing_m", _as_it_is),
    "rear_pause": ("rear_pause_s", _as_it_is),
    "delivery": ("delivery_s", _as_it_is),
    "jerk": ("smoothness", _turned),
    "sideways": ("tip_lateral_m", _size),
    "up_down": ("tip_vertical_m", _size),
    "twist": ("twist_rad", _size),
    "follow_through": ("follow_through_m", _as_it_is),
    "restless": ("stillness_m_s2", _as_it_is),
    "feathers": ("feathers", _as_it_is),
    "feather_time": ("feather_period_s", _as_it_is),
}
"""Each trait with the measure of :class:`cue_signal.stroke.Stroke` it is taken from."""

OUTCOMES = ("missed", "wrong", "soft", "off_pace")
"""Missed the pot; not the right result, beyond what the pace explains; softer than the player's
other shots to the same called pace; further from these, either way."""


@dataclass(frozen=True)
class Link:
    """One trait of the stroke and one outcome.

    Parameters
    ----------
    trait, outcome : str
        Of :data:`TRAITS` and :data:`OUTCOMES`.
    n_shots : int
        Shots behind it.
    effect, effect_low, effect_high : float
        For a standard deviation of the trait, drawn towards none, with its 90 % interval: change
        of the log odds for missed and wrong, of the pace as a share of it for the other two.
    chance_share : float
        Share of outcomes by chance alone that would show as much in any trait.
    probability_more : float
        That more of the trait goes with more of the outcome.
    least_third, most_third : float
        What the fit expects in the third of shots with least and with most of the trait: a share
        of shots that failed, or of the pace.
    is_clear : bool
        Whether the evidence is there.
    words : str
        In a sentence.
    """

    trait: str
    outcome: str
    n_shots: int
    effect: float
    effect_low: float
    effect_high: float
    chance_share: float
    probability_more: float
    least_third: float
    most_third: float
    is_clear: bool
    words: str = ""


@dataclass(frozen=True)
class FailureReport:
    """What goes with failure for one player.

    Parameters
    ----------
    links : tuple of Link
        Every trait and outcome that could be looked at, the clearest first.
    words : tuple of str
        What is clear, or that nothing is, and what could have been seen.
    """

    links: tuple[Link, ...]
    words: tuple[str, ...]

    @property
    def clear(self) -> tuple[Link, ...]:
        """Return the links the evidence is there for."""
        return tuple(link for link in self.links if link.is_clear)


def what_goes_with(shots: PlayedShots) -> FailureReport:
    """Return which traits of the stroke go with failure.

    Parameters
    ----------
    shots : PlayedShots
        Of one player, from :meth:`cue_practice.log.PracticeLog.played_shots`.

    Returns
    -------
    FailureReport
        The same for the same shots.
    """
    shots = shots.chosen(np.isfinite(shots.pace_m_s) & (shots.pace_m_s > 0.0))
    keep = np.zeros(len(shots), dtype=np.bool_)
    keep[-NEWEST:] = True
    shots = shots.chosen(keep)
    cases = [case for case in (missed(shots), wrong(shots), *off_pace(shots)) if case]
    if not cases:
        return FailureReport((), (too_few(shots),))
    links: list[Link] = []
    said: list[str] = []
    for case in cases:
        found, unseen = _links(case, FALSE_ALARM / len(cases))
        links += found
        said += unseen
    if not links:
        return FailureReport((), (NO_TRAITS,))
    links.sort(key=lambda link: (not link.is_clear, link.chance_share, -abs(link.effect)))
    clear = [link.words for link in links if link.is_clear]
    return FailureReport(
        tuple(links), tuple([*clear, *_alike(shots, links), NOTHING_MEANS] if clear else said)
    )


def _links(case: Case, alpha: float) -> tuple[list[Link], list[str]]:
    """Return the links of one outcome, and what to say if none is clear."""
    names, columns = [], []
    for name, (measure, turn) in TRAITS.items():
        values = turn(case.shots.measures[measure])
        if np.mean(~np.isfinite(values)) > _MOST_UNKNOWN:
            continue
        column = set_apart(values, case.shots.series_id, case.taken_out)
        if column is not None:
            names.append(name)
            columns.append(column)
    if not columns:
        return [], []
    z = np.column_stack(columns)
    if case.expected is None:
        found = weigh_number(z, case.value, case.shots.series_id, alpha=alpha)
    else:
        found = weigh_yes_no(z, case.value, case.expected, case.shots.series_id, alpha=alpha)
    links = [_link(case, found, z, k, name, alpha) for k, name in enumerate(names)]
    return links, [nothing_words(case.outcome, len(z), _usual(case), *_could_be_seen(case, found))]


def _link(case: Case, found: Weighed, z: FloatArray, k: int, name: str, alpha: float) -> Link:
    """Return one link with its words."""
    effect, more = float(found.effect[k]), float(found.probability_positive[k])
    least, most = _thirds(z[:, k])
    is_clear = bool(found.chance_share[k] <= alpha and max(more, 1.0 - more) >= _SURE_OF_SIGN)
    ends = (_expected_at(case, effect * least), _expected_at(case, effect * most))
    return Link(
        trait=name,
        outcome=case.outcome,
        n_shots=len(case.shots),
        effect=effect,
        effect_low=float(found.low[k]),
        effect_high=float(found.high[k]),
        chance_share=float(found.chance_share[k]),
        probability_more=more,
        least_third=ends[0],
        most_third=ends[1],
        is_clear=is_clear,
        words=link_words(name, case.outcome, *ends, len(case.shots)),
    )


def _thirds(column: FloatArray) -> tuple[float, float]:
    """Return the mean of the third with least, and of the third with most."""
    rising = np.sort(column)
    n = max(int(len(rising) * _THIRD), 1)
    return float(rising[:n].mean()), float(rising[-n:].mean())


def _expected_at(case: Case, shift: float) -> float:
    """Return the outcome expected of all shots with a trait shifted."""
    if case.expected is None:
        return shift
    return float(np.mean(expit(logit(case.expected) + shift)))


def _usual(case: Case) -> float:
    """Return the share of failures, or the scatter of the outcome."""
    return float(case.value.mean() if case.expected is not None else case.value.std())


def _could_be_seen(case: Case, found: Weighed) -> tuple[float, float]:
    """Return the outcome in both thirds that would be found in eight of ten players."""
    typical = float(np.median(found.information))
    effect = (found.needed_score + 0.842) / typical
    thirds = 1.09  # mean of the upper third of a normal distribution
    return _expected_at(case, -thirds * effect), _expected_at(case, thirds * effect)


def _alike(shots: PlayedShots, links: list[Link]) -> list[str]:
    """Return which clear traits go together so much that they cannot be told apart."""
    said, seen = [], set()
    clear = [link.trait for link in links if link.is_clear]
    columns = {}
    for name in dict.fromkeys(clear):
        measure, turn = TRAITS[name]
        columns[name] = set_apart(
            turn(shots.measures[measure]), shots.series_id, pace_beside(shots)[:, np.newaxis]
        )
    for one, first in columns.items():
        for other, second in columns.items():
            if one >= other or first is None or second is None or (one, other) in seen:
                continue
            seen.add((one, other))
            if abs(float(np.mean(first * second))) > _ALIKE:
                said.append(together_words(one, other))
    return said
