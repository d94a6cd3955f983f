"""Calibration of a sensor from rests: accelerometer, and the gyroscope's bias.

Six rests, one on each side of the sensor, tell bias and scale of each axis; they need not be
exact, a side may lean by a good many degrees. Rests in many attitudes (``cue_signal.tumble``)
tell the cross-axis terms as well. What a calibration has not told stays as it was, and says so.
"""

from datetime import datetime

import numpy as np

from cue_sensors.samples import Calibration, FloatArray, Samples
from cue_signal.calibrate_gravity import LocalGravity, local_gravity
from cue_signal.calibrate_guide import GuideState, RestGuide
from cue_signal.calibrate_result import (
    FACE_COSINE,
    FACES,
    CalibrationResult,
    GyroBias,
    bias_of,
    calibration_of,
    compose,
    faces_of,
)
from cue_signal.calibrate_still import find_attitudes
from cue_signal.errors import SignalError

__all__ = [
    "FACES",
    "CalibrationResult",
    "GuideState",
    "GyroBias",
    "LocalGravity",
    "SixRestGuide",
    "compose",
    "gyro_bias",
    "local_gravity",
    "six_rests",
]


def six_rests(
    samples: Samples,
    *,
    gravity: LocalGravity | None = None,
    applied: Calibration | None = None,
    measured_utc: datetime | None = None,
    temperature_c: float | None = None,
) -> CalibrationResult:
    """Return the calibration from rests on the six sides of a sensor, each for two seconds.

    Parameters
    ----------
    samples : Samples
        With the rests in any order; sides may lean.
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
        Sides that are missing are named, and leave wide uncertainties.

    Raises
    ------
    SignalError
        If there are fewer than four rests in different attitudes.
    """
    return calibration_of(
        find_attitudes(samples),
        gravity=gravity,
        applied=applied,
        measured_utc=measured_utc,
        temperature_c=temperature_c,
    )


def gyro_bias(samples: Samples) -> GyroBias:
    """Return what the gyroscope reads while the sensor lies still.

    Parameters
    ----------
    samples : Samples
        With at least one rest of a second and a half.

    Returns
    -------
    GyroBias
        With its standard uncertainty.

    Raises
    ------
    SignalError
        If there is no gyroscope or no such rest.
    """
    if not samples.has_gyroscope:
        raise SignalError(
            "The samples have no angular rate, so there is no gyroscope bias to measure."
        )
    found = bias_of(find_attitudes(samples))
    if found is None:
        raise SignalError(
            "The sensor never lay still for 1.5 s. Lay it down for two seconds and try again."
        )
    return found


class SixRestGuide(RestGuide):
    """Leads through the six rests while samples arrive; parameters as ``RestGuide``."""

    def state(self) -> GuideState:
        """Return where the measurement stands."""
        faces = faces_of(self._still.attitudes)
        missing = tuple(face for face in FACES if face not in faces)
        return GuideState(
            words=self._what_now(len(faces), missing),
            n_done=len(faces),
            n_wanted=len(FACES),
            is_ready=not missing,
            is_still=self._still.is_still,
            still_s=self._still.still_s,
            up=self._up(),
            done=faces,
            missing=missing,
        )

    def _what_now(self, n_done: int, missing: tuple[str, ...]) -> str:
        """Return the next instruction."""
        if not missing:
            return "All six sides are done."
        if n_done == 0 and not self._still.is_still:
            return "Take the sensor off the cue and lay it on one of its sides; let go of it."
        now = _face_up(self._still.up)
        if self._still.is_still and now in missing:
            return "Leave it lying: two seconds are enough."
        if self._still.is_still and now is None:
            return "It stands between two sides: lay it on one, or lean it within 30 degrees."
        left = ", ".join(missing)
        return f"Turn it to a side that has not been up or down yet ({left})."


def _face_up(up: FloatArray | None) -> str | None:
    """Return the name of the side that points up, None between two."""
    if up is None:
        return None
    axis = int(np.argmax(np.abs(up)))
    if abs(up[axis]) <= FACE_COSINE:
        return None
    return FACES[2 * axis + int(up[axis] < 0.0)]
