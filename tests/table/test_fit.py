"""Fitting the table: truth that was chosen first must come back within its intervals."""

from dataclasses import replace

import numpy as np
import pytest

from cue_table.cloth import Cloth
from cue_table.conditions import Conditions
from cue_table.cushion import Cushion
from cue_table.errors import TableError
from cue_table.fit import PARAMETERS, PRIOR, fit_table
from cue_table.results import RollTest, ShotResult, StunTest
from cue_table.setup import FULL_SIZE, SetUp
from cue_table.shot import play
from cue_table.stun import dead_stop_tip_speed_m_s
from cue_table.tip import Cue

TRUE = Conditions(
    cue=Cue(tip_restitution=0.75),
    cloth=Cloth(sliding_friction=0.185, rolling_resistance=0.0105),
    cushion=Cushion(restitution=0.92),
)
TRUTH = dict(zip(PARAMETERS, (0.185, 0.0105, 0.75, 0.92), strict=True))
AREA = ((0.4, 2.4), (1.2, 2.4), (1.2, 3.2), (0.4, 3.2))
SETUPS = (
    SetUp("wide", FULL_SIZE, (1.30, 2.35), (1.30, 2.95), "top_right", None, AREA),
    SetUp("long", FULL_SIZE, (0.70, 0.90), (0.90, 1.70), "top_right", None, AREA),
)


def results(n_each: int, seed: int) -> list[ShotResult]:
    """Return shots on the true table, with the errors their uncertainties speak of."""
    rng = np.random.default_rng(seed)
    shots = []
    for setup in SETUPS:
        for pace, below in zip(
            np.linspace(1.0, 2.6, n_each), rng.uniform(-0.003, 0.010, n_each), strict=True
        ):
            run = play(
                setup,
                pace + 0.03 * rng.normal(),
                below_centre_m=below + 0.001 * rng.normal(),
                direction_error_rad=0.001 * rng.normal(),
                cue=TRUE.cue,
                cloth=TRUE.cloth,
                cushion=TRUE.cushion,
            )
            if run.potted_in is None:
                stop = run.stop_m + 0.03 * rng.normal(size=2)
                shots.append(ShotResult(setup, float(pace), float(below), 0.0, tuple(stop)))
    return shots


@pytest.fixture(scope="module")
def fits():
    return [fit_table(results(10, seed)) for seed in range(2)]


@pytest.mark.parametrize("name", PARAMETERS)
def test_truth_comes_back_within_its_uncertainty(fits, name):
    errors = np.array([(fit[name].value - TRUTH[name]) / fit[name].sd for fit in fits])
    # Two seeds: none beyond 3.5 standard deviations, and not all to one side by far.
    assert np.all(np.abs(errors) < 3.5)
    assert abs(errors.mean()) < 2.0


def test_shots_tell_friction_and_roll_far_better_than_was_known(fits):
    for name in ("sliding_friction", "rolling_resistance"):
        assert all(fit[name].is_told for fit in fits)
        assert all(fit[name].sd < 0.5 * PRIOR[name][1] for fit in fits)


def test_misfit_is_about_one_where_the_model_holds(fits):
    assert np.mean([fit.misfit for fit in fits]) == pytest.approx(1.0, abs=0.4)


def test_more_shots_narrow_the_intervals(fits):
    few = fit_table(results(4, 0))
    assert fits[0]["rolling_resistance"].sd < few["rolling_resistance"].sd
    low, high = few["rolling_resistance"].low, few["rolling_resistance"].high
    assert low < few["rolling_resistance"].value < high


def test_fitted_conditions_play_like_the_true_table(fits):
    fitted, default = fits[0].conditions, Conditions()
    shots = results(8, 77)
    misses = {
        name: np.median(
            [
                np.hypot(
                    *(
                        play(
                            shot.setup,
                            shot.tip_speed_m_s,
                            below_centre_m=shot.below_centre_m,
                            cue=table.cue,
                            cloth=table.cloth,
                            cushion=table.cushion,
                        ).stop_m
                        - np.array(shot.stop_point_m)
                    )
                )
                for shot in shots
            ]
        )
        for name, table in (("fitted", fitted), ("default", default))
    }
    assert misses["fitted"] < misses["default"]


