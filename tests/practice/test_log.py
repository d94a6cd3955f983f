from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from sqlalchemy import event

from cue_practice import rows, stroke_entry
from cue_practice.answer import table_cloth
from cue_practice.errors import PracticeError
from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_practice.tables import StrokeRow
from cue_signal.stroke import METHOD_VERSION, Stroke


def test_what_was_entered_is_there_after_the_log_was_closed_and_opened(bench, setup, log_url):
    shot = bench.play((1.9, "right"))[0]
    bench.log.close()
    with PracticeLog(log_url) as again:
        assert [player.nickname for player in again.players()] == ["Heron"]
        assert [cue.name for cue in again.cues()] == ["ash"]
        assert [table.size for table in again.tables()] == [setup.table]
        assert [entry.setup for entry in again.setups()] == [setup]
        found = again.shots()
        assert [one.shot_id for one in found] == [shot.shot_id]
        assert found[0].grade is Grade.RIGHT
        assert found[0].pace_m_s == 1.9


def test_a_stroke_comes_back_as_it_went_in_but_for_its_trace(bench, make_stroke):
    stroke = make_stroke(12.0, yaw_rad=0.003, feather_period_s=0.8)
    found = bench.add(stroke)[0].stroke
    for field in fields(Stroke):
        expected = None if field.name == "trace" else getattr(stroke, field.name)
        assert getattr(found, field.name) == expected, field.name
    assert isinstance(found, Stroke)
    assert replace(found, feathers=4).feathers == 4


def test_every_column_of_a_stroke_is_a_measure_of_that_name():
    columns = set(StrokeRow.__table__.columns.keys())
    assert set(rows.MEASURES) | {"flags"} <= columns
    assert set(rows.MEASURES) | set(rows.MORE_MEASURES) | {"flags", "trace"} == {
        field.name for field in fields(Stroke)
    }
    others = {"stroke_id", "recording_id", "method_version", "flags", "more_measures"}
    assert columns - set(rows.MEASURES) == others


def test_numbers_of_numpy_are_kept_as_numbers(bench, make_stroke):
    stroke = make_stroke(np.float64(12.0), tip_speed_m_s=np.float64(1.75), feathers=np.int64(2))
    found = bench.add(stroke)[0].stroke
    assert (found.tip_speed_m_s, found.feathers) == (1.75, 2)
    assert type(found.tip_speed_m_s) is float


def test_a_trace_comes_back_to_single_precision(bench, make_stroke):
    stroke = make_stroke(3612.0)
    trace = bench.log.stroke_trace(bench.add(stroke)[0].shot_id)
    # times count from the trace's own start: 2.5 s in single precision are good to 0.2 us
    np.testing.assert_allclose(trace.time_s, stroke.trace.time_s, atol=5e-7, rtol=0)
    np.testing.assert_allclose(trace.speed_m_s, stroke.trace.speed_m_s, atol=1e-7)
    np.testing.assert_allclose(trace.tip_lateral_m, stroke.trace.tip_lateral_m, atol=1e-10)
    assert trace.tip_vertical_m is None


def test_a_stroke_without_a_trace_has_none(bench, make_stroke):
    shot = bench.add(make_stroke(12.0, trace=None))[0]
    assert bench.log.stroke_trace(shot.shot_id) is None


def test_strokes_of_a_recording_are_entered_once(bench, make_stroke):
    first = bench.add(make_stroke(12.0), make_stroke(30.0))
    bench.log.set_result(first[1].shot_id, grade="right")
    again = bench.add(make_stroke(12.0), make_stroke(30.0004), make_stroke(50.0))
    assert [shot.shot_id for shot in again[:2]] == [shot.shot_id for shot in first]
    assert again[1].grade is Grade.RIGHT
    assert len(bench.log.shots()) == 3
    assert bench.log.n_strokes() == 3


def test_a_newer_method_renews_the_measures_and_keeps_the_result(bench, make_stroke, monkeypatch):
    shot = bench.play((1.9, "too_much"))[0]
    for module in (rows, stroke_entry):
        monkeypatch.setattr(module, "METHOD_VERSION", "99")
    renewed = bench.add(make_stroke(10.02, tip_speed_m_s=1.94, trace=None))[0]
    assert renewed.shot_id == shot.shot_id
    assert renewed.pace_m_s == 1.94
    assert renewed.method_version == "99"
    assert renewed.grade is Grade.TOO_MUCH
    older = bench.log.older_measures(shot.shot_id)
    assert [(one.method_version, one.stroke.tip_speed_m_s) for one in older] == [
        (METHOD_VERSION, 1.9)
    ]
    assert older[0].stroke.flags == shot.stroke.flags


