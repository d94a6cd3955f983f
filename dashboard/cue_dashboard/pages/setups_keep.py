"""Set-ups in the log: the list of them, the tables they lie on, and saving."""

from collections.abc import Callable, Sequence
from typing import Any

import dash
import numpy as np
from dash import Input, Output, State, ctx, html, no_update

from cue_dashboard.components.pieces import aria, button
from cue_dashboard.desk import desk
from cue_dashboard.drafts import AreaWish, judged
from cue_dashboard.ids import setups as ids
from cue_dashboard.playing import Playing, playing
from cue_dashboard.words import POCKET_NAME
from cue_dashboard.words import setups as words
from cue_practice.errors import PracticeError
from cue_practice.views import SetUpEntry
from cue_table.errors import TableError
from cue_table.setup import SetUp, TableSize
from cue_table.sizes import TABLE_SIZES

Wished = Callable[..., tuple[SetUp, AreaWish] | None]

_TABLE, _SIZE = "table:", "size:"


def table_choices() -> list[dict[str, str]]:
    """Return the tables of the log, then the usual sizes a new one may have."""
    known = [{"value": table_value(one.table_id), "label": one.name} for one in desk().log.tables()]
    sizes = [
        {"value": f"{_SIZE}{name}", "label": words.NEW_TABLE.format(size=name)}
        for name in TABLE_SIZES
    ]
    return known + sizes


def table_value(table_id: int) -> str:
    """Return the choice that means a table of the log."""
    return f"{_TABLE}{table_id}"


def size_of(choice: str) -> TableSize:
    """Return the size of the table that was chosen."""
    if choice.startswith(_SIZE):
        return TABLE_SIZES[choice.removeprefix(_SIZE)]
    table_id = int(choice.removeprefix(_TABLE))
    return next(one.size for one in desk().log.tables() if one.table_id == table_id)


def playing_on(choice: str, player: str | None) -> Playing:
    """Return how a player plays on the table that was chosen."""
    known = choice.startswith(_TABLE)
    return playing(desk().log, player, int(choice.removeprefix(_TABLE)) if known else None)


def register(app: dash.Dash, on_page: Sequence[State], wished: Wished) -> None:
    """Connect the list and the two buttons that save."""

    def save_page(_save: int | None, _new: int | None, edited: int | None, *page: Any) -> Any:
        return save(wished(*page), page[1], None if ctx.triggered_id == ids.SAVE_NEW else edited)

    app.callback(
        Output(ids.SAID, "children"),
        Output(ids.KEPT, "data"),
        Input(ids.SAVE, "n_clicks"),
        Input(ids.SAVE_NEW, "n_clicks"),
        State(ids.EDITED, "data"),
        *on_page,
        prevent_initial_call=True,
    )(save_page)
    app.callback(
        Output(ids.LIST, "children"),
        Input(ids.KEPT, "data"),
        Input(ids.EDITED, "data"),
    )(lambda _kept, edited: list_items(edited))


def save(found: tuple[SetUp, AreaWish] | None, table: str, edited: int | None) -> tuple[Any, Any]:
    """Keep a set-up, as the one that is edited or as a new one; say so, or what is wrong."""
    if found is None:
        return no_update, no_update
    setup, wish = found
    if not setup.name:
        return words.NAME_MISSING, no_update
    # the stroke does not matter here: only the area that belongs to the set-up
    whole = judged(setup, wish, tip_speed_m_s=1.0, below_centre_m=0.0, side_m=0.0)
    try:
        # nothing is entered, a new table least of all, before the set-up is known to make sense
        whole.setup.check()
        entry = _entered(whole.setup, table, edited)
    except (PracticeError, TableError) as fault:
        return str(fault), no_update
    kept = [entry.setup_id, table_value(entry.table_id)]
    return words.SAVED.format(name=entry.name), kept


def _entered(setup: SetUp, table: str, edited: int | None) -> SetUpEntry:
    """Return the entry a set-up was kept as."""
    log = desk().log
    if edited is not None and table == table_value(log.setup(edited).table_id):
        return log.update_setup(edited, setup)
    if table.startswith(_SIZE):
        size = table.removeprefix(_SIZE)
        return log.add_setup(setup, _new_table(size, setup.table))
    return log.add_setup(setup, int(table.removeprefix(_TABLE)))


def _new_table(size: str, dimensions: TableSize) -> int:
    """Return the table of the log that a size stands for, entered where it is not there yet."""
    name = words.NEW_TABLE_NAME.format(size=size)
    known = {one.name: one for one in desk().log.tables()}
    table = known.get(name) or desk().log.add_table(name, size=dimensions)
    return table.table_id


def list_items(edited: int | None) -> Any:
    """Return the set-ups of the log, each with a button that opens it."""
    log = desk().log
    tables = {one.table_id: one.name for one in log.tables()}
    played = log.series_by_setup()
    rows = [
        _row(entry, tables[entry.table_id], played.get(entry.setup_id, 0), entry.setup_id == edited)
        for entry in log.setups()
    ]
    if not rows:
        return html.P(words.LIST_EMPTY, className="quiet")
    return html.Ul(rows, className="setups-list")


def _row(entry: SetUpEntry, table: str, n_series: int, is_open: bool) -> html.Li:
    """Return one set-up of the list."""
    setup = entry.setup
    facts = words.LIST_ROW.format(
        table=table,
        cut=np.degrees(setup.cut_angle_rad),
        travel=setup.travel_m,
        pocket=POCKET_NAME[setup.pocket].lower(),
    )
    series = words.LIST_SERIES.format(n=n_series) if n_series else words.LIST_SERIES_NONE
    return html.Li(
        [
            html.Div(
                [
                    html.Div(entry.name, className="setups-open-name"),
                    html.Div(f"{facts} \u00b7 {series}", className="quiet small"),
                ]
            ),
            button(
                words.LIST_OPEN,
                {"part": ids.OPEN, "setup": entry.setup_id},
                **aria(label=words.LIST_OPEN_WHICH.format(name=entry.name)),
            ),
        ],
        **aria(current="true" if is_open else None),
    )
