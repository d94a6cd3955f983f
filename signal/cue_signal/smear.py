"""How a sensor's own filter spreads the blow of a hit over its samples.

The filter is rarely stated, so a family of them is tried on every hit: low-pass filters of one to
four poles, running means, and symmetric ones as a computer would apply afterwards. Each is scaled
by the sampling period. What matters is the shape of the blow in the samples, the share of it that
has passed at each time, and the delay by which the samples trail the motion.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.hit_loops import interpolated

CONTACT_S = 0.0015
"""Duration of the contact of tip and ball, 1 to 2 ms: Shepard 2001 (about 1 ms)."""
FINE_PER_PERIOD = 32
"""Resolution of the stored shapes."""
SPAN_PERIODS = 12.0
"""Shapes are stored from minus to plus this many sampling periods about the touch."""

REBOUND_S = (0.004, 0.015)
"""The hand, which the blow reaches late, drives the cue on again: how fast that dies away, for a
tight and a soft grip (common practice, no source)."""

BOTH_WAYS = -4.0
"""Log prior of a filter that looks both ways: no sensor's own does, some exports' do."""

_ONE_POLE_CUTOFFS = (0.25, 0.4, 0.6)
_TWO_POLE_CUTOFFS = (0.12, 0.15, 0.18, 0.21, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.6)
_FOUR_POLE_CUTOFFS = (0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5)
_GENTLE_DELAYS = (0.6, 0.85, 1.2, 1.7)
_MEAN_LENGTHS = (1.0, 2.0)
_SYMMETRIC_SDS = (0.35, 0.6, 1.0)


@dataclass(frozen=True, eq=False)
class SmearTable:
    """Shapes of one unit of speed lost, for every filter of the family.

    Parameters
    ----------
    lag_s : ndarray, shape (m,)
        Time after the first touch.
    shape_per_s : ndarray, shape (k, m)
        Rate at which the loss appears in the samples; its integral is 1.
    passed : ndarray, shape (k, m)
        Share of the loss that has appeared, 0 to 1.
    rebound_per_s : ndarray, shape (2, k, m)
        Rate at which a speed given back by the hand appears, for each of REBOUND_S.
    delay_s : ndarray, shape (k,)
        By how much the samples trail the motion.
    peak_lag_s, peak_per_s : ndarray, shape (k,)
        Lag of the greatest value of the shape, and that value.
    log_prior : ndarray, shape (k,)
        Log prior weight of each filter.
    """

    lag_s: FloatArray
    shape_per_s: FloatArray
    passed: FloatArray
    rebound_per_s: FloatArray
    delay_s: FloatArray
    peak_lag_s: FloatArray
    peak_per_s: FloatArray
    log_prior: FloatArray

    def at(self, filter_index: IntArray, lag_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return shape and share passed at lags, shape (c, m).

        Parameters
        ----------
        filter_index : ndarray of int, shape (c,)
            Filters.
        lag_s : ndarray, shape (c, m)
            Lags for each of them.
        """
        shape = self._at(self.shape_per_s, filter_index, lag_s)
        return shape, self._at(self.passed, filter_index, lag_s)

    def change_at(self, filter_index: IntArray, lag_s: FloatArray, by_s: float) -> FloatArray:
        """Return how much the shape changes from a little before lags to a little after.

        Parameters
        ----------
        filter_index : ndarray of int, shape (c,)
            Filters.
        lag_s : ndarray, shape (c, m)
            Lags for each of them.
        by_s : float
            How far either way.

        Returns
        -------
        ndarray, shape (c, m)
            Absolute values.
        """
        early = self._at(self.shape_per_s, filter_index, lag_s - by_s)
        late = self._at(self.shape_per_s, filter_index, lag_s + by_s)
        return np.abs(late - early)

    def rebound_at(self, filter_index: IntArray, lag_s: FloatArray) -> FloatArray:
        """Return the rebounds at lags, shape (c, m, 2).

        Parameters
        ----------
        filter_index : ndarray of int, shape (c,)
            Filters.
        lag_s : ndarray, shape (c, m)
            Lags for each of them.
        """
        beyond = np.maximum(lag_s - self.lag_s[-1], 0.0)
        faded = beyond.any()
        parts = [
            self._at(rows, filter_index, lag_s) * (np.exp(-beyond / tau) if faded else 1.0)
            for rows, tau in zip(self.rebound_per_s, REBOUND_S, strict=True)
        ]
        return np.stack(parts, axis=2)

    def _at(self, rows: FloatArray, filter_index: IntArray, lag_s: FloatArray) -> FloatArray:
        """Return tabled curves at lags."""
        first_s, step_s = float(self.lag_s[0]), float(self.lag_s[1] - self.lag_s[0])
        return interpolated(rows, filter_index, lag_s, first_s, step_s)


