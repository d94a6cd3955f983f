import base64
import json
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import MetaData, create_engine, select

from cue_practice.backup import restore_backup, write_backup
from cue_practice.database import HEAD_REVISION
from cue_practice.errors import PracticeError
from cue_practice.log import PracticeLog
from cue_practice.tables import Base, entered
from cue_sensors.samples import Calibration, Mounting

DUMPS = Path(__file__).parent / "data"


def everything(log: PracticeLog) -> dict[str, list]:
    with log._read() as session:
        return {
            table.name: [tuple(row) for row in session.execute(select(table)).all()]
            for table in entered(Base.metadata.sorted_tables)
        }


@pytest.fixture
def full(bench):
    """A log with a bit of everything in it."""
    shots = bench.play((1.8, "too_little"), (2.0, "right"), (2.2, None))
    bench.log.set_result(shots[0].shot_id, cushion_point_m=(0.03, 2.1), note='"=ü\n')
    bench.log.discard(shots[1].shot_id)
    bench.log.undo()
    bench.log.edit_series(bench.series.series_id, conditions="cold room", cloth="brushed")
    bench.log.add_remark(shots[2].shot_id, "grip tightens, früh \U0001f3b1", at_s=-0.1)
    bench.log.add_lesson(bench.series.player_id, text="Ruhe vor dem Stoß", exercise="静かに")
    bench.log.save_calibration("csv", "invented", Calibration(temperature_c=21.5))
    bench.log.save_mounting(bench.series.cue_id, "csv", "invented", Mounting(cue_length_m=1.45))
    return bench


@pytest.fixture
def empty(tmp_path):
    with PracticeLog(tmp_path / "other.sqlite3") as log:
        yield log


def test_a_backup_brings_everything_back(full, empty, tmp_path):
    n_rows = write_backup(full.log, tmp_path / "log.json")
    assert restore_backup(empty, tmp_path / "log.json") == n_rows
    assert everything(empty) == everything(full.log)
    traces = [log.stroke_trace(1).speed_m_s for log in (full.log, empty)]
    np.testing.assert_array_equal(*traces)
    assert empty.undo().what == full.log.undo().what
    assert empty.add_shot(full.series.series_id).shot_id == 4


def test_a_backup_is_json_that_says_what_it_is(full, tmp_path):
    write_backup(full.log, tmp_path / "log.json")
    content = json.loads((tmp_path / "log.json").read_text(encoding="utf-8"))
    assert (content["format"], content["schema"]) == ("stunpace-log/1", HEAD_REVISION)
    assert content["tables"]["shot"][0]["grade"] == "too_little"
    assert content["tables"]["stroke"][0]["tip_speed_m_s"] == 1.8


def test_a_log_that_holds_something_is_not_overwritten(full, tmp_path):
    write_backup(full.log, tmp_path / "log.json")
    before = everything(full.log)
    with pytest.raises(PracticeError, match="already holds something"):
        restore_backup(full.log, tmp_path / "log.json")
    assert everything(full.log) == before


@pytest.mark.parametrize(
    ("way", "value", "words"),
    [
        (("format",), "else", r"log\.json is no backup of a practice log"),
        (("schema",), "0099", r"newer version \(schema '0099'; this one knows up to 0004\)"),
        (("tables", "player", 0, "nickname"), "Her0n", "is damaged, or was changed after"),
        (("rows_sha256",), "", "is damaged, or was changed after"),
        (("tables", "shot"), 7, "every table is a list of rows"),
        (("tables", "shot", 0), {}, r"tables\.shot\[0\]: expected the fields shot_id"),
        (("tables", "shot", 0, "struck_utc"), "noon", r"tables\.shot\[0\]\.struck_utc: .*noon"),
        (("tables", "shot", 0, "is_discarded"), "no", r"is_discarded: expected bool, got 'no'"),
        (("tables", "stroke", 0, "tip_speed_m_s"), "2", r"tip_speed_m_s: expected float, got '2'"),
        (("tables", "stroke_trace", 0, "packed"), "%%%", r"stroke_trace\[0\]\.packed: "),
        (("tables", "shot", 1, "series_id"), 99, r"tables\.shot: FOREIGN KEY.*contradicts itself"),
        (("tables", "shot", 1, "grade"), "fine", r"tables\.shot: CHECK.*contradicts itself"),
        (("tables", "player", 0, "nickname"), None, r"tables\.player: NOT NULL.*nothing was chang"),
    ],
)
def test_a_backup_that_is_wrong_is_named_and_nothing_kept(full, empty, tmp_path, way, value, words):
    write_backup(full.log, tmp_path / "log.json")
    content = json.loads((tmp_path / "log.json").read_text(encoding="utf-8"))
    target = content
    for step in way[:-1]:
        target = target[step]
    target[way[-1]] = value
    if "contradicts" in words or "NOT NULL" in words:
        del content["rows_sha256"]  # as a program that takes no hash writes it
    (tmp_path / "log.json").write_text(json.dumps(content), encoding="utf-8")
    with pytest.raises(PracticeError, match=words):
        restore_backup(empty, tmp_path / "log.json")
    assert not any(everything(empty).values())


