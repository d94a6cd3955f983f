"""Sharing on the local network: nobody gets anything without a link, and each link lets one in."""

import concurrent.futures
import contextlib
import datetime
import hashlib
import re
import socket
import ssl
import stat
import threading
import time
import urllib.error
import urllib.request

import pytest

from conftest import HOST, Outside
from cue_dashboard.app import create_app
from cue_dashboard.certificate import FILE_NAME, RENEW_BEFORE, own_certificate
from cue_dashboard.door import CAME_THROUGH, door_of, local_network_address
from cue_dashboard.errors import DashboardError, PortBusyError
from cue_dashboard.guest_book import FILE_NAME as BOOK_NAME
from cue_dashboard.guest_book import PASS_LASTS_S, Guest, GuestBook, read_book, write_book
from cue_dashboard.ids import share as ids
from cue_dashboard.joining import PASS_COOKIE
from cue_dashboard.listen_encrypted import EncryptedListener
from cue_dashboard.security import CSRF_COOKIE, CSRF_HEADER
from cue_dashboard.sharing import JOINS, LINK_LASTS_S, PER_GUEST, PER_STRANGER, Sharing
from cue_dashboard.words import share as words
from cue_practice.folder import FOLDER_VARIABLE

WRITE = "/_dash-update-component"
PHONE = "Mozilla/5.0 (Linux) Mobile"


class Clock:
    """A clock that the test moves."""

    def __init__(self):
        self.now_s = 0.0

    def __call__(self):
        return self.now_s


@pytest.fixture
def outside(app, door):
    """Return a client that comes through the door, as another device does."""
    app.server.test_client().get("/")  # Dash sets itself up at the first request
    client = Outside(app.server)
    client.environ_base[CAME_THROUGH] = True
    client.environ_base["HTTP_USER_AGENT"] = PHONE
    client.environ_base["REMOTE_ADDR"] = "127.0.0.3"
    return client


def token_of(link):
    return link.partition("?k=")[2]


def join(client, door):
    return client.post("/join", data={"k": token_of(door.link())})


# links and guests


def test_a_link_lets_one_device_in_and_no_second():
    sharing = Sharing()
    token = sharing.invite()
    first = sharing.join(token, "a phone")
    assert sharing.guest(first).label == "a phone"
    assert sharing.join(token, "another") is None


def test_a_link_runs_out():
    clock = Clock()
    sharing = Sharing(clock)
    token = sharing.invite()
    clock.now_s = LINK_LASTS_S + 1
    assert sharing.link_left_s() == 0
    assert sharing.join(token, "late") is None


def test_a_new_link_makes_the_older_one_void():
    sharing = Sharing()
    older = sharing.invite()
    newer = sharing.invite()
    assert sharing.join(older, "a phone") is None
    assert sharing.join(newer, "a phone") is not None


@pytest.mark.parametrize("guess", ["", "x", "k" * 43, "é", "\x00"])
def test_a_guess_lets_nobody_in_and_leaves_the_link_good(guess):
    sharing = Sharing()
    token = sharing.invite()
    assert sharing.join(guess, "guess") is None
    assert sharing.join(token, "a phone") is not None


def test_one_guest_is_removed_and_the_other_stays():
    sharing = Sharing()
    passes = [sharing.join(sharing.invite(), name) for name in ("first", "second")]
    sharing.remove(1)
    assert sharing.guest(passes[0]) is None
    assert sharing.guest(passes[1]).label == "second"


def test_of_many_who_use_a_link_at_once_one_gets_in():
    sharing = Sharing()
    token = sharing.invite()
    with concurrent.futures.ThreadPoolExecutor(16) as pool:
        got = list(pool.map(lambda k: sharing.join(token, str(k)), range(64)))
    assert sum(one is not None for one in got) == 1


def test_no_secret_is_kept_as_it_is():
    sharing = Sharing()
    token = sharing.invite()
    guest_pass = sharing.join(token, "a phone")
    kept = repr(vars(sharing))
    assert token not in kept
    assert guest_pass not in kept


