import numpy as np
import pytest
from scipy import signal, stats

from cue_signal.axis import Hint, agree, axis_hint, bridge_distance_m
from cue_signal.bias import BiasTracker
from cue_signal.feathers import count_feathers
from cue_signal.integrals import running_integral, weighted_median
from cue_signal.phases import find_phases
from cue_signal.rest import Rest
from cue_signal.rest_loops import pieces_of
from cue_signal.smear import CONTACT_S, smear_table
from cue_signal.smoothness import spectral_arc_length
from cue_signal.spikes import find_spikes
from cue_signal.windows import (
    Window,
    even_times_s,
    mark_plateaus,
    median,
    medians,
    typical_period_s,
)


def test_arc_length_agrees_with_the_published_formula_by_direct_sums():
    # Balasubramanian et al. 2015, equations 6 to 8: V(f) by its definition, cut where it last
    # reaches 5 % below 10 Hz, and the arc by the distances of neighbouring points
    rate_hz, time_s = 100.0, np.arange(60) / 100.0
    speed = np.sin(np.pi * time_s / 0.6) ** 2 + 0.1 * np.sin(2 * np.pi * 5.0 * time_s) ** 2
    n_bins = 64 * 16
    frequency = [k * rate_hz / n_bins for k in range(n_bins) if k * rate_hz / n_bins <= 10.0]
    size = [abs(np.sum(speed * np.exp(-2j * np.pi * f * time_s))) for f in frequency]
    part = [value / size[0] for value in size]
    last = max(k for k, value in enumerate(part) if value >= 0.05)
    arc = sum(
        np.hypot((frequency[k] - frequency[k - 1]) / frequency[last], part[k] - part[k - 1])
        for k in range(1, last + 1)
    )
    assert spectral_arc_length(speed, rate_hz=rate_hz) == pytest.approx(-arc, rel=1e-9)


def test_a_jerky_delivery_is_less_smooth_than_a_smooth_one():
    time_s = np.arange(100) / 200.0
    smooth = np.sin(np.pi * time_s / 0.5)
    jerky = smooth + 0.4 * np.sin(2.0 * np.pi * 6.0 * time_s)
    assert spectral_arc_length(jerky, rate_hz=200.0) < spectral_arc_length(smooth, rate_hz=200.0)


def test_arc_length_needs_two_samples():
    with pytest.raises(ValueError, match="at least 2 samples, not 1"):
        spectral_arc_length(np.ones(1), rate_hz=100.0)


def test_smeared_blow_is_what_a_filter_makes_of_it():
    # the table's closed form against scipy's filter run on a dense blow; 0.25 is in the family
    period_s, dense_hz = 0.005, 400000.0
    table = smear_table(period_s)
    lag_s = np.arange(0.0, 0.04, 1.0 / dense_hz)
    blow = np.where(lag_s < CONTACT_S, np.sin(np.pi * lag_s / CONTACT_S), 0.0)
    blow /= blow.sum() / dense_hz
    sections = signal.butter(2, 0.25 / period_s, fs=dense_hz, output="sos")
    truth = np.asarray(signal.sosfilt(sections, blow))
    at = np.linspace(0.0, 0.03, 61)
    shapes, passed = table.at(np.arange(len(table.delay_s)), np.tile(at, (len(table.delay_s), 1)))
    error = np.abs(shapes - np.interp(at, lag_s, truth)).max(axis=1)
    assert error.min() < 0.02 * np.max(truth)
    best = int(np.argmin(error))
    # the delay of this filter at low frequency: sqrt(2) / (2 pi cutoff)
    assert table.delay_s[best] == pytest.approx(np.sqrt(2.0) / (2.0 * np.pi * 50.0), rel=1e-6)
    assert passed[best, -1] == pytest.approx(1.0, abs=0.01)


