"""Log: what is put right is kept, what is refused is said, what is downloaded has units."""

import csv
import io
import json
import math

import pytest

from cue_dashboard import ids, words
from cue_dashboard.ids import log_series as own_series
from cue_dashboard.ids import log_shot as own
from cue_dashboard.pages import log_series
from cue_dashboard.pages.log_add import add_card
from cue_dashboard.pages.log_shot import shown_of
from cue_dashboard.shot_history import shot_history
from cue_dashboard.words import log_shot as say
from cue_practice.grades import Grade

ALL = {"log_player": "any", "log_series": "any", "log_discarded": False}


def save(wire, shot, button=ids.LOG_EDIT_SAVE, **fields):
    known = {"log_edit_grade": "right", "log_edit_potted": "True", "log_edit_note": ""} | fields
    return wire.fire("log-changed.data", (button, 1), log_edited={"shot": shot.shot_id}, **known)


def add(wire, form, **fields):
    """Fill a form in, press its button and return what it says."""
    known = {f"add_{form}_{name}": value for name, value in fields.items()}
    answer = wire.fire(f"{ids.add_said(form)}.children", (ids.add_button(form), 1), **known)
    return answer[ids.add_said(form)]["children"]


def test_a_result_can_be_put_right(wire, log, played):
    save(wire, played[0], log_edit_grade="too_much", log_edit_potted="False", log_edit_note="kick")
    kept = log.shot(played[0].shot_id)
    assert (kept.grade, kept.is_potted, kept.note) == (Grade.TOO_MUCH, False, "kick")


def test_a_result_can_be_taken_away(wire, log, played):
    save(wire, played[0], log_edit_grade="not-said", log_edit_potted="not-said")
    kept = log.shot(played[0].shot_id)
    assert (kept.grade, kept.is_potted) == (None, None)


def test_a_shot_is_left_out_and_taken_back_in(wire, log, played):
    save(wire, played[0], button=ids.LOG_EDIT_DISCARD)
    assert log.shot(played[0].shot_id).is_discarded
    save(wire, played[0], button=ids.LOG_EDIT_DISCARD)
    assert not log.shot(played[0].shot_id).is_discarded


def test_what_was_left_out_is_shown_only_when_asked_for(wire, log, played):
    log.discard(played[0].shot_id)
    rows = {
        is_all: json.dumps(
            wire.fire(
                "log-shots.children",
                (ids.UNIT, "m/s"),
                **(ALL | {"log_discarded": is_all}),
            )
        ).count("shot-row")
        for is_all in (False, True)
    }
    assert rows == {False: len(played) - 1, True: len(played)}


def test_the_download_has_a_row_a_shot_and_units_in_its_header(wire, played):
    answer = wire.fire("log-download.data", (ids.LOG_DOWNLOAD_BUTTON, 1), **ALL)
    data = answer[ids.LOG_DOWNLOAD]["data"]
    rows = list(csv.DictReader(io.StringIO(data["content"])))
    assert data["filename"].endswith(".csv")
    assert len(rows) == len(played)
    assert float(rows[0]["tip_speed_m_s"]) == pytest.approx(1.7)


def test_a_player_is_added_once(wire, log):
    assert add(wire, "player", name="Plover") == words.ADDED.format(what=words.PLAYER)
    assert "Plover" in add(wire, "player", name="Plover")
    assert [one.nickname for one in log.players()] == ["Plover"]


def test_an_empty_nickname_is_refused_in_a_sentence(wire, log):
    assert "0 characters" in add(wire, "player", name=" ")
    assert log.players() == []


def test_a_cue_is_kept_in_si_units(wire, log):
    add(wire, "cue", name="Ash", owner=None, mass=510, length=1470, tip=9.5)
    cue = log.cues()[0]
    assert (cue.mass_kg, cue.length_m, cue.tip_width_m) == pytest.approx((0.51, 1.47, 0.0095))


def test_a_cue_of_kilograms_is_refused_with_what_was_expected(wire, log):
    said = add(wire, "cue", name="Ash", owner=None, mass=0.51, length=1470, tip=9.5)
    assert "0.00051 kg" in said
    assert log.cues() == []


def test_a_form_says_which_fields_are_open(wire, log):
    said = add(wire, "cue", name="Ash", owner=None, mass=None, length=1470, tip=None)
    assert words.CUE_MASS in said
    assert words.TIP_WIDTH in said
    assert words.CUE_LENGTH not in said


def test_a_smaller_table_gets_its_markings_in_proportion(wire, log):
    add(wire, "table", name="Half size", length=3569 / 2, width=1778 / 2)
    size = log.tables()[0].size
    assert size.baulk_line_m == pytest.approx(0.737 / 2)  # Rules of Snooker, section 1.1(d)
    assert size.d_radius_m == pytest.approx(0.292 / 2)


def test_set_ups_are_drawn_on_their_own_page(app):
    with app.server.app_context():
        card = add_card()
    found = [one for one in card._traverse() if getattr(one, "href", None)]
    assert [(one.href, one.children) for one in found] == [("/setups", words.ADD_SETUP)]


