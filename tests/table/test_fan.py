"""A player's spread: chances against closed forms and against the map of chances."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from cue_table.ball import BALL_RADIUS_M
from cue_table.choose import WAYS, Way, chance_map, compare_ways
from cue_table.errors import TableError
from cue_table.fan import Intent, Spread, fan
from cue_table.setup import FULL_SIZE, SetUp

# Invented position: a cut into a top pocket, the white to end in the middle of the top half.
SETUP = SetUp(
    name="into the open",
    table=FULL_SIZE,
    white_m=(1.30, 2.35),
    object_ball_m=(1.30, 2.95),
    pocket="top_right",
    landing_area_m=((0.4, 2.4), (1.2, 2.4), (1.2, 3.2), (0.4, 3.2)),
)
EVERYWHERE = replace(SETUP, landing_area_m=((0, 0), (1.778, 0), (1.778, 3.569), (0, 3.569)))
STUN = Intent(2.4, 0.0065)
STEADY = Spread(pace_share=0.0, tip_height_m=0.0, side_m=0.0, direction_rad=0.0)


def test_without_spread_every_stroke_is_the_meant_one():
    one = fan(SETUP, STUN, STEADY, n_strokes=20)
    assert one.chance_both == 1.0
    assert np.ptp(one.runs.stop_m, axis=0) == pytest.approx([0.0, 0.0], abs=1e-12)
    assert one.chance_sd == 0.0


def test_chance_of_the_pot_is_that_of_plane_geometry():
    # A turn of the path by d turns the object ball by d * travel / (2 R cos(cut)).
    spread = replace(STEADY, direction_rad=0.0015)
    lever = SETUP.travel_m / (2 * BALL_RADIUS_M * np.cos(SETUP.cut_angle_rad))
    expected = 1 - 2 * norm.cdf(-SETUP.pot_tolerance_rad / lever / spread.direction_rad)
    found = fan(EVERYWHERE, STUN, spread, n_strokes=20_000)
    # Throw grows with the cut and so lengthens the lever a little: a few per cent of the chance.
    assert found.chance_potted == pytest.approx(expected, abs=0.04)
    assert found.chance_landing == 1.0


def test_more_spread_of_pace_leaves_less_chance():
    shares = [0.02, 0.06, 0.12, 0.25]
    chances = [fan(SETUP, STUN, replace(STEADY, pace_share=s)).chance_landing for s in shares]
    assert np.all(np.diff(chances) < 0)


def test_same_seed_gives_the_same_strokes():
    first, again, other = (fan(SETUP, STUN, n_strokes=50, seed=s) for s in (1, 1, 2))
    assert np.array_equal(first.runs.stop_m, again.runs.stop_m)
    assert not np.array_equal(first.runs.stop_m, other.runs.stop_m)


@pytest.fixture(scope="module")
def chances():
    return chance_map(SETUP, tip_speed_m_s=(1.0, 3.5), n_heights=21, n_paces=41)


def test_map_agrees_with_fans_of_single_strokes(chances):
    rng = np.random.default_rng(4)
    likely = np.flatnonzero(chances.chance.ravel() > 0.1)
    for place in (*rng.choice(likely, 4), *rng.integers(0, chances.chance.size, 3)):
        single = fan(SETUP, chances.at(int(place)), n_strokes=4000)
        # The map aims each stroke for itself, and tries five directions.
        assert chances.chance.ravel()[place] == pytest.approx(single.chance_both, abs=0.06)


def test_map_names_its_best_stroke_and_what_forgives(chances):
    best = chances.best
    assert best == chances.at(int(np.argmax(chances.chance)))
    assert chances.is_forgiving.sum() >= 2
    assert chances.chance[chances.is_forgiving].min() >= 0.8 * chances.chance.max()
    pace, chance = chances.best_by_height()[np.argmin(abs(chances.below_centre_m - 0.0065))]
    assert 1.0 <= pace <= 3.5
    assert chance == pytest.approx(
        chances.chance[np.argmin(abs(chances.below_centre_m - 0.0065))].max()
    )


def test_map_of_the_whole_table_is_the_chance_of_the_pot():
    # Soft and plain, so that the white falls into no pocket.
    chances = chance_map(
        EVERYWHERE,
        below_centre_m=(0.0, 0.002),
        tip_speed_m_s=(1.6, 1.8),
        n_heights=5,
        n_paces=5,
    )
    assert chances.chance == pytest.approx(np.full((5, 5), chances.chance_potting), abs=0.03)


def test_spin_in_the_map_falls_with_pace_and_with_depth(chances):
    # Common practice, no source: harder or lower carries more stun.
    spin = chances.spin_ratio
    assert np.all(np.diff(spin, axis=1)[np.isfinite(np.diff(spin, axis=1))] <= 1e-9)
    assert np.all(np.diff(spin[:, -1]) <= 1e-9)


def test_ways_are_told_apart_by_what_the_white_does():
    ways = (
        Way("with a cushion", n_cushions=(1, 9)),
        Way("without", n_cushions=(0, 0)),
        Way("never", spin_ratio=(5.0, 6.0)),
    )
    results = compare_ways(SETUP, ways, tip_speed_m_s=(1.0, 3.5))
    assert [result.chance for result in results] == sorted(
        (result.chance for result in results), reverse=True
    )
    by_name = {result.way.name: result for result in results}
    assert by_name["never"].best is None
    found = by_name["with a cushion"]
    assert found.best is not None
    assert found.pace_room_m_s is not None
    assert found.height_room_m is not None
    low, high = found.pace_room_m_s
    assert low <= found.best.tip_speed_m_s <= high
    low, high = found.height_room_m
    assert low <= found.best.below_centre_m <= high
    meant = fan(SETUP, found.best, STEADY, n_strokes=1)
    assert meant.runs.n_cushions[0] >= 1


def test_usual_ways_have_names_of_their_own():
    assert len({way.name for way in WAYS}) == len(WAYS)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("pace_share", -0.1, r"Spread of pace is -0\.1; allowed is 0 to 0\.5"),
        ("tip_height_m", 0.5, r"Spread of tip height is 0\.5 m; allowed is 0 to 0\.01 m"),
        ("side_m", -1.0, r"Spread of side is -1 m; allowed is 0 to 0\.01 m"),
        ("direction_rad", 1.0, r"Spread of direction is 1 rad; allowed is 0 to 0\.1 rad"),
    ],
)
def test_impossible_spread_is_refused_with_value_and_range(field, value, words):
    with pytest.raises(TableError, match=words):
        Spread(**{field: value})


def test_impossible_strokes_and_maps_are_refused():
    with pytest.raises(TableError, match=r"is 20 mm; allowed is 0 to 17\.77"):
        fan(SETUP, Intent(2.0, 0.020))
    with pytest.raises(ValueError, match="n_strokes is 0; at least 1"):
        fan(SETUP, STUN, n_strokes=0)
    with pytest.raises(TableError, match=r"Paces go from 3 to 2; the first must be the lesser"):
        chance_map(SETUP, tip_speed_m_s=(3.0, 2.0))
    with pytest.raises(TableError, match=r"Tip speed is -1 m/s; allowed is 0\.01 to 12 m/s"):
        chance_map(SETUP, tip_speed_m_s=(-1.0, 2.0))


def test_room_of_a_way_is_where_the_chance_stays_whatever_it_is_called_there():
    spread = Spread(tip_height_m=0.0005)
    plain = [way for way in WAYS if way.sides_m == (0.0,)]
    found = compare_ways(SETUP, plain, spread)[0]
    low, high = found.pace_room_m_s
    assert low < found.best.tip_speed_m_s < high
    chances = chance_map(SETUP, spread, tip_speed_m_s=(0.5, 5.0))
    row = int(np.argmin(np.abs(chances.below_centre_m - found.best.below_centre_m)))
    inside = (chances.tip_speed_m_s >= low) & (chances.tip_speed_m_s <= high)
    assert np.all(chances.chance[row, inside] >= 0.8 * found.chance - 1e-12)
    outside = chances.chance[row, np.flatnonzero(inside)[[0, -1]] + [-1, 1]]
    assert np.all(outside < 0.8 * found.chance)
