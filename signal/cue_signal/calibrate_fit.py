"""Bias, scale and cross-axis terms of an accelerometer from what it reads at rest.

At rest, in whatever attitude, the corrected reading has the length of gravity. Nine numbers make
the correction: three biases, three scale errors, three cross-axis terms of a symmetric matrix.
(The length of gravity cannot tell a rotation of the sensor's axes as a whole; the mounting is
measured in the corrected axes, so it need not.) The fit weighs what the rests say against the
sizes such errors usually have; a number on which the rests are silent stays near none, and its
uncertainty stays as wide as it was.

The least squares on the length of gravity is that of Frosio, Pedersini, Borghese (IEEE Trans.
Instrum. Meas. 58(6), 2009, from memory) and of Tedaldi, Pretto, Menegatti, "A robust and easy to
implement method for IMU calibration without external equipments" (ICRA 2014).
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from cue_sensors.samples import FloatArray
from cue_signal.calibrate_gravity import LocalGravity
from cue_signal.calibrate_still import Attitude

PARAMETERS = (
    "bias x",
    "bias y",
    "bias z",
    "scale x",
    "scale y",
    "scale z",
    "cross xy",
    "cross xz",
    "cross yz",
)
N_BIAS = 3
CROSS_MOST = 0.01
"""Each axis reads up to this part of what lies along another, evenly likely."""
CROSS_SD = CROSS_MOST / math.sqrt(6.0)
"""Of the symmetric term, the mean of the two: what is unlike in them turns the axes as a whole."""
PRIOR_SD = np.array([0.5, 0.5, 0.5, 0.02, 0.02, 0.02, CROSS_SD, CROSS_SD, CROSS_SD])
"""Usual size of the errors of a small accelerometer: 50 mg, 2 %, cross-axis 1 % (data-sheet sizes,
from memory). Bias in m/s^2, the others in parts."""
TOLD_SHARE = 0.5
"""A number is told by the rests if they at least halve its uncertainty."""
_PLACES = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))


@dataclass(frozen=True, eq=False)
class AccelFit:
    """Correction = (1 + errors) @ (reading - bias), with its covariance.

    Parameters
    ----------
    values, sds : ndarray, shape (9,)
        In the order of ``PARAMETERS``, gravity's own uncertainty included.
    covariance : ndarray, shape (9, 9)
        Of the values.
    residual_m_s2 : ndarray, shape (n,)
        Length of each corrected rest less gravity.
    residual_sds : ndarray, shape (n,)
        The same in parts of what was to be expected.
    condition : float
        Of the rests' information, in units of the usual sizes; infinite where they are silent
        on something.
    """

    values: FloatArray
    covariance: FloatArray
    residual_m_s2: FloatArray
    residual_sds: FloatArray
    condition: float

    @property
    def sds(self) -> FloatArray:
        """Return the standard uncertainties, shape (9,)."""
        return np.asarray(np.sqrt(np.diag(self.covariance)), dtype=np.float64)

    @property
    def told(self) -> tuple[str, ...]:
        """Return the names of what the rests told."""
        told = self.sds < TOLD_SHARE * PRIOR_SD
        return tuple(
            name for name, is_told in zip(PARAMETERS, told.tolist(), strict=True) if is_told
        )

    def scale_sd(self, direction: FloatArray) -> float:
        """Return the relative standard uncertainty of a force along a direction, shape (3,)."""
        x, y, z = np.asarray(direction) / np.linalg.norm(direction)
        row = np.array([0.0, 0.0, 0.0, x * x, y * y, z * z, 2 * x * y, 2 * x * z, 2 * y * z])
        return float(np.sqrt(row @ self.covariance @ row))


def matrix_of(values: FloatArray) -> FloatArray:
    """Return the symmetric correction matrix, shape (3, 3), of nine fitted values."""
    matrix = np.eye(3)
    for (row, column), value in zip(_PLACES, values[N_BIAS:], strict=True):
        matrix[row, column] += value
        if row != column:
            matrix[column, row] += value
    return matrix


def fit_gravity(attitudes: list[Attitude], gravity: LocalGravity) -> AccelFit:
    """Return the correction that gives every rest the length of gravity.

    Parameters
    ----------
    attitudes : list of Attitude
        At least one.
    gravity : LocalGravity
        What the length should be.

    Returns
    -------
    AccelFit
        With covariance, widened where the rests agree less than they should.
    """
    readings = np.array([one.force_m_s2 for one in attitudes])
    sd = np.array([np.sqrt(np.mean(one.force_sd_m_s2**2)) for one in attitudes])

    def misfit(values: FloatArray) -> FloatArray:
        size = np.linalg.norm(_corrected(values, readings), axis=1)
        return np.concatenate([(size - gravity.gravity_m_s2) / sd, values / PRIOR_SD])

    def slope(values: FloatArray) -> FloatArray:
        return np.vstack([_slopes(values, readings) / sd[:, None], np.diag(1.0 / PRIOR_SD)])

    found = least_squares(misfit, np.zeros(9), jac=slope, x_scale=PRIOR_SD, xtol=1e-12)
    values = np.asarray(found.x, dtype=np.float64)
    off, rows = misfit(values)[: len(sd)], slope(values)[: len(sd)]
    covariance = _covariance(rows, off)
    # a common error of gravity is a common error of scale
    common = np.concatenate([np.zeros(3), np.ones(3), np.zeros(3)])
    covariance += gravity.relative_sd**2 * np.outer(common, common)
    return AccelFit(values, covariance, off * sd, off, _condition(rows))


def _corrected(values: FloatArray, readings: FloatArray) -> FloatArray:
    """Return corrected readings, shape (n, 3)."""
    return np.asarray((readings - values[:N_BIAS]) @ matrix_of(values).T, dtype=np.float64)


def _slopes(values: FloatArray, readings: FloatArray) -> FloatArray:
    """Return the derivatives of the corrected lengths, shape (n, 9)."""
    free = readings - values[:N_BIAS]
    force = _corrected(values, readings)
    up = force / np.linalg.norm(force, axis=1)[:, None]
    columns = [-(up @ matrix_of(values))]
    for row, column in _PLACES:
        both = up[:, row] * free[:, column]
        if row != column:
            both = both + up[:, column] * free[:, row]
        columns.append(both[:, None])
    return np.hstack(columns)


def _covariance(rows: FloatArray, off: FloatArray) -> FloatArray:
    """Return the covariance, the rests' weight lowered where they disagree."""
    prior = np.diag(PRIOR_SD**-2.0)
    information = rows.T @ rows
    covariance = np.linalg.inv(information + prior)
    freedom = len(off) - float(np.trace(information @ covariance))
    if freedom >= 1.0:
        # Birge's ratio, never below one
        excess = max(1.0, float(off @ off) / freedom)
        covariance = np.linalg.inv(information / excess + prior)
    return np.asarray(covariance, dtype=np.float64)


def _condition(rows: FloatArray) -> float:
    """Return the condition of what the rests say, in units of the usual sizes."""
    if len(rows) < len(PARAMETERS):
        return float("inf")
    sizes = np.linalg.svd(rows * PRIOR_SD, compute_uv=False)
    return float(sizes[0] / sizes[-1]) if sizes[-1] > 0.0 else float("inf")
