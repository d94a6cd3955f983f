"""Log: one series put right in a drawer: what was held, with what, where, and how the cloth was."""

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import Input, Output, State, ctx, dcc, html, no_update

from cue_dashboard import ids, words
from cue_dashboard.components.pieces import button, number, select, text_field
from cue_dashboard.desk import desk
from cue_dashboard.ids import log_series as own
from cue_dashboard.names import when_text
from cue_dashboard.pages.table_start import player_choice, setups_by_table
from cue_dashboard.series_choice import ANY
from cue_dashboard.units import MM_PER_M, PaceScale
from cue_dashboard.words import log_series as say
from cue_practice.errors import PracticeError
from cue_practice.log import PracticeLog

_FIELDS = (
    own.PLAYER,
    own.CUE,
    own.SETUP,
    own.TIP,
    own.SIDE,
    own.CALLED,
    own.CLOTH,
    own.CONDITIONS,
    own.NOTE,
)


def register(app: dash.Dash) -> None:
    """Connect the drawer with the series that is chosen."""
    app.callback(Output(own.OPEN, "hidden"), Input(ids.LOG_SERIES, "value"))(is_none_chosen)
    app.callback(
        Output(own.EDITED, "data"),
        Output(own.DRAWER, "title"),
        Output(own.CALLED, "label"),
        Output(own.DISCARD, "children"),
        *[Output(field, "value") for field in _FIELDS],
        Input(own.OPEN, "n_clicks"),
        State(ids.LOG_SERIES, "value"),
        State(ids.UNIT, "value"),
        prevent_initial_call=True,
    )(open_series)
    app.callback(
        Output(own.SAVED, "data"),
        Output(own.FAULT, "children"),
        Input(own.SAVE, "n_clicks"),
        Input(own.DISCARD, "n_clicks"),
        State(own.EDITED, "data"),
        State(own.SAVED, "data"),
        *[State(field, "value") for field in _FIELDS],
        prevent_initial_call=True,
    )(save_series)
    app.callback(
        Output(own.DRAWER, "opened"),
        Input(own.EDITED, "data"),
        Input(own.SAVED, "data"),
        prevent_initial_call=True,
    )(move_drawer)


def is_none_chosen(series: str | None) -> bool:
    """Return whether no single series is chosen, so that there is none to put right."""
    return series in (None, ANY)


def open_series(clicks: int | None, chosen: str | None, unit: str) -> tuple[Any, ...]:
    """Return what the drawer shows of the series that is chosen."""
    if not clicks or is_none_chosen(chosen):
        return (no_update,) * (4 + len(_FIELDS))
    series, scale = desk().log.series(int(str(chosen))), PaceScale.of(unit)
    called = series.called_pace_m_s
    return (
        {"series": series.series_id, "unit": unit, "n": clicks},
        say.TITLE.format(when=when_text(series.started_utc)),
        words.CALLED_PACE.format(unit=scale.unit),
        say.RESTORE if series.is_discarded else say.DISCARD,
        str(series.player_id),
        str(series.cue_id),
        str(series.setup_id),
        round(series.tip_below_centre_m * MM_PER_M, 2),
        round(series.side_m * MM_PER_M, 2),
        "" if called is None else round(called * scale.factor, 3),
        series.cloth,
        series.conditions,
        series.note,
    )


def save_series(
    _save: Any, _discard: Any, edited: Any, saved: int | None, *fields: Any
) -> tuple[Any, str]:
    """Keep what was put right, or leave the series out, or take it back in."""
    if not edited or not ctx.triggered[0]["value"]:
        return no_update, ""
    log, series_id = desk().log, int(edited["series"])
    try:
        if ctx.triggered_id == own.DISCARD:
            log.edit_series(series_id, is_discarded=not log.series(series_id).is_discarded)
        else:
            _keep(log, series_id, PaceScale.of(edited["unit"]), *fields)
    except PracticeError as fault:
        return no_update, str(fault)
    return (saved or 0) + 1, ""


def move_drawer(_edited: Any, _saved: Any) -> bool:
    """Return whether the drawer is open: it opens with a series and closes when that is saved."""
    return bool(ctx.triggered_id == own.EDITED)


def _keep(log: PracticeLog, series_id: int, scale: PaceScale, *fields: Any) -> None:
    """Keep the fields of the drawer."""
    player, cue, setup, tip_mm, side_mm, called, cloth, conditions, note = fields
    if not all(isinstance(one, int | float) for one in (tip_mm, side_mm)):
        raise PracticeError(say.OPEN_FIELDS)
    is_called = isinstance(called, int | float)
    log.edit_series(
        series_id,
        player_id=int(player),
        cue_id=int(cue),
        setup_id=int(setup),
        table_id=log.setup(int(setup)).table_id,
        tip_below_centre_m=tip_mm / MM_PER_M,
        side_m=side_mm / MM_PER_M,
        called_pace_m_s=called / scale.factor if is_called else None,
        cloth=cloth or "",
        conditions=conditions or "",
        note=note or "",
    )


def series_button() -> html.Button:
    """Return the button that opens the drawer; it shows once a series is chosen."""
    return button(say.OPEN, own.OPEN, hidden=True)


def series_drawer() -> html.Div:
    """Return where a series is put right."""
    log = desk().log
    cues = [{"value": str(one.cue_id), "label": one.name} for one in log.cues()]
    fields = [
        html.P(say.HELP, className="quiet"),
        select(words.PLAYER, own.PLAYER, data=player_choice(log), value=None),
        select(words.CUE, own.CUE, data=cues, value=None),
        select(words.SETUP, own.SETUP, data=setups_by_table(log.setups()), value=None),
        number(
            words.TIP_HEIGHT, own.TIP, min=-26, max=26, step=0.5, description=words.TIP_HEIGHT_HELP
        ),
        number(say.SIDE, own.SIDE, min=-26, max=26, step=0.5, description=say.SIDE_HELP),
        number(
            words.CALLED_PACE.format(unit="m/s"),  # the unit of the screen once it is opened
            own.CALLED,
            min=0,
            step=0.1,
            description=say.CALLED_HELP,
        ),
        text_field(say.CLOTH, own.CLOTH, value="", description=say.CLOTH_HELP),
        text_field(say.CONDITIONS, own.CONDITIONS, value="", description=say.CONDITIONS_HELP),
        text_field(words.NOTE, own.NOTE, value=""),
        html.P(id=own.FAULT, className="fault", role="alert"),
        button(words.SAVE, own.SAVE, kind="choice strong"),
        button(say.DISCARD, own.DISCARD),
    ]
    drawer = dmc.Drawer(
        html.Div(fields, className="stack"),
        id=own.DRAWER,
        opened=False,
        position="right",
        size="md",
        closeButtonProps={"aria-label": words.CLOSE, "size": "xl"},
        keepMounted=True,
    )
    return html.Div([dcc.Store(id=own.EDITED), dcc.Store(id=own.SAVED), drawer])
