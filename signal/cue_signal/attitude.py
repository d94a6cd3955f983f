"""How the sensor turned over a short stretch, from its angular rate.

Rotations map vectors of the sensor's frame at sample k into the sensor's frame at a reference
sample, so that a force measured while the cue turns can be compared with gravity as it was felt
at rest. Gravity is taken as the mean reading of a rest, bias included: what does not change
between the rest and the stroke cancels.
"""

import numpy as np
from scipy.spatial.transform import Rotation

from cue_sensors.samples import FloatArray

GRAVITY_M_S2 = 9.81
"""Mean of what is felt where people play; differs by at most 0.3 % on Earth."""


def turned_from_start(rate_rad_s: FloatArray, step_s: FloatArray) -> Rotation:
    """Return the rotations from the frame at each sample into the frame at the first.

    The rate is taken as constant over each step at the mean of its ends. The running product is
    formed by doubling, so its cost is n log n in array operations.

    Parameters
    ----------
    rate_rad_s : ndarray, shape (n, 3)
        Angular rate in the sensor's frame, bias removed.
    step_s : ndarray, shape (n - 1,)
        Seconds between samples.

    Returns
    -------
    scipy.spatial.transform.Rotation
        n rotations; the first is the identity.
    """
    turn = np.zeros_like(rate_rad_s)
    turn[1:] = 0.5 * (rate_rad_s[1:] + rate_rad_s[:-1]) * step_s[:, None]
    product = np.ascontiguousarray(Rotation.from_rotvec(turn).as_quat().T)
    shift = 1
    while shift < product.shape[1]:
        product[:, shift:] = _quat_product(product[:, :-shift], product[:, shift:])
        shift *= 2
    return Rotation.from_quat(product.T)


def turned_from(turned: Rotation, index: int) -> Rotation:
    """Return rotations into the first sample's frame as rotations into that of another sample.

    Parameters
    ----------
    turned : scipy.spatial.transform.Rotation
        n rotations.
    index : int
        The sample whose frame is wanted.
    """
    quat = turned.as_quat().T
    back = quat[:, index] * np.array([-1.0, -1.0, -1.0, 1.0])
    return Rotation.from_quat(_quat_product(back, quat).T)


def rotation_vectors(turned: Rotation) -> FloatArray:
    """Return axis times angle, up to half a turn, of many rotations.

    Parameters
    ----------
    turned : scipy.spatial.transform.Rotation
        n rotations.

    Returns
    -------
    ndarray, shape (n, 3)
        As scipy has it, but in array operations.
    """
    quat = turned.as_quat()
    quat = np.where(quat[:, 3:] < 0.0, -quat, quat)
    size = np.linalg.norm(quat[:, :3], axis=1)
    # 2 is the limit for no turn at all
    per_size = np.full(len(size), 2.0)
    np.divide(2.0 * np.arctan2(size, quat[:, 3]), size, out=per_size, where=size > 1e-12)
    vectors: FloatArray = quat[:, :3] * per_size[:, None]
    return vectors


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


def _quat_product(first: FloatArray, second: FloatArray) -> FloatArray:
    """Return the products first * second of quaternions, shape (4, n) with the scalar last."""
    x1, y1, z1, w1 = first
    x2, y2, z2, w2 = second
    return np.stack(
        [
            w1 * x2 + x1 * w2 + y1 * z2 - z1 * y2,
            w1 * y2 - x1 * z2 + y1 * w2 + z1 * x2,
            w1 * z2 + x1 * y2 - y1 * x2 + z1 * w2,
            w1 * w2 - x1 * x2 - y1 * y2 - z1 * z2,
        ]
    )
