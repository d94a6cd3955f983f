"""What is known of a hit before its samples are weighed: the data, the grid, the priors."""

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from scipy.special import log_ndtr

from cue_sensors.samples import BoolArray, FloatArray, IntArray
from cue_signal.hit_loops import LEAST_LOG_BEYOND
from cue_signal.process import Basis, smooth_process
from cue_signal.smear import smear_table

LOSS_SHARE = 0.31
LOSS_SHARE_SD = 0.07
"""Share of its speed that the cue loses: 22 to 41 % for 16 to 21 oz and any offset to half the
radius, momentum and restitution (physics of the contact)."""
LIMITED_M_S, LIMITED_SHARE = 0.16, 0.15
LIMITED_SD_PART = 0.6
"""What is seen of that where the converter before the sensor's filter ends: its range (4 to 16 g)
times the contact's 1 to 2 ms, less for a soft stroke, of which this share of the speed at most;
and the standard deviation as a part of it."""
SURE_LOG_ODDS = 3.0
"""From here on one of the two, a blow seen in full or cut off, is taken for what happened."""
REBOUND_SHARE, REBOUND_SHARE_SD = 0.08, 0.12
"""Share of its speed that the hand gives back after the blow, each fast and slow: never less than
nothing, at most about what was lost."""
ACCEL_WINDOW_S = 0.02
"""The acceleration at the hit is the mean over this time before the touch."""
FIT_S = 0.22
"""Delivery samples used, back from the hit."""
SHAPE_ERROR = 0.05
"""What the family of filters leaves unexplained, as a part of the blow."""
TREMOR_M_S2, TREMOR_SHARE = 0.12, 0.03
TREMOR_S = 0.02
"""The hand's own unrest on top of the smooth delivery: physiological tremor of 8 to 12 Hz, of some
0.1 m/s^2 in a hand that holds something, and as much as this part of the delivery's acceleration
in one that works (sizes: common practice, no source). A sinusoid of 10 Hz is half as much alike
after 17 ms, and so is the process of this length."""
SMOOTH_SHARES = (0.5, 0.25, 0.12, 1.0)
"""Length scale of the delivery's acceleration, in parts of the delivery's duration."""
FOLLOW_PER_S = 6.0
FOLLOW_LEAST_M_S2 = 3.0
FOLLOW_FROM_S = 0.02
"""Size of the acceleration after the hit, a cue is brought to rest within 0.15 to 0.4 s; and from
how long before the middle of the blow its process reaches."""
UNEVEN_SHARE = 0.005
"""How far single samples stray from that, as a part of the delivery's acceleration."""
STRAY_FREEDOM = 3.0
STRAY_ROUNDS = 6
"""Degrees of freedom, and rounds of re-weighting, for samples that stray from a smooth delivery."""
TOUCH_STEPS_PER_PERIOD = 8
EVEN_PERIODS = 0.02
"""Samples this close to even times count as even: a sixth of a step of the touch."""
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
    def anchor(self) -> int:
        """Return the sample, clear of the blow, from which the gain of speed counts."""
        back = max(BEFORE_SAMPLES - 1, math.ceil(ACCEL_WINDOW_S / self.period_s) + 3)
        return max(0, self.peak_index - back)

    @cached_property
    def first(self) -> int:
        """Return the first sample modelled."""
        back = min(FIT_S, max(self.delivery_s, 6 * self.period_s))
        first = int(np.searchsorted(self.time_s, self.time_s[self.peak_index] - back))
        return min(first, self.anchor)

    @property
    def near(self) -> int:
        """Return the first sample that the blow may have reached; all after it are near."""
        return max(0, self.peak_index - BEFORE_SAMPLES)

    @cached_property
    def last(self) -> int:
        """Return one past the last sample modelled."""
        after = max(3, min(AFTER_SAMPLES, round(AFTER_MOST_S / self.period_s)))
        return min(len(self.time_s), self.peak_index + after + 1)

    @cached_property
    def asked(self) -> tuple[IntArray, int]:
        """Return the near samples that tell something, used ones before clipped, and their number.

        Counted from the first near one.
        """
        near = slice(self.near, self.last)
        used, clipped = np.flatnonzero(self.is_usable[near]), np.flatnonzero(self.is_clipped[near])
        return np.concatenate([used, clipped]), len(used)

    @cached_property
    def used(self) -> IntArray:
        """Return the samples used, counted from the first modelled."""
        return np.flatnonzero(self.is_usable[self.first : self.last])

    @cached_property
    def size_m_s2(self) -> float:
        """Return the root mean square of the delivery's acceleration."""
        span = slice(self.first, max(self.first, self.peak_index - 1))
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

    Times count from the sample in the middle of the blow.

    Parameters
    ----------
    touch_s, end_s : ndarray, shape (c,)
        First touch, and the touch on the samples' times.
    blow : ndarray, shape (c, m, 5)
        Per m/s lost: the smeared blow, its share that has passed, its own uncertainty; then per m/s
        that the hand gives back, fast and slow.
    log_prior : ndarray, shape (c,)
        Of the filter.
    follow : ndarray, shape (m, m)
        Covariance of the near samples, were they all a follow-through of size one.
    """

    touch_s: FloatArray
    end_s: FloatArray
    blow: FloatArray
    log_prior: FloatArray
    follow: FloatArray


@dataclass(frozen=True, eq=False)
class Posterior:
    """Log evidence, shape (c,), and moments, shape (c, 4), for grid points at one smoothness.

    The moments are those of the gain of speed, the late acceleration, the speed lost and regained.

    The delivery's acceleration at the times ``curve_s`` is curve_mean + curve_to_near @ pulled,
    with ``pulled`` of shape (c, m) for the m samples about the blow.
    """

    log_evidence: FloatArray
    mean: FloatArray
    var: FloatArray
    curve_s: FloatArray
    curve_mean: FloatArray
    curve_to_near: FloatArray
    pulled: FloatArray

    def curve(self, weight: FloatArray) -> FloatArray:
        """Return the sum over the points of weight, shape (c,), times the delivery's curve."""
        bend = self.curve_to_near @ (weight @ self.pulled)
        curve: FloatArray = weight.sum() * self.curve_mean + bend
        return curve


