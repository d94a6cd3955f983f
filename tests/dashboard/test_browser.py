"""The demo in a real browser, from the first rehearsed stroke to its point on the pace page.

One demo and one Chromium serve all tests here, which run in order; each leaves the console clean
and asks nothing of any other machine.
"""

import contextlib
import json
import os
import queue
import signal
import subprocess
import sys
import threading

import pytest
from in_chromium import SIZES, WAIT_S, needs_chromium, started
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from cue_dashboard import ids, words
from cue_dashboard.ids import coach as coach_ids
from cue_dashboard.ids import progress as progress_ids
from cue_dashboard.ids import strokes as stroke_ids
from cue_dashboard.ids import table as table_ids
from cue_dashboard.theme import DARK, LIGHT

pytestmark = needs_chromium

PATHS = ("/", "/strokes", "/pace", "/progress", "/coach", "/log")
FINGER_PX = 44
"""Smallest target on a phone: WCAG 2.2 asks 24 (AA) and 44 (AAA)."""
DEMO = "from cue_dashboard.cli import main; import sys; sys.argv[1:] = ['demo']; main()"


@pytest.fixture(scope="module")
def address():
    """Start the demo and return where it serves."""
    demo = subprocess.Popen(
        [sys.executable, "-c", DEMO],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env=os.environ | {"COLUMNS": "200"},
    )
    said: queue.Queue[str] = queue.Queue()

    def listen() -> None:
        for line in demo.stdout or ():
            if "http://127.0.0.1:" in line:
                said.put("http://" + line.split("http://")[1].split()[0].rstrip("/"))

    threading.Thread(target=listen, daemon=True).start()
    try:
        yield said.get(timeout=3 * WAIT_S)
    finally:
        demo.send_signal(signal.SIGINT)
        with contextlib.suppress(subprocess.TimeoutExpired):
            demo.wait(15)
        demo.kill()
        demo.wait()
        demo.stdout.close()


@pytest.fixture(scope="module")
def tab(address, tmp_path_factory):
    """Start a browser without a past."""
    with started(address, tmp_path_factory.mktemp("chromium")) as browser:
        yield browser


@pytest.fixture
def browser(tab):
    """Return the browser; whatever a test does, the console stays clean and nothing leaves."""
    yield tab
    assert tab.complaints() == []
    assert tab.asked_elsewhere() == []


def start_series_and_rehearse(browser):
    """Start a series as the last one was, and a recording at four times its speed."""
    browser.open("/")
    browser.until(
        "const e = document.getElementById(arguments[0]); return e && e.value",
        ids.TABLE_START_CUE,
    )
    browser.tap(ids.TABLE_START_BUTTON)
    browser.until(
        "const e = document.getElementById(arguments[0]); return e && e.value",
        ids.TABLE_RECORDING,
    )
    browser.shown(f"#{ids.TABLE_REHEARSE}")
    fast = f"#{ids.TABLE_SPEED} input[value='4']"
    browser.ask("document.querySelector(arguments[0]).click()", fast)
    browser.tap(ids.TABLE_REHEARSE)


def said(browser, text):
    """Wait until the page says what it kept."""
    browser.until(
        "return document.getElementById(arguments[0]).innerText.includes(arguments[1])",
        ids.TABLE_SAID,
        text.lower(),
    )


def test_a_rehearsed_stroke_arrives_and_is_read_out(browser):
    browser.size("phone")
    start_series_and_rehearse(browser)
    browser.shown(f"#{ids.TABLE_PACE} .pace-unit")
    pace = float(browser.text(f"#{ids.TABLE_PACE} .pace-number"))
    assert 0.3 < pace < 5.0
    assert browser.ask(
        "return document.getElementById(arguments[0]).getAttribute('aria-live')", ids.TABLE_PACE
    )
    browser.picture("table-phone")


def test_the_live_trace_moves(browser):
    picture = "return document.getElementById(arguments[0]).toDataURL()"
    before = browser.ask(picture, ids.TABLE_TRACE)
    browser.until(f"{picture} !== arguments[1]", ids.TABLE_TRACE, before)


def mark_says(browser, number, grade):
    """Wait until the mark of a shot says a result."""
    browser.until(
        "const marks = document.querySelectorAll('.shot-mark');"
        "const mark = marks[arguments[0] - 1];"
        "return mark && mark.getAttribute('aria-label').includes(arguments[1])",
        number,
        grade.lower(),
    )


def test_a_stroke_that_comes_while_the_plan_is_tapped_waits_its_turn(browser):
    browser.tap(ids.TABLE_POTTED)
    said(browser, words.POTTED)
    browser.tap_plan(0.95, 0.5)
    said(browser, words.WHERE_CUSHION)
    browser.tap_plan(0.6, 0.6)
    said(browser, words.WHERE_STOP)
    browser.until("return document.querySelectorAll('.shot-mark').length >= 2")
    browser.until(f"return document.getElementById('{ids.TABLE_WAITING}').innerText !== ''")
    assert browser.text(f"#{ids.TABLE_ASK}").startswith("Shot 1")
    browser.picture("table-phone-tapped")


