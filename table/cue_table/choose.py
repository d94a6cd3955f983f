"""Which tip height and pace, and which way of playing it, forgive most.

Every stroke of a fine grid over tip height, pace and direction is played once; the chance of the
right result at a meant stroke is then the share of landing strokes about it, weighted by the
player's own spread. The directions tried are those that pot the object ball; how likely these are
follows from geometry. Strokes of the grid are each aimed for themselves, which
:func:`cue_table.fan.fan` does more exactly; tests hold the two together.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.stats import norm

from cue_table.ball import BALL_RADIUS_M, FloatArray, IntArray
from cue_table.conditions import DEFAULT_CONDITIONS, Conditions
from cue_table.errors import TableError, check_range
from cue_table.fan import DEFAULT_SPREAD, Intent, Spread
from cue_table.runs import play_many
from cue_table.setup import SetUp
from cue_table.shot import runs_land
from cue_table.tip import squirt_rad

N_DIRECTIONS = 5
"""Directions tried at each grid point, equally likely among those that pot the object ball."""

REACH = 3.0
"""The grid goes this many standard deviations beyond the map."""

GOOD_SHARE = 0.8
"""A stroke counts as forgiving where its chance is at least this share of the best one."""


@dataclass(frozen=True, eq=False)
class ChanceMap:
    """The chance of the right result over tip height and pace.

    Parameters
    ----------
    below_centre_m : ndarray, shape (h,)
        Tip heights.
    tip_speed_m_s : ndarray, shape (v,)
        Paces, evenly spaced in their logarithm.
    side_m : float
        Side, the same throughout.
    chance : ndarray, shape (h, v)
        Chance of landing with the object ball potted.
    chance_potting : float
        Chance that the object ball is potted at all, as far as direction decides.
    spin_ratio : ndarray, shape (h, v)
        The white's spin ratio as it arrives, for the meant stroke; nan where it does not arrive.
    n_cushions : ndarray of int, shape (h, v)
        Cushions the white of the meant stroke meets.
    """

    below_centre_m: FloatArray
    tip_speed_m_s: FloatArray
    side_m: float
    chance: FloatArray
    chance_potting: float
    spin_ratio: FloatArray
    n_cushions: IntArray

    @property
    def best(self) -> Intent:
        """Return the stroke with the greatest chance."""
        return self.at(int(np.argmax(self.chance)))

    @property
    def is_forgiving(self) -> np.ndarray:
        """Return, shape (h, v), where the chance is at least four fifths of the greatest."""
        greatest = float(np.max(self.chance))
        return np.asarray((self.chance >= GOOD_SHARE * greatest) & (greatest > 0.0))

    def at(self, flat_index: int) -> Intent:
        """Return the stroke at a flat index into the map."""
        row, column = divmod(flat_index, self.tip_speed_m_s.size)
        return Intent(
            float(self.tip_speed_m_s[column]), float(self.below_centre_m[row]), self.side_m
        )

    def best_by_height(self) -> FloatArray:
        """Return, shape (h, 2), the best pace at each height and its chance."""
        column = np.argmax(self.chance, axis=1)
        chance = np.take_along_axis(self.chance, column[:, np.newaxis], axis=1)[:, 0]
        return np.stack([self.tip_speed_m_s[column], chance], axis=-1)


def chance_map(
    setup: SetUp,
    spread: Spread = DEFAULT_SPREAD,
    *,
    below_centre_m: tuple[float, float] = (-0.006, 0.014),
    tip_speed_m_s: tuple[float, float] = (0.5, 5.0),
    side_m: float = 0.0,
    n_heights: int = 41,
    n_paces: int = 93,
    conditions: Conditions = DEFAULT_CONDITIONS,
) -> ChanceMap:
    """Return the chance of the right result over tip height and pace.

    Parameters
    ----------
    setup : SetUp
        The position, with a landing area.
    spread : Spread
        The player's own.
    below_centre_m : tuple of two floats
        Highest and lowest place of the cue's axis, below the centre positive.
    tip_speed_m_s : tuple of two floats
        Softest and hardest pace.
    side_m : float
        Side, the same throughout; its spread counts only through the squirt it gives.
    n_heights, n_paces : int
        Size of the map, at least 2 each.
    conditions : Conditions
        Cue, cloth, cushions and balls.

    Returns
    -------
    ChanceMap
        The map.

    Raises
    ------
    TableError
        If heights or paces are out of range or the wrong way round.
    """
    _check_ranges(below_centre_m, tip_speed_m_s, side_m, conditions)
    heights, height_step, more_heights = _axis(
        below_centre_m[0], below_centre_m[1], n_heights, spread.tip_height_m
    )
    paces, pace_step, more_paces = _axis(
        float(np.log(tip_speed_m_s[0])),
        float(np.log(tip_speed_m_s[1])),
        n_paces,
        spread.pace_share,
    )
    potting, errors = _potting_directions(setup, spread, side_m, conditions)
    height, pace, error = np.meshgrid(heights, np.exp(paces), errors, indexing="ij")
    runs = play_many(
        setup,
        pace.ravel(),
        below_centre_m=height.ravel(),
        side_m=side_m,
        direction_error_rad=error.ravel(),
        cue=conditions.cue,
        cloth=conditions.cloth,
        cushion=conditions.cushion,
        contact=conditions.contact,
    )
    inner = np.s_[more_heights : more_heights + n_heights, more_paces : more_paces + n_paces]
    sizes = (spread.tip_height_m / height_step, spread.pace_share / pace_step)
    good = (runs_land(setup, runs) & runs.is_object_ball_potted).reshape(height.shape)
    middle = (*inner, N_DIRECTIONS // 2)
    return ChanceMap(
        below_centre_m=heights[inner[0]],
        tip_speed_m_s=np.exp(paces[inner[1]]),
        side_m=side_m,
        chance=potting * _smeared(np.mean(good, axis=2), sizes)[inner],
        chance_potting=potting,
        spin_ratio=runs.arrival_spin_ratio.reshape(height.shape)[middle],
        n_cushions=runs.n_cushions.reshape(height.shape)[middle],
    )


@dataclass(frozen=True)
class Way:
    """A way of playing a shot, told by what the white does.

    Parameters
    ----------
    name : str
        What players call it.
    sides_m : tuple of floats
        Sides tried: positive left.
    spin_ratio : tuple of two floats
        Between which the white's spin ratio lies as it arrives.
    n_cushions : tuple of two ints
        Fewest and most cushions the white meets.
    below_centre_m : tuple of two floats
        Between which the tip height lies.
    """

    name: str
    sides_m: tuple[float, ...] = (0.0,)
    spin_ratio: tuple[float, float] = (-np.inf, np.inf)
    n_cushions: tuple[int, int] = (0, 99)
    below_centre_m: tuple[float, float] = (-0.006, 0.014)


WAYS: tuple[Way, ...] = (
    Way("plain ball", spin_ratio=(0.7, 1.2), below_centre_m=(-0.006, 0.001)),
    Way("stun, no cushion", spin_ratio=(-0.3, 0.3), n_cushions=(0, 0)),
    Way("stun off one cushion", spin_ratio=(-0.3, 0.3), n_cushions=(1, 1)),
    Way("screw, no cushion", spin_ratio=(-9.0, -0.3), n_cushions=(0, 0)),
    Way("screw off one cushion", spin_ratio=(-9.0, -0.3), n_cushions=(1, 1)),
    Way("left side off two cushions", sides_m=(0.004, 0.008), n_cushions=(2, 2)),
    Way("right side off two cushions", sides_m=(-0.004, -0.008), n_cushions=(2, 2)),
)
"""The usual ways; the limits between them are a choice of this project's."""


