"""Sampling rate of a stretch of samples from their times, gaps left out."""

from collections.abc import Sequence

import numpy as np

from cue_sensors.samples import GAP_FACTOR, FloatArray, Samples


def fitted_rate_hz(time_s: FloatArray) -> float:
    """Return the sampling rate of a stretch of samples.

    The median step tells gaps from plain steps; the rate is the number of plain steps over the
    time they took, so that jitter of single times cancels.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Strictly increasing times in seconds, at least two.

    Returns
    -------
    float
        Rate in Hz.

    Raises
    ------
    ValueError
        If there are fewer than two times.

    Examples
    --------
    >>> round(fitted_rate_hz(np.array([0.0, 0.005, 0.010, 0.515, 0.520])), 6)
    200.0
    """
    if len(time_s) < 2:
        raise ValueError("a rate needs at least two times")
    steps_s = np.diff(time_s)
    plain_s = steps_s[steps_s <= GAP_FACTOR * np.median(steps_s)]
    return float(len(plain_s) / np.sum(plain_s))


def joined(pieces: Sequence[Samples], *, rate_hz: float) -> Samples:
    """Return consecutive stretches of one stream as one, its rate fitted anew.

    Parameters
    ----------
    pieces : sequence of Samples
        In order of time; empty ones are fine.
    rate_hz : float
        Rate to state where there are too few samples to fit one, in Hz.

    Returns
    -------
    Samples
        All samples.
    """
    full = [piece for piece in pieces if len(piece)]
    rates = [p.angular_rate_rad_s for p in full if p.angular_rate_rad_s is not None]
    time_s = np.concatenate([np.empty(0), *(p.time_s for p in full)])
    return Samples(
        time_s=time_s,
        specific_force_m_s2=np.concatenate(
            [np.empty((0, 3)), *(p.specific_force_m_s2 for p in full)]
        ),
        angular_rate_rad_s=np.concatenate(rates) if rates else None,
        is_clipped=np.concatenate([np.empty(0, dtype=bool), *(p.is_clipped for p in full)]),
        rate_hz=fitted_rate_hz(time_s) if len(time_s) > 2 else rate_hz,
    )
