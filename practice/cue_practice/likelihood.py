"""How likely shots are at every node of the fit's grid; the model is that of the fit."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_TINY = 1e-300

_MOST_PLACED = 40
"""Shots of which the place counts as well; more would say no more, for what the map from pace to
place has wrong is common to all."""

SHAPE_SD_LOG = 0.04
"""What the model's map from pace to place may be wrong by, as pace, in all shots of a set-up alike;
see MODEL_SD_LOG."""

STRAY_SHARE = 0.1
"""Share of tapped places that say nothing about pace: the wrong cushion, a kiss on another ball.
An assumption of ours."""

_STRAY_DENSITY = 0.5
"""Density of such an offset: anywhere within a factor e of the right pace."""


@dataclass(frozen=True)
class PlacedShot:
    """One shot whose white is known to have gone a way beyond the middle of the band."""

    x: float
    variance: float
    result: int
    offset: float
    offset_variance: float


@dataclass(frozen=True, eq=False)
class SplitShots:
    """Shots with a grade alone, as three arrays, and those that are placed as well."""

    without: tuple[FloatArray, IntArray, FloatArray]
    placed: list[PlacedShot]


def split(
    log_pace: FloatArray,
    result: IntArray,
    sd_log: FloatArray,
    offset_log: FloatArray | None,
    offset_sd_log: FloatArray | None,
) -> SplitShots:
    """Return the shots by what is known of them; of many that are placed, some of every offset.

    An error that n shots have in common is, to what they say together, the same as n times its
    variance in each of them.

    Parameters
    ----------
    log_pace, result, sd_log, offset_log, offset_sd_log
        As :func:`cue_practice.pace_fit.fit` takes them.

    Returns
    -------
    SplitShots
        The same for any order of the shots.
    """
    if offset_log is None or offset_sd_log is None:
        return SplitShots((log_pace, result, sd_log), [])
    order = np.lexsort((offset_sd_log, log_pace, offset_log))  # no order of play
    known = order[np.isfinite(offset_log[order])]
    known = known[_even_places(len(known), _MOST_PLACED)]
    common = (len(known) - 1) * SHAPE_SD_LOG**2  # each has its own share in it already
    rest = np.ones(len(log_pace), dtype=np.bool_)
    rest[known] = False
    placed = [
        PlacedShot(
            x=float(log_pace[k]),
            variance=float(sd_log[k] ** 2),
            result=int(result[k]),
            offset=float(offset_log[k]),
            offset_variance=float(offset_sd_log[k] ** 2) + common,
        )
        for k in known
    ]
    return SplitShots((log_pace[rest], result[rest], sd_log[rest]), placed)


def evenly(placed: list[PlacedShot], n: int) -> list[PlacedShot]:
    """Return n placed shots of every offset, all of them where there are no more."""
    return [placed[k] for k in _even_places(len(placed), n)]


def _even_places(n_all: int, n: int) -> IntArray:
    """Return so many places of a row, evenly along it."""
    n = min(n, n_all)
    return ((np.arange(n) + 0.5) * n_all / max(n, 1)).astype(np.int64)


@dataclass(frozen=True, eq=False)
class ShotGroup:
    """Shots of one result, gathered: paces, variances and how many stand for each."""

    result: int
    x: FloatArray
    variance: FloatArray
    count: FloatArray


def gathered(shots: tuple[FloatArray, IntArray, FloatArray], n_bins: int) -> list[ShotGroup]:
    """Return the shots by result, many drawn together on evenly spaced paces.

    A shot between two of these paces counts in part for both, so that their mean stays its own.

    Parameters
    ----------
    shots : tuple of ndarray, each of shape (n,)
        Log paces, results, uncertainties of the log paces.
    n_bins : int
        A result with more shots than this is drawn together on so many paces.

    Returns
    -------
    list of ShotGroup
        One for each result there is.
    """
    log_pace, result, sd_log = shots
    groups = []
    for value in (-1, 0, 1):
        x, variance = log_pace[result == value], sd_log[result == value] ** 2
        count = np.ones_like(x)
        if len(x) > n_bins:
            x, variance, count = _on_even_paces(x, variance, n_bins)
        if len(x):
            groups.append(ShotGroup(value, x, variance, count))
    return groups


def _on_even_paces(
    x: FloatArray, variance: FloatArray, n_bins: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return evenly spaced paces, the mean variance at each and how many shots stand there."""
    places, step = np.linspace(x.min(), x.max(), n_bins, retstep=True)
    if step == 0.0:
        return x[:1], np.array([variance.mean()]), np.array([float(len(x))])
    low = np.minimum(((x - places[0]) / step).astype(np.int64), n_bins - 2)
    share = (x - places[low]) / step
    index = np.concatenate([low, low + 1])
    part = np.concatenate([1.0 - share, share])
    count = np.bincount(index, weights=part, minlength=n_bins).astype(np.float64)
    spread = np.bincount(index, weights=part * np.tile(variance, 2), minlength=n_bins)
    is_used = count > 0.0
    return places[is_used], spread[is_used] / count[is_used], count[is_used]


