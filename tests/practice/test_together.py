import numpy as np
import pytest
from scipy.special import ndtr

from cue_practice.carry_over import own_at_a_height
from cue_practice.pace_fit import LAPSE, TAIL_DOF, fit
from cue_practice.prior import PacePrior
from cue_practice.together import HeightKnown, probability_easier

SPREAD = 0.06
ONE = PacePrior(centre_m_s=2.0, centre_sd_log=0.1, band_m_s=(1.8, 2.2))
OTHER = PacePrior(centre_m_s=2.2, centre_sd_log=0.12, half_width_log=0.08, band_m_s=(2.0, 2.4))


def shots(n: int, seed: int, centre: float, half_width: float = 0.1):
    """Return log paces and results of n shots about a band."""
    rng = np.random.default_rng(seed)
    x = np.log(centre) + rng.normal(0.0, 0.15, n)
    latent = x + rng.normal(0.0, 0.06, n) - np.log(centre)
    return x, np.where(np.abs(latent) > half_width, np.sign(latent), 0.0).astype(np.int64)


def known(prior: PacePrior, x, result) -> HeightKnown:
    posterior = fit(x, result, sd_log=np.zeros(len(x)), prior=prior)
    return HeightKnown(prior, posterior, own_at_a_height(prior), prior.centre_m_s)


def by_chance(sides, n_draws: int = 400_000) -> float:
    """Return the same by draws from the joint prior, weighed by all shots; no code of ours."""
    rng = np.random.default_rng(0)
    heavy = np.sqrt(TAIL_DOF / rng.chisquare(TAIL_DOF, n_draws))  # makes two normals a double t
    common = rng.standard_normal((3, n_draws))
    log_weight, chances = np.zeros(n_draws), []
    for prior, x, result in sides:
        own_sd = (0.03, 0.6 * prior.half_width_sd_log, 0.6 * prior.scatter_sd_log)
        sd = (prior.centre_sd_log, prior.half_width_sd_log, prior.scatter_sd_log)
        off = [
            np.sqrt(s**2 - o**2) * common[k] + o * rng.standard_normal(n_draws)
            for k, (s, o) in enumerate(zip(sd, own_sd, strict=True))
        ]
        centre = np.log(prior.centre_m_s) + off[0] * heavy
        half = prior.half_width_log * np.exp(off[1])
        scatter = prior.scatter_log * np.exp(off[2])

        def three(pace, blur, centre=centre, half=half):
            little, much = ndtr((centre - half - pace) / blur), ndtr((pace - centre - half) / blur)
            return {-1: little, 0: 1.0 - little - much, 1: much}

        for pace, value in zip(x, result, strict=True):
            log_weight += np.log((1 - LAPSE) * three(pace, scatter)[int(value)] + LAPSE / 3)
        chances.append(three(np.log(prior.centre_m_s), np.hypot(scatter, SPREAD))[0])
    weight = np.exp(log_weight - log_weight.max())
    return float(weight @ (chances[0] > chances[1]) / weight.sum())


@pytest.mark.parametrize("n", [(0, 0), (8, 0), (8, 12)], ids=["model", "one played", "both"])
def test_two_heights_are_told_apart_as_draws_from_the_joint_posterior_tell_them(n):
    one, other = shots(n[0], 1, 2.0), shots(n[1], 2, 2.2, 0.07)
    expected = by_chance([(ONE, *one), (OTHER, *other)])
    found = probability_easier(known(ONE, *one), known(OTHER, *other), SPREAD)
    # a few thousand of the draws count: good to 0.01; the nodes to about as much
    assert found == pytest.approx(expected, abs=0.03)


def test_exchanging_the_heights_turns_the_probability_round():
    one, other = known(ONE, *shots(8, 1, 2.0)), known(OTHER, *shots(12, 2, 2.2))
    found = probability_easier(one, other, SPREAD)
    assert found == pytest.approx(1.0 - probability_easier(other, one, SPREAD), abs=1e-9)
