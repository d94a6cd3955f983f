"""The compiled loops of the fit of a hit: one small Gaussian a grid point.

At each point the m samples about the blow have the covariance

    (1 - W) (1 - W)' D + W W' F + L L' + diag(v)

with W the share of the blow passed, D and F what the far samples leave open of delivery and
follow-through, L what one standard deviation of speed lost or regained adds, v the noise. The
points are taken LANES at a time, the innermost loop running over them, so that the processor works
on several in one instruction.
"""

from math import erfc

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.compiled import compiled
from cue_signal.lanes import LANES, backward_lanes, forward_lanes, whiten_lanes

LOG_TWO_PI = float(np.log(2 * np.pi))
LEAST_LOG_BEYOND = -20.0
"""A clipped sample that the model puts far inside the range tells no more against it than this."""


@compiled
def interpolated(
    rows: FloatArray, row_index: IntArray, at_s: FloatArray, first_s: float, step_s: float
) -> FloatArray:
    """Return tabled curves between their entries, by straight lines.

    Parameters
    ----------
    rows : ndarray, shape (k, n)
        Curves at even steps.
    row_index : ndarray of int, shape (c,)
        Which curve.
    at_s : ndarray, shape (c, m)
        Where on it; the ends hold beyond the ends.
    first_s, step_s : float
        Where the first entry lies, and how far apart they are.

    Returns
    -------
    ndarray, shape (c, m)
        The values.
    """
    most = rows.shape[1] - 1.001
    found = np.empty(at_s.shape)
    for c in range(at_s.shape[0]):
        row = rows[row_index[c]]
        for k in range(at_s.shape[1]):
            place = min(max((at_s[c, k] - first_s) / step_s, 0.0), most)
            low = int(place)
            part = place - low
            found[c, k] = row[low] * (1.0 - part) + row[low + 1] * part
    return found


