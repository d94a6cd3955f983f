from datetime import UTC, datetime

import pytest

from cue_practice.errors import PracticeError


def test_a_remark_is_pinned_to_a_moment_or_to_the_whole_shot(bench):
    shot = bench.play((2.0, "right"))[0]
    late = bench.log.add_remark(shot.shot_id, "elbow drops, spät", at_s=0.05)
    early = bench.log.add_remark(shot.shot_id, "hurried from the back", at_s=-0.4)
    whole = bench.log.add_remark(shot.shot_id, " better ")
    assert bench.log.remarks(shot.shot_id) == [whole, early, late]
    assert (whole.text, whole.at_s, early.at_s) == ("better", None, -0.4)


def test_a_removed_remark_comes_back_by_undo(bench):
    shot = bench.play((2.0, "right"))[0]
    remark = bench.log.add_remark(shot.shot_id, "steered")
    assert bench.log.remove_remark(remark.remark_id).is_discarded
    assert bench.log.remarks(shot.shot_id) == []
    undone = bench.log.undo(bench.series.series_id)
    assert undone.what == f"removal of remark {remark.remark_id}"
    assert (undone.entry, undone.entry_id, undone.shot_id) == ("remark", 1, shot.shot_id)
    assert bench.log.remarks(shot.shot_id) == [remark]


def test_entering_a_remark_is_undone_and_redone(bench):
    shot = bench.play((2.0, "right"))[0]
    remark = bench.log.add_remark(shot.shot_id, "steered")
    bench.log.undo()
    assert bench.log.remarks(shot.shot_id) == []
    assert bench.log.shot(shot.shot_id).grade == "right"
    bench.log.redo()
    assert bench.log.remarks(shot.shot_id) == [remark]


def test_a_remark_is_corrected_with_history(bench):
    shot = bench.play((2.0, "right"))[0]
    remark = bench.log.add_remark(shot.shot_id, "steerd", at_s=0.0)
    assert bench.log.edit_remark(remark.remark_id, text="steered", at_s=None).at_s is None
    newest = bench.log.history(shot_id=shot.shot_id)[0]
    assert newest.before == {"text": "steerd", "at_s": 0.0}
    bench.log.undo()
    assert bench.log.remarks(shot.shot_id) == [remark]


def test_remarks_of_a_player_leave_out_discarded_shots_and_other_players(bench, make_stroke):
    other = bench.another_series(player_id=bench.log.add_player("Otter").player_id)
    first, second = bench.play((2.0, "right"), (2.1, "right"))
    theirs = bench.add(make_stroke(900.0), series_id=other.series_id)[0]
    for shot in (first, second, theirs):
        bench.log.add_remark(shot.shot_id, f"on {shot.shot_id}")
    bench.log.discard(first.shot_id)
    found = bench.log.remarks_of(bench.series.player_id)
    assert [one.shot_id for one in found] == [second.shot_id]


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"text": "  "}, "at least a word"),
        ({"text": "x", "at_s": 31.0}, "pinned 31 s from the hit, at most 30 s"),
        ({"text": "x", "at_s": float("nan")}, "pinned nan s"),
        ({"text": "a\0b"}, "holds the character"),
    ],
)
def test_a_remark_that_makes_no_sense_is_refused(bench, how, words):
    shot = bench.play((2.0, "right"))[0]
    with pytest.raises(PracticeError, match=words):
        bench.log.add_remark(shot.shot_id, **how)
    assert bench.log.remarks(shot.shot_id) == []


def test_lessons_are_kept_newest_first_and_can_be_corrected(bench):
    player_id = bench.series.player_id
    march, april = (datetime(2026, month, 4, 19, tzinfo=UTC) for month in (3, 4))
    first = bench.log.add_lesson(player_id, held_utc=march, text="rear pause", exercise="ten soft")
    second = bench.log.add_lesson(player_id, held_utc=april)
    assert bench.log.lessons(player_id) == [second, first]
    changed = bench.log.update_lesson(second.lesson_id, exercise="twenty firm", held_utc=march)
    assert (changed.exercise, changed.held_utc, changed.text) == ("twenty firm", march, "")
    assert bench.log.undo().what == f"text of lesson {second.lesson_id}"
    assert bench.log.lesson(second.lesson_id) == second


def test_a_lesson_is_left_out_and_brought_back(bench):
    lesson = bench.log.add_lesson(bench.series.player_id, text="stance")
    bench.log.update_lesson(lesson.lesson_id, is_discarded=True)
    assert bench.log.lessons(bench.series.player_id) == []
    kept = bench.log.lessons(bench.series.player_id, include_discarded=True)
    assert [one.lesson_id for one in kept] == [lesson.lesson_id]
    bench.log.undo()
    assert bench.log.lessons(bench.series.player_id) == [lesson]


def test_a_lesson_is_no_part_of_a_series_undo(bench):
    bench.play((2.0, "right"))
    bench.log.add_lesson(bench.series.player_id, text="stance")
    assert bench.log.undo(bench.series.series_id).what == "result of shot 1"
    assert len(bench.log.lessons(bench.series.player_id)) == 1


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda log: log.add_remark(7, "x"), "no shot 7"),
        (lambda log: log.remove_remark(7), "no remark 7"),
        (lambda log: log.add_lesson(7), "no player 7"),
        (lambda log: log.update_lesson(7, text="x"), "no lesson 7"),
    ],
)
def test_a_number_that_is_not_there_is_named(bench, call, words):
    with pytest.raises(PracticeError, match=words):
        call(bench.log)
