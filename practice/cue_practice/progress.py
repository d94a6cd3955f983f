"""Progress: what each evening showed, where it is going, and what a long evening does.

Series for the page on progress. An evening's own interval says how sure that evening is; a trend
allows for evenings that differ for reasons of their own.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import betaincinv, chdtri, stdtrit

from cue_practice.control import Measure
from cue_practice.evening_sums import (
    Counts,
    Squares,
    pace_squares,
    potted_counts,
    right_counts,
    sideways_squares,
    slowing_counts,
    without_group,
)
from cue_practice.likelihood import FloatArray, IntArray
from cue_practice.played import PlayedShots
from cue_practice.trend_over import Trend, trend

if TYPE_CHECKING:
    import pandas

_SIDES = (0.05, 0.95)
_FEWEST_FOR_DRIFT = 8
_LEAST_DRIFT_S = 600.0


@dataclass(frozen=True)
class Evening:
    """What one evening showed; each with its 90 % interval, None where it cannot tell.

    Parameters
    ----------
    number : int
        From 0, the oldest.
    started_utc, ended_utc : datetime
        First and last shot.
    n_shots : int
        Shots that are not discarded and broke no rule.
    pace_spread : Measure or None
        Standard deviation of pace within series to a called pace, as a share, measuring
        uncertainty taken out.
    pace_offset : Measure or None
        How far above the called pace on average, as a share.
    pace_drift_per_hour : Measure or None
        Change of pace over called pace in an hour of this evening, as a share.
    sideways_m : Measure or None
        Root mean square of the tip's place beside its line at the hit, measuring uncertainty
        taken out.
    slowing, right, potted : Measure or None
        Shares of strokes that surely slowed into the ball, of right results, of balls potted.
    """

    number: int
    started_utc: datetime
    ended_utc: datetime
    n_shots: int
    pace_spread: Measure | None = None
    pace_offset: Measure | None = None
    pace_drift_per_hour: Measure | None = None
    sideways_m: Measure | None = None
    slowing: Measure | None = None
    right: Measure | None = None
    potted: Measure | None = None


def evenings(shots: PlayedShots, names: Collection[str] | None = None) -> list[Evening]:
    """Return what each evening showed, the oldest first.

    Parameters
    ----------
    shots : PlayedShots
        Of one player, from :meth:`cue_practice.log.PracticeLog.played_shots`.
    names : collection of str, optional
        Only these measures, the others being None; all if not given.

    Returns
    -------
    list of Evening
        Intervals are those of normal theory for spreads and means, Jeffreys' for shares.
    """
    wanted = MEASURE_NAMES if names is None else names
    measures = {name: _sizes(of(shots)) for name, of in _SIZES.items() if name in wanted}
    measures |= {name: _shares(of(shots)) for name, of in _SHARES.items() if name in wanted}
    within = {name: of for name, of in _WITHIN.items() if name in wanted}
    return [_evening(number, own, measures, within) for number, own in shots.by_evening()]


def progress_frame(found: Sequence[Evening]) -> "pandas.DataFrame":
    """Return evenings as a pandas frame with units in the column names.

    Parameters
    ----------
    found : sequence of Evening
        From :func:`evenings`.

    Returns
    -------
    pandas.DataFrame
        Each measure as three columns, its name with ``_low`` and ``_high`` for the interval.
    """
    import pandas as pd  # slow to import and seldom needed

    rows = []
    for one in found:
        row: dict[str, object] = {
            "evening": one.number,
            "started_utc": one.started_utc,
            "ended_utc": one.ended_utc,
            "n_shots": one.n_shots,
        }
        for name in MEASURE_NAMES:
            measure = getattr(one, name)
            key, unit = (name[:-2], "_m") if name.endswith("_m") else (name, "_share")
            for end, column in (("value", ""), ("low", "_low"), ("high", "_high")):
                value = np.nan if measure is None else getattr(measure, end)
                row[f"{key}{column}{unit}"] = value
        rows.append(row)
    return pd.DataFrame(rows)


MEASURE_NAMES = tuple(one.name for one in fields(Evening) if one.name not in {
    "number", "started_utc", "ended_utc", "n_shots",
})  # fmt: skip
"""Names of the measures an evening has."""


def trends(shots: PlayedShots, names: Collection[str] | None = None) -> dict[str, Trend]:
    """Return where each quantity is going over the evenings.

    Parameters
    ----------
    shots : PlayedShots
        Of one player.
    names : collection of str, optional
        Only these; all if not given.

    Returns
    -------
    dict of str to Trend
        ``pace_spread``, ``sideways_m``, ``slowing``, ``right`` and ``potted``, each only where
        at least three evenings tell.
    """
    start_s = shots.struck_s[np.unique(shots.evening, return_index=True)[1]]
    day = (start_s - start_s[0]) / 86_400.0 if len(start_s) else start_s
    of_shots: dict[str, Callable[[PlayedShots], Squares | Counts]] = {**_SIZES, **_SHARES}
    parts = {name: of(shots) for name, of in of_shots.items() if names is None or name in names}
    known = np.unique(shots.evening)
    found = {
        name: trend(name, part, day[np.searchsorted(known, part.evening)])
        for name, part in parts.items()
    }
    return {name: one for name, one in found.items() if one is not None}


def _evening(
    number: int,
    own: PlayedShots,
    measures: dict[str, dict[int, Measure]],
    within: Mapping[str, Callable[[PlayedShots], Measure | None]],
) -> Evening:
    """Return one evening."""
    told = {name: found.get(number) for name, found in measures.items()}
    told |= {name: of(own) for name, of in within.items()}
    return Evening(
        number=number,
        started_utc=datetime.fromtimestamp(float(own.struck_s[0]), UTC),
        ended_utc=datetime.fromtimestamp(float(own.struck_s[-1]), UTC),
        n_shots=len(own),
        **told,
    )


def _sizes(found: Squares) -> dict[int, Measure]:
    """Return the size of what scatters, by evening, by the chi-squared distribution."""
    degrees = found.degrees
    # chdtri counts from above
    ends = np.stack([degrees, chdtri(degrees, _SIDES[0]), chdtri(degrees, _SIDES[1])])
    sizes = np.sqrt(np.maximum(found.square / ends - found.measuring, 0.0))
    return _measures(found.evening, sizes)


def _shares(found: Counts) -> dict[int, Measure]:
    """Return shares of shots by evening, with Jeffreys' intervals."""
    yes, no = found.n_true + 0.5, found.n - found.n_true + 0.5
    low, high = (betaincinv(yes, no, side) for side in _SIDES)
    share = found.n_true / found.n
    ends = np.stack([share, np.minimum(low, share), np.maximum(high, share)])
    return _measures(found.evening, ends)


