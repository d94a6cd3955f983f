"""Factors of many small matrices at once, for compiled loops.

The innermost loop runs over the matrices, so that the processor works on several in one go.
"""

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.compiled import compiled
from cue_signal.matrices import FIRST, LEAST_PIVOT

LANES = 32
"""Grid points taken at once: their matrices fill the processor's nearest memory."""


@compiled
def forward_lanes(lower: FloatArray, lanes: int, rights: FloatArray, right: int, n: int) -> None:
    """Turn vectors into lower^-1 vector, in place, at many points at once.

    Parameters
    ----------
    lower : ndarray, shape (n or more, n or more, LANES)
        Lower factors as `whiten_lanes` leaves them.
    lanes : int
        How many points are taken.
    rights : ndarray, shape (k, n or more, LANES)
        Vectors.
    right, n : int
        Which of them; rows and columns taken.
    """
    for row in range(n):
        for k in range(row):
            for lane in range(lanes):
                rights[right, row, lane] -= lower[row, k, lane] * rights[right, k, lane]
        for lane in range(lanes):
            rights[right, row, lane] *= lower[row, row, lane]


@compiled
def whiten_lanes(matrix: FloatArray, lanes: int, rights: FloatArray, n_used: int, n: int) -> None:
    """Factor covariances of used samples, take them out of clipped rows and residuals, in place.

    Parameters
    ----------
    matrix : ndarray, shape (n or more, n or more, LANES)
        Lower halves. The used rows become the factors, with one over the root on the diagonal; a
        clipped row keeps the variance that is left on it.
    lanes : int
        How many points are taken.
    rights : ndarray, shape (k, n or more, LANES)
        The first: residuals of the used samples.
    n_used, n : int
        Used rows; all rows.
    """
    for row in range(n):
        for column in range(min(row, n_used)):
            for k in range(column):
                for lane in range(lanes):
                    matrix[row, column, lane] -= matrix[row, k, lane] * matrix[column, k, lane]
            for lane in range(lanes):
                matrix[row, column, lane] *= matrix[column, column, lane]
                matrix[row, row, lane] -= matrix[row, column, lane] * matrix[row, column, lane]
        if row < n_used:
            for lane in range(lanes):
                matrix[row, row, lane] = 1.0 / np.sqrt(max(matrix[row, row, lane], LEAST_PIVOT))
    forward_lanes(matrix, lanes, rights, FIRST, n_used)


@compiled
def backward_lanes(lower: FloatArray, lanes: int, rights: FloatArray, n: int) -> None:
    """Turn the first vectors into lower^-T vector, in place, at many points at once.

    Parameters
    ----------
    lower : ndarray, shape (n or more, n or more, LANES)
        Lower factors as `whiten_lanes` leaves them.
    lanes : int
        How many points are taken.
    rights : ndarray, shape (k, n or more, LANES)
        Vectors.
    n : int
        Rows and columns taken.
    """
    for row in range(n - 1, -1, -1):
        for k in range(row + 1, n):
            for lane in range(lanes):
                rights[0, row, lane] -= lower[k, row, lane] * rights[0, k, lane]
        for lane in range(lanes):
            rights[0, row, lane] *= lower[row, row, lane]
