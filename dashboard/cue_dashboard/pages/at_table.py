"""At the table: start a series, watch the pace, tap what the shot did."""

import json
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ClientsideFunction, Input, Output, State, dcc, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import (
    aria,
    button,
    card,
    figure_box,
    graph,
    mark,
    number,
    segments,
    select,
)
from cue_dashboard.desk import desk
from cue_dashboard.ids import table as table_ids
from cue_dashboard.pages.first_run import first_guide
from cue_dashboard.pages.table_source import source_card
from cue_dashboard.units import MM_PER_M, PaceScale, PaceUnit, tips_text
from cue_dashboard.words import table as table_words
from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_practice.views import Series, SetUpEntry

PATH = "/"
TITLE = words.TABLE_TITLE

_KEPT: dict[str, Any] = {"persistence": True, "persistence_type": "local"}
"""Kept by the browser, not by the log: another player's phone is another matter."""
USUAL_TIP_MM = 9.5
"""One tip below centre, where a first series starts; common practice, no source."""


def layout(**_: Any) -> html.Div:
    """Return the page; what depends on the log is filled in by the callbacks."""
    return html.Div(
        [
            html.H1(words.TABLE_TITLE, className="only-read"),
            dcc.Store(id=ids.TABLE_DESK),
            dcc.Store(id=table_ids.KEPT),
            dcc.Store(id=ids.TABLE_PICK),
            dcc.Store(id=ids.TABLE_MARKED),
            dcc.Store(id=ids.TABLE_SHOWN),
            dcc.Store(id=ids.TABLE_STARTED),
            dcc.Store(id=ids.TABLE_SOURCED),
            html.P(id=table_ids.AWAY, className="away", role="alert", hidden=True),
            html.Div(
                [
                    html.Div(
                        [
                            first_guide(),
                            _start_card(),
                            source_card(),
                            _pace_card(),
                            *_judge_cards(),
                            _trace_card(),
                        ],
                        className="stack",
                    ),
                    html.Div(
                        [_where_card(), _series_card(), _aids_card(), _cautions()],
                        className="stack",
                    ),
                ],
                className="columns table-columns",
            ),
        ],
        id=table_ids.PAGE,
        **_for_scripts(),
    )


def _for_scripts() -> dict[str, Any]:
    """Return what the page's scripts say, and what 1 m/s is in each unit of the screen."""
    scales = {unit.value: PaceScale(unit).factor for unit in PaceUnit}
    return {"data-words": json.dumps(table_words.IN_BROWSER), "data-scales": json.dumps(scales)}


def register(app: dash.Dash) -> None:
    """Connect the form that starts a series, and the page's own scripts."""
    app.clientside_callback(
        ClientsideFunction("table", "keep"),
        Output(table_ids.KEPT, "data"),
        Input(ids.TABLE_SHOWN, "data"),
        Input(ids.TABLE_WHERE_KIND, "value"),
        Input(ids.UNIT, "value"),
        Input(ids.TABLE_PLAN, "clickData"),
        Input(ids.TABLE_STARTED, "data"),
        Input(ids.TABLE_SOURCED, "data"),
    )
    app.clientside_callback(
        ClientsideFunction("table", "aids"),
        Output(table_ids.AIDS_NOTE, "children"),
        Input(table_ids.SAY, "checked"),
        Input(table_ids.TONE, "checked"),
        Input(table_ids.AWAKE, "checked"),
    )
    app.callback(
        Output(ids.TABLE_START_CUE, "data"),
        Output(ids.TABLE_START_CUE, "value"),
        Input(ids.TABLE_START_PLAYER, "value"),
        State(ids.TABLE_START_CUE, "value"),
    )(offer_cues)
    app.callback(
        Output(ids.TABLE_START_TIP_WORDS, "children"),
        Input(ids.TABLE_START_TIP, "value"),
        Input(ids.TABLE_START_CUE, "value"),
    )(say_tips)
    app.callback(Output(ids.TABLE_START_CALLED, "label"), Input(ids.UNIT, "value"))(label_called)


def offer_cues(player: str | None, chosen: str | None) -> tuple[Any, Any]:
    """Return the cues of a player, the chosen one kept where it is among them."""
    if player is None:
        return [], None
    offered = [
        {"value": str(cue.cue_id), "label": cue.name} for cue in desk().log.cues(int(player))
    ]
    values = [one["value"] for one in offered]
    return offered, chosen if chosen in values else next(iter(values), None)


def say_tips(tip_mm: Any, cue: str | None) -> str:
    """Return the tip height in tips of the chosen cue."""
    if not isinstance(tip_mm, int | float):
        return ""
    width_m = next(
        (one.tip_width_m for one in desk().log.cues() if str(one.cue_id) == cue), USUAL_TIP_MM / 1e3
    )
    return tips_text(tip_mm / MM_PER_M, width_m)


def label_called(unit: str) -> Any:
    """Return the label of the called pace in the unit of the screen."""
    return words.CALLED_PACE.format(unit=unit) if unit else no_update


