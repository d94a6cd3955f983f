"""A device that may only look, in a real browser: nothing that it sees would be refused."""

import dash
import flask
import pytest
from in_chromium import needs_chromium, started
from selenium.webdriver.common.by import By

from cue_dashboard import ids
from cue_dashboard.ids import coach, log_shot, sensor, setups, strokes, taking_in
from cue_dashboard.looking import OnlyLooksError

pytestmark = needs_chromium

SEEN = """
const seen = e => e.getClientRects().length && getComputedStyle(e).visibility !== 'hidden';
const within = [...document.querySelectorAll('main ' + arguments[0])].filter(seen);
"""
PRESS = f"""{SEEN}
window.pressed = window.pressed || new Set();
const name = e => (e.id || (e.closest('[id]') || {{}}).id) + ': ' + e.innerText;
const next = within.find(e => !e.disabled && !window.pressed.has(name(e)));
if (!next) return null;
window.pressed.add(name(next));
next.click();
return name(next);
"""
UNFOLD = "document.querySelectorAll('main details').forEach(one => { one.open = true; })"
WRITABLE = "input:not([type=hidden]):not([type=radio]):not([type=checkbox])"
FILTERS = {
    ids.LOG_PLAYER, ids.LOG_SERIES, ids.PACE_PLAYER, ids.PACE_SETUP,
    ids.STROKES_PLAYER, ids.STROKES_SERIES, ids.STROKES_GRADE, strokes.TREND,
    coach.PLAYER, coach.QUESTION, sensor.CUE,
    "progress-player", "progress-beside", "progress-over",
}  # fmt: skip
TRIED = {
    setups.TABLE, setups.POCKET, setups.CHOSEN, setups.ACROSS, setups.UP,
    setups.TIP, setups.SIDE, setups.PLAYED_BY,
}  # fmt: skip
"""Fields that a guest may fill in: what they change is on the guest's own screen only."""
CHANGING = {
    "/": [*ids.TABLE_GRADE.values(), ids.TABLE_UNDO, ids.TABLE_END, ids.TABLE_PLAN],
    "/coach": [coach.TEXT, coach.EXERCISE, coach.SAVE],
    "/log": [log_shot.UNDO, log_shot.REDO, ids.add_button("cue"), taking_in.BUTTON],
    "/sensor": [sensor.RESTS_START, sensor.ROLL_START, sensor.FROM_BUTT],
    "/setups": [setups.SAVE, setups.SAVE_NEW, setups.NAME],
    "/strokes": [strokes.REMARK_TEXT, strokes.REMARK_SAVE],
}


@pytest.fixture(scope="module")
def tab(tmp_path_factory):
    with started("", tmp_path_factory.mktemp("chromium")) as browser:
        yield browser


@pytest.fixture
def refused(monkeypatch):
    """Return a list that fills with what was asked for and refused."""
    found = []

    def note(fault):
        super(OnlyLooksError, fault).__init__("only looks")
        found.append((flask.request.path, flask.request.get_json(silent=True)))

    monkeypatch.setattr(OnlyLooksError, "__init__", note)
    return found


@pytest.fixture
def enter(tab, door, series, played, log):
    """Return a function that lets the browser in: to change things, or to look only."""
    log.add_remark(played[-1].shot_id, "steered")
    log.add_lesson(series.player_id, text="hold the bridge still")

    def let_in(*, may_change):
        tab.address = door.address
        tab.driver.delete_all_cookies()
        token = door.sharing.invite(may_change=may_change)
        tab.open(f"/join?k={token}")
        tab.driver.find_element(By.TAG_NAME, "button").click()
        tab.until("return location.pathname === '/'")
        return tab

    yield let_in
    tab.driver.get("about:blank")  # hangs up
    tab.complaints()


def paths():
    """Return the paths of all pages."""
    return sorted(one["path"] for one in dash.page_registry.values())


def open_all(browser, path):
    """Open a page, and whatever is folded up on it."""
    browser.open(path)
    browser.settled()
    browser.ask(UNFOLD)


def seen(browser, selector):
    """Return the ids of what can be seen of a kind."""
    return set(browser.ask(f"{SEEN} return within.map(e => e.id)", selector))


def test_nothing_that_a_guest_can_press_or_fill_in_is_refused(enter, refused):
    guest, n_pressed, fields = enter(may_change=False), 0, set()
    for path in paths():
        guest.size("phone")
        open_all(guest, path)
        fields |= seen(guest, WRITABLE) | seen(guest, "textarea")
        guest.picture(f"looks-only-{path.strip('/') or 'start'}")
        while guest.ask(PRESS, "button"):
            n_pressed += 1
        guest.settled()
        assert not seen(guest, "[data-tap], [data-press]")
        assert [one for one in CHANGING.get(path, ()) if seen(guest, f"#{one}")] == []
    assert n_pressed > 20
    assert refused == []
    assert guest.complaints() == []  # of a tap that the wire refused
    assert fields <= FILTERS | TRIED
    guest.open("/log")
    guest.settled()
    guest.ask("document.getElementById(arguments[0]).click()", log_shot.UNDO)  # hidden as it is
    guest.settled()
    assert len(refused) == 1


def test_what_changes_something_is_there_for_those_who_may(enter):
    browser = enter(may_change=True)
    browser.size("phone")
    for path, changing in CHANGING.items():
        open_all(browser, path)
        assert [one for one in changing if not seen(browser, f"#{one}")] == []
