# pyright: reportOptionalMemberAccess=false
# A None in these places fails the test, as it should.
import numpy as np
import pytest
from scipy.stats import beta, chi2

from cue_practice.compare import (
    Difference,
    compare_one,
    compare_shots,
)
from cue_practice.compare_words import difference_words
from cue_practice.control import Measure
from cue_practice.evening_means import Evenings, draw_means, log_odds, log_spread
from cue_practice.played import PlayedShots
from cue_practice.progress import evenings, progress_frame, trends
from cue_practice.rows import MEASURES
from cue_practice.tiredness import tiredness


def evening_shots(
    spreads: list[float], n: int = 20, *, seed: int = 0, right: float = 0.5, sideways: float = 2e-3,
    slowing: float = 0.2, drift_per_hour: float = 0.0, setup_id: int = 1,
) -> PlayedShots:  # fmt: skip
    """Return evenings of n shots to a called pace of 2 m/s, a minute apart, one spread for each."""
    rng = np.random.default_rng(seed)
    total = n * len(spreads)
    evening = np.repeat(np.arange(len(spreads)), n)
    minutes = np.tile(np.arange(n), len(spreads))
    off = np.repeat(spreads, n) * rng.standard_normal(total) + drift_per_hour * minutes / 60.0
    measures = {name: np.full(total, np.nan) for name in MEASURES}
    measures["tip_speed_m_s"] = 2.0 * np.exp(off)
    measures["tip_speed_sd_m_s"] = np.zeros(total)
    measures["tip_lateral_m"] = sideways * rng.standard_normal(total)
    measures["tip_lateral_sd_m"] = np.zeros(total)
    is_slow = rng.random(total) < slowing
    measures["slowing_probability"] = np.where(is_slow, 0.99, 0.01)
    measures["level_probability"] = np.zeros(total)
    return PlayedShots(
        shot_id=np.arange(total), series_id=evening.copy(),
        setup_id=np.full(total, setup_id), evening=evening,
        struck_s=7.0 * evening * 86_400.0 + 60.0 * minutes,
        tip_below_centre_m=np.full(total, 0.0095), side_m=np.zeros(total),
        called_m_s=np.full(total, 2.0), grade=np.where(rng.random(total) < right, 0.0, 1.0),
        is_potted=np.full(total, np.nan), measures=measures,
    )  # fmt: skip


def test_the_moments_of_spreads_and_shares_are_exact():
    """Truth: sampling, 400,000 draws good to 0.002."""
    rng = np.random.default_rng(1)
    drawn = np.log(rng.chisquare(7, 400_000) / 7.0) / 2.0
    found = log_spread(np.array([7.0]), np.array([7.0]))
    assert -found.value[0] == pytest.approx(drawn.mean(), abs=0.003)
    assert found.sd[0] == pytest.approx(drawn.std(), rel=0.005)
    share = beta(4.5, 6.5).rvs(400_000, random_state=rng)
    odds = np.log(share / (1.0 - share))
    found = log_odds(np.array([4.0]), np.array([10.0]))
    assert found.value[0] == pytest.approx(odds.mean(), abs=0.005)
    assert found.sd[0] == pytest.approx(odds.std(), rel=0.005)


def test_evenings_that_do_not_differ_give_the_weighted_mean():
    """Truth: the inverse-variance weighted mean, where no scatter is allowed."""
    side = Evenings(np.array([1.0, 2.0, 4.0]), np.array([0.5, 1.0, 0.5]))
    (draws,) = draw_means(side, between_sd=1e-6)
    weight = 1.0 / side.sd**2
    assert draws.mean() == pytest.approx(weight @ side.value / weight.sum(), abs=0.02)
    assert draws.std() == pytest.approx(1.0 / np.sqrt(weight.sum()), rel=0.03)


def test_a_steadier_player_is_named_with_the_ratio_of_spreads():
    found = compare_one(
        "pace spread",
        evening_shots([0.03] * 5, seed=2),
        evening_shots([0.06] * 5, seed=3),
        ("Wren", "Badger"),
    )
    assert found.difference.low < 0.5 < found.difference.high
    assert found.probability_first_better > 0.95
    assert found.words[0].startswith("Spread of pace: Wren ")
    assert "Wren keeps closer to the pace: " in found.words[1]
    assert "that it is by a fifth or more" in found.words[1]


def test_the_interval_of_a_ratio_covers_as_it_says_when_evenings_differ():
    """Evenings scatter by a tenth; 90 % of 150 within three binomial standard deviations."""
    rng = np.random.default_rng(4)
    inside = 0
    for seed in range(150):
        sides = [
            evening_shots(list(0.05 * np.exp(0.1 * rng.standard_normal(4))), 12, seed=2 * seed + k)
            for k in (0, 1)
        ]
        ratio = compare_one("pace spread", *sides).difference
        inside += ratio.low <= 1.0 <= ratio.high
    # the prior allows for more scatter than there is, so the interval may be a little wide
    assert 0.9 - 0.073 <= inside / 150 <= 0.99


def test_sides_that_are_alike_are_not_told_apart_and_say_how_far_they_may_lie():
    found = compare_shots(evening_shots([0.05] * 4, seed=5), evening_shots([0.05] * 4, seed=6))
    assert {one.quantity for one in found} == {"pace spread", "sideways", "slowing", "right"}
    spread = found[0]
    assert "They cannot be told apart yet" in " ".join(spread.words)
    assert 0.0 <= spread.probability_matters < 0.6


def test_a_single_evening_a_side_says_what_is_assumed():
    found = compare_one("right", evening_shots([0.05], right=0.9), evening_shots([0.05], right=0.2))
    assert found.probability_first_better > 0.9
    assert "how much evenings differ is only assumed" in found.words[-1]