def test_the_result_closes_a_shot_and_the_next_one_is_asked_about(browser):
    browser.tap(ids.TABLE_GRADE["right"])
    mark_says(browser, 1, words.GRADE_NAME["right"])
    browser.until(
        f"return document.getElementById('{ids.TABLE_ASK}').innerText.startsWith('Shot 2')"
    )
    # the plan asks for the new shot's cushion, although the last one's stop was tapped last
    asked = f"#{ids.TABLE_WHERE_KIND} input:checked"
    browser.until(f"return document.querySelector('{asked}').value === 'cushion'")
    browser.picture("table-phone-next")


def test_the_tapped_stroke_is_a_point_on_the_pace_page_also_after_a_reload(browser):
    pressed = browser.ask("return document.querySelector('.shot-mark').id")
    shot = json.loads(pressed)["shot"]
    browser.open("/pace")
    for _ in range(2):
        browser.shown(f"#{ids.PACE_RESULTS} .js-plotly-plot")
        browser.until(
            "const g = document.querySelector('#' + arguments[0] + ' .js-plotly-plot');"
            "return g.data && g.data.length > 5",
            ids.PACE_RESULTS,
        )
        marks = browser.points(ids.PACE_RESULTS, words.GRADE_NAME["right"])
        assert shot in [mark["shot"] for mark in marks]
        browser.driver.refresh()


def test_the_open_series_survives_a_reload(browser):
    browser.open("/")
    browser.shown(f"#{table_ids.JUDGE_BAR}")
    browser.until("return document.querySelectorAll('.shot-mark').length >= 2")
    mark_says(browser, 1, words.GRADE_NAME["right"])
    assert browser.text(f"#{ids.TABLE_ASK}").startswith("Shot 2")  # the oldest that waits


def test_undo_takes_the_last_tap_back(browser):
    browser.tap(ids.TABLE_GRADE["too_much"])
    mark_says(browser, 2, words.GRADE_NAME["too_much"])
    browser.tap(ids.TABLE_UNDO)
    mark_says(browser, 2, words.UNGRADED)


def test_a_stopped_recording_says_so(browser):
    if browser.ask("return document.getElementById(arguments[0]).hidden", ids.TABLE_STOP):
        # on a slow machine it has come to its end meanwhile
        browser.ask(f"document.querySelector('#{ids.TABLE_SOURCE_CHOICE} summary').click()")
        browser.tap(ids.TABLE_REHEARSE)
        browser.shown(f"#{ids.TABLE_STOP}")
    browser.tap(ids.TABLE_STOP)
    browser.until(
        "return document.getElementById(arguments[0]).innerText.includes(arguments[1])",
        ids.TABLE_STATE,
        words.STATE_STOPPED,
    )
    browser.tap_until(ids.TABLE_END, f"#{ids.TABLE_START}")


FILLED = """
const drawn = Array.from(document.querySelectorAll('.js-plotly-plot .main-svg'));
return drawn.every(svg => {
  const place = svg.closest('.dash-graph').getBoundingClientRect();
  const picture = svg.getBoundingClientRect();
  return !place.width || Math.abs(picture.width - place.width) < 2
    && Math.abs(picture.height - place.height) < 2;
});
"""
CUT_OFF = """
return Array.from(document.querySelectorAll('main button, nav a'))
  .filter(e => e.getClientRects().length && !e.querySelector('.cut'))
  .filter(e => e.scrollWidth > e.clientWidth + 1)
  .map(e => e.innerText)
"""
TOO_SMALL = """
return Array.from(document.querySelectorAll('main button:not([class*=mantine]), nav a'))
  .map(e => [e.innerText || e.id, e.getBoundingClientRect()])
  .filter(([_, r]) => r.height && (r.height < arguments[0] || r.width < arguments[0]))
  .map(([name, r]) => [name, r.width, r.height])
"""
READY = {
    "/": f"#{ids.TABLE_START_BUTTON}",
    "/strokes": f"#{ids.STROKES_SPEED_GRAPH} .scatterlayer .trace",
    "/pace": f"#{ids.PACE_PLAN} .scatterlayer .trace",
    "/progress": f"#{progress_ids.GRAPH}-slowing .scatterlayer .trace",
    "/coach": f"#{coach_ids.EVIDENCE} p",
    "/log": f"#{ids.LOG_SHOTS} tr.shot-row",
}


