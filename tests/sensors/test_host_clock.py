"""A clock that was set and a host that slept are told from one another, and said."""

import time

import pytest

from cue_sensors import host_clock
from cue_sensors.host_clock import HostClock


@pytest.fixture
def clocks(monkeypatch):
    """Let tests move the wall clock, the waking time and the steady clock by themselves."""
    now = {"wall": 1.7e9, "awake": 50.0, "steady": 60.0}
    monkeypatch.setattr(host_clock.time, "time", lambda: now["wall"])
    monkeypatch.setattr(host_clock.time, "monotonic", lambda: now["awake"])
    monkeypatch.setattr(host_clock, "steady_s", lambda: now["steady"])

    def go_on(seconds, *names):
        for name in names or now:
            now[name] += seconds

    return go_on


def test_time_that_just_passes_is_not_mentioned(clocks):
    clock = HostClock()
    for _ in range(100):
        clocks(60.0)
        clocks(0.001, "wall")  # the system keeps its clock right
        clock.look()
    assert clock.words == ""


@pytest.mark.parametrize("by_s", [3600.0, -7200.0])
def test_a_clock_that_is_set_is_said_with_how_far(clocks, by_s):
    clock = HostClock()
    clocks(by_s, "wall")
    clock.look()
    assert f"clock was set by {by_s:+.0f} s" in clock.words
    assert "slept" not in clock.words


def test_sleep_is_said_with_how_long(clocks):
    clock = HostClock()
    clocks(95.0, "wall", "steady")
    clock.look()
    assert "slept for 95 s" in clock.words
    assert "was set" not in clock.words


def test_the_steady_clock_runs_with_time():
    before = time.monotonic()
    first = host_clock.steady_s()
    assert 0 <= host_clock.steady_s() - first <= time.monotonic() - before + 1e-3
