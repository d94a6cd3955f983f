"""The compiled loops that take the drift out of the speed along the cue."""

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.compiled import compiled
from cue_signal.drift_shapes import (
    LEAK,
    LEAK_MOST_M,
    LEAK_TRAVEL_M,
    WANDER_STEP_S,
    leak_at,
    shape_at,
    still_accel_sd_m_s2,
)
from cue_signal.matrices import FIRST, backward, factor, forward
from cue_signal.rest_loops import pieces_of


@compiled
def observe(
    known: FloatArray,
    terms: tuple[int, int],
    time_s: FloatArray,
    axial_m_s2: FloatArray,
    travel_m: FloatArray,
    middle: int,
    hit_index: int,
    n_knots: int,
    gaps: IntArray,
    still_first: IntArray,
    still_last: IntArray,
    even_first: IntArray,
    even_last: IntArray,
    ball: FloatArray,
    down: IntArray,
    after: FloatArray,
) -> None:
    """Write what the raw integrals give for all that is known, and what drift adds to it.

    Parameters
    ----------
    known : ndarray, shape (s + e + d + 2, q + 1)
        Raw value, then what one unit of each of q drift terms adds: speeds, accelerations, way to
        the touch from each moment down and from the ball, balance after the hit. The last two are
        zeros where they are not known.
    terms : tuple of int
        Columns [first, last) to write: all, or LEAK, the only ones that another travel changes.
    time_s, axial_m_s2, travel_m, middle, hit_index, n_knots
        As for `shape_at`, and raw acceleration along the cue.
    gaps : ndarray of int, shape (g,)
        First samples after gaps, each with a drift term at the end.
    still_first, still_last : ndarray of int, shape (s,)
        Stretches [first, last), in order, of which the mean speed is known.
    even_first, even_last : ndarray of int, shape (e,)
        The same of which the mean acceleration is.
    ball : ndarray, shape (3,) or (0,)
        Sample with the tip at the ball; from the last clear sample to the touch: time, and travel
        beyond steady speed less the gap left at address.
    down : ndarray of int, shape (d,)
        Moments down on the shot.
    after : ndarray, shape (5,) or (0,)
        First sample clear of the blow, start and stop of the rest after, share of the speed kept,
        part of the balance that no drift changes.
    """
    n_still, n_even, n_down = len(still_first), len(even_first), len(down)
    n_rows, q = len(known), known.shape[1] - 1
    low, high = terms
    is_all = low == 0
    for row in range(n_rows):
        for j in range(low, high):
            known[row, j] = 0.0
    shape, before = np.zeros(q + 1), np.zeros(q + 1)
    speed, way = np.zeros(q + 1), np.zeros(q + 1)
    speed[1] = 1.0
    at_still, at_even, at_down = 0, 0, 0
    ball_index = int(ball[0]) if len(ball) else -1
    clear, rest_start, rest_stop = -1, 0, 0
    if len(after):
        clear, rest_start, rest_stop = int(after[0]), int(after[1]), int(after[2])
    for k in range(max(hit_index + 1, clear + 1, rest_stop)):
        if is_all:
            shape_at(shape, k, time_s, travel_m, middle, hit_index, n_knots)
        else:
            leak_at(shape, k, travel_m, middle)
        half = 0.5 * (time_s[k] - time_s[k - 1]) if k else 0.0
        shape[0] = axial_m_s2[k]
        for j in range(low, high):
            gained = half * (shape[j] + before[j])
            way[j] += half * (2.0 * speed[j] + gained)
            speed[j] += gained
            before[j] = shape[j]
        for g in range(len(gaps) if is_all else 0):
            if k == gaps[g]:
                speed[q + 1 - len(gaps) + g] = 1.0
                way[q + 1 - len(gaps) + g] = half
        while at_still < n_still and k >= still_last[at_still]:
            at_still += 1
        if at_still < n_still and k >= still_first[at_still]:
            part = 1.0 / (still_last[at_still] - still_first[at_still])
            for j in range(low, high):
                known[at_still, j] += part * speed[j]
        while at_even < n_even and k >= even_last[at_even]:
            at_even += 1
        if at_even < n_even and k >= even_first[at_even]:
            part = 1.0 / (even_last[at_even] - even_first[at_even])
            for j in range(low, high):
                known[n_still + at_even, j] += part * shape[j]
        while at_down < n_down and k >= down[at_down]:
            for j in range(low, high):
                known[n_still + n_even + at_down, j] -= way[j]
            at_down += 1
        if k == ball_index:
            for j in range(low, high):
                known[n_rows - 2, j] -= way[j]
        if k == clear:
            for j in range(low, high):
                known[n_rows - 1, j] -= speed[j]
        if rest_start <= k < rest_stop:
            for j in range(low, high):
                known[n_rows - 1, j] += speed[j] / (rest_stop - rest_start)
        if k == hit_index:
            for j in range(low, high):
                for d in range(n_down):
                    known[n_still + n_even + d, j] += way[j]
                if len(ball):
                    known[n_rows - 2, j] += way[j] + speed[j] * ball[1]
                if len(after):
                    known[n_rows - 1, j] += after[3] * speed[j]
    if is_all and len(ball):
        known[n_rows - 2, 0] += ball[2]
    if is_all and len(after):
        known[n_rows - 1, 0] += after[4]


