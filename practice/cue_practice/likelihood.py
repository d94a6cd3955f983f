"""How likely graded shots are at every node of the fit's grid; the model is that of the fit."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_TINY = 1e-300


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
