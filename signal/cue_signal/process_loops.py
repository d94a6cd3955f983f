"""The compiled loops that put a smooth process through samples."""

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.compiled import compiled
from cue_signal.matrices import FIRST, backward, factor, forward, log_root

LOG_TWO_PI = float(np.log(2 * np.pi))


@compiled
def regressed(
    features: FloatArray,
    accel_m_s2: FloatArray,
    used: IntArray,
    kernel_inverse: FloatArray,
    noise_var: float,
    freedom: float,
    n_rounds: int,
) -> tuple[FloatArray, FloatArray, FloatArray, float]:
    """Return mean and root of the covariance of a process's weights, and the log evidence.

    Parameters
    ----------
    features : ndarray, shape (n, p)
        Of the smooth process.
    accel_m_s2 : ndarray, shape (n,)
        Samples.
    used : ndarray of int, shape (m,)
        Which of them count.
    kernel_inverse : ndarray, shape (p, p)
        Precision of its weights.
    noise_var : float
        Least variance of a sample.
    freedom : float
        Degrees of freedom of Student's t.
    n_rounds : int
        Rounds of re-weighting, by which samples that stray get a greater variance; may be none.

    Returns
    -------
    tuple of ndarray (p,), ndarray (p, p), ndarray (m,), float
        Mean; covariance is root @ root.T; variances of the used samples; log evidence.
    """
    var = np.full(len(used), noise_var)
    p = len(kernel_inverse)
    lower, pull = np.empty((p, p)), np.empty((1, p))
    for turn in range(n_rounds + 1):
        if turn > 0:
            backward(lower, pull, FIRST, p)
        for k in range(len(var) if turn > 0 else 0):
            stray = accel_m_s2[used[k]]
            for j in range(p):
                stray -= features[used[k], j] * pull[0, j]
            var[k] = max((freedom * noise_var + stray * stray) / (freedom + 1.0), noise_var)
        _regress(features, accel_m_s2, used, kernel_inverse, var, lower, pull)
    evidence = -log_root(lower, p)
    for k in range(len(var)):
        evidence -= 0.5 * (accel_m_s2[used[k]] ** 2 / var[k] + np.log(var[k]) + LOG_TWO_PI)
    prior = kernel_inverse.copy()
    factor(prior, p)
    evidence += log_root(prior, p)
    for j in range(p):
        evidence += 0.5 * pull[0, j] ** 2
    backward(lower, pull, FIRST, p)
    mean, root, column = np.empty(p), np.zeros((p, p)), np.zeros((1, p))
    for j in range(p):
        mean[j] = pull[0, j]
        for i in range(j + 1):
            column[0, i] = 1.0 if i == j else 0.0
        # nothing of it lies below the diagonal
        backward(lower, column, FIRST, j + 1)
        for i in range(j + 1):
            root[i, j] = column[0, i]
    return mean, root, var, evidence


@compiled
def _regress(
    features: FloatArray,
    accel_m_s2: FloatArray,
    used: IntArray,
    kernel_inverse: FloatArray,
    var: FloatArray,
    precision: FloatArray,
    pull: FloatArray,
) -> None:
    """Write the factor of the weights' precision, and factor^-1 of what the samples pull."""
    p = len(precision)
    for i in range(p):
        pull[0, i] = 0.0
        for j in range(i + 1):
            precision[i, j] = kernel_inverse[i, j]
    for k in range(len(var)):
        row, weight = used[k], 1.0 / var[k]
        for i in range(p):
            weighed = weight * features[row, i]
            pull[0, i] += weighed * accel_m_s2[row]
            for j in range(i + 1):
                precision[i, j] += weighed * features[row, j]
    factor(precision, p)
    forward(precision, pull, FIRST, p)
