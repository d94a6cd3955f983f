import csv
import io
from datetime import datetime

import numpy as np
import pandas as pd
import pytest
from sqlalchemy import event

from cue_practice.errors import PracticeError
from cue_practice.frames import csv_text, write_csv
from cue_practice.rows import MEASURES


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
    bare |= {"is_mark_new", "tempo", "slowing_probability", "level_probability", "smoothness"}
    numbers = {n for n in frame.columns if pd.api.types.is_numeric_dtype(frame[n].dtype)}
    assert {name for name in numbers if not name.endswith(units)} == bare


def test_a_frame_tells_the_conditions_and_nothing_where_none_were_said(bench):
    bench.play((1.8, "right"))
    assert bench.log.shots_frame()[["cloth", "conditions"]].isna().all(axis=None)
    bench.log.edit_series(1, cloth="brushed", conditions="cold room")
    bench.log.set_mark_new(1, True)
    row = bench.log.shots_frame(columns=("cloth", "conditions", "is_mark_new")).iloc[0]
    assert row.tolist() == ["brushed", "cold room", True]


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


def test_only_the_columns_asked_for_are_read(bench):
    bench.play((1.8, "too_little"), (2.0, None))
    seen = []
    event.listen(
        bench.log._engine, "before_cursor_execute", lambda _c, _u, text, *_: seen.append(text)
    )
    frame = bench.log.shots_frame(columns=("shot_id", "grade"))
    assert list(frame.columns) == ["shot_id", "grade"]
    assert list(frame["grade"].fillna("")) == ["too_little", ""]
    assert not any("stroke" in text.split("FROM", 1)[-1] for text in seen)
    with pytest.raises(ValueError, match=r"no column 'speed'; there are shot_id, "):
        bench.log.shots_frame(columns=("speed",))


def test_a_frame_has_the_same_values_as_the_shots(bench, make_stroke):
    bench.play((1.8, "too_little"), (2.0, "right"))
    bench.log.add_shot(bench.series.series_id)
    bench.log.discard(1)
    for is_all in (False, True):
        frame = bench.log.shots_frame(include_discarded=is_all)
        shots = bench.log.shots(include_discarded=is_all)
        assert list(frame["shot_id"]) == [shot.shot_id for shot in shots]
        assert list(frame["struck_utc"]) == [shot.struck_utc for shot in shots]
        for name in MEASURES:
            expected = [getattr(shot.stroke, name, None) for shot in shots]
            assert [None if pd.isna(v) else v for v in frame[name]] == expected


def test_pages_of_a_frame_make_up_the_whole(bench):
    bench.play(*[(1.5 + 0.1 * k, None) for k in range(7)])
    pages = [bench.log.shots_frame(newest=3, offset=start) for start in (6, 3, 0)]
    whole = bench.log.shots_frame()
    pd.testing.assert_frame_equal(pd.concat(pages, ignore_index=True), whole)
    assert bench.log.shot_ids(newest=3, offset=3) == list(pages[1]["shot_id"])
    assert [s.shot_id for s in bench.log.shots(newest=3, offset=6)] == list(pages[0]["shot_id"])


def test_sums_over_series_are_those_of_pandas(bench, make_stroke):
    rng = np.random.default_rng(11)
    called = bench.another_series(called_pace_m_s=4.0)
    for series, start_s in ((bench.series, 10.0), (called, 5000.0)):
        strokes = [
            make_stroke(start_s + 20 * k, tip_speed_m_s=float(pace), accel_at_hit_m_s2=float(a))
            for k, (pace, a) in enumerate(rng.uniform(1.0, 5.0, (12, 2)))
        ]
        shots = bench.add(*strokes, series_id=series.series_id)
        for shot, grade in zip(shots, ["right", "too_much", "too_little", None] * 3, strict=True):
            bench.log.set_result(shot.shot_id, grade=grade, is_potted=grade == "right")
        bench.log.set_broken_rule(shots[2].shot_id, "miscue")
        bench.log.discard(shots[3].shot_id)
        bench.log.add_shot(series.series_id)
    sums = bench.log.series_frame().set_index("series_id")
    kept = bench.log.shots_frame().query("broken_rule.isna() and tip_speed_m_s.notna()")
    pace = kept.groupby("series_id")["tip_speed_m_s"]
    np.testing.assert_allclose(sums["pace_mean_m_s"], pace.mean(), rtol=1e-14)
    # two sums of squares are subtracted: good to some 1e-15 of the square, 25 here, over 0.01
    np.testing.assert_allclose(sums["pace_spread_m_s"], pace.std(), rtol=1e-12)
    np.testing.assert_array_equal(sums["pace_max_m_s"], pace.max())
    accel = kept.groupby("series_id")["accel_at_hit_m_s2"].mean()
    np.testing.assert_allclose(sums["accel_at_hit_mean_m_s2"], accel, rtol=1e-14)
    counts = ["n_shots", "n_strokes", "n_right", "n_too_little", "n_potted", "n_missed", "n_kept"]
    assert sums.loc[called.series_id, counts].tolist() == [12, 11, 3, 3, 3, 8, 10]


def test_a_series_of_one_has_a_mean_and_no_spread(bench):
    bench.play((2.5, "right"))
    row = bench.log.series_frame().iloc[0]
    assert (row["pace_mean_m_s"], row["n_kept"], row["player"]) == (2.5, 1, "Heron")
    assert pd.isna(row["pace_spread_m_s"])
    assert bench.log.series_frame(player_id=77).dtypes.equals(bench.log.series_frame().dtypes)


def test_shots_are_counted_and_chosen_by_every_condition(bench, make_stroke):
    first, second, third = bench.play((1.8, "too_little"), (2.0, "right"), (2.2, None))
    bare = bench.log.add_shot(bench.series.series_id, struck_utc=third.struck_utc)
    side = bench.another_series(side_m=0.003, cue_id=bench.log.add_cue("maple").cue_id)
    aside = bench.add(make_stroke(900.0), series_id=side.series_id)[0]
    bench.log.discard(first.shot_id)
    cases = [
        ({}, [second, third, bare, aside]),
        ({"include_discarded": True}, [first, second, third, bare, aside]),
        ({"grade": "right"}, [second]),
        ({"has_result": False}, [third, bare, aside]),
        ({"has_stroke": False}, [bare]),
        ({"has_stroke": True, "side_m": 0.003}, [aside]),
        ({"cue_id": side.cue_id, "table_id": side.table_id}, [aside]),
        ({"since_utc": third.struck_utc, "until_utc": aside.struck_utc}, [third, bare]),
    ]
    for chosen, expected in cases:
        ids = [shot.shot_id for shot in expected]
        assert [shot.shot_id for shot in bench.log.shots(**chosen)] == ids, chosen
        assert bench.log.shot_ids(**chosen) == ids, chosen
        assert list(bench.log.shots_frame(**chosen)["shot_id"]) == ids, chosen
        assert bench.log.count_shots(**chosen) == len(ids), chosen
    with pytest.raises(ValueError, match="since_utc must have a time zone"):
        bench.log.count_shots(since_utc=datetime(2026, 3, 4))
