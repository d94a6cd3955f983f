import csv

import numpy as np
import pandas as pd
import pytest

from cue_practice.errors import PracticeError
from cue_practice.exports import read_csv, read_parquet, write_csv, write_parquet

NOTES = ["=1+1", "'=quoted", "-5 mm", 'plain, "quoted"\nof two lines', "", "你好"]


@pytest.fixture
def frame(bench, make_stroke) -> pd.DataFrame:
    """Shots whose numbers have no short decimal, with awkward notes and empty fields."""
    rng = np.random.default_rng(3)
    strokes = [
        make_stroke(10.0 + 20.0 * k, tip_speed_m_s=float(rng.normal(2.0, 0.3)), twist_rad=None)
        for k in range(len(NOTES) - 1)
    ]
    strokes.append(make_stroke(200.0, flags=frozenset()))
    for shot, note in zip(bench.add(*strokes), NOTES, strict=True):
        bench.log.set_result(shot.shot_id, "right", is_potted=shot.shot_id % 2 == 0, note=note)
    bench.log.add_shot(bench.series.series_id)
    return bench.log.shots_frame()


@pytest.mark.parametrize(
    ("write", "read"),
    [(write_csv, read_csv), (write_parquet, read_parquet)],
    ids=["csv", "parquet"],
)
def test_a_table_reads_back_as_it_was_written(frame, tmp_path, write, read):
    write(frame, tmp_path / "table")
    pd.testing.assert_frame_equal(read(tmp_path / "table"), frame, check_exact=True)


def test_pandas_alone_reads_the_same_numbers(frame, tmp_path):
    write_csv(frame, tmp_path / "shots.csv")
    write_parquet(frame, tmp_path / "shots.parquet")
    plain = pd.read_csv(tmp_path / "shots.csv")
    for found in (plain, pd.read_parquet(tmp_path / "shots.parquet")):
        np.testing.assert_allclose(found["tip_speed_m_s"], frame["tip_speed_m_s"], rtol=1e-15)
        assert list(found.columns) == list(frame.columns)


def test_no_text_of_the_file_begins_like_a_formula(frame, tmp_path):
    """Truth: the standard library's reader of CSV."""
    write_csv(frame, tmp_path / "shots.csv")
    with (tmp_path / "shots.csv").open(newline="", encoding="utf-8") as stream:
        rows = list(csv.reader(stream))
    notes = [row[rows[0].index("note")] for row in rows[1:]]
    assert not any(note.startswith(("=", "+", "-", "@")) for note in notes)
    assert notes[:3] == ["'=1+1", "''=quoted", "'-5 mm"]


@pytest.mark.parametrize("read", [read_csv, read_parquet])
def test_a_file_that_is_none_is_refused_by_name(tmp_path, read):
    with pytest.raises(PracticeError, match=r"nothing\.file cannot be read as a"):
        read(tmp_path / "nothing.file")
    (tmp_path / "odd.file").write_text("shot_id\nseven\n")
    with pytest.raises(PracticeError, match=r"odd\.file cannot be read as a"):
        read(tmp_path / "odd.file")
