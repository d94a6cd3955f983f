# pyright: reportOptionalMemberAccess=false, reportOptionalSubscript=false
# A None in these places fails the test, as it should.
import numpy as np
import pytest
from scipy.special import ndtr

from cue_practice.exercise import next_exercise
from cue_practice.inference import PaceAnswer, pace_answer
from cue_practice.pace_fit import LAPSE, FitSettings, fit
from cue_practice.prior import PacePrior
from cue_practice.spread import OwnSpread

PRIOR = PacePrior(centre_m_s=2.0, centre_sd_log=0.12, source="the table model")
SERIES = (
    [1.6, 1.7, 1.75, 1.8, 1.9, 1.95, 2.0, 2.1, 2.2, 2.3],
    ["too_little"] * 4 + ["right"] * 3 + ["too_much"] * 3,
)


def said(answer: PaceAnswer) -> str:
    return " ".join(answer.words)


def assert_sensible(answer: PaceAnswer) -> None:
    """What every answer must keep, whatever the shots."""
    total = answer.p_too_little + answer.p_right + answer.p_too_much
    np.testing.assert_allclose(total, 1.0, atol=1e-9)
    assert (np.diff(answer.pace_m_s) > 0).all()
    assert (np.diff(answer.p_too_little) <= 1e-9).all()
    assert (np.diff(answer.p_too_much) >= -1e-9).all()
    assert (answer.p_right_low <= answer.p_right).all()
    assert (answer.p_right <= answer.p_right_high).all()
    assert answer.best_pace_low_m_s <= answer.best_pace_m_s <= answer.best_pace_high_m_s
    assert answer.pace_m_s[0] <= answer.next_pace_m_s <= answer.pace_m_s[-1]
    assert answer.chance_low <= answer.chance_at_own_spread <= answer.chance_high
    assert answer.chance_at_own_spread <= answer.best_chance + 1e-6
    if answer.band_m_s is not None:
        assert answer.band_m_s[0] <= answer.best_pace_m_s <= answer.band_m_s[1]
    numbers = [answer.best_pace_m_s, answer.chance_at_own_spread, answer.own_spread_m_s]
    assert np.isfinite(numbers).all()
    assert all(sentence.endswith((".", "!")) for sentence in answer.words)


def test_ten_shots_give_a_pace_between_the_soft_and_the_hard_ones():
    answer = pace_answer(*SERIES, prior=PRIOR)
    assert_sensible(answer)
    assert 1.8 < answer.best_pace_m_s < 2.1
    assert answer.band_m_s[0] > 1.7
    assert (answer.n_shots, answer.n_too_little, answer.n_right, answer.n_too_much) == (10, 4, 3, 3)
    assert "10 shots: 4 with too little stun, 3 right, 3 with too much." in answer.words
    low, high = answer.best_pace_low_m_s, answer.best_pace_high_m_s
    assert f"90 % sure that it lies between {low:.2f} and {high:.2f} m/s" in said(answer)


def test_probabilities_are_the_means_over_the_posterior():
    x = np.log(SERIES[0])
    result = np.repeat([-1, 0, 1], [4, 3, 3])
    posterior = fit(x, result, sd_log=np.zeros(10), prior=PRIOR)
    answer = pace_answer(*SERIES, prior=PRIOR)
    place = 40
    one = np.log(answer.pace_m_s[place])
    much = ndtr((one - posterior.centre_log - posterior.half_width_log) / posterior.scatter_log)
    expected = (1 - LAPSE) * float(posterior.weight @ much) + LAPSE / 3
    # the answer leaves out the lightest nodes, together 0.05 % of the weight
    assert answer.p_too_much[place] == pytest.approx(expected, abs=1e-3)


def test_the_band_ends_where_right_is_an_even_chance():
    answer = pace_answer(*SERIES, prior=PRIOR)
    assert answer.band_m_s is not None
    at_ends = np.interp(np.log(answer.band_m_s), np.log(answer.pace_m_s), answer.p_right)
    np.testing.assert_allclose(at_ends, 0.5, atol=1e-9)


def test_a_steady_player_gets_it_right_more_often_than_a_wild_one():
    chances = [
        pace_answer(*SERIES, prior=PRIOR, own_spread=OwnSpread(share, 20)).chance_at_own_spread
        for share in (0.01, 0.05, 0.1, 0.3)
    ]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > chances[-1] + 0.2


def test_chance_at_own_spread_is_the_chance_averaged_over_the_players_paces():
    """Truth: Monte Carlo over paces about the best, each scored by the fitted curve."""
    spread = OwnSpread(0.08, 30)
    answer = pace_answer(*SERIES, prior=PRIOR, own_spread=spread)
    tries = np.log(answer.best_pace_m_s) + 0.08 * np.random.default_rng(1).standard_normal(20_000)
    expected = np.interp(tries, np.log(answer.pace_m_s), answer.p_right).mean()
    # 20,000 tries are good to 0.003; the answer's 500 nodes to about as much
    assert answer.chance_at_own_spread == pytest.approx(expected, abs=0.01)


