"""At the table: each tap is in the log when its answer comes back."""

import itertools
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from cue_dashboard import ids, words
from cue_dashboard.desk import desk_of
from cue_dashboard.figures.plan import BALL_RADIUS_M, plan_figure, window
from cue_dashboard.ids import table as table_ids
from cue_dashboard.pages import at_table
from cue_dashboard.pages.table_wire import LIVE_PATH
from cue_dashboard.ready_answer import make_ready
from cue_dashboard.security import CSRF_COOKIE, CSRF_HEADER
from cue_dashboard.taps import TAP_PATH
from cue_dashboard.theme import palette_of
from cue_dashboard.words import table as table_words
from cue_practice.grades import Grade
from cue_practice.live import LiveState, LiveStatus
from cue_practice.questions import Held

CALM = {
    "n_shots": 2,
    "is_running": False,
    "has_sensor": False,
    "is_called": False,
    "heard": [0, False],
}
"""What a page knows of a desk where nothing is live."""


@pytest.fixture
def tap(app, series):
    """Return a function that sends a tap for a shot, as the page would."""
    browser, marks = app.server.test_client(), itertools.count()

    def touch(what, value="", *, shot=None, kind="cushion", point=None, **sent):
        body = {"id": f"tap {next(marks)}", "what": what, "value": value, "shot": shot}
        body |= {"series": series.series_id, "kind": kind, "point": point, "age_s": 0.0} | sent
        return browser.post(TAP_PATH, json=body, headers=csrf(browser)).get_json()

    return touch


def csrf(browser):
    """Return the header that proves a page was served by this dashboard."""
    browser.get("/")
    cookie = browser.get_cookie(CSRF_COOKIE)
    return {CSRF_HEADER: cookie.value} if cookie else {}


@pytest.fixture
def look(app):
    """Return a function that asks what is live, as the page does many times a second."""
    browser = app.server.test_client()
    return lambda **known: browser.get(LIVE_PATH, query_string=known).get_json()


@pytest.fixture
def shot(play):
    return play((2.0, None))[0]


@pytest.mark.parametrize("grade", Grade)
def test_a_tap_on_a_result_is_kept(tap, shot, log, grade):
    tap("grade", grade.value, shot=shot.shot_id)
    assert log.shot(shot.shot_id).grade is grade


def test_taps_do_not_wipe_one_another(tap, shot, log):
    tap("grade", "right", shot=shot.shot_id)
    tap("potted", "no", shot=shot.shot_id)
    tap("plan", point=[1.7, 2.2], shot=shot.shot_id)
    tap("plan", point=[1.0, 2.0], shot=shot.shot_id, kind="stop")
    kept = log.shot(shot.shot_id)
    assert (kept.grade, kept.is_potted) == (Grade.RIGHT, False)
    assert kept.cushion_point_m == pytest.approx((1.778 - BALL_RADIUS_M, 2.2))
    assert kept.stop_point_m == pytest.approx((1.0, 2.0))


def test_after_the_cushion_the_plan_asks_for_the_stop(tap, shot):
    answer = tap("plan", point=[1.7, 2.2], shot=shot.shot_id)
    assert answer["kind"] == "stop"
    pick = answer["pick"]
    assert (pick["shot_id"], pick["is_held"]) == (shot.shot_id, True)


def test_who_plays_on_after_a_finished_tap_is_asked_about_the_new_shot(tap, play):
    first = play((2.0, Grade.RIGHT))[0].shot_id
    stop = {"point": [1.0, 2.0], "kind": "stop"}
    assert not tap("potted", "no", shot=first)["pick"]["is_held"]
    assert not tap("plan", shot=first, **stop)["pick"]["is_held"]
    play((2.4, None), start_s=100.0)  # one that waits is not jumped to under the thumb
    assert tap("plan", shot=first, **stop)["pick"]["is_held"]


def test_a_mark_can_be_nudged_by_two_centimetres(tap, shot, log):
    tap("plan", point=[1.0, 2.0], shot=shot.shot_id, kind="stop")
    tap("nudge", "left", shot=shot.shot_id, kind="stop")
    tap("nudge", "up", shot=shot.shot_id, kind="stop")
    assert log.shot(shot.shot_id).stop_point_m == pytest.approx((0.98, 2.02))


