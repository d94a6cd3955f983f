"""A set-up while it is built: what the browser holds, and what the table model says of it.

The browser holds a draft as JSON: the table, the balls and the corners of a drawn landing area, in
metres of the table frame. Everything here is a pure function of it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np

from cue_dashboard.playing import USUAL, Playing
from cue_table.conditions import Conditions
from cue_table.errors import TableError
from cue_table.fan import Fan, Intent, fan
from cue_table.landing import with_pot_area
from cue_table.setup import POCKETS, PocketName, Point, SetUp, TableSize
from cue_table.shot import WhiteRun, landing_bands_m_s, play

Draft = dict[str, Any]

HARDEST_M_S = 5.0
"""Paces of the tip beyond this are not offered."""

USUAL_PACE_M_S = 1.8
USUAL_TIP_M = 0.007
"""The stroke that is tried first; this project's choice."""

N_SPREAD = 400
"""Strokes that the chance of the stroke tried is counted from: 2.5 % at worst."""

N_DOTS = 120
"""Stops of these that are drawn."""

_TABLE_FIELDS = ("length_m", "width_m", "baulk_line_m", "d_radius_m", "black_from_top_m")
_OBSTACLE = "obstacle-"


@dataclass(frozen=True)
class AreaWish:
    """How the landing area is found.

    Parameters
    ----------
    is_derived : bool
        From the next ball, not drawn.
    pocket : str or None
        Pocket for the next ball; None takes the one with most room.
    greatest_cut_deg, nearest_m, furthest_m : float
        Limits of the pot on the next ball.
    """

    is_derived: bool = False
    pocket: PocketName | None = None
    greatest_cut_deg: float = 30.0
    nearest_m: float = 0.1
    furthest_m: float = 1.0


@dataclass(frozen=True, eq=False)
class Judged:
    """What the table model says of a draft.

    Parameters
    ----------
    setup : SetUp
        With its landing area, empty where there is none yet.
    faults : tuple of str
        What is wrong with it, in words; empty where it can be saved.
    run : WhiteRun or None
        The stroke tried, None where it cannot be played.
    bands_m_s : tuple of pairs of floats
        The paces that land at that tip height and side.
    spread : Fan or None
        The same stroke as `playing` scatters it; None without an area.
    playing : Playing
        Who played it.
    """

    setup: SetUp
    faults: tuple[str, ...]
    run: WhiteRun | None = None
    bands_m_s: tuple[tuple[float, float], ...] = ()
    spread: Fan | None = None
    playing: Playing = USUAL


def draft_of(setup: SetUp) -> Draft:
    """Return the draft of a set-up."""
    balls = {"white": setup.white_m, "object": setup.object_ball_m}
    if setup.next_ball_m is not None:
        balls["next"] = setup.next_ball_m
    balls |= {f"{_OBSTACLE}{k}": at for k, at in enumerate(setup.obstacles_m, start=1)}
    return {
        "table": table_of(setup.table),
        "balls": {name: list(at) for name, at in balls.items()},
        "corners": [list(at) for at in setup.landing_area_m],
    }


def fresh_draft(table: TableSize) -> Draft:
    """Return a draft to begin with: a cut into a top pocket that the usual stroke brings right."""
    width, length = table.width_m, table.length_m
    shot = SetUp(
        name="",
        table=table,
        white_m=(0.70 * width, 0.66 * length),
        object_ball_m=(0.74 * width, 0.83 * length),
        pocket="top_right",
    )
    stop_x, stop_y = play(shot, USUAL_PACE_M_S, below_centre_m=USUAL_TIP_M).stop_m
    half = 0.11 * width
    x, y = (
        min(max(float(at), half), size - half) for at, size in ((stop_x, width), (stop_y, length))
    )
    sides = [(-half, -half), (half, -half), (half, half), (-half, half)]
    return draft_of(replace(shot, landing_area_m=tuple((x + a, y + b) for a, b in sides)))


def table_of(table: TableSize) -> dict[str, Any]:
    """Return what the browser needs to draw a table."""
    pockets = {name: [*table.pocket_m(name), 0.5 * table.opening_m(name)] for name in POCKETS}
    numbers = {name: getattr(table, name) for name in _TABLE_FIELDS}
    return {**numbers, "pockets": pockets, "spots": [list(at) for at in table.spots_m.values()]}


def moved_to(draft: Draft, table: TableSize) -> Draft:
    """Return a draft on another table, everything in proportion."""
    across = table.width_m / draft["table"]["width_m"]
    along = table.length_m / draft["table"]["length_m"]
    return {
        "table": table_of(table),
        "balls": {name: [x * across, y * along] for name, (x, y) in draft["balls"].items()},
        "corners": [[x * across, y * along] for x, y in draft["corners"]],
    }


