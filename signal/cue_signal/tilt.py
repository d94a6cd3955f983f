"""Without a gyroscope: the cue's tilt with its travel, from the rise and fall of the butt.

A cue lies on the bridge hand, and the hand at the butt moves on an arc, so the cue tilts as it
travels and gravity leaks into the acceleration along it. But a tilt lifts the sensor, and an
accelerometer feels that: with the sensor a length L behind the bridge and a tilt

    tilt = p1 s + p2 s^2      (s: travel from the rest at the ball, tip up positive)

the sensor's acceleration across the cue is -L d2(tilt)/dt2, a known combination of s, its speed
and its acceleration. Regression gives p1 and p2, and beside them a tilt that sets in with the
delivery, as the elbow drops. An error of the cue's axis looks like p1, so p1 is only as sure as
the axis.
"""

from dataclasses import replace

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.attitude import GRAVITY_M_S2
from cue_signal.compiled import compiled
from cue_signal.drift import Speed
from cue_signal.drift_shapes import LEAK_TRAVEL_M
from cue_signal.integrals import running_integral
from cue_signal.strapdown import Leak, Path
from cue_signal.windows import Window

SLOPE_SD_RAD_M = 0.05
CURVE_SD_RAD_M2 = 0.5
"""How cues tilt with travel: 0.6 degrees over a backswing of 0.2 m either way, and an arm that
swings about a still elbow raises the butt by up to 0.03 m there. Common practice, no source."""
DROP_SD_RAD = 0.012
"""How much more the cue tilts over the delivery, as the elbow drops: common practice, no source."""
DROP_KNOTS = 4
DROP_PEAK = 6.0
"""A tilt that sets in smoothly over a time has this second derivative, over that time squared."""
AT_REAR_M = 0.001
GUESSES_RAD_M2 = (-0.3, -0.8, -1.5)
GUESS_SD_RAD_M2 = 0.2
ACROSS_SD_M_S2 = 0.15
"""Tremor and unrest across the cue."""
LEVER_PART_SD = 0.1
"""Uncertainty of the distance from sensor to bridge, as a part of it: the bridge hand lies some
0.05 m nearer to the tip or further from it than usual, of a metre."""
CURVE_FLOOR_RAD_M2 = 0.03
SLOPE_FLOOR_RAD_M = 0.008
"""The cue may tilt about another point than the bridge: a sixth of the usual slope stays unseen."""


def without_leak(
    window: Window,
    path: Path,
    speed: Speed,
    hit_index: int,
    *,
    axis_sd_rad: float,
    bridge_m: float,
) -> Path:
    """Return the path with the gravity that tilt leaks into it taken off.

    Parameters
    ----------
    window, path, speed : Window, Path, Speed
        Samples, raw motion and a first estimate of the speed along the cue.
    hit_index : int
        Last sample clear of the blow.
    axis_sd_rad : float
        Standard uncertainty of the cue's axis.
    bridge_m : float
        From sensor to bridge hand.

    Returns
    -------
    Path
        With what is left of the leak stated; unchanged with a gyroscope.
    """
    if path.turn_rad is not None:
        return path
    first = 0 if path.reference is None else path.reference.start
    first = max(first, hit_index - window.n_samples(3.0))
    middle = hit_index if path.reference is None else _middle(path)
    way = np.clip(speed.travel_m - speed.travel_m[middle], -0.6, 0.1)
    way[hit_index:] = way[hit_index]
    span = slice(first, hit_index + 1)
    rear = first + int(np.flatnonzero(way[span] < way[span].min() + AT_REAR_M)[-1])
    drop, drop_rate, drop_size = _drop_shapes(window.time_s[rear:], hit_index - rear)
    slope, slope_sd, curve, curve_sd, dropped = _tilt_terms(
        window, path, speed, way, drop_rate, drop_size, span, axis_sd_rad, bridge_m
    )
    leak = slope * way + curve * way**2
    leak[rear:] += drop @ dropped
    leak *= GRAVITY_M_S2
    if path.reference is not None:
        leak = leak - leak[path.reference.start : path.reference.stop].mean()
    left = Leak(
        slope_sd_m_s2=GRAVITY_M_S2 * slope_sd * LEAK_TRAVEL_M,
        curve_sd_m_s2=GRAVITY_M_S2 * curve_sd * LEAK_TRAVEL_M**2,
    )
    return replace(path, axial_m_s2=path.accel_m_s2[:, 0] - leak, leak=left)


