import dataclasses

import numpy as np
import pytest
from scipy.signal import welch
from scipy.spatial.transform import Rotation

from cue_bench.maker import SensorSettings, SessionSettings
from cue_bench.maker.curves import Contact, Hum
from cue_bench.maker.motion import Motion
from cue_bench.maker.sensor import (
    Taken,
    count_sizes,
    cue_axis_in_sensor,
    filter_delay_s,
    take_samples,
)

G = 9.80665
QUIET = SensorSettings(accel_noise_g_sqrt_hz=0.0, gyro_noise_deg_s_sqrt_hz=0.0)


def readings(
    motion: Motion, sensor: SensorSettings, seconds: float = 4.0, dense_rate_hz: float = 8000.0
) -> tuple[Taken, np.ndarray]:
    settings = SessionSettings((), sensor=sensor, dense_rate_hz=dense_rate_hz)
    taken = take_samples(motion, seconds, settings, np.random.default_rng(1))
    return taken, taken.counts * count_sizes(settings)[: taken.counts.shape[1]]


@pytest.mark.parametrize("frequency_hz", [2.0, 25.0, 50.0, 80.0])
def test_the_low_pass_has_the_gain_of_a_second_order_butterworth(frequency_hz: float) -> None:
    # Closed form: 1 / sqrt(1 + (f / cut-off)^4), here cut-off 50 Hz.
    omega = 2 * np.pi * frequency_hz
    motion = Motion()
    motion.add("slide", Hum((20.0 / omega**2,), (frequency_hz,), (0.0,)))
    sensor = dataclasses.replace(QUIET, cutoff_ratio=0.25)
    _, values = readings(motion, sensor)
    amplitude = np.sqrt(2) * values[200:, 0].std()
    expected = 20.0 / np.sqrt(1 + (frequency_hz / 50.0) ** 4)
    # The time is no whole number of periods: half a percent.
    assert amplitude == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("is_removed", [False, True])
def test_the_stated_delay_is_that_of_slow_signals(is_removed: bool) -> None:
    # Truth: the phase of a slow sinusoid, fitted by least squares on the true instants.
    motion = Motion()
    omega = 2 * np.pi * 3.0
    motion.add("slide", Hum((5.0 / omega**2,), (3.0,), (0.0,)))
    sensor = dataclasses.replace(QUIET, cutoff_ratio=0.25, is_delay_removed=is_removed)
    taken, values = readings(motion, sensor)
    basis = np.stack([np.sin(omega * taken.true_s), np.cos(omega * taken.true_s)], axis=1)
    (sine, cosine), *_ = np.linalg.lstsq(basis[200:], -values[200:, 0], rcond=None)
    delay = -np.arctan2(cosine, sine) / omega
    expected = 0.0 if is_removed else filter_delay_s(SessionSettings((), sensor=sensor))
    assert delay == pytest.approx(expected, abs=5e-5)


def folded_gain(frequency_hz: np.ndarray, sensor: SensorSettings) -> np.ndarray:
    """Power gain of the low-pass, with what sampling folds down from above."""
    images = np.abs(frequency_hz + sensor.rate_hz * np.arange(-4, 5)[:, np.newaxis])
    cutoff_hz = sensor.cutoff_ratio * sensor.rate_hz
    return np.asarray((1 / (1 + (images / cutoff_hz) ** 4)).sum(axis=0))


def test_noise_has_the_set_density() -> None:
    # Truth: set density times the filter's closed-form gain, against Welch's estimate.
    sensor = SensorSettings(accel_noise_g_sqrt_hz=150e-6, gyro_noise_deg_s_sqrt_hz=0.01)
    _, values = readings(Motion(), sensor, seconds=300.0, dense_rate_hz=2000.0)
    frequency, power = welch(values, fs=200.0, nperseg=200, axis=0)
    low = (frequency > 2) & (frequency < 40)
    gain = folded_gain(frequency[low], sensor)[:, np.newaxis]
    density = np.sqrt((power[low] / gain).mean(axis=0))
    # 600 averages over 38 lines: half a percent; the 16-bit words add half a percent to the
    # accelerometer and 2 % to the gyroscope (0.03 deg/s a count over 100 Hz).
    np.testing.assert_allclose(density[:3] / G, 150e-6, rtol=0.025)
    np.testing.assert_allclose(np.rad2deg(density[3:]), 0.01, rtol=0.03)


def test_noise_averages_down_as_white_noise_does() -> None:
    # Closed form: Allan deviation of white noise of one-sided density d is d / sqrt(2 tau).
    sensor = SensorSettings(accel_noise_g_sqrt_hz=150e-6)
    _, values = readings(Motion(), sensor, seconds=300.0, dense_rate_hz=2000.0)
    density = 150e-6 * G * np.sqrt(folded_gain(np.array([0.0]), sensor)[0])
    for tau in (0.1, 0.5):
        means = values[: (299 * 200), :3].reshape(-1, int(tau * 200), 3).mean(axis=1)
        allan = np.sqrt(0.5 * np.mean(np.diff(means, axis=0) ** 2))
        # 3 axes of 598 means: 2 %.
        assert allan == pytest.approx(density / np.sqrt(2 * tau), rel=0.07)


