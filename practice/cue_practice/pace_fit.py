"""Fit of an ordered result on log pace: an exact posterior on a small grid that finds its place.

The model is ordered probit regression with the band's two edges as cut points,

    P(too little) = Phi((centre - half_width - x) / s),
    P(too much)   = Phi((x - centre - half_width) / s),

x the natural logarithm of pace and s the scatter. A pace known only to within sd adds to the
scatter, s_i^2 = scatter^2 + sd_i^2 (probit with an error in the regressor, Carroll, Ruppert,
Stefanski and Crainiceanu, Measurement Error in Nonlinear Models, 2nd ed., 2006, chapter 4, from
memory). A small share of shots, the lapses, say nothing about pace (Wichmann and Hill, Perception
& Psychophysics 63, 1293, 2001, from memory).

Where the white is known to have gone beyond the middle of the band by an offset z, that offset and
the grade speak of one and the same thing, the pace y as the white took it, which is x plus scatter:
z is y less the centre, to within its own error, and the grade says on which side of the edges y
lies. Both are normal at each node, so their joint likelihood is a closed form too, once the error
that all offsets share is known; :mod:`cue_practice.placed` integrates over it.

Many shots leave a place so small that their log likelihood is all but a parabola across it. There
it is asked at few nodes, those of Chebyshev, and the polynomial through them gives the rest (any
textbook of approximation, for example Trefethen, Approximation Theory and Approximation Practice,
2013, chapters 2 and 8, from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev
from scipy.interpolate import PchipInterpolator
from scipy.special import ndtr

from cue_practice.likelihood import FloatArray, IntArray, ShotGroup, gathered, log_likelihood
from cue_practice.placed import PlacedShots, SplitShots, log_placed, split
from cue_practice.prior import PacePrior

LAPSE = 0.03
"""Share of shots whose result has nothing to do with pace; Wichmann and Hill allow up to 0.06."""

TAIL_DOF = 5.0
"""Degrees of freedom of the Student-t prior on the centre: its tails let results overrule it."""

_Shape = tuple[int, int, int]
_Box = list[tuple[float, float]]

_FIRST: _Shape = (23, 9, 7)
_COARSE: _Shape = (15, 9, 7)
_FINE: _Shape = (29, 11, 11)
"""Nodes along centre, half width and scatter. The sums converge with the grid as those of a
trapezoidal rule on a bell curve do, far below a per mille at one node a standard deviation."""

_SMOOTH: _Shape = (9, 7, 7)
"""Nodes of the polynomial that stands for the likelihood on a fine grid that is small."""

_SMALL_SCATTERS = 1.5
"""A fine grid is small where neither centre nor half width reaches over more scatters than this;
the polynomial is then within 0.003 of the log likelihood of 1,000 shots (a test looks)."""

_MOST_PASSES = 6
_STILL_SHRINKING = 0.7
"""Another coarse pass follows while some side of the box became shorter than this share."""

_KEEP_LOG = 10.0
"""Nodes this far below the best in log probability (1 in 22,000) are outside of the grid."""

_COARSE_BINS = 16
_FINE_BINS = 48
"""Shots of one grade are drawn together into this many paces where there are more."""

_COARSE_PLACED = 16
"""Placed shots that are heard while the place is looked for: fewer say less, so it is wider."""

_PER_STEP = 16
"""Points between two nodes at which the curve of a quantile is asked."""

_REACH_SD = 3.2
_CENTRE_REACH_SD = 8.0  # the tails of its prior are heavy


@dataclass(frozen=True)
class FitSettings:
    """What the fit takes for granted.

    Parameters
    ----------
    lapse : float
        Share of shots that say nothing, 0 to below 1.
    """

    lapse: float = LAPSE

    def __post_init__(self) -> None:
        """Refuse a share that is none."""
        if not 0.0 <= self.lapse < 1.0:
            raise ValueError(f"lapse must lie within 0 and 1, got {self.lapse!r}")


@dataclass(frozen=True, eq=False)
class Posterior:
    """What is known after the shots: weighted nodes of the grid.

    Parameters
    ----------
    centre_log, half_width_log, scatter_log : ndarray, shape (n,)
        Middle of the band (natural logarithm of m/s), its half width, its blur.
    weight : ndarray, shape (n,)
        Sums to 1.
    settings : FitSettings
        As fitted.
    """

    centre_log: FloatArray
    half_width_log: FloatArray
    scatter_log: FloatArray
    weight: FloatArray
    settings: FitSettings

    def chances(self, log_pace: FloatArray, extra_sd_log: float = 0.0) -> tuple[FloatArray, ...]:
        """Return P(too little), P(right), P(too much), each of shape (n_pace, n).

        Parameters
        ----------
        log_pace : ndarray, shape (n_pace,)
            Natural logarithm of pace in m/s.
        extra_sd_log : float
            Spread of the paces about these, as a share.
        """
        scatter = np.hypot(self.scatter_log, extra_sd_log)
        x = np.asarray(log_pace)[:, np.newaxis]
        little = ndtr((self.centre_log - self.half_width_log - x) / scatter)
        much = ndtr((x - self.centre_log - self.half_width_log) / scatter)
        lapse = self.settings.lapse
        both = (little * (1.0 - lapse) + lapse / 3.0, much * (1.0 - lapse) + lapse / 3.0)
        return both[0], 1.0 - both[0] - both[1], both[1]

    def quantile(self, values: FloatArray, shares: tuple[float, ...]) -> FloatArray:
        """Return quantiles of a quantity with one value a node, smooth between the nodes."""
        where, index = np.unique(np.round(values, 12), return_inverse=True)
        mass = np.bincount(index, weights=self.weight)
        if len(where) == 1:
            return np.repeat(where, len(shares))
        edges = np.concatenate([[where[0]], (where[1:] + where[:-1]) / 2.0, [where[-1]]])
        found = np.interp(shares, np.concatenate([[0.0], np.cumsum(mass)]), edges)
        return np.asarray(found, dtype=np.float64)

    def centre_quantiles(self, shares: tuple[float, ...]) -> FloatArray:
        """Return quantiles of the centre, true to a hundredth of its standard deviation."""
        return self.even_quantiles(self.centre_log, shares)

    def even_quantiles(self, values: FloatArray, shares: tuple[float, ...]) -> FloatArray:
        """Return quantiles of a quantity whose nodes stand at even distances along the grid.

        The mass up to halfway between two nodes is the sum of those below, put right by the next
        term of the midpoint rule (Abramowitz and Stegun, 25.4.2, from memory); a monotone curve
        joins these.
        """
        where, index = np.unique(np.round(values, 12), return_inverse=True)
        mass = np.bincount(index, weights=self.weight)
        step = where[1] - where[0]
        edges = np.append(where - step / 2.0, where[-1] + step / 2.0)
        below = np.concatenate([[0.0], np.cumsum(mass)])
        below[1:-1] += np.diff(mass) / 24.0
        close = np.linspace(edges[0], edges[-1], _PER_STEP * len(where) + 1)
        curve = PchipInterpolator(edges, np.maximum.accumulate(below))(close)
        return np.asarray(np.interp(shares, curve, close), dtype=np.float64)

    def thinned(self, n: int) -> "Posterior":
        """Return n nodes of equal weight, evenly drawn along the grid; no chance is involved."""
        places = (np.arange(n) + 0.5) / n
        chosen = np.searchsorted(np.cumsum(self.weight), places * self.weight.sum())
        chosen = np.minimum(chosen, len(self.weight) - 1)
        return Posterior(
            centre_log=self.centre_log[chosen],
            half_width_log=self.half_width_log[chosen],
            scatter_log=self.scatter_log[chosen],
            weight=np.full(n, 1.0 / n),
            settings=self.settings,
        )

    def pruned(self, share: float) -> "Posterior":
        """Return the weightiest nodes that together hold this share, weights made 1 again."""
        order = np.argsort(self.weight)[::-1]
        n = int(np.searchsorted(np.cumsum(self.weight[order]), share)) + 1
        keep = np.sort(order[:n])
        return Posterior(
            centre_log=self.centre_log[keep],
            half_width_log=self.half_width_log[keep],
            scatter_log=self.scatter_log[keep],
            weight=self.weight[keep] / self.weight[keep].sum(),
            settings=self.settings,
        )


def fit(
    log_pace: FloatArray,
    result: IntArray,
    *,
    sd_log: FloatArray,
    prior: PacePrior,
    offset_log: FloatArray | None = None,
    offset_sd_log: FloatArray | None = None,
    settings: FitSettings | None = None,
) -> Posterior:
    """Return the posterior of the right band.

    Parameters
    ----------
    log_pace : ndarray, shape (n,)
        Natural logarithm of each shot's pace in m/s.
    result : ndarray of int, shape (n,)
        -1 too little, 0 right, +1 too much.
    sd_log : ndarray, shape (n,)
        Standard uncertainty of each pace as a share of it.
    prior : PacePrior
        What was expected before.
    offset_log, offset_sd_log : ndarray, shape (n,), optional
        How far beyond the middle of the band each white went, as log pace, and its standard
        uncertainty, above 0; nan where that is not known.
    settings : FitSettings, optional
        What is taken for granted.

    Returns
    -------
    Posterior
        The same for any order of the shots.

    Notes
    -----
    A coarse grid narrows down where the probability lies until it narrows no more, then a finer one
    weighs it: many sure shots leave a small place.
    """
    settings = settings or FitSettings()
    shots = split(log_pace, result, sd_log, offset_log, offset_sd_log)
    axes = _axes(_place(log_pace, shots, prior, settings), _FINE)
    fine = _Heard(gathered(shots.without, _FINE_BINS), shots.placed)
    log_weight = _log_prior(axes, prior) + _fine_log_likelihood(axes, fine, settings.lapse)
    weight = np.exp(log_weight - log_weight.max()).ravel()
    centre, half_width, scatter = (part.ravel() for part in np.meshgrid(*axes, indexing="ij"))
    return Posterior(
        centre_log=centre,
        half_width_log=np.exp(half_width),
        scatter_log=np.exp(scatter),
        weight=weight / weight.sum(),
        settings=settings,
    )


@dataclass(frozen=True, eq=False)
class _Heard:
    """The shots a grid is weighed by."""

    groups: list[ShotGroup]
    placed: PlacedShots


def _place(
    log_pace: FloatArray, shots: SplitShots, prior: PacePrior, settings: FitSettings
) -> _Box:
    """Return the box in which the probability lies, by coarse grids that narrow it down."""
    heard = _Heard(gathered(shots.without, _COARSE_BINS), shots.placed.evenly(_COARSE_PLACED))
    box, shape = _first_box(log_pace, prior), _FIRST
    for _ in range(_MOST_PASSES):
        axes = _axes(box, shape)
        log_weight = _log_prior(axes, prior) + _log_likelihood(axes, heard, settings.lapse)
        before, box, shape = box, _narrowed(axes, log_weight), _COARSE
        if _shrink(before, box) > _STILL_SHRINKING:
            break
    return box


def _first_box(log_pace: FloatArray, prior: PacePrior) -> _Box:
    """Return where to look: all the prior allows, and wherever a shot was played."""
    centre = np.log(prior.centre_m_s)
    reach = _CENTRE_REACH_SD * prior.centre_sd_log
    low, high = centre - reach, centre + reach
    if len(log_pace):
        low, high = min(low, log_pace.min() - 0.3), max(high, log_pace.max() + 0.3)
    width, scatter = np.log(prior.half_width_log), np.log(prior.scatter_log)
    width_reach = _REACH_SD * prior.half_width_sd_log
    scatter_reach = _REACH_SD * prior.scatter_sd_log
    return [
        (float(low), float(high)),
        (float(width - width_reach), float(width + width_reach)),
        (float(scatter - scatter_reach), float(scatter + scatter_reach)),
    ]


def _axes(box: _Box, shape: _Shape) -> list[FloatArray]:
    """Return the nodes along each axis."""
    return [np.linspace(low, high, n) for (low, high), n in zip(box, shape, strict=True)]


def _narrowed(axes: list[FloatArray], log_weight: FloatArray) -> _Box:
    """Return the box around all nodes of weight, one step wider on every side."""
    where = np.nonzero(log_weight > log_weight.max() - _KEEP_LOG)
    box = []
    for axis, index in zip(axes, where, strict=True):
        first, last = max(index.min() - 1, 0), min(index.max() + 1, len(axis) - 1)
        box.append((float(axis[first]), float(axis[last])))
    return box


def _shrink(before: _Box, after: _Box) -> float:
    """Return the least share of its length that a side of the box has kept."""
    return min(
        (new[1] - new[0]) / (old[1] - old[0]) for old, new in zip(before, after, strict=True)
    )


def _log_prior(axes: list[FloatArray], prior: PacePrior) -> FloatArray:
    """Return the log prior at every node, up to a constant."""
    centre, log_width, log_scatter = np.meshgrid(*axes, indexing="ij", sparse=True)
    off = (centre - np.log(prior.centre_m_s)) / prior.centre_sd_log
    total = -(TAIL_DOF + 1.0) / 2.0 * np.log1p(off**2 / TAIL_DOF)
    total = total - _half_square(log_width, prior.half_width_log, prior.half_width_sd_log)
    total = total - _half_square(log_scatter, prior.scatter_log, prior.scatter_sd_log)
    return np.asarray(total)


def _log_likelihood(axes: list[FloatArray], heard: _Heard, lapse: float) -> FloatArray:
    """Return the log likelihood of all shots at every node."""
    centre, log_width, log_scatter = np.meshgrid(*axes, indexing="ij", sparse=True)
    half_width, square = np.exp(log_width), np.exp(2.0 * log_scatter)
    low, high = centre - half_width, centre + half_width
    total = np.zeros([len(axis) for axis in axes])
    for group in heard.groups:
        total += log_likelihood(group, low, high, square, lapse)
    total += log_placed(heard.placed, axes[0], np.exp(axes[1]), np.exp(2.0 * axes[2]), lapse)
    return total


def _fine_log_likelihood(axes: list[FloatArray], heard: _Heard, lapse: float) -> FloatArray:
    """Return the same, by a polynomial where the grid is small."""
    if not _is_small(axes):
        return _log_likelihood(axes, heard, lapse)
    turned = [chebyshev.chebpts1(n) for n in _SMOOTH]
    middles = [(axis[0] + axis[-1]) / 2.0 for axis in axes]
    reaches = [(axis[-1] - axis[0]) / 2.0 for axis in axes]
    few = [m + r * t for m, r, t in zip(middles, reaches, turned, strict=True)]
    found = _log_likelihood(few, heard, lapse)
    for axis, middle, reach, t in zip(axes, middles, reaches, turned, strict=True):
        rows = np.linalg.solve(
            chebyshev.chebvander(t, len(t) - 1).T,
            chebyshev.chebvander((axis - middle) / reach, len(t) - 1).T,
        )
        found = np.tensordot(found, rows, axes=(0, 0))  # the axis done goes to the end
    return found


def _is_small(axes: list[FloatArray]) -> bool:
    """Return whether centre and half width reach over so few scatters that all is smooth."""
    reach = max(np.ptp(axes[0]), np.ptp(np.exp(axes[1])))
    return bool(reach <= _SMALL_SCATTERS * np.exp(axes[2][0]))


def _half_square(log_value: FloatArray, median: float, sd_log: float) -> FloatArray:
    """Return half the square of a standardised logarithm."""
    return np.asarray(((log_value - np.log(median)) / sd_log) ** 2 / 2.0)
