"""Taking in a file: limited, checked, in parts; a bad file says why and leaves the log alone."""

import json
import time

import numpy as np
import pytest

from cue_dashboard import taking_in
from cue_dashboard.errors import DashboardError
from cue_dashboard.ids import taking_in as own
from cue_dashboard.pages import log_file
from cue_dashboard.security import CSRF_COOKIE, CSRF_HEADER
from cue_dashboard.taking_in import MAX_FILE_BYTES, MOST_JOBS, PART_BYTES, TakingIn
from cue_recordings import data_folder

WAIT_S = 60
STILL_CSV = "time_s,ax_m_s2,ay_m_s2,az_m_s2\n" + "".join(
    f"{k / 200:.3f},0.0,0.0,{9.81 + 0.01 * np.sin(k):.4f}\n" for k in range(2000)
)
"""Ten seconds of a cue that lies still."""


@pytest.fixture
def door(tmp_path):
    return TakingIn(tmp_path / "taken")


def sent(door, name, content):
    """Send a file whole and return its key."""
    key = door.begin(name, len(content))
    for at in range(0, len(content), PART_BYTES):
        door.add(key, at, content[at : at + PART_BYTES])
    return key


def finished(door, key):
    """Wait until a file is over and return how it ended."""
    until = time.monotonic() + WAIT_S
    while not (state := door.state(key)).is_over:
        assert time.monotonic() < until
        time.sleep(0.02)
    return state


def kept_files(door):
    return list(door._folder.iterdir())


@pytest.mark.parametrize(
    ("name", "n_bytes", "said"),
    [
        ("song.mp3", 100, "'song.mp3' is no file that can be taken in"),
        ("evening", 100, ".mcap or .csv"),
        ("evening.csv", 0, "'evening.csv' is empty"),
        ("evening.csv", MAX_FILE_BYTES + 1, "has 64 MB, at most 64 MB"),
    ],
)
def test_a_file_of_the_wrong_kind_or_size_is_refused_before_it_is_sent(door, name, n_bytes, said):
    with pytest.raises(DashboardError, match=".*".join(said.split("|"))):
        door.begin(name, n_bytes)


@pytest.mark.parametrize("name", ["../../evil.csv", "C:\\temp\\evil.csv", "/etc/evil.csv"])
def test_a_path_in_a_name_leads_nowhere(door, name):
    key = door.begin(name, 3)
    door.add(key, 0, b"abc")
    (file,) = kept_files(door)
    assert file.parent == door._folder
    assert file.name.startswith("evil-")


def test_parts_out_of_order_are_refused_and_nothing_stays(door):
    key = door.begin("evening.csv", 10)
    door.add(key, 0, b"abcd")
    with pytest.raises(DashboardError, match="out of order"):
        door.add(key, 8, b"ij")
    assert kept_files(door) == []
    with pytest.raises(DashboardError, match="not known"):
        door.add(key, 4, b"efgh")


def test_more_than_was_said_is_refused(door):
    key = door.begin("evening.csv", 3)
    with pytest.raises(DashboardError, match="out of order"):
        door.add(key, 0, b"abcd")


def test_a_file_that_is_not_whole_is_not_analysed(door, log, series):
    key = door.begin("evening.csv", 10)
    door.add(key, 0, b"abcd")
    with pytest.raises(DashboardError, match="did not come through"):
        door.start(key, log, series.series_id)
    assert kept_files(door) == []


