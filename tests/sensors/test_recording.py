"""Recordings: what was written is there, after a cut, damage, a kill or a full disk."""

import os
import resource
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
from mcap.reader import make_reader
from mcap.stream_reader import StreamReader
from mcap.writer import CompressionType, Writer

from cue_sensors.errors import RecordingError
from cue_sensors.recording import RecordingWriter, read_notifications, read_recording
from cue_sensors.samples import Calibration, Mounting, SensorInfo

START = datetime(2026, 1, 2, 3, 4, 5, 678901, tzinfo=UTC)
START_NS = 1_767_323_045_678_901_000


def record(path, sent, **options):
    options = {"sensor": SensorInfo(kind="stroke_stream"), "start_utc": START, **options}
    with RecordingWriter(path, **options) as writer:
        for one in sent:
            writer.write(one.notification, START_NS + round(one.arrival_s * 1e9))
    return path.read_bytes()


@pytest.fixture
def sent(fake_sensor):
    return [fake_sensor().packet(i) for i in range(60)]


def chunk_ends(content, sent):
    """Return where each notification's chunk ends; its data are the last bytes of it."""
    ends, at = [], 0
    for one in sent:
        at = content.index(one.notification, at) + len(one.notification)
        ends.append(at)
    return ends


def test_everything_the_recorder_was_told_reads_back(tmp_path, sent):
    told = {
        "sensor": SensorInfo("stroke_stream", "tag 7", 156.9, 34.9, 200.0, 0.0048, 0.001),
        "mounting": Mounting((0.6, 0.0, 0.8), 0.01, 0.35, 1.46),
        "calibration": Calibration((0.1, 0.2, 0.3), (0.01, 0.02, 0.03), measured_utc=START),
        "labels": {"invented": "yes", "Tisch": "zwölf"},
    }
    record(tmp_path / "a.mcap", sent, **told)
    recording = read_recording(tmp_path / "a.mcap")
    for name, value in told.items():
        assert getattr(recording, name) == value
    assert recording.start_utc == START
    assert recording.problems == ()
    raw = read_notifications(tmp_path / "a.mcap")
    assert [data for _, data in raw.notifications] == [one.notification for one in sent]
    arrivals = [arrival for arrival, _ in raw.timed()]
    np.testing.assert_allclose(arrivals, [one.arrival_s for one in sent], atol=1e-9)


def test_an_independent_reader_of_the_container_finds_the_same(tmp_path, sent):
    record(tmp_path / "a.mcap", sent)
    with (tmp_path / "a.mcap").open("rb") as file:
        reader = make_reader(file, validate_crcs=True)
        messages = [
            m for _, channel, m in reader.iter_messages() if channel.topic == "notifications"
        ]
        summary = reader.get_summary()
    assert summary is not None
    assert summary.statistics is not None
    assert summary.statistics.message_count == 61
    assert [m.data for m in messages] == [one.notification for one in sent]
    assert [m.sequence for m in messages] == list(range(60))
    assert messages[3].log_time == START_NS + round(sent[3].arrival_s * 1e9)


def test_a_compressed_copy_made_by_another_program_reads_the_same(tmp_path, sent):
    record(tmp_path / "a.mcap", sent)
    for compression in (CompressionType.ZSTD, CompressionType.LZ4):
        copy = tmp_path / f"{compression.name}.mcap"
        with (tmp_path / "a.mcap").open("rb") as file, copy.open("wb") as out:
            writer = Writer(out, chunk_size=500, compression=compression)
            writer.start()
            writer.register_channel("description", "json", 0)
            writer.register_channel("notifications", "stroke_stream", 0)
            for _, _, m in make_reader(file).iter_messages():
                writer.add_message(m.channel_id, m.log_time, m.data, m.publish_time, m.sequence)
            writer.finish()
        read = read_recording(copy)
        np.testing.assert_array_equal(
            read.samples.time_s, read_recording(tmp_path / "a.mcap").samples.time_s
        )
        assert read.problems == ()


