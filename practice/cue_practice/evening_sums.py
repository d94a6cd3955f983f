"""Shots added up by evening: squares for what scatters, counts for what happens or does not."""

from dataclasses import dataclass

import numpy as np

from cue_practice.likelihood import FloatArray
from cue_practice.played import BoolArray, IntArray, PlayedShots

EVENING_MEASURES = (
    "tip_speed_m_s",
    "tip_speed_sd_m_s",
    "tip_lateral_m",
    "tip_lateral_sd_m",
    "slowing_probability",
    "level_probability",
)
"""Measures of the strokes that the sums need."""


@dataclass(frozen=True, eq=False)
class Squares:
    """Sums of squares of something that scatters about nought, one for each evening that tells.

    Parameters
    ----------
    evening : ndarray of int, shape (k,)
        Which evening.
    square, degrees : ndarray, shape (k,)
        Sum of squares, and degrees of freedom in it, above 0.
    measuring : float
        Mean square of the measuring uncertainty in it.
    rest : ndarray, shape (n,)
        What was squared.
    """

    evening: IntArray
    square: FloatArray
    degrees: FloatArray
    measuring: float
    rest: FloatArray


@dataclass(frozen=True, eq=False)
class Counts:
    """How often something happened, one for each evening that tells.

    Parameters
    ----------
    evening : ndarray of int, shape (k,)
        Which evening.
    n_true, n : ndarray, shape (k,)
        How often, of how many shots.
    """

    evening: IntArray
    n_true: FloatArray
    n: FloatArray


def pace_squares(shots: PlayedShots) -> Squares:
    """Return the scatter of pace over called pace about the mean of each series."""
    known = np.isfinite(shots.pace_off_log)
    rest = without_group(shots.pace_off_log[known], shots.series_id[known])
    sd_log = (shots.measures["tip_speed_sd_m_s"] / shots.pace_m_s)[known]
    return _squares(rest, shots.evening[known], shots.series_id[known], sd_log)


def sideways_squares(shots: PlayedShots) -> Squares:
    """Return how far the tip met the ball beside the line it lay on, in metres."""
    aside = shots.measures["tip_lateral_m"]
    known = np.isfinite(aside)
    sd_m = shots.measures["tip_lateral_sd_m"][known]
    return _squares(aside[known], shots.evening[known], None, sd_m)


def slowing_counts(shots: PlayedShots) -> Counts:
    """Return how often the cue surely slowed into the ball."""
    return _counts(shots, shots.is_slowing)


def right_counts(shots: PlayedShots) -> Counts:
    """Return how often the result was right."""
    is_right = (shots.grade == 0.0).astype(np.float64)
    return _counts(shots, np.where(np.isnan(shots.grade), np.nan, is_right))


def potted_counts(shots: PlayedShots) -> Counts:
    """Return how often the object ball was potted."""
    return _counts(shots, shots.is_potted)


def without_group(values: FloatArray, group: IntArray) -> FloatArray:
    """Return values less the mean of their group."""
    _, place, count = np.unique(group, return_inverse=True, return_counts=True)
    return np.asarray(values - (np.bincount(place, weights=values) / count)[place])


def _squares(
    rest: FloatArray, evening: IntArray, series: IntArray | None, sd: FloatArray
) -> Squares:
    """Return the sums; a series' mean, where it was taken out, costs a degree of freedom."""
    evenings, place = np.unique(evening, return_inverse=True)
    square = np.bincount(place, weights=rest**2, minlength=len(evenings)).astype(np.float64)
    degrees = np.bincount(place, minlength=len(evenings)).astype(np.float64)
    if series is not None and len(series):
        # a pair as one number: numpy sorts numbers twenty times as fast as pairs
        span = int(series.max()) + 1
        pairs = np.unique(place * span + series)
        degrees -= np.bincount(pairs // span, minlength=len(evenings))
    tells: BoolArray = degrees > 0.0
    known = sd[np.isfinite(sd)]
    measuring = float(np.mean(known**2)) if len(known) else 0.0
    return Squares(evenings[tells], square[tells], degrees[tells], measuring, rest)


def _counts(shots: PlayedShots, value: FloatArray) -> Counts:
    """Return how often a value was 1."""
    known = np.isfinite(value)
    evenings, place = np.unique(shots.evening[known], return_inverse=True)
    n_true = np.bincount(place, weights=value[known], minlength=len(evenings)).astype(np.float64)
    n = np.bincount(place, minlength=len(evenings))
    return Counts(evenings, n_true, n.astype(np.float64))
