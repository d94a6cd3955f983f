"""The cue's quick moves while samples arrive, for the eye only.

Adding up acceleration drifts: a cue that is tilted by one degree seems to gain 0.17 m/s every
second. So only what is quick is shown: the acceleration along the cue without its slow part, added
up and forgotten with the same time constant. A steady push A then reads A t exp(-t / FADE_S): the
shape of a stroke, a third short of its speed, and gravity on a cue that is tilted or put away is
gone in seconds. A stroke's true speed is worked out from all its samples elsewhere.
"""

import math
from collections import deque
from itertools import pairwise
from typing import Final

import numpy as np
from scipy.signal import lfilter

from cue_sensors.samples import GAP_FACTOR, FloatArray, Samples

KEPT_S: Final = 10.0
"""As much as a screen shows."""
FADE_S: Final = 0.8
"""Time constant of both parts: longer than a delivery, shorter than a walk round the table."""
STILL_S: Final = 0.2
STILL_M_S2: Final = 0.35
"""Spread of the force of a cue held still, all axes together."""
SAME_REST_M_S2: Final = 0.5
"""Force along the cue may differ this much from its slow part at rest: three degrees of tilt."""


class SpeedTrace:
    """Quick part of the speed along the cue over the last seconds."""

    def __init__(self) -> None:
        self._pieces: deque[tuple[FloatArray, FloatArray]] = deque()
        self._recent: deque[tuple[float, FloatArray]] = deque()
        self._slow_m_s2: float | None = None
        self._speed_m_s = 0.0
        self._last_s = -math.inf

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
        if len(samples) == 0:
            return
        if cue_axis is not None:
            edges = [0, *samples.gap_indices.tolist(), len(samples)]
            along = samples.specific_force_m_s2 @ cue_axis
            for start, stop in pairwise(edges):
                self._add(samples.time_s[start:stop], along[start:stop], samples.rate_hz)
        self._last_s = float(samples.time_s[-1])
        self._stand_still(samples, cue_axis)
        while self._pieces and self._pieces[0][0][-1] < self._last_s - KEPT_S:
            self._pieces.popleft()

    def tail(self) -> tuple[FloatArray, FloatArray]:
        """Return times in seconds and speeds in m/s, both of shape (n,)."""
        if not self._pieces:
            return np.empty(0), np.empty(0)
        time_s, speed_m_s = (np.concatenate(parts) for parts in zip(*self._pieces, strict=True))
        first = int(np.searchsorted(time_s, self._last_s - KEPT_S))
        return time_s[first:], speed_m_s[first:]

    def _add(self, time_s: FloatArray, along_m_s2: FloatArray, rate_hz: float) -> None:
        """Add samples without a gap; what was before a gap says nothing of what comes after."""
        if self._slow_m_s2 is None or (time_s[0] - self._last_s) * rate_hz > GAP_FACTOR:
            self._slow_m_s2, self._speed_m_s = float(along_m_s2[0]), 0.0
        keep = math.exp(-1.0 / (rate_hz * FADE_S))
        slow, _ = lfilter([1.0 - keep], [1.0, -keep], along_m_s2, zi=[keep * self._slow_m_s2])
        gained = (along_m_s2 - slow) * keep / rate_hz
        speed, _ = lfilter([1.0], [1.0, -keep], gained, zi=[keep * self._speed_m_s])
        self._slow_m_s2, self._speed_m_s = float(slow[-1]), float(speed[-1])
        self._last_s = float(time_s[-1])
        self._pieces.append((time_s, speed))

    def _stand_still(self, samples: Samples, cue_axis: FloatArray | None) -> None:
        """Set the speed to zero while the cue stands still."""
        self._recent.extend(zip(samples.time_s, samples.specific_force_m_s2, strict=True))
        while self._recent[0][0] < self._last_s - STILL_S:
            self._recent.popleft()
        force = np.array([force for _, force in self._recent])
        if cue_axis is None or self._slow_m_s2 is None or len(force) < 3:
            return
        mean_m_s2 = float((force @ cue_axis).mean())
        is_even = math.sqrt(float(np.var(force, axis=0).sum())) < STILL_M_S2
        if is_even and abs(mean_m_s2 - self._slow_m_s2) < SAME_REST_M_S2:  # else an even push
            self._slow_m_s2, self._speed_m_s = mean_m_s2, 0.0