def test_nudging_before_the_first_tap_says_what_to_do(tap, shot):
    answer = tap("nudge", "left", shot=shot.shot_id)
    assert answer["said"] == words.NOTHING_TO_MOVE


def test_undo_takes_the_last_tap_back_and_says_so(tap, shot, log):
    tap("grade", "right", shot=shot.shot_id)
    answer = tap("undo", shot=shot.shot_id)
    assert log.shot(shot.shot_id).grade is None
    assert str(shot.shot_id) in answer["said"]
    assert tap("undo")["said"] == words.NOTHING_TO_UNDO


def test_what_was_no_shot_is_left_out_and_can_come_back(tap, shot, log, series):
    tap("no_shot", shot=shot.shot_id)
    assert log.shots(series_id=series.series_id) == []
    tap("undo")
    assert [one.shot_id for one in log.shots(series_id=series.series_id)] == [shot.shot_id]


def test_a_tap_belongs_to_the_shot_that_was_shown_even_if_another_has_come(tap, play, log):
    first, second = play((2.0, None), (2.4, None))
    tap("grade", "right", shot=first.shot_id)
    assert log.shot(first.shot_id).grade is Grade.RIGHT
    assert log.shot(second.shot_id).grade is None


def test_a_tap_without_a_shot_changes_nothing(tap, log, series):
    answer = tap("grade", "right")
    assert answer["said"] == words.NO_SHOT


def test_the_newest_pace_is_shown_in_the_unit_of_the_screen(wire, play, series):
    play((2.0, None), (2.5, None))
    state = CALM | {"series_id": series.series_id, "is_running": True}
    shown = json.dumps(wire.fire("table-pace.children", (ids.TABLE_DESK, state), unit="km/h"))
    assert '"9.0"' in shown  # 2.5 m/s x 3.6
    assert words.TREND[next(t for t in words.TREND if t == "gaining")] in shown


def test_an_older_shot_is_asked_about_with_its_pace(wire, play, series):
    play((2.0, None), (2.5, None))
    state = CALM | {"series_id": series.series_id, "is_running": True}
    answer = wire.fire("table-ask.children", (ids.TABLE_DESK, state), unit="m/s")
    assert "2.00 m/s" in answer[ids.TABLE_ASK]["children"]
    assert answer[ids.TABLE_WAITING]["children"] == words.WAITING_ONE


def test_a_mark_that_was_tapped_later_is_what_the_player_has_in_hand(wire, play, series):
    shots = [one.shot_id for one in play((2.0, Grade.RIGHT), (2.5, None))]
    state = CALM | {"series_id": series.series_id, "is_running": True}
    pick, marked = (
        {"shot_id": shot, "is_held": True, "at": f"2026-03-04T18:0{k}"}
        for k, shot in enumerate(reversed(shots))
    )
    for first, then in ((pick, marked), (marked, pick)):
        answer = wire.fire(
            "table-shown.data", (ids.TABLE_DESK, state), table_pick=first, table_marked=then
        )
        assert answer[ids.TABLE_SHOWN]["data"]["shot_id"] == marked["shot_id"]


def test_a_restarted_dashboard_finds_the_open_series(look, series):
    assert look()["desk"]["series_id"] == series.series_id


def test_an_idle_page_is_told_the_same_only_once(look, series):
    key = look()["key"]
    assert "desk" not in look(key=key)


def hidden(page):
    """Return which of the start form, the judge bar and the series are hidden on a page."""
    return [
        page[one].hidden for one in (ids.TABLE_START, table_ids.JUDGE_BAR, ids.TABLE_SERIES_CARD)
    ]


def test_the_page_comes_with_its_start_form_filled_in(app, look, log, series):
    log.edit_series(series.series_id, ended_utc=datetime.now(UTC))
    with app.server.test_request_context("/"):
        page = at_table.layout()
    assert hidden(page) == [False, True, True]
    assert page[ids.TABLE_START_CUE].value == str(series.cue_id)
    assert [one["value"] for one in page[ids.TABLE_START_CUE].data] == [str(series.cue_id)]
    assert page[ids.TABLE_START_CALLED].label == words.CALLED_PACE.format(unit="m/s")
    assert page[ids.TABLE_START_TIP_WORDS].children != ""


