"""Figures hold the numbers they were given, in the unit of the screen."""

import json
from dataclasses import replace
from itertools import pairwise

import numpy as np
import plotly.graph_objects as go
import pytest
from dash._utils import to_json
from plotly.subplots import make_subplots

from cue_dashboard import words
from cue_dashboard.figures.drawing import Drawing
from cue_dashboard.figures.heights import HeightAnswer, heights_figure
from cue_dashboard.figures.live import newer, thinned
from cue_dashboard.figures.pace import LANES, PacedResult, pace_figure
from cue_dashboard.figures.speed import POINTS_DRAWN, hit_figure, phases, speed_figure
from cue_dashboard.figures.tip_path import (
    from_above_figure,
    from_side_figure,
    way_along_cue_m,
)
from cue_dashboard.theme import DARK, GRADE_SYMBOL, LIGHT
from cue_dashboard.units import PaceScale, PaceUnit
from cue_practice.answer import PacePrior, pace_answer
from cue_practice.grades import Grade
from cue_signal.stroke import StrokeTrace

METRES, MILES = PaceScale(PaceUnit.M_S), PaceScale(PaceUnit.MPH)
SHOTS = [
    (1.7, Grade.TOO_LITTLE),
    (1.9, Grade.TOO_LITTLE),
    (2.1, Grade.RIGHT),
    (2.2, Grade.RIGHT),
    (2.6, Grade.TOO_MUCH),
]


@pytest.fixture(scope="module")
def answer():
    paces, grades = zip(*SHOTS, strict=True)
    return pace_answer(paces, grades, prior=PacePrior(2.2, 0.15))


def results(is_potted=True):
    return [PacedResult(k, pace, 0.04, grade, is_potted) for k, (pace, grade) in enumerate(SHOTS)]


def named(figure, name):
    return [trace for trace in figure.data if trace.name == name]


def test_a_drawing_is_sent_as_plotly_would_send_it():
    drawing = Drawing(LIGHT, height_px=300, rows=(0.4, 0.6), spacing=0.1)
    x = np.array([0.1, 0.2, 0.4])
    drawing.add_scatter(x=x, y=[1.0, None, 2.0], mode="lines", row=2)
    drawing.update_xaxes(title="pace")
    drawing.add_span(0.1, 0.2, line={"width": 0})
    sent = json.loads(to_json(drawing))
    ours, theirs = go.Figure(sent), go.Figure(drawing.to_plotly_json())
    theirs.data = ()
    theirs.add_scatter(x=x, y=[1.0, None, 2.0], mode="lines", xaxis="x2", yaxis="y2")
    assert ours.to_plotly_json()["data"] == json.loads(theirs.to_json())["data"]
    assert [s.yref for s in drawing.layout.shapes] == ["y domain", "y2 domain"]
    assert drawing.layout.xaxis2.title.text == "pace"  # words alone plotly.js would not read


def test_plots_below_each_other_share_the_height_as_plotly_has_it():
    ours = Drawing(LIGHT, rows=(0.42, 0.58), spacing=0.05)
    ours.add_scatter(x=[1.0], y=[1.0])
    theirs = make_subplots(rows=2, cols=1, row_heights=[0.42, 0.58], vertical_spacing=0.05)
    for name in ("xaxis", "xaxis2", "yaxis", "yaxis2"):
        one, other = getattr(ours.layout, name), getattr(theirs.layout, name)
        assert one.anchor == other.anchor
        assert one.domain == pytest.approx(other.domain)


def test_a_drawing_with_a_misspelt_property_is_refused_when_looked_at():
    drawing = Drawing(LIGHT)
    drawing.add_scatter(x=[1.0], y=[1.0], colour="red")
    with pytest.raises(ValueError, match="colour"):
        _ = drawing.data


def test_phases_follow_one_another_without_a_gap(make_stroke):
    parts = phases(make_stroke())
    assert [part.name for part in parts] == list(words.PHASES)
    assert all(a.stop_s == b.start_s for a, b in pairwise(parts))
    assert parts[2].stop_s == 0.0  # the delivery ends with the hit


