"""At the table: what the page shows of the open series, whenever something moved."""

from functools import lru_cache
from math import inf
from typing import Any

import dash
from dash import Input, Output, State, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import aria, mark, plan_style
from cue_dashboard.desk import Desk, desk
from cue_dashboard.figures.plan import Window, on_table, plan_figure, whole_table, window
from cue_dashboard.ids import table as table_ids
from cue_dashboard.judging import Judged, Pick, shot_in_hand
from cue_dashboard.looking import only_looks
from cue_dashboard.questions import Held
from cue_dashboard.ready_answer import make_ready
from cue_dashboard.theme import palette_of
from cue_dashboard.units import PaceScale, tip_height_text
from cue_dashboard.words import table as table_words
from cue_practice.grades import Grade
from cue_practice.live_status import LiveStatus
from cue_practice.trade_words import side_words
from cue_practice.views import Point, Series, Shot
from cue_table.setup import SetUp

MARKS_SHOWN = 60
RESULT_STEP, MORE_STEP = "result", "more"
"""What a phone has room for: the pace and its result, or after that what else may be tapped."""


def register(app: dash.Dash) -> None:
    """Connect what is shown."""
    app.callback(
        *[Output(place, name) for place, name in _SECTIONS],
        Input(ids.TABLE_DESK, "data"),
        prevent_initial_call=True,
    )(show_sections)
    app.callback(
        Output(ids.TABLE_SHOWN, "data"),
        Output(table_ids.PAGE, "data-step"),
        Output(ids.TABLE_ASK, "children"),
        Output(ids.TABLE_WAITING, "children"),
        Output(ids.TABLE_NEXT, "hidden"),
        Output(ids.TABLE_POTTED, "aria-pressed"),
        Output(ids.TABLE_MISSED, "aria-pressed"),
        *[Output(one, "aria-pressed") for one in ids.TABLE_GRADE.values()],
        *[Output(one, "disabled") for one in (*ids.TABLE_GRADE.values(), *_NEED_SHOT)],
        Input(ids.TABLE_DESK, "data"),
        Input(ids.TABLE_PICK, "data"),
        Input(ids.TABLE_MARKED, "data"),
        Input(ids.UNIT, "value"),
        State(ids.TABLE_SHOWN, "data"),
    )(show_question)
    app.callback(
        Output(ids.TABLE_SERIES_WORDS, "children"),
        Output(ids.TABLE_MARKS, "children"),
        Input(ids.TABLE_DESK, "data"),
        Input(ids.TABLE_SHOWN, "data"),
        Input(ids.UNIT, "value"),
    )(show_series)
    # apart from the marks: the answer takes its time, and a mark must not wait for it
    app.callback(
        Output(table_ids.NEXT_PACE, "children"),
        Input(ids.TABLE_DESK, "data"),
        Input(ids.UNIT, "value"),
    )(show_next_pace)
    app.callback(
        Output(ids.TABLE_PLAN, "figure"),
        Output(ids.TABLE_PLAN, "style"),
        Input(ids.TABLE_SHOWN, "data"),
        Input(ids.TABLE_WHOLE, "checked"),
        Input(ids.SCHEME, "data"),
    )(show_plan)


_SHOT_CARDS = (
    table_ids.JUDGE_BAR,
    ids.TABLE_WHERE,
)
_SHOWN_OR_NOT = (
    table_ids.FIRST,
    ids.TABLE_START,
    *_SHOT_CARDS,
    ids.TABLE_SERIES_CARD,
    ids.TABLE_PACE_CARD,
    ids.TABLE_TRACE_CARD,
    table_ids.AIDS,
    table_ids.TOLERANCE_ROW,
    ids.TABLE_SOURCE_CHOICE,
    ids.TABLE_STOP,
)
_SECTIONS = (
    *[(section, "hidden") for section in _SHOWN_OR_NOT],
    (ids.TABLE_STOP, "children"),
    (ids.TABLE_CAUTIONS, "open"),
    (ids.TABLE_SOURCE_CHOICE, "open"),
)
_NEED_SHOT = (ids.TABLE_POTTED, ids.TABLE_MISSED, ids.TABLE_NO_SHOT)


