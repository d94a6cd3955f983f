"""How far from the ball a cue can be while its player is down on the shot.

The cue lies on the bridge hand with its tip near the ball, so over seconds its travel stays within
a backswing. Integrated twice, an error of gravity as small as 0.03 m/s^2 leads out of that in four
seconds: the bound tells gravity and speed even where a player never rests.
"""

from functools import lru_cache

import numpy as np

from cue_sensors.samples import IntArray
from cue_signal.strapdown import Path
from cue_signal.windows import Window

REACH_M = 0.1
REACH_SD_M = 0.12
"""From the cue to the ball at any moment down on the shot: feathers go back 0.05 to 0.2 m, the
backswing 0.1 to 0.35 m (common practice, no source)."""
STEP_S = 0.4
"""Moments this far apart are taken for independent: half a feather."""
SETTLING_S = 0.3
"""A cue that has just come down still slides into its place."""
MOST_REACH_S, MOST_LEAN_S = 6.0, 4.0
"""Looked back so far, with a gyroscope and without one."""


def moments_down(window: Window, path: Path, hit_index: int) -> IntArray:
    """Return samples, evenly spaced before a hit, at which the player was down on the shot.

    Parameters
    ----------
    window, path : Window, Path
        Samples and raw motion.
    hit_index : int
        Last sample clear of the blow.

    Returns
    -------
    ndarray of int
        In order.
    """
    most_s = MOST_REACH_S if path.turn_rad is not None else MOST_LEAN_S
    return _moments(window, path.down_index, hit_index, most_s)


@lru_cache(maxsize=1)
def _moments(window: Window, down_index: int, hit_index: int, most_s: float) -> IntArray:
    """Return them; one window is asked many times."""
    first_s = float(window.time_s[down_index]) + SETTLING_S
    last_s = float(window.time_s[hit_index])
    times = np.arange(last_s - STEP_S, max(first_s, last_s - most_s), -STEP_S)[::-1]
    return np.searchsorted(window.time_s, times).astype(np.int64)