def test_a_page_in_mid_series_comes_as_it_stays(app, look, play, series):
    play((2.0, None))
    with app.server.test_request_context("/"):
        page = at_table.layout()
    assert hidden(page) == [True, False, False]
    assert page[ids.TABLE_DESK].data["series_id"] == series.series_id
    assert "desk" not in look(key=getattr(page, "data-key"))  # it knows already


@pytest.fixture
def begin(app, monkeypatch):
    """Return a function that begins a live session whose trace has come to a moment.

    What it is given besides is done while the new session is being made.
    """
    at = desk_of(app.server)

    def start(moment_s, meanwhile=lambda: None):
        class Session:
            def __init__(self, *_given, **_named):
                meanwhile()

            def start(self):
                """There is nothing to listen to."""

            def status(self):
                time_s = np.array([moment_s])
                return LiveStatus(LiveState.RUNNING, trace_time_s=time_s, trace_speed_m_s=time_s)

        monkeypatch.setattr("cue_practice.live.LiveSession", Session)
        at._start(None, None)

    return start


def told(answer):
    """Return under which session's name an answer tells which times."""
    return answer["session"], answer["t"]


def test_who_asks_while_a_session_is_made_hears_of_the_old_one_by_its_name(begin, look):
    """A page that took the old times for the new session's waited until its clock caught up."""
    begin(90.0)
    old, heard = look(), []
    begin(0.1, lambda: heard.append(look()))
    assert told(heard[0]) == told(old) == (old["session"], [90.0])
    new = look(session=old["session"], after=90.0)
    assert new["session"] != old["session"]
    assert new["t"] == [0.1]


def test_a_session_that_begins_within_an_answer_is_told_by_the_next_one(
    begin, look, app, monkeypatch
):
    begin(90.0)
    old, at = look(), desk_of(app.server)
    status = at.status

    def slow():
        found = status()
        monkeypatch.setattr(at, "status", status)
        begin(0.1)
        return found

    monkeypatch.setattr(at, "status", slow)
    assert told(look()) == told(old)
    assert look(session=old["session"], after=90.0)["t"] == [0.1]


def test_a_first_look_is_told_until_the_stroke_is_measured(app, look, make_stroke, monkeypatch):
    on = LiveStatus(LiveState.RUNNING, n_strokes=2, is_measuring=True)
    monkeypatch.setattr(desk_of(app.server), "status", lambda: on)
    assert look()["soon"]
    assert "first" not in look()
    on = replace(on, first_look=make_stroke(pace_m_s=2.4))
    assert (look()["first"], look()["n"]) == (2.4, 2)
    on = replace(on, first_look=None, is_measuring=False, n_strokes=3)
    answer = look()
    assert "first" not in answer
    assert "soon" not in answer
    assert answer["n"] == 3


def test_starting_a_series_needs_player_cue_and_set_up(wire, log):
    answer = wire.fire(
        "table-started.data",
        (ids.TABLE_START_BUTTON, 1),
        table_start_tip=9.5,
        table_start_side=0,
        unit="m/s",
    )
    said = answer[ids.TABLE_START_FAULT]["children"]
    assert said == words.START_MISSING.format(missing="player, cue and set-up")
    assert log.all_series() == []


def test_side_is_held_too_and_the_series_says_so(wire, log, series):
    log.edit_series(series.series_id, ended_utc=series.started_utc + timedelta(minutes=5))
    form = {
        "table_start_player": str(series.player_id),
        "table_start_cue": str(series.cue_id),
        "table_start_setup": str(series.setup_id),
        "table_start_tip": 4.75,
        "unit": "m/s",
    }
    start = ("table-started.data", (ids.TABLE_START_BUTTON, 1))
    answer = wire.fire(*start, **form)
    assert answer[ids.TABLE_START_FAULT]["children"] == words.START_MISSING.format(
        missing=words.A_SIDE
    )
    wire.fire(*start, **form, table_start_side=-3)
    started = log.all_series()[0]
    assert started.side_m == pytest.approx(-0.003)
    state = CALM | {"series_id": started.series_id}
    shown = wire.fire("table-series-words.children", (ids.TABLE_DESK, state), unit="m/s")
    assert "3 mm of right side" in json.dumps(shown)


