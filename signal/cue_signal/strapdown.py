"""Motion of the sensor along and across the cue over one stroke.

Frame N is the cue's frame at the reference rest: x along the cue to the tip, y horizontal to the
left, z completing them. Raw acceleration is what is left of the turned specific force after the
force felt at that rest is taken off, so biases that do not change cancel.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.attitude import GRAVITY_M_S2, cue_frame
from cue_signal.bias import SWAY_RAD_S, GyroBias
from cue_signal.integrals import means_over
from cue_signal.rest import Rest, ends_of
from cue_signal.rest_loops import moving_mean
from cue_signal.spikes import find_spikes
from cue_signal.turn_loops import (
    agreed_gravity,
    last_away,
    motion_in,
    rotated,
    rotation_vectors,
    running_product,
    seen_from,
)
from cue_signal.windows import Window

REST_SPEED_SD_M_S = 0.002
"""A held cue's mean speed over a rest: tremor and sway of the body."""
GRAVITY_WITHIN_S = 4.5
GRAVITY_WITHIN_RAD = 0.35
GRAVITY_AGREES_M_S2 = 0.12
COMMON_SD_M_S2 = 0.02
"""With a gyroscope: rests within this of the hit are compared for gravity, and agree so well."""
LEAK_SD_M_S2 = 0.15
"""Without a gyroscope: gravity that leaks in over LEAK_TRAVEL_M by tilt (0.9 deg)."""
UNRESTED_SD_M_S2 = 0.3
DRIFT_SD_M_S3 = 0.012
"""Without a gyroscope: change of the gravity reference with time as the cue sways."""
GRAVITY_OPEN_SD_M_S2 = 0.3
"""The stretch that gravity is taken from may have been a slow movement: which of them were still
is judged later, and these then say what gravity is."""
MOST_ACROSS_M_S = 0.5
"""A cue on its bridge moves across itself no faster."""
DOWN_RAD = 0.2
"""While down on the shot a cue points within this of its direction at the ball."""
DOWN_LEAST_S = 1.5
DOWN_SPEED_SD_M_S = 0.35
"""Over so long down on the shot gravity is the mean force, but for what the speed changed between
its ends."""
ABOUT_SDS = 3.0
BLOW_M_S = 0.1
"""A sudden change of speed beyond this, before the delivery, was another stroke or a knock."""
BLOW_MOST_S = 0.02
"""A brisk feather's turn is as great over 0.04 s, and far from it over so short a time."""
DELIVERY_S = 0.4
LEAN_S = 1.0
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
    drift_sd_m_s3 : float
        Change of the gravity reference with time.
    down_index : int
        Sample from which on the player was down on the shot; of use only with ``turn_rad``.
    """

    accel_m_s2: FloatArray
    axial_m_s2: FloatArray
    turn_rad: FloatArray | None
    reference: Rest | None
    tilt_sin: float
    gravity_sd_m_s2: float
    leak: Leak = Leak()
    drift_sd_m_s3: float = DRIFT_SD_M_S3
    down_index: int = 0


def strapdown(
    window: Window,
    reference: Rest | None,
    rests: list[Rest],
    cue_axis: FloatArray,
    hit_index: int,
    *,
    bias: GyroBias | None,
    down_index: int = 0,
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
    bias : GyroBias or None
        The gyroscope's bias; None takes the mean rate where gravity is taken from.
    down_index : int
        Sample from which on the player was down on the shot.

    Returns
    -------
    Path
        Motion in frame N.
    """
    where = reference_slice(window, reference, hit_index)
    if window.rate_rad_s is None:
        gravity = window.force_m_s2[where].mean(axis=0)
        accel = (window.force_m_s2 - gravity) @ cue_frame(cue_axis, gravity).T
        sd = UNRESTED_SD_M_S2 if reference is None else GRAVITY_OPEN_SD_M_S2
        tilt_sin = _tilt_sin(cue_axis, gravity)
        axial = np.ascontiguousarray(accel[:, 0])
        return Path(accel, axial, None, reference, tilt_sin, sd, down_index=down_index)
    rate = window.rate_rad_s
    still = rate[where].mean(axis=0) if bias is None else bias.rate_rad_s
    middle = (where.start + where.stop) // 2
    seen = seen_from(_turned(window, tuple(still.tolist())), middle)
    turn = rotation_vectors(seen)
    level = rotated(seen, window.force_m_s2)
    near = _near(window, turn, rests, hit_index)
    gravity, sd = _common_gravity(window, level, near, reference, where, down_index, hit_index)
    accel, axial, turn = motion_in(
        cue_frame(cue_axis, gravity),
        seen,
        turn,
        level,
        gravity,
        window.time_s,
        middle,
        MOST_ACROSS_M_S,
    )
    drift_sd = GRAVITY_M_S2 * (SWAY_RAD_S if bias is None else bias.sd_rad_s)
    return Path(
        accel,
        axial,
        turn,
        reference,
        _tilt_sin(cue_axis, gravity),
        sd,
        drift_sd_m_s3=drift_sd,
        down_index=down_index,
    )


def best_reference(window: Window, rests: list[Rest], hit_index: int) -> Rest | None:
    """Return the rest that tells gravity best, None without rests."""
    return next(iter(by_worth(window, rests, hit_index)), None)


def by_worth(window: Window, rests: list[Rest], hit_index: int) -> list[Rest]:
    """Return rests, those that tell gravity best first: long, and not long before the hit."""
    hit_s = float(window.time_s[hit_index])

    def worth(rest: Rest) -> float:
        age_s = hit_s - float(window.time_s[rest.stop - 1])
        return min((rest.stop - rest.start) * window.period_s, 0.6) - 0.15 * age_s

    return sorted(rests, key=worth, reverse=True)


