"""Every page against WCAG 2.2 AA, by axe-core (its own rules, at version 4.12 or later)."""

import importlib.metadata
from functools import cache

import dash
import pytest
from in_chromium import needs_chromium, started

from cue_dashboard.listen import Listener

RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
LOOKS = [("phone", False), ("laptop", True)]
CHECK = """
const done = arguments[1], rules = arguments[0];
axe.run(document, {runOnly: rules}).then(
  r => done({checked: r.passes.length, faults: r.violations.map(
    v => v.id + ': ' + v.nodes.map(n => n.html.slice(0, 120)).slice(0, 3).join(' | '))}),
  e => done({checked: 0, faults: [String(e)]}));
"""

pytestmark = needs_chromium


@cache
def axe_script() -> str:
    """Return axe-core as a script; the package that carries it is never imported."""
    files = importlib.metadata.files("axe-playwright-python") or ()
    return next(one for one in files if one.name == "axe.min.js").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def tab(tmp_path_factory):
    with started("", tmp_path_factory.mktemp("chromium")) as browser:
        browser.driver.set_script_timeout(60)
        yield browser


@pytest.fixture
def browser(app, tab):
    """Return the browser on a dashboard with a few shots in its log."""
    listener = Listener(app.server)
    tab.address = listener.address
    yield tab
    tab.driver.get("about:blank")  # hangs up
    tab.complaints()
    listener.stop()


def faults_of(browser):
    """Run every rule on what is shown."""
    browser.settled()
    browser.driver.execute_script(axe_script())
    found = browser.driver.execute_async_script(CHECK, list(RULES))
    assert found["checked"] > 10  # the rules did look at something
    return found["faults"]


def paths():
    """Return the paths of all pages."""
    return sorted(one["path"] for one in dash.page_registry.values())


def test_every_page_keeps_the_rules_on_a_phone_and_in_the_dark(browser, played):
    faults = {}
    for path in paths():
        browser.open(path)
        for size, is_dark in LOOKS:
            browser.size(size, is_dark=is_dark)
            faults[path, size] = faults_of(browser)
    assert {place: found for place, found in faults.items() if found} == {}
    assert len(faults) >= 2 * 5


def test_pages_of_an_empty_log_keep_the_rules(browser):
    faults = {}
    browser.size("phone", is_dark=True)
    for path in ("/", "/strokes", "/log"):
        browser.open(path)
        faults[path] = faults_of(browser)
    assert {place: found for place, found in faults.items() if found} == {}


def test_a_fault_is_found(browser):
    browser.size("phone")
    browser.open("/log")
    browser.shown("main h1")
    browser.ask(
        "const b = document.createElement('button'); document.querySelector('main').append(b)"
    )
    assert any(fault.startswith("button-name") for fault in faults_of(browser))
