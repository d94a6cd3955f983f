import dataclasses

import numpy as np
import pytest

from cue_bench.bound import measured_of
from cue_bench.bound_model import BoundSensor, BoundStroke, speed_bound
from cue_bench.maker import make_strokes

STROKE = BoundStroke(rest_s=0.2, backswing_s=0.4, pause_s=0.1, follow_s=0.2, hold_s=0.1)


def share(sensor, stroke=STROKE):
    return speed_bound(sensor, stroke).samples_m_s / stroke.tip_speed_m_s


def test_the_bound_falls_with_rate_and_noise_and_rises_without_a_gyroscope():
    usual = BoundSensor(100.0, 40.0)
    assert share(BoundSensor(200.0, 80.0)) < share(usual) < share(BoundSensor(50.0, 20.0))
    noisy = dataclasses.replace(usual, accel_noise_m_s2_sqrt_hz=0.03)
    assert share(noisy) > 1.2 * share(usual)
    assert share(dataclasses.replace(usual, has_gyroscope=False)) > share(usual)


def test_scale_and_gravity_go_straight_into_the_speed():
    sensor = BoundSensor(50.0, 20.0, scale_sd=0.006, gravity_sd=0.008)
    assert speed_bound(sensor, STROKE).scale_m_s == pytest.approx(0.010 * 1.5)


def test_with_everything_but_noise_known_the_bound_is_that_of_summed_noise():
    # white noise of density d, summed over the time from rest to hit: d sqrt(T / 2); the return
    # to the ball and the end at rest can only help, and the offset must be told from the rest
    sensor = BoundSensor(500.0, 200.0, accel_noise_m_s2_sqrt_hz=0.05)
    stroke = dataclasses.replace(STROKE, tip_speed_m_s=4.0)
    span_s = stroke.hit_s - stroke.rest_s
    summed = 0.05 * np.sqrt(span_s / 2.0)
    assert 0.3 * summed < speed_bound(sensor, stroke).samples_m_s < 2.0 * summed


def test_no_speed_is_measured_better_than_the_bound():
    session = make_strokes(3, 21, rate_hz=100.0, distractors=False)
    found = measured_of(session)
    assert len(found) >= 2
    over = [one.error_m_s / one.bound.total_m_s for one in found]
    # three draws may fall below one, not far below
    assert np.sqrt(np.mean(np.square(over))) > 0.4
