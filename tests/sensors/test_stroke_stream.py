"""The stroke stream: what is encoded decodes, and nothing that arrives breaks the decoder."""

import contextlib
import math
import struct
import tracemalloc

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from cue_sensors.assemble import SampleAssembler
from cue_sensors.decoders import Packet, stroke_stream
from cue_sensors.errors import DecodeError
from cue_sensors.samples import SensorInfo

G = 9.80665


@st.composite
def packets(draw):
    shape = (draw(st.integers(1, 255)), draw(st.sampled_from([3, 6])))
    return Packet(
        counts=draw(hnp.arrays(np.int16, shape)),
        period_us=draw(st.integers(1, 2**16 - 1)),
        sequence=draw(st.integers(0, 2**16 - 1)),
        device_time_us=draw(st.integers(0, 2**32 - 1)),
        is_saturated=draw(st.booleans()),
        has_lost_before=draw(st.booleans()),
        is_replayed=draw(st.booleans()),
    )


@settings(max_examples=100, deadline=None)
@given(packet=packets())
def test_a_packet_survives_the_way_there_and_back(packet):
    read = stroke_stream.decode(stroke_stream.encode(packet))
    np.testing.assert_array_equal(read.counts, packet.counts)
    for name in ("period_us", "sequence", "device_time_us"):
        assert getattr(read, name) == getattr(packet, name)
    for name in ("is_saturated", "has_lost_before", "is_replayed"):
        assert getattr(read, name) is getattr(packet, name)


def test_counters_wrap_when_encoded():
    packet = Packet(np.zeros((1, 3), np.int16), 5000, sequence=2**16 + 3, device_time_us=2**32 + 9)
    read = stroke_stream.decode(stroke_stream.encode(packet))
    assert (read.sequence, read.device_time_us) == (3, 9)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"sequence": None}, "sequence number"),
        ({"device_time_us": None}, "device time"),
        ({"counts": np.zeros((0, 3), np.int16)}, "0 samples"),
        ({"counts": np.zeros((256, 3), np.int16)}, "256 samples"),
        ({"counts": np.zeros((2, 4), np.int16)}, "4 axes"),
        ({"period_us": 0}, "0 us"),
        ({"period_us": 65536}, "65536 us"),
    ],
)
def test_a_packet_that_does_not_fit_is_the_caller_s_mistake(changes, words):
    good = {"counts": np.zeros((1, 3), np.int16), "period_us": 5000}
    good |= {"sequence": 0, "device_time_us": 0}
    with pytest.raises(ValueError, match=words):
        stroke_stream.encode(Packet(**{**good, **changes}))


@settings(max_examples=300, deadline=None)
@given(data=st.binary(max_size=300))
def test_no_bytes_raise_anything_but_the_decoder_s_own_error(data):
    with contextlib.suppress(DecodeError):
        packet = stroke_stream.decode(data)
        assert len(data) == 12 + len(packet) * data[11]


def test_ten_thousand_mangled_notifications_put_no_sample_out_of_place(fake_sensor):
    sensor = fake_sensor()
    assembler = SampleAssembler(sensor.info)
    for notification in mangled(sensor.packet(0).notification, np.random.default_rng(9), 10_000):
        assembler.push(1.0, notification)
    assert assembler.n_undecodable == 10_000
    assert len(assembler.finish()) == 0


def test_mangled_and_good_notifications_leave_memory_flat(fake_sensor):
    sensor = fake_sensor()
    rng = np.random.default_rng(10)
    assembler = SampleAssembler(sensor.info)
    sent = [sensor.packet(i) for i in range(1500)]
    used = np.zeros(1500)
    tracemalloc.start()
    for i, bad in enumerate(mangled(sent[0].notification, rng, 1500)):
        one = sent[i]
        assembler.push(one.arrival_s, one.notification)
        assembler.push(one.arrival_s, bad)
        used[i] = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    assert used[-1] - used[700] < 20_000  # bytes; one packet's samples alone take about 1000