def test_once_a_result_is_given_the_page_goes_on_to_what_else_may_be_tapped(wire, play, series):
    state = CALM | {"series_id": series.series_id, "is_running": True}
    ask = ("table-ask.children", (ids.TABLE_DESK, state))
    play((2.0, Grade.RIGHT))
    answer = wire.fire(*ask, unit="m/s")
    assert answer["table-page"]["data-step"] == "more"
    assert answer[ids.TABLE_ASK]["children"] == "Shot 1: right"
    play((2.4, None), start_s=100.0)
    answer = wire.fire(*ask, unit="m/s")
    assert answer["table-page"]["data-step"] == "result"


def test_what_was_tapped_is_told_in_one_line(tap, wire, play, series):
    shot = play((2.0, Grade.RIGHT))[0].shot_id
    tap("potted", "yes", shot=shot)
    tap("plan", point=[1.7, 2.2], shot=shot)
    tap("plan", point=[1.0, 2.0], shot=shot, kind="stop")
    state = CALM | {"series_id": series.series_id}
    answer = wire.fire("table-ask.children", (ids.TABLE_DESK, state), unit="m/s")
    assert answer[ids.TABLE_ASK]["children"] == "Shot 1: right, potted, cushion, stop"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_tapped_places_are_drawn_as_the_plan_itself_would(wire, series, setup, scheme):
    cushion, stop = [0.4, 2.2], [1.5, 2.0]
    shown = {"series_id": series.series_id, "shot_id": 1, "cushion": cushion, "stop": stop}
    answer = wire.fire("table-plan.figure", (ids.TABLE_SHOWN, shown), **{ids.SCHEME: scheme})
    drawn = answer[ids.TABLE_PLAN]["figure"]["data"]
    whole = plan_figure(
        setup,
        palette_of(scheme),
        cushion_point_m=(0.4, 2.2),
        stop_point_m=(1.5, 2.0),
        shown=window(setup),
    )
    assert drawn[-2:] == json.loads(whole.to_json())["data"][-2:]
    assert [one["x"] for one in drawn[-2:]] == [[0.4], [1.5]]


def test_in_mid_series_the_choice_of_a_source_is_folded_up(wire, play, series):
    fold = "table-source-choice.open"
    state = CALM | {"series_id": series.series_id}
    for n_shots, is_open in ((0, True), (2, False)):
        answer = wire.fire(fold, (ids.TABLE_DESK, state | {"n_shots": n_shots}))
        assert answer[ids.TABLE_SOURCE_CHOICE]["open"] is is_open


def test_the_answer_is_made_ready_while_there_is_no_result_yet(app, log, series):
    held, at = Held.of(series), desk_of(app.server)
    thread = make_ready(at, held)
    thread.join()
    assert make_ready(at, held) is None
    assert make_ready(at, replace(held, side_m=0.004)) is not None


def test_a_called_pace_is_kept_in_metres_a_second(wire, log, series):
    log.edit_series(series.series_id, ended_utc=series.started_utc + timedelta(minutes=5))
    wire.fire(
        "table-started.data",
        (ids.TABLE_START_BUTTON, 1),
        table_start_player=str(series.player_id),
        table_start_cue=str(series.cue_id),
        table_start_setup=str(series.setup_id),
        table_start_tip=4.75,
        table_start_side=0,
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
        table_start_side=0,
        unit="m/s",
    )
    assert "0.095" in answer[ids.TABLE_START_FAULT]["children"]
    assert len(log.all_series()) == 1


def test_ending_a_series_brings_the_start_form_back(wire, look, log, series):
    assert look()["desk"]["series_id"] == series.series_id
    state = {"series_id": series.series_id}
    wire.fire("table-sourced.data", (ids.TABLE_END, 1), table_desk=state)
    assert log.series(series.series_id).ended_utc is not None
    assert look()["desk"]["series_id"] is None


def test_rehearsing_without_recordings_says_so(wire, series):
    state = {"series_id": series.series_id}
    answer = wire.fire("table-sourced.data", (ids.TABLE_REHEARSE, 1), table_desk=state)
    assert answer[ids.TABLE_SOURCE_FAULT]["children"] == words.NO_RECORDINGS