# through the guard


@pytest.mark.parametrize(
    "path", ["/", "/log", "/share", "/_dash-layout", "/_dash-dependencies", "/assets/stunpace.js"]
)
def test_a_stranger_gets_nothing_but_words(outside, path):
    answer = outside.get(path)
    assert answer.status_code == 403
    assert b"new link" in answer.data
    assert b"Orla" not in answer.data


@pytest.mark.parametrize("given", [None, "", "wrong", "a" * 3000])
def test_a_wrong_pass_is_no_pass(outside, given):
    if given is not None:
        outside.set_cookie(PASS_COOKIE, given, domain=HOST)
    assert outside.get("/").status_code == 403
    assert outside.post(WRITE, json={}).status_code == 403


def test_looking_at_a_link_does_not_use_it_up(outside, door):
    link = door.link()
    for _ in range(2):
        answer = outside.get(link.removeprefix(door.address))
        assert answer.status_code == 200
    assert outside.post("/join", data={"k": token_of(link)}).status_code == 303


def test_a_link_opens_the_pages_once_tapped(outside, door):
    answer = join(outside, door)
    assert answer.headers["Location"] == "/"
    cookie = next(c for c in answer.headers.getlist("Set-Cookie") if c.startswith(PASS_COOKIE))
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert outside.get("/").status_code == 200
    assert door.sharing.guests()[0].label == "a phone"


def test_a_pass_is_marked_secure_where_the_connection_is(app, outside, door):
    answer = outside.post("/join", data={"k": token_of(door.link())}, base_url=f"https://{HOST}")
    cookie = next(c for c in answer.headers.getlist("Set-Cookie") if c.startswith(PASS_COOKIE))
    assert "Secure" in cookie


def test_html_in_a_link_is_shown_as_text(outside):
    page = outside.get("/join?k=%22%3E%3Cscript%3Ealert(1)%3C/script%3E").get_data(as_text=True)
    assert "<script>alert" not in page


def test_a_removed_guest_is_out_at_once(outside, door):
    join(outside, door)
    door.sharing.remove(1)
    assert outside.get("/").status_code == 403


def test_a_guest_cannot_write_without_the_token_of_a_page_of_ours(outside, door):
    join(outside, door)
    outside.get("/")
    assert outside.post(WRITE, json={}).status_code == 403
    assert outside.post(WRITE, json={}, headers={CSRF_HEADER: "guess"}).status_code == 403
    served = outside.get_cookie(CSRF_COOKIE, domain=HOST).value
    assert outside.post(WRITE, json={}, headers={CSRF_HEADER: served}).status_code != 403


def test_this_machine_s_pages_need_the_token_too(app):
    client = app.server.test_client()
    assert client.post(WRITE, json={}).status_code == 403
    client.get("/")
    served = client.get_cookie(CSRF_COOKIE).value
    assert client.post(WRITE, json={}, headers={CSRF_HEADER: served}).status_code != 403


def test_another_site_s_page_cannot_write_as_a_guest(outside, door):
    join(outside, door)
    outside.get("/")
    served = outside.get_cookie(CSRF_COOKIE, domain=HOST).value
    headers = {CSRF_HEADER: served, "Origin": "http://elsewhere.example"}
    assert outside.post(WRITE, json={}, headers=headers).status_code == 403


@pytest.mark.parametrize("name", ["elsewhere.example", "127.0.0.1", "localhost"])
def test_the_door_answers_to_its_own_address_only(outside, door, name):
    join(outside, door)
    assert outside.get("/", headers={"Host": name}).status_code == 400


