"""The pages answer this machine only and ask no other."""

import base64
import hashlib
import re

import pytest

from cue_dashboard.security import MAX_REQUEST_BYTES, content_security_policy


@pytest.fixture
def client(app):
    return app.server.test_client()


def test_the_policy_allows_scripts_of_the_page_and_of_nobody_else(client):
    answer = client.get("/")
    policy = answer.headers["Content-Security-Policy"]
    page = answer.get_data(as_text=True)
    inline = re.findall(r"<script(?![^>]*\bsrc=)[^>]*>(.*?)</script>", page, re.DOTALL)
    for script in inline:
        digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in policy
    assert inline
    assert "'unsafe-eval'" not in policy
    assert "script-src 'self'" in policy


def test_the_policy_names_no_other_place():
    policy = content_security_policy("<script>a()</script>")
    assert "http" not in policy
    assert "*" not in policy
    assert "default-src 'none'" in policy
    assert "connect-src 'self'" in policy


def test_every_file_of_the_page_comes_from_this_server(client):
    page = client.get("/").get_data(as_text=True)
    places = re.findall(r'(?:src|href)="([^"]+)"', page)
    assert places
    assert [place for place in places if "//" in place] == []


@pytest.mark.parametrize("host", ["elsewhere.example", "127.0.0.1.example", "10.0.0.9"])
def test_a_page_reached_by_another_name_is_refused(client, host):
    assert client.get("/", headers={"Host": host}).status_code == 400


@pytest.mark.parametrize("host", ["127.0.0.1:8050", "localhost:8050", "localhost"])
def test_this_machine_by_its_own_names_is_served(client, host):
    assert client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null", "http://127.0.0.1:9"])
def test_another_site_s_page_cannot_write(client, origin):
    answer = client.post(
        "/_dash-update-component",
        json={},
        headers={"Host": "127.0.0.1:8050", "Origin": origin},
    )
    assert answer.status_code == 403


def test_a_huge_request_is_refused(client):
    answer = client.post(
        "/_dash-update-component",
        data=b" " * (MAX_REQUEST_BYTES + 1),
        content_type="application/json",
    )
    assert answer.status_code == 413


def test_files_outside_the_assets_are_not_served(client):
    assert client.get("/assets/../app.py").status_code == 404
    assert client.get("/assets/%2e%2e/app.py").status_code == 404