def test_a_stroke_without_a_pause_has_no_phase_for_it(make_stroke):
    stroke = make_stroke()
    parts = phases(replace(stroke, delivery_start_s=stroke.rear_s, rear_pause_s=0.0))
    assert [part.name for part in parts] == [words.PHASES[0], *words.PHASES[2:]]


def test_the_pause_is_drawn_as_long_as_it_was_measured(make_stroke):
    stroke = make_stroke()
    late = replace(stroke, rear_s=stroke.delivery_start_s - 0.01, rear_pause_s=0.3)
    pause = phases(late)[1]
    assert pause.stop_s - pause.start_s == pytest.approx(0.3)


@pytest.mark.parametrize("scale", [METRES, MILES], ids=["m/s", "mph"])
def test_the_hit_is_marked_at_time_zero_at_the_measured_pace(make_stroke, scale):
    stroke = make_stroke(pace_m_s=2.0)
    hit = speed_figure(stroke, stroke.trace, LIGHT, scale).data[-1]
    assert hit.x[0] == 0.0
    assert hit.y[0] == pytest.approx(2.0 * scale.factor)
    assert hit.error_y.value == pytest.approx(2 * 0.04 * scale.factor)


def test_thinning_for_the_screen_keeps_the_peak(make_stroke):
    stroke = make_stroke()
    time_s = np.linspace(8.0, 11.0, 20_000)
    speed_m_s = np.where(np.abs(time_s - 9.9) < 0.0003, 3.3, 0.0)
    curve = speed_figure(stroke, StrokeTrace(time_s, speed_m_s, speed_m_s), LIGHT, METRES).data[0]
    assert len(curve.x) <= POINTS_DRAWN
    assert max(curve.y) == 3.3


def test_the_mean_before_the_hit_spans_its_twenty_milliseconds(make_stroke):
    stroke = make_stroke(accel_m_s2=-3.0)
    figure = hit_figure(stroke, stroke.trace, LIGHT)
    assert list(figure.data[-1].x) == [-20.0, 0]
    assert list(figure.data[-1].y) == [-3.0, -3.0]
    band = figure.layout.shapes[0]
    assert (band.y0, band.y1) == (-5.0, -1.0)  # twice the standard uncertainty of 1


def test_way_along_the_cue_is_the_integral_of_speed(make_stroke):
    stroke = make_stroke(pace_m_s=2.0)
    way_m = way_along_cue_m(stroke, stroke.trace)
    at_start = np.interp(stroke.delivery_start_s, stroke.trace.time_s, way_m)
    # a speed that rises evenly to 2 m/s in 0.3 s covers 0.3 m; half a sample of doubt at the hit
    assert at_start == pytest.approx(-0.3, abs=2.0 / 200)


def test_tip_views_say_left_and_right_up_and_down(make_stroke):
    stroke = make_stroke()
    above = from_above_figure(stroke, stroke.trace, LIGHT)
    side = from_side_figure(stroke, stroke.trace, DARK)
    assert {"2 left", "0", "2 right"} <= set(above.layout.yaxis.ticktext)
    assert {"2 up", "0", "2 down"} <= set(side.layout.yaxis.ticktext)
    assert above.data[-1].y[0] == pytest.approx(1.2, abs=0.01)  # 4 mm/s for 0.3 s


def test_there_is_no_tip_view_without_a_gyroscope(make_stroke):
    stroke = make_stroke(has_gyroscope=False)
    assert from_above_figure(stroke, stroke.trace, LIGHT) is None
    assert from_side_figure(stroke, stroke.trace, LIGHT) is None


@pytest.mark.parametrize("scale", [METRES, MILES], ids=["m/s", "mph"])
def test_every_shot_is_one_mark_in_its_lane_at_its_pace(answer, scale):
    figure = pace_figure(results(), answer, LIGHT, scale)
    for lane, grade in enumerate(LANES):
        marks = named(figure, words.GRADE_NAME[grade])[0]
        paces = [pace * scale.factor for pace, one in SHOTS if one is grade]
        assert list(marks.x) == pytest.approx(paces)
        assert all(abs(y - lane) < 0.5 for y in marks.y)
        assert marks.marker.symbol == GRADE_SYMBOL[grade]


