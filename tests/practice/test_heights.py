import numpy as np
import pytest

from cue_practice.answer import answer_for
from cue_practice.heights import compare_heights, nearby_heights_m
from cue_practice.prior import PacePrior

PACES = np.array([0.80, 0.86, 0.9, 0.94, 0.97, 1.0, 1.03, 1.06, 1.1, 1.16, 1.22, 1.28])
GRADES = ["too_little"] * 4 + ["right"] * 4 + ["too_much"] * 4


def ask(bench, **more):
    series = bench.series
    return compare_heights(bench.log, series.setup_id, series.player_id, 0.0095, **more)


def test_what_one_height_shows_moves_the_others(bench, setup):
    """A player who needs a fifth more pace than the model at one height needs more at the next."""
    here = PacePrior.from_table(setup, 0.0095).centre_m_s
    bench.play(*zip(1.2 * here * PACES, GRADES, strict=True))
    (other,) = ask(bench, heights_m=[0.0085]).others
    model = PacePrior.from_table(setup, 0.0085)
    series = bench.series
    shown = answer_for(bench.log, series.setup_id, series.player_id, 0.0095).best_pace_m_s / here
    told = other.answer.best_pace_m_s / model.centre_m_s
    assert 1.0 + 0.6 * (shown - 1.0) < told < shown
    # surer than the model alone, less sure than where the shots were played
    width = np.log(other.answer.best_pace_high_m_s / other.answer.best_pace_low_m_s)
    assert width < 2 * 1.645 * model.centre_sd_log
    assert not other.is_played


def test_heights_half_a_tip_away_are_compared_in_words(bench):
    bench.play(*zip(2.1 * PACES, GRADES, strict=True))
    found = ask(bench)
    # the bench's cue has a tip of 9.5 mm: half of it is 4.75 mm; so much higher no pace is right
    # in the model, so a quarter is looked at
    assert [one.tip_below_centre_m for one in found.others] == pytest.approx([0.01425, 0.007125])
    assert found.words[0].startswith("9.5 mm below centre: right in about ")
    said = " ".join(found.words)
    assert "Lower, 14.2 mm below centre" in said
    assert "Higher, 7.1 mm below centre" in said
    assert found.in_words() == found.words


def test_a_height_the_tip_would_slip_off_is_left_out(bench):
    assert ask(bench, heights_m=[0.025]).others == ()


def test_where_the_model_lands_nowhere_nothing_is_promised(bench, monkeypatch):
    monkeypatch.setattr("cue_practice.prior.landing_bands_m_s", lambda *_: ())
    # heights that no other test asks for: what the model says is remembered
    (other,) = ask(bench, heights_m=[0.0081]).others
    assert other.probability_easier is None


def test_a_height_with_more_room_is_called_easier(bench, make_stroke):
    """Twice twelve shots: wide band at one height, narrow at the other; truth by construction."""
    low = bench.another_series(tip_below_centre_m=0.0105)
    for series, room in ((bench.series, 0.5), (low, 2.0)):
        centre = 2.1
        paces = np.tile(centre * PACES, 3)
        off = np.log(paces / centre) / (0.05 * room)
        grades = np.where(off < -1, "too_little", np.where(off > 1, "too_much", "right"))
        start = 10.0 if series is bench.series else 5000.0
        strokes = [make_stroke(start + 20 * k, tip_speed_m_s=p) for k, p in enumerate(paces)]
        shots = bench.add(*strokes, series_id=series.series_id)
        for shot, grade in zip(shots, grades, strict=True):
            bench.log.set_result(shot.shot_id, str(grade))
    (other,) = ask(bench, heights_m=[0.0105]).others
    assert other.is_played
    assert other.probability_easier > 0.9
    assert "easier for you" in " ".join(ask(bench, heights_m=[0.0105]).words)
    found = ask(bench)
    assert "10.5 mm below centre would be easier for you than 9.5 mm" in found.summary
    # what was played is compared unasked; 10.5 mm is not half a tip away from 9.5 mm
    heights = [one.tip_below_centre_m for one in found.others]
    assert heights == pytest.approx([0.01425, 0.0105, 0.007125])
    assert [one.is_played for one in found.others] == [False, True, False]
    # asked from there, the answer is the same the other way round
    series = bench.series
    back = compare_heights(bench.log, series.setup_id, series.player_id, 0.0105, heights_m=[0.0095])
    assert back.summary.startswith("No other height looked at would be easier for you than 10.5 mm")


def test_a_played_height_stands_for_one_half_a_tip_away(bench):
    near = bench.another_series(tip_below_centre_m=0.0138)
    bench.log.set_result(bench.log.add_shot(near.series_id).shot_id, grade="right")
    series = bench.series
    heights = nearby_heights_m(bench.log, series.setup_id, series.player_id, 0.0095)
    assert heights == pytest.approx((0.0138, 0.00475))


def test_where_half_a_tip_is_too_far_a_quarter_is_tried(bench):
    """The tip slips off 18.2 mm below the centre, beyond the 17.8 mm that are allowed."""
    series = bench.series
    found = compare_heights(bench.log, series.setup_id, series.player_id, 0.0135)
    assert found.others[0].tip_below_centre_m == pytest.approx(0.0135 + 0.0095 / 4)


def test_without_shots_the_sentence_says_that_nothing_is_told(bench):
    found = ask(bench, heights_m=[0.0091])
    assert "but the evidence does not tell yet" in found.summary