def test_the_same_method_leaves_measures_alone(bench, make_stroke):
    bench.add(make_stroke(12.0, tip_speed_m_s=1.9))
    assert bench.add(make_stroke(12.0, tip_speed_m_s=3.0))[0].pace_m_s == 1.9


def test_a_shot_is_struck_when_the_recording_says(bench, make_stroke):
    shot = bench.add(make_stroke(61.5))[0]
    assert shot.struck_utc == datetime(2026, 3, 4, 18, 31, 1, 500000, tzinfo=UTC)


def test_a_result_is_kept_part_by_part(bench):
    shot = bench.play((2.0, None))[0]
    bench.log.set_result(shot.shot_id, grade="too_little")
    bench.log.set_result(shot.shot_id, cushion_point_m=(0.03, 1.2))
    bench.log.set_result(shot.shot_id, stop_point_m=(0.4, 1.0), is_potted=False, note="thin")
    found = bench.log.shot(shot.shot_id)
    assert found.grade is Grade.TOO_LITTLE
    assert found.cushion_point_m == (0.03, 1.2)
    assert found.stop_point_m == (0.4, 1.0)
    assert found.is_potted is False
    assert found.note == "thin"
    assert found.tapped_utc is not None


def test_clearing_a_result_keeps_the_note(bench):
    shot = bench.play((2.0, "right"))[0]
    bench.log.set_result(shot.shot_id, note="felt good")
    cleared = bench.log.clear_result(shot.shot_id)
    assert (cleared.grade, cleared.tapped_utc, cleared.note) == (None, None, "felt good")


def test_a_grade_that_is_none_is_refused(bench):
    shot = bench.play((2.0, "right"))[0]
    with pytest.raises(ValueError, match="splendid"):
        bench.log.set_result(shot.shot_id, grade="splendid")
    assert bench.log.shot(shot.shot_id).grade is Grade.RIGHT


@pytest.mark.parametrize("point", [(float("nan"), 1.0), (1.0, 250.0)])
def test_a_point_off_every_table_is_refused_and_nothing_changed(bench, point):
    shot = bench.play((2.0, "right"))[0]
    with pytest.raises(PracticeError, match=r"stop point .* off every table"):
        bench.log.set_result(shot.shot_id, grade="too_much", stop_point_m=point)
    assert bench.log.shot(shot.shot_id).grade is Grade.RIGHT


def test_undo_takes_back_one_change_after_the_other(bench):
    shot = bench.play((2.0, "too_little"))[0]
    bench.log.set_result(shot.shot_id, grade="right")
    bench.log.discard(shot.shot_id)
    assert bench.log.shots() == []
    assert bench.log.undo().what == f"discarding of shot {shot.shot_id}"
    assert bench.log.shots()[0].grade is Grade.RIGHT
    bench.log.undo()
    assert bench.log.shots()[0].grade is Grade.TOO_LITTLE
    bench.log.undo()
    assert bench.log.shots()[0].grade is None
    assert bench.log.undo() is None


def test_redo_repeats_what_was_undone_until_something_else_is_changed(bench):
    shot = bench.play((2.0, "too_little"))[0]
    bench.log.set_result(shot.shot_id, grade="right")
    bench.log.undo()
    bench.log.undo()
    bench.log.redo()
    assert bench.log.shot(shot.shot_id).grade is Grade.TOO_LITTLE
    bench.log.set_result(shot.shot_id, note="new")
    assert bench.log.redo() is None
    assert bench.log.shot(shot.shot_id).grade is Grade.TOO_LITTLE


def test_undo_brings_the_time_of_the_tap_back_too(bench):
    shot = bench.play((2.0, None))[0]
    early = datetime(2026, 3, 4, 18, 31, tzinfo=UTC)
    bench.log.set_result(shot.shot_id, grade="right", tapped_utc=early)
    bench.log.set_result(shot.shot_id, grade="too_much", tapped_utc=early + timedelta(minutes=9))
    bench.log.undo()
    assert bench.log.shot(shot.shot_id).tapped_utc == early


def test_undo_within_a_series_leaves_the_others_alone(bench, make_stroke):
    other = bench.another_series()
    mine = bench.play((2.0, "right"))[0]
    theirs = bench.add(make_stroke(500.0), series_id=other.series_id)[0]
    bench.log.set_result(theirs.shot_id, grade="too_much")
    bench.log.undo(series_id=bench.series.series_id)
    assert bench.log.shot(mine.shot_id).grade is None
    assert bench.log.shot(theirs.shot_id).grade is Grade.TOO_MUCH


