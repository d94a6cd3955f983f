"""At the table: what the page shows, read from the log and the live session a few times a second.

The watcher compares what it finds with what the page has and answers only when something moved, so
that an idle page costs next to nothing.
"""

from typing import Any

import dash
from dash import Input, Output, State, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import aria, mark, plan_style
from cue_dashboard.desk import Desk, desk
from cue_dashboard.figures.live import is_drawn, live_extension, live_figure
from cue_dashboard.figures.plan import plan_figure, whole_table, window
from cue_dashboard.judging import Judged, Pick, shot_in_hand
from cue_dashboard.questions import Held
from cue_dashboard.theme import palette_of
from cue_dashboard.units import PaceScale, tip_height_text
from cue_practice.grades import Grade
from cue_practice.views import Series, Shot
from cue_signal.trend import hit_trend

MARKS_SHOWN = 60
FOR_EVER = -1
"""What an interval takes for no end."""


def register(app: dash.Dash) -> None:
    """Connect what is shown."""
    app.callback(
        Output(ids.TABLE_DESK, "data"),
        Input(ids.TABLE_TICK, "n_intervals"),
        Input(ids.TABLE_ACT, "data"),
        Input(ids.TABLE_STARTED, "data"),
        Input(ids.TABLE_SOURCED, "data"),
        State(ids.TABLE_DESK, "data"),
        running=[_one_at_a_time(ids.TABLE_TICK)],
    )(watch)
    sections = (*_SECTIONS, ids.TABLE_SOURCE_CHOICE, ids.TABLE_STOP)
    app.callback(
        *[Output(section, "hidden") for section in sections],
        Output(ids.TABLE_STATE, "children"),
        Output(ids.TABLE_STATE, "className"),
        Output(ids.TABLE_TRACE_TICK, "max_intervals"),
        Output(ids.TABLE_CAUTIONS, "open"),
        Input(ids.TABLE_DESK, "data"),
    )(show_sections)
    app.callback(
        Output(ids.TABLE_PACE, "children"),
        Input(ids.TABLE_DESK, "data"),
        Input(ids.UNIT, "value"),
    )(show_pace)
    app.callback(
        Output(ids.TABLE_SHOWN, "data"),
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
    app.callback(
        Output(ids.TABLE_PLAN, "figure"),
        Output(ids.TABLE_PLAN, "style"),
        Input(ids.TABLE_SHOWN, "data"),
        Input(ids.TABLE_WHOLE, "checked"),
        Input(ids.SCHEME, "data"),
    )(show_plan)
    app.callback(
        Output(ids.TABLE_TRACE, "figure"),
        Input(ids.SCHEME, "data"),
        Input(ids.UNIT, "value"),
    )(empty_trace)
    app.callback(
        Output(ids.TABLE_TRACE, "extendData"),
        Output(ids.TABLE_TRACE_CURSOR, "data"),
        Input(ids.TABLE_TRACE_TICK, "n_intervals"),
        State(ids.TABLE_TRACE_CURSOR, "data"),
        State(ids.TABLE_DESK, "data"),
        State(ids.SCHEME, "data"),
        State(ids.UNIT, "value"),
        running=[_one_at_a_time(ids.TABLE_TRACE_TICK)],
    )(extend_trace)


def _one_at_a_time(tick: str) -> tuple[Output, bool, bool]:
    """Return what holds a tick back while its answer is on the way.

    Dash drops an answer when the same callback is asked again meanwhile, so that a machine too
    busy to answer within a tick would never show anything.
    """
    return Output(tick, "disabled"), True, False


_SECTIONS = (
    ids.TABLE_START,
    ids.TABLE_SOURCE,
    ids.TABLE_PACE_CARD,
    ids.TABLE_JUDGE,
    ids.TABLE_WHERE,
    ids.TABLE_SERIES_CARD,
    ids.TABLE_TRACE_CARD,
)
_NEED_SHOT = (ids.TABLE_POTTED, ids.TABLE_MISSED, ids.TABLE_NO_SHOT)


def watch(_n: Any, _act: Any, _started: Any, _sourced: Any, known: Any) -> Any:
    """Return what the desk is doing, unless the page knows it."""
    found = desk_state(desk())
    return no_update if found == known else found


def desk_state(at: Desk) -> dict[str, Any]:
    """Return the open series, a fingerprint of its shots, and the state of the source in words."""
    series = at.open_series()
    if series is None:
        return {"series_id": None, "shots": "", "state": "", "is_running": False}
    shots = at.log.shots(series_id=series.series_id)
    status = at.status(series.series_id)
    return {
        "series_id": series.series_id,
        "shots": _fingerprint(shots),
        "state": words.live_state(status),
        "is_running": status is not None and words.is_live(status),
    }


def _fingerprint(shots: list[Shot]) -> str:
    """Return what changes whenever anything shown of the shots changes."""
    return str(
        hash(
            tuple(
                (s.shot_id, s.grade, s.is_potted, s.cushion_point_m, s.stop_point_m) for s in shots
            )
        )
    )


def show_sections(state: dict[str, Any] | None) -> tuple[Any, ...]:
    """Return which cards are hidden, and the state of the source."""
    if state is None:
        return (no_update,) * (len(_SECTIONS) + 6)
    is_open, is_running = state["series_id"] is not None, state["is_running"]
    hidden = [is_open] + [not is_open] * (len(_SECTIONS) - 2) + [not is_running]
    look = "state on" if is_running else "state"
    beats = FOR_EVER if is_running else 0
    return (*hidden, is_running, not is_running, state["state"], look, beats, not is_open)


def show_pace(state: dict[str, Any] | None, unit: str) -> Any:
    """Return the newest stroke's pace, as large as the screen allows."""
    if not state or state["series_id"] is None:
        return no_update
    shots = desk().log.shots(series_id=state["series_id"])
    stroke = next((shot.stroke for shot in reversed(shots) if shot.stroke is not None), None)
    scale = PaceScale.of(unit)
    if stroke is None:
        hint = words.NO_STROKE_YET if state["is_running"] else words.NO_STROKE_IDLE
        return [
            html.P(words.LAST_PACE, className="pace-label"),
            html.P(words.NOTHING, className="pace-number waiting", **aria(hidden="true")),
            html.P(hint, className="pace-trend quiet"),
        ]
    trend = hit_trend(stroke)
    return [
        html.P(words.LAST_PACE, className="pace-label"),
        html.P(scale.number(stroke.tip_speed_m_s), className="pace-number"),
        html.P(
            [
                f"{scale.unit} ",
                html.Span(
                    words.PLUS_MINUS.format(pace=scale.number(stroke.tip_speed_sd_m_s)),
                    className="small",
                ),
            ],
            className="pace-unit",
        ),
        html.P(
            html.Span(
                [
                    html.Span(words.TREND_SIGN[trend], className="sign", **aria(hidden="true")),
                    words.trend(trend, scale.text(stroke.speed_lost_m_s)),
                ]
            ),
            className="pace-trend",
        ),
    ]


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
        return (no_update,) * (6 + len(Grade) + len(Grade) + len(_NEED_SHOT))
    shots, judged = in_hand(state["series_id"], newer(pick, marked))
    shot = judged.shot
    pressed = [_pressed(shot is not None and shot.grade is grade) for grade in Grade]
    found = _shown(state["series_id"], shot)
    return (
        # unchanged it is not sent, so that a new stroke does not redraw the plan under a thumb
        no_update if found == shown else found,
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
        grade = words.GRADE_NAME[judged.shot.grade].lower()
        return words.RESULT_GIVEN.format(number=judged.number, grade=grade)
    if judged.shot is shots[-1] or judged.shot.pace_m_s is None:
        return words.ASK_RESULT.format(number=judged.number)
    return words.ASK_RESULT_FIRST.format(
        number=judged.number, pace=scale.text(judged.shot.pace_m_s)
    )


def show_series(state: Any, shown: Any, unit: str) -> tuple[Any, Any]:
    """Return what the series holds, what to try next, and a mark for every shot."""
    if not state or state["series_id"] is None:
        return no_update, no_update
    log, scale = desk().log, PaceScale.of(unit)
    series = log.series(state["series_id"])
    shots = log.shots(series_id=series.series_id)
    marks = [
        _shot_mark(number, shot, scale, is_shown=bool(shown) and shot.shot_id == shown["shot_id"])
        for number, shot in enumerate(shots, start=1)
    ][-MARKS_SHOWN:]
    return _series_words(series, shots, scale), marks or html.P(
        words.SO_FAR_EMPTY, className="quiet"
    )


def _series_words(series: Series, shots: list[Shot], scale: PaceScale) -> list[Any]:
    """Return set-up, what is held and free, and the pace to try next."""
    log = desk().log
    tip_width_m = next(c.tip_width_m for c in log.cues() if c.cue_id == series.cue_id)
    player = next(p.nickname for p in log.players() if p.player_id == series.player_id)
    held = [tip_height_text(series.tip_below_centre_m, tip_width_m)]
    if series.called_pace_m_s is not None:
        held.append(words.CALLED.format(pace=scale.text(series.called_pace_m_s)))
    said = [
        html.P(f"{log.setup(series.setup_id).name} \u00b7 {player}"),
        html.P(words.HELD.format(held=", ".join(held)), className="quiet"),
    ]
    if series.called_pace_m_s is None:
        said.append(html.P(words.FREE.format(free=words.FREE_PACE), className="quiet"))
    if any(shot.is_fit_for_answer for shot in shots):
        next_m_s = Held.of(series).answer(log).next_pace_m_s
        said.append(html.P(html.B(words.TRY_NEXT.format(pace=scale.text(next_m_s)))))
    return said


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
    figure = plan_figure(
        setup,
        palette_of(scheme),
        cushion_point_m=shown["cushion"],
        stop_point_m=shown["stop"],
        shown=seen,
    )
    return figure, plan_style(seen.aspect)


def empty_trace(scheme: str | None, unit: str) -> Any:
    """Return the live trace in the colours and unit of the screen."""
    if scheme is None:
        return no_update
    return live_figure(palette_of(scheme), PaceScale.of(unit))


def extend_trace(_n: Any, cursor: Any, state: Any, scheme: Any, unit: str) -> tuple[Any, Any]:
    """Return the samples that came since the last ones drawn."""
    status = desk().status(state["series_id"]) if state else None
    if status is None:
        return no_update, no_update
    # a new unit or scheme draws the trace afresh, so all of it is sent again
    look = f"{scheme}|{unit}"
    after_s = cursor["time_s"] if cursor and cursor["look"] == look else float("-inf")
    is_new = is_drawn(status.trace_time_s, after_s=after_s)
    if not is_new.any():
        return no_update, no_update
    time_s = status.trace_time_s[is_new].tolist()
    speed_m_s = status.trace_speed_m_s[is_new].tolist()
    extension = live_extension(time_s, speed_m_s, PaceScale.of(unit))
    return extension, {"time_s": time_s[-1], "look": look}
