"""Direction of the cue in the sensor's frame, from the strokes themselves.

In a stroke the speed gained over the delivery and the speed lost at the hit point along the cue,
one forward and one back. Whatever else jolts the sensor (a knock, a step, a cue put down) does
not repeat that in one direction of the sensor's frame.
"""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.windows import Window, medians

BEFORE_S = 0.7
"""A delivery is not longer than this."""
BASE_S = 2.5
"""Gravity is the median over this time before the hit."""
LEAST_GAIN_M_S = 0.2
SENSOR_TO_BRIDGE_M = 0.95
"""From a sensor near the butt; common practice, no source."""
BRIDGE_TO_TIP_M = 0.25
"""At the ball; common practice, no source: a hand's length to a foot."""
MOST_ACROSS = 0.35
"""The butt's own rise and fall is no more than this part of the speed."""
MOST_ANGLE_RAD = 0.7
"""Between the speed lost at the hit and the delivery's; clipping bends the former."""
PUSH_LEAST_M_S = 0.06
"""Where the converter before the sensor's filter ends, next to nothing of the blow is left in the
samples, but the hand that drives the cue on is seen in full: a sudden gain forward."""
STEEPEST_SIN = 0.6
"""A cue raised further than this (37 degrees) is not being played with."""
AGREE_RAD = 0.25
"""Directions within this are called the same."""
SAME_RAD = 0.06
"""Two that hints agree on are not worth trying both when they are this close."""
MOST_RIVALS = 3
RIVAL_SHARE = 0.1
"""A direction that fewer hints agree on than this share of another's is not worth trying."""
HINT_SD_RAD, HINT_WEIGHT = 0.06, 2.0
"""How far one hint is off, each way, and as how many hints that counts."""
FLOOR_SD_RAD = 0.012
FLOOR_TILT_SD_RAD = 0.04
"""What all strokes of a player share, with and without a gyroscope: the butt's rise and fall."""


@dataclass(frozen=True, eq=False)
class CueAxis:
    """Direction of the cue in the sensor's frame.

    Parameters
    ----------
    direction : ndarray, shape (3,)
        Unit vector towards the tip.
    sd_rad : float
        Standard uncertainty, per angle.
    source : str
        ``"mounting"``, ``"strokes"`` or ``"roll"``.
    """

    direction: FloatArray
    sd_rad: float
    source: str


@dataclass(frozen=True, eq=False)
class Hint:
    """What one sudden loss of speed tells about the cue's direction.

    Parameters
    ----------
    direction : ndarray, shape (3,)
        Unit vector, forward.
    weight : float
        Speed gained, in m/s.
    floor_sd_rad : float
        What more hints of the same kind cannot improve.
    is_push : bool
        Whether the push of the hand was seen in place of the blow.
    """

    direction: FloatArray
    weight: float
    floor_sd_rad: float
    is_push: bool = False


def bridge_distance_m(sensor_to_tip_m: float | None) -> float:
    """Return the distance from the sensor to the bridge hand, as far as it can be known.

    Parameters
    ----------
    sensor_to_tip_m : float or None
        From sensor to tip.
    """
    if sensor_to_tip_m is None:
        return SENSOR_TO_BRIDGE_M
    return max(sensor_to_tip_m - BRIDGE_TO_TIP_M, 0.1)


def axis_hint(
    window: Window, about_s: float, change_m_s: FloatArray, *, bridge_m: float = SENSOR_TO_BRIDGE_M
) -> Hint | None:
    """Return the direction a suspected hit points in.

    Parameters
    ----------
    window : Window
        Samples before and a little after.
    about_s : float
        Time of the loss of speed.
    change_m_s : ndarray, shape (3,)
        Sudden change of speed in the sensor's frame.
    bridge_m : float
        From the sensor to the bridge hand.

    Returns
    -------
    Hint or None
        None where no delivery goes before it in the opposite direction.
    """
    hit = int(np.searchsorted(window.time_s, about_s)) - 2
    first = max(0, hit - window.n_samples(BEFORE_S))
    if hit - first < 4:
        return None
    swing = _free_force(window, hit)[first:hit]
    # speed gained from each sample to the hit, all axes
    gain = np.cumsum(swing[::-1], axis=0)[::-1] * window.period_s
    size = np.linalg.norm(gain, axis=1)
    best = int(np.argmax(size))
    jolt = float(np.linalg.norm(change_m_s))
    if size[best] < max(LEAST_GAIN_M_S, jolt):
        return None
    speed = _at_bridge(window, hit, gain[best], bridge_m)
    direction = speed / np.linalg.norm(speed)
    ahead = float(change_m_s @ direction)
    is_push = ahead > max(np.cos(MOST_ANGLE_RAD) * jolt, PUSH_LEAST_M_S)
    if not (is_push or ahead <= -np.cos(MOST_ANGLE_RAD) * jolt):
        return None
    if abs(_rise(window, hit, direction)) > STEEPEST_SIN:
        return None
    floor = FLOOR_TILT_SD_RAD if window.rate_rad_s is None else FLOOR_SD_RAD
    return Hint(direction, float(size[best]), floor, is_push)


