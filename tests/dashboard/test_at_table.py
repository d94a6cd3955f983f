"""At the table: each tap is in the log when its answer comes back."""

import json
from datetime import timedelta

import pytest

from cue_dashboard import ids, words
from cue_dashboard.figures.plan import BALL_RADIUS_M
from cue_practice.grades import Grade
from cue_practice.live import LiveState, LiveStatus

ACT = "table-act.data"


@pytest.fixture
def tap(wire, log, series):
    """Return a function that taps something for a shot, as the page would."""

    def touch(what, value=1, *, shot=None, kind="cushion"):
        state = {"series_id": series.series_id, "shots": "", "state": "", "is_running": False}
        return wire.fire(
            ACT,
            (what, value),
            table_shown={"shot_id": shot},
            table_desk=state,
            table_where_kind=kind,
        )

    return touch


@pytest.fixture
def shot(play):
    return play((2.0, None))[0]


@pytest.mark.parametrize("grade", Grade)
def test_a_tap_on_a_result_is_kept(tap, shot, log, grade):
    tap(ids.TABLE_GRADE[grade.value], shot=shot.shot_id)
    assert log.shot(shot.shot_id).grade is grade


def test_taps_do_not_wipe_one_another(tap, shot, log):
    tap(ids.TABLE_GRADE["right"], shot=shot.shot_id)
    tap(ids.TABLE_MISSED, shot=shot.shot_id)
    tap(ids.TABLE_PLAN, {"xvals": [1.7], "yvals": [2.2]}, shot=shot.shot_id)
    tap(ids.TABLE_PLAN, {"xvals": [1.0], "yvals": [2.0]}, shot=shot.shot_id, kind="stop")
    kept = log.shot(shot.shot_id)
    assert (kept.grade, kept.is_potted) == (Grade.RIGHT, False)
    assert kept.cushion_point_m == pytest.approx((1.778 - BALL_RADIUS_M, 2.2))
    assert kept.stop_point_m == pytest.approx((1.0, 2.0))


def test_after_the_cushion_the_plan_asks_for_the_stop(tap, shot):
    answer = tap(ids.TABLE_PLAN, {"xvals": [1.7], "yvals": [2.2]}, shot=shot.shot_id)
    assert answer[ids.TABLE_WHERE_KIND]["value"] == "stop"
    pick = answer[ids.TABLE_PICK]["data"]
    assert (pick["shot_id"], pick["is_held"]) == (shot.shot_id, True)


def test_a_mark_can_be_nudged_by_two_centimetres(tap, shot, log):
    tap(ids.TABLE_PLAN, {"xvals": [1.0], "yvals": [2.0]}, shot=shot.shot_id, kind="stop")
    tap(ids.TABLE_NUDGE["left"], shot=shot.shot_id, kind="stop")
    tap(ids.TABLE_NUDGE["up"], shot=shot.shot_id, kind="stop")
    assert log.shot(shot.shot_id).stop_point_m == pytest.approx((0.98, 2.02))


def test_nudging_before_the_first_tap_says_what_to_do(tap, shot):
    answer = tap(ids.TABLE_NUDGE["left"], shot=shot.shot_id)
    assert answer[ids.TABLE_SAID]["children"] == words.NOTHING_TO_MOVE


def test_undo_takes_the_last_tap_back_and_says_so(tap, shot, log):
    tap(ids.TABLE_GRADE["right"], shot=shot.shot_id)
    answer = tap(ids.TABLE_UNDO, shot=shot.shot_id)
    assert log.shot(shot.shot_id).grade is None
    assert str(shot.shot_id) in answer[ids.TABLE_SAID]["children"]
    assert tap(ids.TABLE_UNDO)[ids.TABLE_SAID]["children"] == words.NOTHING_TO_UNDO


def test_what_was_no_shot_is_left_out_and_can_come_back(tap, shot, log, series):
    tap(ids.TABLE_NO_SHOT, shot=shot.shot_id)
    assert log.shots(series_id=series.series_id) == []
    tap(ids.TABLE_UNDO)
    assert [one.shot_id for one in log.shots(series_id=series.series_id)] == [shot.shot_id]


def test_a_tap_belongs_to_the_shot_that_was_shown_even_if_another_has_come(tap, play, log):
    first, second = play((2.0, None), (2.4, None))
    tap(ids.TABLE_GRADE["right"], shot=first.shot_id)
    assert log.shot(first.shot_id).grade is Grade.RIGHT
    assert log.shot(second.shot_id).grade is None


def test_a_tap_without_a_shot_changes_nothing(tap, log, series):
    answer = tap(ids.TABLE_GRADE["right"])
    assert answer[ids.TABLE_SAID]["children"] == words.NO_SHOT