def test_the_history_tells_what_was_there_before(bench):
    shot = bench.play((2.0, "too_little"))[0]
    bench.log.set_result(shot.shot_id, grade="right")
    newest, first = bench.log.history(shot_id=shot.shot_id)
    assert (newest.before["grade"], newest.after["grade"]) == ("too_little", "right")
    assert (first.before["grade"], first.after["grade"]) == (None, "too_little")
    assert newest.changed_utc >= first.changed_utc


def test_tapping_the_same_again_is_no_change(bench):
    shot = bench.play((2.0, "right"))[0]
    bench.log.set_result(shot.shot_id, grade="right")
    assert len(bench.log.history(shot_id=shot.shot_id)) == 1


def test_a_discarded_shot_can_be_listed_and_restored(bench):
    shot = bench.play((2.0, "right"))[0]
    bench.log.discard(shot.shot_id)
    assert bench.log.series(bench.series.series_id).n_shots == 0
    assert [one.is_discarded for one in bench.log.shots(include_discarded=True)] == [True]
    assert bench.log.restore(shot.shot_id).is_discarded is False
    assert bench.log.series(bench.series.series_id).n_shots == 1


def test_a_shot_that_broke_a_rule_is_kept_marked_and_left_out_of_the_fit(bench):
    kept, broken = bench.play((2.0, "right"), (2.4, "too_much"))
    marked = bench.log.set_broken_rule(broken.shot_id, "another  tip height")
    assert marked.broken_rule == "another tip height"
    assert not marked.is_fit_for_answer
    assert len(bench.log.shots()) == 2
    assert bench.log.set_broken_rule(broken.shot_id, None).is_fit_for_answer
    assert kept.is_fit_for_answer


def test_a_mark_without_a_word_why_is_refused(bench):
    shot = bench.play((2.0, "right"))[0]
    with pytest.raises(PracticeError, match="a word why"):
        bench.log.set_broken_rule(shot.shot_id, "  ")


def test_a_shot_moves_to_the_series_it_belongs_to_and_back(bench):
    other = bench.another_series(tip_below_centre_m=0.007)
    shot = bench.play((2.0, "right"))[0]
    bench.log.move(shot.shot_id, other.series_id)
    assert [one.shot_id for one in bench.log.shots(tip_below_centre_m=0.007)] == [shot.shot_id]
    bench.log.undo()
    assert bench.log.shots(tip_below_centre_m=0.007) == []
    assert bench.log.shot(shot.shot_id).series_id == bench.series.series_id


def test_a_move_can_be_undone_from_either_series(bench):
    other = bench.another_series(tip_below_centre_m=0.007)
    for where in (bench.series, other):
        shot = bench.play((2.0, "right"), start_s=100.0 + 100.0 * where.series_id)[0]
        bench.log.move(shot.shot_id, other.series_id)
        assert bench.log.undo(where.series_id).what == f"series of shot {shot.shot_id}"
        assert bench.log.shot(shot.shot_id).series_id == bench.series.series_id


def test_a_shot_entered_by_hand_can_be_undone_and_brought_back(bench):
    shot = bench.log.add_shot(bench.series.series_id)
    assert bench.log.undo().what == f"entering of shot {shot.shot_id}"
    assert bench.log.shots() == []
    bench.log.redo()
    assert [one.shot_id for one in bench.log.shots()] == [shot.shot_id]


def test_chalking_the_mark_anew_is_kept_with_the_shot_it_came_before(bench):
    shot = bench.play((2.0, "right"))[0]
    assert not shot.is_mark_new
    assert bench.log.set_mark_new(shot.shot_id, True).is_mark_new
    assert bench.log.undo().what == f"white's mark of shot {shot.shot_id}"
    assert not bench.log.shot(shot.shot_id).is_mark_new


def test_a_series_begun_with_the_wrong_cue_is_corrected_and_the_history_knows(bench):
    other = bench.log.add_cue("maple")
    changed = bench.log.edit_series(
        bench.series.series_id, cue_id=other.cue_id, cloth="brushed today"
    )
    assert (changed.cue_id, changed.cloth) == (other.cue_id, "brushed today")
    entry = bench.log.history(series_id=bench.series.series_id)[0]
    assert (entry.before["cue_id"], entry.after["cue_id"]) == (bench.series.cue_id, other.cue_id)
    with pytest.raises(PracticeError, match="no cue 77"):
        bench.log.edit_series(bench.series.series_id, cue_id=77)


