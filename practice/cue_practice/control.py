"""Is the pace under control? Spread about a called pace, drift in a series, days, a score.

All on the natural logarithm of pace over called pace, so 0.05 is 5 %. Intervals are those of
normal theory, which suit ten shots: chi-squared for a spread, Student's t for a drift (any
textbook, for example Montgomery and Runger, chapters 8 and 11, from memory). Measuring
uncertainty is taken out of every spread.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import datetime

import numpy as np
from scipy.stats import beta, chi2, t

from cue_practice.evening_sums import without_group
from cue_practice.likelihood import FloatArray, IntArray
from cue_practice.limits import FASTEST_M_S, SLOWEST_M_S
from cue_practice.played import evenings_of
from cue_practice.pooling import scatter_interval
from cue_practice.trade_words import shots_words

SURE = 0.9
_SIDES = ((1.0 - SURE) / 2.0, (1.0 + SURE) / 2.0)

DRIFT_SHOTS = 10
"""Drift is told over this many shots, or as many as the longest series has."""

_DAY_SCATTER = 0.05
"""How far whole days may lie apart beforehand; an assumption of ours."""

_NOTHING = 5e-4
_ROUNDING = 1e-9


@dataclass(frozen=True)
class CalledShot:
    """A shot to a called pace.

    Parameters
    ----------
    series_id : int
        Number in the log.
    struck_utc : datetime
        When.
    pace_m_s, pace_sd_m_s : float
        Tip speed and its standard uncertainty.
    called_m_s : float
        The pace to keep.
    """

    series_id: int
    struck_utc: datetime
    pace_m_s: float
    pace_sd_m_s: float
    called_m_s: float


@dataclass(frozen=True)
class Measure:
    """A quantity with its 90 % interval.

    Parameters
    ----------
    value, low, high : float
        Shares of the pace.
    """

    value: float
    low: float
    high: float


def measure_of(draws: FloatArray) -> Measure:
    """Return the median of equally likely values with its 90 % interval."""
    low, middle, high = np.quantile(draws, [_SIDES[0], 0.5, _SIDES[1]])
    return Measure(float(middle), float(low), float(high))


@dataclass(frozen=True)
class PaceControl:
    """How closely shots kept to their called pace.

    Parameters
    ----------
    n_shots, n_series, n_days : int
        What it rests on.
    n_left_out : int
        Shots with a pace that no stroke has.
    offset : Measure or None
        How far above the called pace on average, None below two shots.
    spread : Measure or None
        Standard deviation within a series, None below two shots in one.
    between_days : Measure or None
        Standard deviation of whole days about each other, None below two days; an evening that
        goes past midnight is one.
    drift : Measure or None
        Change of pace over ``drift_shots`` shots of a series, None below four shots in one.
    drift_shots : int
        Ten, or as many as the longest series has: what was not played is not told.
    degrees : int
        Degrees of freedom of the spread.
    measuring : float
        Part of the found spread that is measuring uncertainty, taken out above.
    words : tuple of str
        The same in sentences.
    """

    n_shots: int
    n_series: int
    n_days: int
    n_left_out: int
    offset: Measure | None
    spread: Measure | None
    between_days: Measure | None
    drift: Measure | None
    drift_shots: int
    degrees: int
    measuring: float
    words: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class CalledColumns:
    """Shots to a called pace as columns, n of them, named as in :class:`CalledShot`.

    Parameters
    ----------
    series_id : ndarray of int, shape (n,)
        Numbers in the log.
    struck_s : ndarray, shape (n,)
        When, in seconds since 1970 UTC.
    pace_m_s, pace_sd_m_s, called_m_s : ndarray, shape (n,)
        Tip speed, its standard uncertainty, and the pace to keep.
    """

    series_id: IntArray
    struck_s: FloatArray
    pace_m_s: FloatArray
    pace_sd_m_s: FloatArray
    called_m_s: FloatArray

    @classmethod
    def of(cls, shots: Sequence[CalledShot]) -> "CalledColumns":
        """Return shots as columns."""
        numbers = [
            (s.struck_utc.timestamp(), s.pace_m_s, s.pace_sd_m_s, s.called_m_s) for s in shots
        ]
        series_id = np.array([one.series_id for one in shots], dtype=np.int64)
        return cls(series_id, *np.array(numbers, dtype=np.float64).reshape(-1, 4).T)

    def __len__(self) -> int:
        """Return how many shots there are."""
        return len(self.series_id)

    def newest(self, n: int) -> "CalledColumns":
        """Return the last so many, those of one moment in the order they were given."""
        return self._taken(np.argsort(self.struck_s, kind="stable")[-n:])

    def that_count(self) -> "CalledColumns":
        """Return those with a pace that a stroke can have, by time and then by series."""
        order = np.lexsort((self.series_id, self.struck_s))
        pace = self.pace_m_s[order]
        return self._taken(order[(pace >= SLOWEST_M_S) & (pace <= FASTEST_M_S)])

    def _taken(self, places: IntArray) -> "CalledColumns":
        """Return the shots at some places."""
        return CalledColumns(*(getattr(self, one.name)[places] for one in fields(self)))


def pace_control(shots: Sequence[CalledShot] | CalledColumns) -> PaceControl:
    """Return how closely shots kept to their called pace.

    Parameters
    ----------
    shots : sequence of CalledShot, or CalledColumns
        In any order; every series in the order of its times.

    Returns
    -------
    PaceControl
        With None where too few shots tell nothing.
    """
    columns = shots if isinstance(shots, CalledColumns) else CalledColumns.of(shots)
    ordered = columns.that_count()
    off = np.log(ordered.pace_m_s / ordered.called_m_s)
    measuring = _measuring(ordered)
    series = ordered.series_id
    days = evenings_of(ordered.struck_s)
    square, degrees = _within(off, series)
    drift, drift_shots = _drift(off, series)
    found = PaceControl(
        n_shots=len(ordered),
        n_series=len(set(series.tolist())),
        n_days=len(np.unique(days)),
        n_left_out=len(shots) - len(ordered),
        offset=_offset(off),
        spread=_spread(square, degrees, measuring),
        between_days=_between_days(off, days),
        drift=drift,
        drift_shots=drift_shots,
        degrees=degrees,
        measuring=measuring,
    )
    return PaceControl(**{**vars(found), "words": _words(found)})


@dataclass(frozen=True)
class TrainingScore:
    """Running score of a series to a called pace.

    Parameters
    ----------
    n_shots, n_within : int
        Shots, and those within the tolerance.
    streak : int
        Shots within it in a row up to now.
    share : Measure or None
        Share within it with its 90 % interval, None without shots.
    """

    n_shots: int
    n_within: int
    streak: int
    share: Measure | None


def training_score(
    paces_m_s: Sequence[float], called_m_s: float, *, tolerance: float = 0.05
) -> TrainingScore:
    """Return how many shots kept to a called pace.

    Parameters
    ----------
    paces_m_s : sequence of float
        In the order they were played.
    called_m_s : float
        The pace to keep.
    tolerance : float
        As a share of it, above 0.

    Returns
    -------
    TrainingScore
        The interval is Jeffreys' (Brown, Cai and DasGupta, Statistical Science 16, 101, 2001, from
        memory).
    """
    if not (tolerance > 0.0 and called_m_s > 0.0):
        raise ValueError(
            f"tolerance and called_m_s must be above 0, got {tolerance!r}, {called_m_s!r}"
        )
    within = [abs(pace / called_m_s - 1.0) <= tolerance + _ROUNDING for pace in paces_m_s]
    n, k = len(within), sum(within)
    streak = next((i for i, is_in in enumerate(reversed(within)) if not is_in), n)
    if n == 0:
        return TrainingScore(0, 0, 0, None)
    low, high = (float(beta.ppf(side, k + 0.5, n - k + 0.5)) for side in _SIDES)
    return TrainingScore(n, k, streak, Measure(k / n, min(low, k / n), max(high, k / n)))


def _measuring(shots: CalledColumns) -> float:
    """Return the root mean square of the measuring uncertainty."""
    if not len(shots):
        return 0.0
    return math.sqrt(float(np.mean((shots.pace_sd_m_s / shots.pace_m_s) ** 2)))


def _within(off: FloatArray, series: IntArray) -> tuple[float, int]:
    """Return the sum of squares about the series' own means, and its degrees of freedom."""
    rest = without_group(off, series)
    return float(rest @ rest), len(off) - len(np.unique(series))


