"""The compiled loops that follow accounts of what a cue did from one quiet piece to the next."""

import numpy as np

from cue_sensors.samples import BoolArray, FloatArray, IntArray
from cue_signal.compiled import compiled
from cue_signal.drift_shapes import LEAK_TRAVEL_M
from cue_signal.rest_loops import pieces_of
from cue_signal.standing_seen import kinds_of, rough_travel, seen_in

LOG_TWO_PI = float(np.log(2.0 * np.pi))
AT_BALL, ELSEWHERE, MOVING, DRIVEN = 0, 1, 2, 3
"""What a piece may have been; from one still state to another the cue has to move."""
LEAST_SPEED_M_S = 0.05
LEAK_BACK_M, LEAK_AHEAD_M = -0.4, 0.4
"""Travel beyond which a first idea of the leak grows no further."""


@compiled
def tell(
    mean: FloatArray,
    covariance: FloatArray,
    account: int,
    known: FloatArray,
    row: int,
    expected: float,
    sd: float,
    pull: FloatArray,
) -> float:
    """Take one thing known of the drift into an account, in place; return its log probability.

    Parameters
    ----------
    mean, covariance : ndarray, shape (k, q), (k, q, q)
        Of the drift terms in k accounts.
    account : int
        Which of them.
    known : ndarray, shape (r, q + 1)
        What the raw integrals give, then what one unit of each drift term adds to it.
    row : int
        Which of them.
    expected, sd : float
        What the true value is, and how closely.
    pull : ndarray, shape (q,)
        Room to work in.
    """
    q = mean.shape[1]
    var, off = sd * sd, known[row, 0] - expected
    for i in range(q):
        pull[i] = 0.0
    for j in range(q):
        for i in range(q):
            pull[i] += covariance[account, j, i] * known[row, j + 1]
    for i in range(q):
        var += pull[i] * known[row, i + 1]
        off -= mean[account, i] * known[row, i + 1]
    for i in range(q):
        gain = pull[i] / var
        mean[account, i] += gain * off
        for j in range(q):
            covariance[account, i, j] -= gain * pull[j]
    return float(-0.5 * (off * off / var + np.log(var) + LOG_TWO_PI))


@compiled
def follow(
    known: FloatArray,
    values: FloatArray,
    is_first: BoolArray,
    reach_m: float,
    reach_sd_m: float,
    turn_log_odds: float,
    most_kept: int,
) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
    """Return the most probable accounts of what each quiet piece was, the best first.

    Every account so far is carried on by each possible state of the next piece; only the most
    probable are kept.

    Parameters
    ----------
    known : ndarray, shape (3 n + 2 + r, q + 1)
        What is known of n pieces and at r moments down on the shot, as `seen_in` has it.
    values : ndarray, shape (n, s, 8)
        Of each state, as `kinds_of` has it.
    is_first : ndarray of bool, shape (n,)
        The piece begins a quiet stretch.
    reach_m, reach_sd_m : float
        Way to the ball at any moment down on the shot.
    turn_log_odds : float
        Of a change of state within a quiet stretch.
    most_kept : int
        Accounts kept from piece to piece.

    Returns
    -------
    tuple of ndarray (k, n), (k, q), (k, q, q), (k,)
        States of the pieces, posterior of the drift, log probability.
    """
    n, n_kinds, q = len(values), values.shape[1], known.shape[1] - 1
    states, new_states = np.zeros((most_kept, n), np.int64), np.zeros((most_kept, n), np.int64)
    mean, new_mean = np.zeros((most_kept, q)), np.zeros((most_kept, q))
    covariance, new_covariance = np.zeros((most_kept, q, q)), np.zeros((most_kept, q, q))
    score = np.zeros(most_kept)
    tried, parent = np.empty(most_kept * n_kinds), np.empty(most_kept * n_kinds, np.int64)
    kind, order = np.empty(most_kept * n_kinds, np.int64), np.empty(most_kept, np.int64)
    n_kept, odds = 1, np.empty(n_kinds)
    off, shared, pull = np.empty(3), np.empty((3, 3)), np.empty(q)
    for i in range(q):
        covariance[0, i, i] = 1.0
    for row in range(3 * n + 2, len(known)):
        score[0] += tell(mean, covariance, 0, known, row, reach_m, reach_sd_m, pull)
    for piece in range(n):
        n_tried = 0
        for a in range(n_kept):
            last = -1 if is_first[piece] else states[a, piece - 1]
            _log_odds(mean, covariance, a, known, piece, values, last, odds, off, shared, pull)
            for state in range(n_kinds):
                is_turn = last >= 0 and last != state
                if is_turn and last < MOVING and state < MOVING:
                    continue
                tried[n_tried] = score[a] + odds[state] + (turn_log_odds if is_turn else 0.0)
                parent[n_tried], kind[n_tried] = a, state
                n_tried += 1
        n_kept = _best_first(tried, n_tried, order)
        for k in range(n_kept):
            a, state = parent[order[k]], kind[order[k]]
            for i in range(piece):
                new_states[k, i] = states[a, i]
            new_states[k, piece] = state
            for i in range(q):
                new_mean[k, i] = mean[a, i]
                for j in range(q):
                    new_covariance[k, i, j] = covariance[a, i, j]
            is_new = is_first[piece] or states[a, piece - 1] != state
            # a cue that stays in its state has not chosen its place anew
            for row in range(3 if is_new else 2):
                expected, sd = values[piece, state, 2 * row], values[piece, state, 2 * row + 1]
                tell(new_mean, new_covariance, k, known, 3 * piece + row, expected, sd, pull)
        for k in range(n_kept):
            score[k] = tried[order[k]]
        states, new_states = new_states, states
        mean, new_mean = new_mean, mean
        covariance, new_covariance = new_covariance, covariance
    return states[:n_kept], mean[:n_kept], covariance[:n_kept], score[:n_kept]


