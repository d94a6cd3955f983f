"""Decoders from public documents: vectors worked out by hand from those documents."""

import contextlib
import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cue_sensors.assemble import SampleAssembler
from cue_sensors.decoders import Packet, decoder_for, decoders, movesense, thingy52, wt901
from cue_sensors.errors import DecodeError, SensorError
from cue_sensors.rate import joined
from cue_sensors.samples import SensorInfo

G = 9.80665


def assembled(info, stream):
    assembler = SampleAssembler(info)
    return joined([assembler.push_many(stream), assembler.finish()], rate_hz=1.0), assembler


def test_a_wt901_packet_reads_as_the_manual_says():
    """Manual 6.1: a = raw/32768 x 16 g, w = raw/32768 x 2000 deg/s, low byte first."""
    data = bytes.fromhex("5561000800f8ff7f001000f00100000000000000")
    samples, _ = assembled(SensorInfo(kind="wt901"), [(1.0, data * 3)])
    np.testing.assert_allclose(samples.specific_force_m_s2[0, :2], [1.0 * G, -1.0 * G])
    assert samples.angular_rate_rad_s is not None
    expected = np.radians([250.0, -250.0, 2000 / 32768])
    np.testing.assert_allclose(samples.angular_rate_rad_s[2], expected)
    assert samples.is_clipped.tolist() == [True] * 3
    assert len(samples) == 3


def test_a_wt901_capture_that_somebody_published_reads_one_g_at_rest():
    """First three axes of a tag at rest, from a public log of a tag of this sort."""
    axes = [(-203, -167, 2058), (-207, -169, 2063), (-189, -162, 2069)]
    packet = Packet(np.array([[*a, 0, 0, 0] for a in axes], np.int16), period_us=0.0)
    samples, _ = assembled(SensorInfo(kind="wt901"), [(1.0, wt901.encode(packet))])
    magnitude = np.linalg.norm(samples.specific_force_m_s2, axis=1)
    np.testing.assert_allclose(magnitude, G, rtol=0.03)  # such tags are off by a few percent


def test_a_thingy52_sample_reads_as_documented():
    """6Q10 g and 11Q5 deg/s: 1024 is 1 g, 32 is 1 deg/s; the magnetometer is left out."""
    data = struct.pack("<9h", 1024, -512, 2048, 32, -64, 3200, 7, 8, 9)
    samples, _ = assembled(SensorInfo(kind="thingy52"), [(1.0, data)])
    np.testing.assert_allclose(samples.specific_force_m_s2, [[G, -0.5 * G, 2 * G]])
    np.testing.assert_allclose(samples.angular_rate_rad_s, np.radians([[1, -2, 100]]))


def movesense_message(time_ms, n=8):
    accel = np.arange(3 * n, dtype=np.float32).reshape(n, 3)
    gyro = 100 + accel
    head = struct.pack("<BBI", 2, 99, time_ms % 2**32)
    return head + accel.astype("<f4").tobytes() + gyro.astype("<f4").tobytes()


def test_a_movesense_message_in_two_parts_reads_as_one():
    parts = movesense.split(movesense_message(5))
    assert [len(part) for part in parts] == [155, 2 + 198 - 155]
    samples, assembler = assembled(SensorInfo(kind="movesense"), [(1.0, part) for part in parts])
    assert assembler.n_undecodable == 0
    np.testing.assert_allclose(samples.specific_force_m_s2[2], [6, 7, 8])
    assert samples.angular_rate_rad_s is not None
    np.testing.assert_allclose(samples.angular_rate_rad_s[7], np.radians([121, 122, 123]))


def test_a_lost_part_costs_its_own_message_only():
    stream = []
    for k in range(30):
        for i, part in enumerate(movesense.split(movesense_message(round(k * 8000 / 104)))):
            if (k, i) not in ((10, 1), (20, 0)):
                stream.append((1 + k * 8 / 104, part))
    samples, assembler = assembled(SensorInfo(kind="movesense"), stream)
    assert len(samples) == 8 * 28
    assert samples.n_lost == 16
    assert assembler.n_undecodable == 1  # the second part without a first


def test_movesense_times_come_from_its_millisecond_clock_through_a_wrap():
    first_ms = 2**32 - 1000
    stream = [
        (k * 8 / 104 + 0.1, part)
        for k in range(100)
        for part in movesense.split(movesense_message(first_ms + round(k * 8000 / 104)))
    ]
    samples, assembler = assembled(SensorInfo(kind="movesense"), stream)
    assert assembler.n_restarts == 0
    np.testing.assert_allclose(np.diff(samples.time_s), 1 / 104, atol=1.1e-3)  # its clock's grain
    assert samples.rate_hz == pytest.approx(104, rel=2e-3)


