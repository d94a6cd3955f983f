"""One stroke on the stage: address, feathers, backswing, pause, delivery, hit, follow-through."""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import Polynomial

from cue_bench.maker.curves import Contact, Path, Ring, hermite
from cue_bench.maker.motion import ChannelName
from cue_bench.maker.settings import CueBody, Delivery, StrokePlan
from cue_bench.maker.stage import Stage

BALL_RADIUS_M = 0.02625
BALL_MASS_KG = 0.142
FOLLOW_THROUGH_MOST_M = 0.33
FOLLOW_THROUGH_LEAST_S = 0.03
ARM_SLACK = 1.25
"""A cue that turns on the spot may go this much further back than meant."""


@dataclass(frozen=True)
class StrokeMarks:
    """When things happen in a stroke, in seconds of true time, and what the hit does."""

    plan: StrokePlan
    rest_s: tuple[float, float]
    backswing_s: float
    rear_s: float
    delivery_s: float
    touch_s: float
    stop_s: float
    ball_speed_m_s: float
    loss_m_s: float
    is_hit: bool


@dataclass(frozen=True)
class Hit:
    """What the hit does: speed of the white, and what the cue loses."""

    ball_speed_m_s: float
    loss_m_s: float


def hit(tip_speed_m_s: float, *, below_centre_m: float, cue: CueBody) -> Hit:
    """Return what a level hit does, by impulse and momentum (physics notes 2.1, 2.3, 2.4).

    Written out here rather than taken from the table package: the maker is independent truth.
    """
    contact = below_centre_m * BALL_RADIUS_M / (BALL_RADIUS_M + cue.tip_radius_m)
    ratio = BALL_MASS_KG / cue.mass_kg
    share = 1 + ratio + 2.5 * (contact / BALL_RADIUS_M) ** 2
    ball = (1 + cue.tip_restitution) * tip_speed_m_s / share
    return Hit(ball_speed_m_s=ball, loss_m_s=ratio * ball)


def speed_shape(delivery: Delivery) -> Polynomial:
    """Return the speed over the delivery in parts of its end, for x from 0 to 1."""
    bump = Polynomial([0, 0, 0, 1]) * Polynomial([1, -1]) ** 3
    base = hermite(
        (0.0, delivery.start_slope, delivery.start_curve),
        (1.0, delivery.slope_at_hit, delivery.end_curve),
        1.0,
    )
    return base + 64 * delivery.jerk * bump * Polynomial([-delivery.jerk_place, 1])


def delivery_time_s(plan: StrokePlan) -> float:
    """Return how long the delivery takes: its way is backswing and gap, its end speed given."""
    mean = float(speed_shape(plan.delivery).integ()(1.0))
    return (plan.backswing_m + plan.tip_to_ball_m) / (plan.tip_speed_m_s * mean)


def accel_at_hit_m_s2(plan: StrokePlan) -> float:
    """Return the planned acceleration just before the touch."""
    return plan.delivery.slope_at_hit * plan.tip_speed_m_s / delivery_time_s(plan)


def is_playable(plan: StrokePlan) -> bool:
    """Return whether the cue goes only forwards in the delivery, at a speed a player could give."""
    x = np.linspace(0.0, 1.0, 201)
    shape = speed_shape(plan.delivery)(x)
    time = delivery_time_s(plan)
    push = np.abs(speed_shape(plan.delivery).deriv()(x)).max() * plan.tip_speed_m_s / abs(time)
    return bool(time > 0.06 and shape.min() > -1e-9 and shape.max() < 1.7 and push < 80.0)


def is_within_arm(plan: StrokePlan) -> bool:
    """Return whether the backswing goes no further back than meant, and not through the ball."""
    place = backswing_course(plan)(np.linspace(0.0, plan.backswing_s, 101))
    is_short = place.min() > -ARM_SLACK * plan.backswing_m
    return bool(is_short and place.max() < plan.tip_to_ball_m)