@compiled
def _best_first(values: FloatArray, n: int, order: IntArray) -> int:
    """Write the places of the greatest of n values, the greatest first; return how many."""
    n_kept = 0
    for k in range(n):
        if n_kept == len(order):
            if values[k] <= values[order[n_kept - 1]]:
                continue
            n_kept -= 1
        place = n_kept
        while place > 0 and values[order[place - 1]] < values[k]:
            order[place] = order[place - 1]
            place -= 1
        order[place] = k
        n_kept += 1
    return n_kept


@compiled
def _log_odds(
    mean: FloatArray,
    covariance: FloatArray,
    account: int,
    known: FloatArray,
    piece: int,
    values: FloatArray,
    last: int,
    odds: FloatArray,
    off: FloatArray,
    shared: FloatArray,
    pull: FloatArray,
) -> None:
    """Write the log probability of each state of a piece for one account.

    Speed, acceleration and way are known together: what the drift makes of their covariance is the
    same for all states, and each adds its own spreads. The last three are room to work in.
    """
    q = mean.shape[1]
    for row in range(3):
        off[row] = known[3 * piece + row, 0]
        for i in range(q):
            off[row] -= mean[account, i] * known[3 * piece + row, i + 1]
            pull[i] = 0.0
        # rows of a symmetric matrix, which lie together
        for j in range(q):
            for i in range(q):
                pull[i] += covariance[account, j, i] * known[3 * piece + row, j + 1]
        for other in range(row, 3):
            shared[other, row] = 0.0
            for i in range(q):
                shared[other, row] += pull[i] * known[3 * piece + other, i + 1]
    for state in range(len(odds)):
        # acceleration given the speed, then way given both
        var = shared[0, 0] + values[piece, state, 1] ** 2
        a = off[0] - values[piece, state, 0]
        accel_var = shared[1, 1] + values[piece, state, 3] ** 2 - shared[1, 0] ** 2 / var
        b = off[1] - values[piece, state, 2] - shared[1, 0] / var * a
        total = a * a / var + b * b / accel_var + np.log(var * accel_var) + 2.0 * LOG_TWO_PI
        if last != state:
            both = shared[2, 1] - shared[2, 0] / var * shared[1, 0]
            way_var = shared[2, 2] + values[piece, state, 5] ** 2
            way_var -= shared[2, 0] ** 2 / var + both * both / accel_var
            c = off[2] - values[piece, state, 4] - shared[2, 0] / var * a - both / accel_var * b
            total += c * c / way_var + np.log(way_var) + LOG_TWO_PI
        odds[state] = values[piece, state, 6 if last != state else 7] - 0.5 * total


@compiled
def weighed(
    states: IntArray,
    mean: FloatArray,
    covariance: FloatArray,
    score: FloatArray,
    known: FloatArray,
    balance_sd_m_s: float,
    never_log_odds: float,
    usual_speed_m_s: float,
    speed_log_sd: float,
) -> tuple[int, FloatArray, float]:
    """Return which account is the best, the speeds that all put at the hit, and their spread.

    Parameters
    ----------
    states, mean, covariance, score : ndarray
        The accounts, as `follow` has them; the last three take in what the rest after tells.
    known : ndarray, shape (3 n + 2 + r, q + 1)
        What is known, as `seen_in` has it.
    balance_sd_m_s : float
        How closely the balance after the hit is zero; 0 without a rest after.
    never_log_odds : float
        Of never lying at the ball.
    usual_speed_m_s, speed_log_sd : float
        Median and spread of the speeds at which cues meet balls.

    Returns
    -------
    tuple of int, ndarray (k,), float
        Place of the best; speeds; by the accounts' weights, how far they are from the best one's.
    """
    n_pieces, n = states.shape[1], len(score)
    speed, most, pull = np.empty(n), 0, np.empty(mean.shape[1])
    for a in range(n):
        if balance_sd_m_s > 0.0:
            row = 3 * n_pieces + 1
            score[a] += tell(mean, covariance, a, known, row, 0.0, balance_sd_m_s, pull)
        speed[a] = known[3 * n_pieces, 0]
        for i in range(mean.shape[1]):
            speed[a] -= mean[a, i] * known[3 * n_pieces, i + 1]
        is_never = True
        for k in range(n_pieces):
            is_never = is_never and states[a, k] != AT_BALL
        off = np.log(max(speed[a], LEAST_SPEED_M_S) / usual_speed_m_s) / speed_log_sd
        score[a] += (never_log_odds if is_never else 0.0) - 0.5 * off * off
        most = a if score[a] > score[most] else most
    total, squares = 0.0, 0.0
    for a in range(n):
        weight = np.exp(score[a] - score[most])
        total += weight
        squares += weight * (speed[a] - speed[most]) ** 2
    return most, speed, float(np.sqrt(squares / total))