def _start_card() -> html.Section:
    """Return the form that starts a series, filled in as the last one was."""
    log = desk().log
    last = next(iter(log.all_series()), None)
    return card(
        html.H2(words.START_TITLE),
        html.P(words.START_HELP, className="quiet"),
        html.Div(what_is_missing(), id=ids.TABLE_START_MISSING),
        html.Div(
            [
                *_start_fields(last, log.setups()),
                html.P(id=ids.TABLE_START_FAULT, className="fault", role="alert"),
                button(words.START, ids.TABLE_START_BUTTON, kind="choice strong"),
            ],
            id=table_ids.START_FIELDS,
            className="stack",
            hidden=bool(what_is_missing()),
        ),
        id=ids.TABLE_START,
        hidden=True,
    )


def what_is_missing() -> list[html.P]:
    """Return what has to be in the log before a series can be started."""
    log = desk().log
    lists = ((words.PLAYER, log.players()), (words.CUE, log.cues()), (words.SETUP, log.setups()))
    missing = [name.lower() for name, entries in lists if not entries]
    if not missing:
        return []
    return [html.P(words.START_EMPTY.format(missing=words.listed(missing)), className="fault")]


def player_choice(log: PracticeLog) -> list[dict[str, str]]:
    """Return the players for a choice."""
    return [{"value": str(one.player_id), "label": one.nickname} for one in log.players()]


def _start_fields(last: Series | None, setups: list[SetUpEntry]) -> list[Any]:
    """Return the fields of the form."""
    players = player_choice(desk().log)
    player = str(last.player_id) if last else next((p["value"] for p in players), None)
    setup = str(last.setup_id) if last else next((str(s.setup_id) for s in setups), None)
    tip_mm = last.tip_below_centre_m * MM_PER_M if last else USUAL_TIP_MM
    return [
        html.Div(
            [
                select(words.PLAYER, ids.TABLE_START_PLAYER, data=players, value=player),
                select(
                    words.CUE,
                    ids.TABLE_START_CUE,
                    data=[],
                    value=str(last.cue_id) if last else None,
                ),
            ],
            className="field-row",
        ),
        select(words.SETUP, ids.TABLE_START_SETUP, data=setups_by_table(setups), value=setup),
        html.Div(
            [
                html.Div(
                    [
                        number(
                            words.TIP_HEIGHT,
                            ids.TABLE_START_TIP,
                            value=round(tip_mm, 2),
                            min=-26,
                            max=26,
                            step=0.5,
                            description=words.TIP_HEIGHT_HELP,
                        ),
                        html.P(id=ids.TABLE_START_TIP_WORDS, className="quiet"),
                    ]
                ),
                number(
                    "",
                    ids.TABLE_START_CALLED,
                    min=0,
                    step=0.1,
                    description=words.CALLED_PACE_HELP,
                ),
            ],
            className="field-row",
        ),
    ]


def setups_by_table(setups: list[SetUpEntry]) -> list[dict[str, Any]]:
    """Return the set-ups for a choice, grouped by the table they are marked on."""
    return [
        {
            "group": table.name,
            "items": [
                {"value": str(one.setup_id), "label": one.name}
                for one in setups
                if one.table_id == table.table_id
            ],
        }
        for table in desk().log.tables()
        if any(one.table_id == table.table_id for one in setups)
    ]


def _pace_card() -> html.Section:
    """Return the last pace, read out by screen readers as it changes."""
    return html.Section(
        html.Div(id=ids.TABLE_PACE, **aria(live="polite", atomic="true")),
        id=ids.TABLE_PACE_CARD,
        className="card pace",
        hidden=True,
        **aria(label=words.LAST_PACE),
    )


def _judge_cards() -> list[html.Section]:
    """Return the three results, under the thumb on a phone, and the rest that can be tapped."""
    ask = [html.H2(id=ids.TABLE_ASK), html.Span(id=ids.TABLE_WAITING, className="quiet")]
    bar = card(
        html.Div(ask, className="ask"),
        html.Div([_grade_button(grade) for grade in Grade], className="grades"),
        id=table_ids.JUDGE_BAR,
        kind="judge-bar",
        hidden=True,
    )
    return [bar, _more_taps()]


def _more_taps() -> html.Section:
    """Return potted or missed, the next shot, and the way back."""
    return card(
        html.Div(
            [
                button(words.POTTED, ids.TABLE_POTTED, kind="choice", **_tap("potted", "yes")),
                button(words.MISSED, ids.TABLE_MISSED, kind="choice", **_tap("potted", "no")),
            ],
            className="pair",
        ),
        html.Div(
            [
                button(words.UNDO, ids.TABLE_UNDO, **_tap("undo")),
                button(words.NO_SHOT_BUTTON, ids.TABLE_NO_SHOT, **_tap("no_shot")),
                button(
                    words.NEXT_SHOT,
                    ids.TABLE_NEXT,
                    kind="plain strong",
                    hidden=True,
                    **_tap("next"),
                ),
            ],
            className="row taps",
        ),
        html.P(id=ids.TABLE_SAID, className="quiet said", role="status"),
        id=ids.TABLE_JUDGE,
        hidden=True,
    )


