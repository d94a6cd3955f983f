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

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.drift import ADDRESS_GAP_M, ADDRESS_GAP_SD_M, AfterHit
from cue_signal.integrals import running_integral
from cue_signal.rest import PIECE_S, Rest
from cue_signal.strapdown import LEAK_TRAVEL_M, REST_SPEED_SD_M_S, Path
from cue_signal.windows import Window

MOST_RESTS = 5
"""Only this many quiet stretches before the hit are judged together."""
PAUSE_SPEED_SD_M_S = 0.02
"""A cue paused at the rear creeps, and a slow start of the delivery is as quiet as the pause."""
MOVING_SPEED_SD_M_S = 0.2
ELSEWHERE_M = 0.15
ELSEWHERE_SD_M = 0.12
"""A steady movement's speed, and how far from the ball a cue is that is not at it."""
START_SPEED_SD_M_S = 0.3
TOUCH_PERIODS = 1.0
MOVING_LOG_ODDS = -0.5
MOVING_LOG_ODDS_PER_S = -6.0
REAR_LOG_ODDS = -0.5
ELSEWHERE_LOG_ODDS = -3.0
NEVER_AT_BALL_LOG_ODDS = -2.0
"""Prior odds against being still at the ball: steady movement does not last, and a pause away
from the ball comes at the rear, just before the delivery."""
REAR_WITHIN_S = 1.0
NO_RESTS_SCORE = -12.0
"""Score of knowing nothing: an account that fits worse than this is not believed."""

_AT_BALL, _ELSEWHERE, _MOVING = 0, 1, 2
SPEED_SDS_M_S = (REST_SPEED_SD_M_S, PAUSE_SPEED_SD_M_S, MOVING_SPEED_SD_M_S)
"""Of a stretch's mean speed, by what it was."""


@dataclass(frozen=True)
class Standing:
    """The stretches in which the cue was still, the last with the tip at the ball, and the score.

    ``speed_sd_m_s`` says for each stretch how still it was.
    The score is the log probability of the account, up to a constant; the spread is how far the
    other accounts, by their weights, put the speed at the hit.
    """

    still: list[Rest]
    speed_sd_m_s: list[float]
    address: Rest | None
    score: float
    speed_spread_m_s: float


@dataclass(frozen=True, eq=False)
class _Seen:
    """What the raw integrals give, and what one standard deviation of each drift adds to it.

    First the speeds in pieces of the rests, ``owner`` saying of which rest, then the ways.
    """

    values: FloatArray
    drift: FloatArray
    owner: IntArray
    speed_m_s: float
    speed_drift: FloatArray


