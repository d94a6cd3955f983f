"""What the cue did after the hit."""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.integrals import area_of, running_integral
from cue_signal.rest import Rest
from cue_signal.windows import Window

STANDSTILL_M_S = 0.03
"""Below this the cue stands still after the follow-through."""
STILLNESS_S = 0.15
LEAST_STILLNESS_S = 0.1
"""Stillness is taken over this time after the follow-through, as far as the samples of the stroke
reach: one period of physiological tremor (8 to 12 Hz) at least."""


@dataclass(frozen=True, eq=False)
class Follow:
    """Follow-through of one stroke.

    Parameters
    ----------
    speed_m_s : ndarray, shape (m,)
        Speed along the cue from the first sample clear of the blow on.
    end_s, way_m : float
        When the cue first stood still (sample time), and how far it went from the touch.
    stillness_m_s2 : float or None
        Standard deviation of the acceleration over the 0.15 s after.
    speed_after_m_s : float
        Just after the blow.
    has_rest : bool
        Whether a rest after the stroke fixes the speed.
    """

    speed_m_s: FloatArray
    end_s: float
    way_m: float
    stillness_m_s2: float | None
    speed_after_m_s: float
    has_rest: bool


def follow_through(
    window: Window,
    accel_m_s2: FloatArray,
    first: int,
    *,
    touch_s: float,
    start_speed_m_s: float,
    rest: Rest | None,
) -> Follow:
    """Return the follow-through.

    Parameters
    ----------
    window : Window
        Samples.
    accel_m_s2 : ndarray, shape (n,)
        Axial acceleration, drift taken out.
    first : int
        First sample clear of the blow.
    touch_s : float
        Touch on the samples' times.
    start_speed_m_s : float
        Speed just after the blow as the hit itself tells it; used without a rest.
    rest : Rest or None
        First rest after the hit.

    Returns
    -------
    Follow
        Measures on the samples' times.
    """
    time_s = window.time_s[first:]
    speed = running_integral(accel_m_s2[first:], time_s)
    if rest is not None:
        speed -= speed[rest.start - first : rest.stop - first].mean()
    else:
        speed += start_speed_m_s
    slow = np.flatnonzero(speed < STANDSTILL_M_S)
    end = int(slow[0]) if len(slow) else len(speed) - 1
    if rest is not None:
        end = min(end, rest.start - first)
    lead_s = float(time_s[0]) - touch_s
    way = 0.5 * (start_speed_m_s + float(speed[0])) * lead_s
    way += area_of(speed, time_s, 0, end + 1)
    after = window.force_m_s2[first + end :][: window.n_samples(STILLNESS_S)]
    is_enough = len(after) >= window.n_samples(LEAST_STILLNESS_S)
    spread = float(np.sqrt(np.var(after, axis=0).sum())) if is_enough else None
    return Follow(
        speed_m_s=speed,
        end_s=float(time_s[end]),
        way_m=max(way, 0.0),
        stillness_m_s2=spread,
        speed_after_m_s=float(speed[0]),
        has_rest=rest is not None,
    )
