"""Where the tip went sideways and up, from the turning of the cue and the motion of the sensor.

Reference: the cue's frame at the rest at the ball; the tip's place there is zero. The tip is the
sensor plus the way from sensor to tip, turned with the cue. The turning is measured well, the
sensor's own sideways motion drifts within a second; what ties it down is that the cue lies on a
bridge hand that stands on the cloth. So the tip's way is

    bridge + (tip's distance from the bridge) x (turn of the cue)

where the bridge's own way is nearly zero. Both views are joined by their weights.
"""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.axis import BRIDGE_TO_TIP_M
from cue_signal.strapdown import Path
from cue_signal.windows import Window

BRIDGE_TO_TIP_SD_M = 0.05
"""At the hit; common practice, no source: a hand's length to a foot."""
BRIDGE_SD_M, BRIDGE_UP_SD_M = 0.00035, 0.0008
"""How far the cue shifts in the bridge, and the bridge on the cloth: sideways, and upwards, where
only its weight holds a cue down on a soft hand."""
TURN_SD_RAD = 0.0006
"""Turn carried from the rest to the hit: bias of the gyroscope, sway during the rest."""


@dataclass(frozen=True, eq=False)
class TipPath:
    """Tip's way off the line it lay on at rest.

    Parameters
    ----------
    lateral_m, vertical_m : ndarray, shape (n,)
        Left and up positive, over the window.
    lateral_sd_m, vertical_sd_m : float
        Standard uncertainty at the hit.
    """

    lateral_m: FloatArray
    vertical_m: FloatArray
    lateral_sd_m: float
    vertical_sd_m: float


def tip_path(window: Window, path: Path, travel_m: FloatArray, hit_index: int) -> TipPath | None:
    """Return the tip's way sideways and up.

    Parameters
    ----------
    window, path : Window, Path
        Samples and motion, referred to the rest at the ball.
    travel_m : ndarray, shape (n,)
        Along the cue, 0 at the hit.
    hit_index : int
        Last sample clear of the blow.

    Returns
    -------
    TipPath or None
        None without a gyroscope.
    """
    if path.turn_rad is None:
        return None
    reach = BRIDGE_TO_TIP_M + np.clip(travel_m, -0.5, 0.5)
    lateral = reach * np.sin(path.turn_rad[:, 2])
    vertical = -reach * np.sin(path.turn_rad[:, 1])
    yaw, pitch = float(path.turn_rad[hit_index, 2]), float(path.turn_rad[hit_index, 1])
    return TipPath(
        lateral_m=lateral,
        vertical_m=vertical,
        lateral_sd_m=_sd_m(yaw, BRIDGE_SD_M),
        vertical_sd_m=_sd_m(pitch, BRIDGE_UP_SD_M),
    )


def _sd_m(turn_rad: float, bridge_m: float) -> float:
    """Return the standard uncertainty of the tip's way after a turn."""
    lever = turn_rad * BRIDGE_TO_TIP_SD_M
    return float(np.sqrt(bridge_m**2 + lever**2 + (TURN_SD_RAD * BRIDGE_TO_TIP_M) ** 2))
