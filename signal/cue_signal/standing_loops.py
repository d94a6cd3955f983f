"""The compiled loops that follow accounts of what a cue did from one quiet piece to the next."""

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.compiled import compiled

LOG_TWO_PI = float(np.log(2.0 * np.pi))


@compiled
def tell(
    mean: FloatArray,
    covariance: FloatArray,
    account: int,
    known: FloatArray,
    row: int,
    expected: float,
    sd: float,
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
    """
    q = mean.shape[1]
    pull = np.empty(q)
    var, off = sd * sd, known[row, 0] - expected
    for i in range(q):
        pull[i] = 0.0
        for j in range(q):
            pull[i] += covariance[account, i, j] * known[row, j + 1]
        var += pull[i] * known[row, i + 1]
        off -= mean[account, i] * known[row, i + 1]
    for i in range(q):
        gain = pull[i] / var
        mean[account, i] += gain * off
        for j in range(q):
            covariance[account, i, j] -= gain * pull[j]
    return float(-0.5 * (off * off / var + np.log(var) + LOG_TWO_PI))


@compiled
def carry_on(
    states: IntArray,
    mean: FloatArray,
    covariance: FloatArray,
    score: FloatArray,
    last: IntArray,
    known: FloatArray,
    values: FloatArray,
    new_states: IntArray,
    new_mean: FloatArray,
    new_covariance: FloatArray,
    new_score: FloatArray,
    piece: int,
    first_moving: int,
    turn_log_odds: float,
) -> int:
    """Write every account carried on by each possible state of one piece, and return how many.

    Parameters
    ----------
    states, mean, covariance, score : ndarray, shape (k, n), (k, q), (k, q, q), (k,)
        The accounts so far: states of n pieces, posterior of the drift, log probability.
    last : ndarray of int, shape (k,)
        The state that each is in; -1 at the start of a quiet stretch.
    known : ndarray, shape (3, q + 1)
        Speed, acceleration and way of the piece: raw integrals, and what each drift term adds.
    values : ndarray, shape (s, 8)
        Of each state: speed and its spread, acceleration and its spread, way to the ball and its
        spread, log odds of coming into it, and of staying in it.
    new_states, new_mean, new_covariance, new_score : ndarray
        The same as the first four, with room for k s accounts; written.
    piece : int
        Which of the n pieces.
    first_moving : int
        States from this on move; from one still state to another the cue has to move.
    turn_log_odds : float
        Of a change of state within a quiet stretch.

    Returns
    -------
    int
        Number of accounts written.
    """
    q, n = mean.shape[1], 0
    for a in range(len(score)):
        for state in range(len(values)):
            is_new = last[a] != state
            is_still = last[a] < first_moving and state < first_moving
            if last[a] >= 0 and is_new and is_still:
                continue
            for k in range(piece):
                new_states[n, k] = states[a, k]
            new_states[n, piece] = state
            for i in range(q):
                new_mean[n, i] = mean[a, i]
                for j in range(q):
                    new_covariance[n, i, j] = covariance[a, i, j]
            total = score[a] + values[state, 6 if is_new else 7]
            total += turn_log_odds if is_new and last[a] >= 0 else 0.0
            # a cue that stays in its state has not chosen its place anew
            for row in range(3 if is_new else 2):
                expected, sd = values[state, 2 * row], values[state, 2 * row + 1]
                total += tell(new_mean, new_covariance, n, known, row, expected, sd)
            new_score[n] = total
            n += 1
    return n
