"""Gravity as it is felt, and the frame that it gives a cue.

Gravity is taken as the mean reading of a rest, bias included: what does not change between the
rest and the stroke cancels.
"""

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.compiled import compiled

LEAST_SIZE = 1e-9
GRAVITY_M_S2 = 9.81
"""Mean of what is felt where people play; differs by at most 0.3 % on Earth."""


@compiled
def cue_frame(cue_axis: FloatArray, gravity_m_s2: FloatArray) -> FloatArray:
    """Return the cue's frame in the sensor's frame.

    Parameters
    ----------
    cue_axis : ndarray, shape (3,)
        Unit vector towards the tip, in the sensor's frame.
    gravity_m_s2 : ndarray, shape (3,)
        Specific force at rest in the sensor's frame: points up.

    Returns
    -------
    ndarray, shape (3, 3)
        Rows: x along the cue to the tip, y horizontal to the left, z completing them (up).
    """
    frame = np.empty((3, 3))
    for j in range(3):
        frame[0, j] = cue_axis[j]
        k, m = (j + 1) % 3, (j + 2) % 3
        frame[1, j] = gravity_m_s2[k] * cue_axis[m] - gravity_m_s2[m] * cue_axis[k]
    size = max(np.sqrt(frame[1, 0] ** 2 + frame[1, 1] ** 2 + frame[1, 2] ** 2), LEAST_SIZE)
    for j in range(3):
        frame[1, j] /= size
    for j in range(3):
        k, m = (j + 1) % 3, (j + 2) % 3
        frame[2, j] = frame[0, k] * frame[1, m] - frame[0, m] * frame[1, k]
    return frame
