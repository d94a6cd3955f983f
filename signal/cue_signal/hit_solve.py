"""The posterior of the linear part of a hit, at all touch times and filters at once.

The samples that the blow cannot have reached say the same at every grid point, so they are taken
in once. What is left are a dozen samples about the blow: there everything is solved in the space
of the samples, with matrices of their number (Rasmussen and Williams 2006, chapter 2), which is
the same as solving for the weights of the two processes and many times quicker.
"""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import BoolArray, FloatArray
from cue_signal.hit_model import (
    ACCEL_WINDOW_S,
    HitData,
    Posterior,
    TouchGrid,
    far_rows,
    log_beyond,
    loss_prior,
    near_variance,
    rebound_sd_m_s,
)
from cue_signal.process import Basis
from cue_signal.smear import REBOUND_S

BEYOND_ALL = 1e60
"""More than the square of any whitened residual."""
LOG_TWO_PI = float(np.log(2 * np.pi))


@dataclass(frozen=True, eq=False)
class Delivery:
    """The delivery as the far samples leave it.

    Parameters
    ----------
    basis : Basis
        The smooth process, p weights.
    mean : ndarray, shape (p,)
        Mean of its weights.
    root : ndarray, shape (p, p)
        Factor of their covariance: root @ root.T.
    log_evidence : float
        Of the far samples.
    """

    basis: Basis
    mean: FloatArray
    root: FloatArray
    log_evidence: float


@dataclass(frozen=True, eq=False)
class Blow:
    """What the samples about the blow owe to everything but the delivery, at c grid points.

    Parameters
    ----------
    grid : TouchGrid
        The points.
    left : ndarray, shape (c, m)
        Share of the blow still to come.
    left_squared : ndarray, shape (c, m, m)
        Its products with itself.
    mean : ndarray, shape (c, m)
        Of the speed lost.
    covariance : ndarray, shape (c, m, m)
        Of follow-through, speed lost, rebound and noise.
    """

    grid: TouchGrid
    left: FloatArray
    left_squared: FloatArray
    mean: FloatArray
    covariance: FloatArray

    @classmethod
    def of(cls, data: HitData, grid: TouchGrid, follow: Basis) -> "Blow":
        """Return it for a grid and the follow-through's smooth process."""
        follows = follow.features(data.time_s[grid.near])
        loss, loss_sd = loss_prior(data)
        covariance = _outer(grid.passed)
        covariance *= follows @ np.linalg.solve(follow.kernel_inverse, follows.T)
        lost = np.concatenate(
            [grid.rebound * rebound_sd_m_s(data), (loss_sd * grid.shape)[:, :, None]], axis=2
        )
        covariance += lost @ lost.transpose(0, 2, 1)
        diagonal = np.arange(len(grid.near))
        covariance[:, diagonal, diagonal] += near_variance(data, grid)
        left = 1.0 - grid.passed
        return cls(grid, left, _outer(left), -loss * grid.shape, covariance)

    def where(self, is_kept: BoolArray) -> "Blow":
        """Return it at only some of the grid points."""
        return Blow(
            self.grid.where(is_kept),
            self.left[is_kept],
            self.left_squared[is_kept],
            self.mean[is_kept],
            self.covariance[is_kept],
        )


@dataclass(frozen=True, eq=False)
class Near:
    """The samples about the blow, m of them, given the far ones, at c grid points.

    Parameters
    ----------
    mean : ndarray, shape (c, m)
        Expected samples.
    covariance : ndarray, shape (c, m, m)
        Of the samples, noise included.
    to_weights : ndarray, shape (m, p)
        Covariance of each sample, were it all delivery, with the delivery's weights over root.
    """

    mean: FloatArray
    covariance: FloatArray
    to_weights: FloatArray


def take_in_far(data: HitData, basis: Basis) -> Delivery:
    """Return the delivery given the samples that the blow cannot have reached.

    Parameters
    ----------
    data : HitData
        Samples about the hit.
    basis : Basis
        The delivery's smooth process.
    """
    features, accel, var = far_rows(data, basis)
    information = basis.kernel_inverse + features.T @ (features / var[:, None])
    pull = features.T @ (accel / var)
    lower = np.linalg.cholesky(information)
    root = np.linalg.inv(lower).T
    mean = root @ (root.T @ pull)
    log_evidence = 0.5 * (
        pull @ mean
        - np.sum(accel**2 / var + np.log(var) + LOG_TWO_PI)
        - 2 * np.sum(np.log(np.diag(lower)))
        + np.linalg.slogdet(basis.kernel_inverse)[1]
    )
    return Delivery(basis, mean, root, float(log_evidence))


