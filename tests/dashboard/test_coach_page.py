"""Coach: lessons are kept, corrected and left out; what changed is told; the page goes home."""

import json
from datetime import timedelta

import pytest

from cue_dashboard import pupil_shots
from cue_dashboard.ids import coach as own
from cue_dashboard.pages import coach_page
from cue_dashboard.pupil_sheets import PAGE_PATH, PDF_PATH
from cue_dashboard.pupil_shots import since_lesson
from cue_dashboard.words import coach as say
from cue_practice.errors import PracticeError

PLAYER = 1


def write(wire, what, **known):
    """Press a button of the lesson's form."""
    form = {"coach_player": str(PLAYER), "coach_text": "", "coach_exercise": "", "unit": "m/s"}
    form |= {"coach_held": "now"}
    return wire.fire("coach-text.value", (what, 1), **(form | known))


def shown_text(wire, output, what=own.PLAYER, value=str(PLAYER), **known):
    return json.dumps(wire.fire(output, (what, value), **known), ensure_ascii=False)


def test_a_lesson_is_kept(wire, log, played):
    answer = write(wire, own.SAVE, coach_text="Elbow still.", coach_exercise="Ten at 2 m/s.")
    assert answer[own.SAID]["children"] == say.LESSON_KEPT
    kept = log.lessons(PLAYER)
    assert [(one.text, one.exercise) for one in kept] == [("Elbow still.", "Ten at 2 m/s.")]


def test_an_empty_lesson_is_not_kept(wire, log, played):
    answer = write(wire, own.SAVE, coach_text=" ")
    assert answer[own.SAID]["children"] == say.LESSON_EMPTY
    assert log.lessons(PLAYER) == []


def test_a_lesson_written_down_later_stands_at_the_end_of_its_evening(wire, log, played):
    offered = wire.fire("coach-lessons.children", (own.CHANGED_OF, str(PLAYER)))[own.HELD]["data"]
    assert len(offered) == 2  # now, and the one evening there was
    write(wire, own.SAVE, coach_text="Elbow.", coach_held=offered[1]["value"])
    held = log.lessons(PLAYER)[0].held_utc
    assert abs(held - played[-1].struck_utc) < timedelta(seconds=0.01)


def test_a_lesson_is_corrected_and_not_doubled(wire, log, played):
    lesson = log.add_lesson(PLAYER, text="Elbwo.", exercise="Ten.")
    write(
        wire, own.SAVE, coach_text="Elbow.", coach_exercise="Ten.", coach_editing=lesson.lesson_id
    )
    assert [one.text for one in log.lessons(PLAYER)] == ["Elbow."]


def test_a_lesson_that_was_left_out_comes_back(wire, log, played):
    lesson = log.add_lesson(PLAYER, text="Elbow.")
    log.update_lesson(lesson.lesson_id, is_discarded=True)
    answer = write(wire, own.UNDO, coach_kept={"n": 1, "left_out": lesson.lesson_id})
    assert answer[own.SAID]["children"] == say.LESSON_BACK
    assert len(log.lessons(PLAYER)) == 1


def test_the_exercise_suggested_is_at_the_best_pace_of_the_newest_set_up(wire, log, played):
    suggested = shown_text(wire, "coach-suggested.children", own.CHANGED_OF, unit="m/s")
    assert "Window side" in suggested
    taken = write(wire, own.TAKE)[own.EXERCISE]["value"]
    assert taken in suggested


def test_without_a_lesson_the_page_says_how_it_will_tell_what_changed(wire, played):
    assert say.CHANGED_NONE in shown_text(wire, "coach-changed.children")


def test_what_changed_since_the_lesson_is_told_with_its_exercise(wire, log, played):
    middle = played[3].struck_utc
    log.add_lesson(PLAYER, held_utc=middle, text="Elbow.", exercise="Ten at 2 m/s.")
    said = shown_text(wire, "coach-changed.children")
    assert "4 shots on 1 evening" in said
    assert "Ten at 2 m/s." in said
    assert "% sure" in said