def test_a_cut_at_any_byte_keeps_everything_before_it(tmp_path, sent):
    content = record(tmp_path / "a.mcap", sent)
    ends = chunk_ends(content, sent)
    described = content.index(sent[0].notification) - 80
    path = tmp_path / "cut.mcap"
    rng = np.random.default_rng(1)
    cuts = {*rng.integers(described, len(content), 200).tolist(), *ends[:3], ends[0] - 1}
    for cut in sorted(cuts):
        path.write_bytes(content[:cut])
        raw = read_notifications(path)
        n = sum(end <= cut for end in ends)
        assert [data for _, data in raw.notifications] == [one.notification for one in sent[:n]]
        assert raw.problems or cut >= ends[-1] + 13  # the end of the data is there
        assert len(read_recording(path).samples) == 10 * n if n else True


def test_a_cut_before_the_description_is_refused(tmp_path, sent):
    content = record(tmp_path / "a.mcap", sent)
    path = tmp_path / "cut.mcap"
    for cut in (1, 8, 30, 100):
        path.write_bytes(content[:cut])
        with pytest.raises(RecordingError, match=f"cut off before its description \\({cut} bytes"):
            read_recording(path)


def test_a_flipped_bit_costs_the_notification_it_hits_and_is_reported(tmp_path, sent):
    content = record(tmp_path / "a.mcap", sent)
    ends = chunk_ends(content, sent)
    first = ends[0] - (ends[1] - ends[0])
    rng = np.random.default_rng(2)
    path = tmp_path / "hit.mcap"
    for at in rng.integers(0, len(content), 300).tolist():
        hit = bytearray(content)
        hit[at] ^= 1 << int(rng.integers(8))
        path.write_bytes(hit)
        raw = read_notifications(path)
        whole = [one.notification for one in sent]
        if first <= at < ends[-1]:
            lost = sum(end <= at for end in ends)
            kept = [data for _, data in raw.notifications]
            assert kept in (whole, whole[:lost] + whole[lost + 1 :])
            # a flip in a chunk's time stamps, which nobody reads, costs nothing
            assert raw.problems or kept == whole
        else:
            assert [data for _, data in raw.notifications] == whole


def test_many_damaged_places_are_summed_up_in_two_sentences(tmp_path, sent):
    content = bytearray(record(tmp_path / "a.mcap", sent))
    for end in chunk_ends(bytes(content), sent)[5:50:5]:
        content[end - 3] ^= 0xFF
    (tmp_path / "a.mcap").write_bytes(content)
    recording = read_recording(tmp_path / "a.mcap")
    assert recording.samples.n_lost == 90
    assert "and 6 more places" in recording.problems[0]
    assert "9 notifications are lost to damage" in recording.problems[1]


def test_a_missing_stretch_in_the_middle_is_found_by_the_numbers(tmp_path, sent):
    content = record(tmp_path / "a.mcap", sent)
    ends = chunk_ends(content, sent)
    (tmp_path / "a.mcap").write_bytes(content[: ends[9]] + content[ends[19] :])
    recording = read_recording(tmp_path / "a.mcap")
    assert "10 notifications are lost to damage" in recording.problems[0]
    assert recording.samples.n_lost == 100


WRITING = """
import sys, time
from cue_sensors.recording import RecordingWriter
from cue_sensors.samples import SensorInfo
writer = RecordingWriter(sys.argv[1], sensor=SensorInfo(kind="stroke_stream"))
i = 0
while True:
    writer.write(i.to_bytes(4, "little") * 33, time.time_ns())
    i += 1
    print(i, flush=True)
    time.sleep(0.0005)
"""


