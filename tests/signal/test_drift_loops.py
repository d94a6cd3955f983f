"""Drift by the compiled loops against whole arrays and library solvers."""

import numpy as np
import pytest
from scipy.integrate import cumulative_trapezoid

from cue_signal.drift_loops import least_squares, observe, own_size, without_drift
from cue_signal.drift_shapes import (
    LEAK,
    LEAK_TRAVEL_M,
    WANDER_STEP_S,
    shapes_at,
    still_accel_sd_m_s2,
)
from cue_signal.gaps import steps

N, MIDDLE, HIT, KNOTS = 400, 60, 330, 4
GAPS = np.array([100, 250])
# start, gravity, its change, leak by travel and its square, wander, two gaps
Q = 5 + KNOTS + len(GAPS)
STILL, EVEN = np.array([[10, 40], [40, 80], [120, 131]]), np.array([[10, 80], [120, 131]])
DOWN = np.array([20, 90, 200])
BALL, AFTER = np.array([50.0, 0.01, 0.002]), np.array([340.0, 360.0, 390.0, 0.7, 0.05])


@pytest.fixture(name="samples")
def samples_fixture():
    """Return times, raw acceleration and a travel."""
    rng = np.random.default_rng(2)
    time_s = np.cumsum(rng.uniform(0.004, 0.006, N))
    travel = np.cumsum(rng.normal(0.0, 0.01, N))
    return time_s, rng.normal(size=N), travel


def integrals(time_s, axial, travel):
    """Return raw acceleration, speed and way (first column) and what drift adds, as arrays."""
    shapes = shapes_at(Q, time_s, travel, MIDDLE, HIT, KNOTS)
    accel = np.column_stack([axial, shapes])
    speed = cumulative_trapezoid(accel, time_s, axis=0, initial=0.0)
    speed[:, 1] = 1.0
    speed[:, -len(GAPS) :] = steps(GAPS, N)
    return accel, speed, cumulative_trapezoid(speed, time_s, axis=0, initial=0.0)


def test_shapes_are_steps_slopes_travel_and_hats(samples):
    time_s, _, travel = samples
    shapes = shapes_at(Q, time_s, travel, MIDDLE, HIT, KNOTS)
    way = np.clip(travel - travel[MIDDLE], -0.6, 0.6) / LEAK_TRAVEL_M
    assert shapes[:, :3] == pytest.approx(
        np.column_stack([np.zeros(N), np.ones(N), time_s - time_s[MIDDLE]])
    )
    assert shapes[:, 3:5] == pytest.approx(np.column_stack([way, way**2]))
    knot_s = time_s[HIT] - WANDER_STEP_S * np.arange(-1, KNOTS + 1)
    for k in range(KNOTS):
        hat = np.interp(time_s, knot_s[::-1], (np.arange(KNOTS + 2) == k + 1)[::-1].astype(float))
        assert shapes[:, 5 + k] == pytest.approx(hat, abs=1e-12)
    assert not shapes[:, 5 + KNOTS :].any()


def observed(time_s, axial, travel, *, ball, after, known=None, terms=(0, Q + 1)):
    """Return what is observed of some stretches and moments, written over what is known."""
    found = np.ones((len(STILL) + len(EVEN) + len(DOWN) + 2, Q + 1)) if known is None else known
    stretches = (*STILL.T, *EVEN.T)
    observe(
        found, terms, time_s, axial, travel, MIDDLE, HIT, KNOTS, GAPS, *stretches, ball, DOWN, after
    )
    return found


def test_what_is_observed_is_means_and_differences_of_the_integrals(samples):
    accel, speed, way = integrals(*samples)
    found = observed(*samples, ball=BALL, after=AFTER)
    rows = [speed[a:b].mean(axis=0) for a, b in STILL]
    rows += [accel[a:b].mean(axis=0) for a, b in EVEN]
    rows += [way[HIT] - way[k] for k in DOWN]
    rows.append(way[HIT] + 0.01 * speed[HIT] - way[50] + 0.002 * (np.arange(Q + 1) == 0))
    gone = speed[340] - speed[360:390].mean(axis=0)
    rows.append(0.7 * speed[HIT] - gone + 0.05 * (np.arange(Q + 1) == 0))
    assert found == pytest.approx(np.array(rows), rel=1e-9, abs=1e-12)
    nothing = np.zeros(0)
    some = observed(*samples, ball=nothing, after=nothing)
    assert some[:-2] == pytest.approx(found[:-2])
    assert not some[-2:].any()