@compiled
def least_squares(
    known: FloatArray, sd: FloatArray, prior_sd: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return drift terms and their covariance.

    Parameters
    ----------
    known : ndarray, shape (k, q + 1)
        Raw values, then what one unit of each drift term adds to them.
    sd : ndarray, shape (k,)
        How closely the true values are zero; 0 where nothing is known.
    prior_sd : ndarray, shape (q,)
        Of the drift terms.

    Returns
    -------
    tuple of ndarray (q,), ndarray (q, q)
        Mean and covariance.
    """
    q = len(prior_sd)
    lower, covariance = np.zeros((q, q)), np.zeros((q, q))
    pull = np.zeros((1, q))
    for i in range(q):
        lower[i, i] = prior_sd[i] ** -2.0
        covariance[i, i] = 1.0
    for k in range(len(known)):
        if sd[k] <= 0.0:
            continue
        weight = 1.0 / (sd[k] * sd[k])
        for i in range(q):
            weighed = weight * known[k, i + 1]
            pull[0, i] += weighed * known[k, 0]
            for j in range(i + 1):
                lower[i, j] += weighed * known[k, j + 1]
    factor(lower, q)
    for i in range(q):
        forward(lower, covariance, i, q)
        backward(lower, covariance, i, q)
    forward(lower, pull, FIRST, q)
    backward(lower, pull, FIRST, q)
    return pull[0], covariance


@compiled
def own_size(
    known: FloatArray, sd: FloatArray, prior_sd: FloatArray, drift: FloatArray, weight: float
) -> float:
    """Return the variance of what is known about one stroke, in parts of what is usual.

    Parameters
    ----------
    known, sd, prior_sd : ndarray
        As for `least_squares`.
    drift : ndarray, shape (q,)
        What that made of them.
    weight : float
        The usual variance counts as much as so many observations.

    Returns
    -------
    float
        With q drift terms and k observations the misfit of both together is k on average (Birge's
        ratio, Phys. Rev. 40, 1932, from memory, here with a prior).
    """
    misfit, n_known = weight, weight
    for i in range(len(prior_sd)):
        misfit += (drift[i] / prior_sd[i]) ** 2
    for k in range(len(known)):
        if sd[k] <= 0.0:
            continue
        left = known[k, 0]
        for i in range(len(prior_sd)):
            left -= known[k, i + 1] * drift[i]
        misfit += (left / sd[k]) ** 2
        n_known += 1.0
    return float(misfit / n_known)


@compiled
def without_drift(
    time_s: FloatArray,
    axial_m_s2: FloatArray,
    travel_m: FloatArray,
    middle: int,
    hit_index: int,
    n_knots: int,
    gaps: IntArray,
    drift: FloatArray,
) -> FloatArray:
    """Return speed, travel and acceleration along the cue with the drift taken out.

    Parameters
    ----------
    time_s, axial_m_s2, travel_m, middle, hit_index, n_knots, gaps
        As for `observe`.
    drift : ndarray, shape (q,)
        The drift terms.

    Returns
    -------
    ndarray, shape (3, n)
        Travel counts from the hit.
    """
    n, q = len(time_s), len(drift)
    found = np.zeros((3, n))
    gained, way = 0.0, 0.0
    for k in range(n):
        accel = axial_m_s2[k] - drift[1] - (time_s[k] - time_s[middle]) * drift[2]
        if n_knots:
            leak = min(max(travel_m[k] - travel_m[middle], -LEAK_MOST_M), LEAK_MOST_M)
            leak /= LEAK_TRAVEL_M
            accel -= leak * (drift[3] + leak * drift[4])
            # a sample lies between two support points
            place = (time_s[hit_index] - time_s[k]) / WANDER_STEP_S
            low = int(np.floor(place))
            for knot in range(max(low, 0), min(low + 2, n_knots)):
                accel -= (1.0 - abs(place - knot)) * drift[5 + knot]
        found[2, k] = accel
        half = 0.5 * (time_s[k] - time_s[k - 1]) if k else 0.0
        gained += half * (accel + found[2, k - 1]) if k else 0.0
        speed = gained - drift[0]
        for g in range(len(gaps)):
            if k >= gaps[g]:
                speed -= drift[q - len(gaps) + g]
        found[0, k] = speed
        way += half * (speed + found[0, k - 1]) if k else 0.0
        found[1, k] = way
    at_hit = found[1, hit_index]
    for k in range(n):
        found[1, k] -= at_hit
    return found


@compiled
def solved(
    time_s: FloatArray,
    axial_m_s2: FloatArray,
    start: IntArray,
    stop: IntArray,
    speed_sd_m_s: FloatArray,
    n_piece: int,
    middle: int,
    hit_index: int,
    n_knots: int,
    gaps: IntArray,
    prior_sd: FloatArray,
    ball: FloatArray,
    down: IntArray,
    reach_m: float,
    reach_sd_m: float,
    after: FloatArray,
    tilt_sd_m_s2: float,
    n_rounds: int,
    usual_weight: float,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return speed, travel and acceleration without drift, after some rounds.

    Parameters
    ----------
    time_s, axial_m_s2, middle, hit_index, n_knots, gaps
        As for `observe`.
    start, stop : ndarray of int, shape (r,)
        Rests [start, stop), in order.
    speed_sd_m_s : ndarray, shape (r,)
        How still the cue was in each.
    n_piece : int
        About the length of the pieces of a rest that each tell the speed and, with knots, the
        acceleration; else a rest tells that as a whole.
    prior_sd : ndarray, shape (q,)
        Of the drift terms.
    ball : ndarray, shape (4,) or (0,)
        As for `observe`, then its standard deviation.
    down : ndarray of int, shape (d,)
        Moments down on the shot.
    reach_m, reach_sd_m : float
        Way to the ball at any of them.
    after : ndarray, shape (6,) or (0,)
        As for `observe`, then its standard deviation.
    tilt_sd_m_s2 : float
        What tilt and noise add to a mean acceleration.
    n_rounds : int
        Each takes the travel that the leak goes by from the one before, none at first.
    usual_weight : float
        As `own_size` takes it.

    Returns
    -------
    tuple of ndarray (3, n), (n,), (q, q)
        As for `without_drift`; travel that the leak went by; covariance of the drift terms.
    """
    q = len(prior_sd)
    first, last, of = pieces_of(start, stop, n_piece)
    is_cut = n_knots > 0
    even_first, even_last = (first, last) if is_cut else (start, stop)
    n_still, n_even = len(first), len(even_first)
    sd = np.zeros(n_still + n_even + len(down) + 2)
    for k in range(n_still):
        sd[k] = speed_sd_m_s[of[k]]
    for k in range(n_even):
        lasted_s = time_s[even_last[k] - 1] - time_s[even_first[k]]
        speed_sd = speed_sd_m_s[of[k] if is_cut else k]
        sd[n_still + k] = still_accel_sd_m_s2(speed_sd, lasted_s, tilt_sd_m_s2)
    for k in range(len(down)):
        sd[n_still + n_even + k] = reach_sd_m
    sd[-2], sd[-1] = ball[3] if len(ball) else 0.0, after[5] if len(after) else 0.0
    travel = np.zeros(len(time_s))
    known = np.zeros((len(sd), q + 1))
    found, covariance = np.zeros((3, len(time_s))), np.zeros((q, q))
    for turn in range(n_rounds):
        if turn > 0:
            for k in range(len(travel)):
                travel[k] = found[1, k]
        observe(
            known,
            LEAK if turn > 0 else (0, q + 1),
            time_s,
            axial_m_s2,
            travel,
            middle,
            hit_index,
            n_knots,
            gaps,
            first,
            last,
            even_first,
            even_last,
            ball,
            down,
            after,
        )
        for k in range(len(down) if turn == 0 else 0):
            known[n_still + n_even + k, 0] -= reach_m
        drift, covariance = least_squares(known, sd, prior_sd)
        found = without_drift(time_s, axial_m_s2, travel, middle, hit_index, n_knots, gaps, drift)
        size = own_size(known, sd, prior_sd, drift, usual_weight)
        for i in range(q):
            for j in range(q):
                covariance[i, j] *= size
    return found, travel, covariance