def test_a_backup_goes_from_one_kind_of_database_to_the_other_and_back(
    full, postgres_url, empty, tmp_path
):
    n_rows = write_backup(full.log, tmp_path / "log.json")
    with PracticeLog(postgres_url) as club:
        assert restore_backup(club, tmp_path / "log.json") == n_rows
        assert everything(club) == everything(full.log)
        # and the numbers go on after those that came with the file
        assert club.add_shot(full.series.series_id).shot_id == 4
        assert club.add_player("Otter").player_id == 2
        assert club.undo().what == "entering of shot 4"
        with pytest.raises(PracticeError, match="already holds something"):
            restore_backup(club, tmp_path / "log.json")
        write_backup(club, tmp_path / "club.json")
        restore_backup(empty, tmp_path / "club.json")
        assert everything(empty) == everything(club)


def test_a_backup_of_every_older_version_is_brought_to_this_ones_schema(empty, tmp_path):
    older = tmp_path / "old.sqlite3"
    with closing(sqlite3.connect(older)) as connection:
        connection.executescript((DUMPS / "log-0001.sql").read_text(encoding="utf-8"))
    content = as_version_0001_wrote_it(older)
    (tmp_path / "old.json").write_text(json.dumps(content), encoding="utf-8")
    restore_backup(empty, tmp_path / "old.json")
    with PracticeLog(older) as migrated:
        assert everything(empty) == everything(migrated)
    assert [shot.grade for shot in empty.shots()] == ["too_little", "right", None]


def as_version_0001_wrote_it(file):
    """Return a backup of a log of schema 0001: every table as it was, without a hash."""
    engine, schema = create_engine(f"sqlite:///{file}"), MetaData()
    schema.reflect(engine)
    tables = {}
    with engine.connect() as connection:
        for table in schema.sorted_tables:
            rows = connection.execute(select(table)).mappings()
            tables[table.name] = [
                {
                    name: value.replace(tzinfo=UTC).isoformat()
                    if isinstance(value, datetime)
                    else base64.b64encode(value).decode()
                    if isinstance(value, bytes)
                    else value
                    for name, value in row.items()
                }
                for row in rows
            ]
    engine.dispose()
    del tables["alembic_version"]
    return {"format": "stunpace-log/1", "schema": "0001", "tables": tables}


def test_a_backup_while_others_tap_holds_one_moment(full, tmp_path):
    shots = full.log.shots()
    with ThreadPoolExecutor(2) as threads:
        taps = threads.submit(
            lambda: [full.log.set_result(shots[0].shot_id, note=str(k)) for k in range(12)]
        )
        for k in range(4):
            write_backup(full.log, tmp_path / f"{k}.json")
        taps.result()
    for k in range(4):
        with PracticeLog(tmp_path / f"{k}.sqlite3") as log:
            restore_backup(log, tmp_path / f"{k}.json")
            newest = log.history(newest=1)[0]
            assert log.shot(shots[0].shot_id).note == newest.after.get("note", '"=ü\n')


def test_a_backup_that_was_cut_off_is_refused(full, empty, tmp_path):
    write_backup(full.log, tmp_path / "log.json")
    text = (tmp_path / "log.json").read_bytes()
    (tmp_path / "cut.json").write_bytes(text[: len(text) // 2])
    with pytest.raises(PracticeError, match=r"cut\.json is no whole backup"):
        restore_backup(empty, tmp_path / "cut.json")
    with pytest.raises(PracticeError, match=r"gone\.json cannot be read"):
        restore_backup(empty, tmp_path / "gone.json")


def test_a_backup_that_cannot_be_written_leaves_nothing_behind(full, tmp_path):
    with pytest.raises(PracticeError, match=r"cannot be written to .*nowhere/log\.json"):
        write_backup(full.log, tmp_path / "nowhere" / "log.json")
    (tmp_path / "taken").mkdir()
    with pytest.raises(PracticeError, match="cannot be written to"):
        write_backup(full.log, tmp_path / "taken")
    assert list(tmp_path.glob("*.partial")) == []
