"""Recordings analysed again: what is kept, what moves, and that it matters not where it is done."""

import shutil
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from sqlalchemy import update

from cue_practice import reanalyse_workers
from cue_practice.errors import PracticeError
from cue_practice.generations import pair_up
from cue_practice.reanalyse import change_of, reanalyse
from cue_practice.tables import ShotRow, StrokeRow
from cue_recordings import data_folder
from cue_sensors.csv_file import write_csv
from cue_sensors.load import load_recording
from cue_signal.analysis import analyse
from cue_signal.stroke import METHOD_VERSION
from cue_signal.trend import HitTrend


@pytest.fixture(scope="session")
def recording(tmp_path_factory) -> Path:
    """The first strokes of a shipped recording: enough, and quickly analysed."""
    (file,) = data_folder().glob("5-*.mcap")
    path = tmp_path_factory.mktemp("short") / "first.csv"
    write_csv(load_recording(file).samples.between(0.0, 80.0), path)
    return path


@pytest.fixture(scope="session")
def strokes(recording):
    """What the present method finds in it."""
    return analyse(load_recording(recording)).strokes


@pytest.fixture
def archive(bench, tmp_path, recording, strokes, monkeypatch):
    """Return a log whose recording was measured by an older method, all its results tapped."""
    file = tmp_path / "evening" / "first.csv"
    file.parent.mkdir()
    shutil.copy(recording, file)
    entry = bench.log.add_recording(file)
    shots = bench.log.add_strokes(entry.recording_id, bench.series.series_id, strokes)
    for shot in shots:
        bench.log.set_result(shot.shot_id, grade="right", note=f"shot {shot.shot_id}")
    make_old(bench.log)
    # analysed once for all tests: the same every time, which test_analysis holds
    known = SimpleNamespace(strokes=strokes)
    monkeypatch.setattr(reanalyse_workers, "analyse", lambda _recording: known)
    return bench.log, file, [shot.shot_id for shot in shots]


def make_old(log, **by_shot):
    """Mark every stroke as an older method's; change measures of some, ``s3={...}`` by shot."""
    with log._write() as session:
        session.execute(update(StrokeRow).values(method_version="0"))
        for name, values in by_shot.items():
            stroke_id = session.get(ShotRow, int(name[1:])).stroke_id
            session.execute(
                update(StrokeRow).where(StrokeRow.stroke_id == stroke_id).values(**values)
            )


def taps(log):
    return [(s.shot_id, s.grade, s.note, s.tapped_utc) for s in log.shots(include_discarded=True)]


def test_measures_come_up_to_date_and_what_was_tapped_and_recorded_stays(archive, monkeypatch):
    monkeypatch.setattr(reanalyse_workers, "analyse", analyse)
    log, file, ids = archive
    third = log.shot(ids[2]).stroke.tip_speed_m_s
    make_old(
        log,
        **{f"s{ids[2]}": {"tip_speed_m_s": third - 0.25}},
        **{f"s{ids[3]}": {"slowing_probability": 1.0, "level_probability": 0.0}},
    )
    bytes_before, taps_before, n_history = file.read_bytes(), taps(log), len(log.history())
    found = reanalyse(log, n_cores=1)
    assert log.shot(ids[2]).stroke.tip_speed_m_s == third
    assert {shot.method_version for shot in log.shots()} == {METHOD_VERSION}
    assert (file.read_bytes(), taps(log)) == (bytes_before, taps_before)
    assert len(log.history()) == n_history
    speed = found.changes()[0]
    assert (speed.n_strokes, speed.n_moved, speed.largest_shot_id) == (len(ids), 1, ids[2])
    assert speed.largest == pytest.approx(0.25, abs=1e-12)
    assert list(found.trend_changes().values()) == [1]
    assert next(iter(found.trend_changes()))[0] is HitTrend.SLOWING
    older = log.older_measures(ids[2])[0]
    assert (older.method_version, older.stroke.tip_speed_m_s) == ("0", third - 0.25)
    assert reanalyse(log, n_cores=1).renewals == ()


