import json
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from cue_practice import evening
from cue_practice.errors import PracticeError
from cue_practice.evening import load_evening
from cue_practice.grades import Grade
from cue_recordings import data_folder
from cue_sensors.samples import Recording, Samples
from cue_signal.analysis import Analysis
from cue_signal.stroke import Stroke

START = datetime(2026, 3, 4, 18, 30, tzinfo=UTC)


def recording(name: str) -> Recording:
    """Return an empty recording that starts with the evening."""
    nothing = np.empty(0)
    samples = Samples(nothing, np.empty((0, 3)), None, nothing.astype(bool), 200.0)
    return Recording(name=name, samples=samples, start_utc=START, problems=("Cut off.",))


def tap(seconds: float, grade: str, series: str = "a", **more) -> dict:
    return {"tapped_utc": (START + timedelta(seconds=seconds)).isoformat(), "series": series,
            "grade": grade, **more}  # fmt: skip


@pytest.fixture
def folder(tmp_path, setup, make_stroke, monkeypatch) -> Path:
    """An evening whose analysis is known: strokes at 10, 30, 50 s in one recording."""
    place = tmp_path / "evening"
    place.mkdir()
    (place / "one.mcap").write_bytes(b"one")
    held = {
        "player": "Heron", "cue": "ash", "table": "Attic", "setup": setup.name,
        "recording": "one.mcap", "tip_below_centre_m": 0.0095,
    }  # fmt: skip
    whole = {
        "format": "stunpace-evening/1",
        "players": [{"nickname": "Heron"}],
        "cues": [{"name": "ash", "mass_kg": 0.5, "length_m": 1.46, "tip_width_m": 0.0095}],
        "tables": [{"name": "Attic", "length_m": 3.569, "width_m": 1.778}],
        "setups": [
            {
                "name": setup.name, "table": "Attic", "white_m": setup.white_m,
                "object_ball_m": setup.object_ball_m, "pocket": setup.pocket,
                "landing_area_m": setup.landing_area_m,
            }
        ],
        "series": [
            {"key": "a", "started_utc": START.isoformat(),
             "ended_utc": (START + timedelta(seconds=40)).isoformat(), **held},
            {"key": "b", "started_utc": (START + timedelta(seconds=41)).isoformat(), **held},
        ],
        "taps": [tap(14, "too_little"), tap(35, "right"), tap(55, "too_much", "b")],
    }  # fmt: skip
    (place / "evening.json").write_text(json.dumps(whole), encoding="utf-8")
    strokes = tuple(make_stroke(at, tip_speed_m_s=1.5 + at / 100) for at in (10.0, 30.0, 50.0))
    monkeypatch.setattr(evening, "load_recording", lambda file: recording(Path(file).name))
    monkeypatch.setattr(evening, "analyse", lambda _: analysis(strokes))
    return place


def analysis(strokes: tuple[Stroke, ...]) -> Analysis:
    return Analysis(strokes, None, None, "unknown", np.empty((0, 2)), ("One note.",))


def with_taps(folder: Path, *taps: dict) -> Path:
    file = folder / "evening.json"
    file.write_text(json.dumps(json.loads(file.read_text()) | {"taps": list(taps)}))
    return folder


def grades(log) -> list[Grade | None]:
    return [shot.grade for shot in log.shots(include_discarded=True)]


def test_strokes_and_taps_find_each_other_and_their_series(log, folder):
    report = load_evening(log, folder)
    assert grades(log) == [Grade.TOO_LITTLE, Grade.RIGHT, Grade.TOO_MUCH]
    by_series = {key: [s.pace_m_s for s in log.shots(series_id=one.series_id)]
                 for key, one in report.series.items()}  # fmt: skip
    assert by_series == {"a": [1.6, 1.8], "b": [2.0]}
    assert (report.n_recordings, report.n_strokes, report.n_new_strokes) == (1, 3, 3)
    assert (report.n_taps, report.n_taps_kept) == (3, 3)
    assert report.notes == ("one.mcap: Cut off.", "one.mcap: One note.")
    assert log.shots()[1].tapped_utc == START + timedelta(seconds=35)
    assert log.setups()[0].name == "Long lane"