@pytest.mark.parametrize("text", ["a\0b", "\ud800", "x" * 20_001])
def test_a_text_that_some_database_cannot_hold_is_refused(bench, text):
    shot = bench.play((2.0, "right"))[0]
    with pytest.raises(PracticeError, match=r"note (has 20001 char|holds the char)"):
        bench.log.set_result(shot.shot_id, note=text)
    with pytest.raises(PracticeError, match="can be kept"):
        bench.log.edit_series(bench.series.series_id, conditions=text)


def test_a_set_up_is_redrawn_until_a_series_was_played_on_it(bench, setup):
    moved = replace(setup, name="Moved", white_m=(0.9, 1.9))
    entry = bench.log.add_setup(replace(setup, name="Draft"), bench.series.table_id)
    assert bench.log.update_setup(entry.setup_id, moved).setup == moved
    assert bench.log.setup(entry.setup_id).setup == moved
    with pytest.raises(PracticeError, match="already a set-up called 'Long lane'"):
        bench.log.update_setup(entry.setup_id, setup)
    with pytest.raises(PracticeError, match=r"'Long lane' has 1 series.*under a new name"):
        bench.log.update_setup(bench.series.setup_id, replace(setup, white_m=(0.9, 1.9)))
    assert bench.log.setup(bench.series.setup_id).setup == setup


def test_a_shot_without_a_sensor_has_a_result_and_no_stroke(bench):
    shot = bench.log.add_shot(bench.series.series_id)
    found = bench.log.set_result(shot.shot_id, grade="right")
    assert found.stroke is None
    assert found.pace_m_s is None
    assert not found.is_fit_for_answer
    assert bench.log.stroke_trace(shot.shot_id) is None


def test_shots_are_chosen_by_series_setup_player_and_height(bench, make_stroke):
    stranger = bench.log.add_player("Otter")
    low = bench.another_series(tip_below_centre_m=0.012)
    theirs = bench.another_series(player_id=stranger.player_id)
    ids = [
        bench.add(make_stroke(20.0 * k), series_id=series.series_id)[0].shot_id
        for k, series in enumerate((bench.series, low, theirs), start=1)
    ]

    def chosen(**how):
        return [shot.shot_id for shot in bench.log.shots(**how)]

    assert chosen() == ids
    assert chosen(series_id=low.series_id) == ids[1:2]
    assert chosen(player_id=stranger.player_id) == ids[2:]
    assert chosen(tip_below_centre_m=0.01200001) == ids[1:2]
    assert chosen(setup_id=bench.series.setup_id, tip_below_centre_m=0.0095) == [ids[0], ids[2]]
    assert chosen(setup_id=999) == []
    assert chosen(newest=2) == ids[1:]


def test_shots_are_listed_by_one_query_however_many_there_are(bench, make_stroke):
    bench.add(*(make_stroke(20.0 * k, trace=None) for k in range(1, 60)))
    seen = []

    def note(_connection, _cursor, statement, *_more):
        seen.append(statement)

    event.listen(bench.log._engine, "before_cursor_execute", note)
    assert len(bench.log.shots()) == 59
    selects = [statement for statement in seen if statement.startswith("SELECT")]
    assert len(selects) == 1
    assert "stroke_trace" not in selects[0]


def test_a_discarded_series_takes_its_shots_along_and_brings_them_back(bench):
    bench.play((2.0, "right"))
    bench.log.edit_series(bench.series.series_id, is_discarded=True)
    assert bench.log.shots() == []
    assert bench.log.all_series() == []
    bench.log.undo()
    assert len(bench.log.shots()) == 1


def test_a_series_can_be_corrected_and_the_correction_undone(bench):
    ended = datetime(2026, 3, 4, 19, 0, tzinfo=UTC)
    series_id = bench.series.series_id
    changed = bench.log.edit_series(series_id, tip_below_centre_m=0.011, ended_utc=ended)
    assert (changed.tip_below_centre_m, changed.ended_utc) == (0.011, ended)
    assert changed.called_pace_m_s is None
    bench.log.undo()
    assert bench.log.series(series_id).tip_below_centre_m == 0.0095
    assert bench.log.series(series_id).ended_utc is None


