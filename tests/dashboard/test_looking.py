"""A device that may only look sees the pages, and nothing that it sends changes anything."""

from dataclasses import dataclass, replace

import pytest
from flask.testing import FlaskClient

from conftest import HOST, Outside, Wire
from cue_dashboard import ids
from cue_dashboard.app import create_app
from cue_dashboard.desk import Rehearsable, desk_of
from cue_dashboard.door import CAME_THROUGH, door_of
from cue_dashboard.guest_book import FILE_NAME, read_book
from cue_dashboard.ids import share as share_ids
from cue_dashboard.joining import PASS_COOKIE
from cue_dashboard.looking import OnlyLooksError, mark_looker, only_looks
from cue_dashboard.pages.log_file import PATH as FILE_PATH
from cue_dashboard.security import CSRF_COOKIE, CSRF_HEADER
from cue_dashboard.sharing import Sharing
from cue_dashboard.taps import TAP_PATH
from cue_dashboard.words import is_live
from cue_dashboard.words import share as words
from cue_practice.backup import write_backup
from cue_practice.folder import FOLDER_VARIABLE
from cue_practice.grades import Grade
from cue_recordings import data_folder

RECORDING = data_folder() / "2-wren-pale-higher.mcap"


@dataclass
class GuestWire(Wire):
    """Speaks to a dashboard as a device that was let in."""

    guest_pass: str

    def client(self) -> FlaskClient:
        client = Outside(self.app.server)
        client.environ_base[CAME_THROUGH] = True
        client.set_cookie(PASS_COOKIE, self.guest_pass, domain=HOST)
        client.set_cookie(CSRF_COOKIE, "served", domain=HOST)
        return client

    def post(self, path, **sent):
        return self.client().post(path, headers={CSRF_HEADER: "served"}, **sent)


@pytest.fixture
def app(log, tmp_path, monkeypatch):
    """Return the dashboard of the log, with one recording to rehearse."""
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path))
    app = create_app(log, recordings=(Rehearsable(RECORDING, "made up"),))
    app.server.test_client().get("/")
    yield app
    desk_of(app.server).stop()


@pytest.fixture
def let_in(app, door):
    """Return a function that lets a device in, to change things or to look only."""

    def enter(*, may_change):
        token = door.sharing.invite(may_change=may_change)
        return GuestWire(app, door.sharing.join(token, "a phone"))

    return enter


@pytest.fixture
def whole(log, tmp_path):
    """Return a function that returns all that is in the log."""

    def read():
        write_backup(log, tmp_path / "whole.json")
        lines = (tmp_path / "whole.json").read_text().splitlines()
        return [line for line in lines if "written_utc" not in line]

    return read


def starting(series):
    """Return what the form that starts a series holds."""
    return {
        "table_start_player": str(series.player_id),
        "table_start_cue": str(series.cue_id),
        "table_start_setup": str(series.setup_id),
        "table_start_tip": 7,
        "table_start_side": 0,
        "unit": "m/s",
    }


def tap_of(series, shot):
    return {
        "id": "one tap",
        "what": "grade",
        "value": "right",
        "series": series.series_id,
        "shot": shot.shot_id,
    }


def test_it_sees_the_pages_and_what_is_live(let_in):
    client = let_in(may_change=False).client()
    assert client.get("/").status_code == 200
    assert client.get("/table/live").status_code == 200
    assert words.ONLY_LOOKS in client.get("/_dash-layout").get_data(as_text=True)
    other = let_in(may_change=True).client()
    assert words.ONLY_LOOKS not in other.get("/_dash-layout").get_data(as_text=True)


@pytest.mark.parametrize("may_change", [False, True])
def test_a_tap_counts_only_of_those_who_may_change(let_in, play, series, log, may_change):
    shot = play((2.0, None))[0]
    answer = let_in(may_change=may_change).post(TAP_PATH, json=tap_of(series, shot))
    assert answer.status_code == (200 if may_change else 409)  # with 403 a page would try again
    assert (answer.get_json()["said"] == words.ONLY_LOOKS_FAULT) is not may_change
    assert log.shot(shot.shot_id).grade is (Grade.RIGHT if may_change else None)


@pytest.mark.parametrize("may_change", [False, True])
def test_a_series_is_started_only_by_those_who_may_change(let_in, series, log, may_change):
    wire = let_in(may_change=may_change)
    answer = wire.fire("table-started.data", (ids.TABLE_START_BUTTON, 1), **starting(series))
    said = answer[ids.TABLE_START_FAULT]["children"]
    assert said == ("" if may_change else words.ONLY_LOOKS_FAULT)
    assert len(log.all_series()) == (2 if may_change else 1)