def _offset(off: FloatArray) -> Measure | None:
    """Return the mean and its interval."""
    if len(off) < 2:
        return None
    mean = float(off.mean())
    reach = float(t.ppf(_SIDES[1], len(off) - 1) * off.std(ddof=1) / math.sqrt(len(off)))
    return Measure(mean, mean - reach, mean + reach)


def _spread(square: float, degrees: int, measuring: float) -> Measure | None:
    """Return the spread and its interval, measuring uncertainty taken out."""
    if degrees < 1:
        return None
    variances = (
        square / degrees,
        square / chi2.ppf(_SIDES[1], degrees),
        square / chi2.ppf(_SIDES[0], degrees),
    )
    value, low, high = (math.sqrt(max(v - measuring**2, 0.0)) for v in variances)
    return Measure(value, low, high)


def _between_days(off: FloatArray, days: IntArray) -> Measure | None:
    """Return how far whole days lie apart, beyond what their few shots explain."""
    _, place, counts = np.unique(days, return_inverse=True, return_counts=True)
    tells = counts >= 2
    if tells.sum() < 2:
        return None
    squares = np.bincount(place, weights=without_group(off, days) ** 2)
    pooled = float(squares[tells].sum()) / float((counts[tells] - 1).sum())
    means = (np.bincount(place, weights=off) / counts)[tells]
    sds = np.sqrt(np.maximum(pooled, 1e-8) / counts[tells])
    return Measure(*scatter_interval(means, sds, between_sd=_DAY_SCATTER, sides=_SIDES))


