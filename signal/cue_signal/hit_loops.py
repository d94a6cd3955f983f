"""The compiled loops of the fit of a hit: one small Gaussian a grid point.

At each point the m samples about the blow have the covariance

    (1 - W) (1 - W)' D + W W' F + L L' + diag(v)

with W the share of the blow passed, D and F what the far samples leave open of delivery and
follow-through, L what one standard deviation of speed lost or regained adds, v the noise.
"""

from math import erfc

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.compiled import compiled
from cue_signal.matrices import backward, factor, forward, log_root

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
def reweighted(
    features: FloatArray,
    accel_m_s2: FloatArray,
    kernel_inverse: FloatArray,
    noise_var: float,
    freedom: float,
    n_rounds: int,
) -> FloatArray:
    """Return variances of samples, greater for those that stray (weights of Student's t).

    Parameters
    ----------
    features : ndarray, shape (n, p)
        Of the smooth process.
    accel_m_s2 : ndarray, shape (n,)
        The samples.
    kernel_inverse : ndarray, shape (p, p)
        Precision of its weights.
    noise_var : float
        Least variance of a sample.
    freedom : float
        Degrees of freedom.
    n_rounds : int
        Rounds of re-weighting.
    """
    var = np.full(len(accel_m_s2), noise_var)
    for _ in range(n_rounds):
        lower, weights = _regressed(features, accel_m_s2, kernel_inverse, var)
        backward(lower, weights, 0, len(lower))
        for k in range(len(var)):
            stray = accel_m_s2[k]
            for j in range(len(lower)):
                stray -= features[k, j] * weights[0, j]
            var[k] = max((freedom * noise_var + stray * stray) / (freedom + 1.0), noise_var)
    return var


