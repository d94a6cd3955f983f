"""The table and the position a shot is played from.

Table frame: the origin is the left end of the bottom (baulk) cushion's face as seen from baulk, x
to the right, y away from baulk, metres. Positions are those of ball centres on the cloth.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import combinations
from typing import Literal

import numpy as np

from cue_table.area import contains
from cue_table.ball import BALL_RADIUS_M, FloatArray
from cue_table.errors import RangeError, TableError, check_range

Point = tuple[float, float]

PocketName = Literal[
    "bottom_left", "bottom_right", "middle_left", "middle_right", "top_left", "top_right"
]

POCKETS: tuple[PocketName, ...] = (
    "bottom_left",
    "bottom_right",
    "middle_left",
    "middle_right",
    "top_left",
    "top_right",
)


@dataclass(frozen=True)
class TableSize:
    """Dimensions of a table, inside the cushion faces.

    Parameters
    ----------
    length_m, width_m : float
        Full size by default: 3569 x 1778 mm (Rules of Snooker, section 1.1(a)).
    baulk_line_m : float
        Baulk line from the bottom cushion's face (1.1(d)).
    d_radius_m : float
        Radius of the D (1.1(e)).
    black_from_top_m : float
        Black spot from the top cushion's face (1.1(f)).
    corner_opening_m, middle_opening_m : float
        Width between the jaws of a pocket where the cushion faces end. The makers' templates are
        not published: these are from memory, and rounded jaws are treated as points.

    Raises
    ------
    TableError
        If a dimension lies outside what a table can have.
    """

    length_m: float = 3.569
    width_m: float = 1.778
    baulk_line_m: float = 0.737
    d_radius_m: float = 0.292
    black_from_top_m: float = 0.324
    corner_opening_m: float = 0.088
    middle_opening_m: float = 0.092

    def __post_init__(self) -> None:
        """Refuse what no table is."""
        advice = "Measure inside the cushion faces, in metres."
        check_range("Table length", self.length_m, low=1.0, high=4.5, unit="m", remedy=advice)
        check_range("Table width", self.width_m, low=0.5, high=2.5, unit="m", remedy=advice)
        half = 0.5 * self.length_m
        check_range("Baulk line", self.baulk_line_m, low=0.0, high=half, unit="m", remedy=advice)
        check_range(
            "Radius of the D",
            self.d_radius_m,
            low=0.0,
            high=self.width_m / 2,
            unit="m",
            remedy=advice,
        )
        check_range(
            "Black spot", self.black_from_top_m, low=0.0, high=half, unit="m", remedy=advice
        )
        for name, opening in (
            ("Corner opening", self.corner_opening_m),
            ("Middle opening", self.middle_opening_m),
        ):
            check_range(name, opening, low=0.06, high=0.2, unit="m", remedy=advice)

    @property
    def spots_m(self) -> dict[str, Point]:
        """Return where the colours stand (Rules of Snooker, section 1.1(f))."""
        middle, line = 0.5 * self.width_m, self.baulk_line_m
        return {
            "yellow": (middle + self.d_radius_m, line),
            "green": (middle - self.d_radius_m, line),
            "brown": (middle, line),
            "blue": (middle, 0.5 * self.length_m),
            "pink": (middle, 0.75 * self.length_m),
            "black": (middle, self.length_m - self.black_from_top_m),
        }

    def pocket_m(self, pocket: PocketName) -> Point:
        """Return the middle of a pocket's mouth, where the object ball is aimed."""
        inset = 0.5 * self.corner_opening_m / np.sqrt(2.0)
        row, column = pocket.split("_")
        if row == "middle":
            return (0.0 if column == "left" else self.width_m, 0.5 * self.length_m)
        x = inset if column == "left" else self.width_m - inset
        y = inset if row == "bottom" else self.length_m - inset
        return float(x), float(y)

    def pocket_normal(self, pocket: PocketName) -> Point:
        """Return the unit vector out of the table through the middle of a pocket's mouth."""
        row, column = pocket.split("_")
        x = -1.0 if column == "left" else 1.0
        y = {"bottom": -1.0, "middle": 0.0, "top": 1.0}[row]
        size = float(np.hypot(x, y))
        return x / size, y / size

    def opening_m(self, pocket: PocketName) -> float:
        """Return the width between the jaws of a pocket."""
        return self.middle_opening_m if pocket.startswith("middle") else self.corner_opening_m


FULL_SIZE = TableSize()
"""Full-size table, 3569 x 1778 mm (Rules of Snooker, section 1.1)."""