def _drift(off: FloatArray, series: IntArray) -> tuple[Measure | None, int]:
    """Return the change over some shots, and over how many: one slope, series about their means."""
    if not len(series):
        return None, 0
    order = np.argsort(series, kind="stable")
    _, first, group = np.unique(series[order], return_index=True, return_inverse=True)
    place, n_series = np.arange(len(order)) - first[group], len(first)
    over = min(int(place.max()), DRIFT_SHOTS)
    steps = without_group(place.astype(np.float64), group)
    values = without_group(off[order], group)
    degrees = len(steps) - n_series - 1
    if degrees < 2 or not np.any(steps):
        return None, over
    slope = float(steps @ values / (steps @ steps))
    error = math.sqrt(float(np.sum((values - slope * steps) ** 2)) / degrees / (steps @ steps))
    reach = float(t.ppf(_SIDES[1], degrees)) * error
    return Measure(*(over * one for one in (slope, slope - reach, slope + reach))), over


def _words(found: PaceControl) -> tuple[str, ...]:
    """Return the sentences of a report on pace control."""
    odd = found.n_left_out
    left_out = (f"Left out: {shots_words(odd)} with a pace that no stroke has.",) if odd else ()
    if found.spread is None:
        return ("Fewer than two shots to one called pace: nothing can be told yet.", *left_out)
    said = [f"{shots_words(found.n_shots)} to a called pace: {_spread_words(found)}."]
    if found.offset is not None:
        said.append(_offset_words(found.offset))
    if found.drift is not None and (found.drift.low > 0 or found.drift.high < 0):
        word = "harder" if found.drift.value > 0 else "softer"
        said.append(
            f"{found.drift_shots} shots on in a series, the pace is "
            f"{abs(found.drift.value) * 100:.1f} % {word}."
        )
    if found.between_days is not None:
        said.append(f"Whole days lie apart by {_share(found.between_days)}.")
    return (*said, *left_out)


def _spread_words(found: PaceControl) -> str:
    """Return the spread, or that it is too small for the sensor."""
    if found.spread is None or found.spread.value >= _NOTHING:
        return "no spread" if found.spread is None else f"a spread of {_share(found.spread)}"
    if found.measuring < _NOTHING:
        return "all at the very same pace"
    return (
        "they lie so close together that their spread is lost in what the sensor itself scatters, "
        f"{found.measuring * 100:.1f} %"
    )


def _offset_words(offset: Measure) -> str:
    """Return how far from the called pace the mean is."""
    if abs(offset.value) < _NOTHING:
        return "On average just the pace that was called."
    word = "above" if offset.value >= 0 else "below"
    is_clear = offset.low > 0 or offset.high < 0
    return f"On average {abs(offset.value) * 100:.1f} % {word} the pace that was called" + (
        ", and surely so." if is_clear else "; chance alone could do that."
    )


def _share(measure: Measure) -> str:
    """Return a share with its interval."""
    low, high = measure.low * 100, measure.high * 100
    return f"{measure.value * 100:.1f} % (90 % sure: {low:.1f} to {high:.1f} %)"
