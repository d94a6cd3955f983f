"""The compiled loops that ask quiet pieces: what the raw integrals give, and what each may be."""

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.compiled import compiled
from cue_signal.drift_shapes import still_accel_sd_m_s2

LASTING_S = 0.15
"""A piece counts as lasting for what it is longer than this."""
LEAK_MOST_M = 0.4
"""Travel either way beyond which a first idea of the leak grows no further."""


@compiled
def kinds_of(
    time_s: FloatArray,
    first: IntArray,
    last: IntArray,
    hit_index: int,
    period_s: float,
    kinds: FloatArray,
    rear_within_s: float,
    tilt_sd_m_s2: float,
) -> FloatArray:
    """Return what each state means for each piece.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Times of the samples.
    first, last : ndarray of int, shape (k,)
        Pieces [first, last).
    hit_index : int
        Last sample clear of the blow.
    period_s : float
        Sampling period.
    kinds : ndarray, shape (s, 8)
        The states, as `cue_signal.standing.KINDS` has them.
    rear_within_s, tilt_sd_m_s2 : float
        How long before the hit the cue may pause at the rear; what tilt and noise add to the mean
        acceleration of a cue at rest.

    Returns
    -------
    ndarray, shape (k, s, 8)
        Of each state: speed and its spread, acceleration and its spread, way to the ball and its
        spread, log odds of coming into it, and of staying in it, against still at the ball.
    """
    values = np.zeros((len(first), len(kinds), 8))
    for k in range(len(first)):
        duration_s = (last[k] - first[k]) * period_s
        lasting_s = max(duration_s - LASTING_S, 0.0)
        is_rear = time_s[hit_index] - time_s[last[k] - 1] < rear_within_s
        for kind in range(len(kinds)):
            values[k, kind, 1] = kinds[kind, 0]
            accel_sd = still_accel_sd_m_s2(kinds[kind, 0], duration_s, tilt_sd_m_s2)
            values[k, kind, 3] = kinds[kind, 1] if kinds[kind, 1] > 0.0 else accel_sd
            values[k, kind, 4], values[k, kind, 5] = kinds[kind, 2], kinds[kind, 3]
            odds = kinds[kind, 4 if is_rear else 5]
            values[k, kind, 6] = odds + kinds[kind, 6] * lasting_s
            values[k, kind, 7] = kinds[kind, 7] * duration_s
    return values


@compiled
def rough_travel(
    time_s: FloatArray, axial_m_s2: FloatArray, n: int, start: int, stop: int, middle: int
) -> FloatArray:
    """Return a first idea of the travel that gravity leaks in by, without a gyroscope.

    Parameters
    ----------
    time_s, axial_m_s2 : ndarray, shape (n or more,)
        Times; raw acceleration along the cue.
    n : int
        Samples asked.
    start, stop, middle : int
        Samples [start, stop) with no speed on the average; sample that travel counts from.

    Returns
    -------
    ndarray, shape (n,)
        In m, no further than LEAK_MOST_M either way.
    """
    speed, way = np.zeros(n), np.zeros(n)
    for k in range(1, n):
        half = 0.5 * (time_s[k] - time_s[k - 1])
        speed[k] = speed[k - 1] + half * (axial_m_s2[k] + axial_m_s2[k - 1])
    mean = 0.0
    for k in range(start, stop):
        mean += speed[k] / (stop - start)
    for k in range(1, n):
        half = 0.5 * (time_s[k] - time_s[k - 1])
        way[k] = way[k - 1] + half * (speed[k] + speed[k - 1] - 2.0 * mean)
    from_m = way[middle]
    for k in range(n):
        way[k] = min(max(way[k] - from_m, -LEAK_MOST_M), LEAK_MOST_M)
    return way


