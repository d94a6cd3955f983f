"""A player's own best strokes: the rule as it is stated, in numbers."""

from cue_dashboard.own_best import own_best
from cue_practice.grades import Grade


def paces(shots):
    return [shot.pace_m_s for shot in shots]


def test_only_right_shots_are_best(played):
    assert {shot.grade for shot in own_best(played, n_best=10)} == {Grade.RIGHT}


def test_the_nearest_to_the_middle_of_the_right_paces_comes_first(played):
    # right at 2.1, 2.2 and 2.3: the middle is 2.2, and ln(2.3/2.2) < ln(2.2/2.1)
    assert paces(own_best(played)) == [2.2, 2.3, 2.1]


def test_a_called_pace_takes_the_middle_s_place(played):
    assert paces(own_best(played, called_pace_m_s=2.1)) == [2.1, 2.2, 2.3]


def test_a_stroke_is_not_compared_with_itself(played):
    middle = next(shot for shot in played if shot.pace_m_s == 2.2)
    assert middle not in own_best(played, but_not=middle.shot_id)


def test_of_two_of_one_pace_the_straighter_is_better(play):
    wide = play((2.0, Grade.RIGHT), tip_lateral_m=0.004)
    straight = play((2.0, Grade.RIGHT), start_s=500.0, tip_lateral_m=-0.001)
    assert own_best([*wide, *straight]) == [*straight, *wide]


def test_two_millimetres_sideways_weigh_as_much_as_five_per_cent(play):
    aside = play((2.0, Grade.RIGHT), tip_lateral_m=0.0021)
    harder = play((2.0 * 1.05, Grade.RIGHT), start_s=500.0, tip_lateral_m=0.0)
    assert own_best([*aside, *harder], called_pace_m_s=2.0) == [*harder, *aside]


def test_a_shot_that_broke_a_rule_is_no_example(log, played):
    right = [shot for shot in played if shot.grade is Grade.RIGHT]
    log.set_broken_rule(right[0].shot_id, "miscue")
    now = [log.shot(shot.shot_id) for shot in played]
    assert right[0].shot_id not in [shot.shot_id for shot in own_best(now)]


def test_without_a_right_shot_there_is_no_best(play):
    assert own_best(play((2.0, Grade.TOO_MUCH), (2.1, None))) == []
