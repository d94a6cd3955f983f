"""From what the sensor's place feels to the counts that the sensor gives.

Order, as in a small inertial sensor: mounting, scale and cross-axis errors, bias and noise, the
front end (which may end at the range), the low-pass filter, sampling by the device's clock, the
16-bit word. White noise is put in before the filter, so that the filter colours it.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt, sosfilt_zi
from scipy.spatial.transform import Rotation

from cue_bench.maker.motion import Motion
from cue_bench.maker.settings import STANDARD_GRAVITY_M_S2, SessionSettings

FloatArray = NDArray[np.float64]
CountArray = NDArray[np.int16]
FULL_SCALE = 32768
BLOCK_S = 8.0
LEAD_IN_S = 0.05


@dataclass(frozen=True, eq=False)
class Taken:
    """All samples of one session, before any notification is lost.

    ``true_s`` are the instants at which they were taken, ``device_s`` the device's clock then.
    """

    true_s: FloatArray
    device_s: FloatArray
    counts: CountArray


def filter_delay_s(settings: SessionSettings) -> float:
    """Return the delay of the low-pass for slow signals: sqrt(2) / (2 pi cut-off)."""
    own = settings.sensor
    return float(np.sqrt(2.0) / (2 * np.pi * own.cutoff_ratio * own.rate_hz))


def sensor_place_m(settings: SessionSettings) -> tuple[float, float, float]:
    """Return the sensor's place in the body frame, seen from the bridge at slide 0."""
    from_tip = settings.cue.length_m - settings.sensor.sensor_from_butt_m
    return (settings.cue.bridge_to_tip_m - from_tip, 0.0, settings.sensor.off_axis_m)


def cue_axis_in_sensor(settings: SessionSettings) -> FloatArray:
    """Return the unit vector along the cue towards the tip in the sensor's frame."""
    to_body = Rotation.from_rotvec(settings.sensor.mounting_rotvec)
    return np.asarray(to_body.inv().apply([1.0, 0.0, 0.0]), dtype=np.float64)


def felt(motion: Motion, time_s: FloatArray, settings: SessionSettings) -> FloatArray:
    """Return specific force and angular rate in the sensor's frame, SI, shape (n, 6)."""
    pose = motion.pose(time_s)
    force = pose.specific_force_m_s2(sensor_place_m(settings))
    rate, _ = pose.angular_rate_rad_s()
    return in_sensor_frame(force, rate, settings)


def in_sensor_frame(force: FloatArray, rate: FloatArray, settings: SessionSettings) -> FloatArray:
    """Return specific force and angular rate of the cue's body frame in the sensor's, (n, 6)."""
    to_sensor = Rotation.from_rotvec(settings.sensor.mounting_rotvec).inv()
    return np.hstack([to_sensor.apply(force), to_sensor.apply(rate)])


def take_samples(
    motion: Motion, stop_s: float, settings: SessionSettings, rng: np.random.Generator
) -> Taken:
    """Run the sensor on a motion from time 0 to the end of the session."""
    return take_felt(lambda times: felt(motion, times, settings), stop_s, settings, rng)


def take_felt(
    feel: Callable[[FloatArray], FloatArray],
    stop_s: float,
    settings: SessionSettings,
    rng: np.random.Generator,
) -> Taken:
    """Run the sensor on whatever tells what its place feels, in its own frame, shape (n, 6)."""
    own, dense = settings.sensor, settings.dense_rate_hz
    n = int((stop_s - LEAD_IN_S) * own.rate_hz)
    device = np.arange(n) / own.rate_hz
    true = LEAD_IN_S + device / (1.0 + own.clock_error) + own.jitter_s * rng.standard_normal(n)
    sos = butter(2, own.cutoff_ratio * own.rate_hz, fs=dense, output="sos")
    state, readings = None, np.empty((n, 6))
    n_block = int(BLOCK_S * dense)
    carry = np.empty((0, 6))
    for block in range(int(np.ceil(stop_s * dense / n_block))):
        times = (block * n_block + np.arange(n_block)) / dense
        raw = _front_end(feel(times), settings, rng)
        if state is None:
            state = sosfilt_zi(sos)[:, :, None] * raw[0]
        smooth, state = sosfilt(sos, raw, axis=0, zi=state)
        # One sample of overlap, so that an instant between two blocks finds both neighbours.
        grid = np.vstack([carry, smooth])
        first_time = times[0] - len(carry) / dense
        inside = (true >= first_time) & (true < times[-1])
        place = (true[inside] - first_time) * dense
        low = place.astype(np.int64)
        part = (place - low)[:, None]
        readings[inside] = grid[low] * (1 - part) + grid[low + 1] * part
        carry = smooth[-1:]
    shift = filter_delay_s(settings) if own.is_delay_removed else 0.0
    return Taken(true_s=true - shift, device_s=device, counts=_to_counts(readings, settings))


def _front_end(true: FloatArray, settings: SessionSettings, rng: np.random.Generator) -> FloatArray:
    """Return what reaches the filter: errors, noise and, if so set, the end of the range."""
    own = settings.sensor
    xy, xz, yz = own.accel_cross
    matrix = np.eye(3) + np.diag(own.accel_scale)
    matrix += np.array([[0.0, xy, xz], [xy, 0.0, yz], [xz, yz, 0.0]])
    force = true[:, :3] @ matrix.T + np.array(own.accel_bias_g) * STANDARD_GRAVITY_M_S2
    rate = true[:, 3:] * (1 + np.array(own.gyro_scale)) + np.deg2rad(own.gyro_bias_deg_s)
    rate = rate + own.g_sensitivity_rad_s_per_m_s2 * true[:, :3]
    # One-sided density d gives, at a dense rate fs, a standard deviation of d sqrt(fs / 2).
    spread = np.sqrt(settings.dense_rate_hz / 2)
    noise = rng.standard_normal(true.shape)
    force += noise[:, :3] * own.accel_noise_g_sqrt_hz * STANDARD_GRAVITY_M_S2 * spread
    rate += noise[:, 3:] * np.deg2rad(own.gyro_noise_deg_s_sqrt_hz) * spread
    if own.clipping == "front_end":
        top_force, top_rate = _ranges(settings)
        force, rate = np.clip(force, -top_force, top_force), np.clip(rate, -top_rate, top_rate)
    return np.hstack([force, rate])


def _ranges(settings: SessionSettings) -> tuple[float, float]:
    """Return the ends of both ranges in SI units."""
    own = settings.sensor
    return own.accel_range_g * STANDARD_GRAVITY_M_S2, float(np.deg2rad(own.gyro_range_deg_s))


def count_sizes(settings: SessionSettings) -> FloatArray:
    """Return what one count of each axis is worth in SI units, shape (6,)."""
    force, rate = _ranges(settings)
    return np.repeat([force / FULL_SCALE, rate / FULL_SCALE], 3)


def _to_counts(readings: FloatArray, settings: SessionSettings) -> CountArray:
    """Return the 16-bit words, which end at the range."""
    counts = np.round(readings / count_sizes(settings))
    words = np.clip(counts, -FULL_SCALE, FULL_SCALE - 1).astype(np.int16)
    return words if settings.sensor.has_gyroscope else words[:, :3]
