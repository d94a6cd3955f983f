"""How the sensor turned over a short stretch, from its angular rate, in compiled loops.

Rotations, as quaternions with the scalar last, map vectors of the sensor's frame at sample k into
the sensor's frame at a reference sample, so that a force measured while the cue turns can be
compared with gravity as it was felt at rest.
"""

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.compiled import compiled
from cue_signal.integrals import weighted_median

LEAST_TURN_RAD = 1e-12


@compiled
def running_product(rate_rad_s: FloatArray, step_s: FloatArray) -> FloatArray:
    """Return the rotations from the frame at each sample into the frame at the first.

    Parameters
    ----------
    rate_rad_s : ndarray, shape (n, 3)
        Angular rate in the sensor's frame, taken at the mean of the ends of each step.
    step_s : ndarray, shape (n - 1,)
        Seconds between samples.

    Returns
    -------
    ndarray, shape (n, 4)
        Unit quaternions, the scalar last.
    """
    found = np.empty((len(rate_rad_s), 4))
    x, y, z, w = 0.0, 0.0, 0.0, 1.0
    found[0, 0], found[0, 1], found[0, 2], found[0, 3] = x, y, z, w
    for k in range(1, len(found)):
        half = 0.25 * step_s[k - 1]
        a = half * (rate_rad_s[k, 0] + rate_rad_s[k - 1, 0])
        b = half * (rate_rad_s[k, 1] + rate_rad_s[k - 1, 1])
        c = half * (rate_rad_s[k, 2] + rate_rad_s[k - 1, 2])
        size = np.sqrt(a * a + b * b + c * c)
        part = np.sin(size) / size if size > LEAST_TURN_RAD else 1.0
        a, b, c, d = a * part, b * part, c * part, np.cos(size)
        x, y, z, w = (
            w * a + x * d + y * c - z * b,
            w * b - x * c + y * d + z * a,
            w * c + x * b - y * a + z * d,
            w * d - x * a - y * b - z * c,
        )
        norm = np.sqrt(x * x + y * y + z * z + w * w)
        x, y, z, w = x / norm, y / norm, z / norm, w / norm
        found[k, 0], found[k, 1], found[k, 2], found[k, 3] = x, y, z, w
    return found


@compiled
def seen_from(turned: FloatArray, index: int) -> FloatArray:
    """Return rotations into the first sample's frame as rotations into that of another sample.

    Parameters
    ----------
    turned : ndarray, shape (n, 4)
        Unit quaternions.
    index : int
        The sample whose frame is wanted.
    """
    a, b, c = -turned[index, 0], -turned[index, 1], -turned[index, 2]
    d = turned[index, 3]
    found = np.empty_like(turned)
    for k in range(len(turned)):
        x, y, z, w = turned[k]
        found[k, 0] = d * x + a * w + b * z - c * y
        found[k, 1] = d * y - a * z + b * w + c * x
        found[k, 2] = d * z + a * y - b * x + c * w
        found[k, 3] = d * w - a * x - b * y - c * z
    return found


@compiled
def rotation_vectors(turned: FloatArray) -> FloatArray:
    """Return axis times angle, up to half a turn, of many rotations.

    Parameters
    ----------
    turned : ndarray, shape (n, 4)
        Unit quaternions.

    Returns
    -------
    ndarray, shape (n, 3)
        In radians.
    """
    found = np.empty((len(turned), 3))
    for k in range(len(turned)):
        x, y, z, w = turned[k]
        if w < 0.0:
            x, y, z, w = -x, -y, -z, -w
        size = np.sqrt(x * x + y * y + z * z)
        # 2 is the limit for no turn at all
        part = 2.0 * np.arctan2(size, w) / size if size > LEAST_TURN_RAD else 2.0
        found[k, 0], found[k, 1], found[k, 2] = part * x, part * y, part * z
    return found


@compiled
def rotated(turned: FloatArray, vectors: FloatArray) -> FloatArray:
    """Return vectors turned each by its rotation.

    Parameters
    ----------
    turned : ndarray, shape (n, 4)
        Unit quaternions.
    vectors : ndarray, shape (n, 3) or (1, 3)
        One for each rotation, or one for all.
    """
    found = np.empty((len(turned), 3))
    is_one = len(vectors) == 1
    for k in range(len(turned)):
        x, y, z, w = turned[k]
        u, v, s = vectors[0 if is_one else k]
        # twice the cross product of axis and vector, and that once more
        a, b, c = 2.0 * (y * s - z * v), 2.0 * (z * u - x * s), 2.0 * (x * v - y * u)
        found[k, 0] = u + w * a + y * c - z * b
        found[k, 1] = v + w * b + z * a - x * c
        found[k, 2] = s + w * c + x * b - y * a
    return found


@compiled
def along(
    accel_m_s2: FloatArray, pointing: FloatArray, time_s: FloatArray, start: int, most_m_s: float
) -> FloatArray:
    """Return the rate of change of the speed along a direction that turns.

    That is a . x + v . dx/dt, with v the speed across, integrated by trapezia from a sample on.

    Parameters
    ----------
    accel_m_s2, pointing : ndarray, shape (n, 3)
        Acceleration a and direction x; the first axis is nearly x.
    time_s : ndarray, shape (n,)
        Times of the samples.
    start : int
        Sample at which nothing moves across.
    most_m_s : float
        Limit to the speed across.

    Returns
    -------
    ndarray, shape (n,)
        In m/s^2.
    """
    n = len(time_s)
    across = np.zeros((n, 2))
    for k in range(1, n):
        half = 0.5 * (time_s[k] - time_s[k - 1])
        for axis in range(2):
            area = half * (accel_m_s2[k, axis + 1] + accel_m_s2[k - 1, axis + 1])
            across[k, axis] = across[k - 1, axis] + area
    found = np.empty(n)
    for k in range(n):
        value = 0.0
        for axis in range(3):
            value += accel_m_s2[k, axis] * pointing[k, axis]
        for axis in range(2):
            speed = across[k, axis] - across[start, axis]
            speed = min(max(speed, -most_m_s), most_m_s)
            value += speed * _slope(pointing, time_s, k, axis + 1)
        found[k] = value
    return found


