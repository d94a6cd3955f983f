from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from cue_sensors.samples import Mounting, Samples
from cue_signal.errors import SignalError
from cue_signal.roll import RollGuide, roll

RATE_HZ = 100.0
GRAVITY_M_S2 = 9.81
MOUNT = Rotation.from_rotvec([0.7, -0.4, 1.9])
AXIS = MOUNT.inv().apply([1.0, 0.0, 0.0])
"""Towards the tip, in the sensor's frame; the cue lies along the room's x axis."""


def ramp(change, span_s):
    """Return a smooth change of an angle, then half a second at its end."""
    share = np.linspace(0.0, 1.0, round(span_s * RATE_HZ))
    rest = np.full(round(1.2 * RATE_HZ), change)
    return np.concatenate([change * (share - np.sin(2 * np.pi * share) / (2 * np.pi)), rest])


def made(
    turn_rad=6.6,
    *,
    lift_rad=0.7,
    yaw_rad=0.0,
    wobble_rad=0.0,
    slope_rad=0.02,
    has_gyroscope=True,
    gyro_scale=1.0,
    off_axis_m=0.022,
    noise=0.0,
    seed=0,
):
    """Return samples of a cue rolled about its own axis and then lifted."""
    roll_angle, lift = ramp(turn_rad, 2.5), ramp(lift_rad, 1.0)
    still = np.zeros(round(1.5 * RATE_HZ))
    phi = np.concatenate([still, roll_angle, np.full(len(lift), turn_rad)])
    pitch = slope_rad + np.concatenate([still, np.zeros(len(roll_angle)), lift])
    pitch += wobble_rad * np.sin(2.0 * phi)
    yaw = yaw_rad * (phi / max(abs(turn_rad), 1e-9)) ** 2
    pose = Rotation.from_euler("ZYX", np.column_stack([yaw, -pitch, phi])) * MOUNT
    force = pose.inv().apply([0.0, 0.0, GRAVITY_M_S2])
    # what the sensor's way round the axis adds lies across the cue
    across = MOUNT.inv().apply([0.0, 0.0, 1.0])
    force -= off_axis_m * (np.gradient(phi) * RATE_HZ)[:, None] ** 2 * across
    step = (pose[:-1].inv() * pose[1:]).as_rotvec() * RATE_HZ
    rate = np.vstack([step[:1], 0.5 * (step[1:] + step[:-1]), step[-1:]]) * gyro_scale
    rng = np.random.default_rng(seed)
    force += noise * rng.standard_normal(force.shape)
    rate += np.array([0.004, -0.002, 0.003]) + 0.1 * noise * rng.standard_normal(rate.shape)
    n = len(phi)
    clipped = np.zeros(n, dtype=np.bool_)
    return Samples(np.arange(n) / RATE_HZ, force, rate if has_gyroscope else None, clipped, RATE_HZ)


def error_rad(result):
    return float(np.linalg.norm(np.array(result.mounting.cue_axis) - AXIS))


@pytest.mark.parametrize("has_gyroscope", [True, False])
@pytest.mark.parametrize("turn_rad", [6.6, -6.6, 12.0])
def test_a_clean_roll_gives_the_axis_towards_the_tip(turn_rad, has_gyroscope):
    result = roll(made(turn_rad, has_gyroscope=has_gyroscope))
    # the way round the axis bends what seems up by up to 0.2 (two turns), of the slope of 0.02, and
    # smoothing over an eighth of a second does the rest
    assert error_rad(result) < 1.5e-3
    assert result.turned_rad == pytest.approx(abs(turn_rad), rel=0.06)
    assert result.mounting.cue_axis_sd_rad == result.sd_rad
    assert result.source.startswith("roll, g")


@pytest.mark.parametrize("has_gyroscope", [True, False])
def test_a_hand_that_yaws_the_cue_does_not_bend_the_axis(has_gyroscope):
    # 0.15 rad of yaw that comes late would bend a plain mean of the rate by 4 mrad
    assert error_rad(roll(made(yaw_rad=0.15, has_gyroscope=has_gyroscope))) < 1.5e-3


def test_gravity_alone_is_less_sure_than_with_a_gyroscope():
    both = roll(made(noise=0.03))
    alone = roll(made(noise=0.03, has_gyroscope=False))
    assert both.sd_rad < alone.sd_rad < 0.01
    assert (both.agreement is None, alone.agreement is None) == (False, True)


def test_a_calibrated_accelerometer_makes_it_surer():
    samples = made(has_gyroscope=False, noise=0.03)
    assert roll(samples, is_calibrated=True).sd_rad < 0.6 * roll(samples).sd_rad


def test_too_little_turn_is_refused_with_the_turn_met():
    with pytest.raises(SignalError, match=r"Only (180|210|240) degrees"):
        roll(made(3.6))
    with pytest.raises(SignalError, match="Nothing in the samples is a roll"):
        roll(made(0.0))


def test_a_wobble_is_refused():
    with pytest.raises(SignalError, match="wobbled by about"):
        roll(made(wobble_rad=0.15, has_gyroscope=False))


def test_without_a_lifted_tip_the_end_must_be_told():
    samples = made(lift_rad=0.0)
    with pytest.raises(SignalError, match="which end the tip is"):
        roll(samples)
    rough = AXIS + np.array([0.2, -0.1, 0.2])
    assert error_rad(roll(samples, towards_tip=rough)) < 1e-3
    assert error_rad(roll(samples, towards_tip=-rough)) > 1.9


def test_a_whole_turn_tells_the_gyroscope_scale_about_the_cue():
    result = roll(made(6.6, gyro_scale=1.012, off_axis_m=0.0))
    assert result.gyro_scale == pytest.approx(1.0 / 1.012, abs=2e-4)
    assert result.gyro_scale_sd is not None
    assert 5e-4 < result.gyro_scale_sd < 3e-3


def test_what_is_known_of_the_mounting_is_kept():
    known = Mounting(None, None, 0.3, 1.45)
    mounting = roll(made(), mounting=known).mounting
    assert (mounting.sensor_from_butt_m, mounting.cue_length_m) == (0.3, 1.45)


def test_the_guide_leads_from_lying_to_lifted_and_ends_as_the_whole_recording_does():
    samples = made(noise=0.02)
    guide, words, turned = RollGuide(), [], []
    edges = np.append(np.arange(0.0, float(samples.time_s[-1]), 0.1), np.inf)
    for start, stop in pairwise(edges):
        state = guide.push(samples.between(start, stop))
        words.append(state.words)
        turned.append(state.turned_rad)
    order = [
        next(k for k, text in enumerate(words) if text.startswith(start))
        for start in ("Lay the cue", "Now roll it", "Go on rolling", "Rolled. Now lift", "Done:")
    ]
    assert order == sorted(order)
    assert state.is_ready
    assert turned[-1] == pytest.approx(6.6, rel=0.06)
    assert guide.result().mounting == roll(samples).mounting


def test_the_guide_has_nothing_to_give_before_samples_come():
    with pytest.raises(SignalError, match="No samples have come yet"):
        RollGuide().result()