def test_the_order_of_the_shots_does_not_matter():
    shuffled = np.random.default_rng(0).permutation(10)
    one = pace_answer(*SERIES, prior=PRIOR)
    other = pace_answer(
        np.array(SERIES[0])[shuffled], [SERIES[1][k] for k in shuffled], prior=PRIOR
    )
    assert other.best_pace_m_s == pytest.approx(one.best_pace_m_s, rel=1e-9)
    assert other.next_pace_m_s == pytest.approx(one.next_pace_m_s, rel=1e-9)
    assert other.words == one.words


def test_more_shots_make_the_answer_surer():
    widths = []
    for n in (1, 4, 16):
        answer = pace_answer(SERIES[0] * n, SERIES[1] * n, prior=PRIOR)
        widths.append(answer.best_pace_high_m_s / answer.best_pace_low_m_s)
    assert widths == sorted(widths, reverse=True)


def test_the_next_shot_is_the_one_that_narrows_the_posterior_most():
    """Truth: the mean entropy left after each result, by fitting every result anew."""
    paces, grades = SERIES[0][::3], SERIES[1][::3]
    answer = pace_answer(paces, grades, prior=PRIOR, own_spread=OwnSpread(0.006, 9))
    x = np.log(paces)
    result = np.array([{"too_little": -1, "right": 0, "too_much": 1}[grade] for grade in grades])

    def centre_entropy(pace: float) -> float:
        """Return the mean entropy of the grid's weights once the shot is played."""
        before = fit(x, result, sd_log=np.zeros(len(x)), prior=PRIOR)
        chances = before.chances(np.array([np.log(pace)]))
        left = 0.0
        for chance in chances:
            weight = before.weight * chance[0]
            p = weight.sum()
            left -= float(np.sum(weight * np.log(np.maximum(weight / p, 1e-300))))
        return left

    candidates = answer.pace_m_s[::4]
    left = [centre_entropy(pace) for pace in candidates]
    assert centre_entropy(answer.next_pace_m_s) <= min(left) + 0.01


def test_the_next_shot_after_soft_ones_only_is_harder():
    answer = pace_answer([1.5, 1.6, 1.7], ["too_little"] * 3, prior=PRIOR)
    assert answer.next_pace_m_s > 1.8


def test_no_shot_gives_the_table_models_word():
    answer = pace_answer([], [], prior=PRIOR)
    assert_sensible(answer)
    assert answer.n_shots == 0
    assert answer.best_pace_m_s == pytest.approx(2.0, rel=0.01)
    assert "all of this comes from the table model" in said(answer)


def test_one_shot_moves_the_answer_its_way_and_says_how_little_it_is():
    hard = pace_answer([2.0], ["too_much"], prior=PRIOR)
    soft = pace_answer([2.0], ["too_little"], prior=PRIOR)
    for answer in (hard, soft):
        assert_sensible(answer)
        assert "So few shots say little" in said(answer)
    assert hard.best_pace_m_s < 2.0 < soft.best_pace_m_s
    assert "1 shot: 0 with too little stun, 0 right, 1 with too much." in hard.words
    assert "play softer ones" in said(hard)
    assert "play harder ones" in said(soft)


def test_a_series_all_right_keeps_both_edges_open():
    answer = pace_answer(np.linspace(1.9, 2.1, 10), ["right"] * 10, prior=PRIOR)
    assert_sensible(answer)
    assert answer.band_m_s[0] < 1.9
    assert answer.band_m_s[1] > 2.1
    assert "both edges come from the table model" in said(answer)


def test_a_series_all_too_little_says_play_harder():
    answer = pace_answer(np.linspace(1.8, 2.2, 10), ["too_little"] * 10, prior=PRIOR)
    assert_sensible(answer)
    assert answer.best_pace_m_s > 2.2
    assert "all went the same way: play harder ones" in said(answer)


def test_contradictory_results_are_told_so_and_make_right_unlikely():
    paces = [1.5, 1.6, 1.7, 2.3, 2.4, 2.5]
    answer = pace_answer(paces, ["too_much"] * 3 + ["too_little"] * 3, prior=PRIOR)
    assert_sensible(answer)
    assert "They contradict each other" in said(answer)
    assert answer.band_m_s is None
    assert "At no pace is the right result an even chance yet" in said(answer)
    assert "only the pace changed" in next_exercise(answer, "the mark")
    sure = pace_answer(SERIES[0] * 4, SERIES[1] * 4, prior=PRIOR)
    assert f"every one at {sure.best_pace_m_s:.2f} m/s" in next_exercise(sure, "the mark")
    one_odd_shot = pace_answer([*SERIES[0], 2.4], [*SERIES[1], "too_little"], prior=PRIOR)
    assert "contradict" not in said(one_odd_shot)


