"""Stroke by stroke: what is found, what is shown, and what the sensor could not tell."""

import json
from statistics import NormalDist

import pytest

from cue_dashboard import ids, words
from cue_dashboard.components.stroke_facts import chances_into_ball, facts
from cue_dashboard.ids import strokes as own
from cue_dashboard.pages.strokes_remarks import moment_of
from cue_dashboard.stroke_lists import Filter, Opened, opened
from cue_dashboard.units import PaceScale
from cue_dashboard.words import strokes as say
from cue_practice.grades import Grade
from cue_signal.trend import HitTrend, hit_trend

ALL = {
    "strokes_player": "any",
    "strokes_series": "any",
    "strokes_grade": "any",
    "strokes_trend": "any",
}


def one_stroke(wire, shot, unit="m/s", **known):
    """Return what the page says of a shot, as text."""
    answer = wire.fire(
        "strokes-one.children",
        (ids.STROKES_SHOT, shot.shot_id),
        unit=unit,
        scheme="light",
        **known,
    )
    return json.dumps(answer, ensure_ascii=False)


def test_what_rounds_to_nothing_lies_on_neither_side(make_stroke):
    stroke = make_stroke(tip_lateral_m=-0.00004, tip_vertical_m=0.0012)
    told = json.dumps(facts(stroke, PaceScale.of("m/s")).to_plotly_json(), default=str)
    assert "0.0 mm" in told
    assert "0.0 mm right" not in told
    assert "1.2 mm up" in told


def choose(wire, what, value=1, current=None, **chosen_filter):
    """Touch the filter or a step; return the callback's answer."""
    return wire.fire(
        "strokes-shot.data",
        (what, value),
        **({"strokes_shot": current, "unit": "m/s"} | ALL | chosen_filter),
    )


def chosen(wire, what, value=1, current=None, **chosen_filter):
    answer = choose(wire, what, value, current, **chosen_filter)
    return answer[ids.STROKES_SHOT]["data"]


@pytest.mark.parametrize("mean", [-5.0, -0.4, 0.0, 3.0])
def test_chances_into_the_ball_are_those_of_a_normal_distribution(make_stroke, mean):
    spread = NormalDist(mean, 1.0)
    expected = (spread.cdf(-1), spread.cdf(1) - spread.cdf(-1), 1 - spread.cdf(1))
    assert chances_into_ball(make_stroke(accel_m_s2=mean)) == pytest.approx(expected, abs=1e-12)


def test_a_stroke_without_uncertainty_is_what_its_mean_says(make_stroke):
    stroke = make_stroke(accel_m_s2=-2.0, accel_at_hit_sd_m_s2=0.0)
    assert chances_into_ball(stroke) == (1.0, 0.0, 0.0)


def found(log, **wanted):
    return log.shot_ids(**Filter(**wanted).chosen)


def test_results_can_be_filtered(log, played):
    right = [shot.shot_id for shot in played if shot.grade is Grade.RIGHT]
    assert found(log, grade=Grade.RIGHT) == right


def test_slowing_strokes_can_be_filtered(log, play):
    play((2.0, Grade.RIGHT), accel_m_s2=5.0)
    slow = play((2.0, Grade.RIGHT), start_s=500.0, accel_m_s2=-5.0)[0]
    assert found(log, trend=HitTrend.SLOWING) == [slow.shot_id]


def test_the_filter_uses_the_words_that_a_stroke_is_given(log, play):
    means = (-5.0, -1.6, -0.4, 0.0, 1.0, 1.6, 3.0)
    shots = [
        play((2.0, None), start_s=100.0 * k, accel_m_s2=mean)[0] for k, mean in enumerate(means)
    ]
    given = {shot.shot_id: hit_trend(shot.stroke) for shot in shots}
    assert set(given.values()) == set(HitTrend)
    for trend in HitTrend:
        assert found(log, trend=trend) == [key for key, word in given.items() if word is trend]


def test_a_stroke_of_a_long_list_is_opened_by_its_place(log, played):
    numbers = [shot.shot_id for shot in played]
    for place, shot_id in enumerate(numbers):
        assert opened(log, Filter(), shot_id) == Opened(shot_id, place, len(numbers))
    assert opened(log, Filter(), 999) == opened(log, Filter(), None)
    assert opened(log, Filter(series_id=999), numbers[0]) == Opened()
    assert log.shot_place(numbers[0], grade=played[-1].grade) is None


