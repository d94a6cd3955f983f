import json

import numpy as np
import pytest
from click.testing import CliRunner
from scipy.spatial.transform import Rotation

from cue_dashboard.cli import cli
from cue_signal.errors import SignalError

RATE_HZ = 100.0
GRAVITY_M_S2 = 9.80665
FACES = np.vstack([np.eye(3), -np.eye(3)])


def write(path, force, rate=None):
    """Write samples as CSV."""
    time_s = np.arange(len(force)) / RATE_HZ
    columns = [time_s, *force.T] + ([] if rate is None else list(rate.T))
    names = "time_s,ax_m_s2,ay_m_s2,az_m_s2" + (
        "" if rate is None else ",gx_rad_s,gy_rad_s,gz_rad_s"
    )
    np.savetxt(path, np.column_stack(columns), delimiter=",", header=names, comments="", fmt="%.7f")
    return str(path)


def rests(path, ups, bias):
    """Write rests of two and a half seconds with shaking in between."""
    rng = np.random.default_rng(4)
    parts = []
    for up in ups:
        parts.append(np.tile(GRAVITY_M_S2 * up, (250, 1)))
        parts.append(GRAVITY_M_S2 * up + 2.0 * rng.standard_normal((60, 3)))
    return write(path, np.vstack(parts) + bias)


def rolled(path):
    """Write a whole turn about the sensor's y axis, then the tip lifted."""
    share = np.clip((np.arange(1000) / RATE_HZ - 2.0) / 2.5, 0.0, 1.0)
    turn = 6.5 * (share - np.sin(2 * np.pi * share) / (2 * np.pi))
    lift = 0.7 * np.clip((np.arange(1000) / RATE_HZ - 5.5) / 1.0, 0.0, 1.0)
    pose = Rotation.from_euler("ZYX", np.column_stack([0.0 * turn, -lift, turn]))
    mount = Rotation.from_euler("z", -90.0, degrees=True)  # the sensor's y lies along the cue
    force = (pose * mount).inv().apply([0.0, 0.0, GRAVITY_M_S2])
    return write(path, force)


def test_six_rests_print_the_bias_they_were_made_with(tmp_path):
    path = rests(tmp_path / "rests.csv", FACES, [0.2, -0.1, 0.05])
    result = CliRunner().invoke(cli, ["calibrate", path, "--as", "six-rests", "--json"])
    assert result.exit_code == 0
    found = json.loads(result.stdout)
    # exact sides and no noise: the prior alone pulls, and cross-axis terms stay silent
    assert found["calibration"]["accel_bias_m_s2"] == pytest.approx([0.2, -0.1, 0.05], abs=2e-3)
    assert found["missing"] == []
    assert found["gravity_m_s2"] == GRAVITY_M_S2


def test_latitude_and_temperature_are_taken_in(tmp_path):
    path = rests(tmp_path / "rests.csv", FACES, [0.0, 0.0, 0.0])
    args = [
        "calibrate",
        path,
        "--as",
        "six-rests",
        "--latitude",
        "0",
        "--temperature",
        "21",
        "--json",
    ]
    found = json.loads(CliRunner().invoke(cli, args).stdout)
    assert found["gravity_m_s2"] == pytest.approx(9.7803253359)
    assert found["calibration"]["temperature_c"] == 21.0
    assert found["calibration"]["accel_matrix"][0] == pytest.approx(
        9.78033 / GRAVITY_M_S2, abs=1e-4
    )


def test_a_roll_prints_the_axis_in_words_and_numbers(tmp_path):
    result = CliRunner().invoke(cli, ["calibrate", rolled(tmp_path / "r.csv"), "--as", "roll"])
    assert result.exit_code == 0
    assert "known to 0." in result.stdout
    line = next(one for one in result.stdout.splitlines() if one.startswith("  cue_axis:"))
    axis = [float(part) for part in line.split(":")[1].split(",")]
    assert np.abs(axis) == pytest.approx([0.0, 1.0, 0.0], abs=0.003)
    assert axis[1] > 0.0


def test_what_was_no_roll_is_one_sentence_that_names_the_file(tmp_path):
    path = rests(tmp_path / "rests.csv", FACES[:2], [0.0, 0.0, 0.0])
    for kind, words in (("roll", "a whole turn"), ("tumble", "Only 2 rests")):
        result = CliRunner().invoke(cli, ["calibrate", path, "--as", kind])
        assert isinstance(result.exception, SignalError)
        assert "rests.csv" in str(result.exception)
        assert words in str(result.exception)
