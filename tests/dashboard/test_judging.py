"""Which shot is asked about: strokes queue, taps in progress are never taken over."""

from hypothesis import given
from hypothesis import strategies as st

from cue_dashboard.judging import Pick, after_this, shot_in_hand
from cue_practice.grades import Grade


class FakeShot:
    """A shot as far as judging looks at it."""

    def __init__(self, shot_id, grade=None):
        self.shot_id, self.grade = shot_id, grade


def shots_of(*grades):
    return [FakeShot(10 + k, grade) for k, grade in enumerate(grades)]


def in_hand(shots, pick=None):
    return shot_in_hand(shots, pick or Pick())


def test_before_the_first_stroke_there_is_nothing_to_judge():
    assert in_hand([]).shot is None


def test_the_oldest_stroke_without_a_result_is_asked_about_first():
    judged = in_hand(shots_of(Grade.RIGHT, None, None))
    assert (judged.shot.shot_id, judged.number, judged.n_waiting) == (11, 2, 1)


def test_after_the_last_tap_the_shot_stays_until_the_next_stroke():
    shots = shots_of(Grade.RIGHT, Grade.TOO_MUCH)
    assert in_hand(shots, Pick(11)).shot.shot_id == 11
    assert in_hand([*shots, FakeShot(12)], Pick(11)).shot.shot_id == 12


def test_a_stroke_that_comes_while_the_plan_is_being_tapped_waits():
    shots = [*shots_of(Grade.RIGHT), FakeShot(11)]
    judged = in_hand(shots, Pick(10, is_held=True))
    assert (judged.shot.shot_id, judged.n_waiting) == (10, 1)
    assert after_this(shots, 10) == Pick(11)


def test_a_reloaded_page_finds_the_stroke_that_waits():
    assert in_hand(shots_of(Grade.RIGHT, None, Grade.RIGHT)).shot.shot_id == 11


def test_a_shot_that_was_picked_and_is_gone_is_forgotten():
    assert in_hand(shots_of(Grade.RIGHT, None), Pick(99, is_held=True)).shot.shot_id == 11


@given(st.lists(st.sampled_from([None, *Grade]), max_size=12), st.integers(0, 20), st.booleans())
def test_no_stroke_is_ever_lost_from_the_queue(grades, picked, is_held):
    shots = shots_of(*grades)
    judged = in_hand(shots, Pick(picked, is_held))
    n_open = sum(grade is None for grade in grades)
    is_asked = judged.shot is not None and judged.shot.grade is None
    assert judged.n_waiting + is_asked == n_open
    assert is_asked or is_held or n_open == 0


@given(st.integers(1, 12))
def test_going_on_from_shot_to_shot_asks_about_every_one_once(n_shots):
    shots = shots_of(*[None] * n_shots)
    pick, asked = Pick(), []
    for _ in range(n_shots):
        shot = in_hand(shots, pick).shot
        asked.append(shot.shot_id)
        shot.grade = Grade.RIGHT
        pick = after_this(shots, shot.shot_id)
    assert asked == [shot.shot_id for shot in shots]
