"""The cue's speed while samples arrive, for the eye only.

Acceleration along the cue is added up and set to zero whenever the cue stands still. A measured
stroke is worked out anew from all its samples; this trace is not, and drifts a little in between.
"""

import math
from collections import deque
from typing import Final

import numpy as np

from cue_sensors.samples import FloatArray, Samples

KEPT_S: Final = 10.0
"""As much as a screen shows."""
STILL_S: Final = 0.2
STILL_ANEW_S: Final = 1.0
"""A cue that lies another way than before, or gains speed evenly, is watched for this long."""
SAME_REST_M_S2: Final = 0.5
"""Force in two rests of the same cue, which may tilt by three degrees between them."""
STILL_M_S2: Final = 0.35
"""Spread of the force of a cue held still, all axes together."""
FORGET_S: Final = 2.0
"""What drift and a clipped hit leave behind fades with this time constant."""


class SpeedTrace:
    """Speed along the cue over the last seconds."""

    def __init__(self) -> None:
        self._time_s: deque[float] = deque()
        self._speed_m_s: deque[float] = deque()
        self._recent: deque[tuple[float, FloatArray]] = deque()
        self._rest_m_s2: FloatArray | None = None
        self._speed = 0.0

    def push(self, samples: Samples, cue_axis: FloatArray | None) -> None:
        """Take samples in.

        Parameters
        ----------
        samples : Samples
            Later than all before.
        cue_axis : ndarray, shape (3,), or None
            Unit vector along the cue to the tip in the sensor's frame; None while it is not
            known, and then nothing is drawn.
        """
        for time_s, force in zip(samples.time_s, samples.specific_force_m_s2, strict=True):
            self._step(float(time_s), force, cue_axis)
        if len(samples):
            self._stand_still(float(samples.time_s[-1]))
            self._forget(float(samples.time_s[-1]))

    def tail(self) -> tuple[FloatArray, FloatArray]:
        """Return times in seconds and speeds in m/s, both of shape (n,)."""
        return np.array(self._time_s), np.array(self._speed_m_s)

    def _step(self, time_s: float, force: FloatArray, cue_axis: FloatArray | None) -> None:
        """Add one sample."""
        step_s = time_s - self._recent[-1][0] if self._recent else 0.0
        self._recent.append((time_s, force))
        if cue_axis is None or self._rest_m_s2 is None:
            return
        gained = float((force - self._rest_m_s2) @ cue_axis) * min(step_s, STILL_S)
        self._speed = (self._speed + gained) * math.exp(-step_s / FORGET_S)
        self._time_s.append(time_s)
        self._speed_m_s.append(self._speed)

    def _stand_still(self, now_s: float) -> None:
        """Set the speed to zero, and gravity anew, if the cue stands still."""
        while self._recent[0][0] < now_s - STILL_ANEW_S:
            self._recent.popleft()
        rest = self._rest_over(now_s - STILL_S)
        if rest is not None and not self._is_as_before(rest):
            is_watched = now_s - self._recent[0][0] > 0.9 * STILL_ANEW_S
            rest = self._rest_over(now_s - STILL_ANEW_S) if is_watched else None
        if rest is not None:
            self._speed, self._rest_m_s2 = 0.0, rest

    def _is_as_before(self, rest_m_s2: FloatArray) -> bool:
        """Return whether the cue lies as it did at the last rest."""
        before = self._rest_m_s2
        return before is not None and float(np.linalg.norm(rest_m_s2 - before)) < SAME_REST_M_S2

    def _rest_over(self, start_s: float) -> FloatArray | None:
        """Return the mean force since then if the cue stood still, None if not."""
        forces = np.array([force for time_s, force in self._recent if time_s >= start_s])
        if len(forces) < 3 or math.sqrt(float(np.var(forces, axis=0).sum())) > STILL_M_S2:
            return None
        return np.asarray(forces.mean(axis=0))

    def _forget(self, now_s: float) -> None:
        """Drop what no screen shows any more."""
        while self._time_s and self._time_s[0] < now_s - KEPT_S:
            self._time_s.popleft()
            self._speed_m_s.popleft()