def _measures(evening: IntArray, ends: FloatArray) -> dict[int, Measure]:
    """Return values, lower and upper ends, one column an evening, as measures."""
    return {
        number: Measure(*column)
        for number, column in zip(evening.tolist(), ends.T.tolist(), strict=True)
    }


def _offset(own: PlayedShots) -> Measure | None:
    """Return the mean of pace over called pace, less 1."""
    off = own.pace_off_log[np.isfinite(own.pace_off_log)]
    if len(off) < 2:
        return None
    mean = float(off.mean())
    reach = float(stdtrit(len(off) - 1, _SIDES[1]) * off.std(ddof=1) / np.sqrt(len(off)))
    return Measure(mean, mean - reach, mean + reach)


def _drift(own: PlayedShots) -> Measure | None:
    """Return the slope of pace over the evening's hours, every called pace about its own mean."""
    known = np.isfinite(own.pace_off_log)
    if known.sum() < _FEWEST_FOR_DRIFT or np.ptp(own.struck_s[known]) < _LEAST_DRIFT_S:
        return None
    calls, group = np.unique(np.round(own.called_m_s[known], 3), return_inverse=True)
    hours = without_group(own.struck_s[known] / 3600.0, group.astype(np.int64))
    off = without_group(own.pace_off_log[known], group.astype(np.int64))
    return _slope(hours, off, int(known.sum()) - len(calls) - 1)


def _slope(x: FloatArray, y: FloatArray, degrees: int) -> Measure | None:
    """Return a slope through nought with its interval."""
    if degrees < 2 or not np.any(np.abs(x) > 1e-9):
        return None
    slope = float(x @ y / (x @ x))
    error = float(np.sqrt(np.sum((y - slope * x) ** 2) / degrees / (x @ x)))
    reach = float(stdtrit(degrees, _SIDES[1])) * error
    return Measure(slope, slope - reach, slope + reach)


_SIZES = {"pace_spread": pace_squares, "sideways_m": sideways_squares}
_SHARES = {"slowing": slowing_counts, "right": right_counts, "potted": potted_counts}
_WITHIN = {"pace_offset": _offset, "pace_drift_per_hour": _drift}
"""What is told of all evenings at once, and what of each by itself."""
