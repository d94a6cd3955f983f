"""A page for the pupil to take home: figures, two pictures, the coach's notes, the next exercise.

One HTML file without scripts that needs no network; it prints on one sheet of A4. Pictures are
drawn as SVG, results told by shape as well as colour.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
from jinja2 import Environment, PackageLoader

from cue_practice.answer import answer_for
from cue_practice.control import pace_control
from cue_practice.grades import Grade
from cue_practice.inference import PaceAnswer
from cue_practice.log import PracticeLog
from cue_practice.paces import SAME_PLACE_M
from cue_practice.trade_words import height_words, side_words
from cue_practice.views import Point, Shot
from cue_practice.whole_file import whole_file
from cue_table.ball import BALL_RADIUS_M
from cue_table.setup import SetUp

_CURVE_WIDTH, _CURVE_HEIGHT = 640.0, 240.0
_LEVELS = {Grade.TOO_LITTLE: 0.04, Grade.RIGHT: 0.5, Grade.TOO_MUCH: 0.96}
_SHAPES = {Grade.TOO_LITTLE: "soft", Grade.RIGHT: "right", Grade.TOO_MUCH: "hard"}
_WORDS = {
    Grade.TOO_LITTLE: "too little stun",
    Grade.RIGHT: "right",
    Grade.TOO_MUCH: "too much stun",
}
_N_TICKS = 6


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


def pupil_page(
    log: PracticeLog,
    setup_id: int,
    player_id: int,
    tip_below_centre_m: float,
    *,
    side_m: float = 0.0,
    notes: str = "",
    day: date | None = None,
) -> str:
    """Return the page of one set-up and tip height as HTML.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    setup_id, player_id : int
        Which set-up, whose shots.
    tip_below_centre_m, side_m : float
        What the series held.
    notes : str
        The coach's words; blank lines part paragraphs.
    day : date or None
        Date on the page; None for the day of the last shot, or no date without shots.

    Returns
    -------
    str
        A whole HTML file; every text in it is escaped.

    Raises
    ------
    PracticeError
        If there is no such set-up or player.
    """
    answer = answer_for(log, setup_id, player_id, tip_below_centre_m, side_m=side_m)
    setup = log.setup(setup_id).setup
    shots = _shots(log, setup_id, player_id, tip_below_centre_m, side_m)
    days = [shot.struck_utc.date() for shot in shots]
    place = height_words(tip_below_centre_m) + (f", {side_words(side_m)}" if side_m else "")
    page = _environment().get_template("pupil.html")
    return page.render(
        player=next(p.nickname for p in log.players() if p.player_id == player_id),
        setup=setup,
        place=place,
        day=day or (max(days) if days else None),
        answer=answer,
        legend=[(_SHAPES[grade], _WORDS[grade]) for grade in Grade],
        curve=_curve(answer),
        marks=_curve_marks(answer, shots),
        ticks=_ticks(answer),
        plan=_plan(setup),
        stops=_stops(setup, shots),
        control=pace_control(log.called_shots(player_id)).words,
        notes=[part.strip() for part in notes.split("\n\n") if part.strip()],
        exercise=_exercise(answer, place),
        width=_CURVE_WIDTH,
        height=_CURVE_HEIGHT,
    )


def write_page(page: str, path: str | Path) -> None:
    """Write a page to a file; one that is there is replaced once the new one is whole.

    Parameters
    ----------
    page : str
        From :func:`pupil_page`.
    path : str or Path
        Where to.

    Raises
    ------
    PracticeError
        If it cannot be written.
    """
    with whole_file(path, "page") as stream:
        stream.write(page)


def _environment() -> Environment:
    """Return Jinja with everything escaped."""
    return Environment(
        loader=PackageLoader("cue_practice"), autoescape=True, trim_blocks=True, lstrip_blocks=True
    )


def _shots(
    log: PracticeLog, setup_id: int, player_id: int, below_m: float, side_m: float
) -> list[Shot]:
    """Return the graded shots of the page, those of other sides left out."""
    own = {
        one.series_id
        for one in log.all_series(player_id=player_id, setup_id=setup_id)
        if abs(one.side_m - side_m) < SAME_PLACE_M
    }
    found = log.shots(setup_id=setup_id, player_id=player_id, tip_below_centre_m=below_m)
    return [s for s in found if s.series_id in own and s.grade and s.broken_rule is None]


def _x(answer: PaceAnswer, pace_m_s: float) -> float:
    """Return where a pace lies across the curve's picture."""
    low, high = answer.pace_m_s[0], answer.pace_m_s[-1]
    return float((pace_m_s - low) / (high - low) * _CURVE_WIDTH)