def test_a_guest_sees_no_switch(outside, door):
    join(outside, door)
    outside.get("/")
    headers = {CSRF_HEADER: outside.get_cookie(CSRF_COOKIE, domain=HOST).value}
    body = {
        "output": f"..{ids.CHANGED}.data...{ids.FAULT}.children...{ids.LINK}.children..",
        "outputs": [
            {"id": ids.CHANGED, "property": "data"},
            {"id": ids.FAULT, "property": "children"},
            {"id": ids.LINK, "property": "children"},
        ],
        "inputs": [
            {"id": ids.START, "property": "n_clicks"},
            {"id": ids.STOP, "property": "n_clicks", "value": 1},
            {"id": ids.NEW_LINK, "property": "n_clicks"},
            {"id": ids.LOOK_LINK, "property": "n_clicks"},
        ],
        "state": [{"id": ids.ENCRYPTED, "property": "checked", "value": True}],
        "changedPropIds": [f"{ids.STOP}.n_clicks"],
    }
    answer = outside.post(WRITE, json=body, headers=headers)
    assert b"Sharing is switched on the computer" in answer.data
    assert door.address
    assert len(door.sharing.guests()) == 1


def test_who_guesses_links_is_slowed_down(outside):
    answers = [outside.post("/join", data={"k": "guess"}).status_code for _ in range(30)]
    assert answers.count(403) <= JOINS.amount
    assert answers[-1] == 429


def test_a_thousand_requests_at_once_are_refused_and_the_own_pages_stay_quick(app, outside, door):
    answers = [outside.get("/").status_code for _ in range(1000)]
    # a flood that takes several seconds gets a few more refusals in words
    assert answers.count(429) > 1000 - 200
    assert 200 not in answers
    assert app.server.test_client().get("/").status_code == 200


def test_a_guest_s_flood_is_cut(outside, door):
    join(outside, door)
    answers = [outside.get("/_reload-hash").status_code for _ in range(PER_GUEST.amount * 6)]
    assert 429 in answers
    assert PER_STRANGER.amount < PER_GUEST.amount


# the listener itself


def test_a_device_on_the_network_is_asked_for_a_link_and_this_machine_is_not(app, door):
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(door.address + "/", timeout=30)
    assert refused.value.code == 403
    refused.value.close()
    assert app.server.test_client().get("/").status_code == 200


def test_a_shut_door_answers_nobody_and_opens_again(app):
    door = door_of(app.server)
    address = door.open(HOST, is_encrypted=False)
    assert door.open(HOST) == address
    door.shut()
    with pytest.raises(urllib.error.URLError):
        urllib.request.urlopen(address + "/", timeout=5)
    door.shut()
    again = door.open(HOST, is_encrypted=False)
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(again + "/", timeout=30)
    refused.value.close()
    door.shut()


def test_a_port_that_is_taken_is_said_and_the_door_stays_shut(app, door):
    port = int(door.address.rpartition(":")[2])
    other = type(door)(app)
    with pytest.raises(PortBusyError):
        other.open(HOST, port)
    assert other.address == ""


def test_a_shut_door_has_no_link(app):
    with pytest.raises(ValueError, match="shut"):
        door_of(app.server).link()


def test_a_machine_without_network_says_so(monkeypatch):
    def refuse(*_):
        raise OSError("Network is unreachable")

    monkeypatch.setattr("socket.socket.connect", refuse)
    with pytest.raises(DashboardError, match="no local network"):
        local_network_address()


# encrypted


@pytest.fixture
def encrypted(app, tmp_path):
    """Return an open door that encrypts, and what a browser that trusts it goes by."""
    found = door_of(app.server)
    found.open(HOST)
    yield found, ssl.create_default_context(cafile=tmp_path / FILE_NAME)
    found.close()


def test_sharing_is_encrypted_under_the_fingerprint_that_is_shown(encrypted):
    door, trusting = encrypted
    with pytest.raises(urllib.error.HTTPError) as refused:  # let in by TLS, not by the guard
        urllib.request.urlopen(door.address + "/", timeout=30, context=trusting)
    assert refused.value.code == 403
    refused.value.close()
    port = int(door.address.rpartition(":")[2])
    with (
        socket.create_connection((HOST, port)) as bare,
        trusting.wrap_socket(bare, server_hostname=HOST) as wrapped,
    ):
        shown = hashlib.sha256(wrapped.getpeercert(binary_form=True)).hexdigest()
    assert door.fingerprint.replace(" ", "").lower() == shown


