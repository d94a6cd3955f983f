"""Blows that the sensor's converter cuts off before its filter, made with scipy's filters."""

import numpy as np
import pytest
from scipy import signal
from scipy.special import gamma, kv

from cue_signal.axis import Hint, axis_hint, rival_axes
from cue_signal.hit import fit_hit
from cue_signal.hit_model import HitData
from cue_signal.process import smooth_process
from cue_signal.swing import find_blow
from cue_signal.windows import Window

FINE_HZ = 40_000.0
TOUCH_S = 0.8
SPEED_M_S = 1.5
LOSS_M_S = 0.31 * SPEED_M_S


def felt_m_s2(range_m_s2, speed_m_s=SPEED_M_S):
    """Return what a cue feels that gains at 5 m/s^2, is hit and driven on: fine times, force."""
    loss_m_s = 0.31 * speed_m_s
    time_s = np.arange(round(1.2 * FINE_HZ)) / FINE_HZ
    lag_s = time_s - TOUCH_S
    force = np.where((lag_s > -speed_m_s / 5.0) & (lag_s < 0.0), 5.0, 0.0)
    blow = (lag_s >= 0.0) & (lag_s < 0.0015)
    # a half sine of 1.5 ms whose area is the speed lost
    force -= np.where(blow, loss_m_s * np.pi / 0.003 * np.sin(np.pi * lag_s / 0.0015), 0.0)
    after = np.maximum(lag_s, 0.0)
    push = 25.0 * np.exp(-after / 0.015) - 8.0 * (1.0 - np.exp(-after / 0.03))
    push *= speed_m_s / SPEED_M_S
    force += np.where(lag_s > 0.0, push * np.exp(-((after / 0.25) ** 4)), 0.0)
    return time_s, np.clip(force, -range_m_s2, range_m_s2)


def sampled(range_m_s2, rate_hz, speed_m_s=SPEED_M_S):
    """Return times and samples behind a second-order low-pass at a quarter of the rate."""
    time_s, force = felt_m_s2(range_m_s2, speed_m_s)
    sos = signal.butter(2, 0.25 * rate_hz, fs=FINE_HZ, output="sos")
    passed = signal.sosfilt(sos, force)
    at_s = 0.003 + np.arange(round(1.1 * rate_hz)) / rate_hz
    noise = np.random.default_rng(3).normal(0.0, 0.03, len(at_s))
    return at_s, np.interp(at_s, time_s, passed) + noise


def data_of(at_s, accel, rate_hz, speed_m_s=SPEED_M_S):
    peak = int(np.argmin(np.where(np.abs(at_s - TOUCH_S - 0.005) < 0.02, accel, 99.0)))
    none = np.zeros(len(at_s), dtype=bool)
    return HitData(
        time_s=at_s,
        accel_m_s2=accel,
        is_usable=~none,
        is_clipped=none,
        peak_index=peak,
        period_s=1.0 / rate_hz,
        noise_m_s2=0.03,
        delivery_s=0.3,
        speed_m_s=speed_m_s,
        over_s=float(at_s[peak + 4]),
    )


@pytest.mark.parametrize("rate_hz", [100.0, 200.0])
def test_a_blow_cut_off_before_the_filter_is_known_as_such(rate_hz):
    fit = fit_hit(data_of(*sampled(8 * 9.81, rate_hz), rate_hz))
    # 8 g for 1.5 ms is a quarter of what was lost
    assert fit.limited > (0.9 if rate_hz > 150.0 else 0.6)
    assert fit.lost_m_s + fit.hidden_m_s == pytest.approx(LOSS_M_S, abs=0.1)
    assert fit.touch_s == pytest.approx(TOUCH_S, abs=0.5 / rate_hz)
    assert fit.accel_m_s2 == pytest.approx(5.0, abs=0.3)


@pytest.mark.parametrize("rate_hz", [100.0, 200.0])
def test_a_blow_seen_in_full_is_not(rate_hz):
    fit = fit_hit(data_of(*sampled(200 * 9.81, rate_hz), rate_hz))
    # at 100 Hz the hand's push takes most of it back within two samples
    assert fit.limited < (0.1 if rate_hz > 150.0 else 0.6)
    assert fit.lost_m_s == pytest.approx(LOSS_M_S, abs=3.0 * fit.lost_sd_m_s)
    assert fit.touch_s == pytest.approx(TOUCH_S, abs=0.5 / rate_hz)


