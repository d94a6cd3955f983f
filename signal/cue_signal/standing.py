"""Which quiet stretches before a hit were stillness, and in which the tip lay at the ball.

Quiet is not yet still: a backswing passes at a steady speed, and then an accelerometer sees
nothing; a slow start of a backswing or a delivery is as quiet as the rest before it. So every
quiet stretch is cut into pieces, and each piece was one of four things: the cue still with the tip
at the ball; still elsewhere, as in the rear pause; moving steadily; or driven on by a steady
force, as amid a long feather. Each says what the
speed, the acceleration and the way to the ball were in that piece, and all of these are raw
integrals less the same few unknown terms of drift. The combinations are followed from piece to
piece, each with its own posterior of the drift, and the most probable is taken.
"""

from dataclasses import dataclass, replace

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.after import AfterHit
from cue_signal.drift import ADDRESS_GAP_M, ADDRESS_GAP_SD_M, still_accel_sd_m_s2
from cue_signal.gaps import gap_terms, steps
from cue_signal.integrals import means_over, running_integral
from cue_signal.reach import REACH_M, REACH_SD_M, moments_down
from cue_signal.rest import PIECE_S, Rest, ends_of
from cue_signal.standing_loops import carry_on, tell
from cue_signal.strapdown import LEAK_TRAVEL_M, REST_SPEED_SD_M_S, Path
from cue_signal.windows import Window

MOST_PIECES = 16
"""Only this many pieces before the hit are judged together."""
MOST_KEPT = 40
"""Combinations followed from one piece to the next."""
PAUSE_SPEED_SD_M_S = 0.02
"""A cue paused at the rear creeps, and a slow start of the delivery is as quiet as the pause."""
MOVING_SPEED_SD_M_S = 0.2
MOVING_ACCEL_SD_M_S2 = 0.2
DRIVEN_SPEED_SD_M_S = 0.5
DRIVEN_ACCEL_SD_M_S2 = 1.2
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
DRIVEN_LOG_ODDS = -1.0
DRIVEN_LOG_ODDS_PER_S = -8.0
"""Prior odds against being still at the ball: steady movement does not last, a steady push even
less, and a pause away from the ball comes at the rear, just before the delivery."""
TURN_LOG_ODDS = -2.0
"""Odds of starting or stopping to move within a quiet stretch."""
REAR_WITHIN_S = 1.0
USUAL_SPEED_M_S = 1.7
SPEED_LOG_SD = 0.6
"""Speeds at which cues meet balls: two in three from 0.9 to 3.1 m/s. Common practice, no source. It
weighs accounts against each other, not the speed that one of them gives."""
NO_RESTS_SCORE = -12.0
"""Score of knowing nothing: an account that fits worse than this is not believed."""

_AT_BALL, _ELSEWHERE, _MOVING, _DRIVEN = 0, 1, 2, 3
SPEED_SDS_M_S = (
    REST_SPEED_SD_M_S,
    PAUSE_SPEED_SD_M_S,
    MOVING_SPEED_SD_M_S,
    DRIVEN_SPEED_SD_M_S,
)
WAYS_M = (ADDRESS_GAP_M, ELSEWHERE_M, ELSEWHERE_M, ELSEWHERE_M)
WAY_SDS_M = (ADDRESS_GAP_SD_M, ELSEWHERE_SD_M, ELSEWHERE_SD_M, ELSEWHERE_SD_M)
"""Of a piece, by what it was: spread of its mean speed, and the way from it to the touch."""


@dataclass(frozen=True)
class Standing:
    """The stretches in which the cue was still, the last with the tip at the ball, and the score.

    ``speed_sd_m_s`` says for each stretch how still it was. The score is the log probability of
    the account, up to a constant; ``speed_m_s`` is the speed that it puts at the hit, and the
    spread how far the other accounts, by their weights, put that.
    """

    still: list[Rest]
    speed_sd_m_s: list[float]
    address: Rest | None
    score: float
    speed_m_s: float
    speed_spread_m_s: float


@dataclass(frozen=True)
class _Piece:
    """One piece of a quiet stretch."""

    span: slice
    is_first: bool
    duration_s: float
    before_hit_s: float


