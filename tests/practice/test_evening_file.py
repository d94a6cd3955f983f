import json
from pathlib import Path
from typing import Any

import pytest

from cue_practice.errors import PracticeError
from cue_practice.evening_file import read_evening

GOOD: dict[str, Any] = {
    "format": "stunpace-evening/1",
    "invented": True,
    "scenario": "Two neighbours in an attic.",
    "players": [{"nickname": "Heron"}],
    "cues": [
        {"name": "ash", "player": "Heron", "mass_kg": 0.5, "length_m": 1.46, "tip_width_m": 0.0095}
    ],
    "tables": [{"name": "Attic", "length_m": 3.569, "width_m": 1.778}],
    "setups": [
        {
            "name": "Long lane",
            "table": "Attic",
            "white_m": [0.889, 2.0],
            "object_ball_m": [1.1, 2.6],
            "pocket": "top_right",
            "next_ball_m": None,
            "landing_area_m": [[0.2, 2.0], [0.9, 2.0], [0.9, 2.9]],
        }
    ],
    "series": [
        {
            "key": "a",
            "player": "Heron",
            "cue": "ash",
            "table": "Attic",
            "setup": "Long lane",
            "recording": "a.csv",
            "tip_below_centre_m": 0.0095,
            "side_m": 0.0,
            "called_pace_m_s": None,
            "started_utc": "2026-03-04T18:30:00+00:00",
            "ended_utc": "2026-03-04T18:50:00+00:00",
        }
    ],
    "taps": [
        {
            "tapped_utc": "2026-03-04T18:31:00.250+00:00",
            "series": "a",
            "grade": "right",
            "is_potted": True,
            "cushion_point_m": [0.03, 2.2],
            "stop_point_m": None,
            "note": "",
        }
    ],
}


def written(folder: Path, evening: Any) -> Path:
    """Write an evening and an empty recording into a folder."""
    (folder / "evening.json").write_text(json.dumps(evening), encoding="utf-8")
    (folder / "a.csv").touch()
    return folder


def changed(place: str, value: Any) -> dict[str, Any]:
    """Return the good evening with one value put in a place, like taps.0.grade."""
    evening = json.loads(json.dumps(GOOD))
    *way, last = [int(step) if step.isdigit() else step for step in place.split(".")]
    target = evening
    for step in way:
        target = target[step]
    target[last] = value
    return evening


def test_a_good_file_is_read(tmp_path):
    evening = read_evening(written(tmp_path, GOOD))
    assert evening.taps[0].grade == "right"
    assert evening.setups[0].landing_area_m[2] == (0.9, 2.9)
    assert evening.series[0].started_utc.isoformat() == "2026-03-04T18:30:00+00:00"


@pytest.mark.parametrize(
    ("place", "value", "words"),
    [
        ("format", "stunpace-evening/9", r"evening\.json, format: .*'stunpace-evening/1'.*/9"),
        ("taps.0.grade", "splendid", r"taps\[0\]\.grade: .*got \"splendid\""),
        ("taps.0.tapped_utc", "2026-03-04T18:31:00", r"taps\[0\]\.tapped_utc: .*timezone"),
        ("taps.0.cushion_point_m", [0.03], r"taps\[0\]\.cushion_point_m\[1\]: field required"),
        ("taps.0.series", "b", r"taps\[0\]\.series: 'b' is not a name that the file gives"),
        ("series.0.tip_below_centre_m", "low", r"series\[0\]\.tip_below_centre_m: .*got \"low\""),
        ("series.0.setup", "Short", r"series\[0\]\.setup: 'Short' is not a name"),
        ("series.0.cue", "maple", r"series\[0\]\.cue: 'maple' is not a name"),
        ("series.0.recording", "../a.csv", r"series\[0\]\.recording: '\.\./a\.csv' is not a plain"),
        ("series.0.recording", "b.csv", r"series\[0\]\.recording: there is no file 'b\.csv'"),
        ("setups.0.pocket", "left", r"setups\[0\]\.pocket: .*got \"left\""),
        ("setups.0.landing_area_m", [[0, 0]], r"setups\[0\]\.landing_area_m: .*at least 3"),
        ("cues.0.mass_kg", float("nan"), r"cues\[0\]\.mass_kg: .*finite"),
        ("cues.0.player", "Crane", r"cues\[0\]\.player: 'Crane' is not a name"),
        ("players", [{"nickname": "A"}] * 2, r"players\[1\]: 'A' is not a name that is not given"),
        ("players", 7, "players: .*got 7"),
        ("players.0.nickname", "", r"players\[0\]\.nickname: .*at least 1 character"),
        ("tables.0.colour", "green", r"tables\[0\]\.colour: extra inputs are not permitted"),
    ],
)
def test_what_is_wrong_is_named_with_file_entry_and_field(place, value, words, tmp_path):
    folder = written(tmp_path, changed(place, value))
    with pytest.raises(PracticeError, match=words):
        read_evening(folder)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "line 1, column 1: no JSON here"),
        (b'{"format": "stunpace-evening/1",\n "players": [}', "line 2, column 14: no JSON here"),
        (b"\xff\xfe\x00", "is no JSON text"),
        (b"[" * 100_000, "is no JSON text|no JSON here"),
        (b"[1, 2]", "the whole file: .*got"),
    ],
    ids=["empty", "cut", "bytes", "deep", "list"],
)
def test_a_file_that_is_no_evening_is_refused(content, words, tmp_path):
    (tmp_path / "evening.json").write_bytes(content)
    with pytest.raises(PracticeError, match=words):
        read_evening(tmp_path)


def test_a_folder_without_the_file_is_refused(tmp_path):
    with pytest.raises(PracticeError, match=r"evening\.json cannot be read: No such file"):
        read_evening(tmp_path)


def test_a_huge_file_is_not_read(tmp_path):
    with (tmp_path / "evening.json").open("wb") as stream:
        stream.truncate(1_000_000_000)
    with pytest.raises(PracticeError, match="has 1000 MB; an evening has at most 50 MB"):
        read_evening(tmp_path)