def test_a_filter_without_overshoot_is_in_the_family():
    # three like poles: the density of a gamma distribution of shape 3
    table = smear_table(0.005)
    lag_s, step = table.lag_s, float(table.lag_s[1] - table.lag_s[0])
    contact = np.where((lag_s >= 0) & (lag_s <= CONTACT_S), np.sin(np.pi * lag_s / CONTACT_S), 0.0)
    contact /= contact.sum() * step
    delay_s = 0.85 * 0.005
    alone = stats.gamma.pdf(lag_s, 3.0, scale=delay_s / 3.0)
    expected = np.convolve(contact, alone)[len(lag_s) // 2 :][: len(lag_s)] * step
    same = np.abs(table.delay_s - delay_s) < 1e-9
    error = np.abs(table.shape_per_s[same] - expected).max(axis=1)
    assert error.min() < 0.01 * expected.max()


def test_a_spike_is_found_where_it_is_and_as_large_as_it_is():
    rate_hz, force = 200.0, np.zeros((400, 3))
    force[150] = [-60.0, 0.0, 0.0]
    force[151] = [-40.0, 0.0, 0.0]
    found = find_spikes(force, period_s=1.0 / rate_hz)
    assert len(found.index) == 1
    assert abs(int(found.index[0]) - 150) <= 1
    assert found.change_m_s[0] == pytest.approx([-0.5, 0.0, 0.0])


def test_a_slow_brake_is_no_spike():
    time_s = np.arange(400) / 200.0
    brake = -20.0 * np.exp(-0.5 * ((time_s - 1.0) / 0.15) ** 2)
    assert len(find_spikes(brake[:, None], period_s=0.005, is_loss=True).index) == 0


def test_a_soft_blow_that_the_push_takes_back_at_once_is_a_spike():
    # what 0.4 m/s at 100 Hz leaves: the blow in one sample, the hand's push two later
    force = np.zeros(120)
    force[58:64] = [0.1, -3.0, -0.4, 4.0, 1.6, -0.5]
    found = find_spikes(force[:, None], period_s=0.01, is_loss=True)
    assert found.index.tolist() == [59]
    assert found.change_m_s[0, 0] < 0.0


def test_a_push_alone_tells_a_soft_blow_that_fell_between_two_samples():
    force = np.zeros(120)
    force[58:64] = [-0.1, -0.2, 0.5, 4.6, -1.2, -2.0]
    found = find_spikes(force[:, None], period_s=0.01, is_loss=True)
    assert found.index.tolist() == [61]
    assert found.change_m_s[0, 0] > 0.0


def test_a_delivery_that_begins_at_once_is_no_spike():
    force = np.where(np.arange(120) < 60, 0.0, 6.0)
    assert len(find_spikes(force[:, None], period_s=0.01, is_loss=True).index) == 0


def test_a_hard_delivery_does_not_hide_the_blow_at_its_end():
    # 4 m/s within 0.1 s, the blow cut off at the range of the converter, 100 Hz
    force = np.zeros(120)
    force[50:62] = [20.0, 50.0, 66.0, 70.0, 66.0, 56.0, 44.0, 28.0, 12.0, -1.0, -30.0, 1.0]
    force[62:70] = [-3.0, -9.0, -12.0, -14.0, -16.0, -14.0, -9.0, -4.0]
    found = find_spikes(force[:, None], period_s=0.01, is_loss=True)
    assert 60 in found.index


def test_running_integral_of_a_line_is_exact_on_uneven_steps():
    time_s = np.array([0.0, 0.1, 0.15, 0.4, 1.0])
    total = running_integral(2.0 * time_s, time_s)
    assert total == pytest.approx(time_s**2)
    assert running_integral(np.column_stack([time_s, time_s]), time_s)[-1] == pytest.approx(0.5)


def test_phases_of_a_swing_of_straight_lines():
    time_s = np.arange(0.0, 2.0, 0.005)
    # still to 0.5 s, back at up to 0.4 m/s, still from 1.1 to 1.4 s, forward at 4 m/s^2
    speed = np.interp(time_s, [0.5, 0.8, 1.1, 1.4, 2.0], [0.0, -0.4, 0.0, 0.0, 2.4])
    phases = find_phases(time_s, speed, running_integral(speed, time_s))
    assert phases is not None
    assert phases.backswing_start_s == pytest.approx(0.5 + 0.02 / 0.4 * 0.3, abs=1e-6)
    assert phases.pause_start_s == pytest.approx(1.1 - 0.05 / 0.4 * 0.3, abs=1e-6)
    assert phases.delivery_start_s == pytest.approx(1.4 + 0.05 / 4.0, abs=1e-6)


def test_a_push_without_a_backswing_has_no_phases():
    time_s = np.arange(0.0, 1.0, 0.01)
    assert find_phases(time_s, time_s, 0.5 * time_s**2) is None


def test_a_creep_during_the_rear_pause_is_not_the_backswing():
    time_s = np.arange(0.0, 2.2, 0.005)
    back = np.where((time_s > 0.5) & (time_s < 1.3), -0.3 / 0.8, 0.0)
    creep = np.where((time_s > 1.5) & (time_s < 1.56), -0.07, 0.0)
    forward = np.where(time_s > 1.9, 10.0 * (time_s - 1.9), 0.0)
    speed = back + creep + forward
    travel = running_integral(speed, time_s)
    phases = find_phases(time_s, speed, travel - travel[-1])
    assert phases is not None
    assert phases.backswing_start_s == pytest.approx(0.5, abs=0.01)
    assert phases.pause_start_s == pytest.approx(1.3, abs=0.01)
    assert phases.rear_s > 1.5


def test_feathers_are_counted_and_timed():
    rate_hz, time_s = 200.0, np.arange(0.0, 5.0, 0.005)
    # four ways back and forward of 0.9 s, 0.12 m
    swing = np.where(time_s < 3.6, -0.06 * (1.0 - np.cos(2 * np.pi * time_s / 0.9)), 0.0)
    accel = np.gradient(np.gradient(swing, time_s), time_s)
    count, period_s, spread_s = count_feathers(accel, rate_hz=rate_hz, stop_index=900)
    assert count == 4
    assert period_s == pytest.approx(0.9, abs=0.05)
    # all alike, but for the filter's start
    assert spread_s == pytest.approx(0.0, abs=0.05)


@pytest.mark.parametrize("share", [0.22, 0.31, 0.41])
def test_a_rebound_gives_back_the_speed_it_is_named_for(share):
    table = smear_table(0.005)
    lag_s = np.arange(-0.02, 0.4, 0.0005)
    filters = np.arange(len(table.delay_s))
    rebound = share * table.rebound_at(filters, np.tile(lag_s, (len(filters), 1)))
    # whatever the filter, the area under its answer is that of what went in
    assert rebound.sum(axis=1) * 0.0005 == pytest.approx(share, rel=0.02)


def test_a_rest_is_cut_into_even_pieces_that_leave_nothing_out():
    first, last, of = pieces_of(np.array([10, 200, 300]), np.array([107, 207, 420]), 40)
    assert first.tolist() == [10, 58, 200, 300, 340, 380]
    assert last.tolist() == [58, 107, 207, 340, 380, 420]
    assert of.tolist() == [0, 0, 1, 2, 2, 2]


def test_the_gyroscopes_bias_is_learnt_from_more_than_one_rest():
    rng = np.random.default_rng(4)
    bias = np.array([0.004, -0.003, 0.002])
    tracker = BiasTracker()
    told = []
    for k in range(12):
        time_s = 10.0 * k + np.arange(200) * 0.005
        # over each rest the body sways one way: an error that only many rests average out
        rate = bias + 0.0025 * rng.standard_normal(3) + 0.001 * rng.standard_normal((200, 3))
        window = Window(
            time_s,
            np.zeros((200, 3)),
            rate,
            np.zeros(200, dtype=np.bool_),
            np.zeros(0, dtype=np.int64),
            0.005,
        )
        told.append(tracker.add(window, [Rest(0, 200)]))
    assert np.abs(told[-1].rate_rad_s - bias).max() < 3.0 * told[-1].sd_rad_s
    assert told[-1].sd_rad_s < 0.5 * told[0].sd_rad_s


def test_most_hints_decide_the_axis_and_one_odd_one_does_not():
    true = np.array([0.6, 0.0, 0.8])
    rng = np.random.default_rng(1)
    near = [true + 0.02 * rng.standard_normal(3) for _ in range(12)]
    hints = [Hint(d / np.linalg.norm(d), 1.0, 0.01) for d in near]
    hints.append(Hint(np.array([0.0, 1.0, 0.0]), 5.0, 0.01))
    found = agree(hints)
    assert found is not None
    direction, sd_rad = found
    assert np.arccos(direction @ true) < 3.0 * sd_rad
    assert sd_rad == pytest.approx(0.012, abs=0.004)
    assert agree([]) is None


def test_the_bridge_lies_a_hand_behind_the_tip():
    assert bridge_distance_m(1.2) == pytest.approx(0.95)
    assert bridge_distance_m(None) == pytest.approx(0.95)


def test_weighted_median_is_the_middle_of_the_weight():
    values = np.array([[1.0, 5.0], [2.0, 1.0], [9.0, 3.0]])
    assert weighted_median(values, np.array([1.0, 1.0, 1.0])) == pytest.approx([2.0, 3.0])
    assert weighted_median(values, np.array([1.0, 1.0, 9.0])) == pytest.approx([9.0, 3.0])


def test_rounded_stamps_are_evened_and_gaps_kept():
    true = np.concatenate([np.arange(100), np.arange(110, 200)]) / 812.3
    even = even_times_s(np.round(true, 4), np.array([100]))
    # rounding to 0.1 ms leaves errors up to 0.05 ms, a line through a hundred of them far less
    assert np.abs(even - true).max() < 2e-5
    assert typical_period_s(np.round(true, 4), fallback_s=1.0) == pytest.approx(1 / 812.3, rel=2e-3)


@pytest.mark.parametrize("jitter", [0.0, 0.1, 0.5])
def test_the_period_is_the_mean_of_the_steps_that_belong_to_their_median(jitter):
    rng = np.random.default_rng(5)
    time_s = np.cumsum(0.005 * (1.0 + jitter * rng.uniform(-1.0, 1.0, 2000)))
    time_s = np.delete(np.round(time_s, 4), rng.integers(1, 1999, 300))
    steps = np.diff(time_s)
    usual = steps[np.abs(steps - np.median(steps)) < 0.5 * np.median(steps)]
    # whatever period is stated: about the true one, and one far from it
    for stated_s in (0.005, 0.0052, 0.02):
        found = typical_period_s(time_s, fallback_s=stated_s)
        assert found == pytest.approx(usual.mean(), rel=1e-12)


def test_a_repeated_end_value_is_clipping_and_a_single_peak_is_not():
    force = np.zeros((50, 3))
    force[10:14, 1] = 78.45
    force[30, 0] = -60.0
    marked = mark_plateaus(force)
    assert np.flatnonzero(marked).tolist() == [10, 11, 12, 13]


@pytest.mark.parametrize(
    ("direction", "is_hint"), [((1.0, 0.0, 0.0), True), ((0.0, 0.0, -1.0), False)]
)
def test_a_knock_downwards_tells_no_cue_axis(direction, is_hint):
    rate_hz, speed = 200.0, 1.0
    along = np.concatenate([np.zeros(600), np.full(40, speed / 0.2), [-60.0, -60.0], np.zeros(20)])
    force = np.array([0.0, 0.0, 9.81]) + along[:, None] * np.array(direction)
    n = len(force)
    window = Window(
        np.arange(n) / rate_hz, force, None, np.zeros(n, dtype=np.bool_), np.zeros(0, int), 0.005
    )
    hint = axis_hint(window, 641 / rate_hz, -0.6 * np.array(direction))
    assert (hint is not None) == is_hint
    if hint is not None:
        # the direction was chosen first
        assert hint.direction == pytest.approx(direction, abs=1e-6)


def test_a_brisk_feather_is_no_blow_where_only_short_ones_count():
    rate_hz = 200.0
    time_s = np.arange(0.0, 1.0, 1.0 / rate_hz)
    # 0.2 m in a quarter of a second and back: a turn as sharp as an arm makes
    accel = 18.0 * np.sin(2.0 * np.pi * time_s / 0.25)
    found = find_spikes(accel[:, None], period_s=1.0 / rate_hz, is_loss=True, most_s=0.02)
    assert np.abs(found.change_m_s).max(initial=0.0) < 0.1
    accel[100] -= 0.15 * rate_hz
    found = find_spikes(accel[:, None], period_s=1.0 / rate_hz, is_loss=True, most_s=0.02)
    assert np.abs(found.change_m_s).max() == pytest.approx(0.15, abs=0.03)


@pytest.mark.parametrize("n", [1, 2, 7, 50])
def test_a_median_is_numpys(n):
    values = np.random.default_rng(n).normal(size=n)
    assert median(values) == np.median(values)
    rows = np.random.default_rng(n).normal(size=(n, 3))
    assert medians(rows).tolist() == np.median(rows, axis=0).tolist()
