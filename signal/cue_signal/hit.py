"""The moment of the hit: when it was, how fast the cue came and what it lost.

Near the hit the axial acceleration in the samples is modelled as

    y(t) = (1 - W(t)) s(t) + W(t) q(t) - dv h(t) + noise

where s is the delivery (a smooth Gaussian process, carried on to the touch), q the follow-through
(another one), dv the speed lost to the ball, h the sensor's smeared blow and W the share of it
that has passed. For a touch time, a filter and a smoothness everything else is linear, so the
posterior is exact; those three are summed over a grid. What the sensor clipped enters as "beyond
the range". All times of s are times of the samples: speed carried to the touch plus the filter's
delay is the speed at the touch, whatever the delay is.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.hit_model import (
    SURE_LOG_ODDS,
    HitData,
    Posterior,
    TouchGrid,
    any_loss,
    delivery_bases,
    limited_loss,
    touch_grid,
    whole_loss,
)
from cue_signal.hit_solve import Blow, Delivery, conditions, log_evidences

RULED_OUT = 8.0
"""Natural logarithm of the odds at which a touch time, a filter or a smoothness is dropped: against
all of them kept, no measure of a made stroke moves by 2 % of its standard uncertainty."""
PROBE = 6
"""One in so many of the points tells whether a smoothness is likely, and what a push that ends
without a blow is worth: that hardly changes from point to point."""


@dataclass(frozen=True, eq=False)
class HitFit:
    """Posterior of a hit.

    Parameters
    ----------
    touch_s, touch_sd_s : float
        First touch, the filter's delay taken off.
    end_s : float
        The same moment on the samples' times, which trail the motion.
    anchor_s : float
        Sample time from which ``gain`` counts.
    gain_m_s, gain_sd_m_s : float
        Speed gained from the anchor to the touch.
    accel_m_s2, accel_sd_m_s2 : float
        Mean acceleration over the last 20 ms before the touch.
    lost_m_s, lost_sd_m_s : float
        Speed lost to the ball, as far as the sensor could follow the blow.
    hidden_m_s, limited : float
        What is expected to have been lost besides; the probability that the sensor's converter cut
        the blow off before its filter, which the samples do not show as clipped.
    regained_m_s, regained_sd_m_s : float
        Speed that the hand gave back to the cue until ``over_s`` of the data.
    smooth_log_odds, ends_log_odds : float
        Natural logarithm of how much better a hit explains the samples than a smooth swing, and
        than a push that ends without a loss of speed.
    curve_s, curve_m_s2 : ndarray, shape (m,)
        The delivery's acceleration from the anchor to the touch, on sample times.
    """

    touch_s: float
    touch_sd_s: float
    end_s: float
    anchor_s: float
    gain_m_s: float
    gain_sd_m_s: float
    accel_m_s2: float
    accel_sd_m_s2: float
    lost_m_s: float
    lost_sd_m_s: float
    hidden_m_s: float
    limited: float
    regained_m_s: float
    regained_sd_m_s: float
    smooth_log_odds: float
    ends_log_odds: float
    curve_s: FloatArray
    curve_m_s2: FloatArray


def fit_hit(data: HitData) -> HitFit:
    """Return what the samples about a hit tell.

    Parameters
    ----------
    data : HitData
        Samples about the hit; at least four usable ones before it.

    Returns
    -------
    HitFit
        Moments of the posterior.
    """
    grid = touch_grid(data)
    deliveries = [Delivery.of(data, basis) for basis in delivery_bases(data)]
    blow = Blow.of(data, grid, any_loss(data))
    points = np.arange(len(grid.touch_s))
    probed = np.arange(0, len(points), PROBE)
    likely = _likely_deliveries(data, blow, deliveries, probed)
    blow, limited = _seen_blow(data, blow, likely[0], probed)
    first = log_evidences(data, blow, likely[0], points)
    # what the best smoothness rules out by far, no other will bring back
    points = np.flatnonzero(first > first.max() - RULED_OUT)
    parts = conditions(data, blow, likely, points)
    end = blow.without_loss()
    no_loss = [log_evidences(data, end, one, probed) for one in deliveries]
    plain = [one.plain_log_evidence for one in deliveries]
    n_tried = len(deliveries) * len(grid.touch_s)
    hit = _log_sum([part.log_evidence for part in parts]) - float(np.log(n_tried))
    fit = _mix(data, parts, grid, points)
    return replace(
        fit,
        hidden_m_s=limited * max(whole_loss(data).mean_m_s - fit.lost_m_s, 0.0),
        limited=limited,
        smooth_log_odds=hit - _log_sum(plain) + float(np.log(len(plain))),
        ends_log_odds=hit - _log_sum(no_loss) + float(np.log(np.size(no_loss))),
    )


def _seen_blow(
    data: HitData, blow: Blow, delivery: Delivery, points: IntArray
) -> tuple[Blow, float]:
    """Return the blow as the sensor saw it, and the probability that its converter cut it off."""
    whole = Blow.of(data, blow.grid, whole_loss(data))
    limited = Blow.of(data, blow.grid, limited_loss(data))
    logs = [
        _log_sum(log_evidences(data, one, delivery, points) + blow.grid.log_prior[points])
        for one in (whole, limited)
    ]
    log_odds = logs[1] - logs[0]
    probability = 1.0 / (1.0 + math.exp(-min(max(log_odds, -50.0), 50.0)))
    if abs(log_odds) < SURE_LOG_ODDS:
        return blow, probability
    return (limited if log_odds > 0.0 else whole), probability


def _likely_deliveries(
    data: HitData, blow: Blow, deliveries: list[Delivery], points: IntArray
) -> list[Delivery]:
    """Return the deliveries of a smoothness that is not ruled out, the most likely one first."""
    best = [float(log_evidences(data, blow, one, points).max()) for one in deliveries]
    order = sorted(range(len(best)), key=lambda k: -best[k])
    return [deliveries[k] for k in order if best[k] > best[order[0]] - RULED_OUT]


def _mix(data: HitData, parts: list[Posterior], grid: TouchGrid, points: IntArray) -> HitFit:
    """Return the moments of the mixture over touch time, filter and smoothness."""
    log_weight = np.stack([part.log_evidence for part in parts]) + grid.log_prior[points]
    weight = np.exp(log_weight - _log_sum(log_weight))
    peak_s = float(data.time_s[data.peak_index])
    per_point = weight.sum(axis=0)
    touch_s = float(per_point @ grid.touch_s[points])
    touch_var = float(per_point @ (grid.touch_s[points] - touch_s) ** 2)
    end_s = peak_s + float(per_point @ grid.end_s[points])
    mean, var = np.concatenate([p.mean for p in parts]), np.concatenate([p.var for p in parts])
    centre = weight.ravel() @ mean
    sd = np.sqrt(np.maximum(weight.ravel() @ (var + (mean - centre) ** 2), 0.0))
    gain, accel, lost, regained = centre.tolist()
    gain_sd, accel_sd, lost_sd, regained_sd = sd.tolist()
    inside = parts[0].curve_s <= end_s
    sum_of_curves = np.sum([p.curve(w) for p, w in zip(parts, weight, strict=True)], axis=0)
    return HitFit(
        touch_s=peak_s + touch_s,
        touch_sd_s=float(np.sqrt(max(touch_var, 0.0))),
        end_s=end_s,
        anchor_s=float(data.time_s[data.anchor]),
        gain_m_s=gain,
        gain_sd_m_s=gain_sd,
        accel_m_s2=accel,
        accel_sd_m_s2=accel_sd,
        lost_m_s=lost,
        lost_sd_m_s=lost_sd,
        hidden_m_s=0.0,
        limited=0.0,
        regained_m_s=regained,
        regained_sd_m_s=regained_sd,
        smooth_log_odds=0.0,
        ends_log_odds=0.0,
        curve_s=parts[0].curve_s[inside],
        curve_m_s2=sum_of_curves[inside],
    )


def _log_sum(logs: FloatArray | list[FloatArray] | list[float]) -> float:
    """Return the logarithm of a sum of numbers given by their logarithms."""
    most = float(np.max(logs))
    return most + float(np.log(np.sum(np.exp(np.asarray(logs) - most))))