def desk_state(at: Desk, status: LiveStatus | None) -> dict[str, Any]:
    """Return what the page is built on: the open series, its shots, the source, what was heard.

    Parameters
    ----------
    at : Desk
        The desk.
    status : LiveStatus or None
        Of its live session.
    """
    series, heard = at.open_series(), at.air.heard()
    shots = [] if series is None else at.log.shots(series_id=series.series_id)
    is_running = status is not None and words.is_live(status)
    return {
        "series_id": None if series is None else series.series_id,
        "is_called": series is not None and series.called_pace_m_s is not None,
        "shots": _fingerprint(shots),
        "n_shots": len(shots),
        "is_running": is_running,
        "has_sensor": is_running and at.sensor is not None,
        "n_strokes": status.n_strokes if status is not None and is_running else 0,
        "heard": [heard.n_scans, heard.is_listening],
    }


def lay_out(page: html.Div, state: dict[str, Any]) -> None:
    """Show and hide the cards of a page that is not sent yet, so that it comes as it stays.

    Parameters
    ----------
    page : html.Div
        With all its cards.
    state : dict
        From :func:`desk_state`.
    """
    page[ids.TABLE_DESK].data = state
    for (place, name), value in zip(_SECTIONS, show_sections(state), strict=True):
        setattr(page[place], name, value)


def _fingerprint(shots: list[Shot]) -> str:
    """Return what changes whenever anything shown of the shots changes."""
    return str(
        hash(
            tuple(
                (s.shot_id, s.grade, s.is_potted, s.cushion_point_m, s.stop_point_m) for s in shots
            )
        )
    )


def show_sections(state: dict[str, Any]) -> tuple[Any, ...]:
    """Return which cards are hidden, the word on the button that stops, and what is folded up."""
    is_open, is_running = state["series_id"] is not None, state["is_running"]
    # what is there for shots comes with the first of them, or with what may bring it
    is_at_play = is_running or bool(state["n_shots"])
    shown = (
        not is_open and not desk().log.all_series(include_discarded=True, newest=1),
        not is_open,
        *[is_open and is_at_play] * len(_SHOT_CARDS),
        is_open,
        is_at_play,
        is_running,
        is_open or is_running,
        is_open and state["is_called"],
        not is_running,
        is_running,
    )
    stop = table_words.DISCONNECT if state["has_sensor"] else table_words.STOP_PLAYING
    # in mid-series one line: who taps results has no use for the choice of a source
    return (*[not one for one in shown], stop, not is_open, not is_open or not state["n_shots"])


def newer(pick: Any, marked: Any) -> Any:
    """Return the later of two picks, by the moment each was made."""
    made = [one for one in (pick, marked) if one]
    return max(made, key=lambda one: str(one["at"]), default=None)


def in_hand(series_id: int, pick: dict[str, Any] | None) -> tuple[list[Shot], Judged]:
    """Return the shots of a series and the one the player is asked about."""
    shots = desk().log.shots(series_id=series_id)
    return shots, shot_in_hand(shots, Pick(pick["shot_id"], pick["is_held"]) if pick else Pick())


def show_question(state: Any, pick: Any, marked: Any, unit: str, shown: Any) -> tuple[Any, ...]:
    """Return the shot in hand, the question, what is tapped, and whether more strokes wait."""
    if not state or state["series_id"] is None:
        return (no_update,) * (7 + len(Grade) + len(Grade) + len(_NEED_SHOT))
    shots, judged = in_hand(state["series_id"], newer(pick, marked))
    shot = judged.shot
    pressed = [_pressed(shot is not None and shot.grade is grade) for grade in Grade]
    found = _shown(state["series_id"], shot)
    return (
        # unchanged it is not sent, so that a new stroke does not redraw the plan under a thumb
        no_update if found == shown else found,
        RESULT_STEP if shot is None or shot.grade is None or only_looks() else MORE_STEP,
        _question(shots, judged, PaceScale.of(unit)),
        words.waiting(judged.n_waiting) if judged.n_waiting else "",
        not (shot is not None and shot.grade is not None and judged.n_waiting),
        _pressed(shot is not None and shot.is_potted is True),
        _pressed(shot is not None and shot.is_potted is False),
        *pressed,
        *[shot is None] * (len(Grade) + len(_NEED_SHOT)),
    )


