"""Compiled loops against the library functions whose work they do."""

import numpy as np
import pytest
from scipy.linalg import cholesky, solve_triangular
from scipy.ndimage import uniform_filter1d
from scipy.signal import butter, sosfiltfilt

from cue_signal.feathers import without_sway
from cue_signal.integrals import area_of, mean_of, means_over
from cue_signal.lanes import LANES, forward_lanes, whiten_lanes
from cue_signal.matrices import backward, factor, forward, log_root
from cue_signal.rest_loops import liveliness, moving_mean, moving_spread, quiet_runs


@pytest.mark.parametrize("size", [1, 4, 7, 30])
def test_a_moving_mean_is_the_librarys(size):
    values = np.random.default_rng(1).normal(size=(50, 3))
    expected = uniform_filter1d(values, size, axis=0, mode="nearest")
    assert moving_mean(values, size) == pytest.approx(expected, abs=1e-12)


def test_a_moving_spread_is_the_standard_deviation_of_the_axes_together():
    values = np.random.default_rng(2).normal(size=(40, 3))
    found = moving_spread(values, 9)
    expected = [np.sqrt(values[k - 4 : k + 5].var(axis=0).sum()) for k in range(4, 36)]
    assert found[4:36] == pytest.approx(expected, abs=1e-12)


def test_taking_out_sway_is_filtering_forward_and_backward():
    values = np.cumsum(np.random.default_rng(3).normal(size=400))
    sections = butter(1, 0.3, "highpass", fs=200.0, output="sos")
    # the values reach 30: rounding alone
    assert without_sway(values, 0.3 / 200.0) == pytest.approx(
        sosfiltfilt(sections, values), abs=1e-10
    )


def test_factors_of_a_small_matrix_are_the_librarys():
    rng = np.random.default_rng(4)
    rows = rng.normal(size=(9, 6))
    matrix = rows.T @ rows
    lower, right = matrix.copy(), rng.normal(size=6)
    factor(lower, 6)
    expected = cholesky(matrix, lower=True)
    assert np.tril(lower) == pytest.approx(expected, rel=1e-10)
    assert 2.0 * log_root(lower, 6) == pytest.approx(np.linalg.slogdet(matrix)[1], rel=1e-10)
    found = right[None].copy()
    forward(lower, found, 0, 6)
    assert found[0] == pytest.approx(solve_triangular(expected, right, lower=True), rel=1e-9)
    backward(lower, found, 0, 6)
    assert found[0] == pytest.approx(np.linalg.solve(matrix, right), rel=1e-8)


def test_means_over_stretches_are_means():
    values = np.random.default_rng(5).normal(size=(30, 2))
    found = means_over(values, np.array([0, 7]), np.array([7, 30]))
    assert found == pytest.approx(np.array([values[:7].mean(axis=0), values[7:].mean(axis=0)]))


def test_factors_of_many_matrices_at_once_are_the_librarys():
    rng = np.random.default_rng(6)
    n, n_used, lanes = 7, 5, 3
    rows = rng.normal(size=(lanes, 9, n))
    whole = np.einsum("lki,lkj->lij", rows, rows)
    right = rng.normal(size=(lanes, 2, n))
    matrix, rights = np.zeros((n, n, LANES)), np.zeros((2, n, LANES))
    matrix[:, :, :lanes], rights[:, :, :lanes] = whole.transpose(1, 2, 0), right.transpose(1, 2, 0)
    whiten_lanes(matrix, lanes, rights, n_used, n)
    forward_lanes(matrix, lanes, rights, 1, n_used)
    for k in range(lanes):
        lower = cholesky(whole[k, :n_used, :n_used], lower=True)
        found = np.tril(matrix[:n_used, :n_used, k], -1) + np.diag(1 / np.diag(matrix[:, :, k])[:5])
        assert found == pytest.approx(lower, rel=1e-9)
        for j in range(2):
            expected = solve_triangular(lower, right[k, j, :n_used], lower=True)
            assert rights[j, :n_used, k] == pytest.approx(expected, rel=1e-8)
        # what is left of the clipped rows' variance, the used rows known
        inner = np.linalg.solve(whole[k, :n_used, :n_used], whole[k, :n_used, n_used:])
        left = whole[k, n_used:, n_used:] - whole[k, n_used:, :n_used] @ inner
        assert np.diag(matrix[:, :, k])[n_used:] == pytest.approx(np.diag(left), rel=1e-8)


def test_liveliness_is_spread_and_change_of_the_smoothed_rows():
    values = 9.81 + np.random.default_rng(7).normal(size=(80, 3))
    spread, step = liveliness(values, 10, 6)
    assert spread == pytest.approx(moving_spread(values - values.mean(axis=0), 10), abs=1e-9)
    smooth = values
    for _ in range(2):
        smooth = uniform_filter1d(smooth, 6, axis=0, mode="nearest")
    change = np.linalg.norm(smooth[10:] - smooth[:-10], axis=1)
    assert step[5:-5] == pytest.approx(change, abs=1e-9)


def test_quiet_runs_are_widened_kept_apart_and_cut_at_gaps():
    quiet = np.zeros(100, dtype=np.bool_)
    for first, last in ((10, 14), (16, 30), (50, 51), (60, 90)):
        quiet[first:last] = True
    # windows of eight samples: three more before, three more after; too short a run is none
    runs = quiet_runs(quiet, 8, np.zeros(0, dtype=np.int64)).tolist()
    assert runs == [[7, 17], [17, 33], [47, 54], [57, 93]]
    # the longer side of a gap is kept
    assert quiet_runs(quiet, 8, np.array([70])).tolist()[-1] == [70, 93]
    assert quiet_runs(quiet, 8, np.array([85])).tolist()[-1] == [57, 85]
    assert len(quiet_runs(np.zeros(9, dtype=np.bool_), 4, np.zeros(0, dtype=np.int64))) == 0
    assert quiet_runs(np.ones(9, dtype=np.bool_), 4, np.zeros(0, dtype=np.int64)).tolist() == [
        [0, 9]
    ]


def test_mean_and_area_of_a_stretch_are_numpys():
    rng = np.random.default_rng(10)
    values, time_s = rng.normal(size=40), np.cumsum(rng.uniform(0.1, 0.2, 40))
    assert mean_of(values, 5, 17) == pytest.approx(values[5:17].mean())
    assert mean_of(values, 35, 50) == pytest.approx(values[35:].mean())
    expected = np.trapezoid(values[5:17], time_s[5:17])
    assert area_of(values, time_s, 5, 17) == pytest.approx(expected)
    assert area_of(values, time_s, 5, 6) == 0.0
