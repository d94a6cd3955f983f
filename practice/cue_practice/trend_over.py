"""Where something is going over the evenings: a line with evenings scattered about it."""

from dataclasses import dataclass

import numpy as np
from scipy.special import expit, ndtr

from cue_practice.control import Measure
from cue_practice.evening_means import Evenings, log_odds, log_spread
from cue_practice.evening_sums import Counts, Squares
from cue_practice.likelihood import FloatArray
from cue_practice.trade_words import probability_words

SURE = 0.95
"""From this probability on a direction is named."""

_FEWEST_EVENINGS = 3
_BETWEEN = {Squares: 0.2, Counts: 0.4}
_SLOPE_SD = 1.0
"""Doubt on the whole change, in the logarithm or the log odds: a factor of e either way."""
_N_SCATTERS = 60
_LEAST_SQUARE = 1e-8

_WORDS = {
    "pace_spread": ("the spread of pace", "smaller", "larger"),
    "sideways_m": ("the tip's way sideways", "smaller", "larger"),
    "slowing": ("slowing into the ball", "rarer", "more frequent"),
    "right": ("the right result", "rarer", "more frequent"),
    "potted": ("potting", "rarer", "more frequent"),
}


@dataclass(frozen=True)
class Trend:
    """Where something is going, from the first evening to the last.

    Parameters
    ----------
    first, last : float
        What the line gives for the first and the last evening: a share, or metres.
    change : Measure
        Last over first for what scatters, last less first for shares, with its 90 % interval.
    probability_rising : float
        That it truly grows.
    n_evenings : int
        Evenings that told.
    words : str
        In a sentence.
    """

    first: float
    last: float
    change: Measure
    probability_rising: float
    n_evenings: int
    words: str


def trend(name: str, part: Squares | Counts, day: FloatArray) -> Trend | None:
    """Return where a quantity is going.

    Parameters
    ----------
    name : str
        As in :func:`cue_practice.progress.trends`.
    part : Squares or Counts
        By evening.
    day : ndarray, shape (k,)
        When each evening was, in days.

    Returns
    -------
    Trend or None
        None below three evenings.
    """
    if len(day) < _FEWEST_EVENINGS or float(np.ptp(day)) <= 0.0:
        return None
    if isinstance(part, Squares):
        square = np.maximum(part.square, _LEAST_SQUARE * part.degrees)
        told, between_sd = log_spread(square, part.degrees), _BETWEEN[Squares]
    else:
        told, between_sd = log_odds(part.n_true, part.n), _BETWEEN[Counts]
    x = (day - day[0]) / np.ptp(day)
    middle, slope, slope_sd, rising = _line(told, x, between_sd)
    ends = (middle - slope * x.mean(), middle + slope * (1.0 - x.mean()))
    reach = 1.6449 * slope_sd
    if isinstance(part, Squares):
        first, last = (_size(end, part.measuring) for end in ends)
        change = Measure(*(float(np.exp(v)) for v in (slope, slope - reach, slope + reach)))
    else:
        first, last = (float(expit(end)) for end in ends)
        low, high = (float(expit(ends[0] + slope + side) - first) for side in (-reach, reach))
        change = Measure(last - first, low, high)
    return Trend(first, last, change, rising, len(day), _words(name, first, last, rising, len(day)))


def _line(told: Evenings, x: FloatArray, between_sd: float) -> tuple[float, float, float, float]:
    """Return level in the middle, slope, its standard deviation and P(slope > 0)."""
    scatter = np.linspace(0.0, 4.0 * between_sd, _N_SCATTERS)
    design = np.column_stack([np.ones(len(x)), x - x.mean()])
    prior = np.diag([1e-6, 1.0 / _SLOPE_SD**2])
    # all scatters at once, a row of evenings each
    weight = 1.0 / (told.sd**2 + scatter[:, np.newaxis] ** 2)
    precision = np.einsum("se,ei,ej->sij", weight, design, design, optimize=True) + prior
    covariance = np.linalg.inv(precision)
    mean = np.einsum("sij,sj->si", covariance, (weight * told.value) @ design)
    left = told.value - mean @ design.T
    evidence = np.log(weight).sum(axis=1) - np.linalg.slogdet(precision)[1]
    evidence -= (weight * left**2).sum(axis=1) + (mean**2 @ np.diag(prior))
    log_weight = (evidence - scatter**2 / between_sd**2) / 2.0
    (level, slope), variance = mean.T, covariance[:, 1, 1]
    share = np.exp(log_weight - log_weight.max())
    share[0] /= 2.0  # the half cell of the trapezoidal rule
    share /= share.sum()
    mean_slope = float(share @ slope)
    spread = float(np.sqrt(share @ (variance + (slope - mean_slope) ** 2)))
    rising = float(share @ ndtr(slope / np.sqrt(variance)))
    return float(share @ level), mean_slope, spread, rising


def _size(log_size: float, measuring: float) -> float:
    """Return a size with the measuring uncertainty taken out."""
    return float(np.sqrt(max(np.exp(2.0 * log_size) - measuring, 0.0)))


def _words(name: str, first: float, last: float, rising: float, n_evenings: int) -> str:
    """Return a trend in a sentence."""
    what, fewer, more = _WORDS[name]
    ends = _ends(name, first, last)
    sure = max(rising, 1.0 - rising)
    word = more if rising >= 0.5 else fewer
    shown = probability_words(sure)
    if sure < SURE:
        return (
            f"Over {n_evenings} evenings it cannot be told where {what} is going ({ends}; {shown} "
            f"for {word})."
        )
    return f"Over {n_evenings} evenings {what} became {word}, {ends}: {shown} sure."


def _ends(name: str, first: float, last: float) -> str:
    """Return the two ends of a line in words; ends that read the same are told as one."""
    factor, unit = (1e3, "mm") if name == "sideways_m" else (100.0, "%")
    digits = 1 if name in ("sideways_m", "pace_spread") else 0
    texts = [f"{factor * end:.{digits}f}" for end in (first, last)]
    if texts[0] == texts[1]:
        return f"about {texts[0]} {unit} all along"
    return f"from {texts[0]} to {texts[1]} {unit}"
