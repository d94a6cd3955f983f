"""Guides for calibration and mounting: what they say while samples arrive."""

from abc import ABC, abstractmethod
from dataclasses import dataclass
from datetime import datetime

from cue_sensors.samples import Calibration, Samples
from cue_signal.calibrate_gravity import LocalGravity
from cue_signal.calibrate_result import CalibrationResult, calibration_of
from cue_signal.calibrate_still import StillFinder


@dataclass(frozen=True)
class GuideState:
    """Where a guided measurement stands.

    Parameters
    ----------
    words : str
        What to do now, one or two sentences.
    n_done, n_wanted : int
        Parts done and parts wanted, for a progress bar.
    is_ready : bool
        Whether ``result()`` has all it needs.
    is_still : bool
        Whether the sensor lies still at present.
    still_s : float
        For how long it has been.
    up : tuple of three floats or None
        Unit vector that points up now, in the sensor's frame.
    done, missing : tuple of str
        Names of the parts.
    turned_rad : float
        While rolling: how far the cue has been turned so far.
    """

    words: str
    n_done: int
    n_wanted: int
    is_ready: bool
    is_still: bool = False
    still_s: float = 0.0
    up: tuple[float, float, float] | None = None
    done: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    turned_rad: float = 0.0


class RestGuide(ABC):
    """Leads through rests of the sensor while samples arrive.

    Parameters
    ----------
    gravity : LocalGravity, optional
        See ``local_gravity``.
    applied : Calibration, optional
        What has been applied to the samples already; the result includes it.
    """

    def __init__(
        self, *, gravity: LocalGravity | None = None, applied: Calibration | None = None
    ) -> None:
        self._gravity, self._applied = gravity, applied
        self._still = StillFinder()

    def push(self, samples: Samples) -> GuideState:
        """Take samples and return what to do next.

        Parameters
        ----------
        samples : Samples
            Later than all before; may be none.
        """
        self._still.push(samples)
        return self.state()

    @abstractmethod
    def state(self) -> GuideState:
        """Return where the measurement stands."""

    def result(
        self, *, measured_utc: datetime | None = None, temperature_c: float | None = None
    ) -> CalibrationResult:
        """Return the calibration from the rests so far; raises SignalError where too few."""
        return calibration_of(
            self._still.attitudes,
            gravity=self._gravity,
            applied=self._applied,
            measured_utc=measured_utc,
            temperature_c=temperature_c,
        )

    def _up(self) -> tuple[float, float, float] | None:
        """Return what points up now."""
        up = self._still.up
        return None if up is None else (float(up[0]), float(up[1]), float(up[2]))
