"""Sessions drawn at random from the ranges of what players do."""

import dataclasses
from typing import Literal

import numpy as np
from scipy.spatial.transform import Rotation

from cue_bench.maker.distractors import DISTRACTOR_KINDS
from cue_bench.maker.session import MadeSession, make_session
from cue_bench.maker.settings import (
    CueBody,
    Delivery,
    Distractor,
    DistractorKind,
    Knowledge,
    Scene,
    SensorSettings,
    SessionSettings,
    StrokePlan,
)
from cue_bench.maker.strokes import accel_at_hit_m_s2, is_playable, is_within_arm

ACCEL_LIMITS_M_S2 = (-13.0, 21.0)
DISTRACTOR_EVERY = 3


def make_strokes(
    n: int,
    seed: int,
    *,
    rate_hz: float = 200.0,
    has_gyroscope: bool = True,
    accel_range_g: float = 16.0,
    known_mounting: bool = True,
    distractors: bool = True,
    lost_share: float = 0.0,
    clipping: Literal["output", "front_end", "mixed"] = "mixed",
    tip_speed_range_m_s: tuple[float, float] = (0.4, 5.0),
    has_roll: bool = False,
) -> MadeSession:
    """Return a session of n strokes drawn at random, with its truth.

    Parameters
    ----------
    n, seed : int
        Number of strokes; seed of everything random.
    rate_hz : float
        Sensor rate, 50 to 1000 Hz.
    has_gyroscope : bool
        Whether angular rate is recorded.
    accel_range_g : float
        End of the accelerometer's range, in g.
    known_mounting : bool
        Whether the recording gives the cue's axis in the sensor's frame.
    distractors : bool
        Whether scenes that are no strokes come in between.
    lost_share : float
        Share of the notifications lost.
    clipping : str
        Where the range ends, see ``SensorSettings``; ``"mixed"`` draws it.
    tip_speed_range_m_s : tuple of two floats
        Tip speeds are spread evenly in their logarithm over this range.
    has_roll : bool
        Whether the session begins with a roll of the cue on the cloth.

    Returns
    -------
    MadeSession
        Recording, truth, notifications and the motion itself.
    """
    settings = draw_session(
        n,
        seed,
        rate_hz=rate_hz,
        has_gyroscope=has_gyroscope,
        accel_range_g=accel_range_g,
        known_mounting=known_mounting,
        distractors=distractors,
        lost_share=lost_share,
        clipping=clipping,
        tip_speed_range_m_s=tip_speed_range_m_s,
        has_roll=has_roll,
    )
    return make_session(settings, seed)


def draw_session(
    n: int,
    seed: int,
    *,
    rate_hz: float = 200.0,
    has_gyroscope: bool = True,
    accel_range_g: float = 16.0,
    known_mounting: bool = True,
    distractors: bool = True,
    lost_share: float = 0.0,
    clipping: Literal["output", "front_end", "mixed"] = "mixed",
    tip_speed_range_m_s: tuple[float, float] = (0.4, 5.0),
    has_roll: bool = False,
) -> SessionSettings:
    """Return the settings of a session drawn at random; see ``make_strokes``."""
    rng = np.random.default_rng([seed, n])
    sensor = draw_sensor(
        rng, rate_hz=rate_hz, has_gyroscope=has_gyroscope, accel_range_g=accel_range_g
    )
    end = ("output", "front_end")[int(rng.integers(2))] if clipping == "mixed" else clipping
    sensor = dataclasses.replace(sensor, clipping=end, lost_share=lost_share)
    scenes: list[Scene] = [Distractor("roll_on_cloth")] if has_roll else []
    for k in range(n):
        if distractors and k % DISTRACTOR_EVERY == 1:
            scenes.append(draw_distractor(rng))
        scenes.append(draw_stroke(rng, tip_speed_range_m_s=tip_speed_range_m_s))
    return dataclasses.replace(
        draw_player(rng),
        scenes=tuple(scenes),
        sensor=sensor,
        knowledge=draw_knowledge(rng, is_axis_known=known_mounting),
        name=f"made-{seed}",
    )


def draw_stroke(
    rng: np.random.Generator,
    *,
    tip_speed_range_m_s: tuple[float, float] = (0.4, 5.0),
    tip_speed_m_s: float | None = None,
) -> StrokePlan:
    """Return a playable stroke, its speed drawn or given."""
    while True:
        low, high = np.log(tip_speed_range_m_s)
        speed = float(np.exp(rng.uniform(low, high))) if tip_speed_m_s is None else tip_speed_m_s
        plan = _stroke(rng, speed)
        low, high = ACCEL_LIMITS_M_S2
        is_usual = low < accel_at_hit_m_s2(plan) < high and is_within_arm(plan)
        if is_playable(plan) and is_usual:
            return plan


