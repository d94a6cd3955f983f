"""Which quiet stretches before a hit were stillness, and in which the tip lay at the ball.

Quiet is not yet still: a backswing passes at a steady speed, and then an accelerometer sees
nothing. Each quiet stretch before the hit was one of three things: the cue still with the tip at
the ball; still elsewhere, as in the rear pause; or moving steadily. Every combination predicts
speeds and distances to the hit, which the integrals measure with known drift; the most probable
combination is taken.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.integrals import running_integral
from cue_signal.rest import Rest
from cue_signal.strapdown import ADDRESS_GAP_M, ADDRESS_GAP_SD_M, REST_SPEED_SD_M_S, Path
from cue_signal.windows import Window

MOST_RESTS = 5
"""Only this many quiet stretches before the hit are judged together."""
MOVING_SPEED_SD_M_S = 0.25
ELSEWHERE_M = 0.15
ELSEWHERE_SD_M = 0.12
"""A steady movement's speed, and how far from the ball a cue is that is not at it."""
START_SPEED_SD_M_S = 0.3
TOUCH_PERIODS = 1.0
REFERENCE_SD_M_S2 = 0.05
DRIFT_SD_M_S3 = 0.03
REFERENCE_TILT_SD_M_S2 = 0.15
DRIFT_TILT_SD_M_S3 = 0.12
"""Drift of the raw integrals, with and without a gyroscope, before anything is known."""
MOVING_LOG_ODDS = -1.5
MOVING_LOG_ODDS_PER_S = -6.0
REAR_LOG_ODDS = -0.5
ELSEWHERE_LOG_ODDS = -3.0
NEVER_AT_BALL_LOG_ODDS = -2.0
"""Prior odds against being still at the ball: steady movement does not last, and a pause away
from the ball comes at the rear, just before the delivery."""
REAR_WITHIN_S = 1.0

_AT_BALL, _ELSEWHERE, _MOVING = 0, 1, 2


@dataclass(frozen=True)
class Standing:
    """The stretches in which the cue was still, and the last with the tip at the ball."""

    still: list[Rest]
    address: Rest | None


def judge_rests(
    window: Window, path: Path, rests: list[Rest], hit_index: int, *, ahead_s: float
) -> Standing:
    """Return the most probable account of the quiet stretches before a hit.

    Parameters
    ----------
    window, path : Window, Path
        Samples and raw motion.
    rests : list of Rest
        Quiet stretches before the hit, in order.
    hit_index : int
        Last sample clear of the blow.
    ahead_s : float
        From there to the touch.

    Returns
    -------
    Standing
        Possibly empty.
    """
    rests = rests[-MOST_RESTS:]
    if not rests:
        return Standing([], None)
    observed, drift = _predictions(window, path, rests, hit_index, ahead_s)
    states = np.array(list(product((_AT_BALL, _ELSEWHERE, _MOVING), repeat=len(rests))))
    score = _log_evidence(observed, drift, states) + _log_prior(window, rests, states, hit_index)
    best = states[int(np.argmax(score))]
    still = [rest for rest, state in zip(rests, best, strict=True) if state != _MOVING]
    at_ball = [rest for rest, state in zip(rests, best, strict=True) if state == _AT_BALL]
    return Standing(still, at_ball[-1] if at_ball else None)


def _predictions(
    window: Window, path: Path, rests: list[Rest], hit_index: int, ahead_s: float
) -> tuple[FloatArray, FloatArray]:
    """Return raw speeds at the rests and ways from them to the hit, and the drift's covariance."""
    first = rests[0].start
    time_s = window.time_s[first : hit_index + 1]
    lag = time_s - (time_s[-1] if path.reference is None else _middle_s(window, path.reference))
    shapes = np.column_stack(
        [path.axial_m_s2[first : hit_index + 1], 0.0 * lag, 0.0 * lag + 1, lag]
    )
    speed = running_integral(shapes, time_s)
    speed[:, 1] = 1.0
    way = running_integral(speed, time_s)
    way_at_hit = way[-1] + speed[-1] * ahead_s
    spans = [slice(rest.start - first, rest.stop - first) for rest in rests]
    rows = np.array(
        [speed[span].mean(axis=0) for span in spans]
        + [way_at_hit - way[span].mean(axis=0) for span in spans]
    )
    rows_start = rows[0, 0]
    rows[:, 0] -= rows_start * rows[:, 1]  # count speed from the first stretch
    is_levelled = path.turn_rad is not None
    sizes = np.array(
        [
            START_SPEED_SD_M_S,
            REFERENCE_SD_M_S2 if is_levelled else REFERENCE_TILT_SD_M_S2,
            DRIFT_SD_M_S3 if is_levelled else DRIFT_TILT_SD_M_S3,
        ]
    )
    scaled = rows[:, 1:] * sizes
    covariance = scaled @ scaled.T
    # the touch is only known to a sample or so as yet: all ways share that
    late_m = TOUCH_PERIODS * window.period_s * abs(float(speed[-1, 0] - rows_start))
    covariance[len(rests) :, len(rests) :] += late_m**2
    return rows[:, 0], covariance


def _log_evidence(observed: FloatArray, drift: FloatArray, states: np.ndarray) -> FloatArray:
    """Return the log probability of what was seen for each combination of states."""
    speed_sd = np.array([REST_SPEED_SD_M_S, REST_SPEED_SD_M_S, MOVING_SPEED_SD_M_S])
    way_mean = np.array([ADDRESS_GAP_M, ELSEWHERE_M, ELSEWHERE_M])
    way_sd = np.array([ADDRESS_GAP_SD_M, ELSEWHERE_SD_M, ELSEWHERE_SD_M])
    sd = np.hstack([speed_sd[states], way_sd[states]])
    residual = observed - np.hstack([0.0 * way_mean[states], way_mean[states]])
    covariance = drift + sd[:, :, None] * sd[:, None, :] * np.eye(sd.shape[1])
    weighted = np.linalg.solve(covariance, residual[:, :, None])[:, :, 0]
    score: FloatArray = -0.5 * (
        np.sum(residual * weighted, axis=1) + np.linalg.slogdet(covariance)[1]
    )
    return score


def _log_prior(window: Window, rests: list[Rest], states: np.ndarray, hit_index: int) -> FloatArray:
    """Return the prior log odds of each combination."""
    duration_s = np.array([(rest.stop - rest.start) * window.period_s for rest in rests])
    before_s = window.time_s[hit_index] - np.array([window.time_s[r.stop - 1] for r in rests])
    moving = MOVING_LOG_ODDS + MOVING_LOG_ODDS_PER_S * np.maximum(duration_s - 0.15, 0.0)
    elsewhere = np.where(before_s < REAR_WITHIN_S, REAR_LOG_ODDS, ELSEWHERE_LOG_ODDS)
    score: FloatArray = np.where(states == _MOVING, moving, 0.0).sum(axis=1)
    score += np.where(states == _ELSEWHERE, elsewhere, 0.0).sum(axis=1)
    score += np.where(np.any(states == _AT_BALL, axis=1), 0.0, NEVER_AT_BALL_LOG_ODDS)
    return score


def _middle_s(window: Window, rest: Rest) -> float:
    """Return the middle of a rest."""
    return float(window.time_s[(rest.start + rest.stop) // 2])
