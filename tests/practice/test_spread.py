from datetime import UTC, datetime

import numpy as np
import pytest

from cue_practice.control import CalledShot
from cue_practice.spread import LEAST_SPREAD, USUAL_SPREAD, OwnSpread, own_spread


def series(n: int, share: float, *, sd: float = 0.0, pace: float = 2.0, seed: int = 0):
    rng = np.random.default_rng(seed)
    measured = pace * np.exp(share * rng.standard_normal(n) + sd * rng.standard_normal(n))
    return called([(float(one), float(one * sd)) for one in measured], seed)


def called(pairs, series_id: int = 0) -> list[CalledShot]:
    """Return shots of one series with these paces and uncertainties."""
    moment = datetime(2026, 3, 4, tzinfo=UTC)
    return [CalledShot(series_id, moment, pace, sd, 2.0) for pace, sd in pairs]


def test_without_series_to_a_called_pace_the_spread_is_the_usual_one():
    assert own_spread([]) == OwnSpread(USUAL_SPREAD, 0)
    assert own_spread(called([(2.0, 0.02)])) == OwnSpread(USUAL_SPREAD, 0)


def test_many_shots_give_the_true_spread_with_the_measuring_taken_out():
    # 2,000 shots are good to 1/sqrt(4000) = 1.6 %; three of these, and the errors' share
    found = own_spread([shot for k in range(2) for shot in series(1000, 0.05, sd=0.04, seed=k)])
    assert found.n_shots == 2000
    assert found.share == pytest.approx(0.05, rel=0.07)


def test_a_pace_called_too_high_is_no_spread():
    both = series(500, 0.05, pace=1.5, seed=1) + series(500, 0.05, pace=3.0, seed=2)
    assert own_spread(both).share == pytest.approx(0.05, rel=0.07)


def test_few_shots_are_drawn_towards_the_usual_spread():
    steady = called([(2.0, 0.01), (2.0, 0.01), (2.0, 0.01)])
    assert LEAST_SPREAD < own_spread(steady).share < USUAL_SPREAD


def test_a_player_of_no_spread_still_has_the_least():
    assert own_spread(called([(2.0, 0.02)] * 5000)).share == LEAST_SPREAD


@pytest.mark.parametrize("share", [0.0, -0.1, float("nan")])
def test_a_spread_is_above_zero(share):
    with pytest.raises(ValueError, match="share must be a finite number above 0"):
        OwnSpread(share)