def condition(data: HitData, blow: Blow, delivery: Delivery) -> Posterior:
    """Return the exact posterior of the linear part at every grid point.

    Parameters
    ----------
    data : HitData
        Samples about the hit.
    blow : Blow
        What the blow leaves in the samples, at c grid points.
    delivery : Delivery
        The delivery, far samples taken in.
    """
    grid = blow.grid
    near = _near(data, blow, delivery)
    wanted = _Wanted.of(data, grid, delivery, near)
    is_used = data.is_usable[grid.near]
    residual = data.accel_m_s2[grid.near] - near.mean
    lower, solved = _solved(near, residual, wanted.with_samples, is_used)
    told, spread = solved[:, :, 0], solved[:, :, 1:]
    log_evidence = delivery.log_evidence + _log_normal(lower, told)
    log_evidence += _beyond_range(data, grid, near, lower, told)
    mean = wanted.mean + np.einsum("cmq,cm->cq", spread, told)
    var = np.maximum(wanted.var - np.sum(spread**2, axis=1), 0.0)
    curve_s, curve = wanted.curve(grid, near, lower, told, is_used)
    return Posterior(
        log_evidence=log_evidence,
        gain=mean[:, 0],
        gain_var=var[:, 0],
        accel=mean[:, 1],
        accel_var=var[:, 1],
        lost=mean[:, 2],
        lost_var=var[:, 2],
        regained=mean[:, 3],
        regained_var=var[:, 3],
        curve_s=curve_s,
        curve=curve,
    )


def log_evidence(data: HitData, blow: Blow, delivery: Delivery) -> FloatArray:
    """Return the log evidence alone, shape (c,), as `condition` has it."""
    grid = blow.grid
    near = _near(data, blow, delivery)
    is_used = data.is_usable[grid.near]
    residual = data.accel_m_s2[grid.near] - near.mean
    lower, told = _whitened(near, residual, is_used)
    found: FloatArray = delivery.log_evidence + _log_normal(lower, told)
    return found + _beyond_range(data, grid, near, lower, told)


def _near(data: HitData, blow: Blow, delivery: Delivery) -> Near:
    """Return mean and covariance of the near samples at every grid point."""
    features = delivery.basis.features(data.time_s[blow.grid.near])
    to_weights = features @ delivery.root
    covariance = blow.left_squared * (to_weights @ to_weights.T)
    covariance += blow.covariance
    mean = blow.left * (features @ delivery.mean) + blow.mean
    return Near(mean, covariance, to_weights)


@dataclass(frozen=True, eq=False)
class _Wanted:
    """What is asked of the model: gain, late acceleration, loss and speed regained, in order."""

    mean: FloatArray
    var: FloatArray
    with_samples: FloatArray
    curve_s: FloatArray
    curve_mean: FloatArray
    curve_root: FloatArray

    @classmethod
    def of(cls, data: HitData, grid: TouchGrid, delivery: Delivery, near: Near) -> "_Wanted":
        """Return the four with their covariances with the near samples, shape (c, m, 4)."""
        step = min(data.period_s / 4.0, 0.002)
        latest_s = float(data.time_s[data.peak_index]) + 3.0 * data.period_s
        curve_s = np.arange(grid.anchor_s, max(latest_s, grid.anchor_s) + 2 * step, step)
        features = delivery.basis.features(curve_s)
        table = np.column_stack([features @ delivery.root, features @ delivery.mean])
        area = np.zeros_like(table)
        area[1:] = np.cumsum(0.5 * step * (table[1:] + table[:-1]), axis=0)
        to_end = _rows_at(area, (grid.end_s - grid.anchor_s) / step)
        late = to_end - _rows_at(area, (grid.end_s - ACCEL_WINDOW_S - grid.anchor_s) / step)
        late /= ACCEL_WINDOW_S
        loss, loss_sd = loss_prior(data)
        lasted = np.maximum(data.over_s - grid.end_s, 0.0)[:, None]
        given = (1.0 - np.exp(-lasted / np.array(REBOUND_S))) * rebound_sd_m_s(data)
        left = 1.0 - grid.passed
        nothing = np.zeros(len(given))
        with_samples = np.stack(
            [
                left * (to_end[:, :-1] @ near.to_weights.T),
                left * (late[:, :-1] @ near.to_weights.T),
                -(loss_sd**2) * grid.shape,
                np.einsum("cmk,ck->cm", grid.rebound * rebound_sd_m_s(data), given),
            ],
            axis=2,
        )
        var = np.stack(
            [
                np.sum(to_end[:, :-1] ** 2, axis=1),
                np.sum(late[:, :-1] ** 2, axis=1),
                nothing + loss_sd**2,
                np.sum(given**2, axis=1),
            ],
            axis=1,
        )
        mean = np.stack([to_end[:, -1], late[:, -1], nothing + loss, nothing], axis=1)
        return cls(mean, var, with_samples, curve_s, table[:, -1], table[:, :-1])

    def curve(
        self, grid: TouchGrid, near: Near, lower: FloatArray, told: FloatArray, is_used: BoolArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return the delivery's acceleration at times, shape (c, t)."""
        pulled = (_backward(lower, told) * (1.0 - grid.passed[:, is_used])) @ near.to_weights[
            is_used
        ]
        return self.curve_s, self.curve_mean + pulled @ self.curve_root.T


def _solved(
    near: Near, residual: FloatArray, with_samples: FloatArray, is_used: BoolArray
) -> tuple[FloatArray, FloatArray]:
    """Return the factor of the used samples' covariance, and it taken out of everything else."""
    lower = _cholesky(_used(near.covariance, is_used))
    used = np.flatnonzero(is_used)
    right = np.concatenate([residual[:, used, None], with_samples[:, used]], axis=2)
    return lower, _forward(lower, right)


def _whitened(
    near: Near, residual: FloatArray, is_used: BoolArray
) -> tuple[FloatArray, FloatArray]:
    """Return the same factor, and it taken out of the residuals alone, shape (c, m).

    The last row of the factor of a matrix with one more row is just that.
    """
    covariance = _used(near.covariance, is_used)
    n, m = covariance.shape[:2]
    bordered = np.empty((n, m + 1, m + 1))
    bordered[:, :m, :m] = covariance
    bordered[:, m, :m] = bordered[:, :m, m] = residual[:, is_used]
    bordered[:, m, m] = BEYOND_ALL
    lower = _cholesky(bordered)
    return lower[:, :m, :m], lower[:, m, :m]


def _used(covariance: FloatArray, is_used: BoolArray) -> FloatArray:
    """Return the rows and columns of the used samples."""
    if is_used.all():
        return covariance
    used = np.flatnonzero(is_used)
    return covariance[:, used[:, None], used]


def _cholesky(covariance: FloatArray) -> FloatArray:
    """Return the lower factors of many matrices."""
    return np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)


