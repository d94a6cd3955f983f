from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm
from statsmodels.stats.meta_analysis import combine_effects

from cue_practice.answer import answer_for
from cue_practice.carry_over import (
    OTHER_HEIGHT_SD_LOG,
    OTHER_PLAYER_SD_LOG,
    carried,
    lesson,
)
from cue_practice.pace_fit import fit
from cue_practice.pooling import expected_next
from cue_practice.prior import PacePrior

PRIOR = PacePrior(centre_m_s=2.0, centre_sd_log=0.11, band_m_s=(1.8, 2.2), source="the table model")


def shots(centre: float, n: int, seed: int, *, scatter: float = 0.05, half_width: float = 0.1):
    """Return log paces, results and uncertainties of n shots about a known band."""
    rng = np.random.default_rng(seed)
    x = np.log(centre) + rng.uniform(-0.3, 0.3, n)
    latent = x + rng.normal(0.0, scatter, n) - np.log(centre)
    result = np.where(latent < -half_width, -1, np.where(latent > half_width, 1, 0))
    return x, result.astype(np.int64), np.full(n, 0.01)


def test_without_results_the_next_is_expected_as_before():
    nothing = np.array([])
    found = expected_next(nothing, nothing, mean_sd=0.08, between_sd=0.06)
    assert found.mean == 0.0
    # a half-normal of scale s has mean square s^2; the grid ends at 4 s
    assert found.sd == pytest.approx(np.hypot(0.08, 0.06), rel=0.01)


def test_many_results_give_the_mean_and_scatter_of_a_meta_analysis():
    """Truth: random effects by statsmodels (Paule and Mandel), 60 results of known error."""
    rng = np.random.default_rng(2)
    sds = rng.uniform(0.01, 0.04, 60)
    values = 0.07 + rng.normal(0.0, 0.05, 60) + rng.normal(0.0, sds)
    peer: Any = combine_effects(values, sds**2, method_re="iterated")
    found = expected_next(values, sds, mean_sd=1.0, between_sd=0.2)
    assert found.mean == pytest.approx(float(peer.mean_effect_re), abs=0.1 * 0.05 / np.sqrt(60))
    expected = np.sqrt(peer.tau2 + float(peer.sd_eff_w_re) ** 2)
    # the scatter of 60 is known to 9 %; the prior's pull stays well inside
    assert found.sd == pytest.approx(expected, rel=0.05)


def test_one_sure_result_gives_what_integration_over_the_scatter_gives():
    """Truth: scipy's quad over the scatter, in which the next one given the mean is closed form."""
    value, mean_sd, between_sd = 0.2, 0.08, 0.06

    def weight(scatter: float) -> float:
        return norm.pdf(scatter, 0, between_sd) * norm.pdf(value, 0, np.hypot(mean_sd, scatter))

    def mean_given(scatter: float) -> float:
        return value * mean_sd**2 / (mean_sd**2 + scatter**2)

    top = 4 * between_sd
    total = quad(weight, 0, top)[0]
    mean = quad(lambda s: weight(s) * mean_given(s), 0, top)[0] / total
    found = expected_next(
        np.array([value]), np.array([1e-6]), mean_sd=mean_sd, between_sd=between_sd
    )
    assert found.mean == pytest.approx(mean, rel=2e-3)


def test_a_result_that_says_nothing_changes_nothing():
    none = expected_next(np.array([]), np.array([]), mean_sd=0.08, between_sd=0.06)
    vague = expected_next(np.array([0.5]), np.array([50.0]), mean_sd=0.08, between_sd=0.06)
    assert vague.mean == pytest.approx(none.mean, abs=1e-4)
    assert vague.sd == pytest.approx(none.sd, rel=1e-3)


def test_without_lessons_the_table_model_has_its_word_alone():
    assert carried(PRIOR, []) == PRIOR