@pytest.mark.parametrize("may_change", [False, True])
def test_a_recording_is_rehearsed_only_by_those_who_may_change(let_in, app, series, may_change):
    state = {"series_id": series.series_id}
    rehearse = {"table_recording": "0", "table_speed": "1", "table_desk": state}
    let_in(may_change=may_change).fire("table-sourced.data", (ids.TABLE_REHEARSE, 1), **rehearse)
    at = desk_of(app.server)
    assert (at.status() is None) is not may_change
    if may_change:
        looker = let_in(may_change=False)
        for button in (ids.TABLE_STOP, ids.TABLE_END):
            looker.fire("table-sourced.data", (button, 1), **rehearse)
        assert is_live(at.status())
        assert at.open_series() == series


def test_no_button_of_any_page_changes_anything(let_in, app, played, whole, log):
    before, wire = whole(), let_in(may_change=False)
    pressed = 0
    for key, callback in app.callback_map.items():
        for one in callback["inputs"]:
            if one["property"] == "n_clicks" and not one["id"].startswith("{"):
                body = {
                    "output": key,
                    "outputs": Wire._outputs(key),
                    "inputs": [Wire._filled(each, {one["id"]: 1}) for each in callback["inputs"]],
                    "state": [Wire._filled(each, {}) for each in callback["state"]],
                    "changedPropIds": [f"{one['id']}.n_clicks"],
                }
                wire.post("/_dash-update-component", json=body)
                pressed += 1
    assert pressed > 20
    assert whole() == before
    assert desk_of(app.server).status() is None
    assert door_of(app.server).address
    log.add_player("Avocet")  # this machine itself may
    assert whole() != before


@pytest.mark.parametrize(("may_change", "status"), [(False, 403), (True, 200)])
def test_a_file_is_taken_only_of_those_who_may_change(let_in, may_change, status):
    where = f"{FILE_PATH}?name=one.csv&size=10"
    assert let_in(may_change=may_change).post(where).status_code == status


def test_every_write_of_the_log_is_stopped_and_says_why(app, log, played, whole):
    shot_id = played[0].shot_id
    writes = (
        lambda: log.add_player("Avocet"),
        lambda: log.set_result(shot_id, grade=Grade.TOO_MUCH),
        lambda: log.discard(shot_id),
        lambda: log.undo(played[0].series_id),
    )
    before = whole()
    for write in writes:
        with app.server.test_request_context("/"):
            mark_looker()
            with pytest.raises(OnlyLooksError, match="only look"):
                write()
    assert not only_looks()  # nobody asks just now
    assert whole() == before


def test_a_link_to_look_only_is_on_the_page(app, wire, door):
    shown = wire.fire(f"{share_ids.CHANGED}.data", (share_ids.LOOK_LINK, 1))
    allows, _, text, _ = shown[share_ids.LINK]["children"]
    assert allows["props"]["children"]["props"]["children"] == words.LINK_LOOKS
    token = text["props"]["children"].partition("?k=")[2]
    guest_pass = door.sharing.join(token, "a phone")
    assert door.sharing.guest(guest_pass).may_change is False
    assert "1: a phone, looks only" in str(
        wire.fire(f"{share_ids.GUESTS}.children", (share_ids.TICK, 1))
    )


def test_who_may_only_look_may_do_no_more_after_a_restart(app, door, tmp_path):
    guest_pass = door.sharing.join(door.sharing.invite(may_change=False), "a phone")
    kept = read_book(tmp_path / FILE_NAME).guests
    again = Sharing()
    again.welcome_back(kept)
    assert again.guest(guest_pass).may_change is False


def test_guests_of_before_there_were_such_links_may_change(tmp_path):
    path = tmp_path / FILE_NAME
    sharing = Sharing(on_change=lambda guests: None)
    sharing.join(sharing.invite(), "a phone")
    guest = sharing.guests()[0]
    path.write_text(
        '{"port": 1, "guests": {"00": {"guest_id": 1, "label": "a phone", "joined_utc": "'
        + guest.joined_utc.isoformat()
        + '"}}}'
    )
    assert read_book(path).guests == {b"\0": replace(guest, seen_utc=guest.joined_utc)}
