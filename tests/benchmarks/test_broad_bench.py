import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from cue_bench.broad_bench import Trial, figures_of, lag_s, shifted

RATE_HZ = 200.0
GRAVITY_M_S2 = 9.81


def swung(*, late_s=0.0, scale=1.0, bias_rad_s=0.0):
    """Return a level sensor swung to and fro along x, seen late by the sensor."""
    time_s = np.arange(0.0, 20.0, 1.0 / RATE_HZ)
    turn = 2.0 * np.pi * 1.5
    none = np.zeros_like(time_s)
    accel = scale * 2.0 * turn * np.cos(turn * (time_s - late_s))
    velocity = np.column_stack([2.0 * np.sin(turn * time_s), none, none])
    upright = Rotation.identity(len(time_s))
    everywhere = np.ones(len(time_s), dtype=np.bool_)
    return Trial(
        name="made",
        rate_hz=RATE_HZ,
        force=np.column_stack([accel, none, np.full(len(time_s), GRAVITY_M_S2)]),
        rate=np.column_stack([none, np.full(len(time_s), bias_rad_s), none]),
        reference=upright,
        velocity=velocity,
        smoothed_m_s=none,
        is_known=everywhere,
        is_still=~everywhere,
        filtered=upright,
    )


def test_a_lag_between_sensor_and_cameras_is_found_and_taken_out():
    trial = swung(late_s=0.003)
    assert lag_s(trial) == pytest.approx(0.003, abs=2e-4)
    before, after = figures_of(trial), figures_of(shifted(trial, lag_s(trial)))
    # 3 ms of up to 19 m/s^2, against speeds of up to 4 m/s
    assert np.std(before.gains) > 0.01
    assert np.std(after.gains) < 0.002


def test_a_scale_error_shows_in_every_gain():
    found = figures_of(swung(scale=1.01))
    assert found.gains == pytest.approx(np.full(len(found.gains), 1.01), abs=1e-3)
    assert found.filter_gains == pytest.approx(found.gains, abs=1e-9)


def test_a_bias_of_the_gyroscope_shows_as_turn_and_tilt():
    found = figures_of(swung(bias_rad_s=0.005))
    # 0.005 rad/s over the 2 s of a stretch, about a level axis
    assert found.turn_deg == pytest.approx(np.degrees(0.01), rel=0.01)
    assert found.tilt_deg == pytest.approx(np.degrees(0.01), rel=0.01)
    assert found.filter_tilt_deg == 0.0