def mangled(good, rng, n):
    """Yield notifications that a header's own numbers give away."""
    kinds = rng.integers(0, 4, n)
    values = rng.integers(0, 256, (n, 2))
    for kind, (value, at) in zip(kinds.tolist(), values.tolist(), strict=True):
        if kind == 0:
            yield good[: at % len(good)]
        elif kind == 1:
            yield good + bytes([value] * (1 + at % 9))
        elif kind == 2:
            yield bytes([value if value != 1 else 2]) + good[1:]
        else:
            yield good[:10] + bytes([value if value != 10 else 11]) + good[11:]


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_hostile_counters_never_break_the_order_of_time(fake_sensor_class, seed):
    """Well-formed packets whose sequence, clock and arrival are rubbish."""
    rng = np.random.default_rng(seed)
    assembler = SampleAssembler(SensorInfo(kind="stroke_stream"))
    arrival_s, end_s = 0.0, -np.inf
    for _ in range(200):
        arrival_s += float(rng.choice([0.0, 0.05, 50.0, 5000.0]))
        packet = Packet(
            counts=np.zeros((int(rng.integers(1, 30)), 6), np.int16),
            period_us=int(rng.integers(1, 2**16)),
            sequence=int(rng.choice(np.array([0, 1, 2, 2**16 - 1, rng.integers(2**16)]))),
            device_time_us=int(rng.choice(np.array([0, 50_000, 2**32 - 1, rng.integers(2**32)]))),
        )
        samples = assembler.push(arrival_s, stroke_stream.encode(packet))
        if len(samples):
            assert samples.time_s[0] > end_s
            assert np.all(np.diff(samples.time_s) > 0)
            end_s = samples.time_s[-1]


def test_a_replayed_stretch_is_no_part_of_the_stream(fake_sensor):
    sensor = fake_sensor()
    assembler = SampleAssembler(sensor.info)
    n = 0
    for i in range(60):
        one = sensor.packet(i)
        notification = bytearray(one.notification)
        if i == 30:
            notification[1] |= stroke_stream.IS_REPLAYED
            notification[4:8] = struct.pack("<I", 1_000_000)
        n += len(assembler.push(one.arrival_s, bytes(notification)))
    n += len(assembler.finish())
    assert n == 590
    assert assembler.problems() == ()


def test_an_end_of_range_that_only_the_sensor_saw_marks_its_whole_packet(fake_sensor):
    sensor = fake_sensor()
    assembler = SampleAssembler(sensor.info)
    notification = bytearray(sensor.packet(0).notification)
    notification[1] |= stroke_stream.IS_SATURATED
    assembler.push(1.1, bytes(notification))
    assembler.push(1.15, sensor.packet(1).notification)
    assert assembler.finish().is_clipped.tolist() == [True] * 10 + [False] * 10


def test_the_info_of_a_sensor_reads_back():
    sensor = SensorInfo("stroke_stream", "tag", 16 * G, math.radians(2000), 208.0, 0.0048, 0.00122)
    read = stroke_stream.decode_info(stroke_stream.encode_info(sensor, model=7), name="tag")
    assert read.accel_range_m_s2 == pytest.approx(16 * G)
    assert read.gyro_range_rad_s == pytest.approx(math.radians(2000))
    assert read.nominal_rate_hz == 208.0
    assert read.accel_m_s2_per_count == pytest.approx(0.0048, rel=1e-6)
    assert read.gyro_rad_s_per_count == pytest.approx(0.00122, rel=1e-6)


def test_the_info_is_laid_out_as_specified():
    """Bytes by hand from the page: 16 g, 2000 deg/s, 208 Hz, 0.5 mg and 0.07 deg/s a count."""
    value = struct.pack("<BBHHIffH", 1, 3, 16, 2000, 208_000, 0.0005, 0.07, 42)
    assert len(value) == 20
    read = stroke_stream.decode_info(value)
    assert read.accel_m_s2_per_count == pytest.approx(0.0005 * G)
    assert read.gyro_rad_s_per_count == pytest.approx(math.radians(0.07))


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (bytes(19), "19 bytes instead of 20"),
        (struct.pack("<BBHHIffH", 2, 3, 16, 2000, 208_000, 5e-4, 0.07, 0), "version 2"),
        (struct.pack("<BBHHIffH", 1, 3, 16, 2000, 208_000, 0.0, 0.07, 0), "0.0 g a count"),
        (struct.pack("<BBHHIffH", 1, 3, 16, 2000, 208_000, math.nan, 0.07, 0), "nan g a count"),
        (struct.pack("<BBHHIffH", 1, 3, 16, 2000, 0, 5e-4, 0.07, 0), "0.0 Hz"),
    ],
)
def test_a_nonsense_info_is_refused(value, words):
    with pytest.raises(DecodeError, match=words):
        stroke_stream.decode_info(value)


def test_a_full_notification_fits_the_usual_mtu():
    """247-byte MTU less 3; 38 samples of 3 axes and 19 of 6, as tabulated in the layout's notes."""
    assert stroke_stream.samples_per_notification(3) == 38
    assert stroke_stream.samples_per_notification(6) == 19
    packet = Packet(np.zeros((19, 6), np.int16), 5000, sequence=0, device_time_us=0)
    assert len(stroke_stream.encode(packet)) <= 244
