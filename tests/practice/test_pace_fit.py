from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings, strategies
from scipy.integrate import simpson
from scipy.special import ndtr
from scipy.stats import norm, t
from statsmodels.miscmodels.ordinal_model import OrderedModel

from cue_practice import pace_fit
from cue_practice.likelihood import gathered
from cue_practice.pace_fit import LAPSE, TAIL_DOF, FitSettings, fit
from cue_practice.prior import PacePrior

WIDE = PacePrior(
    centre_m_s=2.0, centre_sd_log=0.5, half_width_log=0.1, half_width_sd_log=1.0,
    scatter_log=0.08, scatter_sd_log=1.0,
)  # fmt: skip


def played(n: int, seed: int, *, centre=2.0, half_width=0.12, scatter=0.08, sd=0.0, lapse=0.0):
    """Return measured log paces and results of n shots with known truth."""
    rng = np.random.default_rng(seed)
    true = np.log(centre) + rng.uniform(-0.4, 0.4, n)
    latent = true + rng.normal(0.0, scatter, n) - np.log(centre)
    result = np.where(latent < -half_width, -1, np.where(latent > half_width, 1, 0))
    is_lapse = rng.random(n) < lapse
    result[is_lapse] = rng.integers(-1, 2, is_lapse.sum())
    return true + rng.normal(0.0, sd, n), result.astype(np.int64)


def mean_and_sd(posterior, values):
    mean = float(posterior.weight @ values)
    return mean, float(np.sqrt(posterior.weight @ (values - mean) ** 2))


def test_many_shots_give_the_estimates_and_errors_of_ordered_probit_regression():
    """Truth: maximum likelihood by statsmodels; priors and grid must not matter at 2,000 shots."""
    x, result = played(2000, seed=1)
    found = OrderedModel(result, x[:, np.newaxis], distr="probit").fit(disp=False, method="bfgs")
    slope = found.params[0]
    low, high = found.model.transform_threshold_params(found.params)[1:3] / slope
    posterior = fit(x, result, sd_log=np.zeros(2000), prior=WIDE, settings=FitSettings(lapse=0.0))
    centre, centre_sd = mean_and_sd(posterior, posterior.centre_log)
    half, half_sd = mean_and_sd(posterior, posterior.half_width_log)
    scatter, scatter_sd = mean_and_sd(posterior, posterior.scatter_log)
    # a posterior mean and a maximum differ by less than a fifth of a standard error this far on
    assert centre == pytest.approx((low + high) / 2, abs=0.2 * centre_sd)
    assert half == pytest.approx((high - low) / 2, abs=0.2 * half_sd)
    assert scatter == pytest.approx(1 / slope, abs=0.3 * scatter_sd)
    # standard error of 1/slope by the delta method
    assert scatter_sd == pytest.approx(found.bse[0] / slope**2, rel=0.1)


def test_a_very_vague_prior_does_not_coarsen_the_grid():
    """Truth: maximum likelihood by statsmodels; the place of the answer is 1/200 of the prior."""
    x, result = played(6000, seed=2)
    found = OrderedModel(result, x[:, np.newaxis], distr="probit").fit(disp=False, method="bfgs")
    vague = replace(WIDE, centre_sd_log=1.0, half_width_sd_log=2.0, scatter_sd_log=2.0)
    posterior = fit(x, result, sd_log=np.zeros(6000), prior=vague, settings=FitSettings(lapse=0.0))
    scatter, scatter_sd = mean_and_sd(posterior, posterior.scatter_log)
    assert scatter_sd == pytest.approx(found.bse[0] / found.params[0] ** 2, rel=0.15)
    # drawing shots together widens the scatter by a third of a standard error at most
    assert scatter == pytest.approx(1 / found.params[0], abs=0.4 * scatter_sd)


