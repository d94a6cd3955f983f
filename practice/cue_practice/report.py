"""A page for the pupil to take home: figures, pictures, the coach's notes, the next exercise.

One HTML file without scripts that needs no network, or one PDF; either prints on A4. Pictures are
drawn as vectors, results told by shape as well as colour.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TypedDict, Unpack

from jinja2 import Environment, PackageLoader

from cue_practice.answer import answer_for
from cue_practice.control import pace_control
from cue_practice.errors import PracticeError
from cue_practice.exercise import next_exercise
from cue_practice.failure import what_goes_with
from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_practice.pace_words import IN_M_S, PaceWords
from cue_practice.paces import SAME_PLACE_M
from cue_practice.report_pictures import (
    CURVE_HEIGHT,
    CURVE_WIDTH,
    SHAPES,
    SPEED_HEIGHT,
    SPEED_WIDTH,
    PacePicture,
    PlanPicture,
    SpeedPicture,
    pace_picture,
    plan_picture,
    speed_picture,
)
from cue_practice.trade_words import height_words, side_words
from cue_practice.views import Shot
from cue_practice.whole_file import whole_file
from cue_signal.trend import HitTrend, hit_trend

GRADE_WORDS = {
    Grade.TOO_LITTLE: "too little stun",
    Grade.RIGHT: "right",
    Grade.TOO_MUCH: "too much stun",
}
CARE = (
    "Stop when hand, elbow, shoulder or back hurts, and ask a physiotherapist before going on. "
    "Your coach's word and the rules of the room come before this page."
)

_MOST_OTHERS = 8
_INTO_BALL = {
    HitTrend.SLOWING: "slowing into the ball",
    HitTrend.LEVEL: "level into the ball",
    HitTrend.GAINING: "gaining into the ball",
    HitTrend.UNSURE: "slowing or gaining into the ball: not sure",
}


class PageChoices(TypedDict, total=False):
    """What a page may be given besides the question it answers.

    Parameters
    ----------
    side_m : float
        What the series held, to the left of the white's centre.
    notes : str
        The coach's words, blank lines part paragraphs; those of the newest lesson if not given.
    exercise : str
        What to practise next; that of the newest lesson, or one from the answer, if not given.
    day : date or None
        Date on the page; None for the day of the last shot, or no date without shots.
    shot_id : int or None
        The stroke whose speed is drawn; None for the last one.
    pace : PaceWords
        How paces are written.
    """

    side_m: float
    notes: str
    exercise: str
    day: date | None
    shot_id: int | None
    pace: PaceWords


@dataclass(frozen=True, eq=False)
class PupilSheet:
    """Everything that stands on a pupil's page.

    Parameters
    ----------
    player, title, place : str
        Whose page, which set-up, tip height and side in words.
    day : date or None
        Date on the page.
    sentences : tuple of str
        The answer.
    curve, plan : PacePicture, PlanPicture
        Pace and result; where the white stopped.
    speed : SpeedPicture or None
        Speed of a stroke, None where no trace was kept.
    legend : tuple of (str, str)
        Shapes of the marks and their words.
    control, failure : tuple of str
        Pace control, and what goes with failure.
    notes : tuple of str
        Paragraphs of the coach.
    exercise : str
        What to practise next.
    """

    player: str
    title: str
    place: str
    day: date | None
    sentences: tuple[str, ...]
    curve: PacePicture
    plan: PlanPicture
    speed: SpeedPicture | None
    legend: tuple[tuple[str, str], ...]
    control: tuple[str, ...]
    failure: tuple[str, ...]
    notes: tuple[str, ...]
    exercise: str


def pupil_sheet(
    log: PracticeLog,
    setup_id: int,
    player_id: int,
    tip_below_centre_m: float,
    **choices: Unpack[PageChoices],
) -> PupilSheet:
    """Return what stands on the page of one set-up and tip height.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    setup_id, player_id : int
        Which set-up, whose shots.
    tip_below_centre_m : float
        What the series held.
    **choices
        See :class:`PageChoices`.

    Returns
    -------
    PupilSheet
        For :func:`pupil_page` and :func:`cue_practice.report_pdf.pupil_pdf`.

    Raises
    ------
    PracticeError
        If there is no such set-up, player or shot.
    """
    side_m, pace = choices.get("side_m", 0.0), choices.get("pace", IN_M_S)
    answer = answer_for(log, setup_id, player_id, tip_below_centre_m, side_m=side_m)
    setup = log.setup(setup_id).setup
    shots = _shots(log, setup_id, player_id, tip_below_centre_m, side_m)
    days = [shot.struck_utc.astimezone().date() for shot in shots]
    place = height_words(tip_below_centre_m) + (f", {side_words(side_m)}" if side_m else "")
    lesson = next(iter(log.lessons(player_id)), None)
    notes = choices.get("notes") or ("" if lesson is None else lesson.text)
    exercise = choices.get("exercise") or ("" if lesson is None else lesson.exercise)
    return PupilSheet(
        player=next(p.nickname for p in log.players() if p.player_id == player_id),
        title=setup.name,
        place=place,
        day=choices.get("day") or (max(days) if days else None),
        sentences=answer.in_words(pace),
        curve=pace_picture(answer, shots, pace),
        plan=plan_picture(setup, shots),
        speed=_speed(log, shots, choices.get("shot_id"), pace),
        legend=tuple((SHAPES[grade], GRADE_WORDS[grade]) for grade in Grade),
        control=pace_control(log.called_columns(player_id)).words,
        failure=what_goes_with(log.played_shots(player_id)).words,
        notes=tuple(part.strip() for part in notes.split("\n\n") if part.strip()),
        exercise=exercise.strip() or next_exercise(answer, f"the mark, tip {place}", pace),
    )


def pupil_page(
    log: PracticeLog,
    setup_id: int,
    player_id: int,
    tip_below_centre_m: float,
    **choices: Unpack[PageChoices],
) -> str:
    """Return the page of one set-up and tip height as HTML.

    Parameters
    ----------
    log, setup_id, player_id, tip_below_centre_m, **choices
        As for :func:`pupil_sheet`, which says what is raised.

    Returns
    -------
    str
        A whole HTML file; every text in it is escaped.
    """
    sheet = pupil_sheet(log, setup_id, player_id, tip_below_centre_m, **choices)
    return (
        _environment()
        .get_template("pupil.html")
        .render(
            sheet=sheet,
            care=CARE,
            width=CURVE_WIDTH,
            height=CURVE_HEIGHT,
            speed_width=SPEED_WIDTH,
            speed_height=SPEED_HEIGHT,
        )
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
    environment = Environment(
        loader=PackageLoader("cue_practice"), autoescape=True, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["points"] = _svg_points
    return environment


def _svg_points(points: Sequence[tuple[float, float]]) -> str:
    """Return points as SVG writes them."""
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)


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


def _speed(
    log: PracticeLog, shots: Sequence[Shot], shot_id: int | None, pace: PaceWords
) -> SpeedPicture | None:
    """Return the picture of one stroke's speed beside the player's newest right ones."""
    struck = [shot for shot in shots if shot.stroke is not None]
    chosen = struck[-1] if struck else None
    if shot_id is not None:
        chosen = log.shot(shot_id)
        if chosen.stroke is None:
            raise PracticeError(
                f"Shot {shot_id} has no stroke to draw. Choose one that a sensor saw."
            )
    if chosen is None or chosen.stroke is None:
        return None
    trace = log.stroke_trace(chosen.shot_id)
    if trace is None:
        return None
    right = [s for s in struck if s.grade is Grade.RIGHT and s.shot_id != chosen.shot_id]
    others = []
    for shot in right[-_MOST_OTHERS:]:
        other = log.stroke_trace(shot.shot_id)
        if other is not None and shot.stroke is not None:
            others.append((other, shot.stroke.impact_time_s))
    return speed_picture(
        trace,
        chosen.stroke.impact_time_s,
        others,
        caption=_caption(chosen, others, pace),
        pace=pace,
    )


def _caption(shot: Shot, others: Sequence[object], pace: PaceWords) -> str:
    """Return which stroke a picture of speed shows."""
    if shot.stroke is None:
        return ""
    when = shot.struck_utc.astimezone().strftime("%Y-%m-%d %H:%M")
    result = "no result yet" if shot.grade is None else GRADE_WORDS[shot.grade]
    beside = f"; {len(others)} right ones behind it in grey" if others else ""
    into = _INTO_BALL[hit_trend(shot.stroke)]
    return f"{when}: {pace.text(shot.stroke.tip_speed_m_s)}, {into}, {result}{beside}."
