"""Speed along the cue with the drift taken out, as one weighted least-squares problem.

The raw integrals carry an unknown start, an error of the gravity reference, its slow change, and
without a gyroscope the gravity that leaks in as the cue tilts with its travel. Rests (no speed),
the tip's return to the ball (no net travel but the gap left at address) and the speed left after
the hit (tied to the speed before by momentum) are observations of these. The solution brings its
covariance with it.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.after import AfterHit
from cue_signal.drift_loops import solved
from cue_signal.drift_shapes import WANDER_STEP_S, shapes_at, wander_size
from cue_signal.gaps import gap_terms, steps
from cue_signal.integrals import running_integral
from cue_signal.reach import REACH_M, REACH_SD_M, moments_down
from cue_signal.rest import PIECE_S, Rest, ends_of
from cue_signal.strapdown import REST_SPEED_SD_M_S, Path
from cue_signal.windows import Window

STILL_ACCEL_SD_M_S2 = 0.015
"""Tilt of a swaying cue and noise, in the mean acceleration of a fifth of a second."""
TRACKED_ACCEL_SD_M_S2 = 0.008
"""The same with a gyroscope, which sees the sway, over a whole rest."""
ADDRESS_GAP_M = 0.015
ADDRESS_GAP_SD_M = 0.009
"""How far the tip lies off the ball at address: never behind it and hardly beyond 30 mm, evenly
likely between (common practice, no source)."""
TRAVEL_ROUNDS = 2
UNRESTED_SPEED_SD_M_S = 0.3
"""Gravity reference and start speed where no rest was found."""
WANDER_SD_M_S2 = 0.015
WANDER_WEIGHT = 1.5
MOST_WANDER = 10
"""Without a gyroscope: how gravity along the cue wanders as it is held, at so many support points
at most; the rests say by how much, the usual size counts as much as so many of their pieces."""
USUAL_WEIGHT = 10.0
"""How still a player holds the cue and keeps to the ball shows in what is left over of the rests
and the ways: the usual sizes count as much as so many of some twenty observations a stroke."""
NO_VALUES: FloatArray = np.zeros(0)
"""For what is not known."""


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

    def values(self) -> FloatArray:
        """Return it as the loops take it."""
        return np.array([self.index, self.ahead_s, self.ahead_m - ADDRESS_GAP_M, self.sd_m])


@dataclass(frozen=True, eq=False)
class Speed:
    """Speed and travel along the cue with the drift taken out, valid before the hit.

    Parameters
    ----------
    speed_m_s, travel_m : ndarray, shape (n,)
        Travel counts from the ball: 0 at the hit.
    accel_m_s2 : ndarray, shape (n,)
        Axial acceleration, drift taken out.
    terms : DriftTerms
        What one unit of each drift term adds.
    covariance : ndarray, shape (q, q)
        Of the drift terms.
    """

    speed_m_s: FloatArray
    travel_m: FloatArray
    accel_m_s2: FloatArray
    terms: "DriftTerms"
    covariance: FloatArray

    def accel_sd_m_s2(self, index: int) -> float:
        """Return the standard uncertainty that drift leaves in the acceleration at a sample."""
        row = self.terms.accel[index]
        return float(np.sqrt(max(row @ self.covariance @ row, 0.0)))

    def speed_sd_m_s(self, index: int) -> float:
        """Return the standard uncertainty of the speed at a sample."""
        row = self.terms.speed[index]
        return float(np.sqrt(max(row @ self.covariance @ row, 0.0)))

    def travel_sd_m(self, first: int, last: int) -> float:
        """Return the standard uncertainty of the travel between two samples."""
        row = self.terms.travel[last] - self.terms.travel[first]
        return float(np.sqrt(max(row @ self.covariance @ row, 0.0)))


@dataclass(frozen=True, eq=False)
class DriftTerms:
    """What one unit of each of q drift terms adds to the samples, shape (n, q) each.

    Parameters
    ----------
    time_s, travel_m : ndarray, shape (n,)
        Times; travel that the leak goes by.
    middle, hit_index : int
        Sample from which on gravity changes and travel counts; last one clear of the blow.
    n_knots : int
        Support points of the wander.
    gaps : ndarray of int, shape (g,)
        First samples after gaps.
    n_terms : int
        Number of drift terms.
    """

    time_s: FloatArray
    travel_m: FloatArray
    middle: int
    hit_index: int
    n_knots: int
    gaps: IntArray
    n_terms: int

    @cached_property
    def accel(self) -> FloatArray:
        """Return what they add to the acceleration."""
        return shapes_at(
            self.n_terms, self.time_s, self.travel_m, self.middle, self.hit_index, self.n_knots
        )

    @cached_property
    def speed(self) -> FloatArray:
        """Return what they add to the speed: at first the unknown start, at last the gaps."""
        speed = running_integral(self.accel, self.time_s)
        speed[:, 0] = 1.0
        if len(self.gaps):
            speed[:, self.n_terms - len(self.gaps) :] = steps(self.gaps, len(self.time_s))
        return speed

    @cached_property
    def travel(self) -> FloatArray:
        """Return what they add to the travel."""
        return running_integral(self.speed, self.time_s)


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
    gaps, gap_sds = gap_terms(window, path, len(window))
    reference = path.reference
    middle = hit_index if reference is None else (reference.start + reference.stop) // 2
    start_sd = UNRESTED_SPEED_SD_M_S if reference is None else 100.0
    sizes = [start_sd, path.gravity_sd_m_s2, path.drift_sd_m_s3]
    n_knots, n_rounds, tilt_sd = 0, 1, TRACKED_ACCEL_SD_M_S2
    if path.turn_rad is None:
        held_s = float(window.time_s[hit_index] - window.time_s[middle])
        n_knots = min(MOST_WANDER, int(held_s / WANDER_STEP_S) + 1)
        wander = wander_sd_m_s2(window, path, rests, speed_sd_m_s)
        sizes += [path.leak.slope_sd_m_s2, path.leak.curve_sd_m_s2, *[wander] * n_knots]
        # the leak depends on the travel it bends
        n_rounds, tilt_sd = 1 + TRAVEL_ROUNDS, STILL_ACCEL_SD_M_S2
    start, stop = ends_of(rests)
    found, travel_m, covariance = solved(
        window.time_s,
        path.axial_m_s2,
        start,
        stop,
        np.array(speed_sd_m_s, dtype=np.float64),
        window.n_samples(PIECE_S),
        middle,
        hit_index,
        n_knots,
        gaps,
        np.concatenate([sizes, gap_sds]),
        NO_VALUES if ball is None else ball.values(),
        moments_down(window, path, hit_index),
        REACH_M,
        REACH_SD_M,
        NO_VALUES if after is None else after.values(),
        tilt_sd,
        n_rounds,
        USUAL_WEIGHT,
    )
    terms = DriftTerms(
        time_s=window.time_s,
        travel_m=travel_m,
        middle=middle,
        hit_index=hit_index,
        n_knots=n_knots,
        gaps=gaps,
        n_terms=len(covariance),
    )
    return Speed(found[0], found[1], found[2], terms, covariance)


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
    start, stop = ends_of(rests)
    return wander_size(
        path.axial_m_s2,
        start,
        stop,
        np.array(speed_sd_m_s, dtype=np.float64),
        window.n_samples(PIECE_S),
        REST_SPEED_SD_M_S,
        WANDER_SD_M_S2,
        WANDER_WEIGHT,
    )
