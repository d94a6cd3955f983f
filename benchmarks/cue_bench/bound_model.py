"""How well the speed at the hit can be known at all: a bound from the information in the samples.

The problem is taken as linear and Gaussian about the true stroke, for which the posterior
variance is exact and no unbiased or prior-respecting estimator does better (Bayesian Cramer-Rao
or Van Trees bound; Van Trees 1968, from memory). Uncertainty by causes is combined as in the GUM
(JCGM 100:2008, section 5, from memory).

What is unknown: acceleration along the cue at every millisecond, smooth in the backswing, the
delivery and the follow-through; the blow's area, its instant, and the cue's ringing after it;
an offset of the gravity reference; tilt, by a gyroscope's bias and noise or, without one, by how
a cue tilts along its travel; the sensor's scale. What is seen: samples after the low-pass, with
noise in front of it; no speed at the rest at the ball and at the end; the tip's return to the
ball; the share of speed that a ball takes.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.signal import butter, sosfilt

FloatArray = NDArray[np.float64]
STEP_S = 0.001
GRAVITY_M_S2 = 9.80665
DELIVERY_LENGTH = 0.35
"""Length over which a delivery's acceleration changes, in parts of its duration."""
STILL_M_S2 = 0.002
RING_M_S2, RING_LENGTH_S, RING_S = 10.0, 0.002, 0.03
"""Ringing after the blow: nothing is learnt from the samples within it."""
LOSS_SHARE, LOSS_SHARE_SD = 0.31, 0.06
RETURN_SD_M = 0.007
"""Where the tip lies at address, drawn evenly between 6 and 30 mm."""
REST_SPEED_SD_M_S = 0.002
OFFSET_SD_M_S2 = 0.5
TILT_PER_M_SD_RAD, TILT_PER_M2_SD_RAD = 0.04, 0.22
"""Without a gyroscope: how players' cues tilt along their travel (common practice, no source)."""
TWIST_RAD = 0.05
BLOW_TIME_SD_S = 0.005
USUAL_ACCEL_M_S2 = 4.0
"""At the hit: a blow taken for later than it was takes this much more speed with it."""
BLOW_AREA, BLOW_TIME = 1, 2
"""Places among the single unknowns."""


@dataclass(frozen=True)
class BoundSensor:
    """What the bound needs to know of a sensor and its mounting.

    Parameters
    ----------
    rate_hz, cutoff_hz : float
        Sampling rate, and cut-off of the second-order low-pass before it.
    has_gyroscope : bool
        Whether tilt is measured.
    accel_noise_m_s2_sqrt_hz, gyro_noise_rad_s_sqrt_hz : float
        One-sided noise densities.
    scale_sd : float
        Relative standard uncertainty of the accelerometer's scale.
    gravity_sd : float
        Relative standard uncertainty of gravity, where it was the standard of the scale.
    axis_sd_rad : float
        Of the cue's direction in the sensor.
    """

    rate_hz: float = 200.0
    cutoff_hz: float = 100.0
    has_gyroscope: bool = True
    accel_noise_m_s2_sqrt_hz: float = 150e-6 * GRAVITY_M_S2
    gyro_noise_rad_s_sqrt_hz: float = 1.4e-4
    scale_sd: float = 0.0058
    gravity_sd: float = 0.0
    axis_sd_rad: float = 0.01


@dataclass(frozen=True)
class BoundStroke:
    """The stroke about which the bound is taken; lengths of time in seconds."""

    tip_speed_m_s: float = 1.5
    rest_s: float = 0.5
    backswing_s: float = 0.9
    pause_s: float = 0.2
    delivery_s: float = 0.25
    follow_s: float = 0.3
    hold_s: float = 0.3
    contact_s: float = 0.0014

    @property
    def hit_s(self) -> float:
        """Return when the tip meets the ball, from the start of the rest."""
        return self.rest_s + self.backswing_s + self.pause_s + self.delivery_s


@dataclass(frozen=True)
class Bound:
    """Least standard uncertainty of the speed at the hit, in m/s, by causes.

    Parameters
    ----------
    samples_m_s : float
        Noise, drift, tilt and the blow's smear, with all that is seen.
    scale_m_s, axis_m_s : float
        The sensor's scale (gravity's share in it), and the mounting.
    """

    samples_m_s: float
    scale_m_s: float
    axis_m_s: float

    @property
    def total_m_s(self) -> float:
        """Return all causes together."""
        return float(np.sqrt(self.samples_m_s**2 + self.scale_m_s**2 + self.axis_m_s**2))


