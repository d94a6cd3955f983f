"""Where the cue points in the sensor's frame, as one measured stroke shows it.

A cue slides through the bridge hand, so there it moves along itself. With a gyroscope the speed of
the sensor and the turning of the cue give the speed at the bridge, and its direction is the cue's.
Without one the sensor's own speed has to do, which the rise and fall of the butt bends.
"""

import math
from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.attitude import cue_frame
from cue_signal.axis import CueAxis
from cue_signal.strapdown import Path, reference_slice
from cue_signal.windows import Window

BRIDGE_SD_RAD, BRIDGE_SD_M_S = 0.01, 0.012
"""The bridge hand gives way in proportion to the stroke, and as the player sways."""
BUTT_SD_RAD, BUTT_SD_M_S = 0.05, 0.05
"""Without a gyroscope: the butt's rise and fall, and gravity that leaks in over a delivery."""
TURNING_S = 0.04
"""The cue's turning is the slope of a parabola over this time."""
ODD_SDS = 2.5
ROUNDS = 4
FLOOR_SD_RAD = 0.006
"""What all strokes of a player share: a bowed cue, a bridge hand that rolls."""
FLOOR_TILT_SD_RAD = 0.03


@dataclass(frozen=True, eq=False)
class Pointing:
    """Direction of the cue as one stroke shows it.

    Parameters
    ----------
    direction : ndarray, shape (3,)
        Unit vector towards the tip in the sensor's frame.
    sd_rad, floor_sd_rad : float
        Standard uncertainty per angle, and what more strokes of the same kind cannot improve.
    """

    direction: FloatArray
    sd_rad: float
    floor_sd_rad: float


def pointing(
    window: Window, path: Path, axis: CueAxis, rear: int, clear: int, *, bridge_m: float
) -> Pointing:
    """Return the direction of the cue that the delivery of one stroke shows.

    Parameters
    ----------
    window, path : Window, Path
        Samples and motion along the axis.
    axis : CueAxis
        What was taken for the cue's direction.
    rear, clear : int
        Samples at the rear and just before the blow.
    bridge_m : float
        From the sensor to the bridge hand.
    """
    gained = gained_m_s(window, path, rear, clear)
    ahead = max(float(gained[0]), 1e-3)
    left, up = float(gained[1]) / ahead, float(gained[2]) / ahead
    sd, floor = math.hypot(BUTT_SD_RAD, BUTT_SD_M_S / ahead), FLOOR_TILT_SD_RAD
    if path.turn_rad is not None:
        turning = turning_of(window, path.turn_rad, clear, clear + 1)[0]
        turning = turning - turning_of(window, path.turn_rad, rear, clear + 1)[0]
        turned = path.turn_rad[clear]
        left += bridge_m * float(turning[2]) / ahead - float(turned[2])
        up -= bridge_m * float(turning[1]) / ahead - float(turned[1])
        sd, floor = math.hypot(BRIDGE_SD_RAD, BRIDGE_SD_M_S / ahead), FLOOR_SD_RAD
    gravity = window.force_m_s2[reference_slice(window, path.reference, clear)].mean(axis=0)
    direction = np.array([1.0, left, up]) @ cue_frame(axis.direction, gravity)
    return Pointing(direction / np.linalg.norm(direction), sd, floor)


def gained_m_s(window: Window, path: Path, rear: int, clear: int) -> FloatArray:
    """Return the sensor's speed at the hit along, left and upwards, shape (3,).

    Parameters
    ----------
    window, path : Window, Path
        Samples and motion.
    rear, clear : int
        Sample at the rear, and last one clear of the blow.
    """
    span = slice(rear, clear + 1)
    return np.asarray(np.trapezoid(path.accel_m_s2[span], window.time_s[span], axis=0))


def turning_of(
    window: Window, turn_rad: FloatArray, index: int, stop: int
) -> tuple[FloatArray, FloatArray]:
    """Return the rate of turning at a sample and its change, in rad/s and rad/s^2.

    Parameters
    ----------
    window : Window
        For the times.
    turn_rad : ndarray, shape (n, 3)
        Rotation vectors.
    index, stop : int
        The sample; those from ``stop`` on are not looked at.
    """
    n = window.n_samples(TURNING_S, at_least=3)
    near = slice(max(0, index - n), min(index + n + 1, stop))
    lag = window.time_s[near] - window.time_s[index]
    _, slope, bend = np.polynomial.polynomial.polyfit(lag, turn_rad[near], 2)
    return slope, 2.0 * bend


def pointed(axis: CueAxis, seen: list[Pointing]) -> CueAxis:
    """Return the cue's direction made surer by the strokes measured along it.

    Parameters
    ----------
    axis : CueAxis
        As known before.
    seen : list of Pointing
        What the strokes show; one that disagrees with the others counts for little.

    Returns
    -------
    CueAxis
        The same axis without strokes.
    """
    if not seen:
        return axis
    directions = np.array([axis.direction, *[one.direction for one in seen]])
    sds = np.array([axis.sd_rad, *[one.sd_rad for one in seen]])
    centre = np.median(directions[1:], axis=0)
    weight = sds**-2.0
    for _ in range(ROUNDS):
        off = np.linalg.norm(directions - centre, axis=1) / sds
        weight = sds**-2.0 / np.maximum(1.0, (off / ODD_SDS) ** 2)
        centre = weight @ directions / weight.sum()
    sd = math.hypot(float(weight.sum()) ** -0.5, min(one.floor_sd_rad for one in seen))
    return CueAxis(centre / np.linalg.norm(centre), sd, axis.source)