def _tap(what: str, value: str = "") -> dict[str, Any]:
    """Return what tells `assets/table.js` that a button is a tap for the log."""
    return {"data-tap": what, "data-value": value}


def _grade_button(grade: Grade) -> html.Button:
    """Return one of the three result buttons."""
    return html.Button(
        [
            mark(grade),
            html.Span(words.GRADE_NAME[grade], className="grade-name"),
            html.Span(words.GRADE_MEANS[grade], className="grade-means"),
        ],
        id=ids.TABLE_GRADE[grade.value],
        type="button",
        className=f"grade grade-{grade.value.replace('_', '-')}",
        **aria(pressed="false"),
        **_tap("grade", grade.value),
    )


def _where_card() -> html.Section:
    """Return the plan that takes taps."""
    kinds = [
        {"value": "cushion", "label": words.WHERE_CUSHION},
        {"value": "stop", "label": words.WHERE_STOP},
    ]
    nudges = [
        button(
            words.NUDGE_SIGN[way],
            ids.TABLE_NUDGE[way],
            **aria(label=words.NUDGE[way]),
            **_tap("nudge", way),
        )
        for way in ids.TABLE_NUDGE
    ]
    return card(
        figure_box(
            words.WHERE_TITLE,
            words.WHERE_HELP,
            segments(
                words.WHERE_TITLE, ids.TABLE_WHERE_KIND, kinds, value="cushion", fullWidth=True
            ),
            graph(ids.TABLE_PLAN, aspect=1),
            html.Div(
                [
                    html.Div(nudges, className="nudges"),
                    dmc.Switch(id=ids.TABLE_WHOLE, label=words.WHOLE_TABLE, size="lg"),
                ],
                className="spread",
            ),
        ),
        id=ids.TABLE_WHERE,
        hidden=True,
    )


def _series_card() -> html.Section:
    """Return what is held, and a mark for every shot so far."""
    return card(
        html.H2(words.SO_FAR),
        html.Div(id=ids.TABLE_SERIES_WORDS, className="stack"),
        html.Div(id=ids.TABLE_MARKS, className="marks"),
        html.Div([button(words.END_SERIES, ids.TABLE_END)], className="row"),
        id=ids.TABLE_SERIES_CARD,
        hidden=True,
    )


def _trace_card() -> html.Section:
    """Return the live trace; `assets/table_trace.js` draws it."""
    canvas = html.Canvas(id=ids.TABLE_TRACE, className="trace", role="img")
    return card(
        figure_box(table_words.TRACE_TITLE, table_words.TRACE_HELP, html.Div(canvas)),
        id=ids.TABLE_TRACE_CARD,
        hidden=True,
    )


def _aids_card() -> html.Section:
    """Return the switches for voice, tone and screen; the browser keeps them."""
    percents = ("3", "5", "10")
    return card(
        html.Div(
            [
                html.P(table_words.TOLERANCE, className="quiet"),
                segments(
                    table_words.TOLERANCE,
                    table_ids.TOLERANCE,
                    [
                        {"value": one, "label": table_words.TOLERANCE_CHOICE.format(percent=one)}
                        for one in percents
                    ],
                    value="5",
                    fullWidth=True,
                    size="md",
                    **_KEPT,
                ),
            ],
            id=table_ids.TOLERANCE_ROW,
            className="stack tight",
            hidden=True,
        ),
        html.Details(
            [
                html.Summary(table_words.AIDS_TITLE),
                html.Div(
                    [
                        _switch(table_ids.SAY, table_words.SAY, is_on=False),
                        _switch(
                            table_ids.TONE, table_words.TONE, table_words.TONE_HELP, is_on=False
                        ),
                        _switch(table_ids.AWAKE, table_words.AWAKE, is_on=True),
                    ],
                    className="stack",
                ),
            ],
            className="fold",
        ),
        html.P(id=table_ids.AIDS_NOTE, className="quiet small note", role="status"),
        id=table_ids.AIDS,
        hidden=True,
    )


def _switch(switch_id: str, label: str, help_text: str = "", *, is_on: bool) -> dmc.Switch:
    """Return a switch that the browser keeps."""
    return dmc.Switch(
        id=switch_id, label=label, description=help_text or None, checked=is_on, size="lg", **_KEPT
    )


def _cautions() -> html.Details:
    """Return what keeps a player from harm, folded up but always in sight."""
    return html.Details(
        [
            html.Summary(words.CAUTIONS_TITLE),
            html.Ul([html.Li(caution) for caution in words.CAUTIONS], className="small"),
        ],
        id=ids.TABLE_CAUTIONS,
        className="card cautions",
    )