def test_a_firm_blow_is_known_as_cut_off_though_the_delivery_fades_before_it():
    at_s, accel = sampled(16 * 9.81, 200.0, 3.5)
    # the push of the delivery falls by 30 m/s^2 over the last 50 ms: no part of the blow
    accel = accel + 600.0 * np.clip(TOUCH_S + 0.0045 - at_s, 0.0, 0.05)
    fit = fit_hit(data_of(at_s, accel, 200.0, 3.5))
    assert fit.limited > 0.9
    assert fit.touch_s == pytest.approx(TOUCH_S, abs=0.0025)


def window_of(at_s, accel):
    force = np.array([0.0, 0.0, 9.81]) + accel[:, None] * np.array([1.0, 0.0, 0.0])
    none = np.zeros(len(at_s), dtype=bool)
    return Window(at_s, force, None, none, np.zeros(0, dtype=int), float(at_s[1] - at_s[0]))


def test_a_braking_follow_through_is_not_taken_for_the_blow_before_the_push():
    at_s, accel = sampled(8 * 9.81, 100.0)
    accel = accel + np.where(at_s > TOUCH_S + 0.035, -40.0, 0.0)
    push_s = float(at_s[np.argmax(accel)])
    found = find_blow(window_of(at_s, accel), np.array([1.0, 0.0, 0.0]), push_s)
    assert found is not None
    assert 0.0 < at_s[found] - TOUCH_S < 0.02


def test_a_braking_that_is_asked_about_leads_back_to_the_blow_before_the_push():
    at_s, accel = sampled(16 * 9.81, 100.0, 4.0)
    accel = accel - 50.0 * np.clip((at_s - TOUCH_S - 0.035) / 0.03, 0.0, 1.0)
    found = find_blow(window_of(at_s, accel), np.array([1.0, 0.0, 0.0]), TOUCH_S + 0.06)
    assert found is not None
    assert 0.0 < at_s[found] - TOUCH_S < 0.02


def test_a_push_tells_the_axis_where_no_blow_is_seen():
    at_s, accel = sampled(8 * 9.81, 100.0)
    push = int(np.argmax(np.where(at_s > TOUCH_S, accel, 0.0)))
    hint = axis_hint(window_of(at_s, accel), float(at_s[push]), np.array([0.2, 0.0, 0.0]))
    assert hint is not None
    assert hint.is_push
    assert hint.direction == pytest.approx([1.0, 0.0, 0.0], abs=1e-6)


def test_a_knock_after_every_stroke_leaves_the_strokes_direction_a_rival():
    along, knock = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.6, 0.8])
    hints = [Hint(along, 1.5, 0.01)] * 5 + [Hint(knock, 1.0, 0.01)] * 15
    hints += [Hint(np.array([0.0, 0.0, 1.0]), 2.0, 0.01, is_push=True)] * 20
    found = rival_axes(hints)
    # blows first, the most weight first; pushes only after them
    assert [n for _, _, n in found] == [15, 5, 20]
    assert found[1][0] == pytest.approx(along)
    assert [n for _, _, n in rival_axes([*hints[:5] * 4, hints[-1]])] == [20]
    assert rival_axes([]) == []


def test_a_delivery_is_as_alike_as_two_matern_processes():
    basis = smooth_process(0.0, 0.2, 5.0, 0.1, unrest_m_s2=0.4, unrest_s=0.02)
    apart = np.abs(basis.support_s[:, None] - basis.support_s)

    def matern(size, length):
        # Rasmussen and Williams 2006, equation 4.14, with Bessel functions
        scaled = np.sqrt(5.0) * np.maximum(apart, 1e-12) / length
        return size**2 * 2.0**-1.5 / gamma(2.5) * scaled**2.5 * kv(2.5, scaled)

    expected = matern(5.0, 0.1) + matern(0.4, 0.02)
    assert np.linalg.inv(basis.kernel_inverse) == pytest.approx(expected, rel=1e-4, abs=1e-3)