def without_clock(kind, true_rate_hz, *, n=6000, interval_s=0.03, is_kept=None):
    """Return numbered samples sent in bursts by a sensor set to 100 Hz, as read, and the truth."""
    rng, decoder = np.random.default_rng(6), decoder_for(kind)
    times_s = np.arange(n) / true_rate_hz
    bursts_s = np.ceil(times_s / interval_s) * interval_s + rng.exponential(0.002, n)
    arrivals_s = np.maximum.accumulate(bursts_s)
    numbers = np.arange(n) if is_kept is None else np.flatnonzero(is_kept)
    stream = []
    for k in numbers.tolist():
        packet = Packet(np.full((1, 6), k % 30_000, np.int16), period_us=0.0)
        stream.append((float(arrivals_s[k]), decoder.encode(packet)))
    samples, assembler = assembled(SensorInfo(kind=kind, nominal_rate_hz=100.0), stream)
    return samples, times_s[numbers], assembler


# a sampling clock made of an RC oscillator misses its rate by a percent or two
@pytest.mark.parametrize("kind", ["wt901", "thingy52"])
@pytest.mark.parametrize("true_rate_hz", [98.5, 100.0, 101.0])
def test_without_a_clock_rate_and_time_come_from_the_arrivals(kind, true_rate_hz):
    samples, times_s, assembler = without_clock(kind, true_rate_hz)
    assert len(samples) == 6000
    assert samples.n_lost == 0
    late_s = samples.time_s - times_s
    assert np.max(np.abs(late_s[times_s > 40])) < 0.002
    assert np.max(np.abs(late_s[times_s > 20])) < 0.006
    assert np.max(np.abs(late_s)) < 0.075  # five seconds at a percent and a half
    steps_s = np.diff(samples.time_s[times_s > 6])
    np.testing.assert_allclose(steps_s * true_rate_hz, 1.0, atol=0.007)  # half a percent of slew
    assert assembler.problems() == ()


@pytest.mark.parametrize("true_rate_hz", [9.9, 50.3, 199.0])
def test_without_a_clock_a_rate_that_was_never_set_is_found_and_said(true_rate_hz):
    samples, times_s, assembler = without_clock("wt901", true_rate_hz, n=int(60 * true_rate_hz))
    assert len(samples) == len(times_s)
    assert samples.n_lost == 0
    assert samples.rate_hz == pytest.approx(true_rate_hz, rel=2e-3)
    assert assembler.rate_hz == pytest.approx(true_rate_hz, rel=6e-3)
    assert np.max(np.abs(samples.time_s - times_s)) < 0.05
    assert f"sends {true_rate_hz:.0f} samples a second" in assembler.problems()[0]
    assert assembler.n_restarts == 0


def test_without_a_clock_a_pause_is_a_gap_of_its_length():
    """Three seconds are lost of a sensor whose rate is a percent and a half off."""
    is_kept = np.ones(6000, dtype=bool)
    is_kept[3000:3300] = False
    samples, times_s, assembler = without_clock("wt901", 98.5, is_kept=is_kept)
    assert assembler.n_restarts == 0
    # arrivals come every 30 ms, which is three samples
    assert samples.n_lost == pytest.approx(300, abs=3)
    settled = times_s > 20
    assert np.max(np.abs(samples.time_s - times_s)[settled]) < 0.032


def test_without_counter_and_clock_a_short_loss_cannot_be_told_from_a_delay():
    """What is impossible: five samples lost look like a link that is 50 ms slower from then on."""
    is_kept = np.ones(9000, dtype=bool)
    is_kept[3000:3005] = False
    samples, times_s, _ = without_clock("wt901", 100.0, n=9000, is_kept=is_kept)
    late_s = samples.time_s - times_s
    assert samples.n_lost == 0
    assert np.min(late_s) == pytest.approx(-0.05, abs=0.003)
    assert np.max(np.abs(late_s[times_s > 75])) < 0.012  # worked off, without ever bending time
    np.testing.assert_allclose(np.diff(samples.time_s) * 100, 1.0, atol=0.011)


