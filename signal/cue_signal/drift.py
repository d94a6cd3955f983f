"""Speed along the cue with the drift taken out, as one weighted least-squares problem.

The raw integrals carry an unknown start, an error of the gravity reference, its slow change, and
without a gyroscope the gravity that leaks in as the cue tilts with its travel. Rests (no speed),
the tip's return to the ball (no net travel but the gap left at address) and the speed left after
the hit (tied to the speed before by momentum) are observations of these. The solution brings its
covariance with it.
"""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.after import AfterHit
from cue_signal.compiled import compiled
from cue_signal.gaps import gap_terms, steps
from cue_signal.integrals import means_over, running_integral
from cue_signal.reach import REACH_M, REACH_SD_M, moments_down
from cue_signal.rest import PIECE_S, Rest, ends_of
from cue_signal.strapdown import LEAK_TRAVEL_M, REST_SPEED_SD_M_S, Path
from cue_signal.windows import Window

STILL_ACCEL_SD_M_S2 = 0.02
"""Tilt of a swaying cue and noise, in the mean acceleration of a fifth of a second."""
TRACKED_ACCEL_SD_M_S2 = 0.008
"""The same with a gyroscope, which sees the sway, over a whole rest."""
ADDRESS_GAP_M = 0.015
ADDRESS_GAP_SD_M = 0.012
"""How far the tip lies off the ball at address: common practice, no source."""
TRAVEL_ROUNDS = 2
UNRESTED_SPEED_SD_M_S = 0.3
"""Gravity reference and start speed where no rest was found."""
WANDER_SD_M_S2 = 0.015
WANDER_WEIGHT = 3.0
WANDER_STEP_S = 0.4
MOST_WANDER = 10
"""Without a gyroscope: how gravity along the cue wanders as it is held, at support points so far
apart; the rests say by how much, the usual size counts as much as so many of their pieces."""


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


@dataclass(frozen=True, eq=False)
class Known:
    """Things known of the motion.

    Parameters
    ----------
    rows : ndarray, shape (k, q)
        What one unit of each drift term adds to them.
    values, sd : ndarray, shape (k,)
        What the raw integrals give, and how closely the true value is zero.
    """

    rows: FloatArray
    values: FloatArray
    sd: FloatArray

    @classmethod
    def one(cls, row: FloatArray, value: float, sd: float) -> "Known":
        """Return a single thing known."""
        return cls(row[None], np.array([value]), np.array([sd]))


