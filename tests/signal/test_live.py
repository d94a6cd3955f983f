import dataclasses
from collections.abc import Iterable
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cue_sensors.samples import Mounting, Samples
from cue_signal.analysis import analyse
from cue_signal.errors import SignalError
from cue_signal.live import StrokeFinder, hit_of
from cue_signal.measure import measure
from cue_signal.stroke import Stroke

STROKES = ((1.6, 0.28), (0.9, 0.3), (3.0, 0.2))


def pieces(samples: Samples, sizes: Iterable[int]) -> Iterable[Samples]:
    start = 0
    for size in sizes:
        part = slice(start, start + size)
        rate = samples.angular_rate_rad_s
        yield Samples(
            samples.time_s[part],
            samples.specific_force_m_s2[part],
            None if rate is None else rate[part],
            samples.is_clipped[part],
            samples.rate_hz,
        )
        start += size


def numbers(stroke: Stroke) -> list[float]:
    values = dataclasses.asdict(dataclasses.replace(stroke, trace=None))
    return [value for value in values.values() if isinstance(value, float)]


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(cuts=st.lists(st.integers(1, 700), min_size=3, max_size=40), has_gyroscope=st.booleans())
def test_strokes_do_not_depend_on_how_samples_arrive(make, cuts, has_gyroscope):
    made = make(STROKES, has_gyroscope=has_gyroscope)
    whole = analyse(made.samples, mounting=made.mounting).strokes
    finder = StrokeFinder(made.mounting)
    left = max(len(made.samples) - sum(cuts), 0)
    found: list[Stroke] = []
    for piece in pieces(made.samples, [*cuts, left]):
        found += finder.push(piece)
    found += finder.finish()
    assert len(found) == len(whole) == len(STROKES)
    for one, two in zip(found, whole, strict=True):
        assert numbers(one) == pytest.approx(numbers(two), rel=1e-9, abs=1e-12)
        assert one.flags == two.flags


