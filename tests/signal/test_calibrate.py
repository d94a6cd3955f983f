from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from cue_sensors.samples import Calibration, Samples, SensorInfo
from cue_sensors.scaling import Scaling
from cue_signal.calibrate import SixRestGuide, compose, gyro_bias, local_gravity, six_rests
from cue_signal.calibrate_still import find_attitudes
from cue_signal.errors import SignalError
from cue_signal.tumble import TumbleGuide, tumble

RATE_HZ = 100.0
GRAVITY_M_S2 = 9.80665
BIAS_M_S2 = np.array([0.25, -0.15, 0.08])
ERRORS = np.array([[1.008, 0.003, -0.004], [0.003, 0.994, 0.002], [-0.004, 0.002, 1.005]])
GYRO_BIAS_RAD_S = np.array([0.006, -0.004, 0.002])
FACES = np.vstack([np.eye(3), -np.eye(3)])


def rests(ups, *, noise=0.0, seed=0, rest_s=2.5, jolt_m_s2=2.0, gyro_noise=0.0, has_gyroscope=True):
    """Return samples of rests in the given attitudes, with shaking in between."""
    rng = np.random.default_rng(seed)
    n_rest, n_move = round(rest_s * RATE_HZ), round(0.6 * RATE_HZ)
    force, rate = [], []
    for up in ups:
        force += [np.tile(GRAVITY_M_S2 * up, (n_rest, 1))]
        force += [GRAVITY_M_S2 * up + jolt_m_s2 * rng.standard_normal((n_move, 3))]
        rate += [np.zeros((n_rest, 3)), rng.standard_normal((n_move, 3))]
    felt = np.vstack(force)
    reading = felt @ ERRORS.T + BIAS_M_S2 + noise * rng.standard_normal(felt.shape)
    turning = np.vstack(rate) + GYRO_BIAS_RAD_S + gyro_noise * rng.standard_normal(felt.shape)
    n = len(felt)
    return Samples(
        np.arange(n) / RATE_HZ,
        reading,
        turning if has_gyroscope else None,
        np.zeros(n, dtype=np.bool_),
        RATE_HZ,
    )


def spread_ups(n, seed=0):
    """Return n directions drawn over the sphere."""
    return Rotation.random(n, rng=np.random.default_rng(seed)).apply([0.0, 0.0, 1.0])


def test_twenty_rests_without_noise_give_the_sensor_errors_back():
    result = tumble(rests(spread_ups(20)))
    # the prior of usual sizes pulls by a ten-thousandth of each error or so
    assert result.calibration.accel_bias_m_s2 == pytest.approx(BIAS_M_S2, abs=1e-4)
    matrix = np.array(result.calibration.accel_matrix).reshape(3, 3)
    assert matrix == pytest.approx(np.linalg.inv(ERRORS), abs=1e-5)
    assert len(result.told) == 9


def test_the_fit_agrees_with_a_linear_fit_of_an_ellipsoid():
    samples = rests(spread_ups(24), noise=0.02, seed=3)
    readings = np.array([one.force_m_s2 for one in find_attitudes(samples)])
    x, y, z = readings.T
    # x'Qx + q'x = 1, linear in nine numbers: no iteration, no prior (closed form)
    terms = np.column_stack([x * x, y * y, z * z, 2 * x * y, 2 * x * z, 2 * y * z, x, y, z])
    q = np.linalg.lstsq(terms, np.ones(len(x)), rcond=None)[0]
    form = np.array([[q[0], q[3], q[4]], [q[3], q[1], q[5]], [q[4], q[5], q[2]]])
    centre = -0.5 * np.linalg.solve(form, q[6:])
    found = tumble(samples)
    assert found.calibration.accel_bias_m_s2 == pytest.approx(centre, abs=2e-3)
    size = GRAVITY_M_S2**2 / (1.0 + centre @ form @ centre)
    matrix = np.array(found.calibration.accel_matrix).reshape(3, 3)
    assert matrix @ matrix == pytest.approx(form * size, abs=4e-4)


def test_six_leaning_rests_tell_bias_and_scale_and_leave_the_cross_terms_wide():
    lean = Rotation.from_rotvec(0.06 * np.random.default_rng(2).standard_normal((6, 3)))
    result = six_rests(rests(lean.apply(FACES), noise=0.01))
    # the unknown cross-axis terms come in by twice the lean
    assert result.calibration.accel_bias_m_s2 == pytest.approx(BIAS_M_S2, abs=0.015)
    diagonal = np.array(result.calibration.accel_matrix)[[0, 4, 8]]
    assert diagonal == pytest.approx(np.diag(np.linalg.inv(ERRORS)), abs=0.002)
    assert not any(name.startswith("cross") for name in result.told)
    assert result.accel_matrix_sd[1] > 0.0038
    assert any("cross-axis terms xy, xz, yz" in text for text in result.words)
    assert result.missing == ()