def solve_speed(
    window: Window,
    path: Path,
    rests: list[Rest],
    speed_sd_m_s: list[float],
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
    wander = wander_sd_m_s2(window, path, rests, speed_sd_m_s)
    speed = _solve_once(
        window, path, rests, speed_sd_m_s, hit_index, ball, after, np.zeros(len(window)), wander
    )
    if path.turn_rad is None:
        # the leak depends on the travel it bends
        for _ in range(TRAVEL_ROUNDS):
            speed = _solve_once(
                window, path, rests, speed_sd_m_s, hit_index, ball, after, speed.travel_m, wander
            )
    return speed


def wander_sd_m_s2(
    window: Window, path: Path, rests: list[Rest], speed_sd_m_s: list[float]
) -> float:
    """Return how much gravity along a held cue wanders, from the pieces of the rests.

    Parameters
    ----------
    window, path : Window, Path
        Samples and raw motion.
    rests : list of Rest
        Rests before the hit.
    speed_sd_m_s : list of float
        How still the cue was in each; only the stillest count.
    """
    n_piece = window.n_samples(PIECE_S)
    steps: list[float] = []
    for rest, sd in zip(rests, speed_sd_m_s, strict=True):
        if sd <= REST_SPEED_SD_M_S:
            means = means_over(path.axial_m_s2[:, None], *ends_of(rest.pieces(n_piece)))
            steps += np.diff(means[:, 0]).tolist()
    # a step between two independent values has twice the variance of one
    total = WANDER_WEIGHT * WANDER_SD_M_S2**2 + 0.5 * float(np.sum(np.square(steps)))
    return float(np.sqrt(total / (WANDER_WEIGHT + len(steps))))


def _solve_once(
    window: Window,
    path: Path,
    rests: list[Rest],
    speed_sd_m_s: list[float],
    hit_index: int,
    ball: AtBall | None,
    after: AfterHit | None,
    travel_m: FloatArray,
    wander_m_s2: float,
) -> Speed:
    """Return the speed with drift shapes from a first idea of the travel."""
    raw_speed = running_integral(path.axial_m_s2, window.time_s)
    raw_travel = running_integral(raw_speed, window.time_s)
    gaps, gap_sds = gap_terms(window, path, len(window))
    shapes, prior_sd = _drift_shapes(window, path, travel_m, hit_index, wander_m_s2, gap_sds)
    basis_speed = running_integral(shapes, window.time_s)
    basis_speed[:, 0] = 1.0
    if len(gaps):
        basis_speed[:, shapes.shape[1] - len(gaps) :] = steps(gaps, len(window))
    basis_travel = running_integral(basis_speed, window.time_s)
    known = _observations(
        window.time_s,
        path.axial_m_s2,
        shapes,
        raw_speed,
        raw_travel,
        basis_speed,
        basis_travel,
        rests,
        speed_sd_m_s,
        window.n_samples(PIECE_S),
        hit_index,
        ball,
        is_sway_seen=path.turn_rad is not None,
    )
    down = moments_down(window, path, hit_index)
    way = raw_travel[hit_index] - raw_travel[down] - REACH_M
    rows = basis_travel[hit_index] - basis_travel[down]
    known.append(Known(rows, way, np.full(len(down), REACH_SD_M)))
    if after is not None:
        value = float(after.row(raw_speed, hit_index)) + after.constant_m_s()
        known.append(Known.one(after.row(basis_speed, hit_index), value, after.sd_m_s))
    drift, covariance = _least_squares(known, prior_sd)
    travel = raw_travel - basis_travel @ drift
    return Speed(
        speed_m_s=raw_speed - basis_speed @ drift,
        travel_m=travel - travel[hit_index],
        accel_m_s2=path.axial_m_s2 - shapes @ drift,
        basis_speed=basis_speed,
        basis_travel=basis_travel,
        basis_accel=shapes,
        covariance=covariance,
    )


def still_accel_sd_m_s2(
    speed_sd_m_s: FloatArray | float,
    duration_s: FloatArray | float,
    tilt_sd_m_s2: float = STILL_ACCEL_SD_M_S2,
) -> FloatArray:
    """Return the spread of the mean acceleration of a still stretch.

    Parameters
    ----------
    speed_sd_m_s : ndarray or float
        Spread of the speeds that it begins and ends with.
    duration_s : ndarray or float
        How long it lasts.
    tilt_sd_m_s2 : float
        What tilt and noise add.
    """
    gained = np.sqrt(2.0) * np.asarray(speed_sd_m_s) / np.maximum(duration_s, 1e-3)
    sd: FloatArray = np.hypot(gained, tilt_sd_m_s2)
    return sd


def _drift_shapes(
    window: Window,
    path: Path,
    travel_m: FloatArray,
    hit_index: int,
    wander_m_s2: float,
    gap_sds_m_s: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return what may lie on the axial acceleration, shape (n, q), and its prior sizes.

    The first column is nothing: it stands for the unknown speed at the start; so are the last ones,
    for the speeds gained in gaps.
    """
    reference = path.reference
    middle = hit_index if reference is None else (reference.start + reference.stop) // 2
    start_sd = UNRESTED_SPEED_SD_M_S if reference is None else 100.0
    sizes = [start_sd, path.gravity_sd_m_s2, path.drift_sd_m_s3]
    n_knots = 0
    if path.turn_rad is None:
        held_s = float(window.time_s[hit_index] - window.time_s[middle])
        n_knots = min(MOST_WANDER, int(held_s / WANDER_STEP_S) + 1)
        sizes += [path.leak.slope_sd_m_s2, path.leak.curve_sd_m_s2, *[wander_m_s2] * n_knots]
    shapes = np.zeros((len(window), len(sizes) + len(gap_sds_m_s)))
    _fill_shapes(shapes, window.time_s, travel_m, middle, hit_index, n_knots)
    return shapes, np.concatenate([sizes, gap_sds_m_s])


@compiled
def _fill_shapes(
    shapes: FloatArray,
    time_s: FloatArray,
    travel_m: FloatArray,
    middle: int,
    hit_index: int,
    n_knots: int,
) -> None:
    """Write gravity, its slow change and, with knots, leak by travel and wander before the hit."""
    for k in range(len(shapes)):
        shapes[k, 1], shapes[k, 2] = 1.0, time_s[k] - time_s[middle]
        if n_knots == 0:
            continue
        way = min(max(travel_m[k] - travel_m[middle], -0.6), 0.6) / LEAK_TRAVEL_M
        shapes[k, 3], shapes[k, 4] = way, way * way
        # support points before the hit, the last one there; a sample lies between two of them
        place = (time_s[hit_index] - time_s[k]) / WANDER_STEP_S
        for knot in range(n_knots):
            shapes[k, 5 + knot] = max(1.0 - abs(place - knot), 0.0)


def _observations(
    time_s: FloatArray,
    raw_accel: FloatArray,
    shapes: FloatArray,
    raw_speed: FloatArray,
    raw_travel: FloatArray,
    basis_speed: FloatArray,
    basis_travel: FloatArray,
    rests: list[Rest],
    speed_sd_m_s: list[float],
    n_piece: int,
    hit_index: int,
    ball: AtBall | None,
    *,
    is_sway_seen: bool,
) -> list[Known]:
    """Return all that is known before the hit."""
    pieces = [rest.pieces(n_piece) for rest in rests]
    sds = np.repeat(speed_sd_m_s, [len(some) for some in pieces])
    first, last = ends_of([piece for some in pieces for piece in some])
    speeds = means_over(raw_speed[:, None], first, last)[:, 0]
    known = [Known(means_over(basis_speed, first, last), speeds, sds)]
    if is_sway_seen:
        # with a gyroscope next to nothing is gained over the whole of a rest
        first, last = ends_of([slice(rest.start, rest.stop) for rest in rests])
        sds = np.array(speed_sd_m_s, dtype=np.float64)
    accels = means_over(raw_accel[:, None], first, last)[:, 0]
    tilt_sd = TRACKED_ACCEL_SD_M_S2 if is_sway_seen else STILL_ACCEL_SD_M_S2
    accel_sds = still_accel_sd_m_s2(sds, time_s[last - 1] - time_s[first], tilt_sd)
    known.append(Known(means_over(shapes, first, last), accels, accel_sds))
    if ball is not None:
        ahead = basis_speed[hit_index] * ball.ahead_s
        row = basis_travel[hit_index] - basis_travel[ball.index] + ahead
        way = float(raw_travel[hit_index] - raw_travel[ball.index])
        way += float(raw_speed[hit_index]) * ball.ahead_s + ball.ahead_m - ADDRESS_GAP_M
        known.append(Known.one(row, way, ball.sd_m))
    return known


def _least_squares(known: list[Known], prior_sd: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return drift terms and their covariance."""
    weighed = np.concatenate([part.rows / part.sd[:, None] for part in known])
    values = np.concatenate([part.values / part.sd for part in known])
    information = np.diag(prior_sd**-2.0) + weighed.T @ weighed
    pull = weighed.T @ values
    covariance: FloatArray = np.asarray(np.linalg.inv(information), dtype=np.float64)
    return covariance @ pull, covariance
