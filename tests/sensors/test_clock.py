"""The running clock, against an independent library and against a line that is known."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import theilslopes

from cue_sensors.clock import MAX_SLEW, RunningClock, median_slope


@settings(max_examples=60, deadline=None)
@given(values=st.lists(st.floats(-1, 1), min_size=2, max_size=40), seed=st.integers(0, 2**32 - 1))
def test_the_slope_is_that_of_an_independent_library(values, seed):
    times = np.cumsum(np.random.default_rng(seed).uniform(0.1, 2.0, len(values)))
    expected = theilslopes(values, times).slope
    assert median_slope(times, np.array(values)) == pytest.approx(expected, abs=1e-12)


def run_clock(delays, *, drift=0.0, step_s=0.05):
    """Return host times given to a sensor's clock whose true host time is known."""
    clock = RunningClock(0.0, float(min(delays[:10])))  # the first half second is collected
    given_s = []
    for k, delay in enumerate(delays):
        host_s = k * step_s
        clock_s = host_s * (1 + drift)
        clock.observe(clock_s, host_s + float(delay))
        given_s.append(clock.advance(clock_s))
    return np.array(given_s), np.arange(len(delays)) * step_s


def test_a_late_start_is_worked_off_slowly_and_never_by_a_step():
    delays = np.full(4000, 0.0)
    delays[:12] = 0.03
    given, truth = run_clock(delays)
    assert given[0] == 0.03
    assert abs(given[-1] - truth[-1]) < 1e-3
    rates = np.diff(given) / 0.05
    assert np.all(np.abs(rates - 1) <= MAX_SLEW * 1.0001)


def test_bunched_arrivals_do_not_bend_time():
    """Six packets at once every 300 ms, as a radio with a long interval delivers them."""
    host_s = np.arange(6000) * 0.05
    delays = np.ceil(host_s / 0.3 + 1e-9) * 0.3 - host_s
    given, truth = run_clock(delays)
    late = (given - truth)[1000:]
    assert np.ptp(late) < 1e-3


@pytest.mark.parametrize("after_s", [0.010, 0.090], ids=["shorter", "longer"])
@pytest.mark.parametrize("drift", [0.0, 5e-5])
def test_a_lasting_change_of_delay_is_followed_and_not_taken_for_drift(after_s, drift):
    """A link that settles on another interval: 50 ms until then, 10 or 90 ms after."""
    delays = np.concatenate([np.full(6000, 0.050), np.full(6000, after_s)])
    given, truth = run_clock(delays, drift=drift)
    rates = np.diff(given[2000:]) / 0.05
    assert np.all(np.abs(rates - 1) < MAX_SLEW + 1e-4)
    # at its worst, when the change lies in the middle of the ten minutes the rate is taken from
    assert given[-1] - truth[-1] == pytest.approx(after_s, abs=3e-3)


def test_ten_minutes_of_congestion_move_time_by_little():
    """Nine packets of ten are late by up to 0.2 s, and half a minute has no prompt one."""
    rng = np.random.default_rng(8)
    delays = rng.uniform(0, 0.2, 12_000)
    delays[::10] = 0.0
    delays[5000:5600] = 0.2
    given, truth = run_clock(delays, drift=2e-5)
    assert np.max(np.abs(given - truth)) < 2e-3


def test_host_and_sensor_time_are_inverse():
    clock = RunningClock(5.0, 105.0)
    assert clock.host_s(7.0) == pytest.approx(107.0)
    assert clock.clock_s(107.0) == pytest.approx(7.0)
