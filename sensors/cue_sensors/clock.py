"""The sensor's clock on the host's axis, from arrival times that are late, bunched or both.

A notification can come late but never early, so the true relation lies along the lower edge of
(clock, arrival - clock). The edge's slope is the two clocks' rate difference; the method is that
of Moon, Skelly and Towsley, "Estimation and removal of clock skew from network delay
measurements", INFOCOM 1999: of all lines below the points, the one closest to them, which is the
edge of their convex hull over the mean time.

The past is never revised: a correction bends the line from now on, by at most MAX_SLEW.
"""

from collections import deque
from typing import Final

BLOCK_S: Final = 1.0
"""One point of the lower edge for every second."""
WINDOW_S: Final = 600.0
"""How far back the edge reaches: a clock's rate drifts with temperature over minutes."""
MIN_SPAN_S: Final = 30.0
"""Below this the slope is not fitted: 5 ms of jitter over 30 s are already 170 ppm."""
MAX_RATE_ERROR: Final = 0.02
"""Clocks that differ by more are not believed; crystals differ by 1e-4, RC oscillators by 1e-2."""
MAX_SLEW: Final = 5e-4
"""Extra rate while catching up with a correction; changes a speed by half a thousandth."""
REFIT: Final = 1 / 64
"""The edge is fitted again once the stretch behind it has grown by this part."""
CATCH_UP_S: Final = 5.0
"""A small error is worked off with this time constant."""

Point = tuple[float, float]


def lower_edge(points: list[Point]) -> tuple[float, float]:
    """Return slope and height at time 0 of the closest line below all points.

    Parameters
    ----------
    points : list of (time, value)
        At least two, times strictly increasing.

    Returns
    -------
    slope, height : float
        The line ``height + slope * time``.

    References
    ----------
    .. [1] Moon, Skelly, Towsley, INFOCOM 1999, section 4 (linear programme; its optimum is the
       hull edge over the mean time).

    Examples
    --------
    >>> lower_edge([(0.0, 1.0), (1.0, 5.0), (2.0, 2.0)])
    (0.5, 1.0)
    """
    hull: list[Point] = []
    for point in points:
        while len(hull) >= 2 and _turns_up_too_late(hull[-2], hull[-1], point):
            hull.pop()
        hull.append(point)
    mean = sum(time for time, _ in points) / len(points)
    right = next((i for i in range(1, len(hull)) if hull[i][0] >= mean), len(hull) - 1)
    (t0, v0), (t1, v1) = hull[right - 1], hull[right]
    slope = (v1 - v0) / (t1 - t0)
    return slope, v0 - slope * t0


def _turns_up_too_late(a: Point, b: Point, c: Point) -> bool:
    """Return whether b lies on or above the line from a to c."""
    return (b[1] - a[1]) * (c[0] - a[0]) >= (c[1] - a[1]) * (b[0] - a[0])


class RunningClock:
    """Host time of a sensor's clock, as a line that bends slowly and never steps.

    Parameters
    ----------
    clock_s, host_s : float
        A first pair: the sensor's clock and the host's time of the same moment.
    """

    def __init__(self, clock_s: float, host_s: float) -> None:
        self._clock_s = clock_s
        self._host_s = host_s
        self._rate = 1.0
        self._edge_slope = 0.0
        self._edge_offset_s = host_s - clock_s
        self._edge_clock_s = clock_s
        self._points: deque[Point] = deque()
        self._block: Point | None = None
        self._block_start_s = clock_s
        self._fitted_clock_s = clock_s

    @property
    def rate(self) -> float:
        """Return host seconds per second of the sensor's clock, from now on."""
        return self._rate

    def host_s(self, clock_s: float) -> float:
        """Return the host time of a moment of the sensor's clock, on the line as it is now."""
        return self._host_s + self._rate * (clock_s - self._clock_s)

    def clock_s(self, host_s: float) -> float:
        """Return what the sensor's clock shows at that host time, on the line as it is now."""
        return self._clock_s + (host_s - self._host_s) / self._rate

    def advance(self, clock_s: float) -> float:
        """Move the line's knot to that moment, bend it towards the edge, return its host time."""
        host_s = self.host_s(clock_s)
        edge_s = clock_s + self._edge_offset_s + self._edge_slope * (clock_s - self._edge_clock_s)
        slew = max(-MAX_SLEW, min(MAX_SLEW, (edge_s - host_s) / CATCH_UP_S))
        self._clock_s, self._host_s = clock_s, host_s
        self._rate = 1.0 + self._edge_slope + slew
        return host_s

    def observe(self, clock_s: float, arrival_s: float) -> None:
        """Take note that data of that moment of the sensor's clock arrived at that host time."""
        delay = arrival_s - clock_s
        if self._block is None or delay < self._block[1]:
            self._block = (clock_s, delay)
        if clock_s - self._block_start_s >= BLOCK_S:
            self._close_block(clock_s)

    def _close_block(self, clock_s: float) -> None:
        """Add the block's earliest arrival to the edge and fit it anew."""
        if self._block is not None and (not self._points or self._block[0] > self._points[-1][0]):
            self._points.append(self._block)
        self._block, self._block_start_s = None, clock_s
        while self._points and self._points[0][0] < clock_s - WINDOW_S:
            self._points.popleft()
        if self._points and clock_s - self._fitted_clock_s >= REFIT * self._span_s:
            self._fitted_clock_s = clock_s
            self._fit()

    @property
    def _span_s(self) -> float:
        """Return how long a stretch the points cover."""
        return self._points[-1][0] - self._points[0][0]

    def _fit(self) -> None:
        """Set the edge from the points: a line over a long stretch, a level over a short one."""
        origin = self._points[0][0]
        points = [(time - origin, delay) for time, delay in self._points]
        span_s = points[-1][0]
        if span_s >= MIN_SPAN_S:
            slope, height = lower_edge(points)
            self._edge_slope = max(-MAX_RATE_ERROR, min(MAX_RATE_ERROR, slope))
        if span_s < MIN_SPAN_S or self._edge_slope != slope:
            height = min(delay - self._edge_slope * time for time, delay in points)
        self._edge_offset_s, self._edge_clock_s = height, origin
