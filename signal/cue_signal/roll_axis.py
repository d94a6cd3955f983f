"""The cue's direction in the sensor from a roll: by turning, and by the circle of gravity.

By turning: the rate, less its vertical part, is the roll's rate times (a - s u), a the cue's
direction, u what points up in the sensor and s the sine of the cue's slope; least squares for a
and s over a whole turn is blind to a yawing push. By gravity: while the cue rolls, the force
along it stays the same, whatever happens across it (the sensor's way round the axis, the roll
speeding up): the readings lie on a plane, and its normal is the cue's direction. A reading's
normal is the right one to multiply readings by even where scales are off, for the force along
the cue is constant in those very readings.

Each is done over again with one arc left out at a time (the jackknife of Tukey, Efron and Stein
1981, from memory), which gives an uncertainty that knows of wobble and bumps.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cue_sensors.samples import FloatArray, Samples
from cue_signal.roll_find import Rolled, across, smooth

ARC_RAD = 0.5
MOST_ARCS = 40
HUBER = 1.5
ROUNDS = 6
SHARED_SD_RAD = 0.002
"""What every roll shares: a cue that is bowed by a millimetre or two, a seam in the cloth. Gravity
and turning see the same wobble once a turn (common practice, no source)."""
GYRO_SD_RAD = 0.003
"""Scales of a gyroscope's axes that differ by 1 % or so, and its axes against the
accelerometer's (data-sheet sizes, from memory)."""
RAW_ACCEL_SD_RAD = 0.005
CALIBRATED_ACCEL_SD_RAD = 0.0015
"""What scale and cross-axis errors of an accelerometer turn the direction by."""


@dataclass(frozen=True, eq=False)
class Direction:
    """A direction in the sensor's frame, sign open.

    Parameters
    ----------
    axis : ndarray, shape (3,)
        Unit vector.
    sd_rad : float
        Standard uncertainty per angle.
    scatter_m_s2 : float
        For gravity's circle: spread of the force along the cue about its mean; else 0.
    """

    axis: FloatArray
    sd_rad: float
    scatter_m_s2: float = 0.0


def by_turning(samples: Samples, rolled: Rolled) -> Direction:
    """Return the direction that the gyroscope says the cue was turned about.

    Parameters
    ----------
    samples : Samples
        With a gyroscope.
    rolled : Rolled
        Where it was rolled.
    """
    index = rolled.index
    turning = smooth(rolled.turning_rad_s, samples.rate_hz)[index]
    force = smooth(samples.specific_force_m_s2, samples.rate_hz)[index]
    up = force / np.linalg.norm(force, axis=1)[:, None]
    level = turning - np.sum(turning * up, axis=1)[:, None] * up
    axis = rolled.about
    for _ in range(3):
        pace = turning @ axis
        normal, right = _turning_sums(level, up, pace, rolled.parts)
        axis = _turning_axis(normal.sum(axis=0), right.sum(axis=0), rolled.about)
    normal, right = _turning_sums(level, up, turning @ axis, rolled.parts)

    def without(arc: int) -> FloatArray:
        left = np.arange(len(normal)) != arc
        return _turning_axis(normal[left].sum(axis=0), right[left].sum(axis=0), rolled.about)

    sd = _jackknife_sd(without, len(normal), axis)
    return Direction(axis, float(np.sqrt(sd**2 + SHARED_SD_RAD**2 + GYRO_SD_RAD**2)))


def by_gravity(samples: Samples, rolled: Rolled, *, is_calibrated: bool) -> Direction:
    """Return the normal of the circle that gravity went round in the sensor's frame.

    Parameters
    ----------
    samples : Samples
        With or without a gyroscope.
    rolled : Rolled
        Where it was rolled.
    is_calibrated : bool
        Whether the accelerometer's errors were taken out of the samples.
    """
    force = samples.specific_force_m_s2
    arcs = _arcs_of(rolled, samples.rate_hz)
    axis, weights = rolled.about, [np.ones(len(arc)) for arc, _ in arcs]
    scatter = 0.0
    for _ in range(ROUNDS):
        sums = _plane_sums(force, arcs, weights, len(rolled.parts))
        axis = _normal(sums.sum(axis=0), rolled.about)
        off = _off_plane(force, arcs, weights, axis, len(rolled.parts))
        scatter = 1.4826 * float(np.median(np.abs(np.concatenate(off)))) + 1e-6
        weights = [1.0 / np.maximum(1.0, np.abs(one) / (HUBER * scatter)) for one in off]
    sums = _plane_sums(force, arcs, weights, len(rolled.parts))

    def without(arc: int) -> FloatArray:
        return _normal(sums[np.arange(len(sums)) != arc].sum(axis=0), rolled.about)

    sd = _jackknife_sd(without, len(sums), axis)
    own = CALIBRATED_ACCEL_SD_RAD if is_calibrated else RAW_ACCEL_SD_RAD
    return Direction(axis, float(np.sqrt(sd**2 + SHARED_SD_RAD**2 + own**2)), scatter)