def _forward(lower: FloatArray, right: FloatArray) -> FloatArray:
    """Return lower^-1 right at every grid point; by hand, for many small ones at once."""
    told = right.copy()
    for row in range(lower.shape[1]):
        if row:
            told[:, row] -= np.einsum("cj,cjq->cq", lower[:, row, :row], told[:, :row])
        told[:, row] /= lower[:, row, row, None]
    return told


def _backward(lower: FloatArray, right: FloatArray) -> FloatArray:
    """Return lower^-T right at every grid point, right of shape (c, m)."""
    told = right.copy()
    for row in reversed(range(lower.shape[1])):
        told[:, row] /= lower[:, row, row]
        told[:, :row] -= lower[:, row, :row] * told[:, row, None]
    return told


def _log_normal(lower: FloatArray, told: FloatArray) -> FloatArray:
    """Return the log density of whitened residuals."""
    size = lower.shape[1]
    log_root = np.sum(np.log(lower[:, np.arange(size), np.arange(size)]), axis=1)
    density: FloatArray = -0.5 * np.sum(told**2, axis=1) - log_root - 0.5 * size * LOG_TWO_PI
    return density


def _beyond_range(
    data: HitData, grid: TouchGrid, near: Near, lower: FloatArray, told: FloatArray
) -> FloatArray:
    """Return the log probability that the clipped samples lie beyond what the sensor gave."""
    clipped = np.flatnonzero(data.is_clipped[grid.near])
    if not len(clipped):
        return np.zeros(len(told))
    used = np.flatnonzero(data.is_usable[grid.near])
    shared = _forward(lower, near.covariance[:, used[:, None], clipped])
    centre = near.mean[:, clipped] + np.einsum("cmk,cm->ck", shared, told)
    var = near.covariance[:, clipped, clipped] - np.sum(shared**2, axis=1)
    return log_beyond(data.accel_m_s2[grid.near][clipped], centre, var)


def _outer(rows: FloatArray) -> FloatArray:
    """Return the product of each row with itself, shape (c, m, m)."""
    product: FloatArray = rows[:, :, None] * rows[:, None, :]
    return product


def _rows_at(rows: FloatArray, place: FloatArray) -> FloatArray:
    """Return rows at fractional places, by straight lines between them."""
    place = np.clip(place, 0.0, len(rows) - 1.001)
    low = place.astype(np.int64)
    part = (place - low)[:, None]
    found: FloatArray = rows[low] * (1.0 - part) + rows[low + 1] * part
    return found