def _stroke(rng: np.random.Generator, speed: float) -> StrokePlan:
    """Return a stroke that may yet be unplayable."""
    has_pause = rng.random() < 0.75
    # A firm stroke is drawn back further (common practice, no source).
    typical = np.clip(0.13 + 0.05 * speed, 0.13, 0.3)
    return StrokePlan(
        tip_speed_m_s=speed,
        below_centre_m=float(rng.uniform(-0.004, 0.012)),
        backswing_m=float(np.clip(typical * rng.uniform(0.75, 1.3), 0.1, 0.35)),
        backswing_s=float(rng.uniform(0.55, 1.4)),
        rear_pause_s=float(rng.uniform(0.0, 0.5)) if has_pause else 0.0,
        tip_to_ball_m=float(rng.uniform(0.006, 0.03)),
        delivery=draw_delivery(rng, has_pause=has_pause),
        feathers=int(rng.integers(0, 7)),
        feather_m=float(rng.uniform(0.06, 0.18)),
        feather_s=float(rng.uniform(0.6, 1.2)),
        feather_pause_s=float(rng.choice([0.0, 0.0, 0.2, 0.4])),
        address_s=float(rng.uniform(0.4, 1.0)),
        rest_s=0.0 if rng.random() < 0.1 else float(rng.uniform(0.25, 1.2)),
        hold_s=float(rng.uniform(0.4, 1.5)),
        between_s=float(rng.uniform(0.5, 2.5)),
        follow_s=float(rng.uniform(0.15, 0.4)),
        hand_push=float(rng.uniform(0.0, 0.25)),
        contact_s=float(rng.uniform(0.001, 0.002)),
        steer_rad=float(0.006 * rng.standard_normal()),
        backswing_yaw_rad=float(0.005 * rng.standard_normal()),
        elbow_drop_rad=float(rng.uniform(-0.002, 0.02)),
        twist_rad=float(0.05 * rng.standard_normal()),
        kick_m_s2=float(rng.uniform(2.0, 12.0)),
        kick_hz=float(rng.uniform(30.0, 200.0)),
        axial_ring_m_s2=float(rng.uniform(0.0, 12.0)),
        axial_ring_hz=float(rng.uniform(80.0, 200.0)),
    )


def draw_delivery(rng: np.random.Generator, *, has_pause: bool) -> Delivery:
    """Return a shape of delivery: gaining, level, slowing, now and then jerky."""
    return Delivery(
        slope_at_hit=float(rng.uniform(-2.2, 2.0)),
        start_slope=0.0 if has_pause else float(rng.uniform(0.4, 1.2)),
        start_curve=float(rng.uniform(0.0, 9.0)) if has_pause else 0.0,
        end_curve=float(rng.uniform(-6.0, 6.0)),
        jerk=float(rng.normal(0.0, 0.25)) if rng.random() < 0.35 else 0.0,
        jerk_place=float(rng.uniform(0.3, 0.7)),
    )


def draw_distractor(rng: np.random.Generator) -> Distractor:
    """Return something that is no stroke; the roll is left to calibration."""
    kinds: list[DistractorKind] = [kind for kind in DISTRACTOR_KINDS if kind != "roll_on_cloth"]
    return Distractor(kinds[int(rng.integers(len(kinds)))], float(rng.uniform(0.6, 1.3)))


def draw_player(rng: np.random.Generator) -> SessionSettings:
    """Return a player's way of cueing, without scenes."""
    return SessionSettings(
        scenes=(),
        cue=CueBody(
            mass_kg=float(rng.uniform(0.46, 0.57)),
            tip_restitution=float(rng.uniform(0.71, 0.75)),
            bridge_to_tip_m=float(rng.uniform(0.2, 0.3)),
        ),
        elevation_rad=float(np.deg2rad(rng.uniform(1.0, 8.0))),
        cueing_yaw_rad_m=float(rng.normal(0.0, 0.02)),
        cueing_pitch_rad_m=float(rng.normal(0.0, 0.04)),
        arm_arc_rad_m2=float(-rng.uniform(0.05, 0.8)),
        tremor_m_s2=float(rng.uniform(0.03, 0.2)),
        sway_m=float(rng.uniform(0.0005, 0.003)),
    )


def draw_sensor(
    rng: np.random.Generator,
    *,
    rate_hz: float = 200.0,
    has_gyroscope: bool = True,
    accel_range_g: float = 16.0,
) -> SensorSettings:
    """Return a sensor with errors of the usual size (data-sheet values, from memory)."""

    def three(size: float) -> tuple[float, float, float]:
        x, y, z = rng.uniform(-size, size, 3)
        return float(x), float(y), float(z)

    rx, ry, rz = Rotation.random(rng=rng).as_rotvec()
    return SensorSettings(
        rate_hz=rate_hz,
        has_gyroscope=has_gyroscope,
        accel_range_g=accel_range_g,
        cutoff_ratio=float(rng.choice([0.25, 0.5])),
        sensor_from_butt_m=float(rng.uniform(0.05, 0.45)),
        off_axis_m=float(rng.uniform(0.015, 0.03)),
        mounting_rotvec=(float(rx), float(ry), float(rz)),
        accel_noise_g_sqrt_hz=float(rng.uniform(100e-6, 200e-6)),
        gyro_noise_deg_s_sqrt_hz=float(rng.uniform(0.005, 0.015)),
        accel_bias_g=three(0.03),
        gyro_bias_deg_s=three(0.5),
        accel_scale=three(0.01),
        accel_cross=three(0.005),
        gyro_scale=three(0.01),
        clock_error=float(rng.uniform(-50e-6, 50e-6)),
        jitter_s=10e-6,
    )


def draw_knowledge(rng: np.random.Generator, *, is_axis_known: bool) -> Knowledge:
    """Return what the player measured, with errors as the stated uncertainty says."""
    sd = 0.01
    return Knowledge(
        is_axis_known=is_axis_known,
        axis_error_rad=(float(rng.normal(0.0, sd)), float(rng.normal(0.0, sd))),
        axis_sd_rad=sd,
        distance_error_m=float(rng.normal(0.0, 0.003)),
    )