@dataclass(frozen=True, eq=False)
class _Seen:
    """Raw integrals (first column) and what one standard deviation of each drift adds to them.

    One row a piece for speed, acceleration and way; one for the balance after the hit, if known,
    one for the speed at the hit, and one for the way from each moment down on the shot.
    """

    speed: FloatArray
    accel: FloatArray
    way: FloatArray
    balance: FloatArray | None
    hit: FloatArray
    reach: FloatArray


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
    pieces = _pieces(window, rests, hit_index)
    if not pieces:
        return Standing([], [], None, NO_RESTS_SCORE, 0.0, 0.0)
    seen = _predictions(window, path, pieces, hit_index, ahead_s, after)
    # with a gyroscope gravity is known, and a push shows as one
    states, mean, covariance, score = _follow(pieces, seen, 4 if path.turn_rad is None else 3)
    if after is not None and seen.balance is not None:
        for k in range(len(score)):
            score[k] += tell(mean, covariance, k, seen.balance[None], 0, 0.0, after.sd_m_s)
    never = ~np.any(states == _AT_BALL, axis=1)
    speed = seen.hit[0] - mean @ seen.hit[1:]
    score = score + np.where(never, NEVER_AT_BALL_LOG_ODDS, 0.0) + _speed_log_prior(speed)
    most = int(np.argmax(score))
    weight = np.exp(score - score[most])
    spread = float(np.sqrt(np.average((speed - speed[most]) ** 2, weights=weight)))
    return replace(
        _standing(pieces, states[most].tolist()),
        score=float(score[most]),
        speed_m_s=float(speed[most]),
        speed_spread_m_s=spread,
    )


def _pieces(window: Window, rests: list[Rest], hit_index: int) -> list[_Piece]:
    """Return the quiet stretches in pieces, the last ones before the hit."""
    n_piece = window.n_samples(PIECE_S)
    pieces = [
        _Piece(
            span=span,
            is_first=k == 0,
            duration_s=(span.stop - span.start) * window.period_s,
            before_hit_s=float(window.time_s[hit_index] - window.time_s[span.stop - 1]),
        )
        for rest in rests
        for k, span in enumerate(rest.pieces(n_piece))
    ][-MOST_PIECES:]
    return [replace(pieces[0], is_first=True), *pieces[1:]] if pieces else []


def _predictions(
    window: Window,
    path: Path,
    pieces: list[_Piece],
    hit_index: int,
    ahead_s: float,
    after: AfterHit | None,
) -> _Seen:
    """Return what the integrals give, and what drift may add to it."""
    stop = hit_index + 1 if after is None else after.rest.stop
    time_s = window.time_s[:stop]
    shapes, sizes = _drift_shapes(window, path, pieces[0].span, stop, hit_index)
    down = moments_down(window, path, hit_index)
    shapes[: min([pieces[0].span.start, *down[:1].tolist()])] = 0.0
    gaps, gap_sds = gap_terms(window, path, stop)
    if len(gaps):
        shapes = np.column_stack([shapes, np.zeros((stop, len(gaps)))])
        sizes = np.concatenate([sizes, gap_sds])
    speed = running_integral(shapes, time_s)
    speed[:, 1] = 1.0
    if len(gaps):
        speed[:, shapes.shape[1] - len(gaps) :] = steps(gaps, stop)
    speed[:, 0] -= speed[pieces[0].span, 0].mean()
    way = running_integral(speed, time_s)
    way_at_hit = way[hit_index] + speed[hit_index] * ahead_s
    scale = np.concatenate([[1.0], sizes])
    # the touch is only known to a sample or so as yet: all ways share that
    late = TOUCH_PERIODS * window.period_s * abs(float(speed[hit_index, 0]))

    def rows(values: FloatArray, touch_m: float) -> FloatArray:
        scaled = values * scale
        return np.column_stack([scaled, np.full(len(scaled), touch_m)])

    balance = None
    if after is not None:
        raw = after.row(speed, hit_index)
        raw[0] += after.constant_m_s()
        balance = rows(raw[None], 0.0)[0]
    first, last = ends_of([piece.span for piece in pieces])
    return _Seen(
        speed=rows(means_over(speed, first, last), 0.0),
        accel=rows(means_over(shapes, first, last), 0.0),
        way=rows(way_at_hit - means_over(way, first, last), late),
        balance=balance,
        hit=rows(speed[hit_index][None], 0.0)[0],
        reach=rows(way_at_hit - way[down], late),
    )


def _drift_shapes(
    window: Window, path: Path, first: slice, stop: int, hit_index: int
) -> tuple[FloatArray, FloatArray]:
    """Return axial acceleration and what may lie on it, shape (stop, q), and the sizes of that."""
    time_s = window.time_s[:stop]
    reference = path.reference
    middle = hit_index if reference is None else (reference.start + reference.stop) // 2
    axial = path.axial_m_s2[:stop]
    columns = [axial, np.zeros(stop), np.ones(stop), time_s - time_s[middle]]
    sizes = [START_SPEED_SD_M_S, path.gravity_sd_m_s2, path.drift_sd_m_s3]
    if path.turn_rad is None:
        still = first if reference is None else slice(reference.start, reference.stop)
        speed = running_integral(axial, time_s)
        way = running_integral(speed - speed[still].mean(), time_s)
        way = np.clip(way - way[middle], -0.4, 0.4) / LEAK_TRAVEL_M
        columns += [way, way**2]
        sizes += [path.leak.slope_sd_m_s2, path.leak.curve_sd_m_s2]
    return np.column_stack(columns), np.array(sizes)


