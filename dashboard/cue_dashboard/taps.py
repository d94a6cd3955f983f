"""Taps on their way from a browser to the log: read with care, done once.

A browser keeps each tap until it hears that the log has it, and sends it again where it does not.
The book remembers what was answered, so that a tap that comes twice is done once.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

TAP_PATH = "/table/tap"
TAPS_REMEMBERED = 500
MAX_AGE_S = 7 * 24 * 3600.0
"""A browser that was away longer is not believed about when it was tapped."""


@dataclass(frozen=True)
class Tap:
    """One tap.

    Parameters
    ----------
    tap_id : str
        The browser's own mark of it.
    what, value : str
        Kind of tap, and which of it, for example ``grade`` and ``right``.
    series_id : int
        The series the page showed.
    shot_id : int or None
        The shot the page showed.
    kind : str
        What the plan asked for: ``cushion`` or ``stop``.
    point_m : tuple of two floats or None
        Where on the plan.
    age_s : float
        How long ago it was tapped.
    """

    tap_id: str
    what: str
    value: str
    series_id: int
    shot_id: int | None
    kind: str
    point_m: tuple[float, float] | None
    age_s: float


def read_tap(sent: Any) -> Tap:
    """Return a tap as a browser sent it.

    Raises
    ------
    ValueError
        If it is none.
    """
    try:
        shot, point = sent["shot"], sent.get("point")
        return Tap(
            tap_id=str(sent["id"])[:80],
            what=str(sent["what"]),
            value=str(sent.get("value", "")),
            series_id=int(sent["series"]),
            shot_id=None if shot is None else int(shot),
            kind=str(sent.get("kind", "cushion")),
            point_m=None if point is None else (float(point[0]), float(point[1])),
            age_s=min(max(float(sent.get("age_s", 0.0)), 0.0), MAX_AGE_S),
        )
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as fault:
        raise ValueError(f"not a tap: {fault}") from fault


class TapBook:
    """Does each tap once, one at a time, and remembers what was answered."""

    def __init__(self) -> None:
        self._answers: OrderedDict[str, Any] = OrderedDict()
        self._lock = threading.Lock()

    def once(self, tap: Tap, do: Callable[[Tap], Any]) -> Any:
        """Return what `do` answers, or answered when this tap came before."""
        with self._lock:
            if tap.tap_id not in self._answers:
                self._answers[tap.tap_id] = do(tap)
                while len(self._answers) > TAPS_REMEMBERED:
                    self._answers.popitem(last=False)
            return self._answers[tap.tap_id]
