"""From notifications to samples: in order, on time, gaps of the right length, whatever comes."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cue_sensors.assemble import SampleAssembler
from cue_sensors.rate import joined
from cue_sensors.samples import Calibration, SensorInfo

# A packet in every so many comes without delay: no method can know a delay that all share.
PROMPT_EVERY = 6


def assembled(info, notifications, **options):
    assembler = SampleAssembler(info, **options)
    pieces = [assembler.push(arrival, data) for arrival, data in notifications]
    return joined([*pieces, assembler.finish()], rate_hz=200.0), assembler


def as_they_arrive(sent):
    return [(one.arrival_s, one.notification) for one in sorted(sent, key=lambda s: s.arrival_s)]


def in_link_order(sent):
    """Radio links keep their order: a packet waits for a delayed one before it."""
    arrivals = np.maximum.accumulate([one.arrival_s for one in sent])
    return [(float(a), one.notification) for a, one in zip(arrivals, sent, strict=True)]


@st.composite
def weather(draw):
    """Return delays in seconds and losses for 300 packets, a prompt one now and then."""
    n = 300
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    burst_s = draw(st.sampled_from([0.0, 0.01, 0.03, 0.1]))
    stall_s = draw(st.sampled_from([0.0, 0.5, 2.0]))
    delays = rng.exponential(burst_s, n) if burst_s else np.zeros(n)
    delays[(rng.random(n) < 0.01) & (np.arange(n) > 0)] += stall_s
    delays[::PROMPT_EVERY] = rng.uniform(0, 0.0005, len(delays[::PROMPT_EVERY]))
    is_lost = rng.random(n) < draw(st.sampled_from([0.0, 0.02, 0.3]))
    is_lost[::PROMPT_EVERY] = False
    first = draw(st.integers(0, n - 50))
    is_lost[first : first + draw(st.sampled_from([0, 5, 40]))] = True
    is_lost[0] = is_lost[n - 1] = False
    return delays, is_lost


@st.composite
def sensors(draw):
    """Return settings of a sensor, its counters close to a wrap more often than not."""
    return {
        "drift": draw(st.sampled_from([-5e-5, 0.0, 5e-5])),
        "sequence": draw(st.sampled_from([0, 2**16 - 150, 2**16 - 1]) | st.integers(0, 2**16 - 1)),
        "clock_us": draw(st.sampled_from([0, 2**32 - 7_000_000]) | st.integers(0, 2**32 - 1)),
        "n_axes": draw(st.sampled_from([3, 6])),
    }


@settings(max_examples=40, deadline=None)
@given(options=sensors(), weather=weather(), swap_seed=st.none() | st.integers(0, 1000))
def test_samples_are_on_time_in_order_and_every_loss_is_a_gap(
    fake_sensor_class, options, weather, swap_seed
):
    delays, is_lost = weather
    sensor = fake_sensor_class(**options)
    sent = [
        sensor.packet(i, delay_s=delay)
        for i, (delay, lost) in enumerate(zip(delays, is_lost, strict=True))
        if not lost
    ]
    stream = in_link_order(sent)
    if swap_seed is not None:
        swap_neighbours(stream, np.random.default_rng(swap_seed))
    samples, assembler = assembled(sensor.info, stream)
    index = sensor.index_of(samples)
    assert np.all(np.diff(samples.time_s) > 0)
    assert np.all(np.diff(index) > 0)
    assert len(samples) + sensor.per_packet * assembler.n_dropped == sensor.per_packet * len(sent)
    assert samples.n_lost == index[-1] - index[0] + 1 - len(samples)
    late_s = samples.time_s - (sensor.start_s + index / sensor.rate_hz) - 0.005
    assert np.max(np.abs(late_s)) < 0.002  # the bound of the requirement
    assert assembler.n_restarts == 0


def swap_neighbours(stream, rng):
    """Swap one packet in ten with its neighbour, as a busy host may."""
    for i in 2 * PROMPT_EVERY + np.flatnonzero(
        rng.random(len(stream) - 2 * PROMPT_EVERY - 1) < 0.1
    ):
        (_, first), (later, second) = stream[i], stream[i + 1]
        stream[i], stream[i + 1] = (later, second), (later, first)


@settings(max_examples=25, deadline=None)
@given(weather=weather(), cuts=st.sets(st.integers(1, 299), max_size=20))
def test_samples_do_not_depend_on_how_notifications_are_handed_in(fake_sensor_class, weather, cuts):
    delays, is_lost = weather
    sensor = fake_sensor_class(clock_us=2**32 - 3_000_000, drift=3e-5)
    sent = [sensor.packet(i, delay_s=d) for i, d in enumerate(delays) if not is_lost[i]]
    stream = in_link_order(sent)
    one_by_one, _ = assembled(sensor.info, stream)
    assembler = SampleAssembler(sensor.info)
    edges = [0, *sorted(cut for cut in cuts if cut < len(stream)), len(stream)]
    pieces = [assembler.push_many(stream[a:b]) for a, b in pairwise(edges)]
    batched = joined([*pieces, assembler.finish()], rate_hz=200.0)
    np.testing.assert_array_equal(batched.time_s, one_by_one.time_s)
    np.testing.assert_array_equal(batched.specific_force_m_s2, one_by_one.specific_force_m_s2)
    np.testing.assert_array_equal(batched.angular_rate_rad_s, one_by_one.angular_rate_rad_s)
    np.testing.assert_array_equal(batched.is_clipped, one_by_one.is_clipped)


# 500 ppm is the worst clock that Bluetooth allows (Core specification, sleep clock accuracy)
@pytest.mark.parametrize("drift", [-1e-4, 5e-4], ids=["-100 ppm", "500 ppm"])
def test_a_drifting_clock_is_followed_for_forty_minutes(fake_sensor, drift):
    rng = np.random.default_rng(5)
    sensor = fake_sensor(drift=drift, per_packet=100)  # half-second batches keep the test quick
    n = 40 * 60 * 2
    sent = [sensor.packet(i, delay_s=rng.exponential(0.01)) for i in range(n)]
    samples, _ = assembled(sensor.info, in_link_order(sent))
    late_s = samples.time_s - (sensor.start_s + np.arange(len(samples)) / 200) - 0.005
    settled = samples.time_s > 300
    assert np.max(np.abs(late_s[settled])) < 0.002
    assert samples.rate_hz == pytest.approx(200, rel=5e-5)


@pytest.mark.parametrize("nominal_rate_hz", [190, 208, 215])
def test_a_sensor_that_misses_its_stated_rate_still_gives_even_steps(fake_sensor, nominal_rate_hz):
    sensor = fake_sensor(rate_hz=200, nominal_rate_hz=nominal_rate_hz)
    samples, _ = assembled(sensor.info, as_they_arrive(sensor.packet(i) for i in range(200)))
    steps_s = np.diff(samples.time_s[100:])  # the rate is known after the first packets
    np.testing.assert_allclose(steps_s, 0.005, atol=2e-5)
    assert samples.n_lost == 0


@pytest.mark.parametrize("gap_s", [1.0, 60.0, 1800.0, 4000.0, 7200.0, 30_000.0])
def test_a_long_gap_has_its_true_length_through_any_number_of_wraps(fake_sensor, gap_s):
    sensor = fake_sensor(clock_us=2**32 - 20_000_000, drift=2e-5)
    n_lost = round(gap_s * 20)
    sent = [sensor.packet(i) for i in [*range(100), *range(100 + n_lost, 200 + n_lost)]]
    samples, assembler = assembled(sensor.info, as_they_arrive(sent))
    index = sensor.index_of(samples) if gap_s < 1800 else None
    assert assembler.n_restarts == 0
    assert len(samples) == 2000
    measured_s = samples.time_s[1000] - samples.time_s[999] - 0.005
    assert measured_s == pytest.approx(gap_s, abs=0.002 + 3e-5 * gap_s)  # drift while unseen
    assert index is None or index[1000] - index[999] == 10 * n_lost + 1


@pytest.mark.parametrize("pause_s", [2.0, 30.0, 600.0, 5000.0])
@pytest.mark.parametrize("ran_s", [5, 100])
def test_a_sensor_that_starts_anew_is_a_gap_and_goes_on(fake_sensor, ran_s, pause_s):
    before = fake_sensor(sequence=17, clock_us=9_000_000)
    after = fake_sensor(start_s=1.0 + ran_s + pause_s)
    n = 20 * ran_s
    sent = [before.packet(i) for i in range(n)]
    sent += [after.packet(i, first_index=10 * n) for i in range(100)]
    samples, assembler = assembled(before.info, as_they_arrive(sent))
    assert assembler.n_restarts == 1
    assert "anew 1 times" in assembler.problems()[0]
    assert len(samples) == 10 * len(sent)
    assert np.all(np.diff(samples.time_s) > 0)
    truth_s = np.concatenate([one.times_s for one in sent])
    np.testing.assert_allclose(samples.time_s, truth_s + 0.005, atol=0.002)


def test_a_suspended_host_that_gets_a_packet_an_hour_late_keeps_the_run(fake_sensor):
    sensor = fake_sensor()
    awake = [sensor.packet(i) for i in range(100)]
    kept_by_radio = [sensor.packet(i, delay_s=3600 - i / 20) for i in range(100, 103)]
    n_slept = 3600 * 20
    later = [sensor.packet(i) for i in range(110 + n_slept, 200 + n_slept)]
    samples, assembler = assembled(sensor.info, as_they_arrive([*awake, *kept_by_radio, *later]))
    assert assembler.n_restarts == 0
    assert len(samples) == 10 * 193
    np.testing.assert_allclose(np.diff(samples.time_s)[:1029], 0.005, rtol=1e-3)
    assert samples.time_s[1030] - samples.time_s[1029] == pytest.approx(3600.355, abs=0.01)


def test_repeated_and_hopelessly_late_packets_are_left_out_and_counted(fake_sensor):
    sensor = fake_sensor()
    stream = as_they_arrive([sensor.packet(i) for i in range(100) if i != 40])
    late = sensor.packet(40)
    stream.insert(60, (stream[59][0], late.notification))
    stream.insert(30, stream[29])
    samples, assembler = assembled(sensor.info, stream)
    assert assembler.n_dropped == 2
    assert len(samples) == 990
    assert samples.n_lost == 10
    assert "2 notifications came twice or too late" in assembler.problems()[0]


def test_nothing_is_given_out_twice_or_changed_later(fake_sensor):
    rng = np.random.default_rng(11)
    sensor = fake_sensor(drift=5e-5)
    stream = in_link_order([sensor.packet(i, delay_s=rng.exponential(0.03)) for i in range(600)])
    assembler = SampleAssembler(sensor.info)
    end_s = -np.inf
    for arrival, data in stream:
        piece = assembler.push(arrival, data)
        if len(piece):
            assert piece.time_s[0] > end_s
            end_s = piece.time_s[-1]


def test_samples_come_out_at_once_when_nothing_is_missing(fake_sensor):
    sensor = fake_sensor()
    assembler = SampleAssembler(sensor.info)
    sizes = [len(assembler.push(*one)) for one in as_they_arrive(map(sensor.packet, range(100)))]
    assert sum(sizes) == 1000
    assert set(sizes[20:]) == {10}  # the first half second is collected


def test_a_packet_lost_holds_the_next_ones_back_for_a_moment_only(fake_sensor):
    sensor = fake_sensor()
    assembler = SampleAssembler(sensor.info)
    sent = [sensor.packet(i) for i in range(100) if i != 50]
    longest_wait_s = 0.0
    waiting_since = []
    for one in sent:
        waiting_since.append(one.arrival_s)
        out = len(assembler.push(one.arrival_s, one.notification)) // 10
        for since in waiting_since[:out]:
            longest_wait_s = max(longest_wait_s, one.arrival_s - since if since > 2 else 0)
        del waiting_since[:out]
    assert 0.1 < longest_wait_s <= 0.21  # 150 ms and one packet of 50 ms


def test_counts_become_calibrated_si_units(fake_sensor):
    sensor = fake_sensor()
    info = SensorInfo(kind="stroke_stream", accel_m_s2_per_count=0.01, gyro_rad_s_per_count=0.002)
    matrix = (2.0, 0.0, 0.0, 0.1, 1.0, 0.0, 0.0, 0.0, 0.5)
    calibration = Calibration((1.0, -2.0, 3.0), (0.1, 0.2, -0.3), matrix)
    stream = as_they_arrive([sensor.packet(i) for i in range(5)])
    samples, _ = assembled(info, stream, calibration=calibration)
    # by hand: reading (0.07, 0, 0) less bias is (-0.93, 2, -3)
    np.testing.assert_allclose(samples.specific_force_m_s2[7], [-1.86, 1.907, -1.5])
    assert samples.angular_rate_rad_s is not None
    np.testing.assert_allclose(samples.angular_rate_rad_s[7], [-0.1, -0.2, 0.3])


def test_a_sensor_of_three_axes_has_no_angular_rate(fake_sensor):
    sensor = fake_sensor(n_axes=3)
    samples, _ = assembled(sensor.info, as_they_arrive([sensor.packet(0), sensor.packet(1)]))
    assert samples.angular_rate_rad_s is None
    assert len(samples) == 20


def test_bad_notifications_are_counted_and_leave_a_gap(fake_sensor):
    sensor = fake_sensor()
    stream = as_they_arrive([sensor.packet(i) for i in range(60)])
    stream[20] = (stream[20][0], b"rubbish")
    stream[30] = (stream[30][0], fake_sensor(n_axes=3).packet(30).notification)
    samples, assembler = assembled(sensor.info, stream)
    assert assembler.n_undecodable == 2
    assert "2 notifications do not follow" in assembler.problems()[0]
    assert len(samples) == 580
    assert samples.n_lost == 20


def test_an_unknown_kind_is_refused_with_the_known_ones():
    with pytest.raises(Exception, match=r"'abacus'.*stroke_stream"):
        SampleAssembler(SensorInfo(kind="abacus"))


def test_an_empty_stream_gives_no_samples():
    samples, assembler = assembled(SensorInfo(kind="stroke_stream"), [])
    assert len(samples) == 0
    assert assembler.rate_hz is None
    assert assembler.problems() == ()