def test_only_a_few_come_in_at_a_time_and_a_stale_one_makes_room(door, monkeypatch):
    for _ in range(MOST_JOBS):
        door.begin("evening.csv", 10)
    with pytest.raises(DashboardError, match=f"{MOST_JOBS} files"):
        door.begin("evening.csv", 10)
    monkeypatch.setattr(taking_in, "STALE_S", -1.0)
    assert door.begin("evening.csv", 10)


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("noise.csv", b"not,a,recording\n1,2,3\n", "noise.csv"),
        ("cut.mcap", b"\x89MCAP0\r\n" + bytes(40), "cut.mcap"),
        ("still.csv", STILL_CSV.encode(), "No stroke was found in still.csv"),
    ],
    ids=["not samples", "a cut recording", "no stroke"],
)
def test_a_file_without_strokes_says_so_by_its_own_name_and_is_not_kept(
    door, log, series, name, content, said
):
    key = sent(door, name, content)
    door.start(key, log, series.series_id)
    state = finished(door, key)
    assert state.is_fault
    assert said in state.words
    assert str(door._folder) not in state.words
    assert log.count_shots() == 0
    assert log.recordings() == []
    assert kept_files(door) == []


@pytest.fixture(scope="module")
def evening():
    """Return the smallest shipped recording."""
    return min(data_folder().glob("*.mcap"), key=lambda path: path.stat().st_size)


def test_the_strokes_of_a_recording_come_into_the_series_once(door, log, series, evening):
    content = evening.read_bytes()
    key = sent(door, evening.name, content)
    door.start(key, log, series.series_id)
    state = finished(door, key)
    truth = json.loads(evening.with_suffix(".truth.json").read_text(encoding="utf-8"))
    expected = [one["tip_speed_m_s"] for one in truth["strokes"]]
    paces = [shot.pace_m_s for shot in log.shots(series_id=series.series_id)]
    # how well paces are measured is held elsewhere; here only which strokes these are
    assert paces == pytest.approx(expected, rel=0.2)
    assert f"{len(expected)} strokes" in state.words
    assert log.shot(state.shot_id).series_id == series.series_id
    again = sent(door, "again.mcap", content)
    door.start(again, log, series.series_id)
    assert "taken in before" in finished(door, again).words
    assert log.count_shots() == len(expected)
    assert len(kept_files(door)) == 1


@pytest.fixture
def client(app, tmp_path):
    """Return a browser that was served a page, and a dashboard that keeps files in a folder."""
    app.server.config[log_file._KEY] = TakingIn(tmp_path / "taken")
    client = app.server.test_client()
    client.set_cookie(CSRF_COOKIE, "served", domain="localhost")
    return client


def post(client, path, content=b"", headers=None):
    return client.post(path, data=content, headers=headers or {CSRF_HEADER: "served"})


def test_a_file_is_sent_in_parts_and_a_fault_is_said_on_the_page(client, wire, series):
    content = STILL_CSV.encode()
    begun = post(client, f"/log/file?name=still.csv&size={len(content)}")
    key = begun.get_json()["key"]
    assert post(client, f"/log/file/{key}?at=0", content).status_code == 200
    answer = wire.fire(
        "taking-in-job.data", (own.SENT, {"key": key}), taking_in_series=str(series.series_id)
    )
    with client.application.app_context():
        state = finished(log_file.taking_in(), key)
    answer = wire.fire(
        "taking-in-job.data",
        (own.TICK, 1),
        taking_in_sent={"key": key},
        taking_in_series=str(series.series_id),
        taking_in_job=key,
    )
    assert answer[own.SAID]["children"] == state.words
    assert answer[own.TICK]["disabled"]


def test_a_refused_file_is_answered_with_its_sentence(client):
    answer = post(client, "/log/file?name=song.mp3&size=10")
    assert answer.status_code == 400
    assert "song.mp3" in answer.get_json()["fault"]


def test_another_site_cannot_send_a_file(client):
    path = "/log/file?name=evening.csv&size=10"
    elsewhere = {CSRF_HEADER: "served", "Origin": "http://elsewhere.example"}
    assert post(client, path, headers=elsewhere).status_code == 403
    assert post(client, path, headers={"X-Other": "1"}).status_code == 403


def test_without_a_series_the_card_says_what_to_do_first(app):
    with app.server.app_context():
        assert "Start a series at the table first" in json.dumps(
            log_file.file_card().to_plotly_json(), default=lambda one: one.to_plotly_json()
        )