def test_a_missed_ball_is_an_open_mark(answer):
    potted = pace_figure(results(is_potted=True), answer, LIGHT, METRES)
    missed = pace_figure(results(is_potted=False), answer, LIGHT, METRES)
    name = words.GRADE_NAME[Grade.RIGHT]
    assert set(named(potted, name)[0].marker.color) == {LIGHT.right}
    assert set(named(missed, name)[0].marker.color) == {LIGHT.card}


def test_the_band_is_shaded_and_the_best_pace_drawn_through_both_parts(answer):
    figure = pace_figure(results(), answer, LIGHT, METRES)
    bands = [shape for shape in figure.layout.shapes if shape.type == "rect"]
    lines = [shape for shape in figure.layout.shapes if shape.type == "line"]
    assert [(band.x0, band.x1) for band in bands] == [pytest.approx(answer.band_m_s)] * 2
    assert [line.x0 for line in lines] == [pytest.approx(answer.best_pace_m_s)] * 2


def test_every_shot_lies_within_what_is_shown(answer):
    low, high = pace_figure(results(), answer, LIGHT, METRES).layout.xaxis.range
    assert low < min(pace for pace, _ in SHOTS)
    assert high > max(pace for pace, _ in SHOTS)


def test_an_answer_without_shots_and_without_a_band_can_be_drawn(answer):
    bare = replace(answer, band_m_s=None)
    assert pace_figure([], bare, DARK, METRES).data
    assert heights_figure([HeightAnswer("9.5 mm", bare)], DARK, METRES).data


def test_each_tip_height_shows_best_pace_interval_and_number_of_shots(answer):
    figure = heights_figure([HeightAnswer("9.5 mm", answer)], LIGHT, METRES)
    best = figure.data[-1]
    assert best.x[0] == pytest.approx(answer.best_pace_m_s)
    assert best.x[0] + best.error_x.array[0] == pytest.approx(answer.best_pace_high_m_s)
    assert best.x[0] - best.error_x.arrayminus[0] == pytest.approx(answer.best_pace_low_m_s)
    said = figure.layout.annotations[0].text
    assert "5 shots" in said
    assert f"({answer.chance_low:.0%} to {answer.chance_high:.0%})" in said


def test_played_and_unplayed_heights_differ_in_mark_and_word():
    played = pace_answer(*zip(*SHOTS, strict=True), prior=PacePrior(2.2, 0.15))
    unplayed = pace_answer([], [], prior=PacePrior(2.4, 0.15))
    rows = [HeightAnswer("9.5 mm", played), HeightAnswer("4.8 mm", unplayed)]
    figure = heights_figure(rows, LIGHT, METRES)
    symbols = [trace.marker.symbol for trace in figure.data if trace.mode == "markers"]
    assert symbols == ["circle", "diamond-open"]
    texts = [note.text for note in figure.layout.annotations]
    assert [words.HEIGHT_NOT_PLAYED in text for text in texts] == [False, True]


def test_a_height_at_which_no_pace_is_right_promises_nothing(answer):
    figure = heights_figure([HeightAnswer("2.3 mm", answer, is_known=False)], LIGHT, METRES)
    assert not figure.data
    assert words.HEIGHT_NOWHERE in figure.layout.annotations[0].text


def test_the_live_trace_sends_each_moment_once_and_no_more_than_a_screen_shows():
    time_s = np.arange(0, 3, 1 / 400)
    sent: list[float] = []
    after_s = -np.inf
    for stop in range(40, time_s.size + 1, 40):
        times, _ = newer(time_s[:stop], np.sin(time_s[:stop]), after_s=after_s)
        sent += times
        after_s = sent[-1]
    assert len(sent) == len(set(sent)) == pytest.approx(300, abs=30)  # 100 a second for 3 s
    assert sent == sorted(sent)


def test_a_thinned_curve_keeps_its_peak_and_its_ends():
    time_s = np.linspace(0, 10, 4000)
    speed = np.where(np.arange(4000) == 1234, 3.0, 0.0)  # one sample alone
    thin_s, thin = thinned(time_s, speed, 100)
    assert len(thin_s) <= 100
    assert thin.max() == 3.0
    assert (thin_s[0], thin_s[-1]) == (0.0, 10.0)
