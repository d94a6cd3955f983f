"""Polygons: points inside and outside, against a slow winding count."""

import numpy as np
import pytest

from cue_table.area import contains

SQUARE = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
ARROW = ((0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (1.0, 0.5), (0.0, 2.0))


def winding(polygon: tuple[tuple[float, float], ...], point: np.ndarray) -> bool:
    """Return whether the corners turn once round the point: another way of telling."""
    to = np.asarray(polygon) - point
    after = np.roll(to, -1, axis=0)
    cross = to[:, 0] * after[:, 1] - to[:, 1] * after[:, 0]
    turns = np.arctan2(cross, np.sum(to * after, axis=1))
    return bool(abs(np.sum(turns)) > np.pi)


@pytest.mark.parametrize("polygon", [SQUARE, ARROW, SQUARE[::-1], ARROW[::-1]])
def test_points_are_told_apart_as_by_the_winding_of_the_corners(polygon):
    points = np.random.default_rng(3).uniform(-0.5, 2.5, (400, 2))
    assert contains(polygon, points).tolist() == [winding(polygon, at) for at in points]


def test_a_point_that_is_no_number_lies_nowhere_and_any_shape_is_taken():
    points = np.array([[[0.5, 0.5], [np.nan, 0.5]], [[2.0, 0.5], [0.1, 0.9]]])
    assert contains(SQUARE, points).tolist() == [[True, False], [False, True]]
    assert bool(contains(SQUARE, np.array([0.5, 0.5])))
    assert not contains((), np.array([0.5, 0.5]))