def speed_bound(sensor: BoundSensor, stroke: BoundStroke) -> Bound:
    """Return the least standard uncertainty of the speed at the hit.

    Parameters
    ----------
    sensor : BoundSensor
        What measures.
    stroke : BoundStroke
        What is measured.

    Returns
    -------
    Bound
        By causes.
    """
    end_s = stroke.hit_s + stroke.follow_s + stroke.hold_s
    time: FloatArray = np.asarray(np.arange(round(end_s / STEP_S)) * STEP_S, dtype=np.float64)
    accel, shapes, sizes = _prior(sensor, stroke, time)
    n, q = len(time), len(sizes)
    seen, noise = _samples(sensor, time)
    rows, row_noise = _constraints(stroke, time, q)
    # the state: acceleration on the grid, then the sizes of the single unknowns
    prior = np.zeros((n + q, n + q))
    prior[:n, :n] = accel
    prior[n:, n:] = np.diag(sizes**2)
    observe = np.vstack([np.hstack([seen, seen @ shapes]), rows])
    spread = np.zeros((len(observe), len(observe)))
    spread[: len(seen), : len(seen)] = noise
    spread[len(seen) :, len(seen) :] = np.diag(row_noise**2)
    target = np.zeros(n + q)
    target[:n] = _speed_row(stroke, time)
    target[n + BLOW_TIME] = USUAL_ACCEL_M_S2
    held = np.asarray(observe @ prior, dtype=np.float64)
    factor = cho_factor(held @ observe.T + spread)
    towards = held @ target
    variance = float(target @ prior @ target) - float(towards @ cho_solve(factor, towards))
    speed = stroke.tip_speed_m_s
    leak = GRAVITY_M_S2 * TWIST_RAD * 0.5 * stroke.delivery_s
    return Bound(
        samples_m_s=float(np.sqrt(max(variance, 0.0))),
        scale_m_s=float(speed * np.hypot(sensor.scale_sd, sensor.gravity_sd)),
        axis_m_s=float(np.hypot(leak * sensor.axis_sd_rad, 0.5 * speed * sensor.axis_sd_rad**2)),
    )


