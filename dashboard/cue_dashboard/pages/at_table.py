"""At the table: start a series, watch the pace, tap what the shot did."""

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import Input, Output, State, dcc, html, no_update

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
from cue_dashboard.figures.live import TRACE_HEIGHT_PX
from cue_dashboard.units import MM_PER_M, tips_text
from cue_practice.grades import Grade
from cue_practice.views import Series, SetUpEntry

PATH = "/"
TITLE = words.TABLE_TITLE

TICK_MS = 200
TRACE_TICK_MS = 100
USUAL_TIP_MM = 9.5
"""One tip below centre, where a first series starts; common practice, no source."""


def layout(**_: Any) -> html.Div:
    """Return the page; what depends on the log is filled in by the callbacks."""
    return html.Div(
        [
            html.H1(words.TABLE_TITLE, className="only-read"),
            dcc.Interval(id=ids.TABLE_TICK, interval=TICK_MS),
            dcc.Interval(id=ids.TABLE_TRACE_TICK, interval=TRACE_TICK_MS, max_intervals=0),
            dcc.Store(id=ids.TABLE_DESK),
            dcc.Store(id=ids.TABLE_ACT),
            dcc.Store(id=ids.TABLE_PICK),
            dcc.Store(id=ids.TABLE_MARKED),
            dcc.Store(id=ids.TABLE_SHOWN),
            dcc.Store(id=ids.TABLE_STARTED),
            dcc.Store(id=ids.TABLE_SOURCED),
            dcc.Store(id=ids.TABLE_TRACE_CURSOR),
            html.Div(
                [
                    html.Div(
                        [
                            _start_card(),
                            _source_card(),
                            _pace_card(),
                            _judge_card(),
                            _trace_card(),
                        ],
                        className="stack",
                    ),
                    html.Div(
                        [_where_card(), _series_card(), _cautions()],
                        className="stack",
                    ),
                ],
                className="columns table-columns",
            ),
        ]
    )


def register(app: dash.Dash) -> None:
    """Connect the form that starts a series."""
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
        *_what_is_missing(),
        *_start_fields(last, log.setups()),
        html.P(id=ids.TABLE_START_FAULT, className="fault", role="alert"),
        button(words.START, ids.TABLE_START_BUTTON, kind="choice strong"),
        id=ids.TABLE_START,
        hidden=True,
    )


def _what_is_missing() -> list[html.P]:
    """Return what has to be in the log before a series can be started."""
    log = desk().log
    lists = ((words.PLAYER, log.players()), (words.CUE, log.cues()), (words.SETUP, log.setups()))
    missing = [name.lower() for name, entries in lists if not entries]
    if not missing:
        return []
    return [html.P(words.START_EMPTY.format(missing=words.listed(missing)), className="fault")]


def _start_fields(last: Series | None, setups: list[SetUpEntry]) -> list[Any]:
    """Return the fields of the form."""
    players = [{"value": str(p.player_id), "label": p.nickname} for p in desk().log.players()]
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


def _judge_card() -> html.Section:
    """Return the three results, potted or missed, and the way back."""
    return card(
        html.Div([html.H2(id=ids.TABLE_ASK), html.Span(id=ids.TABLE_WAITING, className="quiet")],
                 className="ask"),
        html.Div([_grade_button(grade) for grade in Grade], className="grades"),
        html.Div(
            [
                button(words.POTTED, ids.TABLE_POTTED, kind="choice"),
                button(words.MISSED, ids.TABLE_MISSED, kind="choice"),
            ],
            className="pair",
        ),
        button(words.NEXT_SHOT, ids.TABLE_NEXT, kind="choice strong", hidden=True),
        html.Div(
            [
                button(words.UNDO, ids.TABLE_UNDO),
                button(words.NO_SHOT_BUTTON, ids.TABLE_NO_SHOT),
            ],
            className="row",
        ),
        html.P(id=ids.TABLE_SAID, className="quiet said", role="status"),
        id=ids.TABLE_JUDGE,
        hidden=True,
    )  # fmt: skip


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
    )


def _source_card() -> html.Section:
    """Return where strokes come from."""
    recordings = [{"value": str(k), "label": r.label} for k, r in enumerate(desk().recordings)]
    return card(
        html.Div(
            [
                html.Span(id=ids.TABLE_STATE, role="status"),
                button(words.STOP_SOURCE, ids.TABLE_STOP, hidden=True),
            ],
            className="spread middle",
        ),
        html.Div(
            [
                html.H2(words.SOURCE_TITLE),
                segments(
                    words.SOURCE_TITLE,
                    ids.TABLE_SOURCE_KIND,
                    [
                        {"value": "rehearsal", "label": words.SOURCE_REHEARSAL},
                        {"value": "sensor", "label": words.SOURCE_SENSOR},
                    ],
                    value="rehearsal",
                    fullWidth=True,
                    size="md",
                ),
                html.Div(
                    [
                        select(words.RECORDING, ids.TABLE_RECORDING, data=recordings, value=None),
                        segments(
                            words.SPEED,
                            ids.TABLE_SPEED,
                            [
                                {"value": "1", "label": words.SPEED_REAL},
                                {"value": "4", "label": words.SPEED_FAST},
                            ],
                            value="1",
                            fullWidth=True,
                        ),
                        button(words.REHEARSE, ids.TABLE_REHEARSE, kind="choice strong"),
                    ],
                    id=ids.TABLE_SOURCE_REHEARSAL,
                    className="stack",
                ),
                html.P(words.SOURCE_SENSOR_LATER, id=ids.TABLE_SOURCE_LATER, hidden=True),
            ],
            id=ids.TABLE_SOURCE_CHOICE,
            className="stack",
        ),
        html.P(id=ids.TABLE_SOURCE_FAULT, className="fault", role="alert"),
        id=ids.TABLE_SOURCE,
        hidden=True,
    )


def _where_card() -> html.Section:
    """Return the plan that takes taps."""
    kinds = [
        {"value": "cushion", "label": words.WHERE_CUSHION},
        {"value": "stop", "label": words.WHERE_STOP},
    ]
    nudges = [
        button(words.NUDGE_SIGN[way], ids.TABLE_NUDGE[way], **aria(label=words.NUDGE[way]))
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
    """Return the live trace."""
    return card(
        figure_box(
            words.TRACE_TITLE, words.TRACE_HELP, graph(ids.TABLE_TRACE, height_px=TRACE_HEIGHT_PX)
        ),
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