def brute_force(x, result, sd, prior, lapse):
    """Return posterior mean and sd of the centre by Simpson's rule, no code of ours."""
    centre = np.linspace(np.log(prior.centre_m_s) - 2.0, np.log(prior.centre_m_s) + 2.0, 401)
    log_half = np.log(prior.half_width_log) + np.linspace(-4, 4, 81) * prior.half_width_sd_log
    log_scatter = np.log(prior.scatter_log) + np.linspace(-4, 4, 81) * prior.scatter_sd_log
    c, h, s = np.meshgrid(centre, log_half, log_scatter, indexing="ij", sparse=True)
    off = (c - np.log(prior.centre_m_s)) / prior.centre_sd_log
    density = t.pdf(off, TAIL_DOF) * norm.pdf(h, np.log(prior.half_width_log),
                                              prior.half_width_sd_log)  # fmt: skip
    density = density * norm.pdf(s, np.log(prior.scatter_log), prior.scatter_sd_log)
    for one, value, error in zip(x, result, sd, strict=True):
        blur = np.sqrt(np.exp(2 * s) + error**2)
        little = ndtr((c - np.exp(h) - one) / blur)
        much = ndtr((one - c - np.exp(h)) / blur)
        chance = {-1: little, 0: 1 - little - much, 1: much}[value]
        density = density * ((1 - lapse) * chance + lapse / 3)
    marginal = simpson(simpson(density, x=log_scatter, axis=2), x=log_half, axis=1)
    total = simpson(marginal, x=centre)
    mean = simpson(marginal * centre, x=centre) / total
    return mean, np.sqrt(simpson(marginal * (centre - mean) ** 2, x=centre) / total)


@pytest.mark.parametrize(
    ("paces", "result"),
    [
        ([1.7, 1.9, 2.0, 2.2], [-1, 0, 0, 1]),
        ([2.0], [0]),
        ([1.6, 1.7, 1.8], [-1, -1, -1]),
        ([2.4, 1.7, 2.1], [-1, 1, 0]),
    ],
    ids=["ordered", "one", "all too little", "contradictory"],
)
def test_a_few_shots_give_what_brute_force_integration_gives(paces, result):
    prior = PacePrior(centre_m_s=2.0, centre_sd_log=0.12)
    x, sd = np.log(paces), np.full(len(paces), 0.02)
    posterior = fit(x, np.array(result), sd_log=sd, prior=prior)
    mean, spread = brute_force(x, result, sd, prior, LAPSE)
    found, found_sd = mean_and_sd(posterior, posterior.centre_log)
    # the grid leaves out nodes below 1 in 22,000 of the best, in the t-prior's far tails
    assert found == pytest.approx(mean, abs=0.02 * spread)
    assert found_sd == pytest.approx(spread, rel=0.03)


def test_without_shots_the_prior_comes_back():
    prior = PacePrior(centre_m_s=1.7, centre_sd_log=0.1)
    nothing = np.array([])
    posterior = fit(nothing, nothing.astype(np.int64), sd_log=nothing, prior=prior)
    median, low, high = posterior.centre_quantiles((0.5, 0.05, 0.95))
    assert np.exp(median) == pytest.approx(1.7, rel=1e-3)
    # quantiles of Student's t by scipy; the grid ends where the prior is 1 in 22,000
    assert high - low == pytest.approx(2 * 0.1 * t.ppf(0.95, TAIL_DOF), rel=0.005)


@pytest.mark.parametrize("n_placed", [0, 1000])
def test_the_quick_way_to_a_thousand_shots_gives_what_the_slow_way_gives(n_placed, monkeypatch):
    """Slow: every shot by itself, every placed one heard from the first, no polynomial."""
    x, result = played(1000, seed=5, sd=0.02)
    rng = np.random.default_rng(6)
    offset = x - np.log(2.0) + 0.03 + rng.normal(0.0, np.hypot(0.08, 0.05), 1000)
    told = {
        "sd_log": np.full(1000, 0.02), "prior": WIDE, "offset_sd_log": np.full(1000, 0.06),
        "offset_log": np.where(np.arange(1000) < n_placed, offset, np.nan),
    }  # fmt: skip
    quick = fit(x, result, **told)
    for name in ("_COARSE_BINS", "_FINE_BINS", "_COARSE_PLACED"):
        monkeypatch.setattr(pace_fit, name, 10_000)
    monkeypatch.setattr(pace_fit, "_SMALL_SCATTERS", 0.0)
    slow = fit(x, result, **told)
    mean, spread = mean_and_sd(quick, quick.centre_log)
    exact, exact_spread = mean_and_sd(slow, slow.centre_log)
    assert mean == pytest.approx(exact, abs=0.02 * exact_spread)
    assert spread == pytest.approx(exact_spread, rel=0.02)
    for name in ("half_width_log", "scatter_log"):
        one, other = (mean_and_sd(p, getattr(p, name)) for p in (quick, slow))
        assert one[0] == pytest.approx(other[0], abs=0.1 * other[1])


