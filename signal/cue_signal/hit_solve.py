"""The posterior of the linear part of a hit, at all touch times and filters at once.

The samples that the blow cannot have reached say the same at every grid point, so they are taken
in once. What is left are a dozen samples about the blow: there everything is solved in the space
of the samples, with matrices of their number (Rasmussen and Williams 2006, chapter 2), which is
the same as solving for the weights of the two processes and many times quicker.
"""

from dataclasses import dataclass, replace

import numpy as np

from cue_sensors.samples import BoolArray, FloatArray, IntArray
from cue_signal.hit_loops import evidences, gains, posteriors, regressed
from cue_signal.hit_model import (
    ACCEL_WINDOW_S,
    HitData,
    Posterior,
    TouchGrid,
    far_rows,
    loss_prior,
    near_variance,
    rebound_sd_m_s,
)
from cue_signal.process import Basis
from cue_signal.smear import REBOUND_S


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
    mean, var : ndarray, shape (c, m)
        Of the speed lost; of the noise.
    lost : ndarray, shape (c, m, 3)
        What one standard deviation of each rebound and of the speed lost adds.
    follow : ndarray, shape (m, m)
        Covariance of the samples, were they all follow-through.
    """

    grid: TouchGrid
    mean: FloatArray
    var: FloatArray
    lost: FloatArray
    follow: FloatArray

    @classmethod
    def of(cls, data: HitData, grid: TouchGrid, follow: Basis) -> "Blow":
        """Return it for a grid and the follow-through's smooth process."""
        follows = follow.features(data.time_s[grid.near])
        loss, loss_sd = loss_prior(data)
        lost = np.concatenate(
            [grid.rebound * rebound_sd_m_s(data), (loss_sd * grid.shape)[:, :, None]], axis=2
        )
        covariance = follows @ np.linalg.solve(follow.kernel_inverse, follows.T)
        return cls(grid, -loss * grid.shape, near_variance(data, grid), lost, covariance)

    def where(self, is_kept: BoolArray) -> "Blow":
        """Return it at only some of the grid points."""
        return replace(
            self,
            grid=self.grid.where(is_kept),
            mean=self.mean[is_kept],
            var=self.var[is_kept],
            lost=self.lost[is_kept],
        )


@dataclass(frozen=True, eq=False)
class Near:
    """The samples about the blow, m of them, were they all delivery, given the far ones.

    Parameters
    ----------
    mean : ndarray, shape (m,)
        Expected samples.
    covariance : ndarray, shape (m, m)
        Of the samples.
    to_weights : ndarray, shape (m, p)
        Their covariance with the delivery's weights over root.
    """

    mean: FloatArray
    covariance: FloatArray
    to_weights: FloatArray

    @classmethod
    def of(cls, data: HitData, near: IntArray, delivery: Delivery) -> "Near":
        """Return it for some samples."""
        features = delivery.basis.features(data.time_s[near])
        to_weights = features @ delivery.root
        return cls(features @ delivery.mean, to_weights @ to_weights.T, to_weights)


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
    return Delivery(basis, *regressed(features, accel, basis.kernel_inverse, var))


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
    near = Near.of(data, blow.grid.near, delivery)
    wanted = _Wanted.of(data, blow.grid, delivery)
    evidence, mean, var, weights = posteriors(
        *_samples(data, blow, near),
        near.to_weights,
        wanted.to_end,
        wanted.late,
        wanted.given,
        wanted.mean,
        wanted.var,
    )
    return Posterior(
        log_evidence=delivery.log_evidence + evidence,
        gain=mean[:, 0],
        gain_var=var[:, 0],
        accel=mean[:, 1],
        accel_var=var[:, 1],
        lost=mean[:, 2],
        lost_var=var[:, 2],
        regained=mean[:, 3],
        regained_var=var[:, 3],
        curve_s=wanted.curve_s,
        curve_mean=wanted.curve_mean,
        curve_root=wanted.curve_root,
        weights=weights,
    )


def log_evidence(data: HitData, blow: Blow, delivery: Delivery) -> FloatArray:
    """Return the log evidence alone, shape (c,), as `condition` has it."""
    near = Near.of(data, blow.grid.near, delivery)
    return delivery.log_evidence + evidences(*_samples(data, blow, near))


def _samples(
    data: HitData, blow: Blow, near: Near
) -> tuple[
    IntArray,
    int,
    FloatArray,
    FloatArray,
    FloatArray,
    FloatArray,
    FloatArray,
    FloatArray,
    FloatArray,
    FloatArray,
]:
    """Return what the loops want to know of the samples about the blow."""
    grid = blow.grid
    used = np.flatnonzero(data.is_usable[grid.near])
    clipped = np.flatnonzero(data.is_clipped[grid.near])
    return (
        np.concatenate([used, clipped]),
        len(used),
        data.accel_m_s2[grid.near],
        grid.passed,
        blow.lost,
        blow.var,
        blow.mean,
        blow.follow,
        near.covariance,
        near.mean,
    )


@dataclass(frozen=True, eq=False)
class _Wanted:
    """What is asked of the model: gain, late acceleration, loss and speed regained, in order."""

    mean: FloatArray
    var: FloatArray
    to_end: FloatArray
    late: FloatArray
    given: FloatArray
    curve_s: FloatArray
    curve_mean: FloatArray
    curve_root: FloatArray

    @classmethod
    def of(cls, data: HitData, grid: TouchGrid, delivery: Delivery) -> "_Wanted":
        """Return the four before the samples about the blow, and what leads from those to them."""
        step = min(data.period_s / 4.0, 0.002)
        latest_s = float(data.time_s[data.peak_index]) + 3.0 * data.period_s
        curve_s = np.arange(grid.anchor_s, max(latest_s, grid.anchor_s) + 2 * step, step)
        features = delivery.basis.features(curve_s)
        root, mean = features @ delivery.root, features @ delivery.mean
        table = np.column_stack([root, mean])
        to_end, late, own = gains(table, step, grid.end_s - grid.anchor_s, ACCEL_WINDOW_S)
        loss, loss_sd = loss_prior(data)
        lasted = np.maximum(data.over_s - grid.end_s, 0.0)[:, None]
        given = (1.0 - np.exp(-lasted / np.array(REBOUND_S))) * rebound_sd_m_s(data)
        asked, var = np.zeros((len(given), 4)), np.zeros((len(given), 4))
        asked[:, :2], asked[:, 2] = own[:, :2], loss
        var[:, :2], var[:, 2], var[:, 3] = own[:, 2:], loss_sd**2, np.sum(given**2, axis=1)
        return cls(
            mean=asked,
            var=var,
            to_end=to_end,
            late=late,
            given=np.column_stack([given, np.full(len(given), -loss_sd)]),
            curve_s=curve_s,
            curve_mean=mean,
            curve_root=root,
        )
