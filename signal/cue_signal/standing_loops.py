"""The compiled loops that follow accounts of what a cue did from one quiet piece to the next."""

import numpy as np

from cue_sensors.samples import BoolArray, FloatArray, IntArray
from cue_signal.compiled import compiled

LOG_TWO_PI = float(np.log(2.0 * np.pi))


@compiled
def tell(
    mean: FloatArray, covariance: FloatArray, row: FloatArray, expected: float, sd: float
) -> float:
    """Take in one thing known of the drift, in place, and return its log probability.

    Parameters
    ----------
    mean, covariance : ndarray, shape (q,), (q, q)
        Of the drift terms.
    row : ndarray, shape (q + 1,)
        What the raw integrals give, then what one unit of each drift term adds to it.
    expected, sd : float
        What the true value is, and how closely.
    """
    q = len(mean)
    pull = np.zeros(q)
    var, off = sd * sd, row[0] - expected
    for i in range(q):
        for j in range(q):
            pull[i] += covariance[i, j] * row[j + 1]
        var += pull[i] * row[i + 1]
        off -= mean[i] * row[i + 1]
    for i in range(q):
        gain = pull[i] / var
        mean[i] += gain * off
        for j in range(q):
            covariance[i, j] -= gain * pull[j]
    return float(-0.5 * (off * off / var + np.log(var) + LOG_TWO_PI))


@compiled
def follow(
    start_mean: FloatArray,
    start_covariance: FloatArray,
    start_score: float,
    speed: FloatArray,
    accel: FloatArray,
    way: FloatArray,
    is_first: BoolArray,
    speed_sd: FloatArray,
    accel_sd: FloatArray,
    way_m: FloatArray,
    way_sd_m: FloatArray,
    log_new: FloatArray,
    log_stay: FloatArray,
    turn_log_odds: float,
    first_moving: int,
    most_kept: int,
) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
    """Return the most probable combinations of states, piece after piece.

    Parameters
    ----------
    start_mean, start_covariance, start_score : ndarray (q,), ndarray (q, q), float
        Of the drift before any piece is asked.
    speed, accel, way : ndarray, shape (n, q + 1)
        Of n pieces: raw integrals, and what one unit of each drift term adds.
    is_first : ndarray of bool, shape (n,)
        Whether a piece begins a quiet stretch.
    speed_sd, way_m, way_sd_m : ndarray, shape (s,)
        Of each state: spread of the speed, way to the ball and its spread.
    accel_sd, log_new, log_stay : ndarray, shape (n, s)
        Spread of the acceleration, log odds of coming into a state, and of staying in it.
    turn_log_odds : float
        Of a change of state within a quiet stretch.
    first_moving : int
        States from this on move; from one still state to another the cue has to move.
    most_kept : int
        Combinations kept at each piece.

    Returns
    -------
    tuple of ndarray (k, n), (k, q), (k, q, q), (k,)
        States, mean and covariance of the drift, log probability, the most probable first.
    """
    n_pieces, q, n_states = len(speed), speed.shape[1] - 1, len(speed_sd)
    most = most_kept * n_states
    states = np.zeros((1, n_pieces), dtype=np.int64)
    mean = start_mean.copy().reshape(1, q)
    covariance = start_covariance.copy().reshape(1, q, q)
    score = np.array([start_score])
    for k in range(n_pieces):
        new_states = np.empty((most, n_pieces), dtype=np.int64)
        new_mean, new_covariance = np.empty((most, q)), np.empty((most, q, q))
        new_score = np.empty(most)
        n_new = 0
        for a in range(len(score)):
            last = -1 if is_first[k] else states[a, k - 1]
            for state in range(n_states):
                is_new = last != state
                is_still = last < first_moving and state < first_moving
                if last >= 0 and is_new and is_still:
                    continue
                new_states[n_new] = states[a]
                new_states[n_new, k] = state
                new_mean[n_new] = mean[a]
                new_covariance[n_new] = covariance[a]
                here, around = new_mean[n_new], new_covariance[n_new]
                total = score[a] + (log_new[k, state] if is_new else log_stay[k, state])
                total += turn_log_odds if is_new and last >= 0 else 0.0
                total += tell(here, around, speed[k], 0.0, speed_sd[state])
                total += tell(here, around, accel[k], 0.0, accel_sd[k, state])
                # a cue that stays in its state has not chosen its place anew
                if is_new:
                    total += tell(here, around, way[k], way_m[state], way_sd_m[state])
                new_score[n_new] = total
                n_new += 1
        order = np.argsort(-new_score[:n_new], kind="mergesort")[:most_kept]
        states, mean = new_states[order], new_mean[order]
        covariance, score = new_covariance[order], new_score[order]
    return states, mean, covariance, score