@pytest.mark.parametrize("reach", [0.5, 1.0])
def test_a_polynomial_stands_for_the_likelihood_on_a_small_grid(reach):
    """Truth: the likelihood itself at every node, on grids up to the largest that is small."""
    x, result = played(1000, seed=5, sd=0.02)
    heard = pace_fit._Heard(gathered((x, result, np.full(1000, 0.02)), 48), [])
    half = 0.999 * reach * pace_fit._SMALL_SCATTERS * 0.06 / 2.0
    width, scatter = np.log([0.12 - half, 0.12 + half]), np.log([0.06, 0.11])
    box = [(np.log(2.0) - half, np.log(2.0) + half), tuple(width), tuple(scatter)]
    axes = pace_fit._axes(box, (29, 11, 11))
    assert pace_fit._is_small(axes)
    found = pace_fit._fine_log_likelihood(axes, heard, LAPSE)
    np.testing.assert_allclose(found, pace_fit._log_likelihood(axes, heard, LAPSE), atol=3e-3)


def test_the_order_of_the_shots_does_not_matter():
    x, result = played(200, seed=2, sd=0.02)
    sd = np.linspace(0.01, 0.04, 200)
    shuffled = np.random.default_rng(3).permutation(200)
    one = fit(x, result, sd_log=sd, prior=WIDE)
    other = fit(x[shuffled], result[shuffled], sd_log=sd[shuffled], prior=WIDE)
    np.testing.assert_allclose(one.weight, other.weight, atol=1e-12)


def test_turning_pace_and_results_round_turns_the_answer_round():
    """Symmetry: -log pace with too little and too much exchanged is the same problem."""
    x, result = played(30, seed=4)
    prior = PacePrior(centre_m_s=1.0, centre_sd_log=0.3)
    x = x - np.log(2.0)
    sd = np.full(30, 0.02)
    one, other = (fit(sign * x, sign * result, sd_log=sd, prior=prior) for sign in (1, -1))
    mean, _ = mean_and_sd(one, one.centre_log)
    mirrored, spread = mean_and_sd(other, other.centre_log)
    assert mean == pytest.approx(-mirrored, abs=1e-3 * spread)


@settings(max_examples=15, deadline=None)
@given(
    paces=strategies.lists(strategies.floats(1.2, 3.0), min_size=1, max_size=8),
    seed=strategies.integers(0, 1000),
)
def test_one_more_shot_with_too_little_never_lowers_the_right_pace(paces, seed):
    """A shot that had too little says the band lies higher, at whatever pace it was played."""
    rng = np.random.default_rng(seed)
    x, result = np.log(paces), rng.integers(-1, 2, len(paces))
    sd = np.full(len(paces) + 1, 0.02)
    prior = PacePrior(centre_m_s=2.0, centre_sd_log=0.12)
    before = fit(x, result, sd_log=sd[1:], prior=prior)
    extra = np.append(x, np.log(2.0)), np.append(result, -1)
    after = fit(*extra, sd_log=sd, prior=prior)
    mean, spread = mean_and_sd(before, before.centre_log)
    assert mean_and_sd(after, after.centre_log)[0] > mean - 0.02 * spread