@pytest.mark.parametrize("path", PATHS)
def test_every_page_fits_every_screen_and_finger(browser, path):
    browser.size("phone")
    browser.open(path)
    for device in SIZES:
        width = browser.size(device)
        browser.shown(READY[path])
        browser.until("return document.documentElement.scrollWidth <= arguments[0]", width)
        browser.until(FILLED)
        assert browser.ask(CUT_OFF) == []
        if device == "phone":
            assert browser.ask(TOO_SMALL, FINGER_PX) == []
        browser.picture(f"{path.strip('/') or 'start'}-{device}")


@pytest.mark.parametrize(("is_dark", "palette"), [(False, LIGHT), (True, DARK)])
def test_pages_and_figures_follow_the_scheme_of_the_system(browser, is_dark, palette):
    browser.size("laptop", is_dark=is_dark)
    browser.open("/pace")
    browser.shown(READY["/pace"])
    page, text = browser.ask(
        "return [getComputedStyle(document.body).backgroundColor,"
        "  document.querySelector('#' + arguments[0] + ' .js-plotly-plot').layout.font"
        "  || document.querySelector('#' + arguments[0] + ' .js-plotly-plot')._fullLayout.font]",
        ids.PACE_RESULTS,
    )
    red, green, blue = (int(palette.page[k : k + 2], 16) for k in (1, 3, 5))
    assert page.replace("rgba", "rgb").startswith(f"rgb({red}, {green}, {blue}")
    assert text["color"].lower() == palette.ink
    browser.picture(f"pace-{'dark' if is_dark else 'light'}")


def test_arrow_keys_go_from_stroke_to_stroke(browser):
    browser.size("laptop")
    browser.open("/strokes")
    browser.shown(READY["/strokes"])
    before = browser.text(f"#{ids.STROKES_PLACE}")
    number, total = (int(word) for word in before.split() if word.isdigit())
    assert number == total
    for key, then in ((Keys.ARROW_LEFT, number - 1), (Keys.ARROW_RIGHT, number)):
        browser.driver.find_element(By.TAG_NAME, "body").send_keys(key)
        place = words.STROKE_OF.format(number=then, total=total)
        browser.until(
            "return document.getElementById(arguments[0]).innerText.startsWith(arguments[1])",
            ids.STROKES_PLACE,
            place,
        )


def test_a_tap_on_the_curve_pins_a_remark_to_its_moment(browser):
    curve = browser.shown(f"#{ids.STROKES_SPEED_GRAPH} .nsewdrag")
    browser.ask("arguments[0].scrollIntoView({block: 'center'})", curve)
    ActionChains(browser.driver).move_to_element(curve).click().perform()
    at = "return document.getElementById(arguments[0]).value"
    at_s = float(browser.until(at, stroke_ids.REMARK_AT))
    assert abs(at_s) < 3.0
    text = browser.driver.find_element(By.ID, stroke_ids.REMARK_TEXT)
    text.send_keys("Elbow drops")
    browser.tap(stroke_ids.REMARK_SAVE)
    kept = browser.shown(f"#{stroke_ids.REMARKS} li").text
    assert "Elbow drops" in kept
    assert f"{abs(at_s):.2f}" in kept
    browser.until(
        "const g = document.querySelector('#' + arguments[0] + ' .js-plotly-plot');"
        "return g.data.some(d => d.name === 'remarks' && d.text[0].includes('1'))",
        ids.STROKES_SPEED_GRAPH,
    )


def test_the_links_a_phone_folds_away_open_and_fold_again(browser):
    browser.size("phone")
    browser.open("/log")
    browser.shown(READY["/log"])
    browser.driver.find_element(By.CSS_SELECTOR, ".more summary").click()
    assert browser.shown(".more a[href='/coach']").is_displayed()
    browser.driver.find_element(By.TAG_NAME, "body").send_keys(Keys.ESCAPE)
    browser.until("return !document.querySelector('.more').open")


def test_the_first_tab_offers_to_skip_to_the_page(browser):
    browser.open("/log")
    browser.shown(READY["/log"])
    browser.driver.find_element(By.TAG_NAME, "body").send_keys(Keys.TAB)
    assert browser.ask("return document.activeElement.innerText") == words.SKIP_TO_CONTENT


def test_a_shot_is_put_right_in_the_log(browser):
    browser.size("phone")
    browser.open("/log")
    browser.shown(READY["/log"])
    browser.driver.find_element(By.CSS_SELECTOR, "tr.shot-row button").click()
    note = browser.shown(f"#{ids.LOG_EDIT_NOTE}")
    browser.until(
        "const r = arguments[0].getBoundingClientRect(); return r.right <= innerWidth", note
    )
    little = f"#{ids.LOG_EDIT_GRADE} input[value='too_little']"
    browser.ask("document.querySelector(arguments[0]).click()", little)
    browser.tap(ids.LOG_EDIT_SAVE)
    browser.until(
        "return document.querySelector('tr.shot-row').innerText.includes(arguments[0])",
        words.GRADE_NAME["too_little"],
    )
