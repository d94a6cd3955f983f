"""How soon a stroke's pace stands on the page: from the end of its follow-through on.

A shipped recording is rehearsed in real time into a page at the table. When the sample that ends a
follow-through is current is known from the arrivals of the samples about it; when the page shows
the first look, the final number and the card drawn anew is written down in the page. Both clocks
are this computer's.
"""

import time
from dataclasses import dataclass
from typing import Any

import numpy as np

from cue_dashboard import ids
from cue_dashboard.desk import Desk
from cue_dashboard.ids import table as table_ids
from cue_sensors.samples import Samples
from cue_signal.stroke import Stroke

N_STROKES = 8
PATIENCE_S = 240.0
AFTER_S = 3.0
"""What is shown so long after a follow-through belongs to it."""

_WATCH = f"""
window.shown = [];
document.addEventListener('DOMContentLoaded', () => {{
  let last = '';
  new MutationObserver(() => {{
    const card = document.querySelector('#{ids.TABLE_PACE} > [data-stroke]');
    const look = document.querySelector('#{table_ids.FIRST_LOOK}');
    const kind = !look || look.hidden ? '' : look.classList.contains('final') ? 'final' : 'first';
    const now = [card ? card.dataset.stroke : '', kind];
    if (now.join() === last) return;
    last = now.join();
    requestAnimationFrame(() => window.shown.push([Date.now() / 1000, ...now]));
  }}).observe(document.documentElement,
    {{subtree: true, childList: true, attributes: true, characterData: true}});
}});
"""


@dataclass(frozen=True)
class Delays:
    """From the end of each stroke's follow-through until the page shows something of it.

    Parameters
    ----------
    first_s, final_s, card_s : tuple of float
        First look, final number, card drawn anew; a stroke that lacks one is left out.
    """

    first_s: tuple[float, ...]
    final_s: tuple[float, ...]
    card_s: tuple[float, ...]


def measure_delays(driver: Any, desk: Desk, address: str, series_id: int) -> Delays:
    """Return how soon the paces of some rehearsed strokes are shown.

    Parameters
    ----------
    driver : selenium.webdriver.Chrome
        A browser.
    desk, address, series_id : Desk, str, int
        What is served, where, and the series that is open.
    """
    driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": _WATCH})
    driver.get(address)
    time.sleep(AFTER_S)
    known = {one.shot_id for one in desk.log.shots(series_id=series_id)}
    desk.rehearse(series_id, desk.recordings[0].path, 1.0)
    arrivals: list[tuple[float, float]] = []

    def take(samples: Samples) -> None:
        arrivals.append((time.time(), float(samples.time_s[-1])))

    end_listening = desk.listen(take)
    until_s = time.monotonic() + PATIENCE_S
    while _n_strokes(desk) < N_STROKES and time.monotonic() < until_s:
        time.sleep(0.2)
    time.sleep(AFTER_S)
    end_listening()
    desk.let_go()
    shown = driver.execute_script("return window.shown")
    shots = desk.log.shots(series_id=series_id)
    strokes = [one.stroke for one in shots if one.shot_id not in known and one.stroke is not None]
    return _delays(strokes, np.array(arrivals), shown)


def _n_strokes(desk: Desk) -> int:
    """Return how many strokes the session has found."""
    status = desk.status()
    return 0 if status is None else status.n_strokes


def _delays(strokes: list[Stroke], arrivals: Any, shown: list[Any]) -> Delays:
    """Return the delays from what arrived and what was shown."""
    found: dict[str, list[float]] = {"first": [], "final": [], "card": []}
    for stroke in strokes:
        end_s = stroke.follow_through_end_s
        k = int(np.searchsorted(arrivals[:, 1], end_s))
        if k == len(arrivals):
            continue
        ended = arrivals[k, 0] - (arrivals[k, 1] - end_s)
        name = f"{stroke.impact_time_s:.3f}"
        # later than before: an earlier rehearsal left a card of the same stroke
        card = [at - ended for at, card, _ in shown if card == name and at - ended > -0.5]
        last = min(card, default=AFTER_S)
        for kind in ("first", "final"):
            at = [at - ended for at, _, one in shown if one == kind and -0.5 < at - ended < last]
            found[kind] += at[:1]
        found["card"] += card[:1]
    return Delays(tuple(found["first"]), tuple(found["final"]), tuple(found["card"]))
