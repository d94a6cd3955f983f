"""A real Chromium for the tests: one window without a past, and the few verbs they need.

Set STUNPACE_SCREENSHOTS to a folder to keep pictures.
"""

import base64
import contextlib
import json
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.common.exceptions import TimeoutException
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait

from cue_dashboard import ids

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
FLAGS = (
    "headless",
    "no-sandbox",
    "disable-gpu",
    "disable-quic",
    "no-first-run",
    "disable-background-networking",
    "disable-component-update",
    "disable-sync",
    "hide-scrollbars",
)
WAIT_S = 60
"""Patience on a busy machine; every wait ends as soon as its condition holds."""
ASKING = """
window.asking = 0;
const ask = window.fetch;
window.fetch = (where, how) => {
  if (String(where.url || where).includes('/table/live')) return ask(where, how);
  window.asking += 1;
  return ask(where, how).finally(() => { window.asking -= 1; });
};
"""
"""Counts what a page has asked for and not got yet; the table's wire, which never rests, apart."""
SETTLED = """
const figures = [...document.querySelectorAll('.dash-graph')].filter(e => e.clientWidth);
const isQuiet = document.readyState === 'complete' && document.querySelector('main h1, main h2')
  && !window.asking && figures.every(e => e.querySelector('.main-svg'))
  && document.getAnimations().every(
    one => one.playState !== 'running' || one.effect.getTiming().iterations === Infinity);
if (!isQuiet) window.quiet_since = null;
else window.quiet_since = window.quiet_since || performance.now();
return isQuiet && performance.now() - window.quiet_since > arguments[0];
"""
QUIET_MS = 250
"""So long after an answer everything that it leads to has been asked for."""
SAME_SHOT = """
const table = window.stunpaceTable, shot = table && table.shown ? table.shown.shot_id : null;
if (window.tapped_shot !== shot || !window.same_since) {
  Object.assign(window, {tapped_shot: shot, same_since: performance.now()});
}
const isSame = performance.now() - window.same_since > 350;
"""
"""Whether the page at the table has been about one shot so long that it takes a tap as meant."""
SIZES = {"phone": (390, 844), "tablet": (820, 1180), "laptop": (1440, 900)}
needs_chromium = pytest.mark.skipif(
    CHROMIUM is None or DRIVER is None,
    reason="needs Debian's packages chromium and chromium-driver",
)