def test_a_timed_roll_is_kept_with_its_table(wire, log, series):
    # a ball that rolls 2 m to rest under a constant deceleration of 0.01 g: t = sqrt(2 d / a)
    seconds = math.sqrt(2 * 2.0 / (0.01 * 9.81))
    said = add(wire, "roll", table=str(series.table_id), distance=2.0, time=seconds)
    assert said.startswith("Kept with 'By the window': rolling resistance 0.0")
    # one roll, timed to 0.2 s, moves what is assumed beforehand nearly all the way
    assert log.tables()[0].rolling_resistance == pytest.approx(0.01, rel=0.03)


def test_a_roll_that_cannot_be_is_refused_in_a_sentence(wire, log, series):
    assert words.ROLL_TIME in add(wire, "roll", table="1", distance=2.0, time=None)
    said = add(wire, "roll", table=str(series.table_id), distance=2.0, time=0.1)
    assert "s" in said
    assert not said.startswith("Kept")
    assert log.tables()[0].rolling_resistance is None


def press(wire, button):
    """Press undo or redo and return what is said."""
    answer = wire.fire("log-changed.data", (button, 1), log_edited=None)
    return answer[own.SAID]["children"]


def test_a_shot_that_broke_a_rule_is_kept_marked_and_named_in_its_row(wire, log, played):
    shot_id = played[2].shot_id
    save(wire, played[2], log_edit_rule="miscue", log_edit_mark_new=True)
    kept = log.shot(shot_id)
    assert (kept.broken_rule, kept.is_mark_new, kept.is_fit_for_answer) == ("miscue", True, False)
    rows = json.dumps(wire.fire("log-shots.children", (ids.UNIT, "m/s"), **ALL))
    assert say.NOT_COUNTED.format(why="miscue") in rows
    save(wire, log.shot(shot_id), log_edit_rule="as-series")
    assert log.shot(shot_id).broken_rule is None


def test_a_shot_moves_to_the_series_it_belongs_to(wire, log, series, played):
    other = log.add_series(series.player_id, series.cue_id, series.table_id, series.setup_id, 0.008)
    save(wire, played[0], log_edit_series=str(other.series_id))
    assert log.shot(played[0].shot_id).series_id == other.series_id
    assert press(wire, own.UNDO) == words.UNDONE.format(what=f"series of shot {played[0].shot_id}")
    assert log.shot(played[0].shot_id).series_id == series.series_id
    assert press(wire, own.REDO).startswith("Done again: series")
    assert log.shot(played[0].shot_id).series_id == other.series_id
    assert press(wire, own.REDO) == say.NOTHING_TO_REDO


def test_a_field_that_was_not_shown_stays_as_it_is(wire, log, played):
    log.set_broken_rule(played[0].shot_id, "kicked")
    save(wire, played[0])
    assert log.shot(played[0].shot_id).broken_rule == "kicked"


def test_the_drawer_shows_the_shot_and_what_was_changed(wire, log, played):
    shot_id = played[0].shot_id
    log.set_broken_rule(shot_id, "kicked")
    log.set_result(shot_id, grade=Grade.RIGHT, stop_point_m=(0.9, 1.2), note="thin")
    log.discard(shot_id)
    log.undo()
    *_, rules, rule, _series, series_id, _is_mark_new, history = shown_of(log, shot_id, 1)
    assert (rule, series_id) == ("kicked", str(played[0].series_id))
    assert "kicked" in [one["value"] for one in rules]
    said = shot_history(log, shot_id)
    assert all(one in str(history) for one in said)
    what = [one.split(": ", 1)[1] for one in said]
    assert what[0] == "left out (taken back)"
    assert what[1] == "result from too little to right, stopping point tapped, note: thin"
    assert what[2] == "not as its series: kicked"


def test_a_series_is_put_right_with_all_its_shots(wire, log, series, played):
    shown = wire.fire(
        "log-series-edited.data", (own_series.OPEN, 1), log_series=str(series.series_id),
        unit="km/h",
    )  # fmt: skip
    fields = {key: shown[key]["value"] for key in log_series._FIELDS}
    assert (fields[own_series.TIP], fields[own_series.CALLED]) == (9.5, "")
    fields |= {own_series.TIP: 7.0, own_series.CALLED: 7.2, own_series.CLOTH: "brushed"}
    known = {key.replace("-", "_"): value for key, value in fields.items()}
    edited = shown[own_series.EDITED]["data"]
    wire.fire("log-series-saved.data", (own_series.SAVE, 1), log_series_edited=edited, **known)
    kept = log.series(series.series_id)
    # 7.2 km/h is 2 m/s
    assert (kept.tip_below_centre_m, kept.called_pace_m_s) == pytest.approx((0.007, 2.0))
    assert (kept.cloth, kept.player_id) == ("brushed", series.player_id)
    log.undo()
    assert log.series(series.series_id).tip_below_centre_m == series.tip_below_centre_m


def test_a_series_with_an_impossible_tip_height_is_refused_and_stays(wire, log, series):
    fields = {
        "player": "1", "cue": "1", "setup": "1", "side": 0, "called": "", "cloth": "",
        "conditions": "", "note": "",
    }  # fmt: skip
    for tip, said in ((None, "need a number"), (95.0, "tip below centre is 0.095 m")):
        known = {f"log_series_{key}": value for key, value in (fields | {"tip": tip}).items()}
        edited = {"series": series.series_id, "unit": "m/s", "n": 1}
        answer = wire.fire(
            "log-series-saved.data", (own_series.SAVE, 1), log_series_edited=edited, **known
        )
        assert said in answer[own_series.FAULT]["children"]
    assert log.series(series.series_id) == series