@pytest.mark.parametrize("rate_hz", [50.0, 100.0])
def test_at_low_rates_strokes_come_piece_by_piece_as_they_do_at_once(make, rate_hz):
    made = make(STROKES, rate_hz=rate_hz)
    whole = analyse(made.samples, mounting=made.mounting).strokes
    finder = StrokeFinder(made.mounting)
    found: list[Stroke] = []
    for piece in pieces(made.samples, [5] * (len(made.samples) // 5 + 1)):
        found += finder.push(piece) if len(piece) else []
    found += finder.finish()
    assert len(found) == len(whole) == len(STROKES)
    for one, two in zip(found, whole, strict=True):
        assert numbers(one) == pytest.approx(numbers(two), rel=1e-9, abs=1e-12)


def test_a_stroke_comes_a_third_of_a_second_after_the_end_of_its_follow_through(make):
    made = make(((2.0, 0.25),))
    finder = StrokeFinder(made.mounting)
    for piece in pieces(made.samples, [10] * (len(made.samples) // 10)):
        strokes = finder.push(piece)
        if strokes:
            # 0.25 s of stillness, a step of the search and a piece of 50 ms
            assert piece.time_s[-1] - strokes[0].follow_through_end_s < 0.33
            return
    pytest.fail("no stroke while the samples arrived")


def test_a_first_look_comes_sooner_and_is_near_what_is_measured(make):
    made = make(STROKES)
    finder = StrokeFinder(made.mounting)
    looks: list[tuple[Stroke, float]] = []
    n_found = 0
    for piece in pieces(made.samples, [10] * (len(made.samples) // 10 + 1)):
        if len(piece) == 0:
            continue
        strokes, look = finder.push(piece), finder.first_look()
        now_s = float(piece.time_s[-1])
        if look is not None and (not looks or looks[-1][0] is not look):
            looks.append((look, now_s))
            assert finder.is_measuring
        for stroke in strokes:
            first, seen_s = looks[-1]
            assert first.tip_speed_m_s == pytest.approx(stroke.tip_speed_m_s, rel=0.02)
            # 0.1 s of stillness, a step of the search and a piece of 50 ms
            assert seen_s - stroke.follow_through_end_s < 0.18
            assert now_s - seen_s > 0.099
            assert look is None
            n_found += 1
    assert n_found == len(looks) == len(STROKES)


@pytest.mark.parametrize("is_axis_known", [True, False])
def test_who_looks_early_changes_nothing_of_what_is_measured(make, is_axis_known):
    made = make(STROKES)
    mounting = made.mounting if is_axis_known else Mounting()
    found: list[list[Stroke]] = []
    for is_looking in (False, True):
        finder = StrokeFinder(mounting)
        found.append([])
        for piece in pieces(made.samples, [10] * (len(made.samples) // 10 + 1)):
            found[-1] += finder.push(piece)
            if is_looking:
                finder.first_look()
        found[-1] += finder.finish()
    assert len(found[0]) == len(STROKES)
    assert [numbers(one) for one in found[0]] == [numbers(one) for one in found[1]]


def test_without_an_axis_the_strokes_themselves_give_it(make):
    made = make(STROKES)
    finder = StrokeFinder(Mounting())
    found = []
    for piece in pieces(made.samples, [50] * (len(made.samples) // 50 + 1)):
        found += finder.push(piece)
    found += finder.finish()
    assert [s.tip_speed_m_s for s in found] == pytest.approx(made.speeds_m_s, rel=0.02)
    assert finder.cue_axis is not None
    assert finder.cue_axis.source == "strokes"


def test_samples_in_g_are_refused_while_they_arrive(make):
    samples = make().samples
    in_g = dataclasses.replace(samples, specific_force_m_s2=samples.specific_force_m_s2 / 9.81)
    finder = StrokeFinder(Mounting())
    finder.push(in_g.between(0.0, 1.0))
    with pytest.raises(SignalError, match="looks like g"):
        finder.push(in_g.between(1.0, 3.5))


def test_samples_that_come_twice_are_the_callers_fault(make):
    samples = make().samples
    finder = StrokeFinder(Mounting())
    finder.push(samples.between(0.0, 1.0))
    with pytest.raises(ValueError, match="came after samples up to"):
        finder.push(samples.between(0.5, 1.5))


def test_an_empty_push_and_an_empty_finish_give_nothing(make):
    finder = StrokeFinder(Mounting())
    assert finder.push(make().samples.between(5.0, 5.0)) == []
    assert finder.finish() == []


def test_a_long_stream_is_not_kept(make):
    samples = make(()).samples
    n = 200 * 120
    force = np.resize(samples.specific_force_m_s2, (n, 3))
    still = Samples(np.arange(n) / 200.0, force, None, np.zeros(n, dtype=np.bool_), 200.0)
    finder = StrokeFinder(Mounting(cue_axis=(1.0, 0.0, 0.0)))
    for piece in pieces(still, [200] * 120):
        finder.push(piece)
    assert finder.n_held < 200 * 25


@pytest.mark.parametrize("after_s", [-0.27, -0.12, 0.12])
def test_of_two_blows_close_together_the_greater_is_the_hit_and_the_less_is_not_asked(
    make, monkeypatch, after_s
):
    made = make(((2.0, 0.25),))
    knock = int(np.searchsorted(made.samples.time_s, made.hit_times_s[0] + after_s))
    # along the cue, a fifth of the 0.62 m/s that the hit takes
    along = -25.0 * np.asarray(made.mounting.cue_axis)
    made.samples.specific_force_m_s2[knock] += along
    asked: list[float] = []

    def noted(window, about_s, *rest, **more):
        asked.append(about_s)
        return measure(window, about_s, *rest, **more)

    monkeypatch.setattr("cue_signal.live.measure", noted)
    finder = StrokeFinder(made.mounting)
    found = finder.push(made.samples) + finder.finish()
    assert [one.impact_time_s for one in found] == pytest.approx(made.hit_times_s, abs=0.002)
    assert asked == pytest.approx(made.hit_times_s, abs=0.02)


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        # time of the hit in ms, speed lost at once, log odds against a push that ends
        (((0, 0.2, 2.0), (18, 0.27, 180.0)), 0),
        (((0, 0.1, 2.0), (18, 0.27, 180.0)), 1),
        (((0, 0.2, 27.0), (61, 0.27, 145.0)), 0),
        (((0, 0.2, 2.0), (110, 0.27, 180.0)), 1),
        (((0, 0.2, 38.0), (150, 0.27, -1.4)), 0),
        (((0, 0.2, 38.0), (150, 0.27, -0.4)), 1),
        (((0, 0.2, -1.5), (150, 0.27, -1.4)), 1),
        ((), None),
    ],
)
def test_of_rival_blows_the_hit_is_the_greatest_that_is_no_braking_after_a_push(found, expected):
    rivals = [
        (
            size,
            SimpleNamespace(stroke=SimpleNamespace(impact_time_s=0.001 * at), ends_log_odds=odds),
        )
        for at, size, odds in found
    ]
    assert hit_of(rivals) is (None if expected is None else rivals[expected][1])