@dataclass(frozen=True)
class SetUp:
    """A position on the table and what the white should do from it.

    Parameters
    ----------
    name : str
        What players call it.
    table : TableSize
        The table.
    white_m, object_ball_m : tuple of two floats
        Where the white and the object ball lie.
    pocket : str
        The pocket the object ball is meant for.
    next_ball_m : tuple of two floats or None
        The ball the white is to be on afterwards.
    landing_area_m : tuple of points
        Corners of the polygon the white is to stop in; at least three.
    obstacles_m : tuple of points
        Other balls in the way.
    """

    name: str
    table: TableSize
    white_m: Point
    object_ball_m: Point
    pocket: PocketName
    next_ball_m: Point | None = None
    landing_area_m: tuple[Point, ...] = ()
    obstacles_m: tuple[Point, ...] = ()

    def __post_init__(self) -> None:
        """Keep points as tuples of floats whatever sequence they came in."""
        for name in ("white_m", "object_ball_m", "next_ball_m"):
            if getattr(self, name) is not None:
                object.__setattr__(self, name, _point(getattr(self, name)))
        for name in ("landing_area_m", "obstacles_m"):
            object.__setattr__(self, name, tuple(_point(at) for at in getattr(self, name)))

    @property
    def pot_direction(self) -> FloatArray:
        """Return the unit vector from the object ball to its pocket, shape (2,)."""
        way = np.subtract(self.table.pocket_m(self.pocket), self.object_ball_m)
        return np.asarray(way / np.hypot(*way), dtype=np.float64)

    @property
    def pot_distance_m(self) -> float:
        """Return the object ball's way to the mouth of its pocket."""
        return float(np.hypot(*np.subtract(self.table.pocket_m(self.pocket), self.object_ball_m)))

    @property
    def ghost_ball_m(self) -> Point:
        """Return where the white touches the object ball when it is potted without throw."""
        x, y = np.asarray(self.object_ball_m) - 2.0 * BALL_RADIUS_M * self.pot_direction
        return float(x), float(y)

    @property
    def cut_angle_rad(self) -> float:
        """Return the angle between the white's path and the object ball's, 0 for a full hit."""
        path = np.subtract(self.ghost_ball_m, self.white_m)
        cross = path[0] * self.pot_direction[1] - path[1] * self.pot_direction[0]
        return float(np.arctan2(abs(cross), path @ self.pot_direction))

    @property
    def cut_side(self) -> int:
        """Return +1 if the object ball goes to the left of the white's path, -1 to the right."""
        path = np.subtract(self.ghost_ball_m, self.white_m)
        cross = path[0] * self.pot_direction[1] - path[1] * self.pot_direction[0]
        return 1 if cross >= 0.0 else -1

    @property
    def travel_m(self) -> float:
        """Return the white's free travel to contact."""
        return float(np.hypot(*np.subtract(self.ghost_ball_m, self.white_m)))

    @property
    def pot_tolerance_rad(self) -> float:
        """Return how far the object ball's direction may be off and still find the pocket.

        The whole ball must pass between the jaws as seen along its way; jaws are points, so a ball
        that would rattle in counts as missed.
        """
        square_on = float(np.dot(self.pot_direction, self.table.pocket_normal(self.pocket)))
        seen = 0.5 * self.table.opening_m(self.pocket) * square_on - BALL_RADIUS_M
        return float(np.arctan2(max(seen, 0.0), self.pot_distance_m))

    @property
    def others_m(self) -> tuple[Point, ...]:
        """Return the balls the white may run into afterwards: the next ball first."""
        first = () if self.next_ball_m is None else (self.next_ball_m,)
        return first + self.obstacles_m

    def check(self) -> None:
        """Raise TableError if the set-up makes no sense; names the value and the allowed range."""
        for fault in (*self.faults(), *self.area_faults()):
            raise fault

    def faults(self) -> tuple[TableError, ...]:
        """Return everything that keeps the shot from being played; the landing area is not asked.

        Returns
        -------
        tuple of TableError
            Balls off the table first, then balls that overlap, then the line to the pocket; each
            sort only once the one before it is in order.
        """
        if self.pocket not in POCKETS:
            names = ", ".join(POCKETS)
            return (TableError(f"There is no pocket '{self.pocket}'. Give one of {names}."),)
        balls = self._balls()
        off = [partial(_check_on_table, what, at, self.table) for what, at in balls.items()]
        near = [partial(_check_apart, *a, *b) for a, b in combinations(balls.items(), 2)]
        return _found(off) or _found(near) or _found([self._check_pot, *self._ways_clear()])

    def area_faults(self) -> tuple[TableError, ...]:
        """Return what is wrong with the landing area: empty, or one TableError."""
        return _found([self._check_landing_area])

    def lands(self, stop_m: FloatArray) -> np.ndarray:
        """Return whether each stopping point, shape (..., 2), lies in the landing area."""
        return contains(self.landing_area_m, stop_m)

    def _balls(self) -> dict[str, Point]:
        """Return every ball on the table by what it is called."""
        balls = {"white": self.white_m, "object ball": self.object_ball_m}
        if self.next_ball_m is not None:
            balls["next ball"] = self.next_ball_m
        for number, at in enumerate(self.obstacles_m, start=1):
            balls[f"obstacle {number}"] = at
        return balls

    def _check_pot(self) -> None:
        """Raise TableError if no white from there could send the object ball to its pocket."""
        cut_deg = float(np.degrees(self.cut_angle_rad))
        if not cut_deg < 90.0:
            raise RangeError(
                f"Cut angle into pocket {self.pocket}",
                cut_deg,
                low=0.0,
                high=90.0,
                unit="degrees",
                remedy="Choose another pocket or move the white.",
            )
        if self.pot_tolerance_rad == 0.0:
            raise TableError(
                f"The object ball cannot pass the jaws of pocket {self.pocket} from "
                f"({self.object_ball_m[0]:.3f}, {self.object_ball_m[1]:.3f}) m: it comes too "
                "narrowly. Choose another pocket or move the object ball."
            )
        _check_on_table("contact position of the white", self.ghost_ball_m, self.table)

    def _ways_clear(self) -> list[Callable[[], None]]:
        """Return the checks that no other ball lies in the way of the white or the object ball."""
        white, ball = self.white_m, self.object_ball_m
        ghost, pocket = self.ghost_ball_m, self.table.pocket_m(self.pocket)
        others = {f"obstacle {number}": at for number, at in enumerate(self.obstacles_m, start=1)}
        if self.next_ball_m is not None:
            others["next ball"] = self.next_ball_m
        return [
            partial(self._check_clear, what, at, who, start, stop)
            for what, at in others.items()
            for who, start, stop in (("white", white, ghost), ("object ball", ball, pocket))
        ]

    def _check_clear(self, what: str, at: Point, who: str, start: Point, stop: Point) -> None:
        """Raise TableError if a ball lies in another's way."""
        way = np.subtract(stop, start)
        share = np.clip(np.dot(np.subtract(at, start), way) / np.dot(way, way), 0.0, 1.0)
        gap = float(np.hypot(*(np.subtract(at, start) - share * way)))
        if gap < 2.0 * BALL_RADIUS_M:
            raise TableError(
                f"The {what} lies {gap * 1e3:.1f} mm from the way of the {who}; at least "
                f"{2e3 * BALL_RADIUS_M:.1f} mm are needed. Move one of them."
            )

    def _check_landing_area(self) -> None:
        """Raise TableError if the landing area is no polygon on the table."""
        if len(self.landing_area_m) < 3:
            raise TableError(
                f"The landing area has {len(self.landing_area_m)} corners; at least 3 are needed. "
                "Draw it again."
            )
        for number, at in enumerate(self.landing_area_m, start=1):
            what = f"corner {number} of the landing area"
            for axis, value, size in zip("xy", at, self._size(), strict=True):
                check_range(
                    f"{axis} of {what}",
                    value,
                    low=0.0,
                    high=size,
                    unit="m",
                    remedy="Keep it on the table.",
                )

    def _size(self) -> Point:
        """Return width and length of the table."""
        return self.table.width_m, self.table.length_m


