"""What is known of a hit before its samples are weighed: the data, the grid, the priors."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.special import log_ndtr

from cue_sensors.samples import BoolArray, FloatArray, IntArray
from cue_signal.hit_loops import LEAST_LOG_BEYOND, regressed, reweighted
from cue_signal.process import Basis, smooth_process
from cue_signal.smear import SmearTable

LOSS_SHARE = 0.27
LOSS_SHARE_SD = 0.16
"""Share of its speed that the cue is seen to lose: 22 to 41 % for 16 to 21 oz and any offset to
half the radius, momentum and restitution (physics of the contact); less where the blow goes beyond
what the converter before the sensor's filter can follow, which the samples do not show."""
REBOUND_SHARE_SD = 0.2
"""Share of its speed that the hand may give back after the blow, each fast and slow."""
ACCEL_WINDOW_S = 0.02
"""The acceleration at the hit is the mean over this time before the touch."""
FIT_S = 0.22
"""Delivery samples used, back from the hit."""
SHAPE_ERROR = 0.05
"""What the family of filters leaves unexplained, as a part of the blow."""
TREMOR_M_S2 = 0.5
TREMOR_S = 0.02
"""Hand's own unrest on top of the smooth delivery: 8 to 12 Hz physiological tremor."""
SMOOTH_SHARES = (0.5, 0.25, 0.12, 1.0)
"""Length scale of the delivery's acceleration, in parts of the delivery's duration."""
FOLLOW_PER_S = 6.0
FOLLOW_LEAST_M_S2 = 3.0
"""Size of the acceleration after the hit: a cue is brought to rest within 0.15 to 0.4 s."""
UNEVEN_SHARE = 0.02
"""How far a delivery strays from the smooth process, as a part of its own acceleration: the
process is no law of nature, and near the blow nothing else would leave room for that."""
STRAY_FREEDOM = 3.0
STRAY_ROUNDS = 6
"""Degrees of freedom, and rounds of re-weighting, for samples that stray from a smooth delivery."""
TOUCH_STEPS_PER_PERIOD = 8
BEGUN = 1e-3
"""Share of the blow passed from which on the family of filters may be wrong about it."""
BEFORE_SAMPLES = 5
AFTER_SAMPLES = 6
AFTER_MOST_S = 0.06


@dataclass(frozen=True, eq=False)
class HitData:
    """Axial samples about a hit.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Times, sample times of the window.
    accel_m_s2 : ndarray, shape (n,)
        Acceleration along the cue, gravity removed.
    is_usable, is_clipped : ndarray of bool, shape (n,)
        Neither clipped nor filled in; beyond the sensor's range.
    peak_index : int
        Sample in the middle of the blow.
    period_s, noise_m_s2 : float
        Sampling period; standard deviation of the samples' own noise.
    delivery_s, speed_m_s : float
        Rough duration of the delivery and speed at the hit, for the size of the priors.
    over_s : float
        Sample time until which the speed that the hand gives back is counted.
    """

    time_s: FloatArray
    accel_m_s2: FloatArray
    is_usable: BoolArray
    is_clipped: BoolArray
    peak_index: int
    period_s: float
    noise_m_s2: float
    delivery_s: float
    speed_m_s: float
    over_s: float

    @cached_property
    def size_m_s2(self) -> float:
        """Return the root mean square of the delivery's acceleration."""
        span = slice(_first_index(self), max(_first_index(self), self.peak_index - 1))
        sample = self.accel_m_s2[span][self.is_usable[span]]
        mean = float(np.sqrt(np.mean(sample**2))) if len(sample) else 0.0
        return max(mean if len(sample) else self.speed_m_s / self.delivery_s, 1.0)

    @cached_property
    def noise_var(self) -> float:
        """Return the variance of one sample about the smooth process."""
        return float(self.noise_m_s2**2 + (UNEVEN_SHARE * self.size_m_s2) ** 2)


