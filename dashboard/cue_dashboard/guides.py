"""A guided measurement on the live sensor: six rests, or a roll of the cue.

Samples are handed over by the live session's thread and looked at in another, so that no stroke
waits for it. One guide runs at a time.
"""

import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, Protocol

from cue_dashboard.errors import DashboardError
from cue_signal.errors import SignalError

if TYPE_CHECKING:
    from cue_dashboard.desk import Desk
    from cue_sensors.samples import Samples
    from cue_signal.calibrate_guide import GuideState

Kind = Literal["rests", "roll"]


class Guide(Protocol):
    """What leads through a measurement."""

    def push(self, samples: "Samples") -> "GuideState":
        """Take samples and return what to do next."""
        ...

    def result(self) -> Any:
        """Return what was measured."""
        ...


@dataclass(frozen=True)
class GuideView:
    """How a guide stands.

    Parameters
    ----------
    kind : str
        ``"rests"`` or ``"roll"``.
    state : GuideState or None
        None before the first samples.
    result : CalibrationResult, MountingResult or None
        Once it is ready.
    fault : str
        Why it cannot go on, empty if it can.
    """

    kind: Kind
    state: "GuideState | None"
    result: Any = None
    fault: str = ""


class GuideRun:
    """A guide at work on the samples of the live session until it is closed.

    Parameters
    ----------
    kind : str
        What is measured.
    guide : Guide
        What leads through it.
    listen : callable
        Has a function called with samples and returns what ends that.
    """

    def __init__(
        self,
        kind: Kind,
        guide: Guide,
        listen: "Callable[[Callable[[Samples], None]], Callable[[], None]]",
    ) -> None:
        self.kind = kind
        self._guide = guide
        self._waiting: queue.SimpleQueue[Samples | None] = queue.SimpleQueue()
        self._view = GuideView(kind, None)
        self._unlisten = listen(self._waiting.put)
        self._thread = threading.Thread(target=self._run, name="guide", daemon=True)
        self._thread.start()

    def view(self) -> GuideView:
        """Return how it stands, from any thread."""
        return self._view

    def close(self) -> None:
        """End it; what was measured stays to be seen."""
        self._unlisten()
        self._waiting.put(None)

    def _run(self) -> None:
        """Look at samples as they come; the thread's own function."""
        while (samples := self._waiting.get()) is not None:
            try:
                state = self._guide.push(samples)
                result = self._guide.result() if state.is_ready else self._view.result
                self._view = GuideView(self.kind, state, result)
            except (SignalError, ValueError) as error:
                # a sensor that was connected anew begins its time afresh; the guide must, too
                self._view = GuideView(self.kind, self._view.state, self._view.result, str(error))
            if self._view.result is not None:
                self._unlisten()
                return


def begin(desk: "Desk", kind: Kind, cue_id: int | None, from_butt_m: float | None) -> GuideRun:
    """Begin a guide on the connected sensor.

    Parameters
    ----------
    desk : Desk
        With a sensor that is connected.
    kind : str
        What is to be measured.
    cue_id : int or None
        The cue the sensor sits on; needed for a roll.
    from_butt_m : float or None
        Distance of the sensor from the butt end, where it was measured.

    Raises
    ------
    DashboardError
        If no sensor is connected.
    """
    from cue_signal.calibrate import SixRestGuide  # heavy, and seldom needed
    from cue_signal.roll import RollGuide

    sensor, name = connected(desk)
    entry = desk.log.calibration_for(sensor, name)
    if kind == "rests":
        guide: Guide = SixRestGuide(applied=entry.calibration if entry else None)
    else:
        mounting = mounting_of(desk, cue_id, from_butt_m)
        guide = RollGuide(mounting=mounting, is_calibrated=entry is not None)
    return GuideRun(kind, guide, desk.listen)


def mounting_of(desk: "Desk", cue_id: int | None, from_butt_m: float | None) -> Any:
    """Return a mounting with what was measured by hand."""
    from cue_sensors.samples import Mounting

    cue = next((one for one in desk.log.cues() if one.cue_id == cue_id), None)
    return Mounting(
        sensor_from_butt_m=from_butt_m, cue_length_m=None if cue is None else cue.length_m
    )


def connected(desk: "Desk") -> tuple[str, str]:
    """Return kind and name of the sensor that is connected.

    Raises
    ------
    DashboardError
        If there is none.
    """
    status = desk.status()
    if desk.sensor is None or status is None or not status.sensor_name:
        raise DashboardError("No sensor is connected. Connect one at the table first.")
    return desk.sensor.kind, status.sensor_name