def test_a_cross_axis_term_that_no_rest_tells_is_as_unsure_as_that_of_a_usual_sensor():
    # each of the six terms by itself, and what is left of them once the axes are turned together
    drawn = np.random.default_rng(6).uniform(-0.01, 0.01, (4000, 3, 3))
    drawn[:, np.arange(3), np.arange(3)] = 0.0
    symmetric = 0.5 * (drawn + np.swapaxes(drawn, 1, 2))
    spread = np.std(symmetric[:, [0, 0, 1], [1, 2, 2]])
    level = six_rests(rests(FACES, noise=0.01))
    assert np.array(level.accel_matrix_sd)[[1, 2, 5]] == pytest.approx(spread, rel=0.03)


def test_a_missing_side_is_named_and_leaves_a_wide_uncertainty():
    result = six_rests(rests(FACES[:5], noise=0.01))
    assert result.missing == ("z down",)
    assert any("Missing sides: z down" in text for text in result.words)
    assert result.accel_bias_sd_m_s2[2] > 5.0 * result.accel_bias_sd_m_s2[0]
    # bias and scale of z hide each other: their sum is known, so the sds go together
    assert result.accel_matrix_sd[8] > 3.0 * result.accel_matrix_sd[0]


def test_too_few_rests_are_refused_with_what_is_missing():
    with pytest.raises(SignalError, match=r"Only 3 rests .* missing: x down, y down, z down"):
        six_rests(rests(FACES[:3]))
    with pytest.raises(SignalError, match=r"Only 5 rests .* at least 6"):
        tumble(rests(FACES[:5]))


def test_a_rest_that_was_disturbed_is_named():
    samples = rests(spread_ups(16), noise=0.01)
    third = slice(round(2 * 3.1 * RATE_HZ), round((2 * 3.1 + 2.5) * RATE_HZ))
    samples.specific_force_m_s2[third] *= 1.03
    words = " ".join(tumble(samples).words)
    assert "The rest at 6.4" in words or "The rest at 6.5" in words


def test_stated_uncertainties_cover_the_errors():
    inside = []
    for seed in range(20):
        result = tumble(rests(spread_ups(16, seed), noise=0.03, seed=seed))
        matrix = np.array(result.calibration.accel_matrix).reshape(3, 3)
        off = np.concatenate(
            [
                np.array(result.calibration.accel_bias_m_s2) - BIAS_M_S2,
                (matrix - np.linalg.inv(ERRORS))[np.triu_indices(3)],
            ]
        )
        # gravity is exact here, so its share is taken out of the stated variances
        variance = np.diag(result.fit.covariance).copy()
        variance[3:6] -= result.gravity.relative_sd**2
        order = [0, 1, 2, 3, 6, 7, 4, 8, 5]
        inside += list(np.abs(off) < np.sqrt(variance[order]))
    # 180 draws, correlated in nines; floors for drifts that are absent here make it wide
    assert 0.6 < np.mean(inside) < 0.93


def test_scale_along_the_cue_includes_gravity_and_the_fit():
    result = tumble(rests(spread_ups(20), noise=0.01))
    axis = np.array([0.6, 0.0, 0.8])
    assert result.scale_sd(axis) > result.gravity.relative_sd
    assert result.scale_sd(axis) == pytest.approx(result.gravity.relative_sd, rel=0.05)
    assert result.calibration.accel_scale_sd == pytest.approx(result.scale_sd(axis), rel=0.05)


@pytest.mark.parametrize("latitude_deg", [0.0, 30.0, 45.0, -52.5, 90.0])
def test_gravity_agrees_with_the_series_of_1980(latitude_deg):
    # Geodetic Reference System 1980 in its series form (Moritz 1980, from memory)
    once, twice = np.sin(np.radians([latitude_deg, 2.0 * latitude_deg])) ** 2
    expected = 9.780327 * (1.0 + 0.0053024 * once - 0.0000058 * twice)
    assert local_gravity(latitude_deg).gravity_m_s2 == pytest.approx(expected, abs=1e-5)


def test_gravity_at_a_height_agrees_with_a_published_example():
    # the example of a toolbox's WGS 84 gravity function: 55 degrees, 5000 m, Taylor series
    assert local_gravity(55.0, height_m=5000.0).gravity_m_s2 == pytest.approx(9.7997, abs=2e-4)


def test_unknown_gravity_goes_into_every_scale():
    result = tumble(rests(spread_ups(20), noise=0.01))
    known = tumble(rests(spread_ups(20), noise=0.01), gravity=local_gravity(52.0))
    assert result.gravity.relative_sd == pytest.approx(0.0015, abs=1e-4)
    assert known.accel_matrix_sd[0] < 0.4 * result.accel_matrix_sd[0]
    ratio = known.calibration.accel_matrix[0] / result.calibration.accel_matrix[0]
    assert ratio == pytest.approx(local_gravity(52.0).gravity_m_s2 / GRAVITY_M_S2, abs=1e-5)
    with pytest.raises(ValueError, match="91"):
        local_gravity(91.0)


