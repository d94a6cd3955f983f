import numpy as np
import pytest
import statsmodels.api as sm
from scipy.special import expit

from cue_practice.failure import FALSE_ALARM, TRAITS, what_goes_with
from cue_practice.failure_fit import expected_chance, set_apart, weigh_number, weigh_yes_no
from cue_practice.played import PlayedShots, evenings_of
from cue_practice.rows import MEASURES


def invented(seed: int, n: int = 120, *, slowing: float = 0.0, is_called: bool = False):
    """Return shots of an invented player whose misses hang on slowing by so many log odds."""
    rng = np.random.default_rng(seed)
    series_id = np.arange(n) // 12
    struck_s = np.arange(n) * 30.0 + (series_id // 4) * 86_400.0
    measures = {name: np.full(n, np.nan) for name in MEASURES}
    habit = rng.standard_normal(n)[series_id]
    for name, _ in TRAITS.values():
        measures[name] = rng.standard_normal(n) + 0.5 * rng.standard_normal(n)[series_id]
    measures["tip_speed_m_s"] = 2.0 * np.exp(0.06 * rng.standard_normal(n))
    measures["tip_speed_sd_m_s"] = np.full(n, 0.02)
    failing = expit(-1.0 + 0.4 * habit - slowing * measures["accel_at_hit_m_s2"])
    return PlayedShots(
        shot_id=np.arange(n), series_id=series_id, setup_id=np.ones(n, dtype=np.int64),
        evening=evenings_of(struck_s), struck_s=struck_s,
        tip_below_centre_m=np.full(n, 0.0095), side_m=np.zeros(n),
        called_m_s=np.full(n, 2.0 if is_called else np.nan), grade=np.full(n, np.nan),
        is_potted=(rng.random(n) > failing).astype(float), measures=measures,
    )  # fmt: skip


def one_group(n: int) -> np.ndarray:
    return np.zeros(n, dtype=np.int64)


def test_a_score_is_that_of_the_score_test():
    """Truth: the efficient score test of a logistic regression by statsmodels."""
    rng = np.random.default_rng(1)
    outcome = (rng.random(300) < 0.3).astype(float)
    z = rng.standard_normal(300)
    z = (z - z.mean()) / z.std()
    expected = np.full(300, outcome.mean())
    found = weigh_yes_no(z[:, np.newaxis], outcome, expected, one_group(len(outcome)), alpha=0.05)
    null = sm.GLM(outcome, np.ones(300), family=sm.families.Binomial()).fit()
    peer = null.model.score_test(null.params, exog_extra=z[:, np.newaxis])
    assert found.score[0] ** 2 == pytest.approx(float(np.squeeze(peer[0])), rel=1e-6)


def test_with_many_shots_the_effect_is_that_of_plain_logistic_regression():
    """Truth: statsmodels; 4,000 shots leave shrinkage nothing to say."""
    rng = np.random.default_rng(2)
    z = rng.standard_normal((4_000, 3))
    z = (z - z.mean(axis=0)) / z.std(axis=0)
    outcome = (rng.random(4_000) < expit(-1.0 + z @ [0.3, 0.0, -0.2])).astype(float)
    peer = sm.Logit(outcome, sm.add_constant(z)).fit(disp=0)
    expected = np.full(4_000, float(expit(peer.params[0])))
    found = weigh_yes_no(z, outcome, expected, one_group(len(outcome)), alpha=0.05)
    np.testing.assert_allclose(found.effect, peer.params[1:], atol=0.01)
    np.testing.assert_allclose(found.effect_sd, peer.bse[1:], rtol=0.05)


def test_with_few_shots_effects_are_drawn_towards_none():
    rng = np.random.default_rng(3)
    z = rng.standard_normal((60, 8))
    outcome = (rng.random(60) < 0.3).astype(float)
    plain = sm.Logit(outcome, sm.add_constant(z)).fit(disp=0).params[1:]
    found = weigh_yes_no(z, outcome, np.full(60, outcome.mean()), one_group(60), alpha=0.05)
    assert np.abs(found.effect).max() < 0.5 * np.abs(plain).max()


@pytest.mark.parametrize("kind", ["yes or no", "number"])
def test_chance_alone_passes_for_something_in_one_of_twenty(kind):
    """200 outcomes of chance, 8 measures: 5 % and three binomial standard deviations, 4.6 %."""
    rng = np.random.default_rng(4)
    group = np.repeat(np.arange(6), 10)
    raw = rng.standard_normal((60, 8))
    z = np.column_stack([set_apart(one, group, np.zeros((60, 0))) for one in raw.T])
    n_false = 0
    for _ in range(200):
        if kind == "number":
            y = rng.standard_t(4, (6, 10))
            y = (y - y.mean(axis=1, keepdims=True)).ravel()
            found = weigh_number(z, y, group, alpha=0.05)
        else:
            y = (rng.random(60) < 0.25).astype(float)
            expected = expected_chance(y, group, np.zeros((60, 0)))
            found = weigh_yes_no(z, y, expected, group, alpha=0.05)
        n_false += found.chance_share.min() <= 0.05
    assert n_false / 200 <= 0.05 + 0.046


def test_a_player_who_misses_when_the_cue_slows_is_told_so():
    found = what_goes_with(invented(5, 400, slowing=0.8))
    (link,) = found.clear
    assert (link.trait, link.outcome) == ("slowing", "missed")
    assert link.effect_low < 0.8 < link.effect_high
    assert link.most_third > link.least_third + 0.15
    assert found.words[0].startswith("Slowing into the ball goes with missing: about ")
    assert f"about {link.most_third * 100:.0f} % missed" in found.words[0]
    assert "what causes what, it cannot tell" in found.words[-1]


def test_a_player_without_a_link_hears_what_could_have_been_seen():
    found = what_goes_with(invented(6))
    assert found.clear == ()
    assert "nothing in the stroke stands out" in found.words[0]
    assert "would show only if it raised the misses from about" in found.words[0]
    assert {link.trait for link in found.links} == set(TRAITS)
    assert all(link.chance_share > FALSE_ALARM for link in found.links)


def test_the_pace_does_not_pass_for_a_long_backswing():
    """A backswing that only grows with pace says nothing once the pace is known."""
    shots = invented(7, 300)
    pace = np.log(shots.pace_m_s / 2.0) / 0.06
    shots.measures["backswing_m"][:] = 0.2 + 0.03 * pace
    shots.is_potted[:] = np.random.default_rng(8).random(300) > expit(-1.0 + 1.2 * pace)
    assert "backswing" not in {link.trait for link in what_goes_with(shots).clear}


def test_soft_shots_to_a_called_pace_are_laid_to_the_short_backswing():
    shots = invented(9, 120, is_called=True)
    shots.is_potted[:] = np.nan
    rng = np.random.default_rng(9)
    backswing = shots.measures["backswing_m"]
    shots.measures["tip_speed_m_s"][:] = 2.0 * np.exp(
        0.04 * backswing + 0.04 * rng.normal(size=120)
    )
    found = what_goes_with(shots)
    (link,) = [one for one in found.clear if one.outcome == "soft"]
    assert link.trait == "backswing"
    # more backswing by one standard deviation within the series makes about 0.04 less soft
    assert -link.effect == pytest.approx(0.04, abs=0.012)
    assert "A short backswing goes with too soft a pace: about" in " ".join(found.words)


def test_few_shots_say_what_is_missing():
    said = what_goes_with(invented(10, 12)).words
    assert said == (
        "12 measured shots: what goes with failure can be looked at from 20 shots on with at least "
        "5 that failed and 5 that did not.",
    )


def test_what_the_sensor_cannot_tell_is_left_out():
    shots = invented(11)
    for name in ("tip_lateral_m", "tip_vertical_m", "twist_rad"):
        shots.measures[name][:] = np.nan
    traits = {link.trait for link in what_goes_with(shots).links}
    assert traits == set(TRAITS) - {"sideways", "up_down", "twist"}


def test_the_log_gives_played_shots_as_columns(bench, make_stroke):
    bench.play((1.9, "too_little"), (2.1, "right"), (2.3, None))
    late = make_stroke(6 * 3600.0, tip_speed_m_s=2.4, tip_lateral_m=0.002)
    shot = bench.add(late)[0]
    bench.log.set_result(shot.shot_id, grade="too_much", is_potted=False)
    found = bench.log.played_shots(bench.series.player_id)
    np.testing.assert_allclose(found.pace_m_s, [1.9, 2.1, 2.3, 2.4])
    np.testing.assert_allclose(found.grade, [-1, 0, np.nan, 1])
    np.testing.assert_allclose(found.is_potted, [np.nan, np.nan, np.nan, 0])
    assert found.evening.tolist() == [0, 0, 0, 1]
    assert found.measures["tip_lateral_m"][-1] == 0.002
    bench.log.discard(shot.shot_id)
    assert len(bench.log.played_shots(bench.series.player_id)) == 3
    assert len(bench.log.played_shots(bench.series.player_id, cue_id=99)) == 0