@compiled
def regressed(
    features: FloatArray, accel_m_s2: FloatArray, kernel_inverse: FloatArray, var: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """Return mean and root of the covariance of a process's weights, and the log evidence.

    Parameters
    ----------
    features : ndarray, shape (n, p)
        Of the smooth process.
    accel_m_s2, var : ndarray, shape (n,)
        Samples and their variances.
    kernel_inverse : ndarray, shape (p, p)
        Precision of its weights.

    Returns
    -------
    tuple of ndarray (p,), ndarray (p, p), float
        Covariance is root @ root.T.
    """
    lower, pull = _regressed(features, accel_m_s2, kernel_inverse, var)
    p = len(lower)
    evidence = -log_root(lower, p)
    for k in range(len(var)):
        evidence -= 0.5 * (accel_m_s2[k] ** 2 / var[k] + np.log(var[k]) + LOG_TWO_PI)
    prior = kernel_inverse.copy()
    factor(prior, p)
    evidence += log_root(prior, p)
    for j in range(p):
        evidence += 0.5 * pull[0, j] ** 2
    backward(lower, pull, 0, p)
    mean, root, column = np.empty(p), np.empty((p, p)), np.zeros((1, p))
    for j in range(p):
        mean[j] = pull[0, j]
        for i in range(p):
            column[0, i] = 1.0 if i == j else 0.0
        backward(lower, column, 0, p)
        for i in range(p):
            root[i, j] = column[0, i]
    return mean, root, evidence


@compiled
def _regressed(
    features: FloatArray, accel_m_s2: FloatArray, kernel_inverse: FloatArray, var: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the factor of the weights' precision, and factor^-1 of what the samples pull."""
    precision = kernel_inverse.copy()
    p = len(precision)
    pull = np.zeros((1, p))
    for k in range(len(var)):
        for i in range(p):
            weighed = features[k, i] / var[k]
            pull[0, i] += weighed * accel_m_s2[k]
            for j in range(i + 1):
                precision[i, j] += weighed * features[k, j]
    factor(precision, p)
    forward(precision, pull, 0, p)
    return precision, pull


@compiled
def _covariance(
    into: FloatArray,
    c: int,
    index: IntArray,
    passed: FloatArray,
    lost: FloatArray,
    var: FloatArray,
    follow: FloatArray,
    delivery: FloatArray,
) -> None:
    """Write the lower half of the covariance of some samples at point c."""
    for a in range(len(index)):
        i = index[a]
        for b in range(a + 1):
            j = index[b]
            value = (1.0 - passed[c, i]) * (1.0 - passed[c, j]) * delivery[i, j]
            value += passed[c, i] * passed[c, j] * follow[i, j]
            for k in range(lost.shape[2]):
                value += lost[c, i, k] * lost[c, j, k]
            into[a, b] = value
        into[a, a] += var[c, index[a]]


@compiled
def _evidence(
    lower: FloatArray,
    told: FloatArray,
    c: int,
    n_used: int,
    index: IntArray,
    accel_m_s2: FloatArray,
    mean: FloatArray,
) -> float:
    """Return the log evidence of used samples, and of clipped ones as beyond the range."""
    evidence = -0.5 * n_used * LOG_TWO_PI
    for a in range(n_used):
        evidence -= np.log(lower[a, a]) + 0.5 * told[0, a] ** 2
    for a in range(n_used, len(index)):
        centre, var = mean[index[a]], lower[a, a]
        for b in range(n_used):
            centre += lower[a, b] * told[0, b]
        given = accel_m_s2[index[a]]
        beyond = (centre - given) * np.sign(given) / np.sqrt(var)
        chance = 0.5 * erfc(-beyond / np.sqrt(2.0))
        evidence += max(np.log(chance), LEAST_LOG_BEYOND) if chance > 0.0 else LEAST_LOG_BEYOND
    return evidence


@compiled
def _whiten(
    matrix: FloatArray,
    told: FloatArray,
    c: int,
    n_used: int,
    index: IntArray,
    accel_m_s2: FloatArray,
    mean: FloatArray,
) -> None:
    """Factor the used samples' covariance, take it out of the clipped rows and the residuals.

    A clipped row keeps its remaining variance on the diagonal.
    """
    factor(matrix, n_used)
    for a in range(n_used):
        told[0, a] = accel_m_s2[index[a]] - mean[index[a]]
    forward(matrix, told, 0, n_used)
    for a in range(n_used, len(index)):
        forward(matrix, matrix, a, n_used)
        for b in range(n_used):
            matrix[a, a] -= matrix[a, b] ** 2


@compiled
def evidences(
    index: IntArray,
    n_used: int,
    accel_m_s2: FloatArray,
    passed: FloatArray,
    lost: FloatArray,
    var: FloatArray,
    mean: FloatArray,
    follow: FloatArray,
    delivery: FloatArray,
    delivery_mean: FloatArray,
) -> FloatArray:
    """Return the log evidence at every grid point.

    Parameters
    ----------
    index : ndarray of int, shape (m',)
        Samples asked: the used ones first, then the clipped ones.
    n_used : int
        Number of used ones.
    accel_m_s2 : ndarray, shape (m,)
        The samples about the blow.
    passed, var, mean : ndarray, shape (c, m)
        Share of the blow passed, noise, and mean of the speed lost.
    lost : ndarray, shape (c, m, k)
        What one standard deviation of each speed lost or regained adds.
    follow, delivery : ndarray, shape (m, m)
        Covariances of follow-through and delivery.
    delivery_mean : ndarray, shape (m,)
        Mean of the delivery.

    Returns
    -------
    ndarray, shape (c,)
        Of the samples about the blow alone.
    """
    found = np.empty(len(passed))
    matrix, told = np.empty((len(index), len(index))), np.empty((1, len(index)))
    centre = np.empty(len(accel_m_s2))
    for c in range(len(passed)):
        for i in range(len(centre)):
            centre[i] = (1.0 - passed[c, i]) * delivery_mean[i] + mean[c, i]
        _covariance(matrix, c, index, passed, lost, var, follow, delivery)
        _whiten(matrix, told, c, n_used, index, accel_m_s2, centre)
        found[c] = _evidence(matrix, told, c, n_used, index, accel_m_s2, centre)
    return found


@compiled
def posteriors(
    index: IntArray,
    n_used: int,
    accel_m_s2: FloatArray,
    passed: FloatArray,
    lost: FloatArray,
    var: FloatArray,
    mean: FloatArray,
    follow: FloatArray,
    delivery: FloatArray,
    delivery_mean: FloatArray,
    to_weights: FloatArray,
    to_end: FloatArray,
    late: FloatArray,
    given: FloatArray,
    asked: FloatArray,
    asked_var: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return log evidence, what is asked of the model, and the delivery's weights.

    Parameters
    ----------
    index, n_used, accel_m_s2, passed, lost, var, mean, follow, delivery, delivery_mean
        As for `evidences`; the last column of ``lost`` is the speed lost, those before it the
        speeds regained.
    to_weights : ndarray, shape (m, p)
        Covariance of each sample, were it all delivery, with the delivery's weights over root.
    to_end, late : ndarray, shape (c, p)
        What each weight over root adds to the gain of speed, and to the late acceleration.
    given : ndarray, shape (c, k)
        How much one standard deviation of each speed has come to when it is asked for.
    asked, asked_var : ndarray, shape (c, 4)
        Gain, late acceleration, speed lost and speed regained before these samples.

    Returns
    -------
    tuple of ndarray (c,), (c, 4), (c, 4), (c, p)
        Evidence, mean and variance of the four, mean of the weights over root.
    """
    n, p, n_lost = len(passed), to_weights.shape[1], lost.shape[2]
    evidence, weights = np.empty(n), np.zeros((n, p))
    found, spread = asked.copy(), asked_var.copy()
    matrix, told = np.empty((len(index), len(index))), np.empty((1, len(index)))
    centre, shared = np.empty(len(accel_m_s2)), np.empty((4, n_used))
    for c in range(n):
        for i in range(len(centre)):
            centre[i] = (1.0 - passed[c, i]) * delivery_mean[i] + mean[c, i]
        _covariance(matrix, c, index, passed, lost, var, follow, delivery)
        _whiten(matrix, told, c, n_used, index, accel_m_s2, centre)
        evidence[c] = _evidence(matrix, told, c, n_used, index, accel_m_s2, centre)
        for a in range(n_used):
            i = index[a]
            shared[0, a], shared[1, a], shared[3, a] = 0.0, 0.0, 0.0
            for j in range(p):
                part = (1.0 - passed[c, i]) * to_weights[i, j]
                shared[0, a] += part * to_end[c, j]
                shared[1, a] += part * late[c, j]
            shared[2, a] = lost[c, i, n_lost - 1] * given[c, n_lost - 1]
            for k in range(n_lost - 1):
                shared[3, a] += lost[c, i, k] * given[c, k]
        for q in range(4):
            forward(matrix, shared, q, n_used)
            for a in range(n_used):
                found[c, q] += shared[q, a] * told[0, a]
                spread[c, q] -= shared[q, a] ** 2
            spread[c, q] = max(spread[c, q], 0.0)
        backward(matrix, told, 0, n_used)
        for a in range(n_used):
            i = index[a]
            for j in range(p):
                weights[c, j] += told[0, a] * (1.0 - passed[c, i]) * to_weights[i, j]
    return evidence, found, spread, weights
