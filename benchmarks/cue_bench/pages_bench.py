"""How quick the pages are with a long log: first useful paint, and a change of a filter.

Each is measured in a real Chromium on a log of 10,000 shots, and in the same run on one of 200
shots, the peer: what the length of the log costs is the difference. Before each measurement the
newest result of every player is changed, as a tap does, so that whatever a page says of them has
to be worked out anew. Then what the live trace at the table costs. Needs Debian's packages chromium
and chromium-driver.

    python -m cue_bench.pages_bench --shots 100000 --keep FOLDER

Filling a long log takes its time; a log that is in the folder already is used again.
"""

import argparse
import shutil
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

from cue_bench.live_page import live_table, measure_live
from cue_bench.long_log import fill
from cue_dashboard import ids
from cue_dashboard.app import create_app
from cue_dashboard.ids import coach as coach_ids
from cue_dashboard.ids import progress as progress_ids
from cue_dashboard.listen import Listener
from cue_practice.grades import Grade
from cue_practice.log import PracticeLog

PEER_SHOTS = 200
PATIENCE_S = 60
SETTLE_S = 0.7
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
// the words, not the mark-up: Dash marks what is being worked out at once
const before = shown() && shown().textContent, from = performance.now();
window.dash_clientside.set_props(id, {value: value});
(function look() {
  const now = shown();
  if (now && now.textContent !== before) { done(performance.now() - from); return; }
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
    field : str
        The filter that is changed, from player 1 to player 2; empty where there is none.
    changed : str
        What shows the change, as a selector.
    """

    path: str
    useful: str
    field: str = ""
    changed: str = ""


@dataclass
class Served:
    """A log that is served.

    Parameters
    ----------
    log : PracticeLog
        The log.
    address : str
        Where its pages are.
    newest : list of int
        Every player's newest shot.
    n_changes : int
        How often the log was changed.
    """

    log: PracticeLog
    address: str
    newest: list[int] = field(default_factory=list)
    n_changes: int = 0

    def __post_init__(self) -> None:
        """Find the newest shots."""
        players = [one.player_id for one in self.log.players()]
        self.newest = [self.log.shot_ids(newest=1, player_id=one)[0] for one in players]

    def change(self) -> None:
        """Change every player's newest result, so that nothing said of them before still holds."""
        self.n_changes += 1
        grade = list(Grade)[self.n_changes % len(Grade)]
        for shot_id in self.newest:
            self.log.set_result(shot_id, grade=grade, note=str(time.monotonic_ns()))


PAGES = (
    Page(
        "/strokes", f"#{ids.STROKES_LIST} .stroke-row", ids.STROKES_PLAYER, f"#{ids.STROKES_LIST}"
    ),
    Page("/log", f"#{ids.LOG_SHOTS} tr.shot-row", ids.LOG_PLAYER, f"#{ids.LOG_SHOTS}"),
    Page(
        "/progress",
        f"#{progress_ids.FOUND} .js-plotly-plot .main-svg",
        progress_ids.PLAYER,
        f"#{progress_ids.FOUND}",
    ),
    Page("/coach", f"#{coach_ids.CHANGED} .card", coach_ids.PLAYER, f"#{coach_ids.CHANGED}"),
    Page("/pace", f"#{ids.PACE_ANSWER} .answer-number", ids.PACE_PLAYER, f"#{ids.PACE_ANSWER}"),
    Page("/setups", "#setups-list"),
    Page("/", "#table-start"),
    Page("/sensor", "main .card"),
)
PLAYERS = ("1", "2")


def measure(n_shots: int, *, repeats: int, seed: int, keep: Path | None = None) -> Table:
    """Return what was measured, one row a page.

    Parameters
    ----------
    n_shots : int
        Of the long log.
    repeats : int
        Of each measurement; the median counts.
    seed : int
        Of the logs.
    keep : Path or None
        Folder of logs that are kept, None for throwaway ones.
    """
    table = Table(title=f"Pages with {n_shots} shots, beside the same with {PEER_SHOTS}, ms")
    for heading in ("page", "first useful paint", "peer", "filter change", "peer"):
        table.add_column(heading, justify="left" if heading == "page" else "right")
    with (
        _browser() as driver,
        _served(n_shots, seed, keep) as far,
        _served(PEER_SHOTS, seed, keep) as near,
    ):
        for page in PAGES:
            row = []
            for kind in (_first_paint_ms, _change_ms):
                for served in (far, near):
                    row.append(_median_ms(kind, driver, served, page, repeats))
            table.add_row(page.path, *row)
    return table


def _median_ms(
    kind: Callable[[Any, Served, Page], float | None],
    driver: Any,
    served: Served,
    page: Page,
    repeats: int,
) -> str:
    """Return the middle of some measurements as text, nothing where there is nothing to measure."""
    found = [one for _ in range(repeats) if (one := kind(driver, served, page)) is not None]
    return f"{statistics.median(found):.0f}" if found else ""


def _first_paint_ms(driver: Any, served: Served, page: Page) -> float:
    """Return when a page is of use, in milliseconds from asking for it."""
    served.change()
    added = driver.execute_cdp_cmd(
        "Page.addScriptToEvaluateOnNewDocument", {"source": _USEFUL % page.useful}
    )
    driver.get(served.address + page.path)
    found = driver.execute_async_script(
        "const done = arguments[0]; (function look() {"
        " if (window.usefulAt) done(window.usefulAt); else setTimeout(look, 50); })();"
    )
    driver.execute_cdp_cmd(
        "Page.removeScriptToEvaluateOnNewDocument", {"identifier": added["identifier"]}
    )
    return float(found)


def _change_ms(driver: Any, served: Served, page: Page) -> float | None:
    """Return how long a change of the filter takes to be seen, in milliseconds."""
    if not page.field:
        return None
    _first_paint_ms(driver, served, page)
    time.sleep(SETTLE_S)
    for player in PLAYERS:
        served.change()
        found = float(driver.execute_async_script(_CHANGE, page.field, player, page.changed))
        time.sleep(SETTLE_S)
    return found


@contextmanager
def _served(n_shots: int, seed: int, keep: Path | None) -> Iterator[Served]:
    """Serve a log of so many shots from a throwaway folder, or from one that is kept."""
    with tempfile.TemporaryDirectory(prefix="stunpace-pages-") as throwaway:
        file = (keep or Path(throwaway)) / f"long-{n_shots}-{seed}.sqlite3"
        is_filled = file.exists()
        with PracticeLog(file) as log:
            if not is_filled:
                _fill(log, n_shots, seed)
            yield from _listening(log)


def _fill(log: PracticeLog, n_shots: int, seed: int) -> None:
    """Fill a log with shots, and a lesson half-way through what was played."""
    fill(log, n_shots=n_shots, seed=seed)
    for player in log.players():
        half = log.shots(player_id=player.player_id, newest=1, offset=n_shots // 4)[0]
        log.add_lesson(player.player_id, held_utc=half.struck_utc, text="Hold still.")


def _listening(log: PracticeLog) -> Iterator[Served]:
    """Serve a log."""
    listener = Listener(create_app(log, recordings=()).server)
    try:
        yield Served(log, listener.address)
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
    parser.add_argument("--shots", type=int, default=10_000, help="0 for the live trace alone")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--keep", type=Path, help="keep the logs in this folder, or use its own")
    chosen = parser.parse_args()
    if chosen.shots:
        table = measure(chosen.shots, repeats=chosen.repeats, seed=chosen.seed, keep=chosen.keep)
        Console().print(table)
    with _browser() as driver:
        Console().print(live_table(measure_live(driver)))


if __name__ == "__main__":
    main()
