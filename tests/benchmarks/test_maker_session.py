import dataclasses
from pathlib import Path

import numpy as np
import pytest

from cue_bench.maker import (
    Distractor,
    MadeSession,
    SessionSettings,
    StrokePlan,
    draw_knowledge,
    draw_sensor,
    make_session,
    make_strokes,
    read_truth,
)
from cue_bench.maker.distractors import DISTRACTOR_KINDS
from cue_bench.maker.files import truth_on, write_session
from cue_bench.maker.sensor import cue_axis_in_sensor
from cue_bench.maker.session import mounting
from cue_sensors.assemble import SampleAssembler
from cue_sensors.decoders import decoder_for
from cue_sensors.recording import read_recording


def test_the_same_seed_gives_the_same_bytes_and_another_seed_others() -> None:
    first, again, other = (make_strokes(1, seed, distractors=False) for seed in (3, 3, 4))
    assert first.notifications == again.notifications
    assert first.truth == again.truth
    assert first.notifications != other.notifications


def test_notifications_hold_the_samples_of_the_recording(made: MadeSession) -> None:
    # Truth: the decoder of the sensors package, written apart from the maker's encoder.
    decoder = decoder_for("stroke_stream")
    packets = [decoder.decode(notification) for _, notification in made.notifications]
    counts = np.concatenate([packet.counts for packet in packets])
    size = 16 * 9.80665 / 32768
    np.testing.assert_allclose(
        counts[:, :3] * size, made.recording.samples.specific_force_m_s2, rtol=1e-12
    )


def test_the_assembler_gives_the_makers_samples(made: MadeSession) -> None:
    assembler = SampleAssembler(made.recording.sensor, None)
    origin = made.notifications[0][0]
    samples = assembler.push_many(
        [((stamp - origin) * 1e-9, notification) for stamp, notification in made.notifications]
    )
    n = len(samples)
    assert n > 0.95 * len(made.recording.samples)
    own = made.recording.samples
    np.testing.assert_allclose(samples.specific_force_m_s2, own.specific_force_m_s2[:n], rtol=1e-12)
    assert samples.angular_rate_rad_s is not None
    assert own.angular_rate_rad_s is not None
    np.testing.assert_allclose(samples.angular_rate_rad_s, own.angular_rate_rad_s[:n], rtol=1e-12)


def test_arrivals_are_late_in_bursts_and_never_early() -> None:
    session = make_strokes(1, 6, distractors=False)
    arrivals = np.array([stamp for stamp, _ in session.notifications]) * 1e-9
    assert np.all(np.diff(arrivals) > 0)
    last = session.recording.samples.time_s[9::10]
    n = min(len(last), len(arrivals))
    # The device's clock may be off by 50 ppm, half a millisecond in ten seconds.
    delay = arrivals[:n] - arrivals[0] - (last[:n] - last[0])
    assert np.ptp(delay) > 0.02


def test_lost_notifications_leave_gaps_and_mark_the_strokes_they_meet() -> None:
    session = make_strokes(4, 9, lost_share=0.08, distractors=False)
    samples = session.recording.samples
    assert session.truth.n_lost_notifications > 0
    assert samples.n_lost == pytest.approx(10 * session.truth.n_lost_notifications, abs=20)
    for stroke in session.truth.strokes:
        inside = samples.between(stroke.rest_start_s, stroke.follow_through_end_s)
        span = stroke.follow_through_end_s - stroke.rest_start_s
        assert stroke.has_gap == (len(inside) < int(span * samples.rate_hz) - 1)


def test_the_hit_shows_in_the_samples_at_the_impact_time(made: MadeSession) -> None:
    axis = np.array(made.truth.cue_axis)
    samples = made.recording.samples
    delay = made.truth.filter_delay_s
    for stroke in made.truth.strokes:
        near = samples.between(stroke.impact_time_s - 0.3, stroke.impact_time_s + 0.1)
        along = near.specific_force_m_s2 @ axis
        deepest = near.time_s[np.argmin(along)] - stroke.impact_time_s
        # Filter delay, contact, and a sample's spacing.
        assert 0.0 < deepest < delay + 0.002 + 0.008


