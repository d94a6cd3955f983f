"""Pages: every id once, every callback wired to something that is there, empty logs spoken to."""

import json

import dash
import pytest
from dash.development.base_component import Component

from cue_dashboard import app as dashboard
from cue_dashboard import ids, shell, words
from cue_dashboard.series_choice import ANY

PAGES = dashboard._PAGES
EACH_PAGE = pytest.mark.parametrize("page", PAGES, ids=lambda page: page.PATH)


def all_ids(component):
    """Return the ids in a layout, in order, as text."""
    found = [component.id] if hasattr(component, "id") else []
    found += [one.id for one in component._traverse() if hasattr(one, "id")]
    return [json.dumps(one, sort_keys=True) if isinstance(one, dict) else one for one in found]


def labelled_inputs(component):
    """Return (component, label) of everything that takes text or a choice."""
    kinds = {"Select", "NumberInput", "TextInput", "SegmentedControl", "Switch"}
    return [
        (one, getattr(one, "label", None) or getattr(one, "aria-label", None))
        for one in component._traverse()
        if isinstance(one, Component) and one._type in kinds
    ]


@pytest.fixture
def layouts(app, log):
    """Return the layout of every page and of the frame, as served."""
    with app.server.test_request_context():
        return {page.PATH: page.layout() for page in PAGES} | {"frame": shell.layout()}


@EACH_PAGE
def test_no_id_is_used_twice(page, layouts):
    found = all_ids(layouts["frame"]) + all_ids(layouts[page.PATH])
    assert sorted(found) == sorted(set(found))


def test_no_id_is_on_two_pages(layouts):
    found = [one for page in PAGES for one in set(all_ids(layouts[page.PATH]))]
    assert sorted(found) == sorted(set(found))


def ids_in(part):
    """Return every id in an answer as a browser gets it."""
    if isinstance(part, list):
        return {one for each in part for one in ids_in(each)}
    if not isinstance(part, dict):
        return set()
    own = {part["id"]} if isinstance(part.get("id"), str) else set()
    return own | ids_in(list(part.values()))


def test_every_callback_speaks_to_something_that_is_there(app, layouts, wire, series, played):
    there = {one for layout in layouts.values() for one in all_ids(layout)}
    answer = wire.fire(
        f"{ids.PACE_ANSWER}.children",
        (ids.PACE_HEIGHT, "0.0095|0.0000"),
        pace_player=str(series.player_id),
        pace_setup=str(series.setup_id),
        unit="m/s",
        scheme="light",
    )
    there |= ids_in(answer)
    everybody = {"log_player": ANY, "log_series": ANY, "unit": "m/s"}
    there |= ids_in(wire.fire(f"{ids.LOG_SHOTS}.children", (ids.LOG_PAGES, 1), **everybody))
    asked = {
        one["id"]
        for callback in app.callback_map.values()
        for one in (*callback["inputs"], *callback["state"])
        if not one["id"].startswith(("{", "_pages"))
    }
    written = {
        output.rsplit(".", 1)[0]
        for key in app.callback_map
        for output in key.strip(".").split("...")
        if not output.startswith("_pages")
    }
    assert asked | written <= there


def test_every_output_is_written_by_one_callback(app):
    app.server.test_client().get("/")
    outputs = [output for key in app.callback_map for output in key.strip(".").split("...")]
    assert sorted(outputs) == sorted(set(outputs))
    assert not any("@" in output for output in outputs)  # Dash's mark for shared outputs


@EACH_PAGE
def test_every_input_has_a_label(page, layouts):
    inputs = labelled_inputs(layouts[page.PATH])
    assert inputs or page.PATH == "/share"  # which has buttons only
    # the called pace gets its label, with the unit of the screen, from a callback
    silent = [one.id for one, label in inputs if not label and one.id != ids.TABLE_START_CALLED]
    assert silent == []


@EACH_PAGE
def test_a_page_is_served_with_its_title(page, app):
    answer = app.server.test_client().get(page.PATH)
    assert answer.status_code == 200
    registered = {one["path"]: one["title"] for one in dash.page_registry.values()}
    assert registered[page.PATH].startswith(page.TITLE)


def test_pages_of_the_navigation_are_the_pages_there_are():
    assert [href for href, _ in words.NAV] == [page.PATH for page in PAGES]


@EACH_PAGE
def test_every_page_is_marked_once_in_the_row_and_once_on_a_phone(page):
    for places in shell.links(page.PATH):
        anchors = [one for one in places._traverse() if hasattr(one, "href")]
        assert [one.href for one in anchors] == [href for href, _ in words.NAV]
        marked = [one.href for one in anchors if getattr(one, "aria-current", None) == "page"]
        assert marked == [page.PATH]


def test_two_dashboards_in_one_program_keep_their_own_logs(app, log, tmp_path):
    from cue_dashboard.app import create_app
    from cue_dashboard.desk import desk_of
    from cue_practice.log import PracticeLog

    with PracticeLog(tmp_path / "other.sqlite3") as other:
        second = create_app(other, recordings=())
        assert desk_of(second.server).log is other
        assert desk_of(app.server).log is log


def test_an_empty_log_is_told_what_to_do(wire):
    strokes = wire.fire("strokes-one.children", (ids.SCHEME, "light"), unit="m/s")
    pace = wire.fire("pace-answer.children", (ids.SCHEME, "light"), unit="m/s")
    shots = wire.fire("log-shots.children", (ids.UNIT, "m/s"), log_player="any", log_series="any")
    assert words.STROKES_EMPTY_REMEDY in json.dumps(strokes)
    assert words.PACE_EMPTY_REMEDY in json.dumps(pace)
    assert words.LOG_EMPTY_REMEDY in json.dumps(shots)


def test_the_start_form_says_what_the_log_lacks(layouts):
    said = words.START_EMPTY.format(missing="player, cue and set-up")
    assert said in str(layouts["/"])
