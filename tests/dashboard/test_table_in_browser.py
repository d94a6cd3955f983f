"""At the table in a real browser: a tap on the plan is seen before it is answered."""

import threading

import pytest
from in_chromium import needs_chromium, started

from cue_dashboard import ids, words
from cue_dashboard.figures.plan import BALL_RADIUS_M
from cue_dashboard.listen import Listener
from cue_dashboard.pages import table_wire
from cue_dashboard.pages.table_actions import Tapped
from cue_practice.grades import Grade
from cue_table.setup import FULL_SIZE

pytestmark = needs_chromium

MARKS = """
const drawn = document.querySelector('#table-plan .js-plotly-plot');
return drawn.data.filter(one => one.name === arguments[0]).map(one => [
  one.x[0], one.y[0],
  [...drawn.querySelectorAll('.textpoint text')].map(text => text.textContent.trim())]);
"""
"""Where the plan shows marks of a kind, and the names that are written on it."""


@pytest.fixture(scope="module")
def tab(tmp_path_factory):
    with started("", tmp_path_factory.mktemp("chromium")) as browser:
        browser.size("phone")
        yield browser


class Answers:
    """What the server does with a tap, once it may."""

    def __init__(self, monkeypatch):
        self.may, self.fault = threading.Event(), ""
        do = table_wire.do_tap

        def answer(at, tap):
            assert self.may.wait(30)
            return Tapped(self.fault) if self.fault else do(at, tap)

        monkeypatch.setattr(table_wire, "do_tap", answer)


@pytest.fixture
def answers(monkeypatch):
    made = Answers(monkeypatch)
    yield made
    made.may.set()


@pytest.fixture
def browser(app, play, answers, tab):
    """Return the browser at the table, a result just tapped, with the plan in sight."""
    play((2.0, Grade.RIGHT))
    listener = Listener(app.server)
    tab.address = listener.address
    tab.open("/")
    tab.shown(f"#{ids.TABLE_PLAN} .main-svg")
    tab.settled()
    yield tab
    answers.may.set()
    assert tab.complaints() == []
    tab.driver.get("about:blank")
    listener.stop()


def marks(browser, name):
    return browser.ask(MARKS, name)


def said(browser, text):
    """Wait until the page says something after a tap."""
    browser.until(
        "return document.getElementById(arguments[0]).innerText.includes(arguments[1])",
        ids.TABLE_SAID,
        text,
    )


def drawn(browser, name):
    """Wait until a mark of a kind is there and return its place and the names on the plan."""
    (found,) = browser.until(f"const found = (() => {{{MARKS}}})(...arguments);"
                             "return found.length ? found : null", name)  # fmt: skip
    return found


def test_the_mark_stands_at_once_and_the_log_has_it_where_it_was_drawn(browser, answers, log):
    kept = {}
    for kind, name, place in (
        ("cushion", words.PLAN_CUSHION, (0.95, 0.4)),
        ("stop", words.PLAN_STOP, (0.6, 0.6)),
    ):
        answers.may.clear()
        browser.tap_plan(*place)
        x, y, written = drawn(browser, name)
        assert name in written
        assert getattr(log.shots()[0], f"{kind}_point_m") is None
        answers.may.set()
        browser.settled()
        assert marks(browser, name) == [[x, y, written]]
        kept[kind] = (x, y)
        browser.picture(f"table-tapped-{kind}")
    shot = log.shots()[0]
    assert kept["cushion"][0] == pytest.approx(FULL_SIZE.width_m - BALL_RADIUS_M)
    assert shot.cushion_point_m == pytest.approx(kept["cushion"])
    assert shot.stop_point_m == pytest.approx(kept["stop"])


def test_a_refused_tap_takes_its_mark_away_and_brings_back_the_one_before(browser, answers, log):
    shot_id, answers.fault = log.shots()[0].shot_id, "Not now."
    browser.tap_plan(0.3, 0.5)
    drawn(browser, words.PLAN_CUSHION)
    answers.may.set()
    said(browser, answers.fault)
    browser.settled()
    assert marks(browser, words.PLAN_CUSHION) == []
    assert log.shot(shot_id).cushion_point_m is None
    log.set_result(shot_id, cushion_point_m=(0.2, 0.03))
    before = drawn(browser, words.PLAN_CUSHION)
    browser.ask(f"document.querySelector('#{ids.TABLE_WHERE_KIND} input[value=cushion]').click()")
    browser.settled()
    answers.fault = "Nor now."
    answers.may.clear()
    browser.tap_plan(0.95, 0.5)
    browser.until(f"return (() => {{{MARKS}}})(...arguments)[0][0] > 1", words.PLAN_CUSHION)
    answers.may.set()
    said(browser, answers.fault)
    browser.settled()
    assert marks(browser, words.PLAN_CUSHION) == [before]