@pytest.mark.parametrize("kind", sorted(decoders))
@settings(max_examples=150, deadline=None)
@given(data=st.binary(max_size=260), seed=st.integers(0, 2**32 - 1))
def test_no_bytes_raise_anything_but_the_decoder_s_own_error(kind, data, seed):
    decoder = decoder_for(kind)
    for notification in (data, near_miss(kind, data, seed)):
        with contextlib.suppress(DecodeError):
            packet = decoder.decode(notification)
            assert packet.counts.shape[1] in (3, 6)
            assert np.all(np.isfinite(packet.counts))
    assembler = SampleAssembler(SensorInfo(kind=kind))
    for k, notification in enumerate([data, near_miss(kind, data, seed), data[:1], data]):
        assembler.push(float(k), notification)
    samples = assembler.finish()
    assert np.all(np.diff(samples.time_s) > 0)


def near_miss(kind, data, seed):
    """Return bytes that begin as the protocol asks and go on as they like."""
    head = {"wt901": b"\x55\x61", "movesense": b"\x02\x63", "stroke_stream": b"\x01\x03"}
    rng = np.random.default_rng(seed)
    length = int(rng.choice([18, 20, 40, 36, 54, 155, 198]))
    return (head.get(kind, b"") + data + rng.bytes(length))[:length]


def commands(kind, rate_hz=None, range_g=None, **stated):
    decoder = decoder_for(kind)
    return decoder.start(rate_hz, range_g, SensorInfo(kind=kind, **stated))


def hexed(commands):
    return [data.hex() for _, data in commands]


def test_what_sets_a_sensor_going_is_as_documented():
    unlock_rate_save = hexed(commands("wt901", 200.0).settings)
    assert unlock_rate_save == ["ffaa6988b5", "ffaa030b00", "ffaa000000"]
    assert commands("movesense", 208.0).go[0][1] == b"\x01\x63/Meas/IMU6/208"
    assert hexed(commands("thingy52", 200.0).settings) == ["e803e803e803c80000"]
    stream = commands("stroke_stream", 208.0, gyro_range_rad_s=np.radians(2000))
    assert hexed(stream.settings) == ["0200d0001000", "0201d000d007"]
    assert hexed(stream.go) == ["01"]


def test_a_stroke_stream_is_asked_for_the_range_that_is_wanted_at_the_rate_it_has():
    stated = {"nominal_rate_hz": 416.0, "accel_range_m_s2": 8 * G}
    assert hexed(commands("stroke_stream", None, 32.0, **stated).settings) == ["0200a0012000"]
    assert hexed(commands("stroke_stream", 208.0, None, **stated).settings) == ["0200d0000800"]
    assert commands("stroke_stream", None, None, **stated).settings == ()


@pytest.mark.parametrize(
    ("kind", "wanted_hz", "granted_hz"),
    [
        ("wt901", 5.0, 10.0),
        ("wt901", 150.0, 100.0),
        ("wt901", None, 100.0),
        ("movesense", 1.0, 13.0),
        ("movesense", 250.0, 208.0),
        ("thingy52", 1000.0, 200.0),
        ("thingy52", 99.9, 99.0),
        ("stroke_stream", 333.0, 333.0),
        ("stroke_stream", None, None),
    ],
)
def test_a_rate_it_does_not_offer_becomes_the_next_below(kind, wanted_hz, granted_hz):
    assert decoder_for(kind).granted_rate_hz(wanted_hz) == granted_hz


@pytest.mark.parametrize(
    ("kind", "wanted_hz", "written"),
    [("wt901", 5.0, "ffaa030600"), ("wt901", 150.0, "ffaa030900"), ("movesense", 1.0, "3133")],
)
def test_the_rate_written_is_the_one_that_is_granted(kind, wanted_hz, written):
    told = commands(kind, wanted_hz)
    assert any(data.endswith(written) for data in hexed(told.settings + told.go))


def test_each_decoder_says_what_it_was_written_from():
    for kind, decoder in decoders.items():
        assert kind == decoder.kind == decoder.sensor.kind
        assert "no hardware" in decoder.source or "not tried on hardware" in decoder.source
        assert len(decoder.service_uuid) == len(decoder.notify_uuid) == 36


@pytest.mark.parametrize("module", [wt901, thingy52, movesense])
def test_a_packet_that_it_cannot_carry_is_the_caller_s_mistake(module):
    with pytest.raises(ValueError, match="3"):
        module.encode(Packet(np.zeros((1, 3), np.int16), period_us=0.0))


def test_a_kind_nobody_knows_is_refused_with_the_known_ones():
    with pytest.raises(SensorError, match=r"'abacus'.*movesense, stroke_stream, thingy52, wt901"):
        decoder_for("abacus")


def test_thingy52_names_its_default_range_nowhere():
    assert thingy52.DECODER.sensor.accel_range_m_s2 is None
