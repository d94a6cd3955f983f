"""One made session: motion, sensor, notifications, and the truth on the recording's time axis."""

import dataclasses
import json
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from cue_bench.maker.distractors import play_distractor
from cue_bench.maker.measure import measure
from cue_bench.maker.motion import Motion
from cue_bench.maker.packets import Sent, send
from cue_bench.maker.sensor import (
    FULL_SCALE,
    LEAD_IN_S,
    Taken,
    count_sizes,
    cue_axis_in_sensor,
    filter_delay_s,
    take_samples,
)
from cue_bench.maker.settings import STANDARD_GRAVITY_M_S2, SessionSettings, StrokePlan
from cue_bench.maker.stage import Stage
from cue_bench.maker.strokes import StrokeMarks, play_stroke
from cue_bench.maker.truth import DistractorTruth, SessionTruth, StrokeTruth, on_axis
from cue_sensors.samples import Mounting, Recording, Samples, SensorInfo


@dataclass(frozen=True, eq=False)
class MadeSession:
    """A recording with its truth.

    Parameters
    ----------
    recording : Recording
        The samples that arrived, SI units; time 0 is the first sample, by the device's clock.
    truth : SessionTruth
        What happened, on the same time axis.
    notifications : list of (int, bytes)
        Arrival (UTC, nanoseconds) and bytes of every notification that arrived.
    motion : Motion
        The cue's motion itself, in true time.
    true_offset_s : float
        True time of the recording's time 0.
    """

    recording: Recording
    truth: SessionTruth
    notifications: list[tuple[int, bytes]]
    motion: Motion
    marks: tuple[StrokeMarks, ...]
    true_offset_s: float
    settings: SessionSettings

    def file_time_s(self, true_s: float) -> float:
        """Return a true time on the recording's axis, by the device's clock."""
        return file_time_s(true_s, self.settings)

    def true_time_s(self, file_s: float) -> float:
        """Return a time on the recording's axis in true time."""
        return self.true_offset_s + file_s / (1.0 + self.settings.sensor.clock_error)


def make_session(settings: SessionSettings, seed: int) -> MadeSession:
    """Return one session; the same settings and seed give the same bytes.

    Parameters
    ----------
    settings : SessionSettings
        Scenes, cue and sensor.
    seed : int
        Seed of everything random.

    Returns
    -------
    MadeSession
        Recording, truth and notifications.
    """
    stage_rng, sensor_rng, radio_rng = np.random.default_rng(seed).spawn(3)
    stage = Stage(settings, stage_rng)
    marks, others = play_scenes(stage, settings)
    taken = take_samples(stage.motion, stage.now_s, settings, sensor_rng)
    sent = send(taken, settings, radio_rng)
    made = MadeSession(
        recording=recording_of(taken, sent, settings),
        truth=SessionTruth((), (), (1.0, 0.0, 0.0), 0.0, seed, 0, {}),
        notifications=sent.notifications,
        motion=stage.motion,
        marks=tuple(marks),
        true_offset_s=true_offset_s(settings),
        settings=settings,
    )
    return dataclasses.replace(made, truth=_truth(made, others, sent, seed))


def play_scenes(
    stage: Stage, settings: SessionSettings, *, is_hit: bool = True
) -> tuple[list[StrokeMarks], list[tuple[str, float, float]]]:
    """Play all scenes of a session, with a moment before and after.

    Parameters
    ----------
    stage : Stage
        Where the cue moves.
    settings : SessionSettings
        The scenes, in order.
    is_hit : bool
        Whether the hits are played too; an engine makes its own.

    Returns
    -------
    marks : list of StrokeMarks
        Of the strokes.
    others : list of (kind, start, stop)
        The distractors, in true seconds.
    """
    marks: list[StrokeMarks] = []
    others: list[tuple[str, float, float]] = []
    stage.wait(1.0)
    for scene in settings.scenes:
        if isinstance(scene, StrokePlan):
            marks.append(play_stroke(stage, scene, is_hit=is_hit))
        else:
            others.append((scene.kind, *play_distractor(stage, scene)))
    stage.wait(1.0)
    return marks, others


def true_offset_s(settings: SessionSettings) -> float:
    """Return the true time at which the recording's axis begins."""
    return LEAD_IN_S - (filter_delay_s(settings) if settings.sensor.is_delay_removed else 0.0)


def file_time_s(true_s: float, settings: SessionSettings) -> float:
    """Return a true time on the recording's axis, by the device's clock."""
    return (true_s - true_offset_s(settings)) * (1.0 + settings.sensor.clock_error)