def _y(chance: float) -> float:
    """Return how far down a probability lies in the curve's picture."""
    return (1.0 - chance) * _CURVE_HEIGHT


def _curve(answer: PaceAnswer) -> dict[str, str]:
    """Return the lines of the curve's picture as SVG points."""
    x = [_x(answer, pace) for pace in answer.pace_m_s]

    def line(chances: Sequence[float]) -> str:
        return " ".join(f"{a:.1f},{_y(b):.1f}" for a, b in zip(x, chances, strict=True))

    band = line(list(answer.p_right_high)) + " "
    low = zip(x[::-1], answer.p_right_low[::-1], strict=True)
    band += " ".join(f"{a:.1f},{_y(b):.1f}" for a, b in low)
    return {
        "right": line(list(answer.p_right)),
        "soft": line(list(answer.p_too_little)),
        "hard": line(list(answer.p_too_much)),
        "band": band,
        "best": f"{_x(answer, answer.best_pace_m_s):.1f}",
    }


def _curve_marks(answer: PaceAnswer, shots: Sequence[Shot]) -> list[Mark]:
    """Return the shots of the curve's picture: pace across, result by height and shape."""
    return [
        Mark(_x(answer, shot.pace_m_s), _y(_LEVELS[shot.grade]), _SHAPES[shot.grade])
        for shot in shots
        if shot.pace_m_s is not None
        and shot.grade is not None
        and answer.pace_m_s[0] <= shot.pace_m_s <= answer.pace_m_s[-1]
    ]


def _ticks(answer: PaceAnswer) -> list[tuple[float, str]]:
    """Return round paces along the axis, with their places."""
    low, high = float(answer.pace_m_s[0]), float(answer.pace_m_s[-1])
    step = max((s for s in (0.05, 0.1, 0.2, 0.5, 1.0, 2.0) if (high - low) / s >= _N_TICKS - 2),
               default=0.05)  # fmt: skip
    paces = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    return [(_x(answer, float(pace)), f"{pace:.2f}") for pace in paces]


def _plan(setup: SetUp) -> dict[str, object]:
    """Return what lies on the drawn table, in millimetres from its top left corner."""
    balls: list[tuple[str, Point]] = [
        ("white", setup.white_m),
        ("object", setup.object_ball_m),
        *(("other", at) for at in setup.obstacles_m),
    ]
    if setup.next_ball_m is not None:
        balls.append(("next", setup.next_ball_m))
    return {
        "width": setup.table.width_m * 1e3,
        "length": setup.table.length_m * 1e3,
        "baulk": (setup.table.length_m - setup.table.baulk_line_m) * 1e3,
        "radius": BALL_RADIUS_M * 1e3,
        "balls": [(name, *_down(setup, at)) for name, at in balls],
        "area": " ".join("{:.0f},{:.0f}".format(*_down(setup, at)) for at in setup.landing_area_m),
        "pocket": _down(setup, setup.table.pocket_m(setup.pocket)),
    }


def _stops(setup: SetUp, shots: Sequence[Shot]) -> list[Mark]:
    """Return where the white stopped, on the drawn table."""
    return [
        Mark(*_down(setup, shot.stop_point_m), _SHAPES[shot.grade])
        for shot in shots
        if shot.stop_point_m is not None and shot.grade is not None
    ]


def _down(setup: SetUp, at: Point) -> tuple[float, float]:
    """Return a point in millimetres, down from the top cushion as pictures count."""
    return at[0] * 1e3, (setup.table.length_m - at[1]) * 1e3


def _exercise(answer: PaceAnswer, place: str) -> str:
    """Return the next exercise in a sentence or two."""
    if answer.n_shots == 0 or answer.best_pace_high_m_s / answer.best_pace_low_m_s > 1.2:
        return (
            f"Ten from the mark, tip {place}, only the pace changed: begin at about "
            f"{answer.next_pace_m_s:.2f} m/s, then let the results lead."
        )
    return (
        f"Ten from the mark, tip {place}, every one at {answer.best_pace_m_s:.2f} m/s. Count those "
        "within 5 % of it, and those that were right."
    )
