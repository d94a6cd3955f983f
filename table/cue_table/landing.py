"""Landing areas from what the next shot needs: a straight enough pot from near enough."""

from dataclasses import replace

import numpy as np

from cue_table.ball import BALL_RADIUS_M, FloatArray
from cue_table.errors import TableError, check_range
from cue_table.setup import POCKETS, PocketName, Point, SetUp, TableSize

ARC_POINTS = 24
"""Corners along each arc of a landing area."""


def pot_area_m(
    next_ball_m: Point,
    pocket: PocketName,
    table: TableSize,
    *,
    greatest_cut_rad: float = np.radians(30.0),
    nearest_m: float = 0.1,
    furthest_m: float = 1.0,
) -> tuple[Point, ...]:
    """Return where the white may lie for a straight enough pot on the next ball.

    Parameters
    ----------
    next_ball_m : tuple of two floats
        Where the next ball lies.
    pocket : str
        Its pocket.
    table : TableSize
        The table; the area is cut to where the white can lie.
    greatest_cut_rad : float
        Greatest potting angle, greater than 0 and less than 90 degrees.
    nearest_m, furthest_m : float
        Least and greatest free travel of the white to that ball.

    Returns
    -------
    tuple of points
        Corners of a ring sector about the point where the white must meet the next ball.

    Raises
    ------
    TableError
        If a limit is out of range, the pocket cannot be reached, or nothing of the area is left.
    """
    _check_limits(greatest_cut_rad, nearest_m, furthest_m)
    spot = SetUp("", table, next_ball_m, next_ball_m, pocket)
    if spot.pot_tolerance_rad == 0.0:
        raise TableError(
            f"The next ball at ({next_ball_m[0]:.3f}, {next_ball_m[1]:.3f}) m cannot pass the jaws "
            f"of pocket {pocket}. Choose another pocket."
        )
    back = -spot.pot_direction
    middle = np.arctan2(back[1], back[0])
    angles = middle + np.linspace(-greatest_cut_rad, greatest_cut_rad, ARC_POINTS)
    arc = np.stack([np.cos(angles), np.sin(angles)], axis=-1)
    ghost = np.asarray(spot.ghost_ball_m)
    corners = np.concatenate([ghost + furthest_m * arc, ghost + nearest_m * arc[::-1]])
    kept = _cut_to_table(corners, table)
    if len(kept) < 3:
        raise TableError(
            f"From no place on the table is the next ball within "
            f"{np.degrees(greatest_cut_rad):.0f} degrees of pocket {pocket} and {nearest_m:.2f} to "
            f"{furthest_m:.2f} m away. Allow more."
        )
    return tuple((float(x), float(y)) for x, y in kept)


def with_pot_area(
    setup: SetUp,
    next_pocket: PocketName | None = None,
    *,
    greatest_cut_rad: float = np.radians(30.0),
    nearest_m: float = 0.1,
    furthest_m: float = 1.0,
) -> SetUp:
    """Return the set-up with a landing area for a straight enough pot on its next ball.

    Parameters
    ----------
    setup : SetUp
        With a next ball.
    next_pocket : str or None
        Pocket for the next ball; None takes the one with the largest area.
    greatest_cut_rad, nearest_m, furthest_m : float
        Limits, as in :func:`pot_area_m`.

    Returns
    -------
    SetUp
        A new one.

    Raises
    ------
    TableError
        If there is no next ball or no area.
    """
    if setup.next_ball_m is None:
        raise TableError(f"Set-up '{setup.name}' has no next ball. Give next_ball_m.")
    areas = []
    problems: list[TableError] = []
    for pocket in POCKETS if next_pocket is None else (next_pocket,):
        try:
            areas.append(
                pot_area_m(
                    setup.next_ball_m,
                    pocket,
                    setup.table,
                    greatest_cut_rad=greatest_cut_rad,
                    nearest_m=nearest_m,
                    furthest_m=furthest_m,
                )
            )
        except TableError as problem:
            problems.append(problem)
    if not areas:
        raise problems[0]
    return replace(setup, landing_area_m=max(areas, key=area_m2))


def area_m2(polygon_m: tuple[Point, ...]) -> float:
    """Return the area of a polygon that does not cross itself."""
    x, y = np.asarray(polygon_m, dtype=np.float64).T
    return float(0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def _check_limits(greatest_cut_rad: float, nearest_m: float, furthest_m: float) -> None:
    """Raise TableError if the limits leave nothing."""
    check_range(
        "Greatest potting angle",
        float(np.degrees(greatest_cut_rad)),
        low=0.1,
        high=89.0,
        unit="degrees",
        remedy="30 degrees is a usual choice.",
    )
    check_range(
        "Least distance to the next ball",
        nearest_m,
        low=0.0,
        high=4.0,
        unit="m",
        remedy="0.1 m leaves room for the bridge.",
    )
    check_range(
        "Greatest distance to the next ball",
        furthest_m,
        low=nearest_m + 0.01,
        high=4.5,
        unit="m",
        remedy="It must exceed the least distance.",
    )


def _cut_to_table(corners: FloatArray, table: TableSize) -> FloatArray:
    """Return a polygon cut to where a ball's centre can lie, side by side (Sutherland-Hodgman)."""
    high = (table.width_m - BALL_RADIUS_M, table.length_m - BALL_RADIUS_M)
    for axis in (0, 1):
        corners = _cut(corners, axis, BALL_RADIUS_M, 1.0)
        corners = _cut(corners, axis, high[axis], -1.0)
    return corners


def _cut(corners: FloatArray, axis: int, limit: float, sign: float) -> FloatArray:
    """Return the part of a polygon on one side of a line parallel to an axis."""
    kept: list[FloatArray] = []
    for here, after in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        inside, next_inside = sign * (here[axis] - limit), sign * (after[axis] - limit)
        if inside >= 0.0:
            kept.append(here)
        if inside * next_inside < 0.0:
            kept.append(here + (after - here) * inside / (inside - next_inside))
    return np.array(kept).reshape(-1, 2)
