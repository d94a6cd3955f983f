"""What the live trace costs: how often it is drawn anew, and the processor time that takes.

A shipped recording is rehearsed in real time into a page at the table, in a real Chromium of a
phone's width. Counted are the drawings of the trace, the processor time of the process that draws
(what Linux charges it with; the browser's own count of its main thread beside it), and that of the
server with the page open and, as the peer, without one: the analysis costs the same either way.
"""

import os
import statistics
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rich.table import Table

from cue_bench.live_delay import Delays, measure_delays
from cue_dashboard.app import create_app
from cue_dashboard.desk import Desk, desk_of
from cue_dashboard.listen import Listener
from cue_practice.folder import FOLDER_VARIABLE
from cue_practice.log import PracticeLog
from cue_table.setup import FULL_SIZE, SetUp

PHONE_PX = (390, 844)
SETTLE_S = 4.0
SEEN_S = 20.0
_TICKS_PER_S = os.sysconf("SC_CLK_TCK")

_COUNT = """
window.tracesDrawn = 0;
const clear = CanvasRenderingContext2D.prototype.clearRect;
CanvasRenderingContext2D.prototype.clearRect = function (...all) {
  if (this.canvas.id === "table-trace") window.tracesDrawn += 1;
  return clear.apply(this, all);
};
"""


@dataclass(frozen=True)
class LiveCost:
    """What the trace costs while it runs.

    Parameters
    ----------
    updates_per_s : float
        Drawings of the trace.
    renderer, main_thread : float
        Share of a core: of the process that draws the page, and of its main thread alone.
    browser : float
        Share of a core of all of the browser's processes together.
    server, server_alone : float
        Share of a core of the server with the page open, and without one.
    delays : Delays
        How soon a stroke's pace is shown.
    """

    updates_per_s: float
    renderer: float
    main_thread: float
    browser: float
    server: float
    server_alone: float
    delays: Delays


def measure_live(driver: Any) -> LiveCost:
    """Return what a page at the table costs while a recording is rehearsed in it.

    Parameters
    ----------
    driver : selenium.webdriver.Chrome
        A browser without a past.
    """
    with _table() as (desk, address, series_id):
        _rehearse(desk, series_id)
        time.sleep(SETTLE_S)
        alone = _share_of(time.process_time, SEEN_S / 2)
        driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": _COUNT})
        driver.execute_cdp_cmd("Performance.enable", {})
        driver.set_window_size(*PHONE_PX)
        driver.get(address)
        time.sleep(SETTLE_S)
        desk.let_go()
        _rehearse(desk, series_id)
        time.sleep(SETTLE_S)
        before, began = _counts(driver), time.perf_counter()
        time.sleep(SEEN_S)
        after, lasted = _counts(driver), time.perf_counter() - began
        desk.let_go()
        delays = measure_delays(driver, desk, address, series_id)
    updates, renderer, thread, browser, server = (
        (b - a) / lasted for a, b in zip(before, after, strict=True)
    )
    return LiveCost(updates, renderer, thread, browser, server, alone, delays)


def live_table(cost: LiveCost) -> Table:
    """Return what was measured, the aims beside it."""
    table = Table(title=f"Live trace for {SEEN_S:.0f} s at {PHONE_PX[0]} px")
    for heading in ("what", "measured", "aim"):
        table.add_column(heading, justify="left" if heading == "what" else "right")
    table.add_row("updates a second", f"{cost.updates_per_s:.1f}", "20")
    table.add_row("process that draws, of a core", f"{cost.renderer:.1%}", "15 %")
    table.add_row("its main thread", f"{cost.main_thread:.1%}", "")
    table.add_row("browser, all processes", f"{cost.browser:.1%}", "")
    table.add_row("server, page open", f"{cost.server:.1%}", "")
    table.add_row("server, no page", f"{cost.server_alone:.1%}", "")
    for name, delays_s, aim in (
        ("first look after the follow-through", cost.delays.first_s, "300 ms"),
        ("final pace", cost.delays.final_s, ""),
        ("its card", cost.delays.card_s, ""),
    ):
        table.add_row(f"{name}, median and worst", _median_and_worst(delays_s), aim)
    return table