def with_guess(window: Window, path: Path, hit_index: int, *, curve_rad_m2: float) -> Path:
    """Return the path with the leak of a guessed tilt taken off, for a first estimate.

    Parameters
    ----------
    window, path : Window, Path
        Samples and raw motion without a gyroscope.
    hit_index : int
        Last sample clear of the blow.
    curve_rad_m2 : float
        How the tilt grows with the square of the travel; the butt rises as it goes back, so below
        zero.
    """
    if path.turn_rad is not None or path.reference is None:
        return path
    first = _middle(path)
    span = slice(first, hit_index + 1)
    raw = np.ascontiguousarray(path.accel_m_s2[span, 0])
    leak = _leak_on_the_way(raw, window.time_s[span], GRAVITY_M_S2 * curve_rad_m2)
    axial = path.accel_m_s2[:, 0].copy()
    axial[span] -= leak
    axial[hit_index + 1 :] -= leak[-1]
    left = Leak(
        slope_sd_m_s2=GRAVITY_M_S2 * SLOPE_SD_RAD_M * LEAK_TRAVEL_M,
        curve_sd_m_s2=GRAVITY_M_S2 * GUESS_SD_RAD_M2 * LEAK_TRAVEL_M**2,
    )
    return replace(path, axial_m_s2=axial, leak=left)


@compiled
def _leak_on_the_way(accel_m_s2: FloatArray, time_s: FloatArray, per_s2_m: float) -> FloatArray:
    """Return a leak that depends on the travel which it bends, step by step."""
    leak = np.zeros(len(accel_m_s2))
    way, pace = 0.0, 0.0
    for k in range(1, len(leak)):
        step = time_s[k] - time_s[k - 1]
        way = min(max(way + pace * step, -0.5), 0.1)
        leak[k] = per_s2_m * way * way
        pace += (accel_m_s2[k] - leak[k]) * step
    return leak


def _tilt_terms(
    window: Window,
    path: Path,
    speed: Speed,
    way: FloatArray,
    drop_rate: FloatArray,
    drop_size: float,
    span: slice,
    axis_sd_rad: float,
    bridge_m: float,
) -> tuple[float, float, float, float, FloatArray]:
    """Return slope and curve of the tilt with travel, each with its uncertainty, and the drop."""
    lag_s = window.time_s[span] - window.time_s[span.stop - 1]
    pace, accel = speed.speed_m_s[span], speed.accel_m_s2[span]
    columns = [np.ones_like(lag_s), lag_s, accel, 2.0 * (pace**2 + way[span] * accel)]
    design = np.zeros((len(lag_s), len(columns) + DROP_KNOTS))
    design[:, : len(columns)] = np.column_stack(columns)
    n_dropping = span.stop - (len(window) - len(drop_rate))
    design[-n_dropping:, len(columns) :] = drop_rate[:n_dropping]
    slope_size = np.hypot(bridge_m * SLOPE_SD_RAD_M, axis_sd_rad)
    curve_size = bridge_m * CURVE_SD_RAD_M2
    prior_sd = np.array([0.3, 0.3, slope_size, curve_size, *[bridge_m * drop_size] * DROP_KNOTS])
    information = design.T @ design / ACROSS_SD_M_S2**2 + np.diag(prior_sd**-2.0)
    covariance = np.linalg.inv(information)
    terms = covariance @ (design.T @ path.accel_m_s2[span, 2]) / ACROSS_SD_M_S2**2
    sds = np.sqrt(np.diag(covariance))
    # what part of the slope seen is the cue's own, and not the axis's error
    share = (bridge_m * SLOPE_SD_RAD_M / slope_size) ** 2
    slope = -share * terms[2] / bridge_m
    slope_sd = np.hypot(SLOPE_SD_RAD_M * np.sqrt(1.0 - share), share * sds[2] / bridge_m)
    slope_sd = np.hypot(slope_sd, SLOPE_FLOOR_RAD_M)
    curve = -terms[3] / bridge_m
    curve_sd = np.hypot(np.hypot(sds[3] / bridge_m, LEVER_PART_SD * curve), CURVE_FLOOR_RAD_M2)
    return float(slope), float(slope_sd), float(curve), float(curve_sd), -terms[4:] / bridge_m


def _drop_shapes(time_s: FloatArray, hit_index: int) -> tuple[FloatArray, FloatArray, float]:
    """Return how a tilt sets in with the delivery, its second derivatives, and their size.

    Times are those from the rear on, before which there is none of it; the derivatives, shape
    (n, DROP_KNOTS), are hats evenly spaced from there to the hit.
    """
    lasted_s = max(float(time_s[hit_index] - time_s[0]), 1e-3)
    part = np.clip((time_s - time_s[0]) / lasted_s, 0.0, 1.0)[:, None]
    rate = np.maximum(1.0 - np.abs(DROP_KNOTS * part - np.arange(1, DROP_KNOTS + 1)), 0.0)
    tilt = running_integral(running_integral(rate, time_s), time_s)
    return tilt, rate, DROP_PEAK * DROP_SD_RAD / lasted_s**2


def _middle(path: Path) -> int:
    """Return the middle sample of the reference rest."""
    if path.reference is None:
        raise ValueError("the path has no reference rest")
    return (path.reference.start + path.reference.stop) // 2
