"""Which quiet stretches were stillness, on motions written down in closed form."""

from dataclasses import fields, replace

import numpy as np
import pytest

from cue_signal.analysis import analyse
from cue_signal.doubt import balance_log_odds
from cue_signal.drift import wander_sd_m_s2
from cue_signal.follow import Follow
from cue_signal.hit import HitFit
from cue_signal.integrals import running_integral
from cue_signal.rest import Rest
from cue_signal.standing import judge_rests
from cue_signal.strapdown import REST_SPEED_SD_M_S, Leak, Path
from cue_signal.swing import find_blow
from cue_signal.windows import Window

RATE_HZ = 200.0


def made_path(pieces: list[tuple[float, float]]) -> tuple[Window, Path]:
    """Return a window and its raw motion from (seconds, acceleration) pieces, without noise."""
    axial = np.concatenate([np.full(round(s * RATE_HZ), a) for s, a in pieces])
    n = len(axial)
    force = np.column_stack([axial, np.zeros(n), np.full(n, 9.81)])
    window = Window(
        np.arange(n) / RATE_HZ,
        force,
        None,
        np.zeros(n, dtype=np.bool_),
        np.zeros(0, dtype=np.int64),
        1.0 / RATE_HZ,
    )
    accel = np.column_stack([axial, np.zeros((n, 2))])
    path = Path(accel, axial, None, Rest(0, round(pieces[0][0] * RATE_HZ)), 0.0, 0.3, Leak())
    return window, path


# still 0.6 s; back 0.14 m in 0.8 s by a push of 0.4 s back and one of 0.4 s forward; still 0.3 s;
# forward over 0.125 m in 0.25 s at 4 m/s^2, to 1 m/s, 15 mm short of where it stood
PIECES = [(0.6, 0.0), (0.4, -0.875), (0.4, 0.875), (0.3, 0.0), (0.25, 4.0)]


def rests_of(pieces: list[tuple[float, float]]) -> list[Rest]:
    """Return every piece of steady acceleration but the delivery as a quiet stretch."""
    edges = np.cumsum([0] + [round(s * RATE_HZ) for s, _ in pieces]).tolist()
    return [Rest(edges[k], edges[k + 1]) for k in range(len(pieces) - 1)]


def test_still_stretches_are_told_from_steady_pushes():
    window, path = made_path(PIECES)
    hit = len(window) - 1
    rests = rests_of(PIECES)
    standing = judge_rests(window, path, rests, hit, ahead_s=0.0, after=None)
    assert standing.address == rests[0]
    assert rests[3] in standing.still
    assert rests[1] not in standing.still
    assert rests[2] not in standing.still
    # 0.25 s at 4 m/s^2 from a standstill; a tip that lies at the ball without a gap costs 2 %
    assert standing.speed_m_s == pytest.approx(1.0, abs=0.03)


def test_the_rest_at_the_ball_makes_a_better_reference_than_a_push():
    # gravity taken from the push of the backswing: every true rest then seems to accelerate
    window, path = made_path(PIECES)
    rests, hit = rests_of(PIECES), len(window) - 1
    wrong = replace(path, axial_m_s2=path.axial_m_s2 + 0.875, reference=rests[1])
    good = judge_rests(window, path, rests, hit, ahead_s=0.0, after=None)
    bad = judge_rests(window, wrong, rests, hit, ahead_s=0.0, after=None)
    # a gravity off by three of its standard deviations: exp(4.5) less probable, or nearly so
    assert good.score > bad.score + 4.0


def test_no_quiet_stretch_gives_no_account():
    window, path = made_path(PIECES)
    standing = judge_rests(window, path, [], len(window) - 1, ahead_s=0.0, after=None)
    assert standing.still == []
    assert standing.address is None