@dataclass(frozen=True)
class WayResult:
    """How one way of playing a shot fares.

    Parameters
    ----------
    way : Way
        The way.
    best : Intent or None
        Its best stroke, None if no stroke of this way lands.
    chance : float
        Chance of landing with the object ball potted, at that stroke.
    pace_room_m_s : tuple of two floats or None
        About the best pace, at its height: where the chance stays above four fifths of the best,
        by whatever way the white gets there.
    height_room_m : tuple of two floats or None
        The same for the tip height, at the best pace.
    """

    way: Way
    best: Intent | None
    chance: float
    pace_room_m_s: tuple[float, float] | None = None
    height_room_m: tuple[float, float] | None = None


def compare_ways(
    setup: SetUp,
    ways: Sequence[Way] = WAYS,
    spread: Spread = DEFAULT_SPREAD,
    *,
    tip_speed_m_s: tuple[float, float] = (0.5, 5.0),
    conditions: Conditions = DEFAULT_CONDITIONS,
) -> tuple[WayResult, ...]:
    """Return the ways of playing a shot, the one with the greatest chance first.

    Parameters
    ----------
    setup : SetUp
        The position, with a landing area.
    ways : sequence of Way
        The ways to compare.
    spread : Spread
        The player's own.
    tip_speed_m_s : tuple of two floats
        Softest and hardest pace.
    conditions : Conditions
        Cue, cloth, cushions and balls.

    Returns
    -------
    tuple of WayResult
        One a way.
    """
    maps: dict[float, ChanceMap] = {}
    for side in sorted({side for way in ways for side in way.sides_m}):
        maps[side] = chance_map(
            setup, spread, tip_speed_m_s=tip_speed_m_s, side_m=side, conditions=conditions
        )
    results = [_best_of(way, [maps[side] for side in way.sides_m]) for way in ways]
    return tuple(sorted(results, key=lambda result: -result.chance))


