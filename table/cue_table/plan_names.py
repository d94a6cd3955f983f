"""Where the names of balls stand on a plan: beside the ball, where no way runs."""

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import plotly.graph_objects as go

from cue_table.ball import FloatArray
from cue_table.plan_draw import BallName, Turn
from cue_table.plan_ink import Ink
from cue_table.setup import Point, SetUp

SIDES: Final[Mapping[tuple[int, int], dict[str, Any]]] = {
    (0, 1): {"yshift": 16},
    (0, -1): {"yshift": -16},
    (1, 0): {"xanchor": "left", "xshift": 11},
    (-1, 0): {"xanchor": "right", "xshift": -11},
    (3, 1): {"xanchor": "left", "xshift": 9, "yshift": 13},
    (3, -1): {"xanchor": "left", "xshift": 9, "yshift": -13},
    (-3, 1): {"xanchor": "right", "xshift": -9, "yshift": 13},
    (-3, -1): {"xanchor": "right", "xshift": -9, "yshift": -13},
}
"""Above, below, right and left of a ball, and between these, in pixels of the picture."""

_SPREAD_DEG: Final = {0: 65.0, 1: 20.0, 3: 45.0}
"""A name above or below its ball is wide as seen from it, one beside it is not."""
_ROOM_M: Final = 0.55
"""A name beside a ball nearer to a side cushion than this would leave the picture."""


_M_PER_PX: Final = (0.005, 0.01)
"""What a pixel is on a wide screen and on a phone; a name keeps clear of a spot on both."""
_FONT_PX: Final = 13
_HALF_LETTER: Final = 0.29
_HALF_LINE: Final = 0.65
"""Half of a letter's width, and of a line's height with a spot's own size, in sizes of the font."""


def name_side(
    place: FloatArray,
    ways: FloatArray,
    left_m: float,
    right_m: float,
    *,
    spots: FloatArray | None = None,
    n_letters: int = 0,
) -> tuple[int, int]:
    """Return on which side of a ball its name stands, as (x, y) of the picture.

    Parameters
    ----------
    place : ndarray, shape (2,)
        The ball in the picture.
    ways : ndarray, shape (n, 2)
        Directions of the lines that leave it.
    left_m, right_m : float
        Ends of the table in the picture.
    spots : ndarray, shape (m, 2), optional
        Marks on the cloth in the picture, which a name had better not cover.
    n_letters : int
        Length of the name.

    Returns
    -------
    tuple of two int
        One of `SIDES`; above where that is as good as any other.
    """

    def clearance_deg(side: tuple[int, int]) -> float:
        is_beside = side[0] != 0
        edge = right_m - place[0] if side[0] > 0 else place[0] - left_m
        if is_beside and edge < _ROOM_M:
            return -180.0
        nearest = min((_between_deg(way, side) for way in ways), default=180.0)
        free = min(nearest - _SPREAD_DEG[abs(side[0])], 30.0)
        # a covered spot is worse than a name close to a way, and better than one across it
        return min(free, 0.0) if _covers(side, place, spots, n_letters) else free

    return max(SIDES, key=clearance_deg)


def ways_from(which: BallName, setup: SetUp) -> FloatArray:
    """Return the directions of the lines that leave a ball on the table, shape (n, 2).

    Parameters
    ----------
    which : {"white", "object", "next"}
        The ball.
    setup : SetUp
        Where it lies.
    """
    to_object = np.subtract(setup.object_ball_m, setup.white_m)
    if which == "white":
        return to_object[None, :]
    if which == "next":
        return np.empty((0, 2))
    pot = setup.pot_direction
    stunned = to_object - np.dot(to_object, pot) * pot  # along the tangent, as a stunned white goes
    return np.stack([pot, -to_object, stunned])


def write_names(
    figure: go.Figure, setup: SetUp, names: Mapping[BallName, str], ink: Ink, turn: Turn
) -> None:
    """Write the names beside their balls.

    Parameters
    ----------
    figure : Figure
        To write on.
    setup : SetUp
        Where the balls lie.
    names : mapping from str to str
        Which ball is called what; the others have no name.
    ink : Ink
        Colours.
    turn : callable
        From the table to the picture.
    """
    places: dict[BallName, Point | None] = {
        "white": setup.white_m,
        "object": setup.object_ball_m,
        "next": setup.next_ball_m,
    }
    ends = turn(np.array([[0.0, 0.0], [setup.table.width_m, setup.table.length_m]]))[:, 0]
    for which, name in names.items():
        place = places[which]
        if place is None:
            continue
        at = turn(np.asarray(place))
        side = name_side(
            at,
            turn(ways_from(which, setup)),
            float(min(ends)),
            float(max(ends)),
            spots=turn(np.array(list(setup.table.spots_m.values()))),
            n_letters=len(name),
        )
        font = {"size": _FONT_PX, "color": ink.line}
        figure.add_annotation(
            x=at[0], y=at[1], text=name, showarrow=False, font=font, **SIDES[side]
        )


def _covers(
    side: tuple[int, int], place: FloatArray, spots: FloatArray | None, n_letters: int
) -> bool:
    """Return whether a name on that side of a ball would lie over a spot, on any screen."""
    if spots is None:
        return False
    half_px = _HALF_LETTER * _FONT_PX * n_letters, _HALF_LINE * _FONT_PX
    shift_px = SIDES[side].get("xshift", 0), SIDES[side].get("yshift", 0)
    middle_px = shift_px + np.multiply(np.sign(side), (half_px[0], 0.0))
    from_middle_px = [(spots - place) / m_per_px - middle_px for m_per_px in _M_PER_PX]
    return bool(np.any(np.all(np.abs(from_middle_px) < half_px, axis=-1)))


def _between_deg(way: FloatArray, side: tuple[int, int]) -> float:
    """Return the angle between a way and a side, 180 where the way leads nowhere."""
    length = float(np.hypot(*way) * np.hypot(*side))
    if length == 0.0:
        return 180.0
    return float(np.degrees(np.arccos(np.clip(np.dot(way, side) / length, -1.0, 1.0))))