def judge_rests(
    window: Window,
    path: Path,
    rests: list[Rest],
    hit_index: int,
    *,
    ahead_s: float,
    after: AfterHit | None,
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
    after : AfterHit or None
        What the rest after the follow-through tells of the speed at the hit.

    Returns
    -------
    Standing
        Possibly empty.
    """
    rests = rests[-MOST_RESTS:]
    if not rests:
        return Standing([], [], None, NO_RESTS_SCORE, 0.0)
    seen = _predictions(window, path, rests, hit_index, ahead_s, after)
    states = np.array(list(product((_AT_BALL, _ELSEWHERE, _MOVING), repeat=len(rests))))
    evidence, speed = _log_evidence(seen, states, after)
    score = evidence + _log_prior(window, rests, states, hit_index)
    most = int(np.argmax(score))
    weight = np.exp(score - score[most])
    spread = np.sqrt(np.average((speed - speed[most]) ** 2, weights=weight))
    best = states[most]
    still = [rest for rest, state in zip(rests, best, strict=True) if state != _MOVING]
    speed_sd = [SPEED_SDS_M_S[state] for state in best if state != _MOVING]
    at_ball = [rest for rest, state in zip(rests, best, strict=True) if state == _AT_BALL]
    address = at_ball[-1] if at_ball else None
    return Standing(still, speed_sd, address, float(score[most]), float(spread))


def _predictions(
    window: Window,
    path: Path,
    rests: list[Rest],
    hit_index: int,
    ahead_s: float,
    after: AfterHit | None,
) -> _Seen:
    """Return what the integrals give, and what drift may add to it.

    Raw speeds at the rests, ways from the rests to the hit, and the balance of the speeds before
    and after the hit where that is known.
    """
    stop = hit_index + 1 if after is None else after.rest.stop
    time_s = window.time_s[:stop]
    shapes, sizes = _drift_shapes(window, path, rests, stop, hit_index)
    shapes[: rests[0].start] = 0.0
    speed = running_integral(shapes, time_s)
    speed[:, 1] = 1.0
    speed[:, 0] -= speed[rests[0].start : rests[0].stop, 0].mean()
    way = running_integral(speed, time_s)
    way_at_hit = way[hit_index] + speed[hit_index] * ahead_s
    pieces = [rest.pieces(window.n_samples(PIECE_S)) for rest in rests]
    rows = [speed[piece].mean(axis=0) for of_rest in pieces for piece in of_rest]
    owner = np.repeat(np.arange(len(rests)), [len(of_rest) for of_rest in pieces])
    n_speeds = len(rows)
    rows += [way_at_hit - way[rest.start : rest.stop].mean(axis=0) for rest in rests]
    if after is not None:
        balance = after.row(speed, hit_index)
        balance[0] += after.constant_m_s()
        rows.append(balance)
    rows.append(speed[hit_index])
    seen = np.array(rows)
    # the touch is only known to a sample or so as yet: all ways share that
    late = np.zeros(len(seen))
    late[n_speeds : n_speeds + len(rests)] = TOUCH_PERIODS * window.period_s * abs(seen[-1, 0])
    drift = np.column_stack([seen[:, 1:] * sizes, late])
    return _Seen(seen[:-1, 0], drift[:-1], owner, float(seen[-1, 0]), drift[-1])


def _drift_shapes(
    window: Window, path: Path, rests: list[Rest], stop: int, hit_index: int
) -> tuple[FloatArray, FloatArray]:
    """Return axial acceleration and what may lie on it, shape (stop, q), and the sizes of that."""
    time_s = window.time_s[:stop]
    reference = path.reference
    middle = hit_index if reference is None else (reference.start + reference.stop) // 2
    axial = path.axial_m_s2[:stop]
    columns = [axial, np.zeros(stop), np.ones(stop), time_s - time_s[middle]]
    sizes = [START_SPEED_SD_M_S, path.gravity_sd_m_s2, path.drift_sd_m_s3]
    if path.turn_rad is None:
        still = rests[0] if reference is None else reference
        speed = running_integral(axial, time_s)
        way = running_integral(speed - speed[still.start : still.stop].mean(), time_s)
        way = np.clip(way - way[middle], -0.4, 0.4) / LEAK_TRAVEL_M
        columns += [way, way**2]
        sizes += [path.leak.slope_sd_m_s2, path.leak.curve_sd_m_s2]
    return np.column_stack(columns), np.array(sizes)


def _log_evidence(
    seen: _Seen, states: np.ndarray, after: AfterHit | None
) -> tuple[FloatArray, FloatArray]:
    """Return log probability of what was seen, and the speed at the hit, for each combination."""
    speed_sd = np.array(SPEED_SDS_M_S)
    way_mean = np.array([ADDRESS_GAP_M, ELSEWHERE_M, ELSEWHERE_M])
    way_sd = np.array([ADDRESS_GAP_SD_M, ELSEWHERE_SD_M, ELSEWHERE_SD_M])
    sd = np.hstack([speed_sd[states[:, seen.owner]], way_sd[states]])
    expected = np.hstack([0.0 * states[:, seen.owner], way_mean[states]])
    if after is not None:
        sd = np.hstack([sd, np.full((len(states), 1), after.sd_m_s)])
        expected = np.hstack([expected, np.zeros((len(states), 1))])
    residual = seen.values - expected
    covariance = seen.drift @ seen.drift.T + sd[:, :, None] * sd[:, None, :] * np.eye(sd.shape[1])
    weighted = np.linalg.solve(covariance, residual[:, :, None])[:, :, 0]
    score = -0.5 * (np.sum(residual * weighted, axis=1) + np.linalg.slogdet(covariance)[1])
    speed = seen.speed_m_s - (weighted @ seen.drift) @ seen.speed_drift
    return np.asarray(score, dtype=np.float64), np.asarray(speed, dtype=np.float64)


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
