"""Two programs at one log, on SQLite and on PostgreSQL."""

import subprocess
import sys
from collections import Counter
from itertools import pairwise

from cue_practice.log import PracticeLog

PLAYER = """
import sys
from cue_practice.log import PracticeLog

url, first, n = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
with PracticeLog(url) as log:
    for shot_id in range(first, first + n):
        log.set_result(shot_id, grade="right", note=f"by {first}")
        log.add_shot(1)
    # both change the same shot: the history must tell every step of it
    for turn in range(5):
        log.set_result(1, note=f"{first} {turn}")
"""


def test_two_programs_write_at_once_and_nothing_is_lost(bench, log_url):
    bench.play(*[(2.0, None)] * 11)
    players = [
        subprocess.Popen([sys.executable, "-c", PLAYER, str(log_url), str(first), "5"])
        for first in (2, 7)
    ]
    assert [player.wait(60) for player in players] == [0, 0]
    shots = bench.log.shots()
    assert len(shots) == 11 + 10
    notes = Counter(shot.note for shot in shots if shot.shot_id != 1)
    assert (notes["by 2"], notes["by 7"]) == (5, 5)
    steps = bench.log.history(shot_id=1)[::-1]
    assert len(steps) == 10
    for before, after in pairwise(steps):
        assert after.before["note"] == before.after["note"]


def test_one_opens_what_another_has_begun_and_undoes_it(bench, log_url):
    shot = bench.play((2.0, "right"))[0]
    with PracticeLog(log_url) as other:
        assert other.undo().what == f"result of shot {shot.shot_id}"
    assert bench.log.shot(shot.shot_id).grade is None


def test_what_was_made_from_the_log_is_made_again_once_anybody_changed_it(bench, log_url):
    made = []

    def shots_now(log):
        return log.kept("shots", lambda: made.append(1) or log.count_shots())

    assert [shots_now(bench.log), shots_now(bench.log), len(made)] == [0, 0, 1]
    bench.play((2.0, "right"))
    assert [shots_now(bench.log), shots_now(bench.log), len(made)] == [1, 1, 2]
    with PracticeLog(log_url) as other:
        other.undo()
        other.undo()
        other.add_shot(bench.series.series_id)
        other.add_shot(bench.series.series_id)
        assert shots_now(other) == other.count_shots() == shots_now(bench.log)
    assert bench.log.kept("other name", lambda: "other") == "other"