def _found(checks: Iterable[Callable[[], None]]) -> tuple[TableError, ...]:
    """Return the faults that checks raise."""
    faults = []
    for check in checks:
        try:
            check()
        except TableError as fault:
            faults.append(fault)
    return tuple(faults)


def _point(at: Sequence[float]) -> Point:
    """Return a point as a tuple of two floats."""
    x, y = at
    return float(x), float(y)


def _check_on_table(what: str, at: Point, table: TableSize) -> None:
    """Raise TableError if a ball's centre lies nearer than a radius to a cushion face."""
    for axis, value, size in zip("xy", at, (table.width_m, table.length_m), strict=True):
        check_range(
            f"{axis} of the {what}",
            value,
            low=BALL_RADIUS_M,
            high=size - BALL_RADIUS_M,
            unit="m",
            remedy="The whole ball must lie on the table.",
        )


def _check_apart(first: str, a: Point, second: str, b: Point) -> None:
    """Raise TableError if two balls overlap."""
    gap = float(np.hypot(a[0] - b[0], a[1] - b[1]))
    if not gap >= 2.0 * BALL_RADIUS_M - 1e-9:
        raise TableError(
            f"The centres of {first} and {second} are {gap * 1e3:.1f} mm apart; balls need at "
            f"least {2e3 * BALL_RADIUS_M:.1f} mm. Move one of them."
        )