@pytest.mark.parametrize(
    ("grades", "words"),
    [
        (["too_little"] * 3 + ["right"] * 3, "None was too hard yet: where too much begins"),
        (["right"] * 3 + ["too_much"] * 3, "None was too soft yet: where too little ends"),
        (["too_little"] * 3 + ["too_much"] * 3, "None was right yet"),
    ],
)
def test_two_grades_only_say_which_edge_is_open(grades, words):
    answer = pace_answer([1.6, 1.7, 1.8, 2.0, 2.1, 2.2], grades, prior=PRIOR)
    assert_sensible(answer)
    assert words in said(answer)


def test_a_slip_of_the_keyboard_is_left_out_with_a_word():
    typo = pace_answer([*SERIES[0], 25.0], [*SERIES[1], "right"], prior=PRIOR)
    clean = pace_answer(*SERIES, prior=PRIOR)
    assert typo.n_shots == 10
    assert typo.best_pace_m_s == clean.best_pace_m_s
    assert typo.left_out == ((10, "no stroke has a pace of 25 m/s"),)
    assert "Shot 11 of these is left out: no stroke has a pace of 25.00 m/s." in typo.words
    assert typo.remarks() == typo.words[-1:]
    assert clean.remarks() == ()


@pytest.mark.parametrize("pace", [float("nan"), 0.0, -2.0, float("inf")])
def test_a_pace_that_is_none_is_left_out(pace):
    answer = pace_answer([2.0, pace], ["right", "too_much"], prior=PRIOR)
    assert answer.n_shots == 1
    assert answer.left_out[0][0] == 1
    assert_sensible(answer)


def test_shots_of_one_pace_cannot_tell_about_others():
    answer = pace_answer([2.0] * 8, ["right"] * 5 + ["too_much"] * 3, prior=PRIOR)
    assert_sensible(answer)
    assert "All had the same pace" in said(answer)


def test_results_overrule_a_table_model_that_is_far_off():
    paces = np.linspace(3.4, 4.2, 12)
    grades = ["too_little"] * 4 + ["right"] * 4 + ["too_much"] * 4
    answer = pace_answer(paces, grades, prior=PRIOR)
    assert_sensible(answer)
    assert 3.6 < answer.best_pace_m_s < 4.0
    assert "more pace than expected from the table model; your results" in said(answer)


def test_an_uncertain_pace_tells_less_than_a_sure_one():
    sure = pace_answer(*SERIES, pace_sd_m_s=[0.01] * 10, prior=PRIOR)
    unsure = pace_answer(*SERIES, pace_sd_m_s=[0.4] * 10, prior=PRIOR)
    assert_sensible(unsure)

    def width(answer):
        return answer.best_pace_high_m_s / answer.best_pace_low_m_s

    assert width(unsure) > width(sure)


def test_lengths_that_differ_and_grades_that_are_none_are_the_callers_mistake():
    with pytest.raises(ValueError, match="as many, got 2, 1 and 2"):
        pace_answer([1.0, 2.0], ["right"], prior=PRIOR)
    with pytest.raises(ValueError, match="splendid"):
        pace_answer([1.0], ["splendid"], prior=PRIOR)


def test_a_thousand_shots_are_no_trouble():
    rng = np.random.default_rng(5)
    x = np.log(1.9) + rng.normal(0, 0.2, 1000)
    latent = x + rng.normal(0, 0.07, 1000) - np.log(1.85)
    grades = np.where(latent < -0.1, "too_little", np.where(latent > 0.1, "too_much", "right"))
    answer = pace_answer(np.exp(x), list(grades), prior=PRIOR, settings=FitSettings(lapse=0.0))
    assert_sensible(answer)
    assert answer.best_pace_m_s == pytest.approx(1.85, rel=0.02)
    assert answer.band_m_s is not None
    # edges of the band: where the latent's median leaves it, exp(+-0.1) about the centre
    np.testing.assert_allclose(answer.band_m_s, [1.85 * 0.905, 1.85 * 1.105], rtol=0.02)


class MilesAnHour:
    """1 mile is 1609.344 m, by international agreement of 1959."""

    def number(self, pace_m_s: float) -> str:
        return f"{pace_m_s * 3600 / 1609.344:.1f}"

    def text(self, pace_m_s: float) -> str:
        return f"{self.number(pace_m_s)} mph"

    def span(self, low_m_s: float, high_m_s: float) -> str:
        return f"{self.number(low_m_s)} to {self.number(high_m_s)} mph"


def test_the_same_answer_can_be_said_in_another_unit():
    answer = pace_answer([*SERIES[0], 25.0], [*SERIES[1], "right"], prior=PRIOR)
    sentences = answer.in_words(MilesAnHour())
    assert len(sentences) == len(answer.words)
    assert "m/s" not in " ".join(sentences)
    best = answer.best_pace_m_s * 2.2369363
    assert f"Best pace about {best:.1f} mph" in sentences[1]
    assert "no stroke has a pace of 55.9 mph" in sentences[-1]
    assert answer.in_words() == answer.words
