"""The sensor's clock on the host's axis, from arrival times that are late, bunched or both.

A notification can come late but never early, so the earliest arrival of every stretch of time lies
closest to the truth, as in the clock filter of NTP (RFC 5905, section 10). The rate of the clocks
against each other is the median of the slopes between such earliest arrivals (Theil 1950,
Sen 1968), which neither bursts nor a lasting change of the delay can pull aside.

The past is never revised: a correction bends the line from now on, by at most MAX_SLEW.
"""

from collections import deque
from typing import Final

import numpy as np

from cue_sensors.samples import FloatArray

FINE_S: Final = 1.0
"""The offset comes from the earliest arrival of each second."""
COARSE_S: Final = 10.0
"""The rate comes from the earliest arrival of each ten seconds."""
RATE_POINTS: Final = 60
"""The rate is taken over the last ten minutes; it drifts with temperature."""
MIN_RATE_POINTS: Final = 6
"""Before a minute has passed, a jitter of 1 ms would still look like 20 ppm and more."""
RECENT_S: Final = 30.0
"""The offset holds for so long once the rate is known."""
RECENT_AT_FIRST_S: Final = 10.0
"""And for so long before: a clock 100 ppm off moves by 1 ms in it."""
MAX_RATE_ERROR: Final = 0.02
"""Clocks that differ by more are not believed; crystals differ by 1e-4, RC oscillators by 1e-2."""
MAX_SLEW: Final = 5e-4
"""Extra rate while catching up with a correction; changes a speed by half a thousandth."""
CATCH_UP_S: Final = 5.0
"""A small error is worked off with this time constant."""

Point = tuple[float, float]


def median_slope(times: FloatArray, values: FloatArray) -> float:
    """Return the median of the slopes between all pairs of points.

    Parameters
    ----------
    times, values : ndarray, shape (n,)
        At least two points, times strictly increasing.

    Returns
    -------
    float
        The slope; up to 29 % of the points may be anywhere without moving it far.

    References
    ----------
    .. [1] P. K. Sen, Estimates of the regression coefficient based on Kendall's tau, Journal of
       the American Statistical Association 63, 1968.

    Examples
    --------
    >>> median_slope(np.array([0.0, 1.0, 2.0, 3.0]), np.array([0.0, 0.5, 9.0, 1.5]))
    0.5
    """
    first, second = np.triu_indices(len(times), k=1)
    return float(np.median((values[second] - values[first]) / (times[second] - times[first])))


class _Earliest:
    """The earliest arrival of each stretch of time, as (clock, delay)."""

    def __init__(self, stretch_s: float, start_s: float) -> None:
        self.points: deque[Point] = deque()
        self._stretch_s = stretch_s
        self._start_s = start_s
        self._best: Point | None = None

    def observe(self, clock_s: float, delay_s: float) -> bool:
        """Take an arrival in; return whether it completed a stretch."""
        if self._best is None or delay_s < self._best[1]:
            self._best = (clock_s, delay_s)
        if clock_s - self._start_s < self._stretch_s:
            return False
        if not self.points or self._best[0] > self.points[-1][0]:
            self.points.append(self._best)
        self._best, self._start_s = None, clock_s
        return True


class RunningClock:
    """Host time of a sensor's clock, as a line that bends slowly and never steps.

    Parameters
    ----------
    clock_s, host_s : float
        A first pair: the sensor's clock and the host's time of the same moment.
    max_slew, max_rate_error : float
        Most that the line bends to catch up; largest difference of the clocks that is believed.
    coarse_s, min_rate_points, rate_points : float, int, int
        Length of the stretches that the rate comes from; how many are needed, and used at most.
    drift : float
        What the rate is taken for until it is known: host seconds per clock second, less 1.
    """

    def __init__(
        self,
        clock_s: float,
        host_s: float,
        *,
        max_slew: float = MAX_SLEW,
        max_rate_error: float = MAX_RATE_ERROR,
        coarse_s: float = COARSE_S,
        min_rate_points: int = MIN_RATE_POINTS,
        rate_points: int = RATE_POINTS,
        drift: float = 0.0,
    ) -> None:
        self._max_slew = max_slew
        self._max_rate_error = max_rate_error
        self._clock_s = clock_s
        self._host_s = host_s
        self._min_rate_points, self._rate_points = min_rate_points, rate_points
        self._rate = 1.0 + drift
        self._drift = self._first_drift = drift
        self._is_rate_known = False
        self._target_delay_s = host_s - clock_s
        self._target_clock_s = clock_s
        self._fine = _Earliest(FINE_S, clock_s)
        self._coarse = _Earliest(coarse_s, clock_s)

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
        """Move the line's knot to that moment, bend it as needed, and return its host time."""
        host_s = self.host_s(clock_s)
        since_s = clock_s - self._target_clock_s
        target_s = clock_s + self._target_delay_s + self._drift * since_s
        slew = max(-self._max_slew, min(self._max_slew, (target_s - host_s) / CATCH_UP_S))
        self._clock_s, self._host_s = clock_s, host_s
        self._rate = 1.0 + self._drift + slew
        return host_s

    def observe(self, clock_s: float, arrival_s: float) -> None:
        """Take note that data of that moment of the sensor's clock arrived at that host time."""
        delay_s = arrival_s - clock_s
        if self._coarse.observe(clock_s, delay_s):
            self._fit_rate()
        if self._fine.observe(clock_s, delay_s):
            self._fit_offset(clock_s)

    def _fit_rate(self) -> None:
        """Take the clocks' rate from the earliest arrivals of the last minutes."""
        points = self._coarse.points
        while len(points) > self._rate_points:
            points.popleft()
        if len(points) >= self._min_rate_points:
            times, delays = np.array(points).T
            slope = median_slope(times, delays)
            self._is_rate_known = abs(slope) <= self._max_rate_error
            self._drift = slope if self._is_rate_known else self._first_drift

    def _fit_offset(self, clock_s: float) -> None:
        """Take the offset from the earliest of the recent arrivals."""
        points = self._fine.points
        kept_s = RECENT_S if self._is_rate_known else RECENT_AT_FIRST_S
        while len(points) > 1 and points[0][0] < clock_s - kept_s:
            points.popleft()
        self._target_clock_s = clock_s
        self._target_delay_s = min(
            delay_s + self._drift * (clock_s - time_s) for time_s, delay_s in points
        )
