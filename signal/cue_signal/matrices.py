"""Factors of small matrices, for compiled loops."""

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.compiled import compiled

LEAST_PIVOT = 1e-300


@compiled
def factor(matrix: FloatArray) -> None:
    """Turn the lower half of a positive definite matrix into its Cholesky factor, in place.

    Parameters
    ----------
    matrix : ndarray, shape (n, n)
        Only its lower half is read and written.
    """
    for row in range(len(matrix)):
        for column in range(row + 1):
            rest = matrix[row, column]
            for k in range(column):
                rest -= matrix[row, k] * matrix[column, k]
            if row > column:
                matrix[row, column] = rest / matrix[column, column]
            else:
                matrix[row, row] = np.sqrt(max(rest, LEAST_PIVOT))


@compiled
def forward(lower: FloatArray, right: FloatArray) -> None:
    """Turn a vector into lower^-1 vector, in place.

    Parameters
    ----------
    lower : ndarray, shape (n, n)
        Lower factor.
    right : ndarray, shape (n,)
        The vector.
    """
    for row in range(len(right)):
        rest = right[row]
        for k in range(row):
            rest -= lower[row, k] * right[k]
        right[row] = rest / lower[row, row]


@compiled
def backward(lower: FloatArray, right: FloatArray) -> None:
    """Turn a vector into lower^-T vector, in place.

    Parameters
    ----------
    lower : ndarray, shape (n, n)
        Lower factor.
    right : ndarray, shape (n,)
        The vector.
    """
    for row in range(len(right) - 1, -1, -1):
        rest = right[row]
        for k in range(row + 1, len(right)):
            rest -= lower[k, row] * right[k]
        right[row] = rest / lower[row, row]


@compiled
def log_root(lower: FloatArray) -> float:
    """Return half the logarithm of the determinant of the matrix that was factored.

    Parameters
    ----------
    lower : ndarray, shape (n, n)
        Its lower factor.
    """
    total = 0.0
    for row in range(len(lower)):
        total += np.log(lower[row, row])
    return total