def test_wander_grows_with_what_the_rests_show():
    window, path = made_path([(4.0, 0.0)])
    still = wander_sd_m_s2(window, path, [Rest(0, 800)], [REST_SPEED_SD_M_S])
    steps = np.random.default_rng(3).normal(0.0, 0.1, 20)
    swaying = replace(path, axial_m_s2=np.repeat(steps, 40))
    found = wander_sd_m_s2(window, swaying, [Rest(0, 800)], [REST_SPEED_SD_M_S])
    assert still < 0.01
    # twenty draws tell their spread to a sixth
    assert found == pytest.approx(0.1, rel=0.4)
    # a stretch that was not quite still says nothing
    assert wander_sd_m_s2(window, swaying, [Rest(0, 800)], [0.02]) == pytest.approx(0.015)


def test_the_blow_is_found_before_the_push_that_a_clipped_one_leaves():
    # what a sensor shows of a blow beyond its range: little of the loss, all of the hand's push
    axial = np.concatenate(
        [np.full(40, 11.0), [6.0, -10.0, 13.0, 20.0, 20.0, 15.0, 10.0, 7.0, 4.0], np.zeros(40)]
    )
    force = np.column_stack([axial, np.zeros(len(axial)), np.full(len(axial), 9.81)])
    window = Window(
        np.arange(len(axial)) / RATE_HZ,
        force,
        None,
        np.zeros(len(axial), dtype=np.bool_),
        np.zeros(0, dtype=np.int64),
        1.0 / RATE_HZ,
    )
    assert find_blow(window, np.array([1.0, 0.0, 0.0]), 46 / RATE_HZ) == 41


def fit_with(regained_m_s: float) -> HitFit:
    """Return a hit of which only the speed given back counts here."""
    nothing = np.zeros(1)
    numbers = {field.name: 0.0 for field in fields(HitFit) if not field.name.startswith("curve")}
    numbers["regained_m_s"] = regained_m_s
    return HitFit(**numbers, curve_s=nothing, curve_m_s2=nothing)


def follow_with(after_m_s: float, *, has_rest: bool = True) -> Follow:
    """Return a follow-through that began at a speed."""
    return Follow(
        running_integral(np.zeros(2), np.arange(2.0)), 0.0, 0.0, None, after_m_s, has_rest
    )


def test_a_cue_that_lost_a_third_met_a_ball_and_one_that_lost_nothing_did_not():
    fit = fit_with(0.0)
    # momentum and restitution: a cue of 0.51 kg keeps 0.69 of its speed (see physics of the tip)
    hit = balance_log_odds(fit, follow_with(0.69 * 2.0), 2.0, 0.02)
    none = balance_log_odds(fit, follow_with(2.0), 2.0, 0.02)
    assert hit > 3.0
    assert none < -3.0
    # what the hand gave back is no loss made good
    assert balance_log_odds(fit_with(0.2), follow_with(0.69 * 2.0 + 0.2), 2.0, 0.02) == hit
    # an unsure speed before says less, and no rest after nothing
    assert abs(balance_log_odds(fit, follow_with(2.0), 2.0, 0.5)) < 1.0
    assert balance_log_odds(fit, follow_with(2.0, has_rest=False), 2.0, 0.02) == 0.0


def test_a_gap_in_the_delivery_widens_the_speed(make):
    made = make(((2.0, 0.25),))
    hit_s = made.hit_times_s[0]
    time_s = made.samples.time_s
    lost = (time_s > hit_s - 0.14) & (time_s < hit_s - 0.08)
    kept = made.samples
    cut = replace(
        kept,
        time_s=time_s[~lost],
        specific_force_m_s2=kept.specific_force_m_s2[~lost],
        angular_rate_rad_s=kept.angular_rate_rad_s[~lost],
        is_clipped=kept.is_clipped[~lost],
    )
    (whole,) = analyse(kept, mounting=made.mounting).strokes
    (gapped,) = analyse(cut, mounting=made.mounting).strokes
    # 8 m/s^2 over 0.06 s gain 0.5 m/s unseen; the way from the rear to the ball, known to 12 mm,
    # over the quarter second that it takes leaves a tenth of that
    assert gapped.tip_speed_sd_m_s > 2.0 * whole.tip_speed_sd_m_s
    assert gapped.tip_speed_sd_m_s < 0.15
    assert abs(gapped.tip_speed_m_s - 2.0) < 2.0 * gapped.tip_speed_sd_m_s