def test_chances_add_up_to_one_and_rise_and_fall_as_they_must():
    x, result = played(20, seed=6)
    posterior = fit(x, result, sd_log=np.zeros(20), prior=WIDE)
    little, right, much = posterior.chances(np.linspace(np.log(0.5), np.log(8.0), 50))
    np.testing.assert_allclose(little + right + much, 1.0, atol=1e-12)
    assert (right > 0).all()
    assert (np.diff(little, axis=0) <= 1e-12).all()
    assert (np.diff(much, axis=0) >= -1e-12).all()


def test_ignoring_the_error_of_the_paces_would_blur_the_edges():
    """Errors in the regressor add to the scatter; told to the fit, the true scatter comes out."""
    x, result = played(3000, seed=8, scatter=0.06, sd=0.08)
    told = fit(x, result, sd_log=np.full(3000, 0.08), prior=WIDE)
    untold = fit(x, result, sd_log=np.zeros(3000), prior=WIDE)
    mean, spread = mean_and_sd(told, told.scatter_log)
    assert mean == pytest.approx(0.06, abs=3 * spread)
    blurred, _ = mean_and_sd(untold, untold.scatter_log)
    assert blurred == pytest.approx(np.hypot(0.06, 0.08), abs=3 * spread)


@pytest.mark.parametrize("n", [6, 12])
def test_intervals_cover_as_they_say(n):
    """Truth drawn from the prior, 200 series: a 90 % interval covers in 83 to 97 % of them.

    Three binomial standard deviations of 200 at 0.9 are 0.064; half a per cent is for the grid.
    """
    rng = np.random.default_rng(90 + n)
    prior = PacePrior(centre_m_s=2.0, centre_sd_log=0.12)
    n_series, covered = 200, 0
    for _ in range(n_series):
        centre = np.log(2.0) + 0.12 * rng.standard_t(TAIL_DOF)
        half = prior.half_width_log * np.exp(prior.half_width_sd_log * rng.standard_normal())
        scatter = prior.scatter_log * np.exp(prior.scatter_sd_log * rng.standard_normal())
        true = np.log(2.0) + rng.normal(0.0, 0.15, n)
        latent = true + scatter * rng.standard_normal(n) - centre
        result = np.where(latent < -half, -1, np.where(latent > half, 1, 0))
        is_lapse = rng.random(n) < LAPSE
        result[is_lapse] = rng.integers(-1, 2, is_lapse.sum())
        measured = true + 0.02 * rng.standard_normal(n)
        posterior = fit(measured, result, sd_log=np.full(n, 0.02), prior=prior)
        low, high = posterior.centre_quantiles((0.05, 0.95))
        covered += low <= centre <= high
    assert 0.831 <= covered / n_series <= 0.969


@pytest.mark.parametrize("lapse", [-0.1, 1.0, float("nan")])
def test_a_share_of_lapses_is_a_share(lapse):
    with pytest.raises(ValueError, match="lapse must lie within 0 and 1"):
        FitSettings(lapse=lapse)


def test_thinning_and_pruning_keep_the_mean():
    x, result = played(12, seed=9)
    posterior = fit(x, result, sd_log=np.zeros(12), prior=WIDE)
    mean, spread = mean_and_sd(posterior, posterior.centre_log)
    for other in (posterior.thinned(500), posterior.pruned(0.9995)):
        assert other.weight.sum() == pytest.approx(1.0)
        assert mean_and_sd(other, other.centre_log)[0] == pytest.approx(mean, abs=0.01 * spread)


@pytest.mark.parametrize("value", [0.0, float("nan"), -1.0])
def test_a_prior_that_no_pace_can_have_is_refused(value):
    with pytest.raises(ValueError, match="centre_m_s"):
        PacePrior(centre_m_s=value, centre_sd_log=0.1)
    with pytest.raises(ValueError, match="half_width_log"):
        PacePrior(centre_m_s=2.0, centre_sd_log=0.1, half_width_log=value)
    with pytest.raises(ValueError, match="centre_sd_log"):
        PacePrior(centre_m_s=2.0, centre_sd_log=value)
