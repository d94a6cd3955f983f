"""The pictures of a pupil's page as plain geometry, drawn by the HTML page and the PDF alike.

Coordinates run right and down, in each picture's own units.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cue_practice.grades import Grade
from cue_practice.inference import PaceAnswer
from cue_practice.likelihood import FloatArray
from cue_practice.pace_words import PaceWords
from cue_practice.views import Point, Shot
from cue_signal.stroke import StrokeTrace
from cue_table.ball import BALL_RADIUS_M
from cue_table.setup import SetUp

CURVE_WIDTH, CURVE_HEIGHT = 640.0, 240.0
SPEED_WIDTH, SPEED_HEIGHT = 640.0, 170.0

SHAPES = {Grade.TOO_LITTLE: "soft", Grade.RIGHT: "right", Grade.TOO_MUCH: "hard"}
_LEVELS = {Grade.TOO_LITTLE: 0.04, Grade.RIGHT: 0.5, Grade.TOO_MUCH: 0.96}
_PACE_STEPS_M_S = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0)
_N_TICKS = 6
_BEFORE_S, _AFTER_S = 0.8, 0.3
_TIME_TICKS_S = (-0.8, -0.6, -0.4, -0.2, 0.0, 0.2)
_MOST_POINTS = 220

Points = tuple[tuple[float, float], ...]
Ticks = tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class Mark:
    """One result in a picture.

    Parameters
    ----------
    x, y : float
        In the picture's own units.
    shape : str
        ``"soft"``, ``"right"`` or ``"hard"``.
    """

    x: float
    y: float
    shape: str


@dataclass(frozen=True)
class PacePicture:
    """Chance of each result against pace, with the shots.

    Parameters
    ----------
    right, soft, hard : tuple of points
        Lines.
    band : tuple of points
        Outline of the credible band of the right result.
    best_x : float
        Where the best pace lies.
    marks : tuple of Mark
        Shots.
    ticks : tuple of (float, str)
        Paces along the axis.
    unit : str
        Of these.
    """

    right: Points
    soft: Points
    hard: Points
    band: Points
    best_x: float
    marks: tuple[Mark, ...]
    ticks: Ticks
    unit: str


@dataclass(frozen=True)
class SpeedPicture:
    """Speed of the cue against time, the hit at one place.

    Parameters
    ----------
    shown : tuple of points
        The stroke in question.
    others : tuple of tuple of points
        The player's own right ones, to compare with.
    hit_x, rest_y : float
        Where the hit, and speed 0, lie.
    time_ticks, speed_ticks : tuple of (float, str)
        In milliseconds from the hit, and in the unit of pace.
    caption : str
        Which stroke it is.
    unit : str
        Of the speeds.
    """

    shown: Points
    others: tuple[Points, ...]
    hit_x: float
    rest_y: float
    time_ticks: Ticks
    speed_ticks: Ticks
    caption: str
    unit: str


@dataclass(frozen=True)
class PlanPicture:
    """The table from above, in millimetres from its top left corner.

    Parameters
    ----------
    width, length, baulk, radius : float
        Of the bed, down to the baulk line, of a ball.
    balls : tuple of (str, float, float)
        ``"white"``, ``"object"``, ``"next"`` or ``"other"``, and where.
    area : tuple of points
        The landing area.
    pocket : point
        The pocket that was played for.
    stops : tuple of Mark
        Where the white stopped.
    """

    width: float
    length: float
    baulk: float
    radius: float
    balls: tuple[tuple[str, float, float], ...]
    area: Points
    pocket: Point
    stops: tuple[Mark, ...]


def pace_picture(answer: PaceAnswer, shots: Sequence[Shot], pace: PaceWords) -> PacePicture:
    """Return the picture of pace and result.

    Parameters
    ----------
    answer : PaceAnswer
        What the shots say.
    shots : sequence of Shot
        To mark; those without pace or grade are left out.
    pace : PaceWords
        How paces are written.
    """
    low, high = float(answer.pace_m_s[0]), float(answer.pace_m_s[-1])

    def across(pace_m_s: float) -> float:
        return (pace_m_s - low) / (high - low) * CURVE_WIDTH

    def line(chances: FloatArray) -> Points:
        pairs = zip(answer.pace_m_s, chances, strict=True)
        return tuple((across(float(x)), (1.0 - float(y)) * CURVE_HEIGHT) for x, y in pairs)

    marks = tuple(
        Mark(across(s.pace_m_s), (1.0 - _LEVELS[s.grade]) * CURVE_HEIGHT, SHAPES[s.grade])
        for s in shots
        if s.pace_m_s is not None and s.grade is not None and low <= s.pace_m_s <= high
    )
    return PacePicture(
        right=line(answer.p_right),
        soft=line(answer.p_too_little),
        hard=line(answer.p_too_much),
        band=line(answer.p_right_high) + line(answer.p_right_low)[::-1],
        best_x=across(answer.best_pace_m_s),
        marks=marks,
        ticks=tuple((across(one), pace.number(one)) for one in _round_paces(low, high)),
        unit=_unit(pace),
    )


def speed_picture(
    shown: StrokeTrace,
    hit_s: float,
    others: Sequence[tuple[StrokeTrace, float]],
    *,
    caption: str,
    pace: PaceWords,
) -> SpeedPicture:
    """Return the picture of one stroke's speed among others.

    Parameters
    ----------
    shown : StrokeTrace
        The stroke in question.
    hit_s : float
        When it met the ball.
    others : sequence of (StrokeTrace, float)
        Strokes to compare with, and when each met the ball.
    caption : str
        Which stroke it is.
    pace : PaceWords
        How speeds are written.
    """
    cut = [_about_the_hit(trace, at_s) for trace, at_s in ((shown, hit_s), *others)]
    known = np.concatenate([speed for _, speed in cut])
    known = known if known.size else np.zeros(1)
    low, high = min(float(known.min()), -0.2), max(float(known.max()), 0.5) * 1.05

    def across(time_s: float) -> float:
        return (time_s + _BEFORE_S) / (_BEFORE_S + _AFTER_S) * SPEED_WIDTH

    def down(speed_m_s: float) -> float:
        return (high - speed_m_s) / (high - low) * SPEED_HEIGHT

    lines = [
        tuple((across(float(t)), down(float(v))) for t, v in zip(time_s, speed, strict=True))
        for time_s, speed in cut
    ]
    return SpeedPicture(
        shown=lines[0],
        others=tuple(lines[1:]),
        hit_x=across(0.0),
        rest_y=down(0.0),
        time_ticks=tuple((across(one), f"{one * 1e3:.0f}") for one in _TIME_TICKS_S),
        speed_ticks=tuple((down(one), pace.number(one)) for one in _round_paces(low, high)),
        caption=caption,
        unit=_unit(pace),
    )


def plan_picture(setup: SetUp, shots: Sequence[Shot]) -> PlanPicture:
    """Return the plan of a set-up with where the white stopped."""
    balls: list[tuple[str, Point]] = [
        ("white", setup.white_m),
        ("object", setup.object_ball_m),
        *(("other", at) for at in setup.obstacles_m),
    ]
    if setup.next_ball_m is not None:
        balls.append(("next", setup.next_ball_m))
    stops = tuple(
        Mark(*_down(setup, shot.stop_point_m), SHAPES[shot.grade])
        for shot in shots
        if shot.stop_point_m is not None and shot.grade is not None
    )
    return PlanPicture(
        width=setup.table.width_m * 1e3,
        length=setup.table.length_m * 1e3,
        baulk=(setup.table.length_m - setup.table.baulk_line_m) * 1e3,
        radius=BALL_RADIUS_M * 1e3,
        balls=tuple((name, *_down(setup, at)) for name, at in balls),
        area=tuple(_down(setup, at) for at in setup.landing_area_m),
        pocket=_down(setup, setup.table.pocket_m(setup.pocket)),
        stops=stops,
    )


def _unit(pace: PaceWords) -> str:
    """Return the unit that paces are written in."""
    return pace.text(1.0).split(" ", 1)[1]


def _round_paces(low: float, high: float) -> list[float]:
    """Return round paces in m/s within a range, about half a dozen."""
    fitting = [step for step in _PACE_STEPS_M_S if (high - low) / step >= _N_TICKS - 2]
    step = max(fitting, default=_PACE_STEPS_M_S[0])
    first, last = int(np.ceil(low / step)), int(np.floor(high / step))
    return [round(k * step, 6) + 0.0 for k in range(first, last + 1)]


def _about_the_hit(trace: StrokeTrace, hit_s: float) -> tuple[FloatArray, FloatArray]:
    """Return time from the hit and speed, no more points than a picture can show."""
    time_s = trace.time_s - hit_s
    keep = np.flatnonzero((time_s >= -_BEFORE_S) & (time_s <= _AFTER_S))
    keep = keep[:: max(len(keep) // _MOST_POINTS, 1)]
    return time_s[keep], trace.speed_m_s[keep]


def _down(setup: SetUp, at: Point) -> Point:
    """Return a point in millimetres, down from the top cushion as pictures count."""
    return at[0] * 1e3, (setup.table.length_m - at[1]) * 1e3
