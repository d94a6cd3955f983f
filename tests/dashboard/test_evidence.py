"""What a pupil's shots support: said where it is surely so, and only there."""

import numpy as np
import pytest
from scipy.stats import binom

from cue_dashboard.evidence import MOST_POINTS, evidence
from cue_dashboard.words import coach as say
from cue_practice.rows import MEASURES

N = 120
HOUR_S = 3600.0


@pytest.fixture
def played_as():
    """Return a function that makes shots of six evenings with some measures set."""
    from cue_practice.played import PlayedShots, evenings_of

    def make(n=N, **measures):
        rng = np.random.default_rng(5)
        evening = np.arange(n) // 20
        struck_s = evening * 48 * HOUR_S + (np.arange(n) % 20) * 60.0
        values = {name: np.full(n, np.nan) for name in MEASURES}
        values |= {"tip_speed_m_s": np.full(n, 2.0) * np.exp(rng.normal(0.0, 0.05, n))}
        values |= {"tip_speed_sd_m_s": np.full(n, 0.02)}
        values |= {"slowing_probability": np.zeros(n), "level_probability": np.zeros(n)}
        values |= {name: np.asarray(one, dtype=float) for name, one in measures.items()}
        nan = np.full(n, np.nan)
        return PlayedShots(
            shot_id=np.arange(n),
            series_id=evening,
            setup_id=np.zeros(n, dtype=np.int64),
            evening=evenings_of(struck_s),
            struck_s=struck_s,
            tip_below_centre_m=np.full(n, 0.0095),
            side_m=np.zeros(n),
            called_m_s=nan,
            grade=nan,
            is_potted=nan,
            measures=values,
        )

    return make


def kinds(found):
    return [one.kind for one in found.points]


def slowing(n_slow, n=N):
    """Return slowing probabilities: so many of the last hundred strokes surely slow."""
    values = np.zeros(n)
    values[n - 100 : n - 100 + n_slow] = 1.0
    return values


def test_a_cue_that_slows_often_is_said_with_its_share_and_interval(played_as):
    found = evidence(played_as(slowing_probability=slowing(30)), [])
    words = next(one.words for one in found.points if one.kind == "slowing")
    assert "30 % of the last 100" in words
    # Jeffreys' interval lies within the exact one of Clopper and Pearson, by either tail's 5 %
    low, high = (int(part) for part in words.split("sure: ")[1].split(" %)")[0].split(" to "))
    assert binom.sf(29, 100, low / 100) == pytest.approx(0.05, abs=0.03)
    assert binom.cdf(30, 100, high / 100) == pytest.approx(0.05, abs=0.03)


@pytest.mark.parametrize(("n_slow", "is_said"), [(10, False), (14, False), (20, True)])
def test_slowing_is_said_only_where_it_is_surely_more_than_one_in_ten(played_as, n_slow, is_said):
    found = evidence(played_as(slowing_probability=slowing(n_slow)), [])
    assert ("slowing" in kinds(found)) is is_said


def called(paces, called_m_s=2.0):
    from datetime import UTC, datetime, timedelta

    from cue_practice.control import CalledShot

    start = datetime(2026, 3, 4, 19, tzinfo=UTC)
    return [
        CalledShot(k // 20, start + timedelta(minutes=k), pace, 0.02, called_m_s)
        for k, pace in enumerate(paces)
    ]


@pytest.mark.parametrize(
    ("factor", "said"), [(1.06, "6.0 % harder"), (0.95, "5.0 % softer"), (1.01, None)]
)
def test_a_pace_surely_off_the_called_one_is_said(played_as, factor, said):
    rng = np.random.default_rng(2)
    noise = rng.normal(0.0, 0.01, 60)
    paces = 2.0 * factor * np.exp(noise - noise.mean())
    points = evidence(played_as(), called(paces.tolist())).points
    words = [one.words for one in points if one.kind == "pace"]
    assert bool(words) is (said is not None)
    assert not said or said in words[0]


def test_where_nothing_is_sure_nothing_is_said_but_why(played_as):
    found = evidence(played_as(), [])
    assert found.points == ()
    assert found.caveats


def test_without_a_stroke_the_pupil_is_told_to_play_with_a_sensor(played_as):
    nothing = played_as(tip_speed_m_s=np.full(N, np.nan))
    assert evidence(nothing, []).caveats == (say.NO_STROKES,)


def test_there_are_never_more_than_three_things(played_as):
    rng = np.random.default_rng(2)
    straighter = np.repeat([8e-3, 6e-3, 4e-3, 2e-3, 1e-3, 5e-4], 20) * rng.choice([-1.0, 1.0], N)
    found = evidence(
        played_as(
            slowing_probability=slowing(60),
            tip_lateral_m=straighter,
            tip_lateral_sd_m=np.full(N, 1e-4),
        ),
        called([2.2] * 60),
    )
    assert len(found.points) == MOST_POINTS