def test_shots_from_before_a_lesson_of_long_ago_are_found(wire, log, played, monkeypatch):
    """Only the newest shots are weighed; a lesson may lie before all of them."""
    whole = [len(played) - 3, 3]
    found = since_lesson(log, PLAYER, [played[3].struck_utc])
    assert [len(found.since), len(found.before), found.n_since] == [*whole, whole[0]]
    monkeypatch.setattr(pupil_shots, "MOST_SHOTS", 2)
    log.add_lesson(PLAYER, held_utc=played[3].struck_utc, text="Elbow.")
    found = since_lesson(log, PLAYER, [played[3].struck_utc])
    assert found.since.shot_id.tolist() == [one.shot_id for one in played[-2:]]
    assert found.before.shot_id.tolist() == [one.shot_id for one in played[1:3]]
    assert found.n_since == whole[0]
    said = shown_text(wire, "coach-changed.children")
    assert "4 shots; the newest 2 are told of, from 1 evening" in said
    assert say.CHANGED_BEFORE_NONE not in said


def test_no_shot_since_the_lesson_is_said(wire, log, played):
    log.add_lesson(PLAYER, held_utc=played[-1].struck_utc + timedelta(days=1), text="Elbow.")
    assert "No shot since the lesson" in shown_text(wire, "coach-changed.children")


def test_few_shots_support_nothing_and_the_page_says_so(wire, played):
    assert say.EVIDENCE_NONE in shown_text(wire, "coach-evidence.children", own.CHANGED_OF)


def test_remarks_lead_to_their_strokes(wire, log, played):
    log.add_remark(played[0].shot_id, "Elbow drops", at_s=-0.1)
    said = shown_text(wire, "coach-changed.children")
    assert "Elbow drops" in said
    assert f"/strokes?shot={played[0].shot_id}" in said


def test_an_empty_log_is_told_what_to_do(app):
    with app.server.app_context():
        assert say.EMPTY_REMEDY in str(coach_page.layout())


@pytest.fixture
def addresses(wire, played):
    """Return the addresses of the page to print and of its PDF."""
    offered = wire.fire("coach-question.data", (own.CHANGED_OF, str(PLAYER)))[own.QUESTION]
    answer = wire.fire(
        "coach-print.href",
        (own.QUESTION, offered["value"]),
        coach_player=str(PLAYER),
        unit="km/h",
    )
    return answer[own.PRINT]["href"], answer[own.PDF]["href"]


def test_the_page_to_print_carries_the_lesson_within_the_usual_headers(app, log, addresses):
    log.add_lesson(PLAYER, text="Elbow <b>still</b>.", exercise="Ten at 2 m/s.")
    answer = app.server.test_client().get(addresses[0])
    page = answer.get_data(as_text=True)
    assert answer.status_code == 200
    assert "Elbow &lt;b&gt;still&lt;/b&gt;." in page
    assert "Ten at 2 m/s." in page
    assert "km/h" in page
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_the_pdf_is_a_pdf_named_for_the_pupil(app, addresses):
    answer = app.server.test_client().get(addresses[1])
    assert answer.get_data().startswith(b"%PDF-")
    assert answer.mimetype == "application/pdf"
    assert "stunpace-Plover.pdf" in answer.headers["Content-Disposition"]


@pytest.mark.parametrize("path", [PAGE_PATH, PDF_PATH])
@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("", "player is missing"),
        ("player=1&setup=x&below=95&side=0", "setup is missing"),
        ("player=1&setup=99&below=95&side=0", "99"),
        ("player=99&setup=1&below=95&side=0", "99"),
    ],
)
def test_an_address_of_no_page_is_answered_in_a_sentence(app, played, path, query, said):
    answer = app.server.test_client().get(f"{path}?{query}")
    assert answer.status_code == 404
    assert answer.mimetype == "text/plain"
    assert said in answer.get_data(as_text=True)


def test_a_fault_of_the_log_is_said_and_nothing_is_cleared(wire, log, played, monkeypatch):
    def refuse(*_, **__):
        raise PracticeError("The disk is full. Make room.")

    monkeypatch.setattr(type(log), "add_lesson", refuse)
    answer = write(wire, own.SAVE, coach_text="Elbow.")
    assert answer[own.SAID]["children"] == "The disk is full. Make room."
    assert own.TEXT not in answer  # the words stay in their field
