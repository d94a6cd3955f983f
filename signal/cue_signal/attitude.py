"""Gravity as it is felt, and the frame that it gives a cue.

Gravity is taken as the mean reading of a rest, bias included: what does not change between the
rest and the stroke cancels.
"""

import numpy as np

from cue_sensors.samples import FloatArray

GRAVITY_M_S2 = 9.81
"""Mean of what is felt where people play; differs by at most 0.3 % on Earth."""


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
    left = np.cross(gravity_m_s2, cue_axis)
    left /= max(float(np.linalg.norm(left)), 1e-9)
    return np.vstack([cue_axis, left, np.cross(cue_axis, left)])