def log_likelihood(
    group: ShotGroup, low: FloatArray, high: FloatArray, square: FloatArray, lapse: float
) -> FloatArray:
    """Return the log likelihood of shots of one result at every node.

    Parameters
    ----------
    group : ShotGroup
        The shots.
    low, high : ndarray
        Edges of the right band at the nodes, as log pace.
    square : ndarray
        Square of the scatter at the nodes.
    lapse : float
        Share of shots that say nothing.

    Returns
    -------
    ndarray
        Of the grid's shape.
    """
    total = np.zeros(np.broadcast_shapes(low.shape, square.shape))
    for x, variance, count in zip(group.x, group.variance, group.count, strict=True):
        scatter = np.sqrt(square + variance)
        if group.result == 0:
            chance = ndtr((high - x) / scatter) - ndtr((low - x) / scatter)
        elif group.result < 0:
            chance = ndtr((low - x) / scatter)
        else:
            chance = ndtr((x - high) / scatter)
        chance *= 1.0 - lapse
        chance += lapse / 3.0
        total += count * np.log(np.maximum(chance, _TINY))
    return total


def log_placed(
    one: PlacedShot, centre: FloatArray, half_width: FloatArray, square: FloatArray, lapse: float
) -> FloatArray:
    """Return the log likelihood of grade and place of one shot at every node.

    Parameters
    ----------
    one : PlacedShot
        The shot.
    centre, half_width : ndarray
        Of the right band at the nodes, as log pace.
    square : ndarray
        Square of the scatter at the nodes.
    lapse : float
        Share of shots that say nothing.

    Returns
    -------
    ndarray
        Of the grid's shape.
    """
    scatter = square + one.variance
    both = scatter + one.offset_variance
    off = one.x - centre
    density = np.exp(-((one.offset - off) ** 2) / (2.0 * both)) / np.sqrt(2.0 * np.pi * both)
    where = (off * one.offset_variance + one.offset * scatter) / both
    spread = np.sqrt(scatter * one.offset_variance / both)
    told = (1.0 - STRAY_SHARE) * density * _chance(one.result, where, half_width, spread)
    stray = STRAY_SHARE * _STRAY_DENSITY * _chance(one.result, off, half_width, np.sqrt(scatter))
    total = (1.0 - lapse) * (told + stray) + lapse / 3.0 * _STRAY_DENSITY
    return np.asarray(np.log(np.maximum(total, _TINY)))


def _chance(
    result: int, where: FloatArray, half_width: FloatArray, spread: FloatArray
) -> FloatArray:
    """Return the probability of a result for a pace this far beyond the middle of the band."""
    if result < 0:
        return np.asarray(ndtr((-half_width - where) / spread))
    if result > 0:
        return np.asarray(ndtr((where - half_width) / spread))
    return np.asarray(ndtr((half_width - where) / spread) - ndtr((-half_width - where) / spread))