def test_every_error_of_the_accelerometer_is_as_set() -> None:
    # Closed form: matrix times gravity plus bias, cue level, mounting turned by 90 degrees.
    sensor = dataclasses.replace(
        QUIET,
        mounting_rotvec=(np.pi / 2, 0.0, 0.0),
        accel_bias_g=(0.02, -0.03, 0.01),
        accel_scale=(0.0, 0.01, 0.0),
        accel_cross=(0.004, 0.0, -0.002),
        gyro_bias_deg_s=(0.3, -0.2, 0.1),
        g_sensitivity_rad_s_per_m_s2=1e-3,
    )
    _, values = readings(Motion(), sensor)
    up = Rotation.from_rotvec(sensor.mounting_rotvec).inv().apply([0.0, 0.0, 9.81])
    np.testing.assert_allclose(up, [0.0, 9.81, 0.0], atol=1e-12)
    expected = np.array([0.004 * 9.81, 1.01 * 9.81, -0.002 * 9.81]) + G * np.array(
        [0.02, -0.03, 0.01]
    )
    np.testing.assert_allclose(values[100:, :3].mean(axis=0), expected, atol=3e-3)
    rates = np.deg2rad([0.3, -0.2, 0.1]) + 1e-3 * up
    np.testing.assert_allclose(values[100:, 3:].mean(axis=0), rates, atol=3e-4)


def test_counts_end_at_the_range_and_are_whole_counts_apart() -> None:
    motion = Motion()
    motion.add("slide", Hum((300.0 / (2 * np.pi * 5) ** 2,), (5.0,), (0.0,)))
    taken, values = readings(motion, QUIET)
    assert taken.counts[:, 0].min() == -32768
    assert taken.counts[:, 0].max() == 32767
    assert values[:, 0].max() == pytest.approx(16 * G, rel=1e-4)
    assert taken.counts.dtype == np.int16


def test_a_clipped_front_end_hides_a_hit_that_the_output_would_show() -> None:
    # The hit of a 2 m/s stroke peaks at 82 g: most of its area lies beyond 16 g.
    motion = Motion()
    motion.add("slide", Contact(2.0, 0.0015, 0.77))
    lowest = {}
    for where in ("output", "front_end"):
        sensor = dataclasses.replace(QUIET, clipping=where, cutoff_ratio=0.25)
        _, values = readings(motion, sensor)
        lowest[where] = np.abs(values[:, 0]).max()
    assert lowest["front_end"] < 0.5 * lowest["output"]


def test_the_device_clock_runs_off_by_its_error() -> None:
    sensor = dataclasses.replace(QUIET, clock_error=40e-6)
    taken, _ = readings(Motion(), sensor, seconds=20.0)
    own, true = np.ptp(taken.device_s), np.ptp(taken.true_s)
    assert own / true - 1 == pytest.approx(40e-6, rel=1e-3)
    assert np.diff(taken.device_s) == pytest.approx(1 / 200.0)


def test_sampling_instants_jitter_as_set() -> None:
    sensor = dataclasses.replace(QUIET, jitter_s=50e-6)
    taken, _ = readings(Motion(), sensor, seconds=20.0)
    # 4000 instants: 1 % of a standard deviation.
    assert (taken.true_s - taken.device_s).std() == pytest.approx(50e-6, rel=0.05)


def test_a_sensor_without_gyroscope_gives_three_axes() -> None:
    taken, _ = readings(Motion(), dataclasses.replace(QUIET, has_gyroscope=False))
    assert taken.counts.shape[1] == 3


def test_blocks_join_without_a_seam() -> None:
    # Truth: noise-free samples of a slow sinusoid lie on it, at the block's edge (8 s) as well.
    motion = Motion()
    omega = 2 * np.pi * 1.0
    motion.add("slide", Hum((3.0 / omega**2,), (1.0,), (0.3,)))
    taken, values = readings(motion, QUIET, seconds=10.0)
    delay = filter_delay_s(SessionSettings((), sensor=QUIET))
    expected = -3.0 * np.sin(omega * (taken.true_s - delay) + 0.3)
    np.testing.assert_allclose(values[100:, 0], expected[100:], atol=5e-3)


def test_the_cue_axis_is_where_the_mounting_puts_it() -> None:
    # Truth: with the cue pitched up by 0.5 rad at rest, gravity along the axis is 9.81 sin 0.5.
    sensor = dataclasses.replace(QUIET, mounting_rotvec=(0.4, -1.1, 2.0))
    settings = SessionSettings((), sensor=sensor)
    _, values = readings(Motion(start_values={"pitch": 0.5}), sensor)
    along = values[100:, :3].mean(axis=0) @ cue_axis_in_sensor(settings)
    assert along == pytest.approx(9.81 * np.sin(0.5), abs=2e-3)