@lru_cache(maxsize=1)
def _turned(window: Window, bias_rad_s: tuple[float, ...]) -> FloatArray:
    """Return how the sensor turned; one window is often asked with several rests in turn."""
    if window.rate_rad_s is None:
        raise ValueError("without a gyroscope there is no telling how the sensor turned")
    return running_product(window.rate_rad_s - np.array(bias_rad_s), np.diff(window.time_s))


def _near(window: Window, turn_rad: FloatArray, rests: list[Rest], hit_index: int) -> list[Rest]:
    """Return the rests close to the hit in time and in the cue's direction."""
    first, last = ends_of(rests)
    middle = (first + last) // 2
    is_near = np.abs(window.time_s[middle] - window.time_s[hit_index]) < GRAVITY_WITHIN_S
    is_near &= (turn_rad[middle] ** 2).sum(axis=1) < GRAVITY_WITHIN_RAD**2
    return [rest for rest, near in zip(rests, is_near.tolist(), strict=True) if near]


def down_from(
    window: Window, cue_axis: FloatArray, hit_index: int, *, bias: GyroBias | None
) -> int:
    """Return the sample from which on the player was down on the shot.

    From there on the cue pointed about where it did at the hit, and it met nothing else.

    Parameters
    ----------
    window : Window
        Samples.
    cue_axis : ndarray, shape (3,)
        Unit vector towards the tip in the sensor's frame.
    hit_index : int
        Last sample clear of the blow.
    bias : GyroBias or None
        The gyroscope's bias.
    """
    if window.rate_rad_s is None:
        away = np.flatnonzero(_lean(window, hit_index)[: hit_index + 1] > DOWN_RAD)
        down = int(away[-1]) + 1 if len(away) else 0
    else:
        still = np.zeros(3) if bias is None else bias.rate_rad_s
        down = last_away(_turned(window, tuple(still.tolist())), hit_index, DOWN_RAD) + 1
    axial = (window.force_m_s2[down:hit_index] @ cue_axis)[:, None]
    blows = find_spikes(axial, period_s=window.period_s, is_loss=True, most_s=BLOW_MOST_S)
    met = blows.index[np.abs(blows.change_m_s[:, 0]) > BLOW_M_S]
    met = met[met < hit_index - down - window.n_samples(DELIVERY_S)]
    return down + int(met[-1]) + 1 if len(met) else down


def _lean(window: Window, hit_index: int) -> FloatArray:
    """Return how far gravity, as an accelerometer alone sees it, is from where it was last."""
    # over a second the feathers average out
    force = moving_mean(window.force_m_s2, window.n_samples(LEAN_S))
    last = max(0, hit_index - window.n_samples(DELIVERY_S + 0.5 * LEAN_S))
    usual = force[last]
    off = np.linalg.norm(force - usual, axis=1) / np.linalg.norm(usual)
    off[last:] = 0.0
    return np.asarray(off, dtype=np.float64)


def _common_gravity(
    window: Window,
    level: FloatArray,
    rests: list[Rest],
    reference: Rest | None,
    where: slice,
    down_index: int,
    hit_index: int,
) -> tuple[FloatArray, float]:
    """Return the force that most of the quiet time agrees on, and its uncertainty.

    Turned into one frame, gravity is the same at every rest; a stretch that is quiet because its
    acceleration is steady stands out, and is far from the mean over a long time down on the shot.
    """
    down_stop = hit_index - window.n_samples(DELIVERY_S)
    is_long = down_stop - down_index >= window.n_samples(DOWN_LEAST_S)
    stretches = [Rest(where.start, where.stop), *rests]
    stretches += [Rest(down_index, down_stop)] if is_long else []
    first, last = ends_of(stretches)
    means = means_over(level, first, last)
    weight = np.minimum((last - first) * window.period_s, 0.6)
    alone, n_rests = means[0], len(rests)
    alone_sd = UNRESTED_SD_M_S2 if reference is None else GRAVITY_OPEN_SD_M_S2
    about, within = alone, np.inf
    if is_long:
        # over so long the mean is gravity, but for what the speed changed between its ends
        lasted_s = float(window.time_s[down_stop - 1] - window.time_s[down_index])
        about, sd = means[-1], float(np.hypot(COMMON_SD_M_S2, DOWN_SPEED_SD_M_S / lasted_s))
        within = ABOUT_SDS * sd
        if np.linalg.norm(alone - about) > within:
            alone, alone_sd = about, sd
    *gravity, agreeing = agreed_gravity(
        means[1 : n_rests + 1], weight[1 : n_rests + 1], about, within, GRAVITY_AGREES_M_S2
    ).tolist()
    if agreeing == 0.0:
        return alone, alone_sd
    spread = np.sqrt(2.0) * REST_SPEED_SD_M_S / agreeing
    return np.array(gravity), float(np.hypot(COMMON_SD_M_S2, spread))


def reference_slice(window: Window, reference: Rest | None, hit_index: int) -> slice:
    """Return the samples that gravity is taken from.

    Parameters
    ----------
    window : Window
        Samples.
    reference : Rest or None
        The rest chosen for it; without one the last two seconds serve.
    hit_index : int
        Sample of the suspected hit.
    """
    if reference is not None:
        return slice(reference.start, reference.stop)
    first = max(0, hit_index - window.n_samples(2.0))
    return slice(first, max(first + 1, hit_index - window.n_samples(0.05)))


def _tilt_sin(cue_axis: FloatArray, gravity: FloatArray) -> float:
    """Return the sine of the cue's elevation, tip up positive."""
    return float(cue_axis @ gravity / np.linalg.norm(gravity))