def test_who_does_not_know_the_certificate_or_speaks_plainly_gets_nothing(encrypted):
    door, _ = encrypted
    with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
        urllib.request.urlopen(door.address + "/", timeout=30)
    with pytest.raises(OSError, match=r"closed|reset"):
        urllib.request.urlopen(door.address.replace("https", "http") + "/", timeout=30)


def test_those_who_never_finish_greeting_hold_up_nobody(encrypted):
    door, trusting = encrypted
    port = int(door.address.rpartition(":")[2])
    silent = [socket.create_connection((HOST, port)) for _ in range(40)]
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(door.address + "/", timeout=30, context=trusting)
    refused.value.close()
    door.close()  # hangs up on them as well
    with pytest.raises(OSError, match="refused"):
        socket.create_connection((HOST, port), timeout=5)
    for one in silent:
        one.close()


def test_who_goes_on_talking_while_hung_up_on_brings_nothing_down(tmp_path):
    """A fault in the listener's thread would fail the test; each client asks until it is cut."""
    kept = own_certificate(HOST, tmp_path)
    trusting = ssl.create_default_context(cafile=kept.path)
    is_asked, all_talk = threading.Event(), threading.Barrier(5)

    def slow(_environ, start_response):
        is_asked.set()
        time.sleep(0.05)
        start_response("200 OK", [("Content-Length", "0")])
        return [b""]

    def talk():
        port = int(listener.address.rpartition(":")[2])
        with (
            socket.create_connection((HOST, port)) as bare,
            trusting.wrap_socket(bare, server_hostname=HOST) as wrapped,
            contextlib.suppress(OSError),
        ):
            all_talk.wait(30)
            while True:
                wrapped.sendall(f"GET / HTTP/1.1\r\nHost: {HOST}\r\n\r\n".encode())
                time.sleep(0.002)

    listener = EncryptedListener(slow, kept.path, HOST)
    talking = [threading.Thread(target=talk) for _ in range(4)]
    for one in talking:
        one.start()
    all_talk.wait(30)
    assert is_asked.wait(30)
    listener.stop()
    for one in talking:
        one.join(30)
    assert not any(one.is_alive() for one in talking)
    with pytest.raises(OSError, match="refused"):
        socket.create_connection((HOST, int(listener.address.rpartition(":")[2])), timeout=5)


def test_who_does_not_hang_up_holds_up_no_end(tmp_path, caplog):
    kept = own_certificate(HOST, tmp_path)
    trusting = ssl.create_default_context(cafile=kept.path)
    listener = EncryptedListener(answer_nothing, kept.path, HOST)
    port = int(listener.address.rpartition(":")[2])
    with contextlib.ExitStack() as stack:
        bare = stack.enter_context(socket.create_connection((HOST, port)))
        wrapped = stack.enter_context(trusting.wrap_socket(bare, server_hostname=HOST))
        wrapped.sendall(f"GET / HTTP/1.1\r\nHost: {HOST}\r\n\r\n".encode())
        assert wrapped.recv(100).startswith(b"HTTP/1.1 200")
        listener.stop()
        assert not listener._thread.is_alive()
    assert not [one for one in caplog.records if one.name == "asyncio"]  # no traceback at the end


def answer_nothing(_environ, start_response):
    start_response("200 OK", [("Content-Length", "0")])
    return [b""]


def test_the_key_is_its_owner_s_and_the_certificate_stays_until_the_address_changes(tmp_path):
    first = own_certificate("192.0.2.7", tmp_path)
    assert stat.S_IMODE(first.path.stat().st_mode) == 0o600
    assert own_certificate("192.0.2.7", tmp_path) == first
    assert own_certificate("192.0.2.8", tmp_path).fingerprint != first.fingerprint
    first.path.write_text("damaged")
    assert own_certificate("192.0.2.8", tmp_path).fingerprint != first.fingerprint


