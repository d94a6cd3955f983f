"""Shots whose white is known to have gone a way beyond the middle of the right band.

The table model turns a tapped place into that way, an offset in log pace. What its map has wrong,
it has wrong in all shots of a set-up alike: an error b that the offsets have in common, beside the
error that each has of its own. The likelihood is the integral over b, which is normal, of the
product over the shots. It is taken at each node by Gauss-Hermite quadrature about the place where
b is likely there (Naylor and Smith, Applied Statistics 31, 214, 1982, from memory).
"""

import math
from dataclasses import dataclass

import numpy as np

from cue_practice.likelihood import FloatArray, IntArray
from cue_signal.compiled import compiled

_MOST_PLACED = 40
"""Shots of which the place counts as well; more would say little more of the band's middle, for the
error that is common to all stays."""

SHAPE_SD_LOG = 0.04
"""What the model's map from pace to place may be wrong by, as pace, in all shots of a set-up alike;
see MODEL_SD_LOG."""

STRAY_SHARE = 0.1
"""Share of tapped places that say nothing about pace: the wrong cushion, a kiss on another ball.
An assumption of ours."""

_STRAY_DENSITY = 0.5
"""Density of such an offset: anywhere within a factor e of the right pace."""

_LEAST_OWN_VARIANCE = 1e-6
_KNOTS, _KNOT_WEIGHTS = np.polynomial.hermite.hermgauss(5)
_WIDER = 1.3
"""Knots lie this much wider than the normal parts of the shots ask for; lapses are not normal."""

_LEAST_CHANCE = 1e-150
_ROOT_HALF = math.sqrt(0.5)


