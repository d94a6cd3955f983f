"""Scenes that are no strokes, each from standing to standing."""

import dataclasses
from collections.abc import Callable

import numpy as np

from cue_bench.maker.curves import Path, Wave, hermite
from cue_bench.maker.settings import Delivery, Distractor, DistractorKind, StrokePlan
from cue_bench.maker.stage import Stage
from cue_bench.maker.strokes import play_stroke

DOWN_PLAN = StrokePlan(feathers=2, rest_s=0.4)


def play_distractor(stage: Stage, distractor: Distractor) -> tuple[float, float]:
    """Let the stage play a scene and return when it began and ended."""
    start = stage.now_s
    _SCENES[distractor.kind](stage, distractor.size)
    return start, stage.now_s


def _chalking(stage: Stage, size: float) -> None:
    """Turn the tip in the chalk: quick twists and small pushes, the cue held slanting."""
    stage.move("pitch", 0.6, stage.now_s, 0.7)
    stage.wait(0.8)
    for _ in range(int(stage.rng.integers(2, 4))):
        span = stage.within(0.5, 1.0)
        stop = stage.now_s + span
        twist = Wave(stage.now_s, stop, 0.4 * size, stage.within(2.0, 4.0), ramp_s=0.15)
        push = Wave(stage.now_s, stop, 0.004 * size, stage.within(3.0, 6.0), ramp_s=0.15)
        nod = Wave(stage.now_s, stop, 0.01 * size, stage.within(2.0, 5.0), ramp_s=0.15)
        stage.motion.add("twist", twist)
        stage.motion.add("slide", push)
        stage.motion.add("pitch", nod)
        stage.knock("slide", stage.spread(12.0 * size), stage.now_s + stage.within(0.1, 0.4))
        stage.wait(span + 0.1)
    stage.move("pitch", 0.9, stage.now_s, 0.6)
    stage.wait(0.8)


def _rail_knock(stage: Stage, size: float) -> None:
    """Knock on the rail for a good shot: two or three hard taps of the butt or shaft."""
    stage.move("pitch", 0.1, stage.now_s, 0.6)
    stage.move("bridge_z", 0.15, stage.now_s, 0.6)
    stage.wait(0.7)
    for _ in range(int(stage.rng.integers(2, 4))):
        stage.nudge("bridge_z", -0.04, stage.now_s, 0.14)
        stage.wait(0.12)
        stage.knock("bridge_z", size * stage.within(40.0, 150.0), stage.now_s)
        stage.knock("slide", size * stage.spread(25.0), stage.now_s)
        stage.knock("bridge_y", size * stage.spread(15.0), stage.now_s)
        stage.nudge("bridge_z", 0.04, stage.now_s + 0.03, 0.16)
        stage.wait(0.25)
    stage.move("pitch", 0.9, stage.now_s, 0.7)
    stage.move("bridge_z", 0.4, stage.now_s, 0.7)
    stage.wait(0.9)


def _walking(stage: Stage, size: float) -> None:
    """Walk round the table and back, the cue in the hand."""
    steps = stage.within(1.6, 2.1)
    for sign in (1.0, -1.0):
        span = stage.within(2.0, 3.0)
        stop = stage.now_s + span
        bob = size * 2.5 / (2 * np.pi * steps) ** 2
        stage.motion.add("bridge_z", Wave(stage.now_s, stop, bob, steps, stage.within(0, 6)))
        stage.motion.add("bridge_x", Wave(stage.now_s, stop, 0.6 * bob, steps, stage.within(0, 6)))
        stage.motion.add(
            "bridge_y", Wave(stage.now_s, stop, 0.01 * size, steps / 2, stage.within(0, 6))
        )
        stage.motion.add("pitch", Wave(stage.now_s, stop, 0.05 * size, steps, stage.within(0, 6)))
        stage.nudge("yaw", sign * stage.within(1.5, 2.5), stage.now_s, span)
        stage.nudge("bridge_x", sign * 2.0, stage.now_s, span)
        stage.wait(span + 0.2)
    stage.move("yaw", 0.0, stage.now_s, 0.6)
    stage.wait(0.7)


