"""Coach: one pupil, what changed since the last lesson, what the evidence supports, what to do."""

from typing import TYPE_CHECKING, Any

import dash
import dash_mantine_components as dmc
import numpy as np
from dash import Input, Output, ctx, dcc, html, no_update

from cue_dashboard.components.differences import told
from cue_dashboard.components.pieces import aria, card, empty, select
from cue_dashboard.desk import desk
from cue_dashboard.ids import coach as own
from cue_dashboard.pages import coach_lessons, coach_print
from cue_dashboard.pupil_shots import SinceLesson, pupil_shots, pupil_since, since_lesson
from cue_dashboard.sides import day_text, newest_player
from cue_dashboard.words import coach as say
from cue_practice.compare import compare_shots
from cue_practice.log import PracticeLog

if TYPE_CHECKING:
    from cue_dashboard.evidence import Evidence
    from cue_practice.views import Lesson, Player

PATH = "/coach"
TITLE = say.TITLE
N_REMARKS = 5


def layout(player: str | None = None, **_: Any) -> html.Div:
    """Return the page, opened at a pupil where the address names one."""
    log = desk().log
    pupils = [{"value": str(p.player_id), "label": _pupil_label(log, p)} for p in log.players()]
    known = [one["value"] for one in pupils]
    chosen = player if player in known else newest_player(log) or next(iter(known), None)
    pick = select(say.PUPIL, own.PLAYER, data=pupils, value=chosen, searchable=True)
    nobody = [] if pupils else [empty(say.EMPTY, say.EMPTY_REMEDY)]
    return html.Div(
        [
            html.H1(say.TITLE),
            *nobody,
            html.Div([card(pick), _places(chosen)], hidden=not pupils),
        ]
    )


def register(app: dash.Dash) -> None:
    """Connect the pupil with everything that is said of them."""
    app.callback(
        Output(own.CHANGED, "children"),
        Output(own.REMARKS, "children"),
        Output(own.CHANGED_OF, "data"),
        Input(own.PLAYER, "value"),
        Input(own.KEPT, "data"),
        prevent_initial_call=True,
    )(show_changed)
    # what takes longer is worked out once what changed is on its way
    app.callback(
        Output(own.EVIDENCE, "children"),
        Input(own.CHANGED_OF, "data"),
        running=[(Output(own.WEIGHING, "children"), say.WEIGHING, "")],
    )(show_evidence)
    coach_lessons.register(app)
    coach_print.register(app)


def show_changed(player: str | None, _kept: Any) -> tuple[Any, Any, Any]:
    """Return what changed since the last lesson, the newest remarks, and whose they are."""
    is_same = ctx.triggered_id == own.KEPT
    return *_what_changed(player), no_update if is_same else player


def _what_changed(player: str | None) -> tuple[Any, Any]:
    """Return what changed since the last lesson, and the newest remarks."""
    if player is None:
        return None, None
    log, player_id = desk().log, int(player)
    return _changed(log, player_id), _remarks(log, player_id)


def show_evidence(player: str | None) -> Any:
    """Return the two or three things that the pupil's shots support."""
    from cue_dashboard.evidence import evidence  # heavy

    if player is None:
        return no_update
    log, player_id = desk().log, int(player)

    def weigh() -> "Evidence":
        called = log.called_columns(player_id, since_utc=pupil_since(log, player_id))
        return evidence(pupil_shots(log, player_id), called)

    return _evidence(log.kept(("evidence", player_id), weigh), player_id)


def _places(player: str | None) -> html.Div:
    """Return where everything about the pupil goes, with what needs no long sums."""
    changed, remarks = _what_changed(player)
    weighed = card(
        html.H2(say.EVIDENCE_TITLE),
        html.P(id=own.WEIGHING, role="status", className="quiet"),
        html.Div(id=own.EVIDENCE, className="stack"),
    )
    left = [
        dcc.Store(id=own.CHANGED_OF, data=player),
        html.Div(changed, id=own.CHANGED),
        weighed,
        html.Div(remarks, id=own.REMARKS),
    ]
    lessons, times = coach_lessons.show_lessons(player, None)
    right = [
        coach_lessons.form_card(times),
        coach_print.print_card(),
        coach_lessons.lessons_card(lessons),
    ]
    return html.Div(
        [html.Div(left, className="stack"), html.Div(right, className="stack")],
        className="columns halves below",
    )


