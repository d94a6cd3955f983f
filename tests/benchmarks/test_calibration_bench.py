import json

import numpy as np
import pytest

from cue_bench.calibration_bench import calibrate_once
from cue_bench.calibration_bench_maker import draw_errors, draw_roll, make_roll
from cue_recordings import data_folder
from cue_sensors.load import load_recording
from cue_signal.errors import SignalError
from cue_signal.roll import roll


@pytest.mark.parametrize(("kind", "n"), [("six", 6), ("tumble", 16)])
def test_calibrations_reach_what_the_rests_allow(kind, n):
    made = [calibrate_once(kind, n, np.random.default_rng([5, n, k])) for k in range(8)]
    errors = np.array([one.errors for one in made if one is not None])
    bounds = np.array([one.bounds for one in made if one is not None])
    stated = np.array([one.stated for one in made if one is not None])
    assert len(errors) == 8
    # 72 draws: their root mean square scatters by a tenth about the bound
    ratio = np.sqrt(np.mean((errors / bounds) ** 2))
    assert 0.7 < ratio < 1.4
    assert np.mean(np.abs(errors) < stated) > 0.6


@pytest.mark.parametrize("has_gyroscope", [True, False])
def test_rolls_as_hands_do_them_are_as_good_as_stated(has_gyroscope):
    off, stated = [], []
    for k in range(5):
        rng = np.random.default_rng([8, k])
        made = make_roll(draw_roll(rng), draw_errors(rng), rng, has_gyroscope=has_gyroscope)
        found = roll(made.samples)
        off.append(np.linalg.norm(np.array(found.mounting.cue_axis) - made.cue_axis))
        stated.append(found.sd_rad)
    # two angles each; the floor for a bowed cue makes the stated ones wide
    assert 0.3 < np.sqrt(np.mean(np.square(off)) / np.mean(np.square(stated)) / 2.0) < 1.2
    assert max(off) < 0.02


@pytest.mark.parametrize("name", ["1-wren-pale-low", "3-badger-far-accelerometer"])
def test_the_roll_that_opens_a_shipped_evening_gives_its_true_axis(name):
    found = roll(load_recording(data_folder() / f"{name}.mcap").samples)
    truth = json.loads((data_folder() / f"{name}.truth.json").read_text())
    off = np.linalg.norm(np.array(found.mounting.cue_axis) - truth["cue_axis"])
    # two angles, each within two and a half of what is stated
    assert off < 2.5 * np.sqrt(2.0) * found.sd_rad


def test_an_evening_without_a_roll_is_not_taken_for_one():
    samples = load_recording(data_folder() / "4-badger-short-416.mcap").samples
    with pytest.raises(SignalError, match="a whole turn"):
        roll(samples)