def is_draft(value: object) -> bool:
    """Return whether something from the browser is a draft at all."""
    if not isinstance(value, Mapping) or not {"table", "balls", "corners"} <= set(value):
        return False
    places = [*value["balls"].values(), *value["corners"]]
    return {"white", "object"} <= set(value["balls"]) and all(_is_place(at) for at in places)


def setup_of(draft: Draft, table: TableSize, *, name: str, pocket: str) -> SetUp:
    """Return the set-up of a draft with the area that was drawn; it is not checked."""
    balls: dict[str, Point] = {key: (float(x), float(y)) for key, (x, y) in draft["balls"].items()}
    ways = sorted((key for key in balls if key.startswith(_OBSTACLE)), key=_number)
    return SetUp(
        name=name,
        table=table,
        white_m=balls["white"],
        object_ball_m=balls["object"],
        pocket=cast("PocketName", pocket),
        next_ball_m=balls.get("next"),
        landing_area_m=tuple((float(x), float(y)) for x, y in draft["corners"]),
        obstacles_m=tuple(balls[key] for key in ways),
    )


def judged(
    setup: SetUp,
    wish: AreaWish,
    *,
    tip_speed_m_s: float,
    below_centre_m: float,
    side_m: float,
    playing: Playing = USUAL,
) -> Judged:
    """Return a set-up with its area, all its faults, and the white's run for one stroke.

    Parameters
    ----------
    setup : SetUp
        Unchecked, with the area that was drawn.
    wish : AreaWish
        How the area is found.
    tip_speed_m_s, below_centre_m, side_m : float
        The stroke to try.
    playing : Playing
        Who tries it, with which cue, on which cloth.

    Returns
    -------
    Judged
        The run is played where the balls allow it, also without an area.
    """
    setup, area_faults = _with_area(setup, wish)
    faults = [*setup.faults()]
    if faults:
        return Judged(setup, tuple(str(one) for one in (*faults, *area_faults)))
    conditions, stroke = playing.conditions, Intent(tip_speed_m_s, below_centre_m, side_m)
    run: WhiteRun | None = None
    bands: tuple[tuple[float, float], ...] = ()
    spread: Fan | None = None
    try:
        run = played(setup, stroke, conditions)
        if not area_faults:
            found = landing_bands_m_s(setup, below_centre_m, side_m, conditions)
            bands = tuple(band for band in found if band[0] < HARDEST_M_S)
            spread = fan(setup, stroke, playing.spread, n_strokes=N_SPREAD, conditions=conditions)
    except TableError as fault:
        faults.append(fault)
    said = tuple(str(one) for one in (*faults, *area_faults))
    return Judged(setup, said, run, bands, spread, playing)


def played(setup: SetUp, stroke: Intent, conditions: Conditions) -> WhiteRun:
    """Return the white's run for a stroke under conditions; TableError if it cannot be played."""
    return play(
        setup,
        stroke.tip_speed_m_s,
        below_centre_m=stroke.below_centre_m,
        side_m=stroke.side_m,
        cue=conditions.cue,
        cloth=conditions.cloth,
        cushion=conditions.cushion,
        contact=conditions.contact,
    )


def picture_of(found: Judged) -> dict[str, Any]:
    """Return what the browser draws of an answer: the area, the ways and the stop."""
    setup, run = found.setup, found.run
    picture: dict[str, Any] = {
        "area": [list(at) for at in setup.landing_area_m],
        "pocket": setup.pocket,
    }
    if run is not None:
        picture |= {
            "path": np.round(run.points_m, 4).tolist(),
            "cushions": np.round(run.cushion_points_m, 4).tolist(),
            "stop": None if run.potted_in else np.round(run.stop_m, 4).tolist(),
        }
    if found.spread is not None:
        stops = np.round(found.spread.runs.stop_m[:N_DOTS], 3)
        lands = found.spread.lands[:N_DOTS]
        picture |= {"lands": stops[lands].tolist(), "strays": stops[~lands].tolist()}
    return picture


def _with_area(setup: SetUp, wish: AreaWish) -> tuple[SetUp, tuple[TableError, ...]]:
    """Return the set-up with its area, and what keeps it from having one."""
    if not wish.is_derived:
        return setup, setup.area_faults()
    bare = replace(setup, landing_area_m=())
    try:
        return (
            with_pot_area(
                bare,
                wish.pocket,
                greatest_cut_rad=float(np.radians(wish.greatest_cut_deg)),
                nearest_m=wish.nearest_m,
                furthest_m=wish.furthest_m,
            ),
            (),
        )
    except TableError as fault:
        return bare, (fault,)


def _is_place(value: object) -> bool:
    """Return whether a value is a pair of finite numbers."""
    return (
        isinstance(value, list | tuple)
        and len(value) == 2
        and all(isinstance(one, int | float) and np.isfinite(one) for one in value)
    )


def _number(key: str) -> int:
    """Return the number of an obstacle's key."""
    return int(key.removeprefix(_OBSTACLE))
