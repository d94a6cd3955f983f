"""Put the dashboard together: pages, their callbacks, and the log they work on."""

import dash

from cue_dashboard import looking_hides, pupil_sheets, shell, theme, words
from cue_dashboard.air import SensorSource
from cue_dashboard.desk import Desk, LiveSource, Rehearsable, put_desk
from cue_dashboard.door import put_door
from cue_dashboard.looking import refuse_lookers
from cue_dashboard.pages import (
    at_table,
    coach_page,
    first_run,
    log_add,
    log_page,
    pace_page,
    pace_plan,
    progress_page,
    sensor_guides,
    sensor_left,
    sensor_page,
    setups_page,
    share_page,
    strokes_page,
    table_actions,
    table_aids,
    table_pace,
    table_show,
    table_source,
    table_start,
    table_wire,
)
from cue_dashboard.security import CSRF_COOKIE, CSRF_HEADER, guard
from cue_dashboard.static_files import DRAWING, keep_files
from cue_practice.log import PracticeLog

_INDEX = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<title>{%title%}</title>
{%favicon%}
{%css%}
<style>VARIABLES</style>
</head>
<body>
{%app_entry%}
<noscript>NEEDS_SCRIPT</noscript>
<footer>{%config%}{%scripts%}{%renderer%}</footer>
</body>
</html>
"""

_PAGES = (
    at_table,
    strokes_page,
    pace_page,
    setups_page,
    progress_page,
    coach_page,
    sensor_page,
    log_page,
    share_page,
)


_TABLE_PARTS = (
    table_show,
    table_pace,
    table_actions,
    table_aids,
    table_source,
    table_start,
    table_wire,
    first_run,
)
_SENSOR_PARTS = (sensor_guides, sensor_left)


def create_app(
    log: PracticeLog,
    *,
    live_source: LiveSource | None = None,
    recordings: tuple[Rehearsable, ...] | None = None,
    sensor_source: SensorSource | None = None,
) -> dash.Dash:
    """Return the dashboard of a log.

    Parameters
    ----------
    log : PracticeLog
        Open for as long as the dashboard is served.
    live_source : callable, optional
        Makes a source of notifications from a recording's path and a speed; the rehearsal sensor
        if not given.
    recordings : tuple of Rehearsable, optional
        What can be rehearsed; the shipped recordings if not given.
    sensor_source : callable, optional
        Makes a source from a sensor that was chosen; Bluetooth's if not given.

    Returns
    -------
    dash.Dash
        For `cue_dashboard.serve.serve`.
    """
    # pages are entered by hand: found by Dash in their folder, they would run code at import and
    # could not be imported without an app
    app = dash.Dash(
        __package__,
        use_pages=True,
        pages_folder="",
        title=words.NAME,
        update_title="",
        serve_locally=True,
        assets_ignore=DRAWING,
        suppress_callback_exceptions=True,
        csrf_token_name=CSRF_COOKIE,
        csrf_header_name=CSRF_HEADER,
        index_string=_INDEX.replace(
            "VARIABLES", theme.style_sheet() + looking_hides.style_sheet()
        ).replace("NEEDS_SCRIPT", words.NEEDS_SCRIPT),
        meta_tags=[
            {"name": "viewport", "content": "width=device-width, initial-scale=1"},
            {"name": "color-scheme", "content": "light dark"},
        ],
    )
    desk = Desk(log, live_source=live_source, recordings=recordings, sensor_source=sensor_source)
    put_desk(app.server, desk)
    log.ask_before_writing(refuse_lookers)
    put_door(app)
    for page in _PAGES:
        dash.register_page(
            page.__name__, path=page.PATH, title=f"{page.TITLE} · {words.NAME}", layout=page.layout
        )
        page.register(app)
    dash.register_page(
        "cue_dashboard.pages.not_found_404", path="/not-found", layout=shell.not_found
    )
    for part in (*_TABLE_PARTS, *_SENSOR_PARTS, pace_plan, log_add, pupil_sheets, shell):
        part.register(app)
    app.layout = shell.layout
    guard(app)
    keep_files(app.server)
    return app
