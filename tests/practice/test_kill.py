"""What a tap that was reported as done is worth when the program, or another thread, dies."""

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from cue_practice.log import PracticeLog

TAPPER = """
import sys
from cue_practice.log import PracticeLog

log = PracticeLog(sys.argv[1])
print("ready", flush=True)
first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
for round in range(first, first + 1000):
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


@pytest.mark.skipif(os.name == "nt", reason="there is no SIGKILL on Windows")
def test_a_kill_at_any_moment_loses_no_tap_that_was_told(bench, tmp_path):
    bench.play(*[(2.0, None)] * 20)
    bench.log.close()
    file = tmp_path / "log.sqlite3"
    told: dict[int, tuple[str, int]] = {}
    wait_s = np.random.default_rng(5).uniform(0.0, 0.15, 3)
    for moment, seconds in enumerate(wait_s):
        with subprocess.Popen(
            [sys.executable, "-c", TAPPER, str(file), str(1000 * moment)],
            stdout=subprocess.PIPE, text=True,
        ) as child:  # fmt: skip
            assert child.stdout is not None
            assert child.stdout.readline() == "ready\n"
            first = child.stdout.readline()
            time.sleep(seconds)
            child.send_signal(signal.SIGKILL)
            lines = [first, *child.stdout.read().splitlines(keepends=True)]
        whole = [line.split() for line in lines if line.endswith("\n")]
        told |= {int(shot_id): (grade, int(turn)) for shot_id, grade, turn in whole}
        told = assert_all_there(file, told, name=f"Crane {moment}")


def test_a_write_torn_by_a_power_cut_loses_no_tap_before_it(bench, tmp_path):
    """What a cut leaves of the transaction it met is a piece of it, or blocks of anything."""
    shots = bench.play(*[(2.0, None)] * 12)
    for shot in shots:
        bench.log.set_result(shot.shot_id, grade="right")
    file = tmp_path / "log.sqlite3"
    whole = [Path(f"{file}{end}").read_bytes() for end in ("", "-wal")]
    bench.log.set_result(shots[0].shot_id, grade="too_much")  # met by the cut: any part of it
    after = Path(f"{file}-wal").read_bytes()
    assert after.startswith(whole[1])
    assert len(after) > len(whole[1])
    rng = np.random.default_rng(6)
    tails = [after[len(whole[1]) :][:n] for n in (1, 24, 4000, 4120)]
    tails += [rng.bytes(n) for n in (17, 4120, 20_000)]
    for k, tail in enumerate(tails):
        cut = tmp_path / f"cut{k}.sqlite3"
        cut.write_bytes(whole[0])
        Path(f"{cut}-wal").write_bytes(whole[1] + tail)
        with PracticeLog(cut) as log:
            assert [shot.grade for shot in log.shots()] == ["right"] * 12
            assert log.set_result(shots[0].shot_id, grade="too_little").grade == "too_little"


def assert_all_there(file: Path, told: dict[int, tuple[str, int]], name: str = "Crane") -> None:
    """Each shot has what was told last, or one more that was on the disk but not told yet."""
    with PracticeLog(file) as log:
        found = {shot.shot_id: shot for shot in log.shots()}
        ahead = 0
        for shot_id, (grade, turn) in told.items():
            shot = found[shot_id]
            is_told = (shot.grade, shot.note) == (grade, f"round {turn}")
            ahead += not is_told
            assert is_told or round_of(shot) > turn
        assert ahead <= 1
        log.add_player(name)  # and the log can be written again at once
        return {key: (shot.grade, round_of(shot)) for key, shot in found.items() if shot.note}


def round_of(shot) -> int:
    """Return the round in which a shot was tapped last."""
    return int(shot.note.split()[-1]) if shot.note else -1


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