@dataclass(frozen=True, eq=False)
class TouchGrid:
    """All touch times and filters tried, c of them, and the smear at the near samples.

    Parameters
    ----------
    filter_index, touch_s, end_s : ndarray, shape (c,)
        Filter, first touch, and the touch on the samples' times.
    near : ndarray of int, shape (m,)
        Samples that the blow may have reached.
    shape, passed, shape_error : ndarray, shape (c, m)
        Smeared blow, its share that has passed, and its own uncertainty, per m/s lost.
    rebound : ndarray, shape (c, m, 2)
        Per m/s that the hand gives back.
    anchor_s : float
        Sample time from which the gain of speed counts.
    n_tried : int
        Number of points before any was left out.
    """

    filter_index: IntArray
    touch_s: FloatArray
    end_s: FloatArray
    near: IntArray
    shape: FloatArray
    passed: FloatArray
    rebound: FloatArray
    shape_error: FloatArray
    anchor_s: float
    n_tried: int

    def where(self, is_kept: BoolArray) -> "TouchGrid":
        """Return the grid with only some of its points."""
        return replace(
            self,
            filter_index=self.filter_index[is_kept],
            touch_s=self.touch_s[is_kept],
            end_s=self.end_s[is_kept],
            shape=self.shape[is_kept],
            passed=self.passed[is_kept],
            rebound=self.rebound[is_kept],
            shape_error=self.shape_error[is_kept],
        )

    def without_loss(self) -> "TouchGrid":
        """Return the same moments as ends of a push in which no speed is lost at once."""
        nothing = np.zeros_like(self.shape)
        return replace(self, shape=nothing, shape_error=nothing, rebound=0.0 * self.rebound)


@dataclass(frozen=True, eq=False)
class Posterior:
    """Log evidence and moments for each grid point, shape (c,), at one smoothness.

    The delivery's acceleration at the times ``curve_s`` is curve_mean + curve_root @ weights, with
    weights of shape (c, p).
    """

    log_evidence: FloatArray
    gain: FloatArray
    gain_var: FloatArray
    accel: FloatArray
    accel_var: FloatArray
    lost: FloatArray
    lost_var: FloatArray
    regained: FloatArray
    regained_var: FloatArray
    curve_s: FloatArray
    curve_mean: FloatArray
    curve_root: FloatArray
    weights: FloatArray

    def curve(self, weight: FloatArray) -> FloatArray:
        """Return the sum over the points of weight, shape (c,), times the delivery's curve."""
        pulled = (weight @ self.weights) @ self.curve_root.T
        curve: FloatArray = weight.sum() * self.curve_mean + pulled
        return curve


def touch_grid(data: HitData, table: SmearTable) -> TouchGrid:
    """Return every touch time and filter to try."""
    near = _near_samples(data)
    clipped = int(np.count_nonzero(data.is_clipped[near]))
    half_width = 1.5 + 0.5 * max(0, clipped - 1)
    n_steps = round(2 * half_width * TOUCH_STEPS_PER_PERIOD) + 1
    offset_s = np.linspace(-half_width, half_width, n_steps) * data.period_s
    n_filters = len(table.delay_s)
    filter_index = np.repeat(np.arange(n_filters), n_steps)
    middle_s = float(data.time_s[data.peak_index])
    touch = middle_s - table.peak_lag_s[filter_index] + np.tile(offset_s, n_filters)
    lag = data.time_s[near] - touch[:, None]
    shape, passed = table.at(filter_index, lag)
    nudge = 0.5 * data.period_s / TOUCH_STEPS_PER_PERIOD
    shape_error = table.change_at(filter_index, lag, nudge) / np.sqrt(3.0)
    peak = table.peak_per_s[filter_index, None]
    shape_error += SHAPE_ERROR * (np.abs(shape) + 0.5 * peak * (passed > BEGUN))
    return TouchGrid(
        filter_index=filter_index,
        touch_s=touch,
        end_s=touch + table.delay_s[filter_index],
        near=near,
        shape=shape,
        passed=passed,
        rebound=table.rebound_at(filter_index, lag),
        shape_error=shape_error,
        anchor_s=float(data.time_s[_anchor_index(data)]),
        n_tried=len(touch),
    )


