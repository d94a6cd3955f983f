import numpy as np
import pytest

from cue_bench.vqf_bench import Cost, cost_of
from cue_sensors.samples import Mounting, Samples
from cue_signal.analysis import analyse


def test_a_quiet_stretch_costs_little_and_holds_no_stroke():
    rng = np.random.default_rng(3)
    force = np.array([0.0, 0.0, 9.81]) + 0.02 * rng.standard_normal((4000, 3))
    samples = Samples(
        np.arange(4000) / 200.0,
        force,
        0.002 * rng.standard_normal((4000, 3)),
        np.zeros(4000, dtype=np.bool_),
        200.0,
    )
    cost = cost_of(samples, Mounting((1.0, 0.0, 0.0)), repeats=1)
    assert cost.n_strokes == 0
    assert cost.minutes == pytest.approx(1.0 / 3.0)
    assert min(cost.filter_s, cost.analyse_s, cost.live_s) > 0.0


def test_ratio_and_share_of_a_core_are_what_they_say():
    cost = Cost(minutes=60.0, n_strokes=100, filter_s=1.2, analyse_s=3.0, live_s=36.0)
    assert cost.ratio == pytest.approx(2.5)
    assert cost.live_share == pytest.approx(0.01)


def test_the_analysis_may_be_asked_of_the_accelerometer_alone(monkeypatch):
    seen: list[bool] = []

    def noted(samples, *, mounting):
        seen.append(samples.has_gyroscope)
        return analyse(samples, mounting=mounting)

    monkeypatch.setattr("cue_bench.vqf_bench.analyse", noted)
    force = np.tile([0.0, 0.0, 9.81], (400, 1))
    samples = Samples(
        np.arange(400) / 200.0, force, 0.0 * force, np.zeros(400, dtype=np.bool_), 200.0
    )
    for has_gyroscope in (True, False):
        cost_of(samples, Mounting(), repeats=1, is_live=False, has_gyroscope=has_gyroscope)
    assert seen == [True, False]
