"""Sessions of the second maker: scenes led through the engine, felt, sampled, and measured.

The truth is read off the engine's own track, by the definitions in ``cue_bench.maker.truth``.
Needs the package ``mujoco`` (extra ``bench``).
"""

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cue_bench.maker.draw import draw_session
from cue_bench.maker.engine import Engine, Grip, Track
from cue_bench.maker.engine_measure import measure_track
from cue_bench.maker.packets import send
from cue_bench.maker.sensor import in_sensor_frame, take_felt
from cue_bench.maker.session import play_scenes, recording_of, truth_of
from cue_bench.maker.settings import Scene, SessionSettings, StrokePlan
from cue_bench.maker.stage import Stage
from cue_bench.maker.strokes import StrokeMarks
from cue_bench.maker.truth import SessionTruth, StrokeTruth
from cue_sensors.samples import Recording

FloatArray = NDArray[np.float64]
ENGINE_RATE_HZ = 10_000.0
NEAR_HIT_S = (0.08, 0.15)
"""Before and after the hand's own touch, finer steps are taken."""

FINER = 8
OFF_CENTRE_MOST_M = 0.003
AFTER_STOP_S = 0.4
BEFORE_REST_S = 0.2


@dataclass(frozen=True, eq=False)
class EngineSession:
    """A recording of the second maker with its truth, as ``MadeSession``."""

    recording: Recording
    truth: SessionTruth
    notifications: list[tuple[int, bytes]]
    settings: SessionSettings


def make_engine_strokes(
    n: int,
    seed: int,
    *,
    rate_hz: float = 200.0,
    has_gyroscope: bool = True,
    accel_range_g: float = 16.0,
    known_mounting: bool = True,
    distractors: bool = True,
) -> EngineSession:
    """Return a session of n strokes drawn at random and played by the engine.

    Parameters
    ----------
    n, seed, rate_hz, has_gyroscope, accel_range_g, known_mounting, distractors
        As in ``make_strokes``.

    Returns
    -------
    EngineSession
        Recording, truth and notifications. About 5 s of work a stroke.
    """
    settings = draw_session(
        n,
        seed,
        rate_hz=rate_hz,
        has_gyroscope=has_gyroscope,
        accel_range_g=accel_range_g,
        known_mounting=known_mounting,
        distractors=distractors,
    )
    near = tuple(_near_the_centre(scene) for scene in settings.scenes)
    settings = dataclasses.replace(settings, scenes=near)
    rng = np.random.default_rng([seed, n, 2])
    grip = Grip(
        from_butt_m=float(rng.uniform(0.2, 0.4)),
        softness_s=float(rng.uniform(0.012, 0.03)),
        contact_s=float(rng.uniform(0.001, 0.002)),
    )
    return make_engine_session(settings, seed, grip)


def _near_the_centre(scene: Scene) -> Scene:
    """Return a scene whose stroke, if it is one, meets the ball near its centre."""
    if not isinstance(scene, StrokePlan):
        return scene
    below = float(np.clip(scene.below_centre_m, -OFF_CENTRE_MOST_M, OFF_CENTRE_MOST_M))
    return dataclasses.replace(scene, below_centre_m=below)


def make_engine_session(
    settings: SessionSettings, seed: int, grip: Grip | None = None
) -> EngineSession:
    """Return one session played by the engine; ``dense_rate_hz`` is set to 10 kHz."""
    settings = dataclasses.replace(settings, dense_rate_hz=ENGINE_RATE_HZ)
    stage_rng, sensor_rng, radio_rng = np.random.default_rng(seed).spawn(3)
    stage = Stage(settings, stage_rng)
    marks, others = play_scenes(stage, settings, is_hit=False)
    engine = Engine(settings, stage.motion, grip or Grip())
    felt, strokes = _play(engine, marks, stage.now_s)

    def feel(times: FloatArray) -> FloatArray:
        rows = np.clip(np.round(times * ENGINE_RATE_HZ).astype(np.int64), 0, len(felt) - 1)
        return in_sensor_frame(felt[rows, :3], felt[rows, 3:], settings)

    taken = take_felt(feel, stage.now_s, settings, sensor_rng)
    sent = send(taken, settings, radio_rng)
    recording = recording_of(taken, sent, settings)
    truth = truth_of(strokes, others, recording.samples, sent, settings, seed)
    return EngineSession(recording, truth, sent.notifications, settings)


def _play(
    engine: Engine, marks: list[StrokeMarks], stop_s: float
) -> tuple[FloatArray, list[StrokeTruth]]:
    """Return what was felt from time 0 to the end, shape (n, 6), and the truth of each stroke."""
    felt, strokes = [], []
    for stroke in marks:
        felt.append(engine.run_to(stroke.rest_s[0] - BEFORE_REST_S).felt)
        track = _play_stroke(engine, stroke)
        felt.append(track.felt)
        strokes.append(measure_track(track, stroke, engine.settings))
    felt.append(engine.run_to(stop_s).felt)
    return np.concatenate(felt), strokes


def _play_stroke(engine: Engine, stroke: StrokeMarks) -> Track:
    """Let the engine play one stroke from the rest to the hold, the ball there from the rear on."""
    before, after = NEAR_HIT_S
    track = engine.run_to(stroke.delivery_s)
    engine.place_ball(stroke.plan)
    for stop_s, finer in (
        (max(stroke.touch_s - before, stroke.delivery_s + 0.01), 1),
        (stroke.touch_s + after, FINER),
        (stroke.stop_s + AFTER_STOP_S, 1),
    ):
        track = track.followed_by(engine.run_to(stop_s, finer=finer))
    engine.park_ball()
    return track