@pytest.mark.parametrize("seed", range(4))
def test_a_writer_killed_at_any_moment_leaves_every_notification_it_was_given(tmp_path, seed):
    path = tmp_path / "a.mcap"
    with subprocess.Popen(
        [sys.executable, "-c", WRITING, str(path)], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(float(np.random.default_rng(seed).uniform(0.01, 0.3)))
        process.send_signal(signal.SIGKILL)
        told = 1 + len([line for line in process.stdout.read().splitlines() if line])
    raw = read_notifications(path)
    numbers = [int.from_bytes(data[:4], "little") for _, data in raw.notifications]
    assert numbers == list(range(len(numbers)))
    assert len(numbers) >= told
    assert "not closed" in raw.problems[0] or "cut off" in raw.problems[0]


def test_a_full_disk_is_said_and_the_recording_stays_whole_and_goes_on(tmp_path, sent):
    path = tmp_path / "a.mcap"
    old, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    old_signal = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    writer = RecordingWriter(path, sensor=SensorInfo(kind="stroke_stream"), start_utc=START)
    try:
        for i, one in enumerate(sent[:50]):
            if i == 20:  # in the middle of the next notification
                limit = path.stat().st_size + 100
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, hard))
            if i == 30:
                resource.setrlimit(resource.RLIMIT_FSIZE, (old, hard))
            at_ns = START_NS + round(one.arrival_s * 1e9)
            if 20 <= i < 30:
                with pytest.raises(RecordingError, match=r"(too large|full).* safe"):
                    writer.write(one.notification, at_ns)
            else:
                writer.write(one.notification, at_ns)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (old, hard))
        signal.signal(signal.SIGXFSZ, old_signal)
        writer.close()
    assert (writer.n_written, writer.n_refused) == (40, 10)
    recording = read_recording(path)
    assert recording.problems == ()
    assert len(recording.samples) == 400
    assert recording.samples.n_lost == 100


@pytest.mark.parametrize(
    ("number", "words"),
    [(28, "disk is full.*Make room"), (5, "Writing failed.*Check the disk"), (30, "read-only")],
)
def test_what_the_disk_says_becomes_a_sentence(tmp_path, monkeypatch, sent, number, words):
    writer = RecordingWriter(tmp_path / "a.mcap", sensor=SensorInfo(kind="stroke_stream"))

    def refuse(*_):
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patch:
        patch.setattr("os.write", refuse)
        with pytest.raises(RecordingError, match=words):
            writer.write(sent[0].notification, START_NS)
        writer.close()
    assert read_notifications(tmp_path / "a.mcap").problems == (
        "The recording was not closed; all that was written is read.",
    )


def test_a_recording_is_never_written_over(tmp_path, sent):
    before = record(tmp_path / "a.mcap", sent)
    with pytest.raises(RecordingError, match="already a file of that name"):
        RecordingWriter(tmp_path / "a.mcap", sensor=SensorInfo(kind="stroke_stream"))
    assert (tmp_path / "a.mcap").read_bytes() == before


def test_a_missing_folder_is_named(tmp_path):
    with pytest.raises(RecordingError, match=r"none/a.mcap.*folder does not exist"):
        RecordingWriter(tmp_path / "none" / "a.mcap", sensor=SensorInfo(kind="stroke_stream"))


def test_a_closed_recording_takes_no_more_and_may_be_closed_again(tmp_path, sent):
    writer = RecordingWriter(tmp_path / "a.mcap", sensor=SensorInfo(kind="stroke_stream"))
    writer.close()
    writer.close()
    with pytest.raises(ValueError, match="closed"):
        writer.write(sent[0].notification, START_NS)


def test_each_notification_is_on_disk_when_write_returns(tmp_path, sent):
    path = tmp_path / "a.mcap"
    with RecordingWriter(path, sensor=SensorInfo(kind="stroke_stream")) as writer:
        for n, one in enumerate(sent[:10], start=1):
            writer.write(one.notification, START_NS)
            assert len(read_notifications(path).notifications) == n


def test_a_start_in_another_zone_is_the_same_moment(tmp_path, sent):
    moment = START.astimezone(timezone(timedelta(hours=5, minutes=30)))
    record(tmp_path / "a.mcap", sent, start_utc=moment)
    assert read_recording(tmp_path / "a.mcap").start_utc == START


def test_the_records_are_those_of_the_format_page(tmp_path, sent):
    record(tmp_path / "a.mcap", sent[:2])
    with (tmp_path / "a.mcap").open("rb") as file:
        kinds = [type(r).__name__ for r in StreamReader(file, emit_chunks=True).records]
    opening = ["Header", "Metadata", "Chunk"]
    ending = ["DataEnd", "Channel", "Channel", "Statistics", "Footer"]
    assert kinds == [*opening, "Chunk", "Chunk", *ending]
