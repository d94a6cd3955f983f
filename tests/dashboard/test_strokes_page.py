"""Stroke by stroke: what is found, what is shown, and what the sensor could not tell."""

import json
from statistics import NormalDist

import pytest

from cue_dashboard import ids, words
from cue_dashboard.components.stroke_facts import chances_into_ball
from cue_practice.grades import Grade

ALL = {"strokes_player": "any", "strokes_series": "any", "strokes_grade": "any"}


def one_stroke(wire, shot, unit="m/s"):
    """Return what the page says of a shot, as text."""
    answer = wire.fire(
        "strokes-one.children", (ids.STROKES_SHOT, shot.shot_id), unit=unit, scheme="light"
    )
    return json.dumps(answer, ensure_ascii=False)


def chosen(wire, what, found, current):
    answer = wire.fire("strokes-shot.data", (what, 1), strokes_found=found, strokes_shot=current)
    return answer[ids.STROKES_SHOT]["data"]


@pytest.mark.parametrize("mean", [-5.0, -0.4, 0.0, 3.0])
def test_chances_into_the_ball_are_those_of_a_normal_distribution(make_stroke, mean):
    spread = NormalDist(mean, 1.0)
    expected = (spread.cdf(-1), spread.cdf(1) - spread.cdf(-1), 1 - spread.cdf(1))
    assert chances_into_ball(make_stroke(accel_m_s2=mean)) == pytest.approx(expected, abs=1e-12)


def test_a_stroke_without_uncertainty_is_what_its_mean_says(make_stroke):
    stroke = make_stroke(accel_m_s2=-2.0, accel_at_hit_sd_m_s2=0.0)
    assert chances_into_ball(stroke) == (1.0, 0.0, 0.0)


def test_results_can_be_filtered(wire, played):
    found = wire.fire(
        "strokes-found.data", (ids.STROKES_GRADE, "right"), **(ALL | {"strokes_grade": "right"})
    )
    right = [shot.shot_id for shot in played if shot.grade is Grade.RIGHT]
    assert found[ids.STROKES_FOUND]["data"] == right


def test_a_discarded_shot_is_not_found(wire, log, played):
    log.discard(played[0].shot_id)
    found = wire.fire("strokes-found.data", (ids.STROKES_PLAYER, "any"), **ALL)
    assert played[0].shot_id not in found[ids.STROKES_FOUND]["data"]


def test_the_newest_stroke_is_shown_first(wire):
    nothing = wire.fire("strokes-shot.data", (ids.STROKES_FOUND, []), strokes_shot=None)
    assert nothing[ids.STROKES_SHOT]["data"] is None
    assert chosen(wire, ids.STROKES_NEXT, [3, 5, 8], None) == 8


@pytest.mark.parametrize(
    ("button", "current", "then"),
    [
        (ids.STROKES_PREVIOUS, 5, 3),
        (ids.STROKES_NEXT, 5, 8),
        (ids.STROKES_PREVIOUS, 3, 3),
        (ids.STROKES_NEXT, 8, 8),
    ],
)
def test_previous_and_next_stop_at_the_ends(wire, button, current, then):
    assert chosen(wire, button, [3, 5, 8], current) == then


def test_a_slowing_stroke_is_called_so_with_its_size(wire, play):
    shot = play((2.0, Grade.RIGHT), accel_m_s2=-4.0)[0]
    said = one_stroke(wire, shot)
    assert "Slowing into the ball, 0.10 m/s below its fastest" in said
    assert "-4.0 ± 1.0 m/s²" in said


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
    answer = wire.fire("strokes-pages.total", (ids.STROKES_SHOT, shots[0]), strokes_found=shots)
    assert answer[ids.STROKES_PAGES] == {"total": 2, "value": 2}
    assert answer[ids.STROKES_PLACE]["children"] == "Stroke 1 of 15"