def test_a_discarded_shot_is_not_found(log, played):
    log.discard(played[0].shot_id)
    assert played[0].shot_id not in found(log)


def test_the_newest_stroke_is_shown_first(wire, played):
    assert chosen(wire, ids.STROKES_PLAYER, "any") == played[-1].shot_id


def test_where_nothing_is_found_nothing_is_shown(wire, played):
    answer = choose(wire, ids.STROKES_SERIES, "999", strokes_series="999")
    assert answer[ids.STROKES_SHOT]["data"] is None
    assert answer[ids.STROKES_NEXT]["disabled"]


@pytest.mark.parametrize(
    ("button", "current", "then"),
    [
        (ids.STROKES_PREVIOUS, 2, 1),
        (ids.STROKES_NEXT, 2, 3),
        (ids.STROKES_PREVIOUS, 0, 0),
        (ids.STROKES_NEXT, 6, 6),
    ],
)
def test_previous_and_next_stop_at_the_ends(wire, played, button, current, then):
    numbers = [shot.shot_id for shot in played]
    assert chosen(wire, button, current=numbers[current]) == numbers[then]


def test_the_neighbour_is_said_with_its_pace_result_and_trend(wire, played):
    answer = choose(wire, ids.STROKES_PREVIOUS, current=played[-1].shot_id)
    said = json.dumps(answer[ids.STROKES_PLACE])
    assert "Stroke 6 of 7" in said
    assert "2.60 m/s, too much, gaining into the ball" in said


def test_a_slowing_stroke_is_called_so_with_its_size(wire, play):
    shot = play((2.0, Grade.RIGHT), accel_m_s2=-4.0)[0]
    said = one_stroke(wire, shot)
    assert "Slowing into the ball, 0.10 m/s below its fastest" in said
    assert "-4.0 ± 1.0 m/s²" in said


@pytest.mark.parametrize(
    ("mean", "said"),
    [(-4.0, "99% sure that the cue was losing"), (4.0, "99% sure that the cue was still gaining")],
)
def test_how_sure_the_trend_is_is_said_in_words(wire, play, mean, said):
    # 4 m/s^2 with a standard uncertainty of 1 is three of these beyond the edge of level: 99.87 %,
    # which is said as 99 %
    assert said in one_stroke(wire, play((2.0, None), accel_m_s2=mean)[0])


def test_paces_are_in_the_unit_of_the_screen(wire, play):
    said = one_stroke(wire, play((2.0, None))[0], unit="km/h")
    assert '"7.2"' in said
    assert "7.6 km/h" in said  # fastest, 2.1 m/s x 3.6


def test_without_a_gyroscope_the_page_says_why_there_is_no_tip_path(wire, play):
    said = one_stroke(wire, play((2.0, None), has_gyroscope=False)[0])
    assert words.NO_PATH in said
    assert words.FACT_LATERAL not in said


def test_a_stroke_whose_course_was_not_kept_still_shows_its_numbers(wire, play):
    said = one_stroke(wire, play((2.0, None), trace=None)[0])
    assert words.NO_TRACE in said
    assert words.FACT_BACKSWING in said


def test_a_shot_that_is_not_in_the_log_is_no_fault_of_the_page(wire, played):
    answer = wire.fire("strokes-one.children", (ids.STROKES_SHOT, 999), scheme="light")
    assert words.STROKES_NONE_MATCH in json.dumps(answer)


def test_the_list_opens_at_the_page_of_the_stroke(wire, play):
    shots = [one.shot_id for one in play(*[(2.0, None)] * 15)]
    answer = choose(wire, ids.STROKES_PREVIOUS, current=shots[1])
    assert answer[ids.STROKES_PAGES] == {"total": 2, "value": 2}


def test_a_long_list_is_shown_a_page_at_a_time(wire, play):
    play(*[(2.0, None)] * 15)
    rows = [
        json.dumps(wire.fire("strokes-list.children", (ids.STROKES_PAGES, page), **ALL)).count(
            '"stroke-row"'
        )
        for page in (1, 2)
    ]
    assert rows == [12, 3]


def test_a_stroke_is_laid_beside_the_own_best_of_its_series(wire, played):
    said = one_stroke(wire, played[0], strokes_best=True)
    assert "own best 2.30 m/s" in said  # the right ones' mean pace 2.2 and their 0.1 to the peak
    assert "own best" not in one_stroke(wire, played[0], strokes_best=False)