def _follow(
    pieces: list[_Piece], seen: _Seen, n_kinds: int
) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
    """Return the most probable combinations of the first so many states, piece after piece."""
    n, q = len(pieces), seen.hit.size - 1
    states, mean = np.zeros((1, n), dtype=np.int64), np.zeros((1, q))
    covariance, score = np.eye(q)[None].copy(), np.zeros(1)
    for row in range(len(seen.reach)):
        score += tell(mean, covariance, 0, seen.reach, row, REACH_M, REACH_SD_M)
    room = MOST_KEPT * n_kinds
    new_states, new_score = np.zeros((room, n), dtype=np.int64), np.empty(room)
    new_mean, new_covariance = np.empty((room, q)), np.empty((room, q, q))
    known = np.stack([seen.speed, seen.accel, seen.way], axis=1)
    values = _kinds(pieces)[:, :n_kinds]
    for k, piece in enumerate(pieces):
        last = np.full(len(score), -1) if piece.is_first else states[:, k - 1]
        n_new = carry_on(
            states,
            mean,
            covariance,
            score,
            np.ascontiguousarray(last),
            known[k],
            values[k],
            new_states,
            new_mean,
            new_covariance,
            new_score,
            k,
            _MOVING,
            TURN_LOG_ODDS,
        )
        order = np.argsort(-new_score[:n_new], kind="stable")[:MOST_KEPT]
        states, mean = new_states[order], new_mean[order]
        covariance, score = new_covariance[order], new_score[order]
    return states, mean, covariance, score


def _kinds(pieces: list[_Piece]) -> FloatArray:
    """Return what each state means for each piece, shape (n, 4, 8), as `carry_on` takes it."""
    duration_s = np.array([piece.duration_s for piece in pieces])
    values = np.zeros((len(pieces), 4, 8))
    values[:, :, 1] = SPEED_SDS_M_S
    for kind in (_AT_BALL, _ELSEWHERE):
        values[:, kind, 3] = still_accel_sd_m_s2(SPEED_SDS_M_S[kind], duration_s)
    values[:, _MOVING, 3] = MOVING_ACCEL_SD_M_S2
    values[:, _DRIVEN, 3] = DRIVEN_ACCEL_SD_M_S2
    values[:, :, 4], values[:, :, 5] = WAYS_M, WAY_SDS_M
    values[:, :, 6], values[:, :, 7] = _log_priors(pieces, duration_s)
    return values


def _speed_log_prior(speed_m_s: FloatArray) -> FloatArray:
    """Return the log of how usual speeds at the hit are, 0 for the most usual."""
    off = np.log(np.maximum(speed_m_s, 0.05) / USUAL_SPEED_M_S) / SPEED_LOG_SD
    log_prior: FloatArray = -0.5 * off**2
    return log_prior


def _log_priors(pieces: list[_Piece], duration_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the log odds of each state, come into or stayed in, against still at the ball."""
    before_s = np.array([piece.before_hit_s for piece in pieces])
    lasting_s = np.maximum(duration_s - 0.15, 0.0)
    new, stay = np.zeros((len(pieces), 4)), np.zeros((len(pieces), 4))
    new[:, _ELSEWHERE] = np.where(before_s < REAR_WITHIN_S, REAR_LOG_ODDS, ELSEWHERE_LOG_ODDS)
    new[:, _MOVING] = MOVING_LOG_ODDS + MOVING_LOG_ODDS_PER_S * lasting_s
    new[:, _DRIVEN] = DRIVEN_LOG_ODDS + DRIVEN_LOG_ODDS_PER_S * lasting_s
    stay[:, _MOVING] = MOVING_LOG_ODDS_PER_S * duration_s
    stay[:, _DRIVEN] = DRIVEN_LOG_ODDS_PER_S * duration_s
    return new, stay


def _standing(pieces: list[_Piece], states: list[int]) -> Standing:
    """Return what one combination says, pieces of one state joined again."""
    still: list[Rest] = []
    kinds: list[int] = []
    for piece, state in zip(pieces, states, strict=True):
        if state >= _MOVING:
            continue
        goes_on = still and still[-1].stop == piece.span.start and kinds[-1] == state
        if goes_on and not piece.is_first:
            still[-1] = Rest(still[-1].start, piece.span.stop)
        else:
            still.append(Rest(piece.span.start, piece.span.stop))
            kinds.append(state)
    at_ball = [rest for rest, kind in zip(still, kinds, strict=True) if kind == _AT_BALL]
    return Standing(
        still=still,
        speed_sd_m_s=[SPEED_SDS_M_S[kind] for kind in kinds],
        address=at_ball[-1] if at_ball else None,
        score=0.0,
        speed_m_s=0.0,
        speed_spread_m_s=0.0,
    )