def _shown(series_id: int, shot: Shot | None) -> dict[str, Any]:
    """Return the shot in hand as the page keeps it."""
    points = (None, None) if shot is None else (shot.cushion_point_m, shot.stop_point_m)
    cushion, stop = (None if point is None else list(point) for point in points)
    shot_id = None if shot is None else shot.shot_id
    return {"series_id": series_id, "shot_id": shot_id, "cushion": cushion, "stop": stop}


def _pressed(is_pressed: bool) -> str:
    """Return what a toggle says of itself."""
    return "true" if is_pressed else "false"


def _question(shots: list[Shot], judged: Judged, scale: PaceScale) -> str:
    """Return what the player is asked, with the pace where it is not the last one."""
    if judged.shot is None:
        return words.NO_SHOT
    if judged.shot.grade is not None:
        told = ", ".join(_told(judged.shot))
        return words.RESULT_GIVEN.format(number=judged.number, told=told)
    if judged.shot is shots[-1] or judged.shot.pace_m_s is None:
        return words.ASK_RESULT.format(number=judged.number)
    return words.ASK_RESULT_FIRST.format(
        number=judged.number, pace=scale.text(judged.shot.pace_m_s)
    )


def _told(shot: Shot) -> list[str]:
    """Return all that was tapped for a shot."""
    said = [] if shot.grade is None else [words.GRADE_NAME[shot.grade].lower()]
    if shot.is_potted is not None:
        said.append((words.POTTED if shot.is_potted else words.MISSED).lower())
    points = (shot.cushion_point_m, words.CUSHION_TAPPED), (shot.stop_point_m, words.STOP_TAPPED)
    return said + [name for point, name in points if point is not None]


def show_series(state: Any, shown: Any, unit: str) -> tuple[Any, Any]:
    """Return what the series holds, and a mark for every shot."""
    if not state or state["series_id"] is None:
        return no_update, no_update
    log, scale = desk().log, PaceScale.of(unit)
    series = log.series(state["series_id"])
    shots = log.shots(series_id=series.series_id)
    marks = [
        _shot_mark(number, shot, scale, is_shown=bool(shown) and shot.shot_id == shown["shot_id"])
        for number, shot in enumerate(shots, start=1)
    ][-MARKS_SHOWN:]
    none_yet = html.P(words.SO_FAR_EMPTY, className="quiet")
    return _series_words(series, scale), marks or none_yet


def _series_words(series: Series, scale: PaceScale) -> list[Any]:
    """Return set-up, and what is held and free."""
    log = desk().log
    tip_width_m = next(c.tip_width_m for c in log.cues() if c.cue_id == series.cue_id)
    player = next(p.nickname for p in log.players() if p.player_id == series.player_id)
    held = [tip_height_text(series.tip_below_centre_m, tip_width_m), side_words(series.side_m)]
    if series.called_pace_m_s is not None:
        held.append(words.CALLED.format(pace=scale.text(series.called_pace_m_s)))
    said = [
        html.P(f"{log.setup(series.setup_id).name} \u00b7 {player}"),
        html.P(words.HELD.format(held=", ".join(held)), className="quiet"),
    ]
    if series.called_pace_m_s is None:
        said.append(html.P(words.FREE.format(free=words.FREE_PACE), className="quiet"))
    return said


