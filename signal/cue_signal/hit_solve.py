"""The posterior of the linear part of a hit, at all touch times and filters at once.

The samples that the blow cannot have reached say the same at every grid point, so they are taken
in once. What is left are a dozen samples about the blow: there everything is solved in the space
of the samples, with matrices of their number (Rasmussen and Williams 2006, chapter 2), which is
the same as solving for the weights of the two processes and many times quicker.
"""

from dataclasses import dataclass, replace

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.hit_loops import gains, posteriors
from cue_signal.hit_model import (
    ACCEL_WINDOW_S,
    STRAY_FREEDOM,
    STRAY_ROUNDS,
    HitData,
    Loss,
    Posterior,
    TouchGrid,
    follow_size_m_s2,
    log_beyond,
    rebound,
)
from cue_signal.process import Basis
from cue_signal.process_loops import regressed
from cue_signal.smear import REBOUND_S

NOT_ASKED: FloatArray = np.zeros((0, 4))
"""For the evidence alone."""


@dataclass(frozen=True, eq=False)
class Blow:
    """What the samples about the blow owe to everything but the delivery.

    Parameters
    ----------
    grid : TouchGrid
        All points.
    sizes : ndarray, shape (6,)
        Of speeds lost and regained and of the noise, as `hit_loops.evidences` takes them.
    follow : ndarray, shape (m, m)
        Covariance of the samples, were they all follow-through.
    """

    grid: TouchGrid
    sizes: FloatArray
    follow: FloatArray

    @classmethod
    def of(cls, data: HitData, grid: TouchGrid, loss: Loss) -> "Blow":
        """Return it for some samples and what may be seen of the speed lost."""
        # the error of the blow's shape is a part of the blow
        shaped = max(loss.mean_m_s, loss.sd_m_s)
        back = rebound(data)
        lost = [loss.mean_m_s, loss.sd_m_s]
        sizes = [*lost, back.sd_m_s, shaped, data.noise_var, back.mean_m_s]
        return cls(grid, np.array(sizes), grid.follow * follow_size_m_s2(data) ** 2)

    def without_loss(self) -> "Blow":
        """Return the same moments as ends of a push in which no speed is lost at once."""
        return replace(self, sizes=np.array([0.0, 0.0, 0.0, 0.0, self.sizes[4], 0.0]))


@dataclass(frozen=True, eq=False)
class Delivery:
    """The delivery as the samples leave it that the blow cannot have reached.

    Parameters
    ----------
    basis : Basis
        The smooth process of p weights.
    root_and_mean : ndarray, shape (p, p + 1)
        Factor of their covariance, which is root @ root.T, and their mean in the last column.
    log_evidence, plain_log_evidence : float
        Of the far samples; of all samples without any hit.
    near_mean, near_covariance : ndarray, shape (m,), (m, m)
        Of the samples about the blow, were they all delivery.
    to_weights : ndarray, shape (m, p)
        Their covariance with the delivery's weights over root.
    """

    basis: Basis
    root_and_mean: FloatArray
    log_evidence: float
    plain_log_evidence: float
    near_mean: FloatArray
    near_covariance: FloatArray
    to_weights: FloatArray

    @classmethod
    def of(cls, data: HitData, basis: Basis) -> "Delivery":
        """Return it for some samples.

        A delivery is not everywhere as smooth as the process: far samples that stray from it count
        less (weights of Student's t), so that a jerk far back does not bend the end.
        """
        features = basis.features(data.time_s[data.first : data.last])
        accel = data.accel_m_s2[data.first : data.last]
        n_far = data.near - data.first
        far = data.used[: np.searchsorted(data.used, n_far)]
        mean, root, _, log_evidence = regressed(
            features,
            accel,
            far,
            basis.kernel_inverse,
            data.noise_var,
            STRAY_FREEDOM,
            STRAY_ROUNDS,
        )
        root_and_mean = np.column_stack([root, mean])
        near = features[n_far:] @ root_and_mean
        to_weights = near[:, :-1]
        return cls(
            basis=basis,
            root_and_mean=root_and_mean,
            log_evidence=log_evidence,
            plain_log_evidence=_plain_log_evidence(data, basis, features),
            near_mean=near[:, -1].copy(),
            near_covariance=to_weights @ to_weights.T,
            to_weights=to_weights,
        )


def _plain_log_evidence(data: HitData, basis: Basis, features: FloatArray) -> float:
    """Return the log evidence of the samples without any hit."""
    span = slice(data.first, data.last)
    accel = data.accel_m_s2[span]
    mean, root, _, log_evidence = regressed(
        features, accel, data.used, basis.kernel_inverse, data.noise_var, STRAY_FREEDOM, 0
    )
    clipped = np.flatnonzero(data.is_clipped[span])
    if not len(clipped):
        return log_evidence
    rows = features[clipped]
    spread = data.noise_var + np.sum((rows @ root) ** 2, axis=1)
    return log_evidence + float(log_beyond(accel[clipped], rows @ mean, spread))