def backswing_course(plan: StrokePlan) -> Polynomial:
    """Return the cue's way over the backswing, which turns at its ends as its neighbours do."""
    front = 0.0 if plan.rest_s > 0 or not plan.feathers else -_swing_accel(plan)
    end = (-plan.backswing_m, 0.0, _rear_accel(plan))
    return hermite((0.0, 0.0, front), end, plan.backswing_s)


def play_stroke(stage: Stage, plan: StrokePlan, *, is_hit: bool = True) -> StrokeMarks:
    """Let the stage play one stroke from standing to standing; without a ball if so wished."""
    stage.get_down()
    address_start = stage.now_s
    stage.wait(plan.address_s)
    rest = (address_start, stage.now_s)
    _feather(stage, plan)
    if plan.rest_s > 0 and plan.feathers:
        rest = (stage.now_s, stage.now_s + plan.rest_s)
        stage.wait(plan.rest_s)
    backswing = stage.now_s
    back = backswing_course(plan)
    stage.motion.add("slide", Path(backswing, (plan.backswing_s,), (back,)))
    stage.levels["slide"] -= plan.backswing_m
    rear = backswing + plan.backswing_s
    delivery = rear + plan.rear_pause_s
    stage.now_s = delivery
    touch = delivery + delivery_time_s(plan)
    struck = hit(plan.tip_speed_m_s, below_centre_m=plan.below_centre_m, cue=stage.settings.cue)
    loss = struck.loss_m_s if is_hit else 0.0
    _deliver(stage, plan, loss)
    _wander(stage, plan, backswing, delivery, touch)
    if is_hit:
        _ring(stage, plan, touch)
    stop = stage.now_s
    stage.wait(plan.hold_s)
    stage.get_up()
    stage.wait(plan.between_s)
    return StrokeMarks(
        plan=plan,
        rest_s=rest,
        backswing_s=backswing,
        rear_s=rear,
        delivery_s=delivery,
        touch_s=touch,
        stop_s=stop,
        ball_speed_m_s=struck.ball_speed_m_s if is_hit else 0.0,
        loss_m_s=loss,
        is_hit=is_hit,
    )


def _swing_accel(plan: StrokePlan) -> float:
    """Return the acceleration at the turns of a feather, a little below a sinusoid's."""
    return 0.35 * plan.feather_m * (2 * np.pi / plan.feather_s) ** 2


def _rear_accel(plan: StrokePlan) -> float:
    """Return the acceleration with which the delivery begins; 0 out of a pause."""
    if plan.rear_pause_s > 0:
        return 0.0
    return plan.delivery.start_slope * plan.tip_speed_m_s / delivery_time_s(plan)


def _feather(stage: Stage, plan: StrokePlan) -> None:
    """Swing to and fro before the ball, never touching it."""
    pause, accel = plan.feather_pause_s, _swing_accel(plan)
    front_before, accel_before = 0.0, 0.0
    for k in range(plan.feathers):
        is_last = k == plan.feathers - 1
        half = plan.feather_s / 2 * (1 + stage.spread(0.06))
        length = plan.feather_m * (1 + stage.spread(0.08))
        front = 0.0 if is_last else -abs(stage.spread(0.004))
        rests_after = (is_last and plan.rest_s > 0) or (pause > 0 and not is_last)
        accel_after = 0.0 if rests_after else -accel
        pieces = (
            hermite((0.0, 0.0, accel_before), (-length - front_before, 0.0, accel), half),
            hermite(
                (-length - front_before, 0.0, accel), (front - front_before, 0.0, accel_after), half
            ),
        )
        stage.motion.add("slide", Path(stage.now_s, (half, half), pieces))
        stage.levels["slide"] += front - front_before
        stage.wait(2 * half + (0.0 if is_last else pause))
        front_before, accel_before = front, accel_after
    if plan.feathers and plan.rest_s > 0:
        stage.levels["slide"] = 0.0


