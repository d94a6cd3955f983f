import numpy as np
import pytest
from scipy.stats import norm

from cue_practice.answer import answer_for
from cue_practice.inference import pace_answer
from cue_practice.lengths import lengths
from cue_practice.pace_fit import fit
from cue_practice.placed import SHAPE_SD_LOG, STRAY_SHARE, PlacedShots, log_placed
from cue_practice.prior import PacePrior
from cue_table.cloth import Cloth
from cue_table.conditions import DEFAULT_CONDITIONS, Conditions
from cue_table.setup import FULL_SIZE, SetUp
from cue_table.shot import landing_band_m_s, play_many

BELOW_M = 0.0095


@pytest.fixture(scope="module")
def lane() -> SetUp:
    """A set-up of our own whose white comes off the side cushion into a narrow area."""
    return SetUp(
        name="Off the side", table=FULL_SIZE, white_m=(0.62, 2.35), object_ball_m=(1.3, 2.75),
        pocket="top_right",
        landing_area_m=((0.78, 1.98), (1.52, 1.98), (1.52, 2.36), (0.78, 2.36)),
    )  # fmt: skip


def points_of(runs, noise: np.ndarray | None = None):
    """Return cushion and stopping points of runs, None where there are none."""
    noise = np.zeros((len(runs), 4)) if noise is None else noise
    pairs = []
    for k in range(len(runs)):
        cushion = runs.first_cushion_m[k] + noise[k, :2]
        stop = runs.stop_m[k] + noise[k, 2:]
        pairs.append((
            None if np.isnan(cushion[0]) else tuple(cushion),
            None if runs.pocket[k] >= 0 else tuple(stop),
        ))  # fmt: skip
    return pairs


def test_a_white_that_went_where_the_model_says_tells_its_pace(lane):
    paces = np.array([2.0, 2.2, 2.4])
    points = points_of(play_many(lane, paces, below_centre_m=BELOW_M))
    told = lengths(
        lane, BELOW_M, np.log(paces), points, side_m=0.0, conditions=DEFAULT_CONDITIONS,
        middle_m_s=2.2,
    )  # fmt: skip
    assert (np.abs(told.offset_log - np.log(paces / 2.2)) < 0.5 * told.sd_log).all()
    assert (told.sd_log < 0.15).all()
    assert told.n_told == 3


def test_points_that_tell_nothing_are_nan(lane):
    points = [(None, None), ((0.0, 0.1), None), (None, (1.7, 1.4))]
    told = lengths(
        lane, BELOW_M, np.log([2.2] * 3), points, side_m=0.0, conditions=DEFAULT_CONDITIONS,
        middle_m_s=2.2,
    )  # fmt: skip
    assert np.isnan(told.offset_log).all()
    assert told.n_told == 0


@pytest.mark.parametrize("results", [(-1,), (0,), (1,), (-1, 0, 1), (0, 0, 1, 1)])
def test_the_likelihood_is_the_integral_over_the_common_error_and_each_whites_pace(results):
    """Truth: sums of scipy's densities over the error all places share and each white's pace."""
    n = len(results)
    x, offset = 0.75 + 0.03 * np.arange(n), np.array([0.06, -0.04, 0.09, 0.5])[:n]
    shots = PlacedShots(x, np.full(n, 0.02**2), np.array(results), offset, np.full(n, 0.05**2))
    centre, half_width, scatter, lapse = 0.7, 0.1, 0.07, 0.03
    blur = np.hypot(scatter, 0.02)
    error, error_step = np.linspace(-0.25, 0.25, 251, retstep=True)
    beyond, step = np.linspace(-1.0, 1.0, 2000, retstep=True)  # no point on an edge
    grade = np.select([beyond < -half_width, beyond > half_width], [-1, 1])

    product = norm.pdf(error, 0.0, SHAPE_SD_LOG)
    for k, result in enumerate(results):
        went = norm.pdf(beyond, x[k] - centre, blur) * (grade == result) * step
        told = norm.pdf(offset[k] - error[:, np.newaxis], beyond, 0.05) @ went
        known = (1 - STRAY_SHARE) * told + STRAY_SHARE * 0.5 * went.sum()
        product *= (1 - lapse) * known + lapse / 3 * 0.5
    found = log_placed(
        shots, np.array([centre]), np.array([half_width]), np.array([scatter**2]), lapse
    )
    # the knots are few: a hundredth of the likelihood is nothing beside what shots tell apart
    assert float(np.exp(found[0, 0, 0])) == pytest.approx(product.sum() * error_step, rel=0.015)


