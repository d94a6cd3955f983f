"""The posterior of a hit against a dense Gaussian of all samples at once."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import block_diag
from scipy.stats import multivariate_normal

from cue_signal.hit_loops import LEAST_LOG_BEYOND
from cue_signal.hit_model import (
    STRAY_FREEDOM,
    STRAY_ROUNDS,
    HitData,
    any_loss,
    delivery_bases,
    follow_basis,
    follow_size_m_s2,
    rebound,
    touch_grid,
)
from cue_signal.hit_solve import Blow, Delivery, conditions, log_evidences
from cue_signal.process_loops import regressed

PERIOD_S = 0.005
PEAK = 40


@pytest.fixture
def data():
    """Return a delivery that gains at 8 m/s^2, loses 0.6 m/s in one sample, and slows."""
    rng = np.random.default_rng(5)
    time_s = PERIOD_S * np.arange(60)
    accel = np.where(np.arange(60) <= PEAK, 8.0, -9.0) + rng.normal(0, 0.05, 60)
    accel[PEAK] -= 0.6 / PERIOD_S
    is_usable = np.ones(60, dtype=bool)
    is_usable[PEAK + 2] = False
    return HitData(
        time_s=time_s,
        accel_m_s2=accel,
        is_usable=is_usable,
        is_clipped=np.zeros(60, dtype=bool),
        peak_index=PEAK,
        period_s=PERIOD_S,
        noise_m_s2=0.05,
        delivery_s=0.2,
        speed_m_s=1.6,
        over_s=float(time_s[PEAK + 6]),
    )


@pytest.fixture
def grid(data):
    return touch_grid(data)


def some_of(grid):
    """Return a few of the grid's points."""
    return np.arange(0, len(grid.touch_s), len(grid.touch_s) // 6)


def dense(data, grid, basis, c):
    """Return mean and covariance of (weights, used samples) at one grid point, and the samples."""
    far_at = np.flatnonzero(data.is_usable[: data.near])
    far_at = far_at[far_at >= data.first]
    far, far_accel = basis.features(data.time_s[far_at]), data.accel_m_s2[far_at]
    every, precision = np.arange(len(far)), basis.kernel_inverse
    _, _, far_var, _ = regressed(
        far, far_accel, every, precision, data.noise_var, STRAY_FREEDOM, STRAY_ROUNDS
    )
    near_at = np.arange(data.near, data.last)
    used = data.is_usable[near_at]
    lag_s = data.time_s[near_at] - data.time_s[data.peak_index]
    follow = follow_basis(data.period_s, lag_s[-1])
    shape, passed, error = grid.blow[c, :, 0], grid.blow[c, :, 1][:, None], grid.blow[c, :, 2]
    near = np.hstack(
        [
            (1 - passed) * basis.features(data.time_s[near_at]),
            passed * follow_size_m_s2(data) * follow.features(lag_s),
            grid.blow[c, :, 3:],
            -shape[:, None],
        ]
    )[used]
    loss = any_loss(data)
    near_var = data.noise_var + (max(loss.mean_m_s, loss.sd_m_s) * error) ** 2 + passed[:, 0] ** 2
    rows = np.vstack([np.hstack([far, np.zeros((len(far), near.shape[1] - far.shape[1]))]), near])
    prior = block_diag(
        np.linalg.inv(basis.kernel_inverse),
        np.linalg.inv(follow.kernel_inverse),
        np.diag([rebound(data).sd_m_s ** 2] * 2 + [loss.sd_m_s**2]),
    )
    prior_mean = np.zeros(len(prior))
    prior_mean[-1] = loss.mean_m_s
    prior_mean[-3:-1] = rebound(data).mean_m_s
    noise = np.diag(np.concatenate([far_var, near_var[used]]))
    samples = np.concatenate([far_accel, data.accel_m_s2[near_at][used]])
    return rows, prior, prior_mean, noise, samples


def test_evidence_and_loss_are_those_of_the_dense_gaussian(data, grid):
    points = some_of(grid)
    blow, bases = Blow.of(data, grid, any_loss(data)), delivery_bases(data)
    every = conditions(data, blow, [Delivery.of(data, basis) for basis in bases], points)
    for basis, found in zip(bases, every, strict=True):
        for k, c in enumerate(points):
            rows, prior, prior_mean, noise, samples = dense(data, grid, basis, c)
            spread = rows @ prior @ rows.T + noise
            expected = multivariate_normal.logpdf(samples, rows @ prior_mean, spread)
            assert found.log_evidence[k] == pytest.approx(expected, rel=1e-6, abs=1e-4)
            gain = prior @ rows.T @ np.linalg.inv(spread)
            mean = prior_mean + gain @ (samples - rows @ prior_mean)
            left = prior - gain @ rows @ prior
            # inverting the prior loses about as many digits as its condition has
            assert found.mean[k, 2] == pytest.approx(mean[-1], rel=1e-5)
            assert found.var[k, 2] == pytest.approx(left[-1, -1], rel=1e-4)
            p = len(basis.support_s)
            curve = basis.features(found.curve_s) @ mean[:p]
            only = (np.arange(len(points)) == k).astype(float)
            assert found.curve(only) == pytest.approx(curve, abs=1e-3)


def test_gain_is_the_area_under_the_curve_with_its_variance(data, grid):
    basis, points = delivery_bases(data)[0], some_of(grid)
    delivery, blow = Delivery.of(data, basis), Blow.of(data, grid, any_loss(data))
    [found] = conditions(data, blow, [delivery], points)
    anchor_s, peak_s = data.time_s[data.anchor], data.time_s[data.peak_index]
    for k, c in enumerate(points):
        until = np.linspace(anchor_s, peak_s + grid.end_s[c], 2001)
        rows, prior, prior_mean, noise, samples = dense(data, grid, basis, c)
        spread = rows @ prior @ rows.T + noise
        gain = prior @ rows.T @ np.linalg.inv(spread)
        mean = prior_mean + gain @ (samples - rows @ prior_mean)
        left = prior - gain @ rows @ prior
        p = len(basis.support_s)
        area = np.trapezoid(basis.features(until), until, axis=0)
        # the curve is summed in steps of a quarter of a period, a bend of 500 m/s^2 to 0.5 %
        assert found.mean[k, 0] == pytest.approx(area @ mean[:p], rel=5e-3, abs=2e-3)
        assert found.var[k, 0] == pytest.approx(area @ left[:p, :p] @ area, rel=0.05)


def test_the_evidence_alone_is_the_same(data, grid):
    delivery, blow = Delivery.of(data, delivery_bases(data)[0]), Blow.of(data, grid, any_loss(data))
    points = np.arange(len(grid.touch_s))
    alone = log_evidences(data, blow, delivery, points)
    [whole] = conditions(data, blow, [delivery], points)
    assert alone == pytest.approx(whole.log_evidence, rel=1e-12)


def test_the_evidence_without_a_hit_is_that_of_the_smooth_process(data):
    basis = delivery_bases(data)[1]
    at = np.flatnonzero(data.is_usable[: data.last])
    at = at[at >= data.first]
    features = basis.features(data.time_s[at])
    spread = features @ np.linalg.inv(basis.kernel_inverse) @ features.T
    spread += data.noise_var * np.eye(len(at))
    expected = multivariate_normal.logpdf(data.accel_m_s2[at], np.zeros(len(at)), spread)
    found = Delivery.of(data, basis).plain_log_evidence
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-3)


