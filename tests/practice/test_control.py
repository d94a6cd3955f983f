# pyright: reportOptionalMemberAccess=false, reportOptionalSubscript=false
# A None in these places fails the test, as it should.
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import beta

from cue_practice.control import CalledShot, pace_control, training_score

EVENING = datetime(2026, 3, 4, 18, tzinfo=UTC)


def called(off, *, series_id=1, day=0, sd=0.0, pace=2.0) -> list[CalledShot]:
    """Return shots of one series that lie off their called pace by these logarithms."""
    start = EVENING + timedelta(days=day)
    return [
        CalledShot(series_id, start + timedelta(seconds=30 * k), pace * np.exp(o),
                   sd * pace * np.exp(o), pace)
        for k, o in enumerate(off)
    ]  # fmt: skip


def test_spread_and_offset_are_those_of_the_numbers():
    off = [-0.04, 0.0, 0.02, 0.06]
    found = pace_control(called(off))
    assert found.offset.value == pytest.approx(0.01)
    assert found.spread.value == pytest.approx(np.std(off, ddof=1))
    assert (found.n_shots, found.n_series, found.n_days, found.degrees) == (4, 1, 1, 3)


def test_the_interval_of_a_spread_covers_as_it_says_with_ten_shots():
    """Exact for normal numbers: 90 % of 600 within three binomial standard deviations, 0.037."""
    rng = np.random.default_rng(4)
    inside = sum(
        found.low <= 0.05 <= found.high
        for found in (pace_control(called(0.05 * rng.standard_normal(10))).spread
                      for _ in range(600))
    )  # fmt: skip
    assert inside / 600 == pytest.approx(0.9, abs=0.037)


def test_measuring_uncertainty_is_taken_out():
    rng = np.random.default_rng(1)
    off = 0.05 * rng.standard_normal(4000) + 0.03 * rng.standard_normal(4000)
    # 4,000 shots give the found spread to 1.1 %; three of these
    assert pace_control(called(off, sd=0.03)).spread.value == pytest.approx(0.05, rel=0.05)


def test_series_called_at_other_paces_do_not_add_to_the_spread():
    off = [-0.02, 0.0, 0.02]
    both = called(off) + called(np.add(off, 0.3), series_id=2, pace=3.0)
    assert pace_control(both).spread.value == pytest.approx(np.std(off, ddof=1))


def test_drift_is_the_slope_of_a_regression_with_an_intercept_for_each_series():
    """Truth: ordinary least squares by statsmodels."""
    rng = np.random.default_rng(2)
    series = {1: 12, 2: 20}
    shots, rows, values = [], [], []
    for key, n in series.items():
        off = 0.004 * np.arange(n) + 0.1 * key + 0.03 * rng.standard_normal(n)
        shots += called(off, series_id=key, day=key)
        rows += [[k, float(key == 1), float(key == 2)] for k in range(n)]
        values += list(off)
    peer = sm.OLS(values, np.array(rows)).fit()
    low, high = peer.conf_int(alpha=0.1)[0]
    found = pace_control(shots).drift
    expected = [10 * peer.params[0], 10 * low, 10 * high]
    np.testing.assert_allclose([found.value, found.low, found.high], expected, rtol=1e-9)
    assert any(
        "10 shots on in a series, the pace is" in words for words in pace_control(shots).words
    )


def test_drift_is_told_over_no_more_shots_than_a_series_has():
    shots = called(0.02 * np.arange(6) + 0.001 * np.array([1, -1, 0, 0, -1, 1]))
    found = pace_control(shots)
    assert found.drift_shots == 5
    assert found.drift.value == pytest.approx(5 * 0.02, abs=0.005)
    assert "5 shots on in a series, the pace is 10.0 % harder." in found.words


def test_days_that_differ_are_told_from_days_that_do_not():
    rng = np.random.default_rng(3)

    def days(apart: float):
        shots = []
        for day in range(8):
            off = apart * rng.standard_normal() + 0.03 * rng.standard_normal(20)
            shots += called(off, series_id=day, day=day)
        return pace_control(shots).between_days

    apart, alike = days(0.06), days(0.0)
    assert apart.low > 0.025
    assert apart.low < 0.06 < apart.high
    assert alike.low < 0.01
    assert alike.high < 0.03


def test_too_few_shots_tell_nothing():
    for shots in ([], called([0.01])):
        found = pace_control(shots)
        assert found.spread is found.drift is found.between_days is None
        assert "nothing can be told yet" in found.words[0]


def test_a_slip_of_the_sensor_is_left_out_with_a_word():
    off = [0.01, -0.02, 0.03, 0.0]
    clean, typo = pace_control(called(off)), pace_control(called([*off, np.log(25.0 / 2.0)]))
    assert typo.spread == clean.spread
    assert typo.words == (*clean.words, "Left out: 1 shot with a pace that no stroke has.")


def test_no_spread_at_all_is_said_to_be_lost_in_the_measuring():
    still = pace_control(called([0.0] * 8, sd=0.02))
    assert "lost in what the sensor itself scatters, 2.0 %" in still.words[0]
    assert still.words[1] == "On average just the pace that was called."
    assert pace_control(called([0.0] * 8)).words[0].endswith("all at the very same pace.")


def test_the_score_of_a_training_series_counts_what_is_within_tolerance():
    score = training_score([2.0, 2.11, 1.9, 2.05, 2.1], 2.0, tolerance=0.05)
    assert (score.n_shots, score.n_within, score.streak) == (5, 4, 3)
    assert score.share.value == 0.8
    low = beta.ppf(0.05, score.n_within + 0.5, 5 - score.n_within + 0.5)
    assert score.share.low == pytest.approx(low)
    assert training_score([], 2.0).share is None
    assert training_score([2.0] * 3, 2.0).streak == 3
    with pytest.raises(ValueError, match="tolerance and called_m_s must be above 0"):
        training_score([2.0], 2.0, tolerance=0.0)


def test_the_log_gives_called_shots_by_cue_and_period(bench, make_stroke):
    bench.play((2.0, "right"))
    held = bench.another_series(called_pace_m_s=2.0)
    shots = bench.add(
        *(make_stroke(600.0 + 20 * k, tip_speed_m_s=v) for k, v in enumerate((1.9, 2.0, 2.1))),
        series_id=held.series_id,
    )
    bench.log.discard(shots[2].shot_id)
    player = bench.series.player_id
    found = bench.log.called_shots(player)
    assert [shot.pace_m_s for shot in found] == [1.9, 2.0]
    assert found[0].called_m_s == 2.0
    later = found[1].struck_utc
    assert [s.pace_m_s for s in bench.log.called_shots(player, since_utc=later)] == [2.0]
    assert [s.pace_m_s for s in bench.log.called_shots(player, until_utc=later)] == [1.9]
    assert bench.log.called_shots(player, cue_id=99) == []
