"""What a plan is drawn with: colours, the part that is shown, and points to mark."""

from collections.abc import Sequence
from dataclasses import dataclass

from cue_table.setup import Point


@dataclass(frozen=True)
class Ink:
    """Colours of a picture.

    Parameters
    ----------
    paper, cloth, rail : str
        Backgrounds: behind everything, the playing area, the rail around it.
    line, marking, quiet : str
        Outlines and text; baulk line and D; spots, pockets and the pot's line.
    white, ball, next_ball, obstacle : str
        The balls.
    area, area_fill, path : str
        Outline and inside of the landing area; path and fan.
    scale : str
        Plotly colour scale of the map; even in lightness, so that it reads without colours.
    """

    paper: str = "#ffffff"
    cloth: str = "#ffffff"
    rail: str = "#d8dfe4"
    line: str = "#1b2a33"
    marking: str = "#8a98a3"
    quiet: str = "#8a98a3"
    white: str = "#ffffff"
    ball: str = "#1b2a33"
    next_ball: str = "#8a98a3"
    obstacle: str = "#d8dfe4"
    area: str = "#5c6f7c"
    area_fill: str = "rgba(92, 111, 124, 0.15)"
    path: str = "#1b2a33"
    scale: str = "Cividis"


DAYLIGHT = Ink()
"""Dark ink on white."""


@dataclass(frozen=True)
class Window:
    """Part of the table that is shown, metres of the table frame."""

    left_m: float
    right_m: float
    bottom_m: float
    top_m: float

    @property
    def aspect(self) -> float:
        """Return its width over its height."""
        return (self.right_m - self.left_m) / (self.top_m - self.bottom_m)


@dataclass(frozen=True, eq=False)
class Marks:
    """Points of one sort: recorded stops, or a place that was tapped.

    Parameters
    ----------
    points_m : sequence of points
        Where.
    name : str
        What they are.
    symbol, colour : str
        Their mark; every sort has one of its own.
    texts : sequence of str
        Shown when one is pointed at; empty for none.
    is_named : bool
        Whether the name stands beside each, towards the middle of the table.
    size_px : float
        Size of the mark.
    """

    points_m: Sequence[Point]
    name: str
    symbol: str
    colour: str
    texts: Sequence[str] = ()
    is_named: bool = False
    size_px: float = 11.0