def test_roll_test_tells_the_roll_and_nothing_else():
    # A ball that rolls 3 m to rest under a constant deceleration: t = sqrt(2 d / a).
    time = float(np.sqrt(2 * 3.0 / TRUE.cloth.roll_m_s2))
    fit = fit_table(roll_tests=[RollTest(3.0, time, 0.1)] * 3)
    assert fit["rolling_resistance"].value == pytest.approx(0.0105, rel=0.02)
    assert [each.name for each in fit.estimates if each.is_told] == ["rolling_resistance"]
    assert any("do not tell the sliding friction" in words for words in fit.words)
    # What is not told stays where it was.
    assert fit["sliding_friction"].value == pytest.approx(PRIOR["sliding_friction"][0], abs=1e-3)


def test_stun_test_tells_friction_only_together_with_the_tip():
    pace = dead_stop_tip_speed_m_s(1.5, 0.008, TRUE.cue, TRUE.cloth)
    fit = fit_table(stun_tests=[StunTest(1.5, 0.008, pace, 0.005)] * 9)
    # The pace depends on sqrt(mu)/(1 + e): higher friction with a livelier tip is the same pace.
    assert fit.correlation[0, 2] > 0.9
    assert any("sliding friction and tip restitution apart" in words for words in fit.words)
    again = dead_stop_tip_speed_m_s(1.5, 0.008, fit.conditions.cue, fit.conditions.cloth)
    assert again == pytest.approx(pace, rel=0.01)


def test_a_few_wild_results_do_not_carry_the_fit_away():
    shots = results(12, 2)
    wild = [replace(shot, stop_point_m=(0.1, 0.1)) for shot in shots[::12]]
    kept = [shot for i, shot in enumerate(shots) if i % 12]
    fit = fit_table(kept + wild)
    assert abs(fit["rolling_resistance"].value - 0.0105) < 4 * fit["rolling_resistance"].sd


def test_cushion_points_are_results_too():
    shot = results(4, 5)[3]
    run = play(
        shot.setup, 2.2, below_centre_m=0.006, cue=TRUE.cue, cloth=TRUE.cloth, cushion=TRUE.cushion
    )
    only = ShotResult(shot.setup, 2.2, 0.006, cushion_point_m=tuple(run.cushion_points_m[0]))
    fit = fit_table([only] * 6)
    assert fit["sliding_friction"].sd < PRIOR["sliding_friction"][1]


def test_results_without_sense_are_refused():
    with pytest.raises(TableError, match=r"0 results to fit; at least 1"):
        fit_table()
    with pytest.raises(TableError, match=r"Shot 1 has neither a stop nor a cushion point"):
        fit_table([ShotResult(SETUPS[0], 1.5, 0.005)])
    with pytest.raises(TableError, match=r"over 3 m is 0\.5 s; allowed is 3\.91\d+ to 14\.27\d+ s"):
        fit_table(roll_tests=[RollTest(3.0, 0.5)])
    with pytest.raises(TableError, match=r"Distance of the roll test is 0\.01 m; allowed is 0\.1"):
        fit_table(roll_tests=[RollTest(0.01, 0.5)])


@pytest.mark.parametrize(
    ("test", "words"),
    [
        (StunTest(9.0, 0.008, 2.0), r"Distance of the stun test is 9 m; allowed is 0\.05 to 4 m"),
        (StunTest(1.0, 0.008, 0.0), r"Pace of the stun test is 0 m/s; allowed is 0\.1 to 12 m/s"),
        (StunTest(1.0, -0.002, 2.0), r"-2 mm below the centre; stun needs more than 0 mm"),
        (StunTest(1.0, 0.0005, 2.0), r"At 0\.5 mm below the centre no pace stops the white dead"),
        (StunTest(1.0, 0.008, 2.0, 0.0), r"Uncertainty of the pace of the stun test, as a share"),
    ],
)
def test_stun_tests_without_sense_are_refused(test, words):
    with pytest.raises(TableError, match=words):
        fit_table(stun_tests=[test])