def _prior(
    sensor: BoundSensor, stroke: BoundStroke, time: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return covariance of the acceleration on the grid, (n, n), and the single unknowns.

    The latter as shapes on the measured acceleration, (n, q), and their standard deviations (q,).
    """
    speed, hit = stroke.tip_speed_m_s, stroke.hit_s
    covariance = np.eye(len(time)) * STILL_M_S2**2
    start, rear = stroke.rest_s, hit - stroke.delivery_s
    swing = 4.0 * 0.25 / stroke.backswing_s**2 * 2.0
    for first, last, size, length in (
        (start, rear, swing, DELIVERY_LENGTH * stroke.backswing_s),
        (rear, hit, 2.0 * speed / stroke.delivery_s, DELIVERY_LENGTH * stroke.delivery_s),
        (hit, hit + stroke.follow_s, 2.0 * speed / stroke.follow_s, 0.35 * stroke.follow_s),
        (hit, hit + RING_S, RING_M_S2, RING_LENGTH_S),
    ):
        inside = np.flatnonzero((time >= first - 1e-9) & (time < last - 1e-9))
        covariance[np.ix_(inside, inside)] += size**2 * _smooth(time[inside], length)
    columns = [np.ones(len(time)), _blow(time - hit, stroke.contact_s)]
    sizes = [OFFSET_SD_M_S2, speed]
    late = _blow(time - hit - STEP_S, stroke.contact_s) - columns[1]
    columns.append(-LOSS_SHARE * speed * late / STEP_S)
    sizes.append(BLOW_TIME_SD_S)
    more, more_sizes = _tilt(sensor, stroke, time)
    shapes = np.column_stack([*columns, *more])
    return covariance, shapes, np.array([*sizes, *more_sizes], dtype=np.float64)


def _tilt(
    sensor: BoundSensor, stroke: BoundStroke, time: FloatArray
) -> tuple[list[FloatArray], list[float]]:
    """Return what tilt may leave on the measured acceleration: shapes and sizes."""
    since = np.clip(time - 0.5 * stroke.rest_s, 0.0, None)
    if sensor.has_gyroscope:
        density = sensor.gyro_noise_rad_s_sqrt_hz / np.sqrt(2.0)
        # bias left over from a rest of this length, and the walk of the angle, as a ramp
        bias = density / np.sqrt(stroke.rest_s)
        walk = density / np.sqrt(max(stroke.hit_s, 0.1))
        return [GRAVITY_M_S2 * since], [float(np.hypot(bias, walk))]
    travel = _travel(stroke, time)
    return (
        [GRAVITY_M_S2 * travel, GRAVITY_M_S2 * travel**2],
        [TILT_PER_M_SD_RAD, TILT_PER_M2_SD_RAD],
    )


def _travel(stroke: BoundStroke, time: FloatArray) -> FloatArray:
    """Return a usual travel along the cue: back by what the delivery comes forward, and on."""
    length = stroke.tip_speed_m_s * stroke.delivery_s * 0.45
    start, rear = stroke.rest_s, stroke.hit_s - stroke.delivery_s
    back = np.clip((time - start) / (rear - stroke.pause_s - start), 0.0, 1.0)
    fore = np.clip((time - rear) / stroke.delivery_s, 0.0, None)
    forward = length * np.minimum(fore, 1.0) ** 2.2
    after = np.clip((time - stroke.hit_s) / stroke.follow_s, 0.0, 1.0)
    on = 0.69 * stroke.tip_speed_m_s * stroke.follow_s * (after - 0.5 * after**2)
    return np.asarray(-length * (1.0 - np.cos(np.pi * back)) / 2.0 + forward + on)


def _samples(sensor: BoundSensor, time: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return what the samples see of the grid, (m, n), and the covariance of their noise."""
    sections = butter(2, sensor.cutoff_hz, fs=1.0 / STEP_S, output="sos")
    impulse = np.zeros(len(time))
    impulse[0] = 1.0
    response = sosfilt(sections, impulse)
    step = 1.0 / (sensor.rate_hz * STEP_S)
    picks = np.round(np.arange(0.0, len(time) - 1, step)).astype(np.int64)
    lag = picks[:, None] - np.arange(len(time))
    seen = np.where(lag >= 0, response[np.clip(lag, 0, None)], 0.0)
    # the state before the window is as at its start
    seen[:, 0] += 1.0 - seen.sum(axis=1)
    white = sensor.accel_noise_m_s2_sqrt_hz * np.sqrt(0.5 / STEP_S)
    body = np.where(lag >= 0, response[np.clip(lag, 0, None)], 0.0)
    noise = white**2 * body @ body.T + np.eye(len(picks)) * 1e-8
    return np.asarray(seen, dtype=np.float64), np.asarray(noise, dtype=np.float64)


def _constraints(
    stroke: BoundStroke, time: FloatArray, n_extra: int
) -> tuple[FloatArray, FloatArray]:
    """Return rows of what else is known, (k, n + q), and its standard deviations."""
    hit = _speed_row(stroke, time)
    travel = np.clip(stroke.hit_s - time, 0.0, None) * STEP_S
    extra = np.zeros((3, n_extra))
    extra[1:, BLOW_AREA] = 1.0
    rows = np.vstack([travel, LOSS_SHARE * hit, np.full(len(time), STEP_S)])
    sds = [RETURN_SD_M, LOSS_SHARE_SD * stroke.tip_speed_m_s, REST_SPEED_SD_M_S]
    return np.hstack([rows, extra]), np.array(sds)


def _speed_row(stroke: BoundStroke, time: FloatArray) -> FloatArray:
    """Return the row that sums acceleration up to the hit."""
    return np.where(time < stroke.hit_s - 1e-9, STEP_S, 0.0)


def _blow(late_s: FloatArray, contact_s: float) -> FloatArray:
    """Return the deceleration of a blow of area one over the contact."""
    shape = np.where((late_s >= -1e-9) & (late_s < contact_s), 1.0, 0.0)
    return np.asarray(shape / max(float(shape.sum()) * STEP_S, 1e-12), dtype=np.float64)


def _smooth(time: FloatArray, length_s: float) -> FloatArray:
    """Return the Matern 5/2 correlation on a grid."""
    scaled = np.sqrt(5.0) * np.abs(time[:, None] - time) / length_s
    return np.asarray((1.0 + scaled + scaled**2 / 3.0) * np.exp(-scaled), dtype=np.float64)
