"""Figures of found strokes against true ones, and the aims they are held to."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from cue_bench.maker import StrokeTruth
from cue_signal.stroke import Stroke

MATCH_S = 0.1
"""A stroke found within this of a true one is that one."""
PLAIN_ACCEL_M_S2 = 1.0
"""The sign of the acceleration counts where its truth is beyond this."""
LEAST_OF_A_KIND = 5
"""Fewer strokes than this are no kind."""


@dataclass(frozen=True)
class Case:
    """What a stroke was measured with."""

    maker: str
    rate_hz: float
    accel_range_g: float
    has_gyroscope: bool
    is_axis_known: bool


@dataclass(frozen=True)
class Pair:
    """One true stroke and what was found of it."""

    truth: StrokeTruth
    found: Stroke | None
    case: Case | None = None

    @property
    def is_hard(self) -> bool:
        """Return whether the delivery itself was clipped or fell into a gap."""
        return self.truth.is_delivery_clipped or self.truth.has_gap_in_delivery


@dataclass(frozen=True)
class Score:
    """Figures of one row of the table; NaN where nothing was measured."""

    n_strokes: int
    recall: float
    precision: float
    speed_rms: float
    speed_inside: float
    sign_right: float
    accel_inside: float
    hit_time_ms: float
    lateral_rms_mm: float
    lateral_inside: float
    backswing_rms_mm: float
    rear_pause_ms: float


@dataclass(frozen=True)
class Aim:
    """What one figure has to reach: at least ``low`` and at most ``high``."""

    name: str
    value: Callable[[Score], float]
    low: float
    high: float
    digits: int


def pair_up(
    strokes: Sequence[Stroke], truth: Sequence[StrokeTruth], case: Case | None = None
) -> tuple[list[Pair], list[Stroke]]:
    """Return every true stroke with the nearest found one, and the found ones left over.

    Parameters
    ----------
    strokes : sequence of Stroke
        Found.
    truth : sequence of StrokeTruth
        What happened.
    case : Case, optional
        What the strokes were measured with.
    """
    left = list(strokes)
    pairs: list[Pair] = []
    for true in truth:
        near = [s for s in left if abs(s.impact_time_s - true.impact_time_s) < MATCH_S]
        best = min(near, key=lambda s: abs(s.impact_time_s - true.impact_time_s), default=None)
        if best is not None:
            left.remove(best)
        pairs.append(Pair(true, best, case))
    return pairs, left


def score(pairs: Sequence[Pair], n_false: int) -> Score:
    """Return the figures of some strokes.

    Parameters
    ----------
    pairs : sequence of Pair
        True strokes with what was found.
    n_false : int
        Number found where there was none.
    """
    found = [(p.truth, p.found) for p in pairs if p.found is not None]
    speed = np.array([s.tip_speed_m_s - t.tip_speed_m_s for t, s in found])
    accel = np.array([s.accel_at_hit_m_s2 - t.accel_at_hit_m_s2 for t, s in found])
    plain = [(t, s) for t, s in found if abs(t.accel_at_hit_m_s2) > PLAIN_ACCEL_M_S2]
    aside = [
        (1000.0 * (s.tip_lateral_m - t.tip_lateral_m), 1000.0 * s.tip_lateral_sd_m)
        for t, s in found
        if s.tip_lateral_m is not None and s.tip_lateral_sd_m is not None
    ]
    lateral = np.array([error for error, _ in aside])
    return Score(
        n_strokes=len(pairs),
        recall=len(found) / len(pairs) if pairs else np.nan,
        precision=len(found) / (len(found) + n_false) if found else np.nan,
        speed_rms=_rms(speed / np.array([t.tip_speed_m_s for t, _ in found])),
        speed_inside=_inside(speed, np.array([s.tip_speed_sd_m_s for _, s in found])),
        sign_right=_mean([t.accel_at_hit_m_s2 * s.accel_at_hit_m_s2 > 0.0 for t, s in plain]),
        accel_inside=_inside(accel, np.array([s.accel_at_hit_sd_m_s2 for _, s in found])),
        hit_time_ms=1000.0 * _rms(np.array([s.impact_time_s - t.impact_time_s for t, s in found])),
        lateral_rms_mm=_rms(lateral),
        lateral_inside=_inside(lateral, np.array([sd for _, sd in aside])),
        backswing_rms_mm=1000.0 * _rms(np.array([s.backswing_m - t.backswing_m for t, s in found])),
        rear_pause_ms=1000.0 * _rms(np.array([s.rear_pause_s - t.rear_pause_s for t, s in found])),
    )


def aims(*, has_gyroscope: bool, is_slow: bool) -> list[Aim]:
    """Return what has to be reached.

    Parameters
    ----------
    has_gyroscope : bool
        Whether the sensor has one.
    is_slow : bool
        Whether it gives less than 200 Hz.
    """
    recall = 0.99 if is_slow or not has_gyroscope else 0.995
    precision = (0.99 if is_slow else 0.995) if has_gyroscope else 0.98
    speed = (4.0 if is_slow else 2.0) if has_gyroscope else (4.0 if is_slow else 3.0)
    sign = 98.0 if has_gyroscope and not is_slow else 95.0
    both = [
        Aim("recall", lambda s: s.recall, recall, np.inf, 3),
        Aim("precision", lambda s: s.precision, precision, np.inf, 3),
        Aim("tip speed, RMS of relative error, %", lambda s: 100 * s.speed_rms, -np.inf, speed, 2),
        Aim("sign of acceleration at the hit, %", lambda s: 100 * s.sign_right, sign, np.inf, 1),
        Aim("speed inside one sd, %", lambda s: 100 * s.speed_inside, 60.0, 76.0, 0),
        Aim("acceleration inside one sd, %", lambda s: 100 * s.accel_inside, 60.0, 76.0, 0),
        Aim("backswing, mm", lambda s: s.backswing_rms_mm, -np.inf, 10.0, 1),
        Aim("rear pause, ms", lambda s: s.rear_pause_ms, -np.inf, 60.0, 0),
    ]
    if not is_slow:
        both.append(Aim("time of the hit, ms", lambda s: s.hit_time_ms, -np.inf, 2.0, 1))
    if has_gyroscope:
        aside = 2.5 if is_slow else 1.5
        both += [
            Aim("tip sideways at the hit, mm", lambda s: s.lateral_rms_mm, -np.inf, aside, 2),
            Aim("sideways inside one sd, %", lambda s: 100 * s.lateral_inside, 60.0, 76.0, 0),
        ]
    return both


KINDS: dict[str, Callable[[StrokeTruth], bool]] = {
    "soft, below 0.7 m/s": lambda t: t.tip_speed_m_s < 0.7,
    "firm, above 2.5 m/s": lambda t: t.tip_speed_m_s > 2.5,
    "slowing harder than 5 m/s^2": lambda t: t.accel_at_hit_m_s2 < -5.0,
    "gaining harder than 10 m/s^2": lambda t: t.accel_at_hit_m_s2 > 10.0,
    "no rest before the backswing": lambda t: not t.has_rest_before,
    "no pause at the rear": lambda t: t.rear_pause_s < 0.08,
    "delivery shorter than 0.2 s": lambda t: t.delivery_s < 0.2,
    "delivery longer than 0.6 s": lambda t: t.delivery_s > 0.6,
}
"""Kinds of stroke that may come out worse than others."""


def worst_kinds(pairs: Sequence[Pair], n_kinds: int = 3) -> list[tuple[str, int, float, float]]:
    """Return the kinds with the largest errors: name, strokes, recall, RMS of relative error.

    Parameters
    ----------
    pairs : sequence of Pair
        True strokes with what was found.
    n_kinds : int
        How many to return.
    """
    rows = []
    for name, is_kind in KINDS.items():
        of_kind = [pair for pair in pairs if is_kind(pair.truth)]
        if len(of_kind) >= LEAST_OF_A_KIND:
            figures = score(of_kind, 0)
            rows.append((name, len(of_kind), figures.recall, figures.speed_rms))
    return sorted(rows, key=lambda row: -row[3])[:n_kinds]


def _rms(values: np.ndarray) -> float:
    """Return the root mean square, NaN for nothing."""
    return float(np.sqrt(np.mean(values**2))) if len(values) else float("nan")


def _mean(values: Sequence[bool]) -> float:
    """Return the share that is true, NaN for nothing."""
    return float(np.mean(values)) if len(values) else float("nan")


def _inside(error: np.ndarray, sd: np.ndarray) -> float:
    """Return the share of errors within one standard uncertainty."""
    return float(np.mean(np.abs(error) < sd)) if len(error) else float("nan")
