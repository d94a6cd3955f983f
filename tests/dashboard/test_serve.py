"""Serving: where it says, until told to stop, and one sentence where it cannot."""

import signal
import socket
import subprocess
import sys
import urllib.request

import pytest

from cue_dashboard.errors import DashboardError, PortBusyError
from cue_dashboard.listen import Listener
from cue_dashboard.serve import serve

PROGRAM = """
import sys
from cue_dashboard.app import create_app
from cue_dashboard.serve import serve
from cue_practice.log import PracticeLog
with PracticeLog(sys.argv[1]) as log:
    serve(create_app(log, recordings=()), port=0, on_ready=lambda at: print(at, flush=True))
print("closed")
"""


def test_a_busy_port_is_named_with_a_free_one_to_try(app):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(PortBusyError, match=f"Port {port} .* for example {port + 1}") as fault:
            serve(app, port=port)
    assert (fault.value.host, fault.value.port) == ("127.0.0.1", port)


def test_an_address_of_another_machine_is_refused_in_a_sentence(app):
    # TEST-NET-1, RFC 5737: no machine has it
    with pytest.raises(DashboardError, match=r"192\.0\.2\.1.*127\.0\.0\.1"):
        serve(app, host="192.0.2.1", port=0)


def test_the_page_is_there_when_the_address_is_said(app):
    listener = Listener(app.server)
    try:
        with urllib.request.urlopen(listener.address, timeout=20) as answer:
            assert b"stunpace" in answer.read()
    finally:
        listener.stop()


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGINT for a child")
def test_ctrl_c_ends_it_without_a_word(tmp_path, empty_file):
    child = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, str(tmp_path / "practice.sqlite3")],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert child.stdout.readline().startswith("http://127.0.0.1:")
    child.send_signal(signal.SIGINT)
    out, errors = child.communicate(timeout=30)
    assert (out, errors, child.returncode) == ("closed\n", "", 0)
