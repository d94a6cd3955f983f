"""One stroke: its events, its measures and how sure they are.

Every measure is defined here, once. Frame: x along the cue towards the tip, y to the player's
left, z up. What the sensor at hand cannot tell is None, never a guess.
"""

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

BALL_SPEED_PER_TIP_SPEED = 1.33
BALL_SPEED_PER_TIP_SPEED_SD = 0.07
"""Momentum and restitution: (1 + e) / (1 + m/M) for a cue of M = 0.45 to 0.6 kg, a ball of
m = 0.142 kg, e = 0.71 to 0.75 for leather tips (Colorado State University, page on tip
efficiency), centre ball to a quarter of the radius off centre."""
BALL_SPEED_BASIS = "tip speed, momentum and restitution of a usual cue and tip"


class StrokeFlag(StrEnum):
    """What a reader must know before trusting a stroke's numbers."""

    GAP = "gap"
    """Samples were lost between the rest at the ball and the end of the follow-through."""
    CLIPPED_DELIVERY = "clipped_delivery"
    """The sensor's range ended before the hit, in the delivery itself."""
    CLIPPED_HIT = "clipped_hit"
    """The hit went beyond the sensor's range: usual, and allowed for."""
    NO_REST_BEFORE = "no_rest_before"
    """The cue did not stand still before the final backswing, so zero speed is less sure."""
    NO_REST_AFTER = "no_rest_after"
    """The cue did not stand still after the follow-through."""
    AXIS_FROM_STROKES = "axis_from_strokes"
    """The cue's direction in the sensor was taken from the strokes, not from a roll of the cue."""
    NO_GYROSCOPE = "no_gyroscope"
    """Straightness cannot be told without a gyroscope."""
    NO_TIP_DISTANCE = "no_tip_distance"
    """Straightness at the tip needs the sensor's distance from the tip."""
    FEW_SAMPLES = "few_samples"
    """Fewer than eight samples in the delivery."""


@dataclass(frozen=True, eq=False)
class StrokeTrace:
    """The course of one stroke from the rest at the ball to the hold, for drawing.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Seconds on the recording's axis.
    speed_m_s : ndarray, shape (n,)
        Speed along the cue, positive towards the ball.
    accel_m_s2 : ndarray, shape (n,)
        Acceleration along the cue, gravity removed, as measured (clipped at the hit).
    tip_lateral_m, tip_vertical_m : ndarray, shape (n,), or None
        Tip's way off the line it lay on at rest: left and up positive.
    """

    time_s: FloatArray
    speed_m_s: FloatArray
    accel_m_s2: FloatArray
    tip_lateral_m: FloatArray | None = None
    tip_vertical_m: FloatArray | None = None


@dataclass(frozen=True, eq=False)
class Stroke:
    """One stroke that met a ball.

    Times are seconds on the recording's axis, durations seconds.

    Parameters
    ----------
    impact_time_s : float
        First touch of tip and ball.
    backswing_start_s, rear_s, delivery_start_s, follow_through_end_s : float
        Final backswing begins; rearmost point reached; delivery begins after the rear pause;
        cue first stands still after the hit.
    tip_speed_m_s, tip_speed_sd_m_s : float
        Speed along the cue just before the touch, and its standard uncertainty.
    peak_speed_m_s, peak_time_s : float
        Greatest speed between delivery start and touch, and when.
    accel_at_hit_m_s2, accel_at_hit_sd_m_s2 : float
        Mean acceleration along the cue over the last 20 ms before the touch.
    speed_lost_m_s : float
        Peak speed less tip speed, not negative.
    slowing_probability : float
        Probability that accel_at_hit_m_s2 is below 0.
    level_probability : float
        Probability that it lies within +/-1 m/s^2, which a player would not call either.
    backswing_m, backswing_sd_m : float
        Way back from the rest at the ball to the rearmost point.
    rear_pause_s : float
        Time at the rear with the cue's speed below 0.05 m/s.
    delivery_s : float
        From delivery start to touch.
    smoothness : float or None
        Spectral arc length of the delivery's speed, Balasubramanian et al. 2015 (0 is smoothest).
    tip_lateral_m, tip_lateral_sd_m : float or None
        Where the tip met the ball, left of where it lay at the rest at the ball, along the
        horizontal left of the cue's frame at that rest. Taken as the turn of the cue since that
        rest times the tip's distance from the bridge hand, which is taken to stand still.
    tip_vertical_m, tip_vertical_sd_m : float or None
        The same upwards.
    yaw_rad, pitch_rad, twist_rad : float or None
        Cue's direction at the touch against the rest at the ball: tip to the left, tip up,
        and turn about its own axis (right-hand rule).
    follow_through_m : float
        Way from the touch to where the cue stood still.
    stillness_m_s2 : float or None
        Standard deviation of the acceleration over the 0.15 s after that, all axes together.
    feathers : int
        Practice swings between settling at the ball and the final backswing.
    feather_period_s : float or None
        Mean time of one feather, None below two.
    feather_period_sd_s : float or None
        Spread of the times of the feathers about their mean (sample standard deviation), None
        below three.
    tempo : float or None
        Time back over time forward: from backswing start to where the cue slowed at the rear, over
        delivery_s. Common practice, no source.
    ball_speed_m_s, ball_speed_sd_m_s : float or None
        The white's speed as it leaves the tip, estimated as BALL_SPEED_PER_TIP_SPEED times the tip
        speed: the sensor does not see the ball.
    flags : frozenset of StrokeFlag
        What limits these numbers.
    trace : StrokeTrace or None
        For drawing.
    """

    impact_time_s: float
    backswing_start_s: float
    rear_s: float
    delivery_start_s: float
    follow_through_end_s: float
    tip_speed_m_s: float
    tip_speed_sd_m_s: float
    peak_speed_m_s: float
    peak_time_s: float
    accel_at_hit_m_s2: float
    accel_at_hit_sd_m_s2: float
    speed_lost_m_s: float
    slowing_probability: float
    level_probability: float
    backswing_m: float
    backswing_sd_m: float
    rear_pause_s: float
    delivery_s: float
    follow_through_m: float
    feathers: int
    smoothness: float | None = None
    tip_lateral_m: float | None = None
    tip_lateral_sd_m: float | None = None
    tip_vertical_m: float | None = None
    tip_vertical_sd_m: float | None = None
    yaw_rad: float | None = None
    pitch_rad: float | None = None
    twist_rad: float | None = None
    stillness_m_s2: float | None = None
    feather_period_s: float | None = None
    feather_period_sd_s: float | None = None
    tempo: float | None = None
    ball_speed_m_s: float | None = None
    ball_speed_sd_m_s: float | None = None
    flags: frozenset[StrokeFlag] = frozenset()
    trace: StrokeTrace | None = field(default=None, repr=False)


METHOD_VERSION = "6"
"""Version of the method; goes up with every change that moves a measure."""