@compiled
def seen_in(
    time_s: FloatArray,
    axial_m_s2: FloatArray,
    n: int,
    first: IntArray,
    last: IntArray,
    hit_index: int,
    middle: int,
    leak: FloatArray,
    sizes: FloatArray,
    gaps: IntArray,
    down: IntArray,
    ahead_s: float,
    touch_s: float,
    after: FloatArray,
) -> FloatArray:
    """Return raw integrals (first column) and what one standard deviation of each drift adds.

    Parameters
    ----------
    time_s, axial_m_s2 : ndarray, shape (n or more,)
        Times; raw acceleration along the cue.
    n : int
        Samples asked.
    first, last : ndarray of int, shape (k,)
        Quiet pieces [first, last).
    hit_index, middle : int
        Last sample clear of the blow; from where on gravity changes.
    leak : ndarray, shape (n,) or (0,)
        Travel by which gravity leaks in, in parts of the travel that ``sizes`` are for.
    sizes : ndarray, shape (q - 1,)
        Standard deviations: start speed, gravity, its change, leak by travel and by its square if
        there is one, speed gained in each gap.
    gaps, down : ndarray of int
        First samples after gaps; moments down on the shot.
    ahead_s, touch_s : float
        From the last clear sample to the touch, and how closely that is known.
    after : ndarray, shape (5,) or (0,)
        First sample clear of the blow, start and stop of the rest after, share of the speed kept,
        part of the balance that no drift changes.

    Returns
    -------
    ndarray, shape (3 k + 2 + r, q + 1)
        Speed, acceleration and way of each piece; speed at the hit; balance after the hit (zeros
        without a rest after); way from each moment down on the shot.
    """
    q = len(sizes) + 1
    begin = first[0] if len(down) == 0 else min(first[0], down[0])
    speed, way = np.zeros((n, q)), np.zeros((n, q))
    shape = np.zeros((n, q))
    for k in range(begin, n):
        shape[k, 0], shape[k, 2], shape[k, 3] = axial_m_s2[k], 1.0, time_s[k] - time_s[middle]
        if len(leak):
            shape[k, 4], shape[k, 5] = leak[k], leak[k] * leak[k]
    for k in range(max(begin, 1), n):
        half = 0.5 * (time_s[k] - time_s[k - 1])
        for j in range(q):
            speed[k, j] = speed[k - 1, j] + half * (shape[k, j] + shape[k - 1, j])
    start = 0.0
    for k in range(first[0], last[0]):
        start += speed[k, 0] / (last[0] - first[0])
    for k in range(n):
        speed[k, 0] -= start
        speed[k, 1] = 1.0
        for g in range(len(gaps)):
            speed[k, q - len(gaps) + g] = 1.0 if k >= gaps[g] else 0.0
    for k in range(1, n):
        half = 0.5 * (time_s[k] - time_s[k - 1])
        for j in range(q):
            way[k, j] = way[k - 1, j] + half * (speed[k, j] + speed[k - 1, j])
    n_pieces = len(first)
    found = np.zeros((3 * n_pieces + 2 + len(down), q + 1))
    late = touch_s * abs(speed[hit_index, 0])
    for j in range(q):
        size = 1.0 if j == 0 else sizes[j - 1]
        at_hit = way[hit_index, j] + speed[hit_index, j] * ahead_s
        for piece in range(n_pieces):
            for k in range(first[piece], last[piece]):
                found[3 * piece, j] += speed[k, j]
                found[3 * piece + 1, j] += shape[k, j]
                found[3 * piece + 2, j] += way[k, j]
            part = size / (last[piece] - first[piece])
            found[3 * piece, j] *= part
            found[3 * piece + 1, j] *= part
            found[3 * piece + 2, j] = size * at_hit - part * found[3 * piece + 2, j]
        row = 3 * n_pieces
        found[row, j] = size * speed[hit_index, j]
        if len(after):
            value = after[3] * speed[hit_index, j] - speed[int(after[0]), j]
            n_rest = after[2] - after[1]
            for k in range(int(after[1]), int(after[2])):
                value += speed[k, j] / n_rest
            found[row + 1, j] = size * (value + (after[4] if j == 0 else 0.0))
        for r in range(len(down)):
            found[row + 2 + r, j] = size * (at_hit - way[down[r], j])
    # the touch is only known to a sample or so as yet: all ways share that
    for piece in range(n_pieces):
        found[3 * piece + 2, q] = late
    for r in range(len(down)):
        found[3 * n_pieces + 2 + r, q] = late
    return found