def test_a_dry_run_says_the_same_and_changes_nothing(archive):
    log, _, ids = archive
    make_old(log, **{f"s{ids[0]}": {"impact_time_s": -5.0, "tip_speed_m_s": 9.0}})
    before = [repr(shot) for shot in log.shots(include_discarded=True)]
    tried = reanalyse(log, n_cores=1, is_dry_run=True)
    assert [repr(shot) for shot in log.shots(include_discarded=True)] == before
    assert log.older_measures(ids[1]) == []
    done = reanalyse(log, n_cores=1)
    assert (tried.changes(), tried.lost_kept) == (done.changes(), done.lost_kept)
    assert (tried.n_new, tried.renewals[0].new[0][1]) == (done.n_new, None)


def test_strokes_found_for_the_first_time_become_shots_of_the_series_around_them(archive, strokes):
    log, _, ids = archive
    other = log.add_series(1, 1, 1, 1, 0.007)
    for shot_id in ids[4:]:
        log.move(shot_id, other.series_id)
    make_old(log, **{f"s{ids[5]}": {"impact_time_s": -5.0}})
    found = reanalyse(log, n_cores=1)
    ((stroke, new_id),) = found.renewals[0].new
    shot = log.shot(new_id)
    assert stroke.impact_time_s == strokes[5].impact_time_s
    assert (shot.series_id, shot.grade) == (other.series_id, None)
    assert log.stroke_trace(new_id) is not None
    # the shot of the stroke that is gone has a result: it stays as it was
    assert found.lost_kept == [ids[5]]
    assert log.shot(ids[5]).method_version == "0"
    assert reanalyse(log, n_cores=1).renewals == ()


def test_a_lost_stroke_nobody_said_anything_about_is_discarded_until_it_is_found_again(
    archive, strokes
):
    log, _, ids = archive
    log.clear_result(ids[1])
    log.set_result(ids[1], note="")
    at_s = strokes[1].impact_time_s
    make_old(log, **{f"s{ids[1]}": {"impact_time_s": at_s + 5.0}})
    assert reanalyse(log, n_cores=1).lost_discarded == [ids[1]]
    assert log.shot(ids[1]).is_discarded
    assert "no longer found" in log.history(newest=1)[0].what
    moved_back = replace(strokes[1], impact_time_s=at_s + 5.0)
    renewal = log.renew_strokes(log.shot(ids[0]).recording_id, [*strokes, moved_back])
    assert ids[1] in [one.shot_id for one in renewal.moved]
    assert not log.shot(ids[1]).is_discarded


@pytest.mark.parametrize("say", ["remark", "mark", "rule"])
def test_a_lost_stroke_with_a_remark_or_a_mark_is_kept(archive, strokes, say):
    log, _, ids = archive
    log.clear_result(ids[1])
    log.set_result(ids[1], note="")
    {
        "remark": lambda: log.add_remark(ids[1], "steered"),
        "mark": lambda: log.set_mark_new(ids[1], True),
        "rule": lambda: log.set_broken_rule(ids[1], "miscue"),
    }[say]()
    kept = [stroke for k, stroke in enumerate(strokes) if k != 1]
    renewal = log.renew_strokes(log.shot(ids[0]).recording_id, kept)
    assert (renewal.lost_kept, renewal.lost_discarded) == ((ids[1],), ())


def test_a_shot_discarded_by_hand_stays_so(archive):
    log, _, ids = archive
    log.discard(ids[1])
    reanalyse(log, n_cores=1)
    assert log.shot(ids[1]).is_discarded
    assert log.shot(ids[1]).method_version == METHOD_VERSION