@compiled
def _slope(values: FloatArray, time_s: FloatArray, k: int, axis: int) -> float:
    """Return the slope at a sample of the parabola through it and its neighbours."""
    last = len(time_s) - 1
    if k == 0 or k == last:
        low = 0 if k == 0 else last - 1
        rise = values[low + 1, axis] - values[low, axis]
        return float(rise / (time_s[low + 1] - time_s[low]))
    before, after = time_s[k] - time_s[k - 1], time_s[k + 1] - time_s[k]
    fell = (values[k, axis] - values[k - 1, axis]) / before
    rose = (values[k + 1, axis] - values[k, axis]) / after
    return float((fell * after + rose * before) / (before + after))


@compiled
def last_away(turned: FloatArray, index: int, most_rad: float) -> int:
    """Return the last sample before another that is turned against it by more than an angle.

    Parameters
    ----------
    turned : ndarray, shape (n, 4)
        Unit quaternions.
    index : int
        The other sample.
    most_rad : float
        The angle, up to half a turn.

    Returns
    -------
    int
        -1 for none.
    """
    least = np.cos(0.5 * most_rad)
    k = index
    while k >= 0:
        total = 0.0
        for j in range(4):
            total += turned[k, j] * turned[index, j]
        if abs(total) < least:
            return k
        k -= 1
    return k


@compiled
def motion_in(
    frame: FloatArray,
    seen: FloatArray,
    turn_rad: FloatArray,
    level_m_s2: FloatArray,
    gravity_m_s2: FloatArray,
    time_s: FloatArray,
    start: int,
    most_m_s: float,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return acceleration, rate of change of the speed along the cue, and turn in a cue's frame.

    Parameters
    ----------
    frame : ndarray, shape (3, 3)
        Rows: the cue, left and up, in the sensor's frame at a reference.
    seen, turn_rad : ndarray, shape (n, 4), (n, 3)
        Rotations into the sensor's frame at the reference, and their vectors.
    level_m_s2 : ndarray, shape (n, 3)
        Force turned into the same.
    gravity_m_s2 : ndarray, shape (3,)
        What of it is gravity.
    time_s, start, most_m_s
        As for `along`.

    Returns
    -------
    tuple of ndarray (n, 3), (n,), (n, 3)
        In the cue's frame.
    """
    n = len(seen)
    cue = np.empty((1, 3))
    for j in range(3):
        cue[0, j] = frame[0, j]
    pointing = rotated(seen, cue)
    accel, turn, ahead = np.zeros((n, 3)), np.zeros((n, 3)), np.zeros((n, 3))
    for k in range(n):
        for i in range(3):
            for j in range(3):
                accel[k, i] += frame[i, j] * (level_m_s2[k, j] - gravity_m_s2[j])
                turn[k, i] += frame[i, j] * turn_rad[k, j]
                ahead[k, i] += frame[i, j] * pointing[k, j]
    return accel, along(accel, ahead, time_s, start, most_m_s), turn


@compiled
def agreed_gravity(
    means_m_s2: FloatArray,
    weight: FloatArray,
    about_m_s2: FloatArray,
    about_within_m_s2: float,
    within_m_s2: float,
) -> FloatArray:
    """Return the force that most of the quiet time agrees on, and how much time does.

    Parameters
    ----------
    means_m_s2 : ndarray, shape (k, 3)
        Mean force of each quiet stretch, turned into one frame.
    weight : ndarray, shape (k,)
        Their weights.
    about_m_s2 : ndarray, shape (3,)
        What gravity is known to be about.
    about_within_m_s2, within_m_s2 : float
        Stretches further from that, or from the weighted median of the others, do not count.

    Returns
    -------
    ndarray, shape (4,)
        The force, and the weight of those that agree; that is 0 if they are fewer than two.
    """
    near = np.empty(len(weight), np.int64)
    n_near, found = 0, np.zeros(4)
    for k in range(len(weight)):
        if _distance(means_m_s2, k, about_m_s2) < about_within_m_s2:
            near[n_near] = k
            n_near += 1
    if n_near < 2:
        return found
    kept, kept_weight = np.empty((n_near, 3)), np.empty(n_near)
    for k in range(n_near):
        kept_weight[k] = weight[near[k]]
        for j in range(3):
            kept[k, j] = means_m_s2[near[k], j]
    centre, n_agree = weighted_median(kept, kept_weight), 0
    for k in range(n_near):
        if _distance(kept, k, centre) < within_m_s2:
            n_agree += 1
            found[3] += kept_weight[k]
            for j in range(3):
                found[j] += kept_weight[k] * kept[k, j]
    if n_agree < 2:
        found[3] = 0.0
        return found
    for j in range(3):
        found[j] /= found[3]
    return found


@compiled
def _distance(rows: FloatArray, k: int, point: FloatArray) -> float:
    """Return how far a row lies from a point."""
    total = 0.0
    for j in range(len(point)):
        total += (rows[k, j] - point[j]) ** 2
    return float(np.sqrt(total))