def test_right_results_are_compared_on_common_set_ups_only():
    one = evening_shots([0.05] * 3, setup_id=1)
    other = evening_shots([0.05] * 3, setup_id=2)
    assert compare_one("right", one, other) is None
    assert compare_one("right", one, one).n_shots == (60, 60)


def test_straightness_and_slowing_name_the_better_one():
    good = evening_shots([0.05] * 5, seed=7, sideways=1e-3, slowing=0.05)
    bad = evening_shots([0.05] * 5, seed=8, sideways=3e-3, slowing=0.6)
    straight, slow = compare_one("sideways", good, bad), compare_one("slowing", bad, good)
    assert straight.difference.low < 1 / 3 < straight.difference.high
    assert "first is straighter" in straight.words[1]
    assert slow.probability_first_better < 0.05
    assert "second slows into the ball less often" in slow.words[1]
    assert slow.difference.low < 0.55 < slow.difference.high


def test_what_a_side_cannot_tell_is_not_compared():
    one = evening_shots([0.05])
    one.measures["tip_lateral_m"][:] = np.nan
    assert compare_one("sideways", one, evening_shots([0.05])) is None
    assert compare_shots(one.chosen(np.zeros(20, dtype=bool)), one) == ()


def test_an_evening_has_the_textbook_intervals():
    shots = evening_shots([0.04], 15, seed=9)
    (found,) = evenings(shots)
    off = np.log(shots.pace_m_s / 2.0)
    square = np.sum((off - off.mean()) ** 2)
    assert found.pace_spread.value == pytest.approx(np.std(off, ddof=1))
    assert found.pace_spread.low == pytest.approx(np.sqrt(square / chi2.ppf(0.95, 14)))
    n_right = int((shots.grade == 0).sum())
    assert found.right.high == pytest.approx(beta.ppf(0.95, n_right + 0.5, 15 - n_right + 0.5))
    assert found.potted is None
    frame = progress_frame([found])
    assert frame.loc[0, "pace_spread_share"] == found.pace_spread.value
    assert {"sideways_m", "sideways_low_m", "slowing_high_share"} <= set(frame.columns)


def test_a_spread_that_shrinks_over_evenings_is_a_trend():
    found = trends(evening_shots([0.08, 0.07, 0.06, 0.05, 0.04, 0.03], seed=10))["pace_spread"]
    assert found.probability_rising < 0.02
    assert found.change.low < 0.03 / 0.08 < found.change.high
    assert found.words.startswith("Over 6 evenings the spread of pace became smaller, from ")
    steady = trends(evening_shots([0.05] * 6, seed=11))["pace_spread"]
    assert "it cannot be told where the spread of pace is going" in steady.words
    assert trends(evening_shots([0.05] * 2)) == {}


def test_tiredness_is_the_change_in_an_hour():
    tired = tiredness(evening_shots([0.03] * 4, 60, seed=12, drift_per_hour=-0.06))
    assert tired.pace_change.low < -0.06 * 59.0 / 60.0 < tired.pace_change.high
    assert tired.words[0].startswith("59 minutes on, the pace is about ")
    assert "% softer" in tired.words[0]
    fresh = tiredness(evening_shots([0.03] * 4, 60, seed=13))
    assert fresh.words == (
        "Nothing changes clearly as an evening goes on (4 evenings, up to 59 minutes).",
    )
    assert tiredness(evening_shots([0.03], 5)).pace_change is None


def test_a_spread_that_shrinks_in_an_evening_is_told_as_less():
    """A player who warms up: from 8 % to 2 % of spread over an hour, on six evenings."""
    spreads = [0.08, 0.065, 0.05, 0.04, 0.028, 0.02]
    rng = np.random.default_rng(21)
    shots = evening_shots([1e-9] * 6, 60)
    off = np.repeat(spreads, 10)[None, :] * rng.standard_normal((6, 60))
    shots.measures["tip_speed_m_s"] = 2.0 * np.exp(off.ravel())
    found = tiredness(shots)
    assert found.spread_factor.high < 1.0
    said = f"the pace is steadier: {found.spread_factor.value:.1f} times the spread"
    assert said in " ".join(found.words)


def test_twenty_minutes_tell_what_twenty_minutes_do():
    """Truth: the slope that was put in, over the time that was played and no longer."""
    short = tiredness(evening_shots([0.01] * 4, 21, seed=14, drift_per_hour=-0.12))
    assert short.hours == pytest.approx(1.0 / 3.0)
    assert short.pace_change.low < -0.04 < short.pace_change.high
    assert short.words[0].startswith("20 minutes on, the pace is about 4.")
    long = tiredness(evening_shots([0.03] * 2, 120, seed=15, drift_per_hour=-0.06))
    assert long.hours == 1.0
    assert long.words[0].startswith("An hour on, ")


@pytest.mark.parametrize(
    ("quantity", "measure", "said"),
    [
        ("sideways", (1.52e-3, 1.49e-3, 1.54e-3), "1.52 mm (90 % sure: 1.49 to 1.54)"),
        ("sideways", (1e-4, 1e-4, 1e-4), "0.1 mm (90 % sure, as exactly as can be shown)"),
        ("pace spread", (0.052, 0.04, 0.06), "5.2 % (90 % sure: 4.0 to 6.0)"),
        ("right", (0.5, 0.498, 0.502), "50.0 % (90 % sure: 49.8 to 50.2)"),
    ],
)
def test_the_ends_of_an_interval_never_read_the_same(quantity, measure, said):
    one = Measure(*measure)
    found = Difference(quantity, one, one, one, True, 0.5, 0.5, (20, 20), (2, 2))
    assert difference_words(found, ("Heron", "Rook"))[0].endswith(f"Heron {said}, Rook {said}.")
