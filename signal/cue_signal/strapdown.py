"""Motion of the sensor along and across the cue over one stroke.

Frame N is the cue's frame at the reference rest: x along the cue to the tip, y horizontal to the
left, z completing them. Raw acceleration is what is left of the turned specific force after the
force felt at that rest is taken off, so biases that do not change cancel.

Speed along the cue is then a linear problem. The raw integrals carry an unknown start, an error
of the gravity reference, its slow change, and without a gyroscope the gravity that leaks in as
the cue tilts with its travel. Rests (no speed) and the tip's return to the ball (no net travel
but the gap left at address) are observations of these. Weighted least squares gives the speed
and its covariance in one step.
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from cue_sensors.samples import FloatArray
from cue_signal.attitude import cue_frame, turned_from_start
from cue_signal.integrals import running_integral
from cue_signal.rest import Rest
from cue_signal.windows import Window

REST_SPEED_SD_M_S = 0.006
"""A held cue's mean speed over a rest: tremor and sway of the body."""
ADDRESS_GAP_M = 0.015
ADDRESS_GAP_SD_M = 0.012
"""How far the tip lies off the ball at address: common practice, no source."""
GRAVITY_WITHIN_S = 4.5
GRAVITY_WITHIN_RAD = 0.35
GRAVITY_AGREES_M_S2 = 0.12
COMMON_SD_M_S2 = 0.01
"""With a gyroscope: rests within this of the hit are compared for gravity, and agree so well."""
DRIFT_SD_M_S3 = 0.012
"""Change of the gravity reference with time: a gyroscope's bias of 0.1 deg/s left over."""
REFERENCE_SD_M_S2 = 0.02
"""Gravity reference of a long rest, beyond what the rest's own sway gives."""
LEAK_SD_M_S2 = 0.15
LEAK_TRAVEL_M = 0.2
"""Without a gyroscope: gravity that leaks in over this travel by tilt (0.9 deg)."""
UNRESTED_SD_M_S2 = 0.3
UNRESTED_SPEED_SD_M_S = 0.3
"""Gravity reference and start speed where no rest was found."""
LOSS_SHARE = 0.31
LOSS_SHARE_SD = 0.06
"""Share of its speed that the cue loses: 22 to 41 % for cues of 16 to 21 oz and any offset up to
half the ball's radius, from momentum and restitution at the tip."""
AFTER_SD_M_S = 0.04
BLOW_OVER_S = 0.02
"""From the middle of the blow until it has rung out."""
LOOK_BACK_S = 3.0
"""Rests further back than this tell little about the stroke."""


@dataclass(frozen=True)
class Leak:
    """Without a gyroscope: how much gravity may leak in over 0.2 m of travel.

    Parameters
    ----------
    slope_sd_m_s2, curve_sd_m_s2 : float
        The part that grows with the travel, and the part that grows with its square.
    """

    slope_sd_m_s2: float = LEAK_SD_M_S2
    curve_sd_m_s2: float = LEAK_SD_M_S2


@dataclass(frozen=True, eq=False)
class Path:
    """Raw motion in frame N.

    Parameters
    ----------
    accel_m_s2 : ndarray, shape (n, 3)
        Acceleration of the sensor in N.
    axial_m_s2 : ndarray, shape (n,)
        Rate of change of the speed along the cue.
    turn_rad : ndarray, shape (n, 3), or None
        Rotation vector of the cue against the reference rest, in N.
    reference : Rest or None
        The rest that gravity was taken from.
    tilt_sin : float
        Sine of the cue's elevation at the reference, tip up positive.
    gravity_sd_m_s2 : float
        Standard uncertainty of gravity along the cue.
    leak : Leak
        What tilt may leave in ``axial_m_s2``; of use only without ``turn_rad``.
    """

    accel_m_s2: FloatArray
    axial_m_s2: FloatArray
    turn_rad: FloatArray | None
    reference: Rest | None
    tilt_sin: float
    gravity_sd_m_s2: float
    leak: Leak = Leak()