def show_next_pace(state: Any, unit: str) -> list[Any]:
    """Return how many shots there are, and the pace to try next; nothing where one is called."""
    if not state or state["series_id"] is None or state["is_called"]:
        return []
    log = desk().log
    series = log.series(state["series_id"])
    shots = log.shots(series_id=series.series_id)
    n_shots = table_words.so_far(len(shots))
    held = Held.of(series)
    if not any(shot.is_fit_for_answer for shot in shots):
        make_ready(desk(), held)
        return [n_shots]
    pace = PaceScale.of(unit).text(held.answer(log).next_pace_m_s)
    return [n_shots + " \u00b7 ", html.B(words.TRY_NEXT.format(pace=pace))]


def _shot_mark(number: int, shot: Shot, scale: PaceScale, *, is_shown: bool) -> html.Button:
    """Return one shot's mark; tapping it goes back to the shot."""
    pace = words.NOTHING if shot.pace_m_s is None else scale.text(shot.pace_m_s)
    grade = words.UNGRADED if shot.grade is None else words.GRADE_NAME[shot.grade]
    said = words.SHOT_MARK.format(number=number, pace=pace, grade=grade.lower())
    return html.Button(
        mark(shot.grade),
        id={"type": ids.TABLE_MARK, "shot": shot.shot_id},
        type="button",
        className="shot-mark",
        title=said,
        **aria(label=said, current="true" if is_shown else None),
    )


def show_plan(shown: Any, is_whole: bool | None, scheme: str | None) -> tuple[Any, Any]:
    """Return the plan with what was tapped for the shot in hand, and its shape."""
    if not shown or scheme is None:
        return no_update, no_update
    log = desk().log
    setup = log.setup(log.series(shown["series_id"]).setup_id).setup
    seen = whole_table(setup) if is_whole else window(setup)
    drawn = _plan(setup, seen, scheme)
    marks = [
        _mark_at(setup, scheme, kind, (point[0], point[1]))
        for kind, point in (("cushion", shown["cushion"]), ("stop", shown["stop"]))
        if point is not None
    ]
    layout = {**drawn["layout"], "meta": _for_taps(setup, scheme)}
    return {"data": [*drawn["data"], *marks], "layout": layout}, plan_style(seen.aspect)


def _for_taps(setup: SetUp, scheme: str) -> dict[str, Any]:
    """Return what `assets/table_plan.js` draws the mark of a tap by, before it is answered."""
    kinds = ("cushion", "stop")
    marks = {kind: [_mark_of(setup, scheme, kind, is_left) for is_left in (True, False)]
             for kind in kinds}  # fmt: skip
    low, high = (on_table(setup, (far, far)) for far in (-inf, inf))
    room = {"across": [low[0], high[0]], "up": [low[1], high[1]]}
    return {"marks": marks, "room": room}


def _mark_at(setup: SetUp, scheme: str, kind: str, point_m: Point) -> dict[str, Any]:
    """Return the mark of a place that was tapped."""
    is_left = point_m[0] < setup.table.width_m / 2  # its name is written towards the middle
    return {**_mark_of(setup, scheme, kind, is_left), "x": [point_m[0]], "y": [point_m[1]]}


@lru_cache(maxsize=16)
def _mark_of(setup: SetUp, scheme: str, kind: str, is_left: bool) -> dict[str, Any]:
    """Return how such a mark is drawn; the plan draws it last."""
    place = (setup.table.width_m * (0.25 if is_left else 0.75), setup.table.length_m / 2)
    cushion, stop = (place, None) if kind == "cushion" else (None, place)
    drawn = _plan(setup, whole_table(setup), scheme, cushion, stop)
    mark: dict[str, Any] = drawn["data"][-1]
    return mark


@lru_cache(maxsize=16)
def _plan(
    setup: SetUp,
    seen: Window,
    scheme: str,
    cushion_m: Point | None = None,
    stop_m: Point | None = None,
) -> dict[str, Any]:
    """Return the plan; drawing it anew for every tap would take longer than all the rest."""
    figure = plan_figure(
        setup, palette_of(scheme), cushion_point_m=cushion_m, stop_point_m=stop_m, shown=seen
    )
    figure.update_layout(margin_autoexpand=False)  # every pixel is the thumb's
    drawn: dict[str, Any] = figure.to_plotly_json()
    return drawn