def test_gyroscope_bias_is_the_mean_over_the_rests():
    found = gyro_bias(rests(FACES, gyro_noise=0.003))
    assert found.bias_rad_s == pytest.approx(GYRO_BIAS_RAD_S, abs=4.0 * max(found.sd_rad_s))
    # 600 samples of 0.003 each, and the floor of a bias that wanders
    assert 1e-4 < max(found.sd_rad_s) < 4e-4
    assert found.n_rests == 6
    with pytest.raises(SignalError, match="no angular rate"):
        gyro_bias(rests(FACES, has_gyroscope=False))
    with pytest.raises(SignalError, match=r"1\.5 s"):
        gyro_bias(rests(FACES[:1], rest_s=0.5))


def test_a_calibration_on_top_of_another_is_one_for_raw_samples():
    first = Calibration((0.1, 0.2, -0.1), (0.01, 0.0, 0.0), (1.01, 0.0, 0.0, 0.0, 1, 0, 0, 0, 0.99))
    once = rests(spread_ups(20))
    matrix = np.array(first.accel_matrix).reshape(3, 3)
    twice = Samples(
        once.time_s,
        (once.specific_force_m_s2 - np.array(first.accel_bias_m_s2)) @ matrix.T,
        None,
        once.is_clipped,
        once.rate_hz,
    )
    whole = tumble(twice, applied=first).calibration
    # symmetric corrections of each other's rest are not quite symmetric: 1e-5 of a rotation
    raw = once.specific_force_m_s2[50]
    corrected = np.array(whole.accel_matrix).reshape(3, 3) @ (raw - whole.accel_bias_m_s2)
    assert np.linalg.norm(corrected) == pytest.approx(GRAVITY_M_S2, abs=1e-3)
    assert compose(Calibration(), after=first) == first


def test_samples_through_the_calibration_read_gravity_in_every_attitude():
    calibration = tumble(rests(spread_ups(20))).calibration
    step = 16 * GRAVITY_M_S2 / 32768
    sensor = SensorInfo(accel_range_m_s2=16 * GRAVITY_M_S2, gyro_range_rad_s=35.0)
    ups = spread_ups(30, seed=9)
    counts = np.round((GRAVITY_M_S2 * ups @ ERRORS.T + BIAS_M_S2) / step).astype(np.int16)
    force = Scaling(sensor, sensor, calibration).specific_force_m_s2(counts)
    # half a count on each axis
    assert np.linalg.norm(force, axis=1) == pytest.approx(np.full(30, GRAVITY_M_S2), abs=step)


def test_the_guide_counts_sides_and_gives_the_same_in_pieces():
    samples = rests(FACES, noise=0.01)
    guide = SixRestGuide()
    counts, words = [], []
    for start, stop in pairwise(np.append(np.arange(0.0, 18.5, 0.13), np.inf)):
        state = guide.push(samples.between(start, stop))
        counts.append(state.n_done)
        words.append(state.words)
    assert counts == sorted(counts)
    assert counts[-1] == 6
    assert state.is_ready
    assert state.missing == ()
    assert any("two seconds are enough" in text for text in words)
    assert words[-1] == "All six sides are done."
    whole = six_rests(samples)
    assert guide.result().calibration == whole.calibration


def test_the_guide_says_what_is_missing_before_it_is_done():
    guide = SixRestGuide()
    state = guide.push(rests(FACES[:4], noise=0.01))
    assert (state.n_done, state.is_ready) == (4, False)
    assert state.missing == ("y down", "z down")
    assert "y down, z down" in state.words


def test_the_tumble_guide_counts_attitudes_that_differ():
    guide = TumbleGuide()
    ups = np.vstack([FACES, FACES, Rotation.from_rotvec([0.5, 0.5, 0.5]).apply(FACES)])
    state = guide.push(rests(ups, noise=0.01))
    assert (state.n_done, state.is_ready) == (12, True)
    assert guide.result().n_attitudes == 18


def test_rests_with_a_gap_or_a_clipped_sample_do_not_count():
    samples = rests(FACES[:1], rest_s=2.0)
    late = samples.time_s.copy()
    late[90:] += 0.2
    gap = Samples(late, samples.specific_force_m_s2, None, samples.is_clipped, samples.rate_hz)
    assert len(find_attitudes(samples)) == 1
    assert len(find_attitudes(gap)) == 0
    clipped = samples.is_clipped.copy()
    clipped[90] = True
    end = Samples(samples.time_s, samples.specific_force_m_s2, None, clipped, samples.rate_hz)
    assert len(find_attitudes(end)) == 0
