"""How quick the pages are with a long log: first useful paint, and a change of a filter.

Each is measured in a real Chromium on a log of 10,000 shots, and in the same run on one of 200
shots, the peer: what the length of the log costs is the difference. Needs Debian's packages
chromium and chromium-driver.

    python -m cue_bench.pages_bench --shots 10000
"""

import argparse
import shutil
import statistics
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

from cue_bench.long_log import fill
from cue_dashboard import ids
from cue_dashboard.app import create_app
from cue_dashboard.ids import progress as progress_ids
from cue_dashboard.listen import Listener
from cue_practice.log import PracticeLog

PEER_SHOTS = 200
PATIENCE_S = 60
FLAGS = ("headless", "no-sandbox", "disable-gpu", "no-first-run", "disable-background-networking")

_USEFUL = """
(function () {
  function look() {
    const e = document.querySelector(%r);
    if (e && e.getClientRects().length) { window.usefulAt = performance.now(); return; }
    requestAnimationFrame(look);
  }
  requestAnimationFrame(look);
})();
"""
_CHANGE = """
const [id, value, selector, done] = arguments;
const shown = () => document.querySelector(selector);
const before = shown() && shown().outerHTML, from = performance.now();
window.dash_clientside.set_props(id, {value: value});
(function look() {
  const now = shown();
  if (now && now.outerHTML !== before) { done(performance.now() - from); return; }
  requestAnimationFrame(look);
})();
"""


@dataclass(frozen=True)
class Page:
    """What is measured of a page.

    Parameters
    ----------
    path : str
        Its address.
    useful : str
        What must be seen for the page to be of use, as a selector.
    field, values : str, tuple of two str
        The filter that is changed, and between what.
    changed : str
        What shows the change, as a selector.
    """

    path: str
    useful: str
    field: str
    values: tuple[str, str]
    changed: str


PAGES = (
    Page(
        "/strokes",
        f"#{ids.STROKES_LIST} .stroke-row",
        ids.STROKES_PLAYER,
        ("1", "2"),
        f"#{ids.STROKES_LIST}",
    ),
    Page("/log", f"#{ids.LOG_SHOTS} tr.shot-row", ids.LOG_PLAYER, ("1", "2"), f"#{ids.LOG_SHOTS}"),
    Page(
        "/progress",
        f"#{progress_ids.FOUND} .js-plotly-plot",
        progress_ids.PLAYER,
        ("1", "2"),
        f"#{progress_ids.FOUND} details",
    ),
)


def measure(n_shots: int, *, repeats: int, seed: int) -> Table:
    """Return what was measured, one row a page.

    Parameters
    ----------
    n_shots : int
        Of the long log.
    repeats : int
        Of each measurement; the median counts.
    seed : int
        Of the logs.
    """
    table = Table(title=f"Pages with {n_shots} shots, beside the same with {PEER_SHOTS}, ms")
    for heading in ("page", "first useful paint", "peer", "filter change", "peer"):
        table.add_column(heading, justify="left" if heading == "page" else "right")
    with _browser() as driver, _served(n_shots, seed) as far, _served(PEER_SHOTS, seed) as near:
        for page in PAGES:
            row = []
            for kind in (_first_paint_ms, _change_ms):
                for address in (far, near):
                    found = [kind(driver, address, page) for _ in range(repeats)]
                    row.append(f"{statistics.median(found):.0f}")
            table.add_row(page.path, *row)
    return table


def _first_paint_ms(driver: Any, address: str, page: Page) -> float:
    """Return when a page is of use, in milliseconds from asking for it."""
    added = driver.execute_cdp_cmd(
        "Page.addScriptToEvaluateOnNewDocument", {"source": _USEFUL % page.useful}
    )
    driver.get(address + page.path)
    found = driver.execute_async_script(
        "const done = arguments[0]; (function look() {"
        " if (window.usefulAt) done(window.usefulAt); else setTimeout(look, 50); })();"
    )
    driver.execute_cdp_cmd(
        "Page.removeScriptToEvaluateOnNewDocument", {"identifier": added["identifier"]}
    )
    return float(found)


def _change_ms(driver: Any, address: str, page: Page) -> float:
    """Return how long a change of the filter takes to be seen, in milliseconds."""
    _first_paint_ms(driver, address, page)
    first, second = page.values
    driver.execute_async_script(_CHANGE, page.field, first, page.changed)
    return float(driver.execute_async_script(_CHANGE, page.field, second, page.changed))


@contextmanager
def _served(n_shots: int, seed: int) -> Iterator[str]:
    """Serve a log of so many shots from a throwaway folder."""
    with (
        tempfile.TemporaryDirectory(prefix="stunpace-pages-") as folder,
        PracticeLog(Path(folder) / "long.sqlite3") as log,
    ):
        fill(log, n_shots=n_shots, seed=seed)
        listener = Listener(create_app(log, recordings=()).server)
        try:
            yield listener.address
        finally:
            listener.stop()


@contextmanager
def _browser() -> Iterator[Any]:
    """Start a Chromium without a past."""
    chromium, driver_path = shutil.which("chromium"), shutil.which("chromedriver")
    if chromium is None or driver_path is None:
        raise SystemExit("Chromium or its driver is missing: install chromium, chromium-driver.")
    options = Options()
    options.binary_location = chromium
    for flag in FLAGS:
        options.add_argument(f"--{flag}")
    driver = webdriver.Chrome(options=options, service=Service(driver_path))
    driver.set_script_timeout(PATIENCE_S)
    try:
        yield driver
    finally:
        driver.quit()


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--shots", type=int, default=10_000)
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--seed", type=int, default=7)
    chosen = parser.parse_args()
    Console().print(measure(chosen.shots, repeats=chosen.repeats, seed=chosen.seed))


if __name__ == "__main__":
    main()