def _deliver(stage: Stage, plan: StrokePlan, loss_m_s: float) -> None:
    """Add the delivery, the hit and the follow-through, and pass the time to its end."""
    time, speed = delivery_time_s(plan), plan.tip_speed_m_s
    scaled = speed_shape(plan.delivery)(Polynomial([0.0, 1 / time])) * speed
    way = scaled.integ()
    accel = accel_at_hit_m_s2(plan)
    stop_speed, span = _follow_through(speed - loss_m_s, accel, plan.follow_s)
    follow = stop_speed.integ() + float(way(time))
    start = stage.now_s
    touch = start + time
    stage.motion.add("slide", Path(start, (time, span), (way, follow)))
    stage.levels["slide"] += float(follow(span))
    if loss_m_s > 0:
        contact = Contact(touch, plan.contact_s, loss_m_s)
        push = _hand_push(touch, plan.hand_push * loss_m_s, span)
        for curve in (contact, push):
            stage.motion.add("slide", curve)
            stage.levels["slide"] += curve.final
    stage.now_s = touch + span


def _follow_through(speed: float, accel: float, span: float) -> tuple[Polynomial, float]:
    """Return the speed after the hit down to standing still, and how long it takes."""
    while True:
        course = hermite((speed, accel, 0.0), (0.0, 0.0, 0.0), span)
        is_forward = course(np.linspace(0.0, span, 101)).min() > -0.004 * max(speed, 0.5)
        is_within_reach = course.integ()(span) < FOLLOW_THROUGH_MOST_M
        if (is_forward and is_within_reach) or span < FOLLOW_THROUGH_LEAST_S:
            return course, span
        span *= 0.9


def _hand_push(touch_s: float, speed: float, span: float) -> Path:
    """Return the way the hand, not slowed by the hit, pushes the cue on through a soft grip."""
    rise = min(0.035, 0.4 * span)
    up = hermite((0.0, 0.0, 0.0), (speed, 0.0, 0.0), rise).integ()
    down = hermite((speed, 0.0, 0.0), (0.0, 0.0, 0.0), span - rise).integ() + float(up(rise))
    return Path(touch_s, (rise, span - rise), (up, down))


def _wander(
    stage: Stage, plan: StrokePlan, backswing: float, delivery: float, touch: float
) -> None:
    """Add what takes the cue off its line: steering, elbow drop, twist."""
    time = touch - delivery
    stage.nudge("yaw", plan.backswing_yaw_rad, backswing, plan.backswing_s)
    stage.nudge("yaw", -0.7 * plan.backswing_yaw_rad, delivery, time)
    stage.nudge("yaw", plan.steer_rad, delivery + 0.3 * time, 0.7 * time + 0.12)
    stage.nudge("pitch", plan.elbow_drop_rad, delivery + 0.4 * time, 0.6 * time + 0.15)
    stage.nudge("twist", plan.twist_rad, delivery + 0.2 * time, 0.8 * time + 0.1)


def _ring(stage: Stage, plan: StrokePlan, touch: float) -> None:
    """Add the vibration the hit leaves in the shaft, as the sensor sees it."""
    speed = plan.tip_speed_m_s
    parts: dict[ChannelName, float] = {"yaw": stage.spread(1.0), "pitch": stage.spread(1.0)}
    for channel, part in parts.items():
        for frequency, damping, share in ((plan.kick_hz, 25.0, 1.0), (12.0, 18.0, 0.25)):
            size = share * part * plan.kick_m_s2 * speed / (2 * np.pi * frequency) ** 2
            stage.motion.add(channel, Ring(touch, size / stage.reach_m, frequency, damping))
    omega = 2 * np.pi * plan.axial_ring_hz
    size = plan.axial_ring_m_s2 * speed / omega**2
    stage.motion.add("slide", Ring(touch, size, plan.axial_ring_hz, 60.0))