def test_another_travel_changes_nothing_but_the_leak(samples):
    time_s, axial, travel = samples
    known = observed(time_s, axial, np.zeros(N), ball=BALL, after=AFTER)
    found = observed(time_s, axial, travel, ball=BALL, after=AFTER, known=known.copy(), terms=LEAK)
    whole = observed(*samples, ball=BALL, after=AFTER)
    assert found == pytest.approx(whole, rel=1e-12)
    assert not known[:, LEAK[0] : LEAK[1]].any()
    assert whole[:, LEAK[0] : LEAK[1]].all()


def test_taking_drift_out_leaves_the_integrals_of_what_is_left(samples):
    accel, speed, way = integrals(*samples)
    drift = np.random.default_rng(3).normal(size=Q)
    found = without_drift(*samples, MIDDLE, HIT, KNOTS, GAPS, drift)
    assert found[0] == pytest.approx(speed[:, 0] - speed[:, 1:] @ drift, abs=1e-10)
    left = way[:, 0] - way[:, 1:] @ drift
    assert found[1] == pytest.approx(left - left[HIT], abs=1e-10)
    assert found[2] == pytest.approx(accel[:, 0] - accel[:, 1:] @ drift, abs=1e-10)


def test_least_squares_are_the_librarys():
    rng = np.random.default_rng(4)
    known, sd, prior_sd = rng.normal(size=(9, 5)), rng.uniform(0.1, 1.0, 9), np.array([9, 1, 1, 2])
    sd[4] = 0.0
    drift, covariance = least_squares(known, sd, prior_sd.astype(float))
    told = sd > 0.0
    rows = np.vstack([known[told, 1:] / sd[told, None], np.diag(1.0 / prior_sd)])
    values = np.concatenate([known[told, 0] / sd[told], np.zeros(4)])
    assert drift == pytest.approx(np.linalg.lstsq(rows, values)[0], rel=1e-9)
    assert covariance == pytest.approx(np.linalg.inv(rows.T @ rows), rel=1e-9)


@pytest.mark.parametrize("size", [0.5, 3.0])
def test_how_much_smaller_all_errors_are_than_usual_shows_in_what_is_left_over(size):
    # observations and drift drawn that much smaller or greater than stated
    rng = np.random.default_rng(8)
    sd, prior_sd = rng.uniform(0.1, 1.0, 25), np.array([9.0, 1.0, 1.0, 2.0])
    sd[4] = 0.0
    found, with_prior = [], []
    for _ in range(400):
        rows = rng.normal(size=(25, 4))
        values = rows @ (size * prior_sd * rng.normal(size=4)) + size * sd * rng.normal(size=25)
        known = np.column_stack([values, rows])
        drift, _ = least_squares(known, sd, prior_sd)
        found.append(own_size(known, sd, prior_sd, drift, 0.0))
        with_prior.append(own_size(known, sd, prior_sd, drift, 10.0))
    # 24 observations count; the mean of 400 chi-squares of 24 over 24 scatters by 1.5 %
    assert np.mean(found) == pytest.approx(size**2, rel=0.05)
    assert np.mean(with_prior) == pytest.approx((10.0 + 24.0 * size**2) / 34.0, rel=0.05)


def test_a_still_stretch_gains_what_its_ends_differ_by_over_its_time():
    # two ends of 3 mm/s, independent, half a second apart, and tilt
    expected = np.hypot(np.hypot(0.003, 0.003) / 0.5, 0.02)
    assert still_accel_sd_m_s2(0.003, 0.5, 0.02) == pytest.approx(expected)