def test_an_evening_loaded_twice_adds_nothing(log, folder):
    load_evening(log, folder)
    before = [vars(shot) | {"stroke": None} for shot in log.shots()]
    again = load_evening(log, str(folder))
    assert again.n_new_strokes == 0
    assert again.n_taps_kept == 3
    assert [vars(shot) | {"stroke": None} for shot in log.shots()] == before
    assert len(log.all_series()) == 2
    assert len(log.recordings()) == len(log.players()) == len(log.cues()) == 1


def test_what_the_player_changed_since_is_not_overridden(log, folder):
    load_evening(log, folder)
    first, second, third = log.shots()
    log.set_result(first.shot_id, grade="right")
    log.clear_result(second.shot_id)
    log.discard(third.shot_id)
    log.edit_series(first.series_id, tip_below_centre_m=0.0100)
    load_evening(log, folder)
    assert grades(log) == [Grade.RIGHT, None, Grade.TOO_MUCH]
    assert log.shot(third.shot_id).is_discarded
    assert log.series(first.series_id).tip_below_centre_m == 0.0100
    assert len(log.all_series()) == 2


@pytest.mark.parametrize(
    ("taps", "expected"),
    [
        ([tap(29.9, "right")], [Grade.RIGHT, None, None]),
        ([tap(30.1, "right")], [None, Grade.RIGHT, None]),
        ([tap(9.9, "right")], [None, None, None]),
        ([tap(70.0, "right", "b")], [None, None, Grade.RIGHT]),
        ([tap(70.1, "right", "b")], [None, None, None]),
        ([tap(32, "too_much"), tap(31, "right")], [None, Grade.RIGHT, None]),
    ],
    ids=["before the next", "after it", "before all", "20 s late", "too late", "two for one"],
)
def test_a_tap_belongs_to_the_last_free_stroke_before_it(log, folder, taps, expected):
    report = load_evening(log, with_taps(folder, *taps))
    assert grades(log) == expected
    lost = [note for note in report.notes if "is no stroke's result" in note]
    assert len(lost) == len(taps) - report.n_taps_kept


def test_progress_is_told_step_by_step(log, folder):
    told = []
    load_evening(log, folder, on_progress=lambda *step: told.append(step))
    assert told == [
        (0, 2, "analysing one.mcap"),
        (1, 2, "keeping strokes and results"),
        (2, 2, "done"),
    ]


def test_a_recording_that_cannot_be_analysed_changes_nothing(log, folder, monkeypatch):
    def fail(_):
        raise PracticeError("Looks like g.")

    monkeypatch.setattr(evening, "analyse", fail)
    with pytest.raises(PracticeError, match="Looks like g"):
        load_evening(log, folder)
    assert log.players() == log.all_series() == log.recordings() == []


def test_a_set_up_that_cannot_be_played_is_named_and_changes_nothing(log, folder):
    file = folder / "evening.json"
    whole = json.loads(file.read_text())
    whole["setups"][0]["white_m"] = [0.889, 20.0]
    file.write_text(json.dumps(whole))
    with pytest.raises(PracticeError, match=r"setups\[0\]: .*20"):
        load_evening(log, folder)
    assert log.tables() == []


def test_another_set_up_of_the_same_name_is_refused(log, folder):
    load_evening(log, folder)
    file = folder / "evening.json"
    whole = json.loads(file.read_text())
    whole["setups"][0]["white_m"] = [0.9, 2.0]
    file.write_text(json.dumps(whole))
    with pytest.raises(PracticeError, match="already has another set-up 'Long lane' on 'Attic'"):
        load_evening(log, folder)


def test_the_shipped_evening_loads_whole(log, tmp_path):
    """One recording of it, the others being the same path: its strokes match its own truth."""
    place = tmp_path / "shipped"
    shutil.copytree(data_folder(), place)
    whole = json.loads((place / "evening.json").read_text(encoding="utf-8"))
    first = whole["series"][0]
    whole["series"] = [first]
    whole["taps"] = [one for one in whole["taps"] if one["series"] == first["key"]]
    (place / "evening.json").write_text(json.dumps(whole), encoding="utf-8")
    report = load_evening(log, place)
    truth = json.loads((place / first["recording"]).with_suffix(".truth.json").read_text())
    assert report.n_strokes == len(truth["strokes"])
    assert report.n_taps_kept == report.n_taps
    graded = [shot for shot in log.shots() if shot.grade is not None]
    assert len(graded) == report.n_taps