@dataclass
class Browser:
    """One tab, with the few verbs the tests need."""

    driver: webdriver.Chrome
    address: str

    def open(self, path: str) -> None:
        self.driver.get(self.address + path)

    def size(self, name: str, *, is_dark: bool = False) -> int:
        """Make the window as large as a device and return its width."""
        width, height = SIZES[name]
        self.driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 700},
        )
        scheme = {"name": "prefers-color-scheme", "value": "dark" if is_dark else "light"}
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})
        return width

    def ask(self, script: str, *values: Any) -> Any:
        return self.driver.execute_script(script, *values)

    def until(self, script: str, *values: Any, within_s: float = WAIT_S) -> Any:
        """Wait until a script answers with something true, and return it."""
        waiting = WebDriverWait(self.driver, within_s, poll_frequency=0.1)
        return waiting.until(lambda _: self.ask(script, *values), message=script)

    def shown(self, selector: str, *, within_s: float = WAIT_S) -> Any:
        """Wait for an element that can be seen and return it."""
        return self.until(
            "const e = document.querySelector(arguments[0]);"
            "return e && e.getClientRects().length ? e : null;",
            selector,
            within_s=within_s,
        )

    def settled(self) -> None:
        """Wait until the page has all it asked for, every figure is drawn and nothing moves."""
        self.ask("window.quiet_since = null")
        self.until(SETTLED, QUIET_MS)

    def text(self, selector: str) -> str:
        return str(self.ask("return document.querySelector(arguments[0]).innerText", selector))

    def tap(self, element_id: str) -> None:
        """Bring an element that is seen to the middle and click it once it stands still."""
        self.until(
            f"{SAME_SHOT} const e = document.getElementById(arguments[0]);"
            "if (!e || e.disabled || !e.getClientRects().length) return false;"
            "e.scrollIntoView({block: 'center'});"
            "const y = e.getBoundingClientRect().top, still = e.lastTop === y;"
            "e.lastTop = y; return still && (isSame || !e.dataset.tap)",
            element_id,
        )
        element = self.driver.find_element(By.ID, element_id)
        ActionChains(self.driver, duration=0).move_to_element(element).click().perform()

    def tap_until(self, element_id: str, selector: str) -> None:
        """Tap what may be tapped twice, until something else can be seen.

        A stroke still on its way into the log draws the page anew, and may move a button from
        under the pointer.
        """
        for _ in range(WAIT_S // 10):
            self.tap(element_id)
            with contextlib.suppress(TimeoutException):
                self.shown(selector, within_s=10)
                return
        self.shown(selector)

    def tap_plan(self, x_share: float, y_share: float) -> None:
        """Click the plan, as shares of its width and height from the upper left."""
        self.settled()  # a plan that is drawn anew misses a click
        self.until(f"{SAME_SHOT} return isSame")
        plan = self.shown(f"#{ids.TABLE_PLAN} .nsewdrag")
        self.ask("arguments[0].scrollIntoView({block: 'center'})", plan)
        across = round((x_share - 0.5) * plan.rect["width"])
        down = round((y_share - 0.5) * plan.rect["height"])
        ActionChains(self.driver, duration=0).move_to_element_with_offset(
            plan, across, down
        ).click().perform()

    def points(self, graph: str, name: str) -> list[dict[str, Any]]:
        """Return what a named part of a figure shows: numbers of shots and paces."""
        return list(
            self.ask(
                "const g = document.querySelector('#' + arguments[0] + ' .js-plotly-plot');"
                "const t = ((g && g.data) || []).find("
                "  d => d.name === arguments[1] && d.mode === 'markers');"
                "return t ? Array.from(t.x, (x, k) => ({x: x, shot: t.customdata[k]})) : [];",
                graph,
                name,
            )
        )

    def picture(self, name: str) -> None:
        """Keep a picture of the whole page where the environment asks for it."""
        folder = os.environ.get("STUNPACE_SCREENSHOTS")
        if not folder:
            return
        size = self.ask(
            "const e = document.documentElement; return [e.clientWidth, e.scrollHeight]"
        )
        clip = {"x": 0, "y": 0, "width": size[0], "height": size[1], "scale": 1}
        shot = self.driver.execute_cdp_cmd(
            "Page.captureScreenshot", {"captureBeyondViewport": True, "clip": clip}
        )
        Path(folder, f"{name}.png").write_bytes(base64.b64decode(shot["data"]))

    def asked_elsewhere(self) -> list[str]:
        """Return the addresses of other machines that were asked since the last call."""
        messages = (json.loads(e["message"])["message"] for e in self.driver.get_log("performance"))
        asked = [
            str(one["params"]["request"]["url"])
            for one in messages
            if one["method"] == "Network.requestWillBeSent"
        ]
        own = (self.address + "/", "data:", "blob:", "about:", "chrome:", "chrome-untrusted:")
        return [url for url in asked if not url.startswith(own)]

    def complaints(self) -> list[str]:
        """Return what the console said since the last call."""
        return [str(entry["message"]) for entry in self.driver.get_log("browser")]


@contextlib.contextmanager
def started(address: str, folder: Path) -> Iterator[Browser]:
    """Start a browser that keeps its things in an empty folder, and end it afterwards."""
    options = Options()
    options.binary_location = str(CHROMIUM)
    for flag in (*FLAGS, f"user-data-dir={folder}"):
        options.add_argument(f"--{flag}")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(str(DRIVER)))
    driver.set_page_load_timeout(WAIT_S)
    driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": f"{{{ASKING}}}"})
    try:
        yield Browser(driver, address)
    finally:
        driver.quit()