@dataclass(frozen=True, eq=False)
class PlacedShots:
    """Shots with a grade and a place, each array of shape (n,).

    Parameters
    ----------
    x, variance : ndarray
        Natural logarithm of pace in m/s, and its variance.
    result : ndarray of int
        -1 too little, 0 right, +1 too much.
    offset, offset_variance : ndarray
        How far beyond the middle of the band the white went, as log pace, and the variance of the
        error that each has of its own.
    """

    x: FloatArray
    variance: FloatArray
    result: IntArray
    offset: FloatArray
    offset_variance: FloatArray

    def __len__(self) -> int:
        """Return how many."""
        return len(self.x)

    def evenly(self, n: int) -> "PlacedShots":
        """Return n of them along their order, all of them where there are no more."""
        at = _even_places(len(self), n)
        return PlacedShots(
            self.x[at], self.variance[at], self.result[at], self.offset[at],
            self.offset_variance[at],
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class SplitShots:
    """Shots with a grade alone, as three arrays, and those that are placed as well."""

    without: tuple[FloatArray, IntArray, FloatArray]
    placed: PlacedShots


def split(
    log_pace: FloatArray,
    result: IntArray,
    sd_log: FloatArray,
    offset_log: FloatArray | None,
    offset_sd_log: FloatArray | None,
) -> SplitShots:
    """Return the shots by what is known of them; of many that are placed, some of every offset.

    Parameters
    ----------
    log_pace, result, sd_log, offset_log, offset_sd_log
        As :func:`cue_practice.pace_fit.fit` takes them; the uncertainty of an offset holds its
        share of the common error.

    Returns
    -------
    SplitShots
        The same for any order of the shots.
    """
    offset = np.full(len(log_pace), np.nan) if offset_log is None else offset_log
    offset_sd = np.full(len(log_pace), np.nan) if offset_sd_log is None else offset_sd_log
    order = np.lexsort((offset_sd, log_pace, offset))  # no order of play
    known = order[np.isfinite(offset[order])]
    known = known[_even_places(len(known), _MOST_PLACED)]
    rest = np.ones(len(log_pace), dtype=np.bool_)
    rest[known] = False
    placed = PlacedShots(
        x=np.asarray(log_pace[known], dtype=np.float64),
        variance=np.asarray(sd_log[known] ** 2, dtype=np.float64),
        result=np.asarray(result[known], dtype=np.int64),
        offset=offset[known],
        offset_variance=np.maximum(offset_sd[known] ** 2 - SHAPE_SD_LOG**2, _LEAST_OWN_VARIANCE),
    )
    return SplitShots((log_pace[rest], result[rest], sd_log[rest]), placed)


def _even_places(n_all: int, n: int) -> IntArray:
    """Return so many places of a row, evenly along it."""
    n = min(n, n_all)
    return ((np.arange(n) + 0.5) * n_all / max(n, 1)).astype(np.int64)


def log_placed(
    shots: PlacedShots, centre: FloatArray, half_width: FloatArray, square: FloatArray, lapse: float
) -> FloatArray:
    """Return the log likelihood of grades and places of all shots together at every node.

    Parameters
    ----------
    shots : PlacedShots
        The shots.
    centre, half_width : ndarray, shapes (n_centre,), (n_width,)
        Of the right band along the grid, as log pace.
    square : ndarray, shape (n_scatter,)
        Square of the scatter along the grid.
    lapse : float
        Share of shots that say nothing.

    Returns
    -------
    ndarray, shape (n_centre, n_width, n_scatter)
        0 everywhere without a shot.
    """
    total = np.zeros((len(centre), len(half_width), len(square)))
    if len(shots):
        knot_logs = np.log(_KNOT_WEIGHTS) + _KNOTS**2 - math.log(SHAPE_SD_LOG * math.sqrt(math.tau))
        _add_up(
            shots.x, shots.variance, shots.result, shots.offset, shots.offset_variance,
            centre, half_width, square, lapse, float(np.median(shots.offset - shots.x)),
            _KNOTS, knot_logs, total,
        )  # fmt: skip
    return total


@compiled
def _add_up(
    x: FloatArray,
    variance: FloatArray,
    result: IntArray,
    offset: FloatArray,
    offset_variance: FloatArray,
    centre: FloatArray,
    half_width: FloatArray,
    square: FloatArray,
    lapse: float,
    usual: float,
    knots: FloatArray,
    knot_logs: FloatArray,
    total: FloatArray,
) -> None:
    """Add the log likelihood to every node; ``usual`` is the median of offset less pace."""
    n, own = len(x), 0.0
    for m in range(n):
        own += (variance[m] + offset_variance[m]) / n
    density, where, spread = np.empty(n), np.empty(n), np.empty(n)
    idle = np.empty((len(half_width), n))
    at_knot = np.empty((len(half_width), len(knots)))
    for i in range(len(centre)):
        for k in range(len(square)):
            for j in range(len(half_width)):
                for m in range(n):
                    blur = math.sqrt(square[k] + variance[m])
                    idle[j, m] = _idle(result[m], x[m] - centre[i], half_width[j], blur, lapse)
            # where the common error is likely, the shots' pace and place taken as normal
            together = (square[k] + own) / n
            seen = 1.0 / (1.0 / SHAPE_SD_LOG**2 + 1.0 / together)
            middle, reach = seen / together * (centre[i] + usual), _WIDER * math.sqrt(2.0 * seen)
            for q in range(len(knots)):
                error = middle + reach * knots[q]
                for m in range(n):
                    scatter, off = square[k] + variance[m], x[m] - centre[i]
                    both, gone = scatter + offset_variance[m], offset[m] - error
                    density[m] = math.exp(-((gone - off) ** 2) / (2.0 * both)) / math.sqrt(both)
                    where[m] = (off * offset_variance[m] + gone * scatter) / both
                    spread[m] = math.sqrt(scatter * offset_variance[m] / both)
                common = knot_logs[q] + math.log(reach) - error**2 / (2.0 * SHAPE_SD_LOG**2)
                for j in range(len(half_width)):
                    at_knot[j, q] = common + _log_product(
                        result, density, where, spread, idle[j], half_width[j], lapse
                    )
            for j in range(len(half_width)):
                total[i, j, k] += _log_of_sum(at_knot[j])


@compiled
def _log_product(
    result: IntArray,
    density: FloatArray,
    where: FloatArray,
    spread: FloatArray,
    idle: FloatArray,
    half_width: float,
    lapse: float,
) -> float:
    """Return the log likelihood of all shots with the common error known."""
    told_share = (1.0 - lapse) * (1.0 - STRAY_SHARE) / math.sqrt(math.tau)
    log, product = 0.0, 1.0
    for m in range(len(density)):
        told = density[m] * _chance(result[m], where[m], half_width, spread[m])
        product *= max(told_share * told + idle[m], _LEAST_CHANCE)
        if product < _LEAST_CHANCE:  # before it is too small for a number
            log, product = log + math.log(product), 1.0
    return log + math.log(product)


@compiled
def _idle(result: int, off: float, half_width: float, blur: float, lapse: float) -> float:
    """Return the part of a shot's likelihood to which its place does not speak."""
    stray = (1.0 - lapse) * STRAY_SHARE * _chance(result, off, half_width, blur)
    return (stray + lapse / 3.0) * _STRAY_DENSITY


@compiled
def _chance(result: int, where: float, half_width: float, spread: float) -> float:
    """Return the probability of a result for a pace this far beyond the middle of the band."""
    narrow = _ROOT_HALF / spread
    if result < 0:
        return 0.5 * math.erfc((where + half_width) * narrow)
    if result > 0:
        return 0.5 * math.erfc((half_width - where) * narrow)
    return 0.5 * (math.erf((half_width - where) * narrow) + math.erf((half_width + where) * narrow))


@compiled
def _log_of_sum(logs: FloatArray) -> float:
    """Return the logarithm of the sum of numbers given by their logarithms."""
    top: float = logs[0]
    total = 0.0
    for k in range(len(logs)):
        top = max(top, logs[k])
    for k in range(len(logs)):
        total += math.exp(logs[k] - top)
    return top + math.log(total)