def _pupil_label(log: PracticeLog, player: "Player") -> str:
    """Return a pupil with how much they played since their last lesson."""
    lesson = next(iter(log.lessons(player.player_id)), None)
    since = None if lesson is None else lesson.held_utc
    shots = n_shots_text(log.count_shots(player_id=player.player_id, since_utc=since))
    if lesson is None:
        return say.PUPIL_NEW.format(name=player.nickname, n=shots)
    when = day_text(lesson.held_utc)
    return say.PUPIL_LABEL.format(name=player.nickname, n=shots, when=when)


def n_shots_text(n_shots: int) -> str:
    """Return a number of shots in words."""
    return say.ONE_SHOT if n_shots == 1 else say.SHOTS.format(n=n_shots)


def _changed(log: PracticeLog, player_id: int) -> Any:
    """Return what changed since the last lesson, compared with the time before it."""
    title, lessons = html.H2(say.CHANGED_TITLE), log.lessons(player_id)
    if not lessons:
        return card(title, html.P(say.CHANGED_NONE, className="quiet"))
    last = lessons[0]
    found = since_lesson(log, player_id, [one.held_utc for one in lessons])
    given = [html.P(say.CHANGED_EXERCISE.format(exercise=last.exercise))] if last.exercise else []
    if not len(found.since):
        none = say.CHANGED_NO_SHOTS.format(when=day_text(last.held_utc))
        return card(title, html.P(none), *given)
    count = html.P(_count_words(found, last))
    if not len(found.before):
        return card(title, count, *given, html.P(say.CHANGED_BEFORE_NONE, className="quiet"))
    names = (say.SINCE, say.BEFORE)
    compared = told(compare_shots(found.since, found.before, names), names)
    return card(title, count, *given, *compared)


def _count_words(found: SinceLesson, last: "Lesson") -> str:
    """Return how many shots there are since the last lesson, and how many of them are compared."""
    n_evenings, n_told = len(np.unique(found.since.evening)), len(found.since)
    evenings = say.ONE_EVENING if n_evenings == 1 else say.EVENINGS.format(n=n_evenings)
    words = say.CHANGED_COUNT if n_told == found.n_since else say.CHANGED_COUNT_NEWEST
    return words.format(
        when=day_text(last.held_utc),
        shots=n_shots_text(found.n_since),
        evenings=evenings,
        n_told=n_told,
    )


def _evidence(found: "Evidence", player_id: int) -> list[Any]:
    """Return the points as a numbered list, and what else must be said."""
    if not found.points:
        caveats = [html.P(one, className="quiet small") for one in found.caveats]
        return [html.P(say.EVIDENCE_NONE), *caveats]
    items = []
    for one in found.points:
        link = f"/strokes?player={player_id}&trend=slowing" if one.kind == "slowing" else ""
        more: list[Any] = [" ", dcc.Link(say.SLOWING_LINK, href=link)] if link else []
        items.append(html.Li(children=[one.words, *more]))
    return [
        html.Ol(items, className="points"),
        *[html.P(one, className="quiet small") for one in found.caveats],
        html.P(say.EVIDENCE_HELP, className="help"),
    ]


def _remarks(log: PracticeLog, player_id: int) -> list[Any]:
    """Return the newest remarks on the pupil's strokes, each with the way to its stroke."""
    title = html.H2(say.REMARKS_TITLE)
    remarks = log.remarks_of(player_id)[:N_REMARKS]
    if not remarks:
        return [card(title, html.P(say.REMARKS_NONE, className="quiet"))]
    items = []
    for one in remarks:
        when = day_text(one.added_utc)
        link = dmc.Anchor(
            say.REMARK_LINK,
            href=f"/strokes?shot={one.shot_id}",
            unstyled=True,
            **aria(label=say.REMARK_OF.format(when=when)),
        )
        items.append(
            html.Li([html.Span(one.text), html.Span([when, " ", link], className="quiet small")])
        )
    return [card(title, html.Ul(items, className="said"))]
