"""The compiled loops that say what drift adds to the acceleration along the cue, and how much."""

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.compiled import compiled
from cue_signal.rest_loops import pieces_of

WANDER_STEP_S = 0.4
"""Distance of the support points of gravity's wandering."""
LEAK_TRAVEL_M, LEAK_MOST_M = 0.2, 0.6
"""Travel that a leak of gravity is stated for, and beyond which it grows no further."""
LEAK = (4, 6)
"""First place of the leak's terms among those of all drift, the speed at the start the first, and
one past their last."""


@compiled
def still_accel_sd_m_s2(speed_sd_m_s: float, duration_s: float, tilt_sd_m_s2: float) -> float:
    """Return the spread of the mean acceleration of a still stretch.

    Parameters
    ----------
    speed_sd_m_s : float
        Spread of the speeds that it begins and ends with.
    duration_s : float
        How long it lasts.
    tilt_sd_m_s2 : float
        What tilt and noise add.
    """
    gained = np.sqrt(2.0) * speed_sd_m_s / max(duration_s, 1e-3)
    return float(np.sqrt(gained * gained + tilt_sd_m_s2 * tilt_sd_m_s2))


@compiled
def shape_at(
    shape: FloatArray,
    k: int,
    time_s: FloatArray,
    travel_m: FloatArray,
    middle: int,
    hit_index: int,
    n_knots: int,
) -> None:
    """Write what one unit of each drift term adds to the acceleration at a sample.

    Parameters
    ----------
    shape : ndarray, shape (q + 1,)
        Written from its third place on: gravity, its slow change and, with knots, leak by the
        travel and by its square, and wander.
    k : int
        The sample.
    time_s, travel_m : ndarray, shape (n,)
        Times; travel that the leak goes by.
    middle, hit_index : int
        Sample from which on gravity changes and travel counts; last one clear of the blow.
    n_knots : int
        Support points of the wander, 0 with a gyroscope.
    """
    shape[2], shape[3] = 1.0, time_s[k] - time_s[middle]
    if n_knots == 0:
        return
    leak_at(shape, k, travel_m, middle)
    # support points before the hit, the last one there; a sample lies between two of them
    place = (time_s[hit_index] - time_s[k]) / WANDER_STEP_S
    for knot in range(n_knots):
        shape[6 + knot] = max(1.0 - abs(place - knot), 0.0)


@compiled
def leak_at(shape: FloatArray, k: int, travel_m: FloatArray, middle: int) -> None:
    """Write the part of `shape_at` that depends on the travel: places LEAK of ``shape``."""
    way = min(max(travel_m[k] - travel_m[middle], -LEAK_MOST_M), LEAK_MOST_M) / LEAK_TRAVEL_M
    shape[4], shape[5] = way, way * way


@compiled
def shapes_at(
    q: int,
    time_s: FloatArray,
    travel_m: FloatArray,
    middle: int,
    hit_index: int,
    n_knots: int,
) -> FloatArray:
    """Return the same at all samples, shape (n, q); arguments as for `shape_at`."""
    shapes, shape = np.zeros((len(time_s), q)), np.zeros(q + 1)
    for k in range(len(time_s)):
        shape_at(shape, k, time_s, travel_m, middle, hit_index, n_knots)
        for j in range(q):
            shapes[k, j] = shape[j + 1]
    return shapes


@compiled
def wander_size(
    axial_m_s2: FloatArray,
    start: IntArray,
    stop: IntArray,
    speed_sd_m_s: FloatArray,
    n_piece: int,
    most_sd_m_s: float,
    usual_m_s2: float,
    weight: float,
) -> float:
    """Return how much gravity along a held cue wanders, from the pieces of the rests.

    Parameters
    ----------
    axial_m_s2 : ndarray, shape (n,)
        Raw acceleration along the cue.
    start, stop, speed_sd_m_s, n_piece
        As for `solved`.
    most_sd_m_s : float
        Rests less still than this say nothing.
    usual_m_s2, weight : float
        The usual size, and as how many steps it counts.
    """
    first, last, of = pieces_of(start, stop, n_piece)
    total, n_steps, before = weight * usual_m_s2**2, 0, 0.0
    for piece in range(len(first)):
        mean = 0.0
        for k in range(first[piece], last[piece]):
            mean += axial_m_s2[k] / (last[piece] - first[piece])
        is_step = piece > 0 and of[piece] == of[piece - 1]
        if is_step and speed_sd_m_s[of[piece]] <= most_sd_m_s:
            # a step between two independent values has twice the variance of one
            total += 0.5 * (mean - before) ** 2
            n_steps += 1
        before = mean
    return float(np.sqrt(total / (weight + n_steps)))
