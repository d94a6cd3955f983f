"""What is no stroke can agree with itself as well as strokes do: made sessions with known truth."""

import dataclasses

import numpy as np
import pytest

from cue_bench.distractors_bench import session_of
from cue_signal.analysis import analyse


@pytest.mark.parametrize(("kind", "seed"), [("chalking", 1125), ("butt_on_floor", 1025)])
def test_an_accelerometer_alone_tells_strokes_from_what_points_elsewhere(kind, seed):
    made = session_of(kind, 3, seed, rate_hz=100.0, accel_range_g=16.0)
    blind = dataclasses.replace(made.recording.samples, angular_rate_rad_s=None)
    unknown = dataclasses.replace(made.recording.mounting, cue_axis=None, cue_axis_sd_rad=None)
    found = analyse(blind, mounting=unknown)
    truth = [stroke.impact_time_s for stroke in made.truth.strokes]
    assert [stroke.impact_time_s for stroke in found.strokes] == pytest.approx(truth, abs=0.02)
    assert found.cue_axis is not None
    assert float(found.cue_axis @ np.array(made.truth.cue_axis)) > np.cos(0.15)