def _butt_on_floor(stage: Stage, size: float) -> None:
    """Put the butt on the floor and stand with the cue upright."""
    stage.move("pitch", 1.35, stage.now_s, 0.8)
    stage.move("bridge_z", 0.25, stage.now_s, 0.8)
    stage.wait(0.78)
    stage.knock("slide", size * stage.within(25.0, 90.0), stage.now_s)
    stage.knock("pitch", size * stage.spread(10.0), stage.now_s)
    stage.wait(stage.within(1.0, 2.0))
    stage.move("pitch", 0.9, stage.now_s, 0.8)
    stage.move("bridge_z", 0.4, stage.now_s, 0.8)
    stage.wait(1.0)


def _down_without_playing(stage: Stage, size: float) -> None:
    """Get down, feather, think better of it and get up."""
    stage.get_down()
    stage.wait(0.6)
    for _ in range(int(stage.rng.integers(1, 4))):
        half, length = stage.within(0.35, 0.6), size * stage.within(0.08, 0.16)
        back = hermite((0.0, 0.0, 0.0), (-length, 0.0, 0.0), half)
        stage.motion.add("slide", Path(stage.now_s, (half, half), (back, -length - back)))
        stage.wait(2 * half)
    stage.wait(0.6)
    stage.get_up()
    stage.wait(0.8)


def _air_stroke(stage: Stage, size: float) -> None:
    """Play a stroke through the air, no ball there."""
    plan = dataclasses.replace(
        DOWN_PLAN,
        tip_speed_m_s=size * stage.within(0.8, 2.2),
        delivery=Delivery(slope_at_hit=stage.within(-0.5, 0.5)),
        follow_s=0.35,
        between_s=0.8,
    )
    play_stroke(stage, plan, is_hit=False)


def _roll_on_cloth(stage: Stage, size: float) -> None:
    """Lay the cue on the cloth, sensor over the cushion, and roll it a turn and back."""
    for channel, level in (("pitch", 0.004), ("yaw", 0.0), ("bridge_z", 0.0)):
        stage.move(channel, level, stage.now_s, 1.2)  # type: ignore[arg-type]
    stage.wait(2.4)
    for sign in (1.0, -1.0):
        span = stage.within(1.8, 2.6)
        turn = sign * size * stage.within(6.3, 7.2)
        stage.nudge("twist", turn, stage.now_s, span)
        # Right-handed turn about the axis towards the tip rolls the cue to the right.
        stage.nudge("bridge_y", -0.012 * turn, stage.now_s, span)
        stage.wait(span + 1.0)
    stage.move("twist", 0.0, stage.now_s, 0.8)
    stage.move("pitch", 0.9, stage.now_s, 1.0)
    stage.move("bridge_z", 0.4, stage.now_s, 1.0)
    stage.move("bridge_y", 0.1, stage.now_s, 1.0)
    stage.wait(1.5)


def _sensor_turned(stage: Stage, size: float) -> None:
    """Turn the sensor on the cue; its lever arm turns with it, the axis stays."""
    stage.nudge("twist", size * stage.within(0.5, 1.5), stage.now_s, 0.7)
    stage.knock("slide", stage.spread(8.0), stage.now_s + 0.3)
    stage.wait(1.2)


_SCENES: dict[DistractorKind, Callable[[Stage, float], None]] = {
    "air_stroke": _air_stroke,
    "butt_on_floor": _butt_on_floor,
    "chalking": _chalking,
    "down_without_playing": _down_without_playing,
    "rail_knock": _rail_knock,
    "roll_on_cloth": _roll_on_cloth,
    "sensor_turned": _sensor_turned,
    "walking": _walking,
}
DISTRACTOR_KINDS: tuple[DistractorKind, ...] = tuple(_SCENES)