def _rise(window: Window, hit: int, direction: FloatArray) -> float:
    """Return how steeply a direction rises: a knock on the rail goes down, a stroke goes level."""
    first = max(0, hit - window.n_samples(BASE_S))
    gravity = medians(window.force_m_s2[first:hit])
    return float(direction @ gravity / np.linalg.norm(gravity))


def _free_force(window: Window, hit: int) -> FloatArray:
    """Return the force up to the hit with gravity taken off, in the sensor's frame at the hit."""
    first = max(0, hit - window.n_samples(BASE_S))
    force = window.force_m_s2[:hit]
    gravity = medians(force[first:])
    if window.rate_rad_s is not None:
        # in the sensor's frame gravity turns against the cue, a little over so short a time
        rate = window.rate_rad_s[:hit] - medians(window.rate_rad_s[first:hit])
        to_hit = np.cumsum(rate[::-1], axis=0)[::-1] * window.period_s
        force = force - to_hit @ _times(gravity)
        gravity = medians(force[first:])
    return np.asarray(force - gravity, dtype=np.float64)


def _at_bridge(window: Window, hit: int, speed_m_s: FloatArray, bridge_m: float) -> FloatArray:
    """Return the cue's speed where it lies on the bridge hand: there it moves along itself."""
    if window.rate_rad_s is None:
        return speed_m_s
    long_before = slice(max(0, hit - window.n_samples(BASE_S)), hit)
    near = slice(max(0, hit - window.n_samples(0.02, at_least=2)), hit)
    rate = window.rate_rad_s[near].mean(axis=0) - medians(window.rate_rad_s[long_before])
    lever = bridge_m * speed_m_s / np.linalg.norm(speed_m_s)
    across = rate @ _times(lever)
    most = MOST_ACROSS * float(np.linalg.norm(speed_m_s))
    size = float(np.linalg.norm(across))
    return np.asarray(speed_m_s + across * min(1.0, most / max(size, 1e-9)), dtype=np.float64)


def _times(vector: FloatArray) -> FloatArray:
    """Return the matrix m with a @ m = a x vector, many times quicker than numpy's product."""
    x, y, z = vector.tolist()
    return np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])


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
    # few hints do not show how far they scatter
    total = float(np.sum(scatter**2)) / 2.0 + HINT_WEIGHT * HINT_SD_RAD**2
    spread = np.sqrt(total / (HINT_WEIGHT + len(scatter) - 1.0))
    return centre, float(np.hypot(1.25 * spread / np.sqrt(len(scatter)), hints[0].floor_sd_rad))


def rival_axes(hints: list[Hint]) -> list[tuple[FloatArray, float, int]]:
    """Return the directions that hints agree on, the most likely first.

    What is repeated as often as the strokes (a knock after each) agrees as well as they do, and
    a sensor that cannot follow blows shows pushes only: which direction is the cue's shows when
    strokes are measured along it.

    Parameters
    ----------
    hints : list of Hint
        From all suspected hits.

    Returns
    -------
    list of tuples of ndarray (3,), float and int
        Direction and standard uncertainty as `agree` has them, and how many hints agree.
    """
    found: list[tuple[FloatArray, float, int]] = []
    for left in ([hint for hint in hints if not hint.is_push], list(hints)):
        for _ in range(MOST_RIVALS):
            agreed = agree(left)
            if agreed is None:
                break
            off = [hint for hint in left if hint.direction @ agreed[0] <= np.cos(AGREE_RAD)]
            if len(off) == len(left):
                break
            n_agree, left = len(left) - len(off), off
            if not any(agreed[0] @ known > np.cos(SAME_RAD) for known, _, _ in found):
                found.append((*agreed, n_agree))
    least = RIVAL_SHARE * max((n for _, _, n in found), default=0)
    return [one for one in found if one[2] >= least]
