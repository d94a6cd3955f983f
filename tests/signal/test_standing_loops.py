"""Accounts followed by the compiled loops against all of them written out."""

from itertools import product

import numpy as np
import pytest
from scipy.integrate import cumulative_trapezoid
from scipy.stats import multivariate_normal

from cue_signal.standing import KINDS
from cue_signal.standing_loops import AT_BALL, MOVING, follow, weighed
from cue_signal.standing_seen import kinds_of, rough_travel, seen_in

TURN, NEVER = -2.0, -1.5
REACH_M, REACH_SD_M = 0.1, 0.12
BALANCE_SD = 0.2
USUAL, LOG_SD = 1.7, 0.6


@pytest.fixture(name="case")
def case_fixture():
    """Return what is known of three pieces and two moments, and what each may have been."""
    rng = np.random.default_rng(8)
    known = rng.normal(size=(3 * 3 + 2 + 2, 5))
    known[9, 0] = 1.2
    time_s = np.arange(500) * 0.005
    first, last = np.array([100, 140, 300]), np.array([140, 180, 330])
    values = kinds_of(time_s, first, last, 400, 0.005, KINDS, 1.0, 0.02)
    return known, values, np.array([True, False, True])


def written_out(known, values, is_first):
    """Return every possible account: states, log probability, speed at the hit."""
    n_pieces, n_kinds = values.shape[:2]
    for states in product(range(n_kinds), repeat=n_pieces):
        rows, expected, sds, odds = [11, 12], [REACH_M] * 2, [REACH_SD_M] * 2, 0.0
        is_possible = True
        for k, state in enumerate(states):
            is_turn = not is_first[k] and states[k - 1] != state
            is_possible &= not (is_turn and state < MOVING and states[k - 1] < MOVING)
            is_new = is_first[k] or is_turn
            odds += values[k, state, 6 if is_new else 7] + (TURN if is_turn else 0.0)
            n_told = 3 if is_new else 2
            rows += [3 * k + row for row in range(n_told)]
            expected += values[k, state, 0 : 2 * n_told : 2].tolist()
            sds += values[k, state, 1 : 2 * n_told : 2].tolist()
        if not is_possible:
            continue
        odds += NEVER if AT_BALL not in states else 0.0
        design, seen = known[[*rows, 10], 1:], known[[*rows, 10], 0]
        noise = np.diag(np.square([*sds, BALANCE_SD]))
        spread = design @ design.T + noise
        off = seen - np.array([*expected, 0.0])
        mean = design.T @ np.linalg.solve(spread, off)
        speed = known[9, 0] - mean @ known[9, 1:]
        unusual = np.log(max(speed, 0.05) / USUAL) / LOG_SD
        log_odds = odds + multivariate_normal.logpdf(off, np.zeros(len(off)), spread)
        yield states, log_odds - 0.5 * unusual**2, speed


def test_all_accounts_are_followed_with_their_probability_and_speed(case):
    known, values, is_first = case
    n, states, mean, covariance, score = follow(
        known, values, is_first, REACH_M, REACH_SD_M, TURN, 1000
    )
    most, speed, spread = weighed(
        n, states, mean, covariance, score, known, BALANCE_SD, NEVER, USUAL, LOG_SD
    )
    states = states[:n]
    expected = {one[0]: one[1:] for one in written_out(known, values, is_first)}
    assert {tuple(one) for one in states.tolist()} == set(expected)
    for k, one in enumerate(states.tolist()):
        assert (score[k], speed[k]) == pytest.approx(expected[tuple(one)], rel=1e-7, abs=1e-7)
    assert tuple(states[most]) == max(expected, key=lambda one: expected[one][0])
    weight = np.exp([one[0] - score[most] for one in expected.values()])
    off = np.array([one[1] - speed[most] for one in expected.values()])
    assert spread == pytest.approx(np.sqrt(np.average(off**2, weights=weight)), rel=1e-6)


def test_only_the_most_probable_are_kept_the_best_first(case):
    every = follow(*case, REACH_M, REACH_SD_M, TURN, 1000)
    few = follow(*case, REACH_M, REACH_SD_M, TURN, 7)
    assert few[0] == len(few[4]) == 7
    assert np.all(np.diff(few[4]) <= 0.0)
    assert few[1][0].tolist() == every[1][0].tolist()


def test_what_pieces_show_is_means_of_the_integrals():
    rng = np.random.default_rng(9)
    n, hit, middle, gaps = 300, 250, 40, np.array([120])
    time_s, axial = np.cumsum(rng.uniform(0.004, 0.006, n)), rng.normal(size=n)
    leak = rng.normal(size=n)
    first, last, down = np.array([60, 90]), np.array([90, 110]), np.array([50, 150])
    sizes, after = rng.uniform(0.1, 1.0, 6), np.array([255.0, 270.0, 290.0, 0.7, 0.03])
    found = seen_in(
        time_s, axial, n, first, last, hit, middle, leak, sizes, gaps, down, 0.01, 0.005, after
    )
    columns = [axial, np.zeros(n), np.ones(n), time_s - time_s[middle], leak, leak**2, np.zeros(n)]
    accel = np.column_stack(columns)
    # nothing counts before the first moment asked for
    accel[:50] = 0.0
    speed = cumulative_trapezoid(accel, time_s, axis=0, initial=0.0)
    speed[:, 0] -= speed[60:90, 0].mean()
    speed[:, 1], speed[:, 6] = 1.0, np.arange(n) >= 120
    way = cumulative_trapezoid(speed, time_s, axis=0, initial=0.0)
    at_hit = way[hit] + 0.01 * speed[hit]
    rows = []
    for a, b in zip(first, last, strict=True):
        rows += [speed[a:b].mean(axis=0), accel[a:b].mean(axis=0)]
        rows.append(at_hit - way[a:b].mean(axis=0))
    balance = 0.7 * speed[hit] - speed[255] + speed[270:290].mean(axis=0)
    balance[0] += 0.03
    rows += [speed[hit], balance, at_hit - way[50], at_hit - way[150]]
    assert found[:, :-1] == pytest.approx(np.array(rows) * [1.0, *sizes], rel=1e-9, abs=1e-12)
    late = 0.005 * abs(speed[hit, 0])
    assert found[:, -1] == pytest.approx(late * np.array([0, 0, 1, 0, 0, 1, 0, 0, 1, 1]))


def test_a_first_idea_of_the_travel_stands_still_where_the_cue_did():
    time_s = np.arange(400) * 0.005
    # 0.2 m/s gained over a tenth of a second
    axial = np.where((time_s >= 1.0) & (time_s < 1.1), 2.0, 0.0)
    way = rough_travel(time_s, axial, 400, 0, 150, 100)
    assert way[150] == pytest.approx(0.0)
    assert way[399] == pytest.approx(0.01 + 0.2 * (time_s[399] - 1.1), abs=2e-3)
