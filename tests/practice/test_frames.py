import csv
import io

import pandas as pd
import pytest

from cue_practice.errors import PracticeError
from cue_practice.frames import csv_text, write_csv


def test_a_frame_has_one_row_a_shot_with_units_in_the_names(bench):
    bench.play((1.8, "too_little"), (2.0, None))
    bench.log.set_result(1, stop_point_m=(0.4, 1.1), is_potted=True)
    frame = bench.log.shots_frame()
    first = frame.iloc[0]
    assert list(frame["tip_speed_m_s"]) == [1.8, 2.0]
    assert (first["player"], first["setup"], first["grade"]) == ("Heron", "Long lane", "too_little")
    assert (first["stop_x_m"], first["stop_y_m"], first["is_potted"]) == (0.4, 1.1, True)
    assert first["flags"] == "clipped_hit no_tip_distance"
    assert str(frame["struck_utc"].dt.tz) == "UTC"
    assert frame.iloc[1][["grade", "is_potted", "yaw_rad"]].isna().all()


def test_every_number_of_a_frame_says_its_unit_or_has_none(bench):
    bench.play((1.8, "too_little"))
    frame = bench.log.shots_frame()
    units = ("_m", "_m_s", "_m_s2", "_s", "_rad")
    bare = {"shot_id", "series_id", "recording_id", "is_discarded", "is_potted", "feathers"}
    bare |= {"slowing_probability", "level_probability", "smoothness"}
    numbers = {n for n in frame.columns if pd.api.types.is_numeric_dtype(frame[n].dtype)}
    assert {name for name in numbers if not name.endswith(units)} == bare


def test_an_empty_frame_has_the_same_columns_and_types(bench):
    empty = bench.log.shots_frame()
    bench.play((1.8, "too_little"))
    pd.testing.assert_series_equal(empty.dtypes, bench.log.shots_frame().dtypes)


def test_a_note_that_begins_like_a_formula_is_defused(bench):
    shots = bench.play(*[(1.8, "right")] * 4)
    notes = ['=HYPERLINK("http://a.example")', "@SUM(A1)", "-2+3", "fine = good"]
    for shot, note in zip(shots, notes, strict=True):
        bench.log.set_result(shot.shot_id, note=note)
    rows = list(csv.DictReader(io.StringIO(csv_text(bench.log.shots_frame()))))
    assert [row["note"] for row in rows] == ["'" + note for note in notes[:3]] + notes[3:]


def test_negative_numbers_stay_numbers(bench):
    bench.play((1.8, "right"))
    row = next(csv.DictReader(io.StringIO(csv_text(bench.log.shots_frame()))))
    assert float(row["tip_lateral_m"]) == -0.001
    assert row["struck_utc"] == "2026-03-04T18:30:10+00:00"
    assert row["smoothness"] == ""


def test_a_column_named_like_a_formula_is_defused():
    assert csv_text(pd.DataFrame({"=1+1": ["a"]})).startswith("'=1+1")


def test_a_csv_file_is_written_whole_or_not_at_all(bench, tmp_path):
    bench.play((1.8, "right"))
    frame = bench.log.shots_frame()
    write_csv(frame, tmp_path / "shots.csv")
    assert len(pd.read_csv(tmp_path / "shots.csv")) == 1
    with pytest.raises(PracticeError, match=r"cannot be written to .*nowhere/shots\.csv"):
        write_csv(frame, tmp_path / "nowhere" / "shots.csv")
    assert [file.name for file in tmp_path.glob("*.partial")] == []
