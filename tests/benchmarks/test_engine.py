import dataclasses

import numpy as np
import pytest

from cue_bench.maker import MadeSession, StrokePlan
from cue_bench.maker.engine import Engine, Grip, Track
from cue_bench.maker.engine_measure import measure_track, touch_time_s
from cue_bench.maker.engine_session import make_engine_session, make_engine_strokes
from cue_bench.maker.measure import measure
from cue_bench.maker.sensor import sensor_place_m
from cue_bench.maker.settings import SessionSettings
from cue_bench.maker.stage import Stage
from cue_bench.maker.strokes import hit, play_stroke

BALL_RADIUS_M = 0.02625
STILL = SessionSettings((), tremor_m_s2=0.0, sway_m=0.0, dense_rate_hz=10_000.0)


def track_of(made: MadeSession, number: int) -> Track:
    """The first maker's motion as if the engine had given it, a ball where the tip touches."""
    marks, cue = made.marks[number], made.settings.cue
    times = np.arange(marks.rest_s[0] - 0.2, marks.stop_s + 0.4, 1e-4)
    pose, place = made.motion.pose(times), sensor_place_m(made.settings)
    tip = (cue.bridge_to_tip_m, 0.0, 0.0)
    touch = made.motion.pose(np.array([marks.touch_s]))
    centre = touch.point_m((cue.bridge_to_tip_m + BALL_RADIUS_M, 0.0, 0.0))[0]
    step = 1e-6
    later, sooner = (made.motion.pose(times + shift) for shift in (step, -step))
    rate, _ = pose.angular_rate_rad_s()
    return Track(
        time_s=times,
        felt=np.hstack([pose.specific_force_m_s2(place), rate]),
        tip_m=pose.point_m(tip),
        tip_velocity_m_s=(later.point_m(tip) - sooner.point_m(tip)) / (2 * step),
        rotation=pose.rotation(),
        ball_m=np.tile(centre, (len(times), 1)),
        ball_velocity_m_s=np.zeros((len(times), 3)),
    )


@pytest.mark.parametrize("number", [0, 2, 4])
def test_both_ways_to_read_the_truth_agree(made: MadeSession, number: int) -> None:
    # Written apart: one from closed forms, one from a track of 0.1 ms steps.
    one = measure(made.motion, made.marks[number], made.settings)
    other = measure_track(track_of(made, number), made.marks[number], made.settings)
    limits = {
        "impact_time_s": 2e-5,
        "tip_speed_m_s": 1e-3,
        "peak_speed_m_s": 1e-3,
        "accel_at_hit_m_s2": 0.1,
        "backswing_m": 1e-4,
        "rear_pause_s": 2e-3,
        "delivery_s": 2e-3,
        "tip_lateral_m": 2e-5,
        "tip_vertical_m": 2e-5,
        "tip_lateral_from_rear_m": 3e-5,
        "tip_vertical_from_rear_m": 3e-5,
        "yaw_rad": 2e-5,
        "pitch_rad": 2e-5,
        "twist_rad": 1e-4,
        # Where the cue stands still depends on ringing below 0.01 m/s.
        "follow_through_m": 2e-3,
    }
    for name, limit in limits.items():
        assert getattr(other, name) == pytest.approx(getattr(one, name), abs=limit), name
    for name in ("feathers", "has_rest_before", "is_delivery_clipped", "shape"):
        assert getattr(other, name) == getattr(one, name), name


def test_a_tip_that_never_meets_the_ball_is_an_error(made: MadeSession) -> None:
    track = track_of(made, 0)
    away = dataclasses.replace(track, ball_m=track.ball_m + 1.0)
    with pytest.raises(ValueError, match=r"no nearer to the ball than 1\.\d+ m"):
        touch_time_s(away, 0.00475)


def engine_hit(plan: StrokePlan, grip: Grip) -> Track:
    """The engine's track from the rear to the hold."""
    stage = Stage(STILL, np.random.default_rng(1))
    marks = play_stroke(stage, plan, is_hit=False)
    engine = Engine(STILL, stage.motion, grip)
    engine.run_to(marks.delivery_s)
    engine.place_ball(plan)
    track = engine.run_to(marks.touch_s - 0.08)
    track = track.followed_by(engine.run_to(marks.touch_s + 0.15, finer=8))
    return track.followed_by(engine.run_to(marks.stop_s))