def test_truth_moves_to_the_axis_a_reader_gives(made: MadeSession) -> None:
    samples = made.recording.samples
    later = dataclasses.replace(samples, time_s=1.0001 * samples.time_s + 3.0)
    moved = truth_on(made, later)
    for own, other in zip(made.truth.strokes, moved.strokes, strict=True):
        assert other.impact_time_s == pytest.approx(1.0001 * own.impact_time_s + 3.0, abs=1e-9)
        assert other.tip_speed_m_s == own.tip_speed_m_s
    with pytest.raises(ValueError, match=r"9 samples were read"):
        truth_on(made, dataclasses.replace(samples, time_s=samples.time_s[:9]))


def test_a_session_comes_back_from_disk_with_its_truth(made: MadeSession, tmp_path: Path) -> None:
    path = tmp_path / "a.mcap"
    truth = write_session(made, path)
    assert read_truth(path.with_suffix(".truth.json")) == truth
    read = read_recording(path)
    assert read.mounting == made.recording.mounting
    assert read.labels["invented"] == "yes"
    np.testing.assert_allclose(
        read.samples.specific_force_m_s2,
        made.recording.samples.specific_force_m_s2,
        rtol=1e-12,
    )


@pytest.mark.parametrize("kind", DISTRACTOR_KINDS)
def test_every_distractor_plays_and_ends_standing(kind: str) -> None:
    settings = SessionSettings((Distractor(kind), StrokePlan(feathers=1)))  # type: ignore[arg-type]
    session = make_session(settings, 11)
    (other,) = session.truth.distractors
    assert other.kind == kind
    assert other.stop_s - other.start_s > 1.0
    pose = session.motion.pose(np.array([session.true_time_s(other.stop_s)]))
    assert pose.pitch_rad[0, 0] == pytest.approx(0.9, abs=0.01)
    assert pose.slide_m[0, 0] == pytest.approx(0.0, abs=0.01)
    moving = session.recording.samples.between(other.start_s, other.stop_s)
    assert np.ptp(np.linalg.norm(moving.specific_force_m_s2, axis=1)) > 0.3
    assert len(session.truth.strokes) == 1


def test_a_roll_on_the_cloth_turns_the_sensor_about_the_cue() -> None:
    session = make_session(SessionSettings((Distractor("roll_on_cloth"),)), 11)
    (roll,) = session.truth.distractors
    samples = session.recording.samples.between(roll.start_s + 2.0, roll.stop_s - 3.0)
    assert samples.angular_rate_rad_s is not None
    along = samples.angular_rate_rad_s @ np.array(session.truth.cue_axis)
    across = np.linalg.norm(samples.angular_rate_rad_s, axis=1) ** 2 - along**2
    assert np.sqrt(np.mean(across)) < 0.02 * np.sqrt(np.mean(along**2))
    # A whole turn and a little more.
    assert np.abs(np.cumsum(along)).max() / samples.rate_hz > 2 * np.pi


def test_a_known_axis_is_off_by_about_its_stated_uncertainty() -> None:
    rng = np.random.default_rng(3)
    errors = []
    for _ in range(200):
        sensor, known = draw_sensor(rng), draw_knowledge(rng, is_axis_known=True)
        settings = SessionSettings((), sensor=sensor, knowledge=known)
        axis = mounting(settings).cue_axis
        assert axis is not None
        errors.append(np.arccos(min(1.0, float(np.dot(axis, cue_axis_in_sensor(settings))))))
    # Two angles of 0.01 rad each: root mean square 0.014, 400 draws leave 4 %.
    assert np.sqrt(np.mean(np.square(errors))) == pytest.approx(0.0141, rel=0.12)


def test_an_unknown_mounting_says_nothing_of_the_axis() -> None:
    session = make_strokes(1, 2, known_mounting=False, distractors=False, has_gyroscope=False)
    assert session.recording.mounting.cue_axis is None
    assert session.recording.samples.angular_rate_rad_s is None
    assert session.recording.sensor.gyro_range_rad_s is None