def _median_and_worst(delays_s: tuple[float, ...]) -> str:
    """Return two figures of some delays, and of how many."""
    if not delays_s:
        return "none seen"
    median_ms, worst_ms = 1e3 * statistics.median(delays_s), 1e3 * max(delays_s)
    return f"{median_ms:.0f}, {worst_ms:.0f} ms ({len(delays_s)})"


def _counts(driver: Any) -> tuple[float, ...]:
    """Return drawings, and seconds of: drawing process, its main thread, browser, server."""
    drawn = driver.execute_script("return window.tracesDrawn")
    metrics = driver.execute_cdp_cmd("Performance.getMetrics", {})["metrics"]
    task_s = next(one["value"] for one in metrics if one["name"] == "TaskDuration")
    used = _browser_times_s(driver.service.process.pid)
    renderer = max(used["renderer"], default=0.0)
    return drawn, renderer, task_s, sum(map(sum, used.values())), time.process_time()


def _browser_times_s(driver_pid: int) -> dict[str, list[float]]:
    """Return the processor time of a driver's browser, process by process and by their kind."""
    parents, found = {}, {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            state = (folder / "stat").read_text().rpartition(")")[2].split()
            # a process that was forked ready-made has its arguments in one piece
            command = (folder / "cmdline").read_text().replace("\0", " ").split()
        except OSError:  # it has ended meanwhile
            continue
        pid = int(folder.name)
        parents[pid] = int(state[1])
        kind = next((one[7:] for one in command if one.startswith("--type=")), "browser")
        found[pid] = (kind, (int(state[11]) + int(state[12])) / _TICKS_PER_S)
    used: dict[str, list[float]] = {"renderer": []}
    for pid, (kind, seconds) in found.items():
        if pid != driver_pid and _is_below(pid, driver_pid, parents):
            used.setdefault(kind, []).append(seconds)
    return used


def _is_below(pid: int, ancestor: int, parents: dict[int, int]) -> bool:
    """Return whether a process descends from another."""
    while pid in parents:
        if pid == ancestor:
            return True
        pid = parents[pid]
    return False


def _share_of(clock: Any, seconds: float) -> float:
    """Return how fast a clock of processor time runs."""
    began, at = time.perf_counter(), clock()
    time.sleep(seconds)
    return float((clock() - at) / (time.perf_counter() - began))


def _rehearse(desk: Desk, series_id: int) -> None:
    """Play the first shipped recording from its beginning."""
    desk.rehearse(series_id, desk.recordings[0].path, 1.0)


@contextmanager
def _table() -> Iterator[tuple[Desk, str, int]]:
    """Serve a log with one series that goes on, from a throwaway folder."""
    with tempfile.TemporaryDirectory(prefix="stunpace-live-") as folder:
        os.environ[FOLDER_VARIABLE] = folder
        with PracticeLog(Path(folder) / "live.sqlite3") as log:
            player, table = log.add_player("Wren"), log.add_table("Window table")
            cue = log.add_cue("ash", player_id=player.player_id)
            setup = log.add_setup(_setup(), table.table_id)
            series = log.add_series(
                player.player_id, cue.cue_id, table.table_id, setup.setup_id, 0.0095
            )
            app = create_app(log)
            listener = Listener(app.server)
            try:
                yield desk_of(app.server), listener.address, series.series_id
            finally:
                desk_of(app.server).stop()
                listener.stop()


def _setup() -> SetUp:
    """Return a set-up of our own."""
    return SetUp(
        name="Off the side",
        table=FULL_SIZE,
        white_m=(0.7, 2.1),
        object_ball_m=(1.25, 2.7),
        pocket="top_right",
        next_ball_m=(0.5, 3.2),
        landing_area_m=((0.9, 1.9), (1.6, 1.9), (1.6, 2.4), (0.9, 2.4)),
    )
