"""Where the phases of a stroke begin and end, from its speed along the cue."""

from dataclasses import dataclass

from cue_sensors.samples import FloatArray
from cue_signal.compiled import compiled

STANDING_M_S = 0.05
"""Below this the cue counts as paused at the rear."""
BACKSWING_M_S = 0.02
"""The backswing begins where the cue last moved back slower than this."""
FROM_BALL_M = 0.12
"""It begins no further than this from where the ball is met: feathers end within an inch or two of
it (common practice, no source), and travel drifts by as much where no rest is found."""


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
    found = _phases(time_s, speed_m_s, travel_m, STANDING_M_S, BACKSWING_M_S, FROM_BALL_M)
    return None if found[-1] < 0 else Phases(*found)


@compiled
def _phases(
    time_s: FloatArray,
    speed_m_s: FloatArray,
    travel_m: FloatArray,
    standing_m_s: float,
    backswing_m_s: float,
    from_ball_m: float,
) -> tuple[float, float, float, float, int, int, int]:
    """Return the numbers of the phases in order, the last -1 for none."""
    none = (0.0, 0.0, 0.0, 0.0, -1, -1, -1)
    delivery = _last_below(speed_m_s, len(speed_m_s), standing_m_s)
    if delivery < 1 or delivery >= len(speed_m_s) - 1:
        return none
    backward = _last_below(speed_m_s, delivery + 1, -standing_m_s)
    if backward < 0:
        return none
    start = _start_of(speed_m_s, backward, -backswing_m_s)
    while start >= 0 and travel_m[start] < -from_ball_m:
        # no backswing begins so far from the ball: this was a creep during the pause
        earlier = _last_below(speed_m_s, start, -standing_m_s)
        if earlier < 0:
            break
        backward = earlier
        start = _start_of(speed_m_s, backward, -backswing_m_s)
    rear = backward
    for k in range(backward, delivery + 2):
        rear = k if travel_m[k] < travel_m[rear] else rear
    return (
        _crossing_s(time_s, speed_m_s, start, -backswing_m_s),
        _crossing_s(time_s, speed_m_s, backward, -standing_m_s),
        _rear_s(time_s, speed_m_s, rear),
        _crossing_s(time_s, speed_m_s, delivery, standing_m_s),
        max(start, 0),
        rear,
        delivery,
    )


@compiled
def _start_of(speed_m_s: FloatArray, index: int, limit: float) -> int:
    """Return the last index before a run of speeds up to a limit, -1 for none."""
    while index >= 0 and speed_m_s[index] <= limit:
        index -= 1
    return index


@compiled
def _last_below(values: FloatArray, stop: int, limit: float) -> int:
    """Return the last index before a stop with a value below the limit, -1 for none."""
    index = stop - 1
    while index >= 0 and values[index] >= limit:
        index -= 1
    return index


@compiled
def _crossing_s(time_s: FloatArray, values: FloatArray, index: int, level: float) -> float:
    """Return when the straight line from index to the next sample meets the level."""
    if index < 0:
        return float(time_s[0])
    if index + 1 >= len(values) or values[index + 1] == values[index]:
        return float(time_s[index])
    part = (level - values[index]) / (values[index + 1] - values[index])
    part = min(max(part, 0.0), 1.0)
    return float(time_s[index] + part * (time_s[index + 1] - time_s[index]))


@compiled
def _rear_s(time_s: FloatArray, speed_m_s: FloatArray, rear: int) -> float:
    """Return when the speed passes zero next to the rearmost sample."""
    first = rear if speed_m_s[rear] < 0.0 else max(rear - 1, 0)
    if first + 1 < len(speed_m_s) and speed_m_s[first] < 0.0 <= speed_m_s[first + 1]:
        return _crossing_s(time_s, speed_m_s, first, 0.0)
    return float(time_s[rear])