@compiled
def gains(
    curves: FloatArray, step_s: float, until_s: FloatArray, window_s: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return areas under curves until some times, and their mean heights just before.

    Parameters
    ----------
    curves : ndarray, shape (t, p + 1)
        Standard deviations of acceleration at even steps, and its mean in the last column.
    step_s : float
        Between rows.
    until_s : ndarray, shape (c,)
        Times after the first row.
    window_s : float
        The mean height is over this time before.

    Returns
    -------
    tuple of ndarray (c, p), (c, p), (c, 4)
        Areas and heights for each deviation; area and height of the mean, and the variances of
        both.
    """
    area = np.zeros(curves.shape)
    for k in range(1, len(area)):
        for j in range(len(area[0])):
            area[k, j] = area[k - 1, j] + 0.5 * step_s * (curves[k, j] + curves[k - 1, j])
    n, p = len(until_s), len(curves[0]) - 1
    to_end, late, own = np.empty((n, p)), np.empty((n, p)), np.zeros((n, 4))
    most = len(area) - 1.001
    for c in range(n):
        end = min(max(until_s[c] / step_s, 0.0), most)
        start = min(max((until_s[c] - window_s) / step_s, 0.0), most)
        a, b = int(end), int(start)
        x, y = end - a, start - b
        for j in range(p + 1):
            gained = area[a, j] * (1.0 - x) + area[a + 1, j] * x
            height = (gained - area[b, j] * (1.0 - y) - area[b + 1, j] * y) / window_s
            if j == p:
                own[c, 0], own[c, 1] = gained, height
            else:
                to_end[c, j], late[c, j] = gained, height
                own[c, 2] += gained * gained
                own[c, 3] += height * height
    return to_end, late, own


@compiled
def _gather(
    points: IntArray,
    start: int,
    lanes: int,
    index: IntArray,
    n_used: int,
    accel_m_s2: FloatArray,
    blow: FloatArray,
    sizes: FloatArray,
    delivery_mean: FloatArray,
    parts: FloatArray,
    rights: FloatArray,
) -> None:
    """Write what each sample owes to the blow at some points, and how far it lies from its mean.

    Rows of ``parts``: share of the delivery, of the follow-through, two speeds regained, the speed
    lost, noise. The first of ``rights`` becomes the residuals; for a clipped sample, the mean
    itself.
    """
    for lane in range(lanes):
        c = points[start + lane]
        for a in range(len(index)):
            i = index[a]
            shape, passed = blow[c, i, 0], blow[c, i, 1]
            parts[0, a, lane], parts[1, a, lane] = 1.0 - passed, passed
            parts[2, a, lane] = blow[c, i, 3] * sizes[2]
            parts[3, a, lane] = blow[c, i, 4] * sizes[2]
            parts[4, a, lane] = shape * sizes[1]
            parts[5, a, lane] = sizes[4] + (sizes[3] * blow[c, i, 2]) ** 2 + passed * passed
            centre = (1.0 - passed) * delivery_mean[i] - sizes[0] * shape
            centre += sizes[5] * (blow[c, i, 3] + blow[c, i, 4])
            rights[0, a, lane] = accel_m_s2[i] - centre if a < n_used else centre


@compiled
def _covariance(
    into: FloatArray,
    lanes: int,
    index: IntArray,
    parts: FloatArray,
    follow: FloatArray,
    delivery: FloatArray,
) -> None:
    """Write the lower half of the covariance of some samples at some points."""
    for a in range(len(index)):
        for b in range(a + 1):
            before, after = delivery[index[a], index[b]], follow[index[a], index[b]]
            for lane in range(lanes):
                value = parts[0, a, lane] * parts[0, b, lane] * before
                value += parts[1, a, lane] * parts[1, b, lane] * after
                value += parts[2, a, lane] * parts[2, b, lane]
                value += parts[3, a, lane] * parts[3, b, lane]
                into[a, b, lane] = value + parts[4, a, lane] * parts[4, b, lane]
        for lane in range(lanes):
            into[a, a, lane] += parts[5, a, lane]


@compiled
def _evidence(
    lower: FloatArray,
    rights: FloatArray,
    lane: int,
    n_used: int,
    index: IntArray,
    accel_m_s2: FloatArray,
) -> float:
    """Return the log evidence of used samples, and of clipped ones as beyond the range."""
    evidence, root = -0.5 * n_used * LOG_TWO_PI, 1.0
    for a in range(n_used):
        root *= lower[a, a, lane]
        evidence -= 0.5 * rights[0, a, lane] ** 2
    evidence += np.log(root)
    for a in range(n_used, len(index)):
        centre, var = rights[0, a, lane], lower[a, a, lane]
        for b in range(n_used):
            centre += lower[a, b, lane] * rights[0, b, lane]
        given = accel_m_s2[index[a]]
        beyond = (centre - given) * np.sign(given) / np.sqrt(var)
        chance = 0.5 * erfc(-beyond / np.sqrt(2.0))
        evidence += max(np.log(chance), LEAST_LOG_BEYOND) if chance > 0.0 else LEAST_LOG_BEYOND
    return float(evidence)


@compiled
def posteriors(
    points: IntArray,
    index: IntArray,
    n_used: int,
    accel_m_s2: FloatArray,
    blow: FloatArray,
    sizes: FloatArray,
    follow: FloatArray,
    delivery: FloatArray,
    delivery_mean: FloatArray,
    to_end: FloatArray,
    late: FloatArray,
    given: FloatArray,
    asked: FloatArray,
    asked_var: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return log evidence and, if asked, moments of the model and what pulls the delivery.

    Parameters
    ----------
    points : ndarray of int, shape (c',)
        Which of the c grid points.
    index : ndarray of int, shape (m',)
        Samples asked: the used ones first, then the clipped ones.
    n_used : int
        Number of used ones.
    accel_m_s2 : ndarray, shape (m,)
        The samples about the blow.
    blow : ndarray, shape (c, m, 5)
        Per m/s: shape of the blow, its share passed, its error, two speeds regained.
    sizes : ndarray, shape (6,)
        Mean and standard deviation of the speed lost, standard deviation of each speed regained,
        what the error is multiplied with, variance of the noise, mean of each speed regained.
    follow, delivery : ndarray, shape (m, m)
        Covariances of follow-through and delivery.
    delivery_mean : ndarray, shape (m,)
        Mean of the delivery.
    to_end, late : ndarray, shape (c', m)
        Covariance of each sample, were it all delivery, with the gain of speed and with the late
        acceleration.
    given : ndarray, shape (c', 3)
        How much one standard deviation of each speed regained, and of the speed lost, has come to
        when it is asked for.
    asked, asked_var : ndarray, shape (c', 4) or (0, 4)
        Gain, late acceleration, speed lost and speed regained before these samples; without rows
        the evidence alone is wanted.

    Returns
    -------
    tuple of ndarray (c',), (c', 4), (c', 4), (c', m)
        Evidence, of the samples about the blow alone; mean and variance of the four; what each
        sample, were it all delivery, adds to the mean of all that varies with the delivery, per
        covariance with it.
    """
    n = len(index)
    evidence, pulled = np.empty(len(points)), np.zeros((len(asked), len(accel_m_s2)))
    found, spread = asked.copy(), asked_var.copy()
    matrix, rights = np.empty((n, n, LANES)), np.empty((5, n, LANES))
    parts = np.empty((6, n, LANES))
    for start in range(0, len(points), LANES):
        lanes = min(LANES, len(points) - start)
        _gather(
            points,
            start,
            lanes,
            index,
            n_used,
            accel_m_s2,
            blow,
            sizes,
            delivery_mean,
            parts,
            rights,
        )
        _covariance(matrix, lanes, index, parts, follow, delivery)
        whiten_lanes(matrix, lanes, rights, n_used, n)
        for lane in range(lanes):
            c = start + lane
            evidence[c] = _evidence(matrix, rights, lane, n_used, index, accel_m_s2)
        if len(asked) == 0:
            continue
        for lane in range(lanes):
            c = start + lane
            for a in range(n_used):
                rights[1, a, lane] = parts[0, a, lane] * to_end[c, index[a]]
                rights[2, a, lane] = parts[0, a, lane] * late[c, index[a]]
                rights[3, a, lane] = parts[4, a, lane] * given[c, 2]
                regained = parts[2, a, lane] * given[c, 0]
                rights[4, a, lane] = regained + parts[3, a, lane] * given[c, 1]
        for q in range(4):
            forward_lanes(matrix, lanes, rights, q + 1, n_used)
            for a in range(n_used):
                for lane in range(lanes):
                    part = rights[q + 1, a, lane]
                    found[start + lane, q] += part * rights[0, a, lane]
                    spread[start + lane, q] -= part * part
        backward_lanes(matrix, lanes, rights, n_used)
        for lane in range(lanes):
            for q in range(4):
                spread[start + lane, q] = max(spread[start + lane, q], 0.0)
            for a in range(n_used):
                pulled[start + lane, index[a]] = rights[0, a, lane] * parts[0, a, lane]
    return evidence, found, spread, pulled
