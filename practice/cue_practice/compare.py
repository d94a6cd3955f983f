"""Two players, two periods or two cues against each other, honestly.

Spread of pace, straightness, slowing into the ball and the share of right results, each with an
interval of 90 % and the probability of a difference that matters, never a bare p-value. Evenings
are the witnesses, not shots: see :mod:`cue_practice.evening_means`.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from cue_practice.compare_words import difference_words
from cue_practice.control import Measure, measure_of
from cue_practice.evening_means import Evenings, draw_means, log_odds, log_spread
from cue_practice.evening_sums import (
    Counts,
    Squares,
    pace_squares,
    right_counts,
    sideways_squares,
    slowing_counts,
)
from cue_practice.likelihood import FloatArray
from cue_practice.played import PlayedShots
from cue_practice.spread import LEAST_SPREAD

MATTERS_RATIO = 0.8
"""A spread matters that is a fifth smaller: an assumption of ours."""

MATTERS_SHARE = 0.1
"""A share of shots matters that differs by one in ten; an assumption of ours."""

_LEAST_SIDEWAYS_M = 1e-4
_BETWEEN_LOG_SPREAD, _BETWEEN_LOG_ODDS = 0.2, 0.4
"""How far evenings of one player may lie apart beforehand; assumptions of ours."""

_NORMAL_KURTOSIS, _KURTOSIS_SHOTS, _MOST_KURTOSIS = 3.0, 20.0, 12.0
"""Kurtosis of a normal distribution, counted as so many shots, and the most that is believed."""

_SIZES: dict[str, tuple[Callable[[PlayedShots], Squares], float]] = {
    "pace spread": (pace_squares, LEAST_SPREAD),
    "sideways": (sideways_squares, _LEAST_SIDEWAYS_M),
}
"""What scatters about nought, and the least size that is believed."""

_SHARES: dict[str, tuple[Callable[[PlayedShots], Counts], bool]] = {
    "slowing": (slowing_counts, False),
    "right": (right_counts, True),
}
"""Shares of shots, and whether more of them is better."""

QUANTITIES = (*_SIZES, *_SHARES)

Names = tuple[str, str]


@dataclass(frozen=True)
class Difference:
    """One quantity of two sides.

    Parameters
    ----------
    quantity : str
        One of :data:`QUANTITIES`.
    first, second : Measure
        Of either side: a share, or metres for sideways.
    difference : Measure
        First over second for spread and sideways, first less second for the shares.
    is_ratio : bool
        Which of these it is.
    probability_first_better : float
        That the first is truly the better one: the smaller, or the one with more right.
    probability_matters : float
        That the one which looks better is better by what matters.
    n_shots, n_evenings : tuple of two int
        What either side rests on.
    words : tuple of str
        In sentences.
    """

    quantity: str
    first: Measure
    second: Measure
    difference: Measure
    is_ratio: bool
    probability_first_better: float
    probability_matters: float
    n_shots: tuple[int, int]
    n_evenings: tuple[int, int]
    words: tuple[str, ...] = ()


def compare_shots(
    first: PlayedShots, second: PlayedShots, names: Names = ("first", "second")
) -> tuple[Difference, ...]:
    """Return everything two sides can be compared in.

    Parameters
    ----------
    first, second : PlayedShots
        From :meth:`cue_practice.log.PracticeLog.played_shots`, by player, cue or period.
    names : tuple of two str
        What they are called.

    Returns
    -------
    tuple of Difference
        Those both sides have shots for.
    """
    found = [compare_one(quantity, first, second, names) for quantity in QUANTITIES]
    return tuple(one for one in found if one is not None)


def compare_one(
    quantity: str, first: PlayedShots, second: PlayedShots, names: Names = ("first", "second")
) -> Difference | None:
    """Return how two sides differ in one quantity.

    Parameters
    ----------
    quantity : str
        One of :data:`QUANTITIES`: how close the pace keeps to itself within a series to a called
        pace, measuring uncertainty taken out; how close to the line it lay on the tip meets the
        ball, as a root mean square; in what share of strokes the cue slows into the ball; what
        share of results is right, over set-ups, tip heights and sides that both played, for others
        are easier or harder.
    first, second, names
        As in :func:`compare_shots`.

    Returns
    -------
    Difference or None
        None where a side has no shots that tell.
    """
    if quantity in _SIZES:
        sizes, least = _SIZES[quantity]
        return _compare_sizes(quantity, (sizes(first), sizes(second)), names, least)
    shares, is_more_better = _SHARES[quantity]
    if quantity == "right":
        first, second = _in_common(first, second)
    sides = (shares(first), shares(second))
    return _compare_shares(quantity, sides, names, is_more_better=is_more_better)


def _compare_sizes(
    quantity: str, sides: tuple[Squares, Squares], names: Names, least: float
) -> Difference | None:
    """Return two sizes of something that scatters about nought."""
    shrink = 2.0 / (_kurtosis([side.rest for side in sides]) - 1.0)
    found = [
        log_spread(np.maximum(side.square, least**2 * side.degrees) * shrink, side.degrees * shrink)
        for side in sides
    ]
    if not all(len(one.value) for one in found):
        return None
    drawn = draw_means(found[0], found[1], between_sd=_BETWEEN_LOG_SPREAD)
    draws = [
        np.sqrt(np.maximum(np.exp(2.0 * one) - side.measuring, least**2))
        for one, side in zip(drawn, sides, strict=True)
    ]
    n_shots = (len(sides[0].rest), len(sides[1].rest))
    return _difference(
        quantity, (draws[0], draws[1]), names, n_shots, _n_evenings(found), is_more_better=False
    )


def _compare_shares(
    quantity: str, sides: tuple[Counts, Counts], names: Names, *, is_more_better: bool
) -> Difference | None:
    """Return two shares of shots."""
    if not all(len(side.n) for side in sides):
        return None
    found = [log_odds(side.n_true, side.n) for side in sides]
    draws = draw_means(found[0], found[1], between_sd=_BETWEEN_LOG_ODDS)
    n_shots = (int(sides[0].n.sum()), int(sides[1].n.sum()))
    return _difference(
        quantity,
        (expit(draws[0]), expit(draws[1])),
        names,
        n_shots,
        _n_evenings(found),
        is_more_better=is_more_better,
    )


def _difference(
    quantity: str,
    draws: tuple[FloatArray, FloatArray],
    names: Names,
    n_shots: tuple[int, int],
    n_evenings: tuple[int, int],
    *,
    is_more_better: bool,
) -> Difference:
    """Return the difference of two sides given by draws."""
    first, second = draws
    is_ratio = quantity in _SIZES
    apart = first / second if is_ratio else first - second
    is_first_better = first > second if is_more_better else first < second
    better = float(np.mean(is_first_better))
    if is_ratio:
        ahead = apart if better >= 0.5 else 1.0 / apart
        matters = float(np.mean(ahead <= MATTERS_RATIO))
    else:
        sign = (1.0 if better >= 0.5 else -1.0) * (1.0 if is_more_better else -1.0)
        matters = float(np.mean(sign * apart >= MATTERS_SHARE))
    found = Difference(
        quantity=quantity,
        first=measure_of(first),
        second=measure_of(second),
        difference=measure_of(apart),
        is_ratio=is_ratio,
        probability_first_better=better,
        probability_matters=matters,
        n_shots=n_shots,
        n_evenings=n_evenings,
    )
    return Difference(**{**vars(found), "words": difference_words(found, names)})


def _kurtosis(sides: list[FloatArray]) -> float:
    """Return how heavy the tails are, drawn towards the normal: a spread is less sure by that.

    The variance of a mean square is (kurtosis - 1) / n times its square.
    """
    scaled = [one / np.sqrt(np.mean(one**2)) for one in sides if np.any(one)]
    if not scaled:
        return _NORMAL_KURTOSIS
    fourth = np.concatenate(scaled) ** 4
    told = float(fourth.sum()) + _KURTOSIS_SHOTS * _NORMAL_KURTOSIS
    mean = told / (len(fourth) + _KURTOSIS_SHOTS)
    return min(max(mean, _NORMAL_KURTOSIS), _MOST_KURTOSIS)


def _n_evenings(found: list[Evenings]) -> tuple[int, int]:
    """Return how many evenings either side has."""
    return len(found[0].value), len(found[1].value)


def _in_common(first: PlayedShots, second: PlayedShots) -> tuple[PlayedShots, PlayedShots]:
    """Return the shots of set-ups, tip heights and sides that both sides played."""
    keys = [
        [
            (int(setup), round(float(below) * 1e4), round(float(side) * 1e4))
            for setup, below, side in zip(
                shots.setup_id, shots.tip_below_centre_m, shots.side_m, strict=True
            )
        ]
        for shots in (first, second)
    ]
    both = set(keys[0]) & set(keys[1])
    kept = [
        shots.chosen(np.array([key in both for key in own], dtype=np.bool_))
        for shots, own in zip((first, second), keys, strict=True)
    ]
    return kept[0], kept[1]
