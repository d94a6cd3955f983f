"""The gyroscope's bias, from all the time at rest so far.

A held cue sways: over one rest the body's slow turning is larger than the noise of the sensor, and
gravity carried from that rest to the hit with the wrong bias tilts. The turning averages out over
many rests, and the bias hardly changes in a minute.
"""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.integrals import means_over, weighted_median
from cue_signal.rest import Rest, ends_of
from cue_signal.windows import Window

MEMORY_S = 150.0
"""Rests longer ago than this say little about a bias that warms up."""
SWAY_RAD_S = 0.0025
SWAY_S = 0.5
"""Mean turning of a held cue over half a second: 2 mm of sway at the butt within a second."""
SWAY_WEIGHT = 3.0
"""What is usual counts as much as so many rests."""
MEDIAN_SHARE = 1.4826
"""Standard deviation over the median of the absolute values, of a normal distribution."""
LEAST_SD_RAD_S = 0.0002
"""A change of 0.02 deg/s as the sensor warms up."""


@dataclass(frozen=True, eq=False)
class GyroBias:
    """The gyroscope's bias.

    Parameters
    ----------
    rate_rad_s : ndarray, shape (3,)
        Reading of a sensor that does not turn.
    sd_rad_s : float
        Standard uncertainty per axis.
    """

    rate_rad_s: FloatArray
    sd_rad_s: float


class BiasTracker:
    """Collect rests and tell the gyroscope's bias."""

    def __init__(self) -> None:
        # one row a rest: time of its middle, duration, mean rate
        self._rests = np.zeros((0, 5))

    def add(self, window: Window, rests: list[Rest]) -> GyroBias | None:
        """Take the rests of a window that are later than all before, and return the bias.

        Parameters
        ----------
        window : Window
            Samples.
        rests : list of Rest
            Its quiet stretches, a few of which may be slow movements.

        Returns
        -------
        GyroBias or None
            Weighted median of each axis; None without gyroscope or rests.
        """
        if window.rate_rad_s is None:
            return None
        known_s = self._rests[-1, 0] if len(self._rests) else -np.inf
        later = [rest for rest in rests if float(window.time_s[rest.start]) > known_s]
        first, last = ends_of(later)
        new = np.empty((len(later), 5))
        new[:, 0], new[:, 1] = window.time_s[(first + last) // 2], (last - first) * window.period_s
        new[:, 2:] = means_over(window.rate_rad_s, first, last)
        oldest_s = float(window.time_s[-1]) - MEMORY_S
        n_old = int(np.searchsorted(self._rests[:, 0], oldest_s))
        self._rests = np.concatenate([self._rests[n_old:], new])
        if not len(self._rests):
            return None
        weight = np.ascontiguousarray(self._rests[:, 1])
        means = np.ascontiguousarray(self._rests[:, 2:])
        rate = weighted_median(means, weight)
        n_seen = max(float(weight.sum()) / SWAY_S, 1.0)
        sway = _sway_rad_s(means - rate, weight)
        return GyroBias(rate, float(np.hypot(sway / np.sqrt(n_seen), LEAST_SD_RAD_S)))


def _sway_rad_s(off_rad_s: FloatArray, weight: FloatArray) -> float:
    """Return how much this player sways, from how the rests scatter about their median."""
    usual = np.abs(off_rad_s) * np.sqrt(np.minimum(weight, 4.0 * SWAY_S) / SWAY_S)[:, None]
    scatter = MEDIAN_SHARE * float(np.mean(weighted_median(usual, weight)))
    n = len(weight)
    return float(np.sqrt((SWAY_WEIGHT * SWAY_RAD_S**2 + n * scatter**2) / (SWAY_WEIGHT + n)))