@lru_cache(maxsize=8)
def smear_table(period_s: float) -> SmearTable:
    """Return the shapes of the family at a sampling period.

    Parameters
    ----------
    period_s : float
        Sampling period, greater than 0.

    Returns
    -------
    SmearTable
        One row a filter.
    """
    step = period_s / FINE_PER_PERIOD
    half = round(SPAN_PERIODS * FINE_PER_PERIOD)
    lag_s: FloatArray = np.arange(-half, half + 1, dtype=np.float64) * step
    rows = [_butterworth(lag_s, 1, c / period_s) for c in _ONE_POLE_CUTOFFS]
    rows += [_butterworth(lag_s, 2, c / period_s) for c in _TWO_POLE_CUTOFFS]
    rows += [_butterworth(lag_s, 4, c / period_s) for c in _FOUR_POLE_CUTOFFS]
    rows += [_gentle(lag_s, n * period_s) for n in _GENTLE_DELAYS]
    rows += [_running_mean(lag_s, n * period_s) for n in _MEAN_LENGTHS]
    rows += [_symmetric(lag_s, sd * period_s) for sd in _SYMMETRIC_SDS]
    contact = _contact_pulse(lag_s)
    shapes = np.vstack([_convolve(contact, row, step) for row, _ in rows])
    decays = [
        np.where(lag_s >= 0.0, np.exp(-np.maximum(lag_s, 0.0) / tau) / tau, 0.0)
        for tau in REBOUND_S
    ]
    rebounds = [[_convolve(row, decay, step, is_whole=False) for row in shapes] for decay in decays]
    return SmearTable(
        lag_s=lag_s,
        shape_per_s=shapes,
        passed=np.cumsum(shapes, axis=1) * step,
        rebound_per_s=np.array(rebounds),
        delay_s=np.array([delay for _, delay in rows]),
        peak_lag_s=np.array([_peak_lag_s(lag_s, shape) for shape in shapes]),
        peak_per_s=shapes.max(axis=1),
        log_prior=np.where(np.arange(len(rows)) < len(rows) - len(_SYMMETRIC_SDS), 0.0, BOTH_WAYS),
    )


def _peak_lag_s(lag_s: FloatArray, shape: FloatArray) -> float:
    """Return the lag of the greatest value, the middle where it is flat."""
    return float(np.mean(lag_s[shape >= (1.0 - 1e-6) * shape.max()]))


def _butterworth(lag_s: FloatArray, order: int, cutoff_hz: float) -> tuple[FloatArray, float]:
    """Return impulse response and delay of a Butterworth low-pass."""
    # poles evenly about the left half of a circle: Butterworth, Wireless Engineer 7, 1930
    angle = np.pi * (2.0 * np.arange(order) + order + 1.0) / (2.0 * order)
    poles = 2 * np.pi * cutoff_hz * np.exp(1j * angle)
    others = poles[:, None] - poles + np.eye(order)
    residues = (2 * np.pi * cutoff_hz) ** order / np.prod(others, axis=1)
    after = np.maximum(lag_s, 0.0)
    response = np.real(residues[:, None] * np.exp(poles[:, None] * after)).sum(axis=0)
    return np.where(lag_s >= 0.0, response, 0.0), float(np.real(-1.0 / poles).sum())


def _gentle(lag_s: FloatArray, delay_s: float) -> tuple[FloatArray, float]:
    """Return impulse response and delay of three like poles.

    They do not overshoot, as Bessel's filters and means of means do not either.
    """
    scaled = np.maximum(lag_s, 0.0) * 3.0 / delay_s
    return 1.5 / delay_s * scaled**2 * np.exp(-scaled), delay_s


def _running_mean(lag_s: FloatArray, length_s: float) -> tuple[FloatArray, float]:
    """Return impulse response and delay of a mean over the last length_s."""
    inside = (lag_s >= 0.0) & (lag_s < length_s)
    return np.where(inside, 1.0 / length_s, 0.0), 0.5 * length_s


def _symmetric(lag_s: FloatArray, sd_s: float) -> tuple[FloatArray, float]:
    """Return impulse response and delay of a filter that looks both ways."""
    return np.exp(-0.5 * (lag_s / sd_s) ** 2) / (sd_s * np.sqrt(2 * np.pi)), 0.0


def _contact_pulse(lag_s: FloatArray) -> FloatArray:
    """Return the force of the contact, a half sine of unit area from lag 0 on."""
    inside = (lag_s >= 0.0) & (lag_s <= CONTACT_S)
    pulse = np.where(inside, np.sin(np.pi * lag_s / CONTACT_S), 0.0)
    if pulse.sum() <= 0.0:
        pulse[np.argmin(np.abs(lag_s))] = 1.0
    return pulse


def _convolve(
    pulse: FloatArray, response: FloatArray, step_s: float, *, is_whole: bool = True
) -> FloatArray:
    """Return the smeared pulse on the same lags, with unit area, or that of the response."""
    smeared = np.convolve(response, pulse, mode="full")
    middle = len(pulse) // 2
    smeared = smeared[middle : middle + len(pulse)]
    size = smeared.sum() * step_s if is_whole else pulse.sum()
    return np.asarray(smeared / size, dtype=np.float64)