def _best_of(way: Way, maps: Sequence[ChanceMap]) -> WayResult:
    """Return the best stroke of one way over the maps of its sides."""
    found = WayResult(way, None, 0.0)
    for chances in maps:
        allowed = np.where(_belongs(way, chances), chances.chance, 0.0)
        place = int(np.argmax(allowed))
        row, column = divmod(place, allowed.shape[1])
        if allowed[row, column] <= found.chance:
            continue
        found = WayResult(
            way,
            chances.at(place),
            float(allowed[row, column]),
            # where the stroke turns into another way it may still land: that is room as well
            _room(chances.tip_speed_m_s, chances.chance[row], column),
            _room(chances.below_centre_m, chances.chance[:, column], row),
        )
    return found


def _belongs(way: Way, chances: ChanceMap) -> np.ndarray:
    """Return, shape (h, v), which strokes of a map are played this way."""
    low, high = way.spin_ratio
    height = chances.below_centre_m[:, np.newaxis]
    with np.errstate(invalid="ignore"):
        spins = (chances.spin_ratio >= low) & (chances.spin_ratio <= high)
    bounces = (chances.n_cushions >= way.n_cushions[0]) & (chances.n_cushions <= way.n_cushions[1])
    return np.asarray(
        spins & bounces & (height >= way.below_centre_m[0]) & (height <= way.below_centre_m[1])
    )


def _room(axis: FloatArray, chance: FloatArray, place: int) -> tuple[float, float]:
    """Return the unbroken stretch about a place where the chance stays near that place's."""
    good = chance >= GOOD_SHARE * chance[place]
    first = last = place
    while first > 0 and good[first - 1]:
        first -= 1
    while last < good.size - 1 and good[last + 1]:
        last += 1
    return float(axis[first]), float(axis[last])


def _potting_directions(
    setup: SetUp, spread: Spread, side_m: float, conditions: Conditions
) -> tuple[float, FloatArray]:
    """Return the chance of a direction that pots, and errors equally likely among those."""
    cue, share = conditions.cue, conditions.cue.contact_share / BALL_RADIUS_M
    ends = squirt_rad(share * (side_m + np.array([-1.0, 1.0]) * spread.side_m), cue)
    sd = float(np.hypot(spread.direction_rad, 0.5 * (ends[1] - ends[0])))
    # A turn of the white's path turns the line of centres by travel over (2 R cos of the cut).
    lever = setup.travel_m / (2.0 * BALL_RADIUS_M * np.cos(setup.cut_angle_rad))
    tolerance = setup.pot_tolerance_rad / lever
    if sd == 0.0:
        return 1.0, np.zeros(N_DIRECTIONS)
    missed = norm.cdf(-tolerance / sd)
    ranks = missed + (1.0 - 2.0 * missed) * (np.arange(N_DIRECTIONS) + 0.5) / N_DIRECTIONS
    return float(1.0 - 2.0 * missed), np.asarray(sd * norm.ppf(ranks))


def _axis(low: float, high: float, n_points: int, sd: float) -> tuple[FloatArray, float, int]:
    """Return an axis that reaches beyond both ends, its step, and how many points beyond."""
    step = (high - low) / (n_points - 1)
    more = int(np.ceil(REACH * sd / step))
    axis = low + step * np.arange(-more, n_points + more, dtype=np.float64)
    return axis, step, more


def _smeared(values: FloatArray, sizes: tuple[float, float]) -> FloatArray:
    """Return values averaged over a normal spread of these sizes in grid steps."""
    for axis, size in enumerate(sizes):
        if size > 0.0:
            values = gaussian_filter1d(values, size, axis=axis, mode="nearest", truncate=REACH)
    return values


def _check_ranges(
    below_centre_m: tuple[float, float],
    tip_speed_m_s: tuple[float, float],
    side_m: float,
    conditions: Conditions,
) -> None:
    """Raise TableError if heights or paces make no sense."""
    for height in below_centre_m:
        conditions.cue.check_offset(height, side_m)
    for pace in tip_speed_m_s:
        check_range("Tip speed", pace, low=0.01, high=12.0, unit="m/s", remedy="Give it in m/s.")
    for name, (low, high) in (("Tip heights", below_centre_m), ("Paces", tip_speed_m_s)):
        if not low < high:
            raise TableError(f"{name} go from {low:g} to {high:g}; the first must be the lesser.")
