"""The truth of one stroke, read off the motion itself.

Times are true times; ``cue_bench.maker.truth`` says what each measure means.
"""

import numpy as np
from numpy.typing import NDArray

from cue_bench.maker.motion import Motion, Pose
from cue_bench.maker.sensor import felt
from cue_bench.maker.settings import STANDARD_GRAVITY_M_S2, SessionSettings
from cue_bench.maker.strokes import StrokeMarks
from cue_bench.maker.truth import StrokeTruth

FloatArray = NDArray[np.float64]
STEP_S = 0.0005
SLOW_M_S = 0.05
STILL_M_S = 0.01
LAST_S = 0.02
LEVEL_M_S2 = 1.0
REST_MEAN_S = 0.1
REST_ENOUGH_S = 0.15
BEFORE_TOUCH_S = 1e-7


def measure(motion: Motion, marks: StrokeMarks, settings: SessionSettings) -> StrokeTruth:
    """Return what one stroke was, in true time."""
    touch = marks.touch_s - BEFORE_TOUCH_S
    rear, rear_from, rear_to = _rear(motion, marks)
    peak_speed, peak_time = _peak(motion, rear, touch)
    tip = (settings.cue.bridge_to_tip_m, 0.0, 0.0)
    rest_times = np.linspace(marks.rest_s[1] - REST_MEAN_S, marks.rest_s[1], 51)
    rest, back, hit = (motion.pose(np.atleast_1d(t)) for t in (rest_times, rear, touch))
    from_rest = _in_cue_frame(hit.point_m(tip)[0] - rest.point_m(tip).mean(axis=0), rest)
    from_rear = _in_cue_frame(hit.point_m(tip)[0] - back.point_m(tip)[0], back)
    way_back = _in_cue_frame(back.point_m(tip)[0] - rest.point_m(tip).mean(axis=0), rest)
    stop = _stop(motion, marks)
    speed = _speed(motion, touch)
    accel = (speed - _speed(motion, touch - LAST_S)) / LAST_S
    return StrokeTruth(
        impact_time_s=marks.touch_s,
        tip_speed_m_s=speed,
        peak_speed_m_s=peak_speed,
        peak_time_s=peak_time,
        accel_at_hit_m_s2=accel,
        accel_50_ms_m_s2=(speed - _speed(motion, touch - 0.05)) / 0.05,
        backswing_m=-float(way_back[0]),
        rear_pause_s=rear_to - rear_from,
        delivery_s=marks.touch_s - rear_to,
        rest_start_s=marks.rest_s[0],
        backswing_start_s=marks.backswing_s,
        rear_time_s=rear,
        follow_through_end_s=stop,
        tip_lateral_m=float(from_rest[1]),
        tip_vertical_m=float(from_rest[2]),
        tip_lateral_from_rear_m=float(from_rear[1]),
        tip_vertical_from_rear_m=float(from_rear[2]),
        yaw_rad=float(hit.yaw_rad[0, 0] - rest.yaw_rad[0].mean()),
        pitch_rad=float(hit.pitch_rad[0, 0] - rest.pitch_rad[0].mean()),
        twist_rad=float(hit.twist_rad[0, 0] - rest.twist_rad[0].mean()),
        follow_through_m=_way(motion, marks.touch_s, stop),
        feathers=marks.plan.feathers,
        has_rest_before=marks.rest_s[1] == marks.backswing_s
        and marks.rest_s[1] - marks.rest_s[0] >= REST_ENOUGH_S,
        speed_after_m_s=speed - marks.loss_m_s,
        ball_speed_m_s=marks.ball_speed_m_s,
        below_centre_m=marks.plan.below_centre_m,
        has_gap=False,
        has_gap_in_delivery=False,
        is_delivery_clipped=_is_beyond(motion, settings, rear, touch),
        is_hit_clipped=_is_beyond(motion, settings, touch, marks.touch_s + marks.plan.contact_s),
        shape="gaining" if accel > LEVEL_M_S2 else "slowing" if accel < -LEVEL_M_S2 else "level",
        is_hit=marks.is_hit,
    )


def _grid(start_s: float, stop_s: float, step_s: float = STEP_S) -> FloatArray:
    """Return times from one to the other, both included."""
    return np.linspace(start_s, stop_s, max(int((stop_s - start_s) / step_s), 2) + 1)


def _speed(motion: Motion, time_s: float) -> float:
    """Return the axial speed at one time."""
    return float(motion.pose(np.array([time_s])).axial_speed_m_s()[0])


def _rear(motion: Motion, marks: StrokeMarks) -> tuple[float, float, float]:
    """Return when the cue was rearmost, and from when to when it was slow there."""
    times = _grid(marks.backswing_s, marks.touch_s - BEFORE_TOUCH_S)
    speed = motion.pose(times).axial_speed_m_s()
    way = np.cumsum(speed)
    rear = int(np.argmin(way))
    is_fast = np.abs(speed) >= SLOW_M_S
    before, after = np.flatnonzero(is_fast[:rear]), np.flatnonzero(is_fast[rear:])
    first = before[-1] + 1 if len(before) else 0
    return float(times[rear]), float(times[first]), float(times[rear + after[0]])


def _peak(motion: Motion, rear_s: float, touch_s: float) -> tuple[float, float]:
    """Return the greatest axial speed of the delivery, and when."""
    times = _grid(rear_s, touch_s)
    speed = motion.pose(times).axial_speed_m_s()
    place = int(np.argmax(speed))
    return float(speed[place]), float(times[place])


def _stop(motion: Motion, marks: StrokeMarks) -> float:
    """Return when the cue first stands still after the hit."""
    times = _grid(marks.touch_s + 2 * marks.plan.contact_s, marks.stop_s + 0.3)
    still = np.flatnonzero(motion.pose(times).axial_speed_m_s() < STILL_M_S)
    return float(times[still[0]]) if len(still) else marks.stop_s


def _way(motion: Motion, start_s: float, stop_s: float) -> float:
    """Return the way along the cue between two times."""
    times = _grid(start_s, stop_s, 5e-5)
    return float(np.trapezoid(motion.pose(times).axial_speed_m_s(), times))


def _in_cue_frame(vector: FloatArray, pose: Pose) -> FloatArray:
    """Return a world vector in the cue's frame: along, level to the left, upwards."""
    along = pose.rotation()[:, :, 0].mean(axis=0)
    along /= np.linalg.norm(along)
    left = np.cross([0.0, 0.0, 1.0], along)
    left /= np.linalg.norm(left)
    return np.array([vector @ along, vector @ left, vector @ np.cross(along, left)])


def _is_beyond(motion: Motion, settings: SessionSettings, start_s: float, stop_s: float) -> bool:
    """Return whether the place of the sensor felt more than its range."""
    force = felt(motion, _grid(start_s, stop_s, 1e-4), settings)[:, :3]
    top = settings.sensor.accel_range_g * STANDARD_GRAVITY_M_S2
    return bool(np.abs(force).max() > top)
