"""At the table: start a series, watch the pace, tap what the shot did."""

import json
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ClientsideFunction, Input, Output, dcc, html

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import (
    aria,
    button,
    card,
    figure_box,
    graph,
    mark,
    segments,
)
from cue_dashboard.desk import desk
from cue_dashboard.ids import table as table_ids
from cue_dashboard.pages.first_run import first_guide
from cue_dashboard.pages.table_aids import aids_row, tolerance_card
from cue_dashboard.pages.table_show import lay_out
from cue_dashboard.pages.table_source import source_card
from cue_dashboard.pages.table_start import start_card
from cue_dashboard.pages.table_wire import glance
from cue_dashboard.units import PaceScale, PaceUnit
from cue_dashboard.words import table as table_words
from cue_practice.grades import Grade

PATH = "/"
TITLE = words.TABLE_TITLE


def layout(**_: Any) -> html.Div:
    """Return the page with the cards that are wanted now; the callbacks fill them in."""
    at = desk()
    state, key = glance(at, at.status())
    page = html.Div(
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
                            start_card(),
                            source_card(),
                            aids_row(),
                            _pace_card(),
                            _judge_bar(),
                            _trace_card(),
                        ],
                        className="stack",
                    ),
                    html.Div(
                        [_where_card(), _series_card(), tolerance_card(), _cautions()],
                        className="stack",
                    ),
                ],
                className="columns table-columns",
            ),
        ],
        id=table_ids.PAGE,
        **_for_scripts(key),
    )
    lay_out(page, json.loads(state))
    return page


def _for_scripts(key: str) -> dict[str, Any]:
    """Return what the page's scripts say, what 1 m/s is in each unit, and what the page knows."""
    scales = {unit.value: PaceScale(unit) for unit in PaceUnit}
    return {
        "data-key": key,
        "data-words": json.dumps(table_words.IN_BROWSER),
        "data-scales": json.dumps({unit: scale.factor for unit, scale in scales.items()}),
        "data-digits": json.dumps({unit: scale.digits for unit, scale in scales.items()}),
    }


def register(app: dash.Dash) -> None:
    """Connect the page's own scripts."""
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


def _pace_card() -> html.Section:
    """Return the last pace, read out by screen readers as it changes, and what to try next."""
    return html.Section(
        [
            html.Div(id=ids.TABLE_PACE, **aria(live="polite", atomic="true")),
            _first_look(),
            html.P(id=table_ids.NEXT_PACE, className="next-pace"),
        ],
        id=ids.TABLE_PACE_CARD,
        className="card pace",
        hidden=True,
        **aria(label=words.LAST_PACE),
    )


def _first_look() -> html.Div:
    """Return where a pace stands that is not final yet; screen readers hear the final one only."""
    return html.Div(
        [
            html.P(className="pace-number"),
            html.P(className="pace-unit"),
            html.P(table_words.FIRST_LOOK, className="pace-trend quiet"),
        ],
        id=table_ids.FIRST_LOOK,
        hidden=True,
        **aria(hidden="true"),
    )


def _judge_bar() -> html.Section:
    """Return the three results, what was no shot and Undo, under the thumb on a phone."""
    told = [
        html.Span(id=ids.TABLE_SAID, role="status"),
        html.Span(id=ids.TABLE_WAITING),
    ]
    ask = [html.H2(id=ids.TABLE_ASK), html.P(told, className="quiet told")]
    return card(
        html.Div(
            [
                html.Div(ask, className="ask"),
                button(
                    words.NEXT_SHOT,
                    ids.TABLE_NEXT,
                    kind="plain strong",
                    hidden=True,
                    **_tap("next"),
                ),
                button(words.NO_SHOT_BUTTON, ids.TABLE_NO_SHOT, **_tap("no_shot")),
                button(words.UNDO, ids.TABLE_UNDO, **_tap("undo")),
            ],
            className="ask-row",
        ),
        html.Div([_grade_button(grade) for grade in Grade], className="grades"),
        id=table_ids.JUDGE_BAR,
        kind="judge-bar",
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
    """Return what may be tapped besides the result: potted or missed, and where the white went.

    On a phone it takes the place of the last pace once a result is tapped.
    """
    kinds = [
        {"value": value, "label": label}
        for value, label in zip(("cushion", "stop"), words.WHERE_SHORT, strict=True)
    ]
    asked = segments(
        words.WHERE_TITLE, ids.TABLE_WHERE_KIND, kinds, value="cushion", fullWidth=True, size="md"
    )
    return card(
        html.H2(words.WHERE_TITLE),
        html.Div(
            [
                html.Div([asked, graph(ids.TABLE_PLAN, aspect=1)], className="plan-place"),
                html.Div([_potted_or_missed(), *_plan_helps()], className="plan-side"),
            ],
            className="plan-row",
        ),
        html.P(words.WHERE_HELP, className="help"),
        id=ids.TABLE_WHERE,
        hidden=True,
    )


def _potted_or_missed() -> html.Div:
    """Return the two buttons."""
    return html.Div(
        [
            button(words.POTTED, ids.TABLE_POTTED, kind="choice", **_tap("potted", "yes")),
            button(words.MISSED, ids.TABLE_MISSED, kind="choice", **_tap("potted", "no")),
        ],
        className="pair",
    )


def _plan_helps() -> list[Any]:
    """Return what moves a mark on the plan a little, and what shows more of the table."""
    nudges = [
        button(
            words.NUDGE_SIGN[way],
            ids.TABLE_NUDGE[way],
            **aria(label=words.NUDGE[way]),
            **_tap("nudge", way),
        )
        for way in ids.TABLE_NUDGE
    ]
    return [
        html.Div(nudges, className="nudges"),
        dmc.Switch(id=ids.TABLE_WHOLE, label=words.WHOLE_TABLE, size="lg"),
    ]


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