def combined(one: Direction, other: Direction) -> tuple[Direction, float]:
    """Return the weighted mean of two directions, and by how many sds they differ.

    Parameters
    ----------
    one, other : Direction
        Of the same sign; the errors they share are in both.
    """
    sds = np.array([one.sd_rad, other.sd_rad])
    own = np.sqrt(np.maximum(sds**2 - SHARED_SD_RAD**2, 1e-8))
    weight = own**-2.0 / np.sum(own**-2.0)
    axis = weight[0] * one.axis + weight[1] * other.axis
    apart = float(np.linalg.norm(np.cross(one.axis, other.axis)))
    # two angles, so twice the variance of one is what the square of the distance averages
    excess = apart / np.sqrt(2.0 * float(own @ own))
    sd = np.sum(own**-2.0) ** -0.5 * max(1.0, excess)
    return (
        Direction(
            axis / np.linalg.norm(axis),
            float(np.hypot(sd, SHARED_SD_RAD)),
            max(one.scatter_m_s2, other.scatter_m_s2),
        ),
        excess,
    )


def _arcs_of(rolled: Rolled, rate_hz: float) -> list[tuple[np.ndarray, int]]:
    """Return the samples of each arc of half a radian, with the number of its push."""
    arcs: list[tuple[np.ndarray, int]] = []
    most = max(ARC_RAD, rolled.turned_rad / MOST_ARCS)
    for number, part in enumerate(rolled.parts):
        turned = np.cumsum(np.abs(rolled.turning_rad_s[part] @ rolled.about)) / rate_hz
        n = max(1, round(float(turned[-1]) / most))
        arc = np.minimum((turned / turned[-1] * n).astype(np.int64), n - 1)
        index = np.arange(part.start, part.stop)
        arcs += [(index[arc == k], number) for k in range(n) if np.any(arc == k)]
    return arcs


def _plane_sums(
    force: FloatArray, arcs: list[tuple[np.ndarray, int]], weights: list[FloatArray], n_parts: int
) -> FloatArray:
    """Return the weighted squares of the force about its mean over each push, (n arcs, 3, 3)."""
    means = _part_means(force, arcs, weights, n_parts)
    sums = []
    for (index, part), weight in zip(arcs, weights, strict=True):
        off = force[index] - means[part]
        sums.append((weight[:, None] * off).T @ off)
    return np.array(sums)


def _off_plane(
    force: FloatArray,
    arcs: list[tuple[np.ndarray, int]],
    weights: list[FloatArray],
    axis: FloatArray,
    n_parts: int,
) -> list[FloatArray]:
    """Return the force along the axis about its mean over each push, for each arc."""
    means = _part_means(force, arcs, weights, n_parts)
    return [(force[index] - means[part]) @ axis for index, part in arcs]


def _part_means(
    force: FloatArray, arcs: list[tuple[np.ndarray, int]], weights: list[FloatArray], n_parts: int
) -> FloatArray:
    """Return the weighted mean force of each push, shape (n parts, 3)."""
    total, size = np.zeros((n_parts, 3)), np.zeros(n_parts)
    for (index, part), weight in zip(arcs, weights, strict=True):
        total[part] += weight @ force[index]
        size[part] += weight.sum()
    return total / size[:, None]


def _normal(squares: FloatArray, about: FloatArray) -> FloatArray:
    """Return the direction of least spread, to the side of a rough one."""
    axis = np.linalg.eigh(squares)[1][:, 0]
    return np.asarray(axis * np.sign(axis @ about or 1.0), dtype=np.float64)


def _turning_sums(
    level: FloatArray, up: FloatArray, pace: FloatArray, parts: tuple[slice, ...]
) -> tuple[FloatArray, FloatArray]:
    """Return normal equations for (a, s), arc by arc: shapes (n arcs, 4, 4) and (n arcs, 4)."""
    lengths = [part.stop - part.start for part in parts]
    # arcs of equal numbers of samples within each push
    bounds: list[int] = [0]
    for length in lengths:
        n = max(1, round(MOST_ARCS * length / sum(lengths)))
        bounds += (bounds[-1] + np.linspace(0, length, n + 1)[1:].astype(np.int64)).tolist()
    normal, right = [], []
    for first, last in pairwise(bounds):
        p, u, w = pace[first:last], up[first:last], level[first:last]
        mixed = -(p**2) @ u
        block = np.zeros((4, 4))
        block[:3, :3] = np.eye(3) * float(p @ p)
        block[:3, 3] = block[3, :3] = mixed
        block[3, 3] = float(p @ p)
        normal.append(block)
        right.append(np.append(p @ w, -float(np.sum(p * np.sum(u * w, axis=1)))))
    return np.array(normal), np.array(right)


def _turning_axis(normal: FloatArray, right: FloatArray, about: FloatArray) -> FloatArray:
    """Return the direction that solves the normal equations."""
    # a slope of some degrees at most: keeps a short roll solvable
    normal = normal + np.diag([0.0, 0.0, 0.0, normal[3, 3] * 0.02])
    axis = np.linalg.solve(normal, right)[:3]
    axis = axis / np.linalg.norm(axis)
    return np.asarray(axis * np.sign(axis @ about or 1.0), dtype=np.float64)


def _jackknife_sd(without: Callable[[int], FloatArray], n: int, axis: FloatArray) -> float:
    """Return the standard uncertainty per angle, by leaving out one arc at a time."""
    if n < 2:
        return 0.1
    first, second = across(axis)
    found = np.array([without(k) for k in range(n)])
    off = np.column_stack([found @ first, found @ second])
    off -= off.mean(axis=0)
    return float(np.sqrt((n - 1) / n * np.sum(off**2) / 2.0))
