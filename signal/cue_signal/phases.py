"""Where the phases of a stroke begin and end, from its speed along the cue."""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray

STANDING_M_S = 0.05
"""Below this the cue counts as paused at the rear."""
BACKSWING_M_S = 0.02
"""The backswing begins where the cue last moved back slower than this."""


@dataclass(frozen=True)
class Phases:
    """Times of one stroke before the hit, seconds on the samples' axis.

    Parameters
    ----------
    backswing_start_s, pause_start_s, rear_s, delivery_start_s : float
        Final backswing begins; it slows below 0.05 m/s; rearmost point; 0.05 m/s forward passed.
    backswing_start_index, rear_index, delivery_start_index : int
        Nearest samples.
    """

    backswing_start_s: float
    pause_start_s: float
    rear_s: float
    delivery_start_s: float
    backswing_start_index: int
    rear_index: int
    delivery_start_index: int


def find_phases(time_s: FloatArray, speed_m_s: FloatArray, travel_m: FloatArray) -> Phases | None:
    """Return the phases of the swing that ends at the last sample.

    Parameters
    ----------
    time_s, speed_m_s, travel_m : ndarray, shape (n,)
        Up to the last sample clear of the hit, moving forward there.

    Returns
    -------
    Phases or None
        None if the cue did not swing back and come forward.
    """
    delivery = _last_below(speed_m_s, STANDING_M_S)
    if delivery < 1 or delivery >= len(speed_m_s) - 1:
        return None
    backward = _last_below(speed_m_s[: delivery + 1], -STANDING_M_S)
    if backward < 0:
        return None
    rear = backward + int(np.argmin(travel_m[backward : delivery + 2]))
    start = _last_above(speed_m_s[: backward + 1], -BACKSWING_M_S)
    return Phases(
        backswing_start_s=_crossing_s(time_s, speed_m_s, start, -BACKSWING_M_S),
        pause_start_s=_crossing_s(time_s, speed_m_s, backward, -STANDING_M_S),
        rear_s=_rear_s(time_s, speed_m_s, rear),
        delivery_start_s=_crossing_s(time_s, speed_m_s, delivery, STANDING_M_S),
        backswing_start_index=max(start, 0),
        rear_index=rear,
        delivery_start_index=delivery,
    )


def _last_below(values: FloatArray, limit: float) -> int:
    """Return the last index with a value below the limit, -1 for none."""
    below = np.flatnonzero(values < limit)
    return int(below[-1]) if len(below) else -1


def _last_above(values: FloatArray, limit: float) -> int:
    """Return the last index with a value above the limit, -1 for none."""
    return _last_below(-values, -limit)


def _crossing_s(time_s: FloatArray, values: FloatArray, index: int, level: float) -> float:
    """Return when the straight line from index to the next sample meets the level."""
    if index < 0:
        return float(time_s[0])
    if index + 1 >= len(values) or values[index + 1] == values[index]:
        return float(time_s[index])
    part = (level - values[index]) / (values[index + 1] - values[index])
    return float(time_s[index] + np.clip(part, 0.0, 1.0) * (time_s[index + 1] - time_s[index]))


def _rear_s(time_s: FloatArray, speed_m_s: FloatArray, rear: int) -> float:
    """Return when the speed passes zero next to the rearmost sample."""
    first = rear if speed_m_s[rear] < 0.0 else max(rear - 1, 0)
    if first + 1 < len(speed_m_s) and speed_m_s[first] < 0.0 <= speed_m_s[first + 1]:
        return _crossing_s(time_s, speed_m_s, first, 0.0)
    return float(time_s[rear])