@dataclass(frozen=True)
class AtBall:
    """When the tip last lay at the ball before the final backswing.

    Parameters
    ----------
    index : int
        Sample at which it did.
    sd_m : float
        How closely: of its distance from the ball about the usual gap.
    ahead_s, ahead_m : float
        From the last sample clear of the blow to the touch: time, and travel beyond steady speed.
    """

    index: int
    sd_m: float
    ahead_s: float
    ahead_m: float


@dataclass(frozen=True)
class AfterHit:
    """What the rest after the follow-through tells about the speed just after the hit.

    The speed lost to the ball ties it to the speed just before.

    Parameters
    ----------
    first : int
        First sample clear of the blow.
    rest : Rest
        The rest after the follow-through.
    leak_m_s : float
        Speed that the change of the cue's tilt adds between the two, without a gyroscope.
    sd_m_s : float
        How closely the speed after the hit is known by it.
    back_m_s, ahead_m_s : float
        Change of speed from the touch to ``first``, and from the last clear sample to the touch,
        without the blow.
    """

    first: int
    rest: Rest
    leak_m_s: float
    sd_m_s: float
    back_m_s: float
    ahead_m_s: float

    def row(self, basis_speed: FloatArray, hit_index: int) -> FloatArray:
        """Return what raw speeds or drift terms add to (1 - share) before - after."""
        span = slice(self.rest.start, self.rest.stop)
        after = basis_speed[self.first] - basis_speed[span].mean(axis=0)
        row: FloatArray = np.asarray((1.0 - LOSS_SHARE) * basis_speed[hit_index] - after)
        return row

    def constant_m_s(self) -> float:
        """Return the part of the same that no drift term changes."""
        return (1.0 - LOSS_SHARE) * self.ahead_m_s + self.back_m_s + self.leak_m_s


@dataclass(frozen=True, eq=False)
class Speed:
    """Speed and travel along the cue with the drift taken out, valid before the hit.

    Parameters
    ----------
    speed_m_s, travel_m : ndarray, shape (n,)
        Travel counts from the ball: 0 at the hit.
    accel_m_s2 : ndarray, shape (n,)
        Axial acceleration, drift taken out.
    basis_speed, basis_travel, basis_accel : ndarray, shape (n, q)
        What one unit of each drift term adds.
    covariance : ndarray, shape (q, q)
        Of the drift terms.
    """

    speed_m_s: FloatArray
    travel_m: FloatArray
    accel_m_s2: FloatArray
    basis_speed: FloatArray
    basis_travel: FloatArray
    basis_accel: FloatArray
    covariance: FloatArray

    def accel_sd_m_s2(self, index: int) -> float:
        """Return the standard uncertainty that drift leaves in the acceleration at a sample."""
        row = self.basis_accel[index]
        return float(np.sqrt(max(row @ self.covariance @ row, 0.0)))

    def speed_sd_m_s(self, index: int) -> float:
        """Return the standard uncertainty of the speed at a sample."""
        row = self.basis_speed[index]
        return float(np.sqrt(max(row @ self.covariance @ row, 0.0)))

    def travel_sd_m(self, first: int, last: int) -> float:
        """Return the standard uncertainty of the travel between two samples."""
        row = self.basis_travel[last] - self.basis_travel[first]
        return float(np.sqrt(max(row @ self.covariance @ row, 0.0)))


