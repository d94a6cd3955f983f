"""Direction of the cue in the sensor's frame, from the strokes themselves.

In a stroke the speed gained over the delivery and the speed lost at the hit point along the cue,
one forward and one back. Whatever else jolts the sensor (a knock, a step, a cue put down) does
not repeat that in one direction of the sensor's frame.
"""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.windows import Window

BEFORE_S = 0.7
"""A delivery is not longer than this."""
LEAST_GAIN_M_S = 0.2
MOST_ANGLE_RAD = 0.7
"""Between the speed lost at the hit and the delivery's; clipping bends the former."""
AGREE_RAD = 0.25
"""Directions within this are called the same."""
FLOOR_SD_RAD = 0.012
"""What the shape of the stroke itself leaves open: the butt's own rise and fall."""


@dataclass(frozen=True, eq=False)
class Hint:
    """What one sudden loss of speed tells about the cue's direction.

    Parameters
    ----------
    direction : ndarray, shape (3,)
        Unit vector, forward.
    weight : float
        Speed gained, in m/s.
    """

    direction: FloatArray
    weight: float


def axis_hint(window: Window, about_s: float, change_m_s: FloatArray) -> Hint | None:
    """Return the direction a suspected hit points in.

    Parameters
    ----------
    window : Window
        Samples before and a little after.
    about_s : float
        Time of the loss of speed.
    change_m_s : ndarray, shape (3,)
        Sudden change of speed in the sensor's frame.

    Returns
    -------
    Hint or None
        None where no delivery goes before it in the opposite direction.
    """
    hit = int(np.searchsorted(window.time_s, about_s)) - 2
    first = max(0, hit - window.n_samples(BEFORE_S))
    if hit - first < 4:
        return None
    long_before = max(0, hit - window.n_samples(2.5))
    base = np.median(window.force_m_s2[long_before:hit], axis=0)
    swing = window.force_m_s2[first:hit] - base
    # speed gained from each sample to the hit, all axes
    gain = np.cumsum(swing[::-1], axis=0)[::-1] * window.period_s
    size = np.linalg.norm(gain, axis=1)
    best = int(np.argmax(size))
    if size[best] < LEAST_GAIN_M_S:
        return None
    direction = gain[best] / size[best]
    jolt = float(np.linalg.norm(change_m_s))
    if change_m_s @ direction > -np.cos(MOST_ANGLE_RAD) * jolt or jolt > size[best]:
        return None
    return Hint(direction, float(size[best]))


def agree(hints: list[Hint]) -> tuple[FloatArray, float] | None:
    """Return the direction most hints agree on, and its standard uncertainty.

    Parameters
    ----------
    hints : list of Hint
        From all suspected hits so far.

    Returns
    -------
    tuple of ndarray (3,) and float, or None
        Unit vector towards the tip and radians per angle; None without hints.
    """
    if not hints:
        return None
    directions = np.array([hint.direction for hint in hints])
    weights = np.array([hint.weight for hint in hints])
    close = directions @ directions.T > np.cos(AGREE_RAD)
    centre = directions[int(np.argmax(close @ weights))]
    for _ in range(5):
        member = directions @ centre > np.cos(AGREE_RAD)
        # a median of each component withstands the odd stroke that turned
        off = np.median(directions[member] - centre, axis=0)
        centre = centre + off
        centre /= np.linalg.norm(centre)
    member = directions @ centre > np.cos(AGREE_RAD)
    scatter = directions[member] - centre
    spread = float(np.sqrt(np.sum(scatter**2) / (2.0 * max(len(scatter), 1))))
    return centre, float(np.hypot(1.25 * spread / np.sqrt(len(scatter)), FLOOR_SD_RAD))
