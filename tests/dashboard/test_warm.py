"""What the first page would wait for is read beforehand."""

from sqlalchemy import event

from cue_dashboard.pupil_shots import pupil_shots
from cue_dashboard.sides import NOBODY, YEAR, sides_of
from cue_dashboard.warm import warm_pages
from cue_practice.log import PracticeLog


def test_a_warmed_log_is_not_read_again_for_the_same(log, series, played):
    warm_pages(log)
    asked = []
    event.listen(log._engine, "before_cursor_execute", lambda *of: asked.append(of[2]))
    log.shots_by_held()
    log.own_spread(series.player_id)
    pupil_shots(log, series.player_id)
    (side,) = sides_of(log, series.player_id, NOBODY, None, YEAR)
    assert len(side.shots) == len(played)
    read = [one for one in asked if one.startswith("SELECT") and "shot" in one]
    assert read == []


def test_an_empty_log_and_one_that_is_gone_are_no_fault(tmp_path):
    with PracticeLog(tmp_path / "empty.sqlite3") as log:
        warm_pages(log)
        for file in tmp_path.iterdir():
            file.unlink()
        log.close()
        tmp_path.joinpath("empty.sqlite3").write_bytes(b"no database")
        warm_pages(log)