def touch_grid(data: HitData) -> TouchGrid:
    """Return every touch time and filter to try."""
    near = slice(data.near, data.last)
    clipped = int(np.count_nonzero(data.is_clipped[near]))
    near_s = data.time_s[near] - data.time_s[data.peak_index]
    period_s, first = round(data.period_s, 6), data.near - data.peak_index
    # samples without a gap lie alike about every hit
    off_s = near_s - period_s * (first + np.arange(len(near_s)))
    if np.abs(off_s).max() < EVEN_PERIODS * period_s:
        return _even_grid(period_s, first, len(near_s), clipped)
    return _grid(period_s, near_s, clipped)


@lru_cache(maxsize=16)
def _even_grid(period_s: float, first: int, n: int, clipped: int) -> TouchGrid:
    """Return the grid for n samples in a row, the first of them so many from the middle."""
    return _grid(period_s, period_s * (first + np.arange(n, dtype=np.float64)), clipped)


def _grid(period_s: float, near_s: FloatArray, clipped: int) -> TouchGrid:
    """Return the grid for samples at times from the middle of the blow, some of them clipped."""
    table = smear_table(period_s)
    half_width = 1.5 + 0.5 * max(0, clipped - 1)
    n_steps = round(2 * half_width * TOUCH_STEPS_PER_PERIOD) + 1
    offset_s = np.linspace(-half_width, half_width, n_steps) * period_s
    n_filters = len(table.delay_s)
    filter_index = np.repeat(np.arange(n_filters), n_steps)
    touch = np.tile(offset_s, n_filters) - table.peak_lag_s[filter_index]
    lag = near_s - touch[:, None]
    shape, passed = table.at(filter_index, lag)
    nudge = 0.5 * period_s / TOUCH_STEPS_PER_PERIOD
    error = table.change_at(filter_index, lag, nudge) / np.sqrt(3.0)
    peak = table.peak_per_s[filter_index, None]
    error += SHAPE_ERROR * (np.abs(shape) + 0.5 * peak * (passed > BEGUN))
    rebound = table.rebound_at(filter_index, lag)
    follow = follow_basis(period_s, float(near_s[-1]))
    return TouchGrid(
        touch_s=touch,
        end_s=touch + table.delay_s[filter_index],
        blow=np.concatenate([np.stack([shape, passed, error], axis=2), rebound], axis=2),
        log_prior=table.log_prior[filter_index],
        follow=follow.covariance(near_s),
    )


def delivery_bases(data: HitData) -> list[Basis]:
    """Return the delivery's process for each smoothness tried."""
    start_s, peak_s = float(data.time_s[data.first]), float(data.time_s[data.peak_index])
    stop_s, size = peak_s + 3 * data.period_s, 1.5 * data.size_m_s2
    lengths = [max(share * data.delivery_s, 2.0 * data.period_s) for share in SMOOTH_SHARES]
    unrest = math.hypot(TREMOR_M_S2, TREMOR_SHARE * data.size_m_s2)
    return [
        smooth_process(start_s, stop_s, size, length, unrest_m_s2=unrest, unrest_s=TREMOR_S)
        for length in lengths
    ]


def follow_basis(period_s: float, stop_s: float) -> Basis:
    """Return the follow-through's process of size one, times from the middle of the blow."""
    return smooth_process(-FOLLOW_FROM_S, stop_s, 1.0, max(0.05, 3 * period_s))


def follow_size_m_s2(data: HitData) -> float:
    """Return the size of the acceleration after the hit."""
    return FOLLOW_PER_S * data.speed_m_s + FOLLOW_LEAST_M_S2


@dataclass(frozen=True)
class Loss:
    """How much speed may be lost, or regained: mean and standard deviation in m/s."""

    mean_m_s: float
    sd_m_s: float


def whole_loss(data: HitData) -> Loss:
    """Return what a sensor sees that follows the blow."""
    return Loss(LOSS_SHARE * data.speed_m_s, LOSS_SHARE_SD * max(data.speed_m_s, 0.2))


def limited_loss(data: HitData) -> Loss:
    """Return what a sensor sees whose converter ends before its filter."""
    seen = min(LIMITED_M_S, LIMITED_SHARE * max(data.speed_m_s, 0.2))
    return Loss(seen, LIMITED_SD_PART * seen)


def any_loss(data: HitData) -> Loss:
    """Return mean and spread of the two, either as likely."""
    whole, limited = whole_loss(data), limited_loss(data)
    apart = 0.5 * (whole.mean_m_s - limited.mean_m_s)
    var = 0.5 * (whole.sd_m_s**2 + limited.sd_m_s**2) + apart**2
    return Loss(0.5 * (whole.mean_m_s + limited.mean_m_s), math.sqrt(var))


def rebound(data: HitData) -> Loss:
    """Return mean and standard deviation of each speed that the hand gives back."""
    speed = max(data.speed_m_s, 0.2)
    return Loss(REBOUND_SHARE * speed, REBOUND_SHARE_SD * speed)


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