def test_a_series_says_what_is_held_and_what_is_free(bench):
    called = bench.another_series(called_pace_m_s=2.0)
    assert (bench.series.held, bench.series.free) == (("set-up", "tip height", "side"), ("pace",))
    assert (called.held, called.free) == (("set-up", "tip height", "side", "pace"), ())


def test_a_series_is_told_in_one_line(bench):
    bench.play((2.0, "right"))
    words = bench.log.series_words(bench.series.series_id)
    assert words == "Heron, Long lane, 9.5 mm below centre, 1 shot"
    other = bench.another_series(side_m=-0.003, called_pace_m_s=1.75)
    expected = "9.5 mm below centre, 3 mm of right side, called pace 1.75 m/s, 0 shots"
    assert bench.log.series_words(other.series_id).endswith(expected)


def test_who_played_with_what_is_counted_without_what_was_discarded(bench):
    log, series = bench.log, bench.series
    assert log.last_player_id() is None
    assert (log.players_with_shots(), log.cues_used(series.player_id)) == (set(), [])
    shots = bench.play((1.8, "too_little"), (2.0, None))
    log.add_player("Nobody yet")
    log.discard(shots[0].shot_id)
    assert log.last_player_id() == series.player_id
    assert log.players_with_shots() == {series.player_id}
    assert log.cues_used(series.player_id) == [series.cue_id]
    assert log.series_by_setup() == {series.setup_id: 1}
    assert log.shots_by_held() == [(series.player_id, series.setup_id, 0.0095, 0.0, 1, 0)]


def test_series_are_counted_and_the_newest_comes_first(bench):
    bench.play((1.8, "too_little"), (2.0, "right"), (2.1, None))
    late = bench.another_series(started_utc=datetime(2026, 4, 1, tzinfo=UTC))
    first, second = bench.log.all_series()
    assert first.series_id == late.series_id
    assert (first.n_shots, first.n_graded, first.n_right) == (0, 0, 0)
    assert (second.n_shots, second.n_graded, second.n_right) == (3, 2, 1)


def test_one_recording_is_entered_once_wherever_it_lies(bench, tmp_path):
    copy = tmp_path / "copy.mcap"
    copy.write_bytes(b"not read here")
    assert bench.log.add_recording(copy).recording_id == bench.recording_id
    copy.write_bytes(b"other bytes")
    assert bench.log.add_recording(copy).recording_id != bench.recording_id
    assert len(bench.log.recordings()) == 2


def test_a_growing_recording_is_found_again_by_its_path(bench, tmp_path):
    file = tmp_path / "live.mcap"
    first = bench.log.add_recording(file, is_growing=True)
    assert first.sha256 is None
    file.write_bytes(b"grown")
    assert bench.log.add_recording(file).recording_id == first.recording_id
    assert bench.log.recordings()[-1].sha256 is not None


def test_a_recording_that_is_not_there_is_refused(bench, tmp_path):
    with pytest.raises(PracticeError, match=r"gone\.mcap cannot be read"):
        bench.log.add_recording(tmp_path / "gone.mcap")


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda log: log.shot(7), "no shot 7"),
        (lambda log: log.series(7), "no series 7"),
        (lambda log: log.setup(7), "no set-up 7"),
        (lambda log: log.set_result(7, grade="right"), "no shot 7"),
        (lambda log: log.add_strokes(7, 1, []), "no recording 7"),
        (lambda log: log.add_shot(7), "no series 7"),
        (lambda log: log.add_cue("x", player_id=7), "no player 7"),
        (lambda log: log.stroke_trace(7), "no shot 7"),
    ],
)
def test_a_number_that_is_not_in_the_log_is_named(bench, call, words):
    with pytest.raises(PracticeError, match=words):
        call(bench.log)


def test_a_name_is_not_given_twice(bench, setup):
    with pytest.raises(PracticeError, match="already a player called 'Heron'"):
        bench.log.add_player(" Heron ")
    with pytest.raises(PracticeError, match="already a cue called 'ash'"):
        bench.log.add_cue("ash", player_id=bench.series.player_id)
    with pytest.raises(PracticeError, match="already a table called 'Attic table'"):
        bench.log.add_table("Attic table")
    with pytest.raises(PracticeError, match="already a set-up called 'Long lane'"):
        bench.log.add_setup(setup, bench.series.table_id)
    bench.log.add_cue("ash")