def test_recordings_that_cannot_be_read_are_named_and_the_others_done(archive, strokes, tmp_path):
    log, file, ids = archive
    for name, content in (("gone", None), ("changed", b"more"), ("torn", b"")):
        path = tmp_path / "evening" / f"{name}.csv"
        torn = b"no rows of numbers"
        path.write_bytes(torn if name == "torn" else file.read_bytes() + name.encode())
        entry = log.add_recording(path)
        at = replace(strokes[0], trace=None)
        log.add_strokes(entry.recording_id, 1, [at])
        if content is None:
            path.unlink()
        elif content:
            path.write_bytes(content)
    make_old(log)
    found = reanalyse(log, n_cores=1)
    assert len(found.renewals) == 1
    assert "gone.csv cannot be read: No such file" in found.problems[0]
    assert "changed.csv is not the file that was entered" in found.problems[1]
    assert "torn.csv" in found.problems[2]
    assert {log.shot(shot_id).method_version for shot_id in ids} == {METHOD_VERSION}


def test_an_archive_is_the_same_over_cores_and_on_a_cluster(
    archive, recording, strokes, tmp_path, monkeypatch
):
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(reanalyse_workers, "analyse", analyse)
    log, file, ids = archive
    lines = recording.read_text().splitlines(keepends=True)
    for name, n_lines in (("a", 3300), ("b", 2000)):  # 100 lines a second
        path = tmp_path / "evening" / f"{name}.csv"
        path.write_text("".join(lines[:n_lines]))
        log.add_strokes(log.add_recording(path).recording_id, 1, strokes[:3])
    file.unlink()
    make_old(log, **{f"s{ids[0]}": {"tip_speed_m_s": 1.0}})
    here = reanalyse(log, is_dry_run=True, n_cores=1)
    over_cores = reanalyse(log, is_dry_run=True, n_cores=2)
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None,
        host="127.0.0.1", protocol="tcp",
    ) as cluster:  # fmt: skip
        on_cluster = reanalyse(log, is_dry_run=True, dask_address=cluster.scheduler_address)
    assert [len(renewal.moved) for renewal in here.renewals] == [3, 2]
    assert len(here.problems) == 1
    for other in (over_cores, on_cluster):
        assert told(other) == told(here)


def written(stroke):
    """Return a stroke as text; a set's order differs between processes, so its flags are sorted."""
    return repr(replace(stroke, flags=frozenset())), sorted(stroke.flags)


def told(found):
    """Return everything a reanalysis says."""
    after = [[(one.shot_id, written(one.after)) for one in r.moved] for r in found.renewals]
    new = [[written(stroke) for stroke, _ in r.new] for r in found.renewals]
    return found.changes(), found.trend_changes(), after, new, found.problems


def test_a_cluster_that_is_not_there_is_told_in_a_sentence(archive, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr(reanalyse_workers, "CONNECT_SECONDS", 0.3)
    with pytest.raises(PracticeError, match=r"No Dask scheduler answers at 'tcp://127\.0\.0\.1:9'"):
        reanalyse(archive[0], dask_address="tcp://127.0.0.1:9")
    with pytest.raises(PracticeError, match="No Dask scheduler answers at 'no address'"):
        reanalyse(archive[0], dask_address="no address")


def test_fewer_than_one_core_is_the_callers_mistake(archive):
    with pytest.raises(ValueError, match="at least 1, got 0"):
        reanalyse(archive[0], n_cores=0)


@pytest.mark.parametrize(
    ("known", "found", "pairs", "new", "lost"),
    [
        ([1.0, 5.0], [1.02, 5.0], [(0, 0), (1, 1)], [], []),
        ([1.0], [1.2], [], [0], [0]),
        ([1.0], [0.95, 1.01], [(0, 1)], [0], []),
        ([1.0, 1.08], [1.05], [(1, 0)], [], [0]),
        ([], [3.0], [], [0], []),
    ],
)
def test_strokes_are_paired_by_their_touch_the_closest_first(known, found, pairs, new, lost):
    assert pair_up(known, found) == (pairs, new, lost)


def test_a_measure_that_no_stroke_has_did_not_move(archive):
    log, _, _ = archive
    moved = reanalyse(log, n_cores=1).moved
    without = [replace(one, after=replace(one.after, yaw_rad=None)) for one in moved]
    assert change_of("yaw_rad", without, 0.1).n_strokes == 0
