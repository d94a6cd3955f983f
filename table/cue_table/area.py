"""Polygons on the table: whether points lie in one, and areas cut to the table."""

from collections.abc import Sequence

import numpy as np

from cue_table.ball import BoolArray, FloatArray


def contains(polygon_m: Sequence[tuple[float, float]], points_m: FloatArray) -> BoolArray:
    """Return whether points lie in a polygon.

    Parameters
    ----------
    polygon_m : sequence of points
        Corners in order, either way round; it need not be convex.
    points_m : ndarray, shape (..., 2)
        Points; one that is not a number lies in no polygon.

    Returns
    -------
    ndarray of bool, shape (...)
        Counted by the crossings of a ray to the right.
    """
    points = np.asarray(points_m, dtype=np.float64)
    x, y = points[..., 0], points[..., 1]
    inside = np.zeros(x.shape, dtype=np.bool_)
    corners = np.asarray(polygon_m, dtype=np.float64).reshape(-1, 2)
    for (x0, y0), (x1, y1) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if y0 == y1:
            continue
        crosses = (y0 > y) != (y1 > y)
        inside ^= crosses & (x < x0 + (y - y0) * (x1 - x0) / (y1 - y0))
    return inside
