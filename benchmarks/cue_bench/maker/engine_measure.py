"""The truth of one stroke, read off what the engine gave, in true time.

Written apart from ``cue_bench.maker.measure``, which reads closed forms: the two must agree on
the same stroke.
"""

import numpy as np
from numpy.typing import NDArray

from cue_bench.maker.engine import Track
from cue_bench.maker.sensor import in_sensor_frame
from cue_bench.maker.settings import STANDARD_GRAVITY_M_S2, SessionSettings
from cue_bench.maker.strokes import BALL_RADIUS_M, StrokeMarks
from cue_bench.maker.truth import StrokeTruth

FloatArray = NDArray[np.float64]
SLOW_M_S, STILL_M_S, LEVEL_M_S2 = 0.05, 0.01, 1.0
REST_MEAN_S, REST_ENOUGH_S, CONTACT_OVER_S = 0.1, 0.15, 0.004


def touch_time_s(track: Track, tip_radius_m: float) -> float:
    """Return when the tip's dome first touched the ball, to a part of a step.

    Raises
    ------
    ValueError
        If it never did.
    """
    dome = track.tip_m - tip_radius_m * track.rotation[:, :, 0]
    gap = np.linalg.norm(dome - track.ball_m, axis=1) - BALL_RADIUS_M - tip_radius_m
    closed = np.flatnonzero(gap < 0)
    if len(closed) == 0:
        raise ValueError(f"the tip came no nearer to the ball than {gap.min():.4f} m")
    k = int(closed[0])
    (g0, g1), (t0, t1) = gap[k - 1 : k + 1], track.time_s[k - 1 : k + 1]
    return float(t0 + (t1 - t0) * g0 / (g0 - g1))


def measure_track(track: Track, marks: StrokeMarks, settings: SessionSettings) -> StrokeTruth:
    """Return what one stroke was, in true time.

    Parameters
    ----------
    track : Track
        From before the rest at the ball to the hold.
    marks : StrokeMarks
        When the hand meant to do what.
    settings : SessionSettings
        Cue and sensor.

    Returns
    -------
    StrokeTruth
        The same measures as those of the first maker.
    """
    touch = touch_time_s(track, settings.cue.tip_radius_m)
    time, speed = track.time_s, track.axial_speed_m_s
    n_free = int(np.searchsorted(time, touch))
    free_time, free_speed = time[:n_free], speed[:n_free]

    def before(ago_s: float) -> float:
        # The engine's state is smooth up to the touch: a line through the last two steps.
        if ago_s == 0.0:
            slope = (free_speed[-1] - free_speed[-2]) / (free_time[-1] - free_time[-2])
            return float(free_speed[-1] + slope * (touch - free_time[-1]))
        return float(np.interp(touch - ago_s, free_time, free_speed))

    at_hit = n_free - 1
    swing = (free_time >= marks.backswing_s).nonzero()[0]
    rear = int(swing[0] + np.argmin(np.cumsum(free_speed[swing])))
    is_fast = np.abs(free_speed) >= SLOW_M_S
    slow_from = int(np.flatnonzero(is_fast[:rear])[-1]) + 1
    slow_to = rear + int(np.flatnonzero(is_fast[rear:])[0])
    rest = (time >= marks.rest_s[1] - REST_MEAN_S) & (time <= marks.rest_s[1])
    rest_tip, rest_turn = track.tip_m[rest].mean(axis=0), track.rotation[rest].mean(axis=0)
    from_rest = _cue_frame(rest_turn) @ (track.tip_m[at_hit] - rest_tip)
    from_rear = _cue_frame(track.rotation[rear]) @ (track.tip_m[at_hit] - track.tip_m[rear])
    yaw, pitch, twist = _angles(track.rotation[at_hit]) - _angles(rest_turn)
    peak = rear + int(np.argmax(free_speed[rear:]))
    over = int(np.searchsorted(time, touch + CONTACT_OVER_S))
    still = np.flatnonzero(speed[over:] < STILL_M_S)
    stop = over + int(still[0]) if len(still) else len(time) - 1
    accel = (before(0.0) - before(0.02)) / 0.02
    ball = track.ball_velocity_m_s[over]
    return StrokeTruth(
        impact_time_s=touch,
        tip_speed_m_s=before(0.0),
        peak_speed_m_s=max(float(free_speed[peak]), before(0.0)),
        peak_time_s=float(time[peak]),
        accel_at_hit_m_s2=accel,
        accel_50_ms_m_s2=(before(0.0) - before(0.05)) / 0.05,
        backswing_m=-float((_cue_frame(rest_turn) @ (track.tip_m[rear] - rest_tip))[0]),
        rear_pause_s=float(time[slow_to] - time[slow_from]),
        delivery_s=float(touch - time[slow_to]),
        rest_start_s=marks.rest_s[0],
        backswing_start_s=marks.backswing_s,
        rear_time_s=float(time[rear]),
        follow_through_end_s=float(time[stop]),
        tip_lateral_m=float(from_rest[1]),
        tip_vertical_m=float(from_rest[2]),
        tip_lateral_from_rear_m=float(from_rear[1]),
        tip_vertical_from_rear_m=float(from_rear[2]),
        yaw_rad=float(yaw),
        pitch_rad=float(pitch),
        twist_rad=float(twist),
        follow_through_m=float(np.trapezoid(speed[n_free : stop + 1], time[n_free : stop + 1])),
        feathers=marks.plan.feathers,
        has_rest_before=marks.rest_s[1] == marks.backswing_s
        and marks.rest_s[1] - marks.rest_s[0] >= REST_ENOUGH_S,
        speed_after_m_s=float(speed[n_free:over].min()),
        ball_speed_m_s=float(np.linalg.norm(ball)),
        below_centre_m=marks.plan.below_centre_m,
        has_gap=False,
        has_gap_in_delivery=False,
        is_delivery_clipped=_is_beyond(track, settings, rear, n_free),
        is_hit_clipped=_is_beyond(track, settings, n_free, over),
        shape="gaining" if accel > LEVEL_M_S2 else "slowing" if accel < -LEVEL_M_S2 else "level",
        is_hit=True,
    )


def _cue_frame(turn: FloatArray) -> FloatArray:
    """Return the rows along, level to the left, upwards of the cue's frame at an attitude."""
    along = turn[:, 0] / np.linalg.norm(turn[:, 0])
    left = np.array([-along[1], along[0], 0.0]) / np.hypot(along[0], along[1])
    return np.asarray(np.stack([along, left, np.cross(along, left)]), dtype=np.float64)


def _angles(turn: FloatArray) -> FloatArray:
    """Return yaw, pitch and twist of an attitude."""
    yaw = np.arctan2(turn[1, 0], turn[0, 0])
    pitch = np.arctan2(turn[2, 0], np.hypot(turn[0, 0], turn[1, 0]))
    return np.array([yaw, pitch, np.arctan2(turn[2, 1], turn[2, 2])])


def _is_beyond(track: Track, settings: SessionSettings, first: int, last: int) -> bool:
    """Return whether the place of the sensor felt more than its range."""
    rows = track.felt[first:last]
    force = in_sensor_frame(rows[:, :3], rows[:, 3:], settings)[:, :3]
    return bool(np.abs(force).max() > settings.sensor.accel_range_g * STANDARD_GRAVITY_M_S2)