def log_evidences(data: HitData, blow: Blow, delivery: Delivery, points: IntArray) -> FloatArray:
    """Return the log evidence at some grid points.

    Parameters
    ----------
    data : HitData
        Samples about the hit.
    blow : Blow
        What the blow leaves in the samples.
    delivery : Delivery
        The delivery, far samples taken in.
    points : ndarray of int, shape (c',)
        Which grid points.

    Returns
    -------
    ndarray, shape (c',)
        As `conditions` have it.
    """
    asked = (NOT_ASKED,) * 5
    return delivery.log_evidence + posteriors(points, *_samples(data, blow, delivery), *asked)[0]


def conditions(
    data: HitData, blow: Blow, deliveries: list[Delivery], points: IntArray
) -> list[Posterior]:
    """Return the exact posterior of the linear part at some grid points, for each smoothness.

    Parameters
    ----------
    data : HitData
        Samples about the hit.
    blow : Blow
        What the blow leaves in the samples.
    deliveries : list of Delivery
        The delivery at each smoothness, far samples taken in.
    points : ndarray of int, shape (c',)
        Which grid points.
    """
    wanted = _Wanted.of(data, blow, points)
    return [_conditioned(data, blow, one, points, wanted) for one in deliveries]


def _conditioned(
    data: HitData, blow: Blow, delivery: Delivery, points: IntArray, wanted: "_Wanted"
) -> Posterior:
    """Return the posterior for one smoothness."""
    curves = delivery.basis.features(wanted.curve_s) @ delivery.root_and_mean
    to_end, late, own = gains(curves, wanted.step_s, wanted.until_s, ACCEL_WINDOW_S)
    asked, asked_var = wanted.mean.copy(), wanted.var.copy()
    asked[:, :2], asked_var[:, :2] = own[:, :2], own[:, 2:]
    log_evidence, mean, var, pulled = posteriors(
        points,
        *_samples(data, blow, delivery),
        to_end @ delivery.to_weights.T,
        late @ delivery.to_weights.T,
        wanted.given,
        asked,
        asked_var,
    )
    return Posterior(
        log_evidence=delivery.log_evidence + log_evidence,
        mean=mean,
        var=var,
        curve_s=wanted.curve_s,
        curve_mean=curves[:, -1],
        curve_to_near=curves[:, :-1] @ delivery.to_weights.T,
        pulled=pulled,
    )


def _samples(
    data: HitData, blow: Blow, delivery: Delivery
) -> tuple[IntArray, int, FloatArray, FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return what the loops want to know of the samples about the blow."""
    return (
        *data.asked,
        data.accel_m_s2[data.near : data.last],
        blow.grid.blow,
        blow.sizes,
        blow.follow,
        delivery.near_covariance,
        delivery.near_mean,
    )


@dataclass(frozen=True, eq=False)
class _Wanted:
    """What is asked of the model: gain, late acceleration, loss and speed regained, in order.

    The first two, and the curve that they are taken from, differ with the delivery.
    """

    mean: FloatArray
    var: FloatArray
    given: FloatArray
    curve_s: FloatArray
    step_s: float
    until_s: FloatArray

    @classmethod
    def of(cls, data: HitData, blow: Blow, points: IntArray) -> "_Wanted":
        """Return what of the four no sample about the blow has told, and where the curve runs."""
        end_s = blow.grid.end_s[points]
        step = min(data.period_s / 4.0, 0.002)
        anchor_s, peak_s = float(data.time_s[data.anchor]), float(data.time_s[data.peak_index])
        loss, loss_sd = blow.sizes[:2].tolist()
        lasted = np.maximum(data.over_s - peak_s - end_s, 0.0)[:, None]
        given = np.full((len(end_s), 3), -loss_sd)
        come = 1.0 - np.exp(-lasted / np.array(REBOUND_S))
        given[:, :2] = come * blow.sizes[2]
        asked, var = np.zeros((len(given), 4)), np.zeros((len(given), 4))
        asked[:, 2], asked[:, 3] = loss, blow.sizes[5] * come.sum(axis=1)
        var[:, 2], var[:, 3] = loss_sd**2, np.sum(given[:, :2] ** 2, axis=1)
        return cls(
            mean=asked,
            var=var,
            given=given,
            curve_s=np.arange(
                anchor_s, max(peak_s + 3.0 * data.period_s, anchor_s) + 2 * step, step
            ),
            step_s=step,
            until_s=end_s + (peak_s - anchor_s),
        )