def curve(wire, shot, **known):
    """Return the figure of a shot's curve, what lies under it, and whether it is hidden."""
    answer = wire.fire(
        "strokes-speed-graph.figure",
        (ids.STROKES_SHOT, shot.shot_id),
        unit="m/s",
        scheme="light",
        strokes_best=True,
        **known,
    )
    hidden = answer[own.CURVE_CARD]["hidden"]
    if hidden:
        return None, "", True
    return (
        answer[ids.STROKES_SPEED_GRAPH]["figure"],
        answer[own.BEST_WORDS]["children"],
        False,
    )


def test_the_rule_of_the_best_strokes_is_said(wire, played):
    figure, said, _ = curve(wire, played[0])
    assert [one.get("name") for one in figure["data"]].count("best") == 3
    assert "the 3 best other strokes" in said
    assert "nearest to 2.20 m/s" in said


def test_without_a_right_stroke_there_is_nothing_to_lay_over(wire, play):
    figure, said, _ = curve(wire, play((2.0, Grade.TOO_MUCH))[0])
    assert said == say.BEST_NONE
    assert "best" not in [one.get("name") for one in figure["data"]]


def test_a_curve_that_was_not_kept_stays_hidden(wire, play):
    assert curve(wire, play((2.0, None), trace=None)[0])[2]


def test_a_remark_is_kept_at_its_moment_and_numbered_on_the_curve(wire, log, played):
    remark(wire, played[0], text="Elbow drops", at=-0.12)
    kept = log.remarks(played[0].shot_id)
    assert [(one.text, one.at_s) for one in kept] == [("Elbow drops", -0.12)]
    figure, _, _ = curve(wire, played[0])
    pins = next(one for one in figure["data"] if one.get("name") == "remarks")
    assert pins["text"] == ["<b>1</b>"]
    listed = wire.fire("strokes-remarks.children", (ids.STROKES_SHOT, played[0].shot_id))
    assert "Elbow drops" in json.dumps(listed)
    assert "\u22120.12 s" in json.dumps(listed, ensure_ascii=False)


def remark(wire, shot, what=own.REMARK_SAVE, text="", at="", remarked=None):
    """Fill the remark's form in and press a button; return what the callback answers."""
    return wire.fire(
        "strokes-remarked.data",
        (what, 1),
        strokes_shot=shot.shot_id,
        strokes_remark_text=text,
        strokes_remark_at=at,
        strokes_remarked=remarked,
    )


def test_an_empty_remark_is_not_kept(wire, log, played):
    answer = remark(wire, played[0], text="  ")
    assert answer[own.REMARK_SAID]["children"] == say.REMARK_EMPTY
    assert log.remarks(played[0].shot_id) == []


def test_a_remark_far_from_the_stroke_is_refused_in_a_sentence(wire, log, played):
    answer = remark(wire, played[0], text="Too late", at=900)
    assert "900 s" in answer[own.REMARK_SAID]["children"]
    assert log.remarks(played[0].shot_id) == []


def test_a_removed_remark_comes_back_as_it_was(wire, log, played):
    remarked = {"n": 1, "gone": ["Elbow drops", -0.12]}
    remark(wire, played[0], what=own.REMARK_UNDO, remarked=remarked)
    kept = log.remarks(played[0].shot_id)
    assert [(one.text, one.at_s) for one in kept] == [("Elbow drops", -0.12)]


@pytest.mark.parametrize(
    ("click", "at_s"),
    [
        ({"xvals": [-0.12345], "yvals": [1.0]}, -0.123),
        ({"points": [{"x": 0.05}]}, 0.05),
        ({"points": []}, None),
        (None, None),
    ],
)
def test_a_tap_on_the_curve_is_a_moment(click, at_s):
    assert moment_of(click) == at_s


def test_html_in_a_remark_stays_text(wire, log, played):
    remark(wire, played[0], text="<b>x</b><img src=x>", at=0.0)
    figure, _, _ = curve(wire, played[0])
    pins = next(one for one in figure["data"] if one.get("name") == "remarks")
    assert pins["customdata"] == ["&lt;b&gt;x&lt;/b&gt;&lt;img src=x&gt;"]