def test_the_newest_pace_is_shown_in_the_unit_of_the_screen(wire, play, series):
    play((2.0, None), (2.5, None))
    state = {"series_id": series.series_id, "is_running": True}
    shown = json.dumps(wire.fire("table-pace.children", (ids.TABLE_DESK, state), unit="km/h"))
    assert '"9.0"' in shown  # 2.5 m/s x 3.6
    assert words.TREND[next(t for t in words.TREND if t == "gaining")] in shown


def test_an_older_shot_is_asked_about_with_its_pace(wire, play, series):
    play((2.0, None), (2.5, None))
    state = {"series_id": series.series_id, "is_running": True}
    answer = wire.fire("table-ask.children", (ids.TABLE_DESK, state), unit="m/s")
    assert "2.00 m/s" in answer[ids.TABLE_ASK]["children"]
    assert answer[ids.TABLE_WAITING]["children"] == words.WAITING_ONE


def test_a_mark_that_was_tapped_later_is_what_the_player_has_in_hand(wire, play, series):
    shots = [one.shot_id for one in play((2.0, Grade.RIGHT), (2.5, None))]
    state = {"series_id": series.series_id, "is_running": True}
    pick, marked = (
        {"shot_id": shot, "is_held": True, "at": f"2026-03-04T18:0{k}"}
        for k, shot in enumerate(reversed(shots))
    )
    for first, then in ((pick, marked), (marked, pick)):
        answer = wire.fire(
            "table-shown.data", (ids.TABLE_DESK, state), table_pick=first, table_marked=then
        )
        assert answer[ids.TABLE_SHOWN]["data"]["shot_id"] == marked["shot_id"]


def test_a_restarted_dashboard_finds_the_open_series(wire, series):
    answer = wire.fire("table-desk.data", (ids.TABLE_TICK, 1))
    assert answer[ids.TABLE_DESK]["data"]["series_id"] == series.series_id


def test_an_idle_page_gets_no_answer_twice(wire, series):
    state = wire.fire("table-desk.data", (ids.TABLE_TICK, 1))[ids.TABLE_DESK]["data"]
    assert wire.fire("table-desk.data", (ids.TABLE_TICK, 2), table_desk=state) == {}


def test_starting_a_series_needs_player_cue_and_set_up(wire, log):
    answer = wire.fire(
        "table-started.data", (ids.TABLE_START_BUTTON, 1), table_start_tip=9.5, unit="m/s"
    )
    said = answer[ids.TABLE_START_FAULT]["children"]
    assert said == words.START_MISSING.format(missing="player, cue and set-up")
    assert log.all_series() == []


def test_a_called_pace_is_kept_in_metres_a_second(wire, log, series):
    log.edit_series(series.series_id, ended_utc=series.started_utc + timedelta(minutes=5))
    wire.fire(
        "table-started.data",
        (ids.TABLE_START_BUTTON, 1),
        table_start_player=str(series.player_id),
        table_start_cue=str(series.cue_id),
        table_start_setup=str(series.setup_id),
        table_start_tip=4.75,
        table_start_called=7.2,
        unit="km/h",
    )
    started = log.all_series()[0]
    assert started.called_pace_m_s == pytest.approx(2.0)
    assert started.tip_below_centre_m == pytest.approx(0.00475)


def test_a_tip_height_off_the_ball_is_refused_in_a_sentence(wire, log, series):
    answer = wire.fire(
        "table-started.data",
        (ids.TABLE_START_BUTTON, 1),
        table_start_player=str(series.player_id),
        table_start_cue=str(series.cue_id),
        table_start_setup=str(series.setup_id),
        table_start_tip=95,
        unit="m/s",
    )
    assert "0.095" in answer[ids.TABLE_START_FAULT]["children"]
    assert len(log.all_series()) == 1


def test_ending_a_series_brings_the_start_form_back(wire, log, series):
    state = {"series_id": series.series_id}
    wire.fire("table-sourced.data", (ids.TABLE_END, 1), table_desk=state)
    assert log.series(series.series_id).ended_utc is not None
    shown = wire.fire("table-desk.data", (ids.TABLE_TICK, 1))[ids.TABLE_DESK]["data"]
    assert shown["series_id"] is None


def test_rehearsing_without_recordings_says_so(wire, series):
    state = {"series_id": series.series_id}
    answer = wire.fire("table-sourced.data", (ids.TABLE_REHEARSE, 1), table_desk=state)
    assert answer[ids.TABLE_SOURCE_FAULT]["children"] == words.NO_RECORDINGS


@pytest.mark.parametrize("state", LiveState)
def test_only_a_session_that_can_still_bring_strokes_is_live(state):
    is_live = words.is_live(LiveStatus(state=state))
    assert is_live == (state in (LiveState.STARTING, LiveState.RUNNING))