@compiled
def judged(
    time_s: FloatArray,
    axial_m_s2: FloatArray,
    start: IntArray,
    stop: IntArray,
    n_piece: int,
    most_pieces: int,
    period_s: float,
    hit_index: int,
    reference_start: int,
    reference_stop: int,
    is_leaking: bool,
    sizes: FloatArray,
    gaps: IntArray,
    down: IntArray,
    reach_m: float,
    reach_sd_m: float,
    ahead_s: float,
    touch_s: float,
    after: FloatArray,
    kinds: FloatArray,
    rear_within_s: float,
    tilt_sd_m_s2: float,
    most_kept: int,
    turn_log_odds: float,
    never_log_odds: float,
    usual_speed_m_s: float,
    speed_log_sd: float,
) -> tuple[IntArray, float, float, float]:
    """Return the most probable account of quiet stretches.

    Parameters
    ----------
    time_s, axial_m_s2 : ndarray, shape (n,)
        Times; raw acceleration along the cue.
    start, stop : ndarray of int, shape (r,)
        Quiet stretches [start, stop), at least one.
    n_piece, most_pieces : int
        About the length of a piece; only so many, the last ones, are judged.
    period_s : float
        Sampling period.
    hit_index, reference_start, reference_stop : int
        Last sample clear of the blow; where gravity was taken from, -1 for nowhere.
    is_leaking : bool
        Whether gravity leaks in with the travel, as it does without a gyroscope.
    sizes, gaps, down, ahead_s, touch_s
        As for `seen_in`.
    after : ndarray, shape (6,) or (0,)
        As for `seen_in`, then how closely the balance is zero.
    kinds, rear_within_s, tilt_sd_m_s2
        As for `kinds_of`.
    reach_m, reach_sd_m, most_kept, turn_log_odds
        As for `follow`.
    never_log_odds, usual_speed_m_s, speed_log_sd
        As for `weighed`.

    Returns
    -------
    tuple of ndarray of int (k, 4), float, float, float
        Pieces: [first, last), whether it begins a stretch, its state. Log probability; speed at
        the hit; its spread over all accounts.
    """
    first, last, of = pieces_of(start, stop, n_piece)
    n_left_out = max(0, len(first) - most_pieces)
    first, last, of = first[n_left_out:], last[n_left_out:], of[n_left_out:]
    is_first = np.ones(len(first), np.bool_)
    for k in range(1, len(first)):
        is_first[k] = of[k] != of[k - 1]
    n = hit_index + 1 if len(after) == 0 else int(after[2])
    time_s, axial_m_s2 = time_s[:n], axial_m_s2[:n]
    has_reference = reference_start >= 0
    middle = (reference_start + reference_stop) // 2 if has_reference else hit_index
    leak = np.zeros(0)
    if is_leaking:
        still = (reference_start, reference_stop) if has_reference else (first[0], last[0])
        leak = rough_travel(time_s, axial_m_s2, still[0], still[1])
        from_m = leak[middle]
        for k in range(n):
            way = min(max(leak[k] - from_m, LEAK_BACK_M), LEAK_AHEAD_M)
            leak[k] = way / LEAK_TRAVEL_M
    known = seen_in(
        time_s,
        axial_m_s2,
        first,
        last,
        hit_index,
        middle,
        leak,
        sizes,
        gaps,
        down,
        ahead_s,
        touch_s,
        after,
    )
    values = kinds_of(time_s, first, last, hit_index, period_s, kinds, rear_within_s, tilt_sd_m_s2)
    states, mean, covariance, score = follow(
        known, values, is_first, reach_m, reach_sd_m, turn_log_odds, most_kept
    )
    most, speed, spread = weighed(
        states,
        mean,
        covariance,
        score,
        known,
        after[5] if len(after) else 0.0,
        never_log_odds,
        usual_speed_m_s,
        speed_log_sd,
    )
    pieces = np.empty((len(first), 4), np.int64)
    for k in range(len(first)):
        pieces[k, 0], pieces[k, 1] = first[k], last[k]
        pieces[k, 2], pieces[k, 3] = 1 if is_first[k] else 0, states[most, k]
    return pieces, score[most], speed[most], spread
