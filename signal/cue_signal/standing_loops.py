"""The compiled loops that follow accounts of what a cue did from one quiet piece to the next."""

import numpy as np

from cue_sensors.samples import BoolArray, FloatArray, IntArray
from cue_signal.compiled import compiled
from cue_signal.matrices import FIRST

LOG_TWO_PI = float(np.log(2.0 * np.pi))
AT_BALL, ELSEWHERE, MOVING, DRIVEN = 0, 1, 2, 3
"""What a piece may have been; from one still state to another the cue has to move."""
LEAST_SPEED_M_S = 0.05


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
) -> tuple[int, IntArray, FloatArray, FloatArray, FloatArray]:
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
    tuple of int, ndarray (k, n), (k, q), (k, q, q), (k,)
        How many there are in the room for k: states of the pieces, posterior of the drift, log
        probability.
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
        score[0] += tell(mean, covariance, FIRST, known, row, reach_m, reach_sd_m, pull)
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
    return n_kept, states, mean, covariance, score


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
    n: int,
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
    n, states, mean, covariance, score : int, ndarray
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
    n_pieces = states.shape[1]
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