def recording_of(taken: Taken, sent: Sent, settings: SessionSettings) -> Recording:
    """Return the samples that arrived, as the reader of a recording would give them."""
    own, kept = settings.sensor, sent.is_received
    counts = taken.counts[kept]
    values = counts * count_sizes(settings)[: counts.shape[1]]
    accel = counts[:, :3]
    samples = Samples(
        time_s=taken.device_s[kept],
        specific_force_m_s2=values[:, :3],
        angular_rate_rad_s=values[:, 3:] if own.has_gyroscope else None,
        is_clipped=np.any((accel == FULL_SCALE - 1) | (accel == -FULL_SCALE), axis=1),
        rate_hz=own.rate_hz,
    )
    return Recording(
        name=settings.name,
        samples=samples,
        sensor=sensor_info(settings),
        mounting=mounting(settings),
        start_utc=datetime.fromtimestamp(settings.start_utc_s + LEAD_IN_S, tz=UTC),
        labels={"invented": "yes", **settings.labels},
    )


def sensor_info(settings: SessionSettings) -> SensorInfo:
    """Return what the recording says about its sensor."""
    own = settings.sensor
    return SensorInfo(
        kind="stroke_stream",
        name="made sensor",
        accel_range_m_s2=own.accel_range_g * STANDARD_GRAVITY_M_S2,
        gyro_range_rad_s=float(np.deg2rad(own.gyro_range_deg_s)) if own.has_gyroscope else None,
        nominal_rate_hz=own.rate_hz,
    )


def mounting(settings: SessionSettings) -> Mounting:
    """Return what the recording says about the sensor's place on the cue."""
    known, own = settings.knowledge, settings.sensor
    axis = None
    if known.is_axis_known:
        true = cue_axis_in_sensor(settings)
        side = np.cross(true, [0.0, 0.0, 1.0] if abs(true[2]) < 0.9 else [0.0, 1.0, 0.0])
        side /= np.linalg.norm(side)
        off = true + known.axis_error_rad[0] * side
        off += known.axis_error_rad[1] * np.cross(true, side)
        x, y, z = off / np.linalg.norm(off)
        axis = (float(x), float(y), float(z))
    place = own.sensor_from_butt_m + known.distance_error_m
    return Mounting(
        cue_axis=axis,
        cue_axis_sd_rad=known.axis_sd_rad if known.is_axis_known else None,
        sensor_from_butt_m=place if known.is_distance_known else None,
        cue_length_m=settings.cue.length_m if known.is_distance_known else None,
    )


def _truth(
    made: MadeSession, others: list[tuple[str, float, float]], sent: Sent, seed: int
) -> SessionTruth:
    """Return the truth on the recording's time axis."""
    strokes = [measure(made.motion, marks, made.settings) for marks in made.marks]
    return truth_of(strokes, others, made.recording.samples, sent, made.settings, seed)


def truth_of(
    strokes: list[StrokeTruth],
    others: list[tuple[str, float, float]],
    samples: Samples,
    sent: Sent,
    settings: SessionSettings,
    seed: int,
) -> SessionTruth:
    """Return the truth on the recording's time axis, from strokes and others in true time."""
    x, y, z = cue_axis_in_sensor(settings)

    def clock(true_s: float) -> float:
        return file_time_s(true_s, settings)

    return SessionTruth(
        strokes=tuple(_with_gaps(on_axis(stroke, clock), samples) for stroke in strokes),
        distractors=tuple(
            DistractorTruth(kind, clock(start), clock(stop)) for kind, start, stop in others
        ),
        cue_axis=(float(x), float(y), float(z)),
        filter_delay_s=filter_delay_s(settings),
        seed=seed,
        n_lost_notifications=sent.n_lost_notifications,
        # Through JSON, so that what is read back from a file is equal.
        sensor=json.loads(json.dumps(dataclasses.asdict(settings.sensor))),
    )


def _with_gaps(stroke: StrokeTruth, samples: Samples) -> StrokeTruth:
    """Return a stroke's truth with a note of whether samples are missing in it."""
    ends = samples.time_s[samples.gap_indices]
    starts = samples.time_s[samples.gap_indices - 1]

    def is_cut(start_s: float, stop_s: float) -> bool:
        return bool(np.any((ends > start_s) & (starts < stop_s)))

    return dataclasses.replace(
        stroke,
        has_gap=is_cut(stroke.rest_start_s, stroke.follow_through_end_s),
        has_gap_in_delivery=is_cut(stroke.rear_time_s, stroke.impact_time_s),
    )
