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

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.after import AfterHit
from cue_signal.drift import ADDRESS_GAP_M, ADDRESS_GAP_SD_M, NO_VALUES, STILL_ACCEL_SD_M_S2
from cue_signal.drift_shapes import LEAK_TRAVEL_M
from cue_signal.gaps import gap_terms
from cue_signal.reach import REACH_M, REACH_SD_M, moments_down
from cue_signal.rest import PIECE_S, Rest, ends_of
from cue_signal.rest_loops import pieces_of
from cue_signal.standing_loops import AT_BALL, MOVING, follow, weighed
from cue_signal.standing_seen import kinds_of, rough_travel, seen_in
from cue_signal.strapdown import REST_SPEED_SD_M_S, Path
from cue_signal.windows import Window

MOST_PIECES = 16
"""Only this many pieces before the hit are judged together."""
MOST_KEPT = 24
"""Combinations followed from one piece to the next."""
PAUSE_SPEED_SD_M_S = 0.02
"""A cue paused at the rear creeps, and a slow start of the delivery is as quiet as the pause."""
ELSEWHERE_M, ELSEWHERE_SD_M = 0.15, 0.12
"""How far from the ball a cue is that is not at it."""
REAR_WITHIN_S = 1.0
"""A pause away from the ball comes at the rear, so long before the hit at most."""
KINDS: FloatArray = np.array(
    [
        [REST_SPEED_SD_M_S, 0.0, ADDRESS_GAP_M, ADDRESS_GAP_SD_M, 0.0, 0.0, 0.0, 0.0],
        [PAUSE_SPEED_SD_M_S, 0.0, ELSEWHERE_M, ELSEWHERE_SD_M, -0.5, -3.0, 0.0, 0.0],
        [0.2, 0.2, ELSEWHERE_M, ELSEWHERE_SD_M, -0.5, -0.5, -6.0, -6.0],
        [0.5, 1.2, ELSEWHERE_M, ELSEWHERE_SD_M, -1.0, -1.0, -8.0, -8.0],
    ]
)
"""What a piece may have been: still at the ball, still elsewhere, moving steadily, driven on.

Columns: spread of its mean speed; of its acceleration, 0 where stillness gives it; way to the touch
and its spread; prior log odds against being still at the ball, at the rear and before, the more for
each second that it lasts, and for each second that a state goes on. Steady movement does not last,
a steady push even less."""
START_SPEED_SD_M_S = 0.3
TOUCH_PERIODS = 1.0
NEVER_AT_BALL_LOG_ODDS = -2.0
TURN_LOG_ODDS = -2.0
"""Odds of starting or stopping to move within a quiet stretch."""
USUAL_SPEED_M_S = 1.7
SPEED_LOG_SD = 0.6
"""Speeds at which cues meet balls: two in three from 0.9 to 3.1 m/s. Common practice, no source. It
weighs accounts against each other, not the speed that one of them gives."""
NO_RESTS_SCORE = -12.0
"""Score of knowing nothing: an account that fits worse than this is not believed."""


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
    if not rests:
        return Standing([], [], None, NO_RESTS_SCORE, 0.0, 0.0)
    first, last, of = (part[-MOST_PIECES:] for part in _pieces(window, rests))
    is_first = np.ones(len(of), dtype=np.bool_)
    is_first[1:] = of[1:] != of[:-1]
    values = kinds_of(
        window.time_s,
        first,
        last,
        hit_index,
        window.period_s,
        # with a gyroscope gravity is known, and a push shows as one
        KINDS if path.turn_rad is None else KINDS[:-1],
        REAR_WITHIN_S,
        STILL_ACCEL_SD_M_S2,
    )
    known = _seen(window, path, first, last, hit_index, ahead_s, after)
    n, states, mean, covariance, score = follow(
        known, values, is_first, REACH_M, REACH_SD_M, TURN_LOG_ODDS, MOST_KEPT
    )
    most, speed, spread = weighed(
        n,
        states,
        mean,
        covariance,
        score,
        known,
        0.0 if after is None else after.sd_m_s,
        NEVER_AT_BALL_LOG_ODDS,
        USUAL_SPEED_M_S,
        SPEED_LOG_SD,
    )
    pieces = zip(
        first.tolist(), last.tolist(), is_first.tolist(), states[most].tolist(), strict=True
    )
    still, kinds = _joined(pieces)
    at_ball = [rest for rest, kind in zip(still, kinds, strict=True) if kind == AT_BALL]
    return Standing(
        still=still,
        speed_sd_m_s=[float(KINDS[kind, 0]) for kind in kinds],
        address=at_ball[-1] if at_ball else None,
        score=float(score[most]),
        speed_m_s=float(speed[most]),
        speed_spread_m_s=spread,
    )


def _pieces(window: Window, rests: list[Rest]) -> tuple[IntArray, IntArray, IntArray]:
    """Return the quiet stretches in pieces."""
    start, stop = ends_of(rests)
    return pieces_of(start, stop, window.n_samples(PIECE_S))


def _seen(
    window: Window,
    path: Path,
    first: IntArray,
    last: IntArray,
    hit_index: int,
    ahead_s: float,
    after: AfterHit | None,
) -> FloatArray:
    """Return what the integrals give, and what drift may add to it."""
    n = hit_index + 1 if after is None else after.rest.stop
    gaps, gap_sds = gap_terms(window, path, n)
    reference = path.reference
    middle = hit_index if reference is None else (reference.start + reference.stop) // 2
    sizes = [START_SPEED_SD_M_S, path.gravity_sd_m_s2, path.drift_sd_m_s3]
    leak = NO_VALUES
    if path.turn_rad is None:
        still = reference or Rest(int(first[0]), int(last[0]))
        leak = rough_travel(window.time_s, path.axial_m_s2, n, still.start, still.stop, middle)
        leak /= LEAK_TRAVEL_M
        sizes += [path.leak.slope_sd_m_s2, path.leak.curve_sd_m_s2]
    return seen_in(
        window.time_s,
        path.axial_m_s2,
        n,
        first,
        last,
        hit_index,
        middle,
        leak,
        np.concatenate([sizes, gap_sds]),
        gaps,
        moments_down(window, path, hit_index),
        ahead_s,
        TOUCH_PERIODS * window.period_s,
        NO_VALUES if after is None else after.values(),
    )


def _joined(pieces: Iterable[tuple[int, int, bool, int]]) -> tuple[list[Rest], list[int]]:
    """Return what was still, pieces of one state joined again, and in which state it was."""
    still: list[Rest] = []
    kinds: list[int] = []
    for first, last, is_first, state in pieces:
        if state >= MOVING:
            continue
        goes_on = still and still[-1].stop == first and kinds[-1] == state
        if goes_on and not is_first:
            still[-1] = Rest(still[-1].start, last)
        else:
            still.append(Rest(first, last))
            kinds.append(state)
    return still, kinds
