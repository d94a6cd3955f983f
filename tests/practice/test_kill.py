"""What a tap that was reported as done is worth when the program, or another thread, dies."""

import os
import signal
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from cue_practice.log import PracticeLog

TAPPER = """
import sys
from cue_practice.log import PracticeLog

log = PracticeLog(sys.argv[1])
print("ready", flush=True)
for round in range(1000):
    for shot in log.shots():
        grade = ("too_little", "right", "too_much")[(round + shot.shot_id) % 3]
        log.set_result(shot.shot_id, grade=grade, note=f"round {round}")
        print(shot.shot_id, grade, round, flush=True)
"""


@pytest.mark.skipif(os.name == "nt", reason="there is no SIGKILL on Windows")
@pytest.mark.parametrize("n_taps", [1, 37, 160])
def test_every_tap_reported_as_done_is_there_after_a_kill(bench, tmp_path, n_taps):
    bench.play(*[(2.0, None)] * 20)
    bench.log.close()
    file = tmp_path / "log.sqlite3"
    told: dict[int, tuple[str, int]] = {}
    with subprocess.Popen(
        [sys.executable, "-c", TAPPER, str(file)], stdout=subprocess.PIPE, text=True
    ) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
        for _ in range(n_taps):
            shot_id, grade, turn = child.stdout.readline().split()
            told[int(shot_id)] = (grade, int(turn))
        child.send_signal(signal.SIGKILL)
        rest = child.stdout.read().splitlines()
    for line in rest:  # told before the kill, read after it; the last may be cut
        parts = line.split()
        if len(parts) == 3:
            told[int(parts[0])] = (parts[1], int(parts[2]))
    assert child.returncode == -signal.SIGKILL
    assert_all_there(file, told)


def assert_all_there(file: Path, told: dict[int, tuple[str, int]]) -> None:
    """Each shot has what was told last, or one more that was on the disk but not told yet."""
    with PracticeLog(file) as log:
        found = {shot.shot_id: shot for shot in log.shots()}
        ahead = 0
        for shot_id, (grade, turn) in told.items():
            shot = found[shot_id]
            is_told = (shot.grade, shot.note) == (grade, f"round {turn}")
            ahead += not is_told
            assert is_told or shot.note == f"round {turn + 1}"
        assert ahead <= 1
        log.add_player("Crane")  # and the log can be written again at once


def test_taps_from_many_threads_are_all_kept(bench):
    shots = bench.play(*[(2.0, None)] * 24)
    with ThreadPoolExecutor(8) as threads:
        done = list(threads.map(lambda s: bench.log.set_result(s.shot_id, grade="right"), shots))
    assert [shot.grade for shot in done] == ["right"] * 24
    assert [shot.grade for shot in bench.log.shots()] == ["right"] * 24
    assert len(bench.log.history()) == 24


def test_two_programs_write_to_one_log(bench, tmp_path):
    shots = bench.play(*[(2.0, None)] * 10)
    with PracticeLog(tmp_path / "log.sqlite3") as other, ThreadPoolExecutor(2) as threads:
        logs = [bench.log, other] * 5
        pairs = zip(logs, shots, strict=True)
        list(threads.map(lambda pair: pair[0].set_result(pair[1].shot_id, grade="right"), pairs))
        assert [shot.grade for shot in other.shots()] == ["right"] * 10