def strapdown(
    window: Window,
    reference: Rest | None,
    rests: list[Rest],
    cue_axis: FloatArray,
    hit_index: int,
    *,
    bias_rad_s: FloatArray | None,
) -> Path:
    """Return the raw motion of the sensor over a window.

    Parameters
    ----------
    window : Window
        Samples.
    reference : Rest or None
        The rest whose frame N is; without one, the mean of the last two seconds serves.
    rests : list of Rest
        All quiet stretches near the hit. With a gyroscope they are compared for gravity, without
        one gravity is taken from the reference alone.
    cue_axis : ndarray, shape (3,)
        Unit vector towards the tip in the sensor's frame.
    hit_index : int
        Sample of the suspected hit.
    bias_rad_s : ndarray, shape (3,), or None
        The gyroscope's bias; None takes the mean rate where gravity is taken from.

    Returns
    -------
    Path
        Motion in frame N.
    """
    where = _reference_slice(window, reference, hit_index)
    if window.rate_rad_s is None:
        gravity = window.force_m_s2[where].mean(axis=0)
        accel = (window.force_m_s2 - gravity) @ cue_frame(cue_axis, gravity).T
        sd = reference_sd_m_s2(window, reference)
        return Path(accel, accel[:, 0], None, reference, _tilt_sin(cue_axis, gravity), sd)
    bias = window.rate_rad_s[where].mean(axis=0) if bias_rad_s is None else bias_rad_s
    rate = window.rate_rad_s - bias
    turned = turned_from_start(rate, np.diff(window.time_s))
    middle = (where.start + where.stop) // 2
    turned = turned[middle].inv() * turned
    level = turned.apply(window.force_m_s2)
    near = [rest for rest in rests if _is_near(window, turned, rest, hit_index)]
    gravity, sd = _common_gravity(window, level, near, reference, where)
    frame = cue_frame(cue_axis, gravity)
    accel = (level - gravity) @ frame.T
    pointing = turned.apply(cue_axis) @ frame.T
    axial = np.sum(accel * pointing, axis=1) + _turning_share(window, accel, pointing, middle)
    turn = turned.as_rotvec() @ frame.T
    return Path(accel, axial, turn, reference, _tilt_sin(cue_axis, gravity), sd)


def solve_speed(
    window: Window,
    path: Path,
    rests: list[Rest],
    hit_index: int,
    *,
    ball: AtBall | None,
    after: AfterHit | None,
) -> Speed:
    """Return speed and travel along the cue before the hit.

    Parameters
    ----------
    window, path : Window, Path
        Samples and raw motion.
    rests : list of Rest
        Rests before the hit, to be taken as no speed.
    hit_index : int
        Last sample clear of the blow.
    ball : AtBall or None
        When the tip lay at the ball, None where that is not known.
    after : AfterHit or None
        What the rest after the stroke tells, None where there is none.

    Returns
    -------
    Speed
        With the covariance of its drift terms.
    """
    raw_speed = running_integral(path.axial_m_s2, window.time_s)
    raw_travel = running_integral(raw_speed, window.time_s)
    travel = np.zeros(len(window))
    for _ in range(1 if path.turn_rad is not None else 3):
        shapes, prior_sd = _drift_shapes(window, path, travel, hit_index)
        basis_speed = running_integral(shapes, window.time_s)
        basis_speed[:, 0] = 1.0
        basis_travel = running_integral(basis_speed, window.time_s)
        known = _observations(
            raw_speed, raw_travel, basis_speed, basis_travel, rests, hit_index, ball
        )
        if after is not None:
            value = float(after.row(raw_speed, hit_index)) + after.constant_m_s()
            known.append((after.row(basis_speed, hit_index), value, after.sd_m_s))
        drift, covariance = _least_squares(known, prior_sd)
        travel = raw_travel - basis_travel @ drift
        travel -= travel[hit_index]
    return Speed(
        speed_m_s=raw_speed - basis_speed @ drift,
        travel_m=travel,
        accel_m_s2=path.axial_m_s2 - shapes @ drift,
        basis_speed=basis_speed,
        basis_travel=basis_travel,
        basis_accel=shapes,
        covariance=covariance,
    )