@pytest.mark.parametrize("name", ["", "   ", "x" * 81])
def test_a_name_has_1_to_80_characters(log, name):
    with pytest.raises(PracticeError, match="1 to 80"):
        log.add_player(name)
    assert log.players() == []


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"mass_kg": 510.0}, "mass is 510 kg, expected 0.2 to 1.5 kg"),
        ({"length_m": 147.0}, "length is 147 m"),
        ({"tip_width_m": 9.5}, "tip width is 9.5 m"),
        ({"mass_kg": float("nan")}, "mass is nan kg"),
    ],
)
def test_a_size_in_the_wrong_unit_is_refused(log, how, words):
    with pytest.raises(PracticeError, match=words):
        log.add_cue("ash", **how)


def test_a_tip_height_in_millimetres_is_refused(bench):
    with pytest.raises(PracticeError, match=r"tip below centre is 9\.5 m"):
        bench.another_series(tip_below_centre_m=9.5)


def test_a_measured_cloth_is_kept_used_by_answers_and_can_be_undone(bench):
    log, table = bench.log, bench.log.tables()[0]
    log.edit_table(table.table_id, sliding_friction=0.25)
    changed = log.edit_table(table.table_id, rolling_resistance=0.009)
    assert (changed.sliding_friction, changed.rolling_resistance) == (0.25, 0.009)
    cloth = table_cloth(log.tables(), table.table_id)
    assert (cloth.sliding_friction, cloth.rolling_resistance) == (0.25, 0.009)
    newest = log.history(newest=1)[0]
    assert newest.what == f"cloth of table {table.table_id}"
    log.undo()
    assert log.tables()[0].rolling_resistance == table.rolling_resistance
    assert log.tables()[0].sliding_friction == 0.25
    log.redo()
    assert log.tables()[0].rolling_resistance == 0.009
    # a new cloth: nothing is known of it
    assert log.edit_table(table.table_id, sliding_friction=None).sliding_friction is None


@pytest.mark.parametrize("cloth", [{"sliding_friction": 7.0}, {"rolling_resistance": -0.01}])
def test_a_cloth_that_is_none_is_refused_and_nothing_changed(bench, cloth):
    before = bench.log.tables()
    with pytest.raises(PracticeError, match=next(iter(cloth)).replace("_", ".")):
        bench.log.edit_table(before[0].table_id, **cloth)
    assert bench.log.tables() == before
    with pytest.raises(PracticeError, match="There is no table 99"):
        bench.log.edit_table(99, sliding_friction=0.2)


def test_a_set_up_drawn_for_another_table_is_refused(bench, setup):
    small = bench.log.add_table("Small", size=replace(setup.table, length_m=3.0, width_m=1.5))
    with pytest.raises(PracticeError, match=r"3\.569 x 1\.778 m.*3 x 1\.5 m"):
        bench.log.add_setup(setup, small.table_id)


def test_a_time_without_a_zone_is_the_callers_mistake(bench):
    with pytest.raises(ValueError, match="started_utc must have a time zone"):
        bench.another_series(started_utc=datetime(2026, 3, 4))


def test_open_series_and_the_newest_are_found_without_the_others(bench):
    ended = datetime(2026, 3, 5, 19, 0, tzinfo=UTC)
    late = bench.another_series(started_utc=ended, ended_utc=ended + timedelta(hours=1))
    bench.play((2.0, "right"))
    assert [one.series_id for one in bench.log.all_series(is_open=True)] == [1]
    assert [one.series_id for one in bench.log.all_series(is_open=False)] == [late.series_id]
    assert [one.series_id for one in bench.log.all_series(newest=1)] == [late.series_id]
    assert bench.log.all_series(is_open=True)[0].n_right == 1


def test_a_view_made_quickly_is_the_one_its_constructor_makes(bench):
    shot = bench.play((2.0, "right"))[0]
    for view in (shot, bench.log.series(1), shot.stroke):
        made = type(view)(**{field.name: getattr(view, field.name) for field in fields(view)})
        assert repr(made) == repr(view)
        assert vars(made).keys() == vars(view).keys()
    with pytest.raises(AttributeError, match="cannot assign"):
        shot.note = "changed"


def test_since_when_the_newest_shots_were_struck(bench):
    shots = bench.play((1.8, None), (2.0, None), (2.2, None))
    who = bench.series.player_id
    assert bench.log.since_newest(who, 2) == shots[1].struck_utc
    assert bench.log.since_newest(who, 4) is None
    earlier = bench.another_series()
    bench.log.move(shots[2].shot_id, earlier.series_id)
    assert bench.log.since_newest(who, 2) == shots[1].struck_utc
    bench.log.discard(shots[2].shot_id)
    assert bench.log.since_newest(who, 2) == shots[0].struck_utc
