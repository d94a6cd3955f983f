"""Calibration by tumbling: rests of a sensor in many attitudes, whichever come.

Twelve attitudes well spread (sides, edges, corners) tell all nine numbers of the accelerometer;
with fewer, what they do not tell stays as it was and the result says so.
"""

from datetime import datetime

from cue_sensors.samples import Calibration, Samples
from cue_signal.calibrate_gravity import LocalGravity
from cue_signal.calibrate_guide import GuideState, RestGuide
from cue_signal.calibrate_result import CalibrationResult, calibration_of
from cue_signal.calibrate_still import find_attitudes, n_apart
from cue_signal.errors import SignalError

WANTED = 12
LEAST = 6
APART_RAD = 0.35
"""Attitudes nearer to each other than 20 degrees count once."""


def tumble(
    samples: Samples,
    *,
    gravity: LocalGravity | None = None,
    applied: Calibration | None = None,
    measured_utc: datetime | None = None,
    temperature_c: float | None = None,
) -> CalibrationResult:
    """Return the calibration from rests in any attitudes, each for two seconds.

    Parameters
    ----------
    samples : Samples
        With at least six rests more than 20 degrees apart; twelve tell everything.
    gravity : LocalGravity, optional
        See ``local_gravity``; the standard value without.
    applied : Calibration, optional
        What has been applied to the samples already; the result includes it.
    measured_utc : datetime, optional
        Kept with the result.
    temperature_c : float, optional
        Of the sensor, kept with the result.

    Returns
    -------
    CalibrationResult
        What was told by the rests, and how well.

    Raises
    ------
    SignalError
        If there are fewer than six rests in different attitudes.
    """
    attitudes = find_attitudes(samples)
    apart = n_apart(attitudes, angle_rad=APART_RAD)
    if apart < LEAST:
        raise SignalError(
            f"Only {apart} rests in different attitudes; tumbling needs at least {LEAST}, and "
            f"{WANTED} for all terms. Set the sensor down in another attitude, let go of it for "
            "two seconds, and go on so."
        )
    return calibration_of(
        attitudes,
        gravity=gravity,
        applied=applied,
        measured_utc=measured_utc,
        temperature_c=temperature_c,
    )


class TumbleGuide(RestGuide):
    """Leads through rests in many attitudes while samples arrive; parameters as ``RestGuide``."""

    def state(self) -> GuideState:
        """Return where the measurement stands."""
        n_done = min(WANTED, n_apart(self._still.attitudes, angle_rad=APART_RAD))
        return GuideState(
            words=self._what_now(n_done),
            n_done=n_done,
            n_wanted=WANTED,
            is_ready=n_done >= WANTED,
            is_still=self._still.is_still,
            still_s=self._still.still_s,
            up=self._up(),
        )

    def _what_now(self, n_done: int) -> str:
        """Return the next instruction."""
        if n_done >= WANTED:
            return "Enough attitudes."
        if self._still.is_still:
            return "Leave it lying: two seconds are enough. Then turn it by a good bit."
        return "Set it down in another attitude, on a side, an edge or a corner; let go of it."
