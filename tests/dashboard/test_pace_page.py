"""Pace and stun: the page says what the answer says."""

import json

import pytest

from cue_dashboard import ids, words
from cue_dashboard.pages import pace_page
from cue_dashboard.questions import Held, graded, model_run
from cue_dashboard.units import PaceScale
from cue_practice.answer import answer_for
from cue_practice.heights import compare_heights
from cue_table.shot import play as play_shot


@pytest.fixture
def held(series):
    return Held.of(series)


def page(wire, series, height="0.0095|0.0000", unit="m/s"):
    return wire.fire(
        "pace-answer.children",
        (ids.PACE_HEIGHT, height),
        pace_player=str(series.player_id),
        pace_setup=str(series.setup_id),
        unit=unit,
        scheme="light",
    )


def test_the_page_shows_best_pace_band_and_number_of_shots(wire, log, series, played):
    answer = answer_for(log, series.setup_id, series.player_id, series.tip_below_centre_m)
    said = json.dumps(page(wire, series), ensure_ascii=False)
    low, high = answer.band_m_s
    assert f'"{answer.best_pace_m_s:.2f}"' in said
    assert f"{low:.2f} to {high:.2f} m/s" in said
    assert all(sentence in said for sentence in answer.words)


def test_the_best_pace_is_shown_in_the_unit_of_the_screen(wire, log, series, played):
    answer = answer_for(log, series.setup_id, series.player_id, series.tip_below_centre_m)
    said = json.dumps(page(wire, series, unit="km/h"))
    assert f'"{3.6 * answer.best_pace_m_s:.1f}"' in said


def test_heights_nobody_played_are_set_beside_the_one_held(wire, log, series, played):
    asked = [series.player_id, series.setup_id, 0.0095, 0.0]
    assert f'"data": {json.dumps(asked)}' in json.dumps(page(wire, series))
    answer = wire.fire(
        "pace-heights-found.children", (ids.PACE_HEIGHTS_OF, asked), unit="mph", scheme="light"
    )
    said = json.dumps(answer, ensure_ascii=False)
    found = compare_heights(log, series.setup_id, series.player_id, 0.0095)
    assert found.summary in said
    assert all(sentence in said for sentence in found.in_words(PaceScale.of("mph")))
    # the bench's cue has a tip of 9.5 mm; half of it higher and lower nobody has played
    assert said.count(f"</b>, {words.HEIGHT_NOT_PLAYED}") == 2


def test_only_what_was_graded_is_offered(wire, log, series, play):
    play((2.0, None))
    answer = wire.fire("pace-height.data", (ids.PACE_SETUP, str(series.setup_id)),
                       pace_player=str(series.player_id))  # fmt: skip
    assert answer[ids.PACE_HEIGHT]["data"] == []
    log.set_result(log.shots()[0].shot_id, grade="right")
    answer = wire.fire("pace-height.data", (ids.PACE_SETUP, str(series.setup_id)),
                       pace_player=str(series.player_id))  # fmt: skip
    assert answer[ids.PACE_HEIGHT]["data"] == [
        {"value": "0.0095|0.0000", "label": "9.5 mm (1 tip)"}
    ]


def test_series_with_the_same_settings_count_together(log, series, played):
    again = log.add_series(
        series.player_id, series.cue_id, series.table_id, series.setup_id, 0.00951
    )
    shot = log.add_shot(again.series_id)
    log.set_result(shot.shot_id, grade="right")
    assert graded(log) == {Held.of(series): len(played) + 1}


def test_side_is_a_question_of_its_own(log, series, held):
    other = log.add_series(
        series.player_id, series.cue_id, series.table_id, series.setup_id, 0.0095, side_m=0.005
    )
    assert Held.of(other) != held
    assert words.side(5.0) == "5.0 mm left-hand side"


def test_the_path_is_played_with_the_series_cue(log, series, held, setup, played):
    run = model_run(log, held, played, 2.2)
    assert run.stop_m == pytest.approx(play_shot(setup, 2.2, below_centre_m=0.0095).stop_m)


def test_a_slip_of_the_sensor_is_told_openly_and_not_drawn(wire, log, series, played, play):
    play((25.0, "right"), start_s=900.0)
    said = json.dumps(page(wire, series), ensure_ascii=False)
    # once open, once in the fold
    assert said.count("is left out: no stroke has a pace of 25.00 m/s.") == 2
    drawn = pace_page._results(Held.of(series).paces(log))
    assert len(drawn) == len(played)
    assert max(one.pace_m_s for one in drawn) < 5.0