def test_what_a_slow_cloth_shows_is_carried_to_the_next_set_up():
    """Three set-ups whose truth is 12 % above the model; the fourth starts there."""
    told = [lesson(PRIOR, *shots(2.0 * 1.12, 40, seed)) for seed in range(3)]
    start = carried(PRIOR, told)
    assert np.log(start.centre_m_s / 2.0) == pytest.approx(np.log(1.12), abs=0.03)
    assert start.centre_sd_log < PRIOR.centre_sd_log
    assert start.scatter_sd_log < PRIOR.scatter_sd_log
    assert "set right by other shots on this table" in start.source


def test_one_lesson_of_few_shots_moves_little():
    start = carried(PRIOR, [lesson(PRIOR, *shots(2.4, 3, seed=1))])
    assert abs(np.log(start.centre_m_s / 2.0)) < 0.12
    assert start.centre_sd_log > 0.05


def test_many_lessons_that_agree_leave_room_for_those_of_other_heights():
    """Forty set-ups on the model's spot: the doubt falls below what heights do not share."""
    sure = replace(lesson(PRIOR, *shots(2.0, 40, seed=1)), shift=0.0, shift_sd=0.005)
    start = carried(PRIOR, [sure] * 40)
    assert start.centre_sd_log < OTHER_HEIGHT_SD_LOG
    near = replace(sure, shift=0.01)
    assert 2.0 < carried(PRIOR, [sure] * 40, [near] * 3).centre_m_s < 2.02


def test_another_players_lesson_counts_for_less():
    own, others = (
        [lesson(PRIOR, *shots(2.3, 40, seed), is_same_player=mine) for seed in range(2)]
        for mine in (True, False)
    )
    assert others[0].shift_sd == pytest.approx(np.hypot(own[0].shift_sd, OTHER_PLAYER_SD_LOG))
    assert carried(PRIOR, others).centre_sd_log > carried(PRIOR, own).centre_sd_log


def test_the_head_start_makes_five_shots_truer():
    """100 invented players: cloth and player shift all set-ups alike, each set-up a little more."""
    rng = np.random.default_rng(7)
    with_start, without, covered = [], [], 0
    n_players = 100
    for player in range(n_players):
        common = rng.normal(0.0, 0.09)
        truths = [2.0 * np.exp(common + rng.normal(0.0, 0.05)) for _ in range(4)]
        told = [lesson(PRIOR, *shots(t, 20, 1000 * player + k)) for k, t in enumerate(truths[:3])]
        x, result, sd = shots(truths[3], 5, 1000 * player + 9)
        for prior, errors in ((PRIOR, without), (carried(PRIOR, told), with_start)):
            posterior = fit(x, result, sd_log=sd, prior=prior)
            errors.append(posterior.weight @ posterior.centre_log - np.log(truths[3]))
        low, high = posterior.centre_quantiles((0.05, 0.95))
        covered += low <= np.log(truths[3]) <= high
    assert np.std(with_start) < 0.85 * np.std(without)
    # 90 % of 100, less three binomial standard deviations of 0.03
    assert covered / n_players >= 0.81


def test_the_log_carries_over_within_a_table_and_not_beyond(bench, setup, make_stroke):
    middle = 1.08 * PacePrior.from_table(setup, 0.0095).centre_m_s
    bench.play(
        *((middle * f, "too_little" if f < 0.9 else "too_much" if f > 1.1 else "right")
          for f in np.linspace(0.75, 1.25, 24))
    )  # fmt: skip
    series = bench.series
    here = answer_for(bench.log, series.setup_id, series.player_id, 0.0080)
    other = bench.log.add_table("Elsewhere")
    entry = bench.log.add_setup(setup, other.table_id)
    there = answer_for(bench.log, entry.setup_id, series.player_id, 0.0080)
    plain = PacePrior.from_table(setup, 0.0080)
    assert there.prior == plain
    assert here.prior.centre_m_s > plain.centre_m_s
    assert here.prior.centre_sd_log < plain.centre_sd_log