@pytest.mark.parametrize("contact_s", [0.001, 0.002])
def test_a_centre_hit_in_the_engine_keeps_momentum(contact_s: float) -> None:
    # Closed form, physics notes (2.1) and (2.3), for a free cue. The hand pushes on a little.
    pytest.importorskip("mujoco")
    plan = StrokePlan(tip_speed_m_s=2.0, feathers=0)
    track = engine_hit(plan, Grip(contact_s=contact_s, softness_s=0.03))
    touch = touch_time_s(track, STILL.cue.tip_radius_m)
    before = float(np.interp(touch - 1e-4, track.time_s, track.axial_speed_m_s))
    near = track.between(touch, touch + 0.003)
    expected = hit(before, below_centre_m=0.0, cue=STILL.cue)
    ball = np.linalg.norm(near.ball_velocity_m_s[-1])
    assert ball == pytest.approx(expected.ball_speed_m_s, rel=0.01)
    lost = before - near.axial_speed_m_s.min()
    assert lost == pytest.approx(expected.loss_m_s, rel=0.12)


def test_the_engines_contact_lasts_as_long_as_set() -> None:
    pytest.importorskip("mujoco")
    track = engine_hit(StrokePlan(tip_speed_m_s=2.0, feathers=0), Grip(contact_s=0.0015))
    touch = touch_time_s(track, STILL.cue.tip_radius_m)
    near = track.between(touch - 0.001, touch + 0.004)
    # The half-sine's flanks below 100 m/s^2 are cut off: 4 % of it on each side, and 0.1 ms steps.
    pressed = near.time_s[near.felt[:, 0] < -100.0]
    assert np.ptp(pressed) == pytest.approx(0.0014, abs=2.5e-4)


def test_the_engines_accelerometer_is_the_second_derivative_of_its_place() -> None:
    # Truth: differences of the engine's own tip velocity, no turning: sensor and tip move alike.
    pytest.importorskip("mujoco")
    track = engine_hit(StrokePlan(tip_speed_m_s=1.5, feathers=0), Grip())
    touch = touch_time_s(track, STILL.cue.tip_radius_m)
    free = track.between(touch - 0.15, touch - 0.005)
    accel = np.gradient(free.axial_speed_m_s, free.time_s)
    lift = 9.81 * free.rotation[:, 2, 0]
    # Turning at some 0.1 rad/s with a metre between them: 0.05 m/s^2.
    np.testing.assert_allclose(free.felt[5:-5, 0], (accel + lift)[5:-5], atol=0.1)


def test_an_engine_session_comes_again_with_recording_and_truth_on_one_axis() -> None:
    pytest.importorskip("mujoco")
    plan = StrokePlan(feathers=0, address_s=0.2, between_s=0.1)
    settings = dataclasses.replace(STILL, scenes=(plan,))
    session, again = make_engine_session(settings, 5), make_engine_session(settings, 5)
    assert session.notifications == again.notifications
    assert session.truth == again.truth
    (stroke,) = session.truth.strokes
    samples = session.recording.samples
    near = samples.between(stroke.impact_time_s - 0.2, stroke.impact_time_s + 0.1)
    along = near.specific_force_m_s2 @ np.array(session.truth.cue_axis)
    drop = near.time_s[np.argmin(np.diff(along)) + 1] - stroke.impact_time_s
    assert 0.0 < drop < session.truth.filter_delay_s + 0.002 + 0.005
    assert 0.55 < stroke.speed_after_m_s / stroke.tip_speed_m_s < 0.8


def test_drawn_engine_strokes_keep_near_the_balls_centre() -> None:
    pytest.importorskip("mujoco")
    session = make_engine_strokes(1, 7, distractors=False, has_gyroscope=False)
    (stroke,) = session.truth.strokes
    assert abs(stroke.below_centre_m) <= 0.003
    assert stroke.tip_speed_m_s > 0.3
    assert session.recording.samples.angular_rate_rad_s is None