def test_no_placed_shot_says_nothing():
    none = np.empty(0)
    shots = PlacedShots(none, none, np.empty(0, dtype=np.int64), none, none)
    found = log_placed(shots, np.array([0.7]), np.array([0.1, 0.2]), np.array([0.01]), 0.03)
    np.testing.assert_array_equal(found, np.zeros((1, 2, 1)))


def test_shots_that_agree_but_for_a_common_error_have_little_scatter():
    """Truth: the white went 1 % off what each pace gives, all places 6 % too far; scatter 1 %."""
    n = 40
    rng = np.random.default_rng(8)
    x = np.log(2.0) + rng.normal(0.0, 0.15, n)
    beyond = x - np.log(2.0) + rng.normal(0.0, 0.01, n)
    result = np.where(beyond < -0.1, -1, np.where(beyond > 0.1, 1, 0))
    prior = PacePrior(centre_m_s=2.0, centre_sd_log=0.12)
    own_sd = 0.03
    after = fit(
        x, result, sd_log=np.full(n, 0.005), prior=prior,
        offset_log=beyond + 0.06 + rng.normal(0.0, own_sd, n),
        offset_sd_log=np.full(n, np.hypot(own_sd, SHAPE_SD_LOG)),
    )  # fmt: skip
    graded = fit(x, result, sd_log=np.full(n, 0.005), prior=prior)
    placed, alone = (one.weight @ one.scatter_log for one in (after, graded))
    assert placed < min(0.02, alone)
    assert after.weight @ after.centre_log == pytest.approx(np.log(2.0), abs=0.02)


def test_a_white_200_mm_too_high_says_so_much_more_pace(lane):
    """One shot, graded too much: its place moves the answer further than its grade alone."""
    prior = PacePrior.from_table(lane, BELOW_M)
    pace = prior.centre_m_s * 1.0
    slow = play_many(lane, np.array([pace * 1.25]), below_centre_m=BELOW_M)
    told = lengths(
        lane, BELOW_M, np.log([pace]), points_of(slow), side_m=0.0,
        conditions=DEFAULT_CONDITIONS, middle_m_s=prior.centre_m_s,
    )  # fmt: skip
    with_place = pace_answer([pace], ["too_much"], prior=prior, lengths=told)
    without = pace_answer([pace], ["too_much"], prior=prior)
    assert with_place.best_pace_m_s < without.best_pace_m_s < prior.centre_m_s


def test_one_stray_place_among_many_does_not_carry_the_answer_away(lane):
    prior = PacePrior.from_table(lane, BELOW_M)
    paces = prior.centre_m_s * np.linspace(0.85, 1.15, 9)
    grades = ["too_little"] * 3 + ["right"] * 3 + ["too_much"] * 3
    points = points_of(play_many(lane, paces, below_centre_m=BELOW_M))

    def best(pairs) -> float:
        told = lengths(
            lane, BELOW_M, np.log(paces), pairs, side_m=0.0, conditions=DEFAULT_CONDITIONS,
            middle_m_s=prior.centre_m_s,
        )  # fmt: skip
        return pace_answer(paces, grades, prior=prior, lengths=told).best_pace_m_s

    stray = play_many(lane, np.array([prior.centre_m_s * 1.5]), below_centre_m=BELOW_M)
    strayed = [*points_of(stray), *points[1:]]
    assert best(strayed) == pytest.approx(best(points), rel=0.02)


