"""What is kept of each series is as if it had been read anew, whoever changed what."""

from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from sqlalchemy import text

from cue_practice.control import pace_control
from cue_practice.log import PracticeLog
from cue_practice.spread import own_spread

LATE = datetime(2031, 3, 1, tzinfo=UTC)


def assert_same(kept, read) -> None:
    for field in fields(read):
        one, other = getattr(kept, field.name), getattr(read, field.name)
        if isinstance(other, dict):
            assert list(one) == list(other)
            for name in other:
                np.testing.assert_array_equal(one[name], other[name])
        else:
            np.testing.assert_array_equal(one, other)


def held_of(log, shots) -> list[tuple]:
    """Return what shots_by_held says, counted shot by shot."""
    found: dict[tuple, list] = {}
    for shot in shots:
        one = log.series(shot.series_id)
        key = (one.player_id, one.setup_id, one.tip_below_centre_m, one.side_m)
        newest, number, n, n_graded = found.get(key, (one.started_utc, 0, 0, 0))
        number, newest = max(number, one.series_id), max(newest, one.started_utc)
        found[key] = [newest, number, n + 1, n_graded + (shot.grade is not None)]
    order = sorted(found.items(), key=lambda pair: pair[1][:2], reverse=True)
    return [(*key, n, n_graded) for key, (_, _, n, n_graded) in order]


def assert_as_if_read_anew(log, url) -> None:
    """Compare what a log keeps with what another one, just opened, reads."""
    with PracticeLog(url) as fresh:
        assert log.shots_by_held() == held_of(fresh, fresh.shots())
        for player in fresh.players():
            whose = player.player_id
            for since_utc in (None, LATE):
                read = fresh.played_shots(whose, since_utc=since_utc)
                assert_same(log.kept_shots(whose, since_utc=since_utc), read)
                called = fresh.called_shots(whose, since_utc=since_utc)
                columns = log.called_columns(whose, since_utc=since_utc)
                assert pace_control(columns) == pace_control(called)
            spread = own_spread(fresh.called_shots(whose))
            assert log.own_spread(whose).n_shots == spread.n_shots
            assert log.own_spread(whose).share == pytest.approx(spread.share, rel=1e-9)
            for row in fresh.shots_by_held():
                held = (row[1], row[0], row[2])
                for newest in (2, None):
                    one, other = (a.fit_shots(*held, newest=newest) for a in (log, fresh))
                    assert_same(one, other)


@pytest.fixture
def played(bench):
    """Two players with series of free and of called paces, before and after `LATE`."""
    other = bench.log.add_player("Rook").player_id
    for changed in (
        {"called_pace_m_s": 2.0},
        {"tip_below_centre_m": 0.005, "started_utc": LATE + timedelta(days=3)},
        {"player_id": other, "called_pace_m_s": 1.8},
    ):
        series = bench.another_series(**changed)
        start_s = 1e6 * series.series_id  # nobody strikes twice at once
        paces = (1.9, 2.0, 2.2, 50.0)  # the last one no stroke has
        strokes = [
            bench.make_stroke(start_s + 20.0 * k, tip_speed_m_s=pace)
            for k, pace in enumerate(paces)
        ]
        for shot in bench.add(*strokes, series_id=series.series_id)[:2]:
            bench.log.set_result(shot.shot_id, grade="right", is_potted=True)
    bench.play((1.8, "too_little"), (2.0, "right"), (2.2, None))
    return bench


def changes(bench):
    """Yield every kind of change, each made by another program."""
    first = bench.series.series_id
    shots = bench.log.shots()
    one, two, last = shots[0].shot_id, shots[5].shot_id, shots[-1].shot_id
    stroke = bench.make_stroke(900.0, tip_speed_m_s=2.1)
    yield lambda log: log.set_result(one, grade="too_much")
    yield lambda log: log.undo()
    yield lambda log: log.redo()
    yield lambda log: log.discard(two)
    yield lambda log: log.restore(two)
    yield lambda log: log.set_broken_rule(last, "tip height changed")
    yield lambda log: log.move(last, shots[0].series_id)
    yield lambda log: log.add_shot(first, struck_utc=LATE + timedelta(days=9))
    yield lambda log: log.add_strokes(bench.recording_id, first, [stroke])
    yield lambda log: log.edit_series(shots[0].series_id, called_pace_m_s=2.05)
    yield lambda log: log.edit_series(first, side_m=0.002)
    yield lambda log: log.renew_strokes(bench.recording_id, [replace(stroke, tip_speed_m_s=2.3)])
    yield by_hand


def by_hand(log) -> None:
    """Change strokes by a statement of one's own, past all of the program's ways."""
    with log._write() as session:
        session.execute(text("UPDATE stroke SET tip_speed_m_s = 1.5 WHERE stroke_id <= 3"))


def test_whatever_another_program_changes_is_seen(played, log_url):
    assert_as_if_read_anew(played.log, log_url)
    for change in changes(played):
        with PracticeLog(log_url) as other:
            change(other)
        assert_as_if_read_anew(played.log, log_url)


def test_only_series_that_were_changed_are_read_again(played):
    asked = []

    def read(session, series_ids):
        asked.append(series_ids)
        return {one: str(one) for one in series_ids or (1, 2, 3, 4)}

    log = played.log
    assert log.kept_by_series("names", read).made == {1: "1", 2: "2", 3: "3", 4: "4"}
    log.kept_by_series("names", read)
    log.add_remark(1, "a remark changes no series")
    log.kept_by_series("names", read)
    assert asked == [None]
    shot = log.shots()[0]
    log.set_result(shot.shot_id, note="seen")
    assert log.kept_by_series("names", read).made == {1: "1", 2: "2", 3: "3", 4: "4"}
    assert asked == [None, [shot.series_id]]
