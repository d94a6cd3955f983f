"""The posterior of a hit against a dense Gaussian of all samples at once."""

import numpy as np
import pytest
from scipy.linalg import block_diag
from scipy.stats import multivariate_normal

from cue_signal.hit_model import (
    HitData,
    far_rows,
    fit_bases,
    loss_prior,
    near_variance,
    rebound_sd_m_s,
    touch_grid,
)
from cue_signal.hit_solve import Blow, condition, log_evidence, take_in_far
from cue_signal.smear import smear_table

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
    found = touch_grid(data, smear_table(PERIOD_S))
    some = np.zeros(len(found.touch_s), dtype=bool)
    some[:: len(some) // 6] = True
    return found.where(some)


def dense(data, grid, basis, follow, c):
    """Return mean and covariance of (weights, used samples) at one grid point, and the samples."""
    far, far_accel, far_var = far_rows(data, basis)
    used = data.is_usable[grid.near]
    passed = grid.passed[c][:, None]
    near = np.hstack(
        [
            (1 - passed) * basis.features(data.time_s[grid.near]),
            passed * follow.features(data.time_s[grid.near]),
            grid.rebound[c],
            -grid.shape[c][:, None],
        ]
    )[used]
    rows = np.vstack([np.hstack([far, np.zeros((len(far), near.shape[1] - far.shape[1]))]), near])
    loss, loss_sd = loss_prior(data)
    prior = block_diag(
        np.linalg.inv(basis.kernel_inverse),
        np.linalg.inv(follow.kernel_inverse),
        np.diag([rebound_sd_m_s(data) ** 2] * 2 + [loss_sd**2]),
    )
    prior_mean = np.zeros(len(prior))
    prior_mean[-1] = loss
    noise = np.diag(np.concatenate([far_var, near_variance(data, grid)[c][used]]))
    samples = np.concatenate([far_accel, data.accel_m_s2[grid.near][used]])
    return rows, prior, prior_mean, noise, samples


def test_evidence_and_loss_are_those_of_the_dense_gaussian(data, grid):
    for basis, follow in fit_bases(data):
        delivery = take_in_far(data, basis)
        found = condition(data, Blow.of(data, grid, follow), delivery)
        for c in range(len(grid.touch_s)):
            rows, prior, prior_mean, noise, samples = dense(data, grid, basis, follow, c)
            spread = rows @ prior @ rows.T + noise
            expected = multivariate_normal.logpdf(samples, rows @ prior_mean, spread)
            assert found.log_evidence[c] == pytest.approx(expected, rel=1e-6, abs=1e-4)
            gain = prior @ rows.T @ np.linalg.inv(spread)
            mean = prior_mean + gain @ (samples - rows @ prior_mean)
            left = prior - gain @ rows @ prior
            # inverting the prior loses about as many digits as its condition has
            assert found.lost[c] == pytest.approx(mean[-1], rel=1e-5)
            assert found.lost_var[c] == pytest.approx(left[-1, -1], rel=1e-4)
            p = len(basis.support_s)
            curve = basis.features(found.curve_s) @ mean[:p]
            only = (np.arange(len(grid.touch_s)) == c).astype(float)
            assert found.curve(only) == pytest.approx(curve, abs=1e-3)


def test_gain_is_the_area_under_the_curve_with_its_variance(data, grid):
    basis, follow = next(iter(fit_bases(data)))
    found = condition(data, Blow.of(data, grid, follow), take_in_far(data, basis))
    for c in range(len(grid.touch_s)):
        until = np.linspace(grid.anchor_s, grid.end_s[c], 2001)
        rows, prior, prior_mean, noise, samples = dense(data, grid, basis, follow, c)
        spread = rows @ prior @ rows.T + noise
        gain = prior @ rows.T @ np.linalg.inv(spread)
        mean = prior_mean + gain @ (samples - rows @ prior_mean)
        left = prior - gain @ rows @ prior
        p = len(basis.support_s)
        area = np.trapezoid(basis.features(until), until, axis=0)
        # the curve is summed in steps of a quarter of a period
        assert found.gain[c] == pytest.approx(area @ mean[:p], abs=2e-3)
        assert found.gain_var[c] == pytest.approx(area @ left[:p, :p] @ area, rel=0.05)


def test_the_evidence_alone_is_the_same(data, grid):
    basis, follow = next(iter(fit_bases(data)))
    delivery = take_in_far(data, basis)
    blow = Blow.of(data, grid, follow)
    alone = log_evidence(data, blow, delivery)
    assert alone == pytest.approx(condition(data, blow, delivery).log_evidence, rel=1e-12)