def test_a_certificate_that_runs_out_soon_is_made_anew(tmp_path, monkeypatch):
    monkeypatch.setattr("cue_dashboard.certificate.LASTS", RENEW_BEFORE)
    short = own_certificate(HOST, tmp_path)
    assert own_certificate(HOST, tmp_path).fingerprint != short.fingerprint


def test_a_certificate_that_cannot_be_written_is_said(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(DashboardError, match="share without encryption"):
        own_certificate(HOST, tmp_path / "file")


# over a restart


def test_a_restart_finds_the_same_door_and_lets_its_guests_in_again(log, tmp_path, monkeypatch):
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path))
    first = door_of(create_app(log, recordings=()).server)
    address = first.open(HOST, is_encrypted=False)
    guest_pass = first.sharing.join(first.sharing.invite(), "a phone")
    first.close()
    assert guest_pass not in (tmp_path / BOOK_NAME).read_text()
    again = door_of(create_app(log, recordings=()).server)
    assert again.sharing.guest(guest_pass) is None  # not before somebody shares again
    assert again.open(HOST, is_encrypted=False) == address
    assert again.sharing.guest(guest_pass).label == "a phone"
    second = again.sharing.join(again.sharing.invite(), "a tablet")
    assert again.sharing.guest(second).guest_id == 2
    again.shut()
    assert read_book(tmp_path / BOOK_NAME).guests == {}


def test_a_pass_runs_out_also_where_it_was_kept(tmp_path):
    long_ago = datetime.datetime.now(datetime.UTC) - datetime.timedelta(seconds=PASS_LASTS_S + 1)
    old = Guest(1, "a phone", long_ago, long_ago)
    write_book(tmp_path / BOOK_NAME, GuestBook(8123, {b"digest": old}))
    assert read_book(tmp_path / BOOK_NAME) == GuestBook(8123, {})
    sharing = Sharing()
    sharing.welcome_back({hashlib.sha256(b"pass").digest(): old})
    assert sharing.guest("pass") is None


@pytest.mark.parametrize("text", ["", "[]", "{", '{"port": "x", "guests": {}}', '{"guests": 3}'])
def test_a_damaged_guest_book_lets_nobody_in(tmp_path, text):
    (tmp_path / BOOK_NAME).write_text(text)
    assert read_book(tmp_path / BOOK_NAME) == GuestBook()


# the page


def test_the_page_shows_the_link_and_who_came(app, wire, door):
    shown = wire.fire(f"{ids.CHANGED}.data", (ids.NEW_LINK, 1))
    allows, square, text, warning = shown[ids.LINK]["children"]
    assert allows["props"]["children"]["props"]["children"] == words.LINK_CHANGES
    assert warning["props"]["children"] == words.NOT_ENCRYPTED
    assert text["props"]["children"].startswith(door.address + "/join?k=")
    assert square["props"]["src"].startswith("data:image/svg+xml")
    door.sharing.join(token_of(text["props"]["children"]), "a phone")
    listed = str(wire.fire(f"{ids.GUESTS}.children", (ids.TICK, 1)))
    assert "1: a phone" in listed
    assert re.search(r"Remove 1: a phone", listed)


def test_the_switch_opens_and_shuts(app, wire, monkeypatch):
    monkeypatch.setattr("cue_dashboard.door.local_network_address", lambda: HOST)
    assert wire.fire(f"{ids.CHANGED}.data", (ids.START, 1))[ids.FAULT]["children"] == ""
    assert door_of(app.server).address.startswith(f"https://{HOST}:")
    state = wire.fire(f"{ids.STATE}.children", (ids.TICK, 1))
    assert HOST in state[ids.STATE]["children"]
    wire.fire(f"{ids.CHANGED}.data", (ids.STOP, 1))
    assert door_of(app.server).address == ""