def test_a_gap_beside_the_hit_shifts_the_samples_after_it(data, grid):
    time_s = data.time_s.copy()
    time_s[PEAK + 3 :] += 2 * PERIOD_S
    gapped = touch_grid(replace(data, time_s=time_s))
    # the samples before the gap see the same blow, the one after it sees what two later ones did
    n_before = PEAK + 3 - data.near
    assert gapped.blow[:, :n_before] == pytest.approx(grid.blow[:, :n_before], abs=1e-9)
    assert gapped.blow[:, n_before, :3] == pytest.approx(grid.blow[:, n_before + 2, :3], abs=1e-9)


def test_clipped_samples_count_as_beyond_the_range(data, grid):
    # without the clipped sample the Gaussian is the dense one; what it adds is a tail's chance
    points, basis = some_of(grid), delivery_bases(data)[0]
    is_clipped = ~data.is_usable
    accel = data.accel_m_s2.copy()
    accel[is_clipped] = -60.0
    clipped = replace(data, is_clipped=is_clipped, accel_m_s2=accel)
    delivery, blow = Delivery.of(data, basis), Blow.of(data, grid, any_loss(data))
    whole = log_evidences(clipped, blow, delivery, points)
    added = whole - log_evidences(data, blow, delivery, points)
    assert np.all(added <= 0.0)
    assert np.all(added >= LEAST_LOG_BEYOND - 1e-9)
    # a range that ends where anything lies beyond it says nothing
    accel[is_clipped] = -1e-9
    sure = replace(clipped, accel_m_s2=accel)
    far_beyond = log_evidences(sure, blow, delivery, points)
    assert np.all(far_beyond >= whole - 1e-9)