def after_hit(
    window: Window, path: Path, rest: Rest | None, *, hit_index: int, peak: int, ahead_s: float
) -> AfterHit | None:
    """Return what the rest after the follow-through tells.

    Parameters
    ----------
    window, path : Window, Path
        Samples and raw motion.
    rest : Rest or None
        First rest after the hit.
    hit_index, peak : int
        Last sample clear of the blow; its middle.
    ahead_s : float
        From hit_index to the touch.

    Returns
    -------
    AfterHit or None
        None without a rest.
    """
    if rest is None:
        return None
    first = min(peak + window.n_samples(BLOW_OVER_S, at_least=4), rest.start)
    lasted_s = float(window.time_s[rest.start] - window.time_s[first])
    left_over = float(path.axial_m_s2[rest.start : rest.stop].mean())
    early = float(path.axial_m_s2[first : first + window.n_samples(0.03, at_least=2)].mean())
    late = float(path.axial_m_s2[max(0, hit_index - 1) : hit_index + 1].mean())
    back = early * (float(window.time_s[first] - window.time_s[hit_index]) - ahead_s)
    span = slice(first, (rest.start + rest.stop) // 2)
    gone = -float(np.trapezoid(path.axial_m_s2[span], window.time_s[span]))
    leak = -0.5 * left_over * lasted_s
    before = abs(gone - back - leak) / (1.0 - LOSS_SHARE)
    slack = np.hypot(AFTER_SD_M_S + 0.5 * abs(leak), LOSS_SHARE_SD * before)
    return AfterHit(first, rest, leak, float(slack), back, late * ahead_s)


def best_reference(window: Window, rests: list[Rest], hit_index: int) -> Rest | None:
    """Return the rest that tells gravity best: long, and not long before the hit."""

    def worth(rest: Rest) -> float:
        age_s = float(window.time_s[hit_index] - window.time_s[rest.stop - 1])
        return min((rest.stop - rest.start) * window.period_s, 0.6) - 0.15 * age_s

    return max(rests, key=worth, default=None)


def reference_sd_m_s2(window: Window, reference: Rest | None) -> float:
    """Return how closely the mean force of a rest tells gravity along the cue.

    Parameters
    ----------
    window : Window
        Samples.
    reference : Rest or None
        The rest; None for the mean over a movement.
    """
    if reference is None:
        return UNRESTED_SD_M_S2
    duration_s = (reference.stop - reference.start) * window.period_s
    # a rest that begins and ends with the sway's speed gains that over its duration
    return float(np.hypot(REFERENCE_SD_M_S2, np.sqrt(2.0) * REST_SPEED_SD_M_S / duration_s))


def _is_near(window: Window, turned: Rotation, rest: Rest, hit_index: int) -> bool:
    """Return whether a rest is close to the hit in time and in the cue's direction."""
    middle = (rest.start + rest.stop) // 2
    is_soon = abs(window.time_s[middle] - window.time_s[hit_index]) < GRAVITY_WITHIN_S
    return bool(is_soon and turned[middle].magnitude() < GRAVITY_WITHIN_RAD)


def _common_gravity(
    window: Window, level: FloatArray, rests: list[Rest], reference: Rest | None, where: slice
) -> tuple[FloatArray, float]:
    """Return the force that most of the quiet time agrees on, and its uncertainty.

    Turned into one frame, gravity is the same at every rest; a stretch that is quiet because its
    acceleration is steady stands out.
    """
    if len(rests) < 2:
        return level[where].mean(axis=0), reference_sd_m_s2(window, reference)
    means = np.array([level[rest.start : rest.stop].mean(axis=0) for rest in rests])
    weight = np.array([min((r.stop - r.start) * window.period_s, 0.6) for r in rests])
    centre = weighted_median(means, weight)
    agrees = np.linalg.norm(means - centre, axis=1) < GRAVITY_AGREES_M_S2
    if np.count_nonzero(agrees) < 2:
        return level[where].mean(axis=0), reference_sd_m_s2(window, reference)
    gravity: FloatArray = np.average(means[agrees], axis=0, weights=weight[agrees])
    spread = np.sqrt(2.0) * REST_SPEED_SD_M_S / float(weight[agrees].sum())
    return gravity, float(np.hypot(COMMON_SD_M_S2, spread))


def weighted_median(values: FloatArray, weight: FloatArray) -> FloatArray:
    """Return the weighted median of each column.

    Parameters
    ----------
    values : ndarray, shape (k, d)
        Rows to take the median of.
    weight : ndarray, shape (k,)
        Their weights, greater than 0.
    """
    order = np.argsort(values, axis=0)
    passed = np.cumsum(weight[order], axis=0)
    middle = np.argmax(passed >= 0.5 * weight.sum(), axis=0)
    median: FloatArray = np.take_along_axis(values, order, axis=0)[
        middle, np.arange(values.shape[1])
    ]
    return median


def _reference_slice(window: Window, reference: Rest | None, hit_index: int) -> slice:
    """Return the samples that gravity is taken from."""
    if reference is not None:
        return slice(reference.start, reference.stop)
    first = max(0, hit_index - window.n_samples(2.0))
    return slice(first, max(first + 1, hit_index - window.n_samples(0.05)))


def gyro_bias_rad_s(window: Window, rests: list[Rest]) -> FloatArray | None:
    """Return the gyroscope's bias as most of the time at rest shows it.

    Parameters
    ----------
    window : Window
        Samples.
    rests : list of Rest
        Quiet stretches, a few of which may be slow movements.

    Returns
    -------
    ndarray, shape (3,), or None
        Weighted median of each axis; None without gyroscope or rests.
    """
    if window.rate_rad_s is None or not rests:
        return None
    means = np.array([window.rate_rad_s[r.start : r.stop].mean(axis=0) for r in rests])
    weight = np.array([float(r.stop - r.start) for r in rests])
    return weighted_median(means, weight)


def _tilt_sin(cue_axis: FloatArray, gravity: FloatArray) -> float:
    """Return the sine of the cue's elevation, tip up positive."""
    return float(cue_axis @ gravity / np.linalg.norm(gravity))


def _turning_share(
    window: Window, accel: FloatArray, pointing: FloatArray, middle: int
) -> FloatArray:
    """Return v . dx/dt, what the cue's turning adds to its speed along itself."""
    velocity = running_integral(accel[:, 1:], window.time_s)
    velocity = np.clip(velocity - velocity[middle], -0.5, 0.5)
    share: FloatArray = np.sum(
        velocity * np.gradient(pointing[:, 1:], window.time_s, axis=0), axis=1
    )
    return share


def _drift_shapes(
    window: Window, path: Path, travel_m: FloatArray, hit_index: int
) -> tuple[FloatArray, FloatArray]:
    """Return what may lie on the axial acceleration, shape (n, q), and its prior sizes.

    The first column is nothing: it stands for the unknown speed at the start.
    """
    reference = path.reference
    middle = hit_index if reference is None else (reference.start + reference.stop) // 2
    start_sd = UNRESTED_SPEED_SD_M_S if reference is None else 100.0
    n = len(window)
    columns = [np.zeros(n), np.ones(n), window.time_s - window.time_s[middle]]
    sizes = [start_sd, path.gravity_sd_m_s2, DRIFT_SD_M_S3]
    if path.turn_rad is None:
        way = np.clip(travel_m - travel_m[middle], -0.6, 0.6) / LEAK_TRAVEL_M
        columns += [way, way**2]
        sizes += [path.leak.slope_sd_m_s2, path.leak.curve_sd_m_s2]
    return np.column_stack(columns), np.array(sizes)


def _observations(
    raw_speed: FloatArray,
    raw_travel: FloatArray,
    basis_speed: FloatArray,
    basis_travel: FloatArray,
    rests: list[Rest],
    hit_index: int,
    ball: AtBall | None,
) -> list[tuple[FloatArray, float, float]]:
    """Return (row of the drift terms, value seen, standard deviation) of all that is known."""
    known = [
        (
            basis_speed[rest.start : rest.stop].mean(axis=0),
            float(raw_speed[rest.start : rest.stop].mean()),
            REST_SPEED_SD_M_S,
        )
        for rest in rests
    ]
    if ball is not None:
        ahead = basis_speed[hit_index] * ball.ahead_s
        row = basis_travel[hit_index] - basis_travel[ball.index] + ahead
        way = float(raw_travel[hit_index] - raw_travel[ball.index])
        way += float(raw_speed[hit_index]) * ball.ahead_s + ball.ahead_m - ADDRESS_GAP_M
        known.append((row, way, ball.sd_m))
    return known


def _least_squares(
    known: list[tuple[FloatArray, float, float]], prior_sd: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return drift terms and their covariance."""
    information = np.diag(prior_sd**-2.0)
    pull = np.zeros(len(prior_sd))
    for row, value, sd in known:
        information += np.outer(row, row) / sd**2
        pull += row * (value / sd**2)
    covariance: FloatArray = np.asarray(np.linalg.inv(information), dtype=np.float64)
    return covariance @ pull, covariance