def test_places_make_eight_shots_truer_on_cloths_of_all_kinds(lane):
    """48 invented evenings: cloth, tip height and aim vary; truth is the band on that cloth."""
    rng = np.random.default_rng(3)
    prior = PacePrior.from_table(lane, BELOW_M)
    errors, inside = ([], []), 0
    n_evenings = 48
    for _ in range(n_evenings):
        cloth = Cloth(sliding_friction=float(np.clip(rng.normal(0.21, 0.03), 0.14, 0.28)))
        band = landing_band_m_s(lane, BELOW_M, 0.0, Conditions(cloth=cloth))
        assert band is not None
        true = float(np.sqrt(band[0] * band[1]))
        paces = true * np.exp(rng.normal(0.0, 0.12, 8))
        runs = play_many(
            lane, paces, below_centre_m=BELOW_M + rng.normal(0.0, 0.0007, 8),
            direction_error_rad=rng.normal(0.0, 0.003, 8), cloth=cloth,
        )  # fmt: skip
        lands = lane.lands(runs.stop_m) & (runs.pocket < 0)
        grades = np.where(lands, "right", np.where(paces < true, "too_little", "too_much"))
        measured = paces * np.exp(rng.normal(0.0, 0.015, 8))
        told = lengths(
            lane, BELOW_M, np.log(measured), points_of(runs, rng.normal(0.0, 0.04, (8, 4))),
            side_m=0.0, conditions=DEFAULT_CONDITIONS, middle_m_s=prior.centre_m_s,
        )  # fmt: skip
        answers = [
            pace_answer(
                measured, list(grades), pace_sd_m_s=0.015 * measured, prior=prior, lengths=places
            )
            for places in (None, told)
        ]
        for answer, found in zip(answers, errors, strict=True):
            found.append(np.log(answer.best_pace_m_s / true))
        answer = answers[1]
        inside += answer.best_pace_low_m_s <= true <= answer.best_pace_high_m_s
    without, with_places = (np.sqrt(np.mean(np.square(found))) for found in errors)
    assert with_places < 0.9 * without
    # 90 % of 48, less three binomial standard deviations of 0.043
    assert inside / n_evenings >= 0.77


def test_the_order_of_placed_shots_does_not_matter():
    rng = np.random.default_rng(1)
    x, result = np.log(2.0) + rng.normal(0, 0.1, 60), rng.integers(-1, 2, 60)
    place, sd = rng.normal(0, 0.1, 60), rng.uniform(0.05, 0.1, 60)
    place[::3] = np.nan
    prior, mixed = PacePrior(centre_m_s=2.0, centre_sd_log=0.1), rng.permutation(60)
    weights = [
        fit(
            x[o], result[o], sd_log=np.full(60, 0.02), prior=prior, offset_log=place[o],
            offset_sd_log=sd[o],
        ).weight
        for o in (np.arange(60), mixed)
    ]  # fmt: skip
    np.testing.assert_allclose(weights[0], weights[1], atol=1e-12)


def test_points_tapped_in_the_log_count(bench, lane):
    entry = bench.log.add_setup(lane, bench.series.table_id)
    series = bench.another_series(setup_id=entry.setup_id)
    middle = PacePrior.from_table(lane, BELOW_M).centre_m_s
    paces = middle * np.array([0.85, 1.0, 1.15])
    points = points_of(play_many(lane, paces, below_centre_m=BELOW_M))
    strokes = [bench.make_stroke(900.0 + 20 * k, tip_speed_m_s=p) for k, p in enumerate(paces)]
    shots = bench.add(*strokes, series_id=series.series_id)
    for shot, grade, (cushion, stop) in zip(
        shots, ("too_little", "right", "too_much"), points, strict=True
    ):
        bench.log.set_result(shot.shot_id, grade, cushion_point_m=cushion, stop_point_m=stop)
    answer = answer_for(bench.log, entry.setup_id, series.player_id, BELOW_M)
    assert "Where the white went counts as well, for 3 shots." in answer.words


def test_an_error_that_all_places_share_bounds_what_they_say_together():
    """Truth: the mean of n offsets with a common error of sd s is never surer than s."""
    n = 40
    rng = np.random.default_rng(6)
    x = np.log(2.0) + rng.normal(0.0, 0.1, n)
    prior = PacePrior(centre_m_s=2.0, centre_sd_log=0.5)
    right = np.zeros(n, dtype=np.int64)
    after = fit(
        x, right, sd_log=np.zeros(n), prior=prior,
        offset_log=x - np.log(2.0), offset_sd_log=np.full(n, 0.05),
    )  # fmt: skip
    mean = after.weight @ after.centre_log
    spread = np.sqrt(after.weight @ (after.centre_log - mean) ** 2)
    # the grades, all right, say something on their own: a little less than the bound
    assert 0.6 * SHAPE_SD_LOG < spread < 1.3 * SHAPE_SD_LOG
