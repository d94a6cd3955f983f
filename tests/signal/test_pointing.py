"""The cue's direction from strokes measured along it: a cue that slides through a still bridge."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from cue_signal.analysis import analyse
from cue_signal.attitude import cue_frame
from cue_signal.axis import CueAxis, Hint, agree
from cue_signal.doubt import OFF_AXIS_SD_M, across_m_s, lever_sds
from cue_signal.pointing import Pointing, pointed, pointing, turning_of
from cue_signal.rest import Rest
from cue_signal.strapdown import Path
from cue_signal.windows import Window

PERIOD_S = 0.005
BRIDGE_M = 0.9
TRUE = np.array([1.0, 0.03, -0.05]) / np.linalg.norm([1.0, 0.03, -0.05])
GUESS = CueAxis(np.array([1.0, 0.0, 0.0]), 0.1, "strokes")
RATE_RAD_S = np.array([0.0, 0.2, -0.15])


def stroke(*, has_gyroscope):
    """Return window, path, rear and last clear sample of a cue that swings as it goes forward.

    Frame N is that of the guess. After a rest of 0.5 s the cue gains 3 m/s along itself in 0.3 s
    and begins to turn about the bridge hand at a steady rate of change.
    """
    time_s = np.arange(0.0, 0.8 + PERIOD_S / 2, PERIOD_S)
    part = np.clip((time_s - 0.5) / 0.3, 0.0, 1.0)[:, None]
    rate = RATE_RAD_S * part
    turn = 0.5 * rate * part * 0.3
    cue = Rotation.from_rotvec(turn).apply(TRUE)
    speed = 3.0 * part * cue - np.cross(rate, BRIDGE_M * cue)
    accel = np.gradient(speed, time_s, axis=0, edge_order=2)
    force = np.tile([0.0, 0.0, 9.81], (len(time_s), 1))
    none = np.zeros(len(time_s), dtype=bool)
    window = Window(time_s, force, None, none, np.zeros(0, dtype=int), PERIOD_S)
    path = Path(accel, accel[:, 0], turn if has_gyroscope else None, Rest(0, 100), 0.0, 0.02)
    return window, path, 100, len(time_s) - 1


def test_with_a_gyroscope_the_speed_at_the_bridge_points_along_the_cue():
    window, path, rear, clear = stroke(has_gyroscope=True)
    found = pointing(window, path, GUESS, rear, clear, bridge_m=BRIDGE_M)
    expected = TRUE @ cue_frame(GUESS.direction, np.array([0.0, 0.0, 9.81]))
    assert found.direction == pytest.approx(expected, abs=0.003)
    assert found.sd_rad < 0.02


def test_without_one_the_swing_of_the_butt_bends_it_and_is_said():
    window, path, rear, clear = stroke(has_gyroscope=False)
    found = pointing(window, path, GUESS, rear, clear, bridge_m=BRIDGE_M)
    off = np.linalg.norm(found.direction - TRUE)
    assert 0.03 < off < 2.0 * np.sqrt(2.0) * found.sd_rad


def test_strokes_that_agree_overrule_one_that_does_not_and_a_vague_start():
    rng = np.random.default_rng(4)
    seen = [Pointing(TRUE + rng.normal(0.0, 0.01, 3), 0.01, 0.006) for _ in range(6)]
    seen.append(Pointing(np.array([0.8, 0.6, 0.0]), 0.02, 0.006))
    found = pointed(GUESS, seen)
    assert found.direction == pytest.approx(TRUE, abs=0.012)
    assert found.sd_rad == pytest.approx(np.hypot(0.01 / np.sqrt(6.0), 0.006), rel=0.1)
    assert pointed(GUESS, []) is GUESS


def test_a_lone_hint_is_less_sure_than_many_that_agree():
    lone = agree([Hint(TRUE, 1.0, 0.012)])
    many = agree([Hint(TRUE, 1.0, 0.012)] * 9)
    assert lone is not None
    assert many is not None
    assert lone[1] > 0.06
    assert many[1] < 0.03


def test_an_unknown_axis_is_found_as_well_as_a_roll_would(make):
    made = make(((2.0, 0.25), (1.2, 0.3), (2.5, 0.22), (0.9, 0.3)))
    found = analyse(made.samples, mounting=replace(made.mounting, cue_axis=None))
    assert found.cue_axis is not None
    assert found.cue_axis_sd_rad is not None
    off = np.linalg.norm(found.cue_axis - made.mounting.cue_axis)
    assert off < 2.5 * np.sqrt(2.0) * found.cue_axis_sd_rad
    assert found.cue_axis_sd_rad < 0.012


def test_what_an_axis_that_is_off_sees_is_the_speed_across():
    window, path, rear, clear = stroke(has_gyroscope=True)
    turned = Rotation.from_rotvec(0.15 * RATE_RAD_S).apply(TRUE)
    expected = 3.0 * turned - np.cross(RATE_RAD_S, BRIDGE_M * turned)
    found = across_m_s(window, path, rear, clear)
    assert found == pytest.approx(np.hypot(*expected[1:]), rel=0.02)


def test_a_sensor_beside_the_axis_is_doubted_by_what_the_turning_cue_adds():
    window, path, rear, clear = stroke(has_gyroscope=True)
    across = np.hypot(*RATE_RAD_S[1:])
    speed_sd, accel_sd = lever_sds(window, path, clear)
    assert speed_sd == pytest.approx(OFF_AXIS_SD_M * across, rel=0.02)
    assert accel_sd == pytest.approx(OFF_AXIS_SD_M * across / 0.3, rel=0.02)
    assert lever_sds(window, replace(path, turn_rad=None), clear) == (0.0, 0.0)
    rate, _ = turning_of(window, path.turn_rad, rear, clear + 1)
    assert np.linalg.norm(rate) < 0.1 * across