@pytest.mark.parametrize("state", LiveState)
def test_only_a_session_that_can_still_bring_strokes_is_live(state):
    is_live = words.is_live(LiveStatus(state=state))
    assert is_live == (state in (LiveState.STARTING, LiveState.RUNNING))


def test_a_called_pace_is_told_by_sign_words_gauge_and_score(wire, log, series, play):
    log.edit_series(series.series_id, called_pace_m_s=2.0)
    play((1.5, None), (2.05, None), (2.4, None))
    state = CALM | {"series_id": series.series_id}
    answer = wire.fire(
        "table-pace.children", (ids.TABLE_DESK, state), unit="m/s", table_tolerance="5"
    )
    shown = json.dumps(answer, ensure_ascii=False)
    assert table_words.FASTER.format(by="0.40 m/s") in shown
    assert table_words.AGAINST_SIGN["faster"] in shown
    assert table_words.SCORE.format(n_within=1, n_shots=3, percent="5") in shown
    assert '"data-against": "faster"' in shown
    # the gauge reaches a quarter to either side: 1.5 stands at its left end, 2.4 at nine tenths
    assert '"left": "0.00%"' in shown
    assert '"left": "90.00%"' in shown


@pytest.mark.parametrize(
    ("ratio", "told"), [(0.95, "on"), (1.05, "on"), (0.949, "slower"), (1.051, "faster")]
)
def test_the_edge_of_the_tolerance_counts_as_on_pace(ratio, told):
    assert table_words.against(ratio, 0.05) == told


def test_a_tap_that_comes_twice_is_done_once(tap, shot, log):
    tap("grade", "right", shot=shot.shot_id, id="same")
    tap("undo", id="also the same")
    tap("undo", id="also the same")
    answer = tap("grade", "right", shot=shot.shot_id, id="same")
    assert log.shot(shot.shot_id).grade is None  # done and taken back; the copy did nothing
    assert answer["said"] == words.IN_THE_LOG


def test_a_tap_that_was_kept_for_a_minute_counts_from_when_it_was_made(tap, shot, log):
    before = datetime.now(UTC)
    tap("grade", "right", shot=shot.shot_id, age_s=60)
    assert (before - log.shot(shot.shot_id).tapped_utc).total_seconds() == pytest.approx(60, abs=5)


@pytest.mark.parametrize(
    "sent", [None, [], {"id": "x"}, {"id": "x", "what": "grade", "series": "a", "shot": 1}]
)
def test_what_is_no_tap_is_refused_in_words(app, sent):
    browser = app.server.test_client()
    answer = browser.post(TAP_PATH, json=sent, headers=csrf(browser))
    assert (answer.status_code, answer.get_json()["said"]) == (400, table_words.TAP_UNKNOWN)


def test_the_first_steps_fill_the_log_and_the_form(wire, log):
    names = {"table_first_player": "Plover", "table_first_cue": "Old ash"}
    answer = wire.fire("table-first-done.children", ("table-first-save", 1), **names)
    assert answer["table-start-fields"]["hidden"]
    answer = wire.fire("table-first-done.children", ("table-first-setup", 1))
    assert not answer["table-start-fields"]["hidden"]
    assert answer[ids.TABLE_START_SETUP]["value"] == str(log.setups()[0].setup_id)
    assert [cue.name for cue in log.cues(log.players()[0].player_id)] == ["Old ash"]


def test_the_first_step_says_what_is_missing(wire, log):
    answer = wire.fire("table-first-done.children", ("table-first-save", 1), table_first_player="P")
    assert answer["table-first-said"]["children"] == table_words.FIRST_MISSING.format(
        missing=table_words.FIRST_CUE.lower()
    )
    assert log.players() == []


@pytest.mark.parametrize(("dbm", "said"), [(-50, "strong"), (-66, "fair"), (-95, "weak")])
def test_signal_is_said_in_words_and_numbers(dbm, said):
    assert said in table_words.signal(dbm)
    assert str(-dbm) in table_words.signal(dbm)


def test_battery_and_loss_of_a_sensor_are_said():
    status = LiveStatus(
        state=LiveState.RUNNING, battery_percent=14, rate_hz=208.2, n_samples=990, n_lost=10
    )
    said = " ".join(table_words.facts(status))
    assert "14 %, charge it soon" in said
    assert "1.0%" in said
    assert "208 Hz" in said