def fit_bases(data: HitData) -> Iterator[tuple[Basis, Basis]]:
    """Yield delivery and follow-through processes for each smoothness tried."""
    first, last = _first_index(data), _last_index(data)
    peak_s = float(data.time_s[data.peak_index])
    size = 1.5 * data.size_m_s2
    start_s = float(data.time_s[first])
    after_s = float(data.time_s[last - 1])
    follow_size = FOLLOW_PER_S * data.speed_m_s + FOLLOW_LEAST_M_S2
    follow = smooth_process(peak_s - 0.02, after_s, follow_size, max(0.05, 3 * data.period_s))
    for share in SMOOTH_SHARES:
        length = max(share * data.delivery_s, 2.0 * data.period_s)
        yield smooth_process(start_s, peak_s + 3 * data.period_s, size, length), follow


def loss_prior(data: HitData) -> tuple[float, float]:
    """Return mean and standard deviation of the speed that the cue loses, in m/s."""
    return LOSS_SHARE * data.speed_m_s, LOSS_SHARE_SD * max(data.speed_m_s, 0.2)


def rebound_sd_m_s(data: HitData) -> float:
    """Return the standard deviation of each speed that the hand may give back, in m/s."""
    return REBOUND_SHARE_SD * max(data.speed_m_s, 0.2)


def plain_evidence(data: HitData, delivery: Basis) -> float:
    """Return the log evidence of the same samples without any hit."""
    index = np.arange(_first_index(data), _last_index(data))
    used, clipped = index[data.is_usable[index]], index[data.is_clipped[index]]
    features = delivery.features(data.time_s[used])
    var = np.full(len(used), data.noise_var)
    mean, root, log_evidence = regressed(
        features, data.accel_m_s2[used], delivery.kernel_inverse, var
    )
    rows = delivery.features(data.time_s[clipped])
    spread = data.noise_var + np.sum((rows @ root) ** 2, axis=1)
    return log_evidence + float(log_beyond(data.accel_m_s2[clipped], rows @ mean, spread))


def log_beyond(given: FloatArray, centre: FloatArray, var: FloatArray) -> FloatArray:
    """Return the log probability that clipped samples lie beyond what the sensor gave.

    Parameters
    ----------
    given : ndarray, shape (k,)
        What the sensor gave, the ends of its range.
    centre, var : ndarray, shape (..., k)
        What is expected, with its variance.
    """
    beyond = (centre - given) * np.sign(given) / np.sqrt(var)
    score: FloatArray = np.maximum(log_ndtr(beyond), LEAST_LOG_BEYOND).sum(axis=-1)
    return score


def _first_index(data: HitData) -> int:
    """Return the first sample modelled."""
    back = min(FIT_S, max(data.delivery_s, 6 * data.period_s))
    first = int(np.searchsorted(data.time_s, data.time_s[data.peak_index] - back))
    return min(first, _anchor_index(data))


def _last_index(data: HitData) -> int:
    """Return one past the last sample modelled."""
    after = max(3, min(AFTER_SAMPLES, round(AFTER_MOST_S / data.period_s)))
    return min(len(data.time_s), data.peak_index + after + 1)


def _anchor_index(data: HitData) -> int:
    """Return the sample, clear of the blow, from which the gain of speed counts."""
    back = max(BEFORE_SAMPLES - 1, int(np.ceil(ACCEL_WINDOW_S / data.period_s)) + 3)
    return max(0, data.peak_index - back)


def _near_samples(data: HitData) -> IntArray:
    """Return the samples that the blow may have reached."""
    return np.arange(max(0, data.peak_index - BEFORE_SAMPLES), _last_index(data))


def far_rows(data: HitData, delivery: Basis) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return features, values and variances of the samples that the blow cannot have reached.

    A delivery is not everywhere as smooth as the process: samples that stray from it count less
    (weights of Student's t), so that a jerk far back does not bend the end.
    """
    index = np.arange(_first_index(data), max(0, data.peak_index - BEFORE_SAMPLES))
    index = index[data.is_usable[index]]
    features, accel = delivery.features(data.time_s[index]), data.accel_m_s2[index]
    var = reweighted(
        features, accel, delivery.kernel_inverse, data.noise_var, STRAY_FREEDOM, STRAY_ROUNDS
    )
    return features, accel, var


def near_variance(data: HitData, grid: TouchGrid) -> FloatArray:
    """Return the variance of the near samples about the model, shape (c, m)."""
    blow = LOSS_SHARE * max(data.speed_m_s, 0.2) * grid.shape_error
    return data.noise_var + blow**2 + grid.passed**2
