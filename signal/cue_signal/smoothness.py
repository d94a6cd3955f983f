"""Smoothness of a movement as the length of its speed spectrum.

References
----------
.. [1] Balasubramanian, Melendez-Calderon, Roby-Brami, Burdet, On the analysis of movement
   smoothness, J NeuroEng Rehabil 12:112 (2015), equations 6 to 8.
"""

import numpy as np

from cue_sensors.samples import FloatArray

GREATEST_CUTOFF_HZ = 10.0
"""Spectrum above this is not human movement, ref. 1 (20 pi rad/s)."""
AMPLITUDE_THRESHOLD = 0.05
"""Spectrum is followed up to where it last reaches this part of its value at 0 Hz, ref. 1."""
ZERO_PADDING = 4
"""Number of doublings by which the signal is lengthened before the transform, ref. 1."""


def spectral_arc_length(speed: FloatArray, *, rate_hz: float) -> float:
    """Return the spectral arc length of a speed profile.

    Parameters
    ----------
    speed : ndarray, shape (n,)
        Speed in any unit; its size does not matter.
    rate_hz : float
        Sampling rate in Hz, greater than 0.

    Returns
    -------
    float
        Negative; nearer to 0 is smoother. NaN for a speed that is zero throughout.

    Raises
    ------
    ValueError
        If there are fewer than two samples.
    """
    if len(speed) < 2:
        raise ValueError(f"a speed profile needs at least 2 samples, not {len(speed)}")
    n_bins = int(2 ** (np.ceil(np.log2(len(speed))) + ZERO_PADDING))
    amplitude = np.abs(np.fft.rfft(speed, n_bins))
    if amplitude[0] <= 0.0:
        return float("nan")
    amplitude /= amplitude[0]
    frequency_hz = np.arange(len(amplitude)) * rate_hz / n_bins
    amplitude = amplitude[frequency_hz <= GREATEST_CUTOFF_HZ]
    frequency_hz = frequency_hz[frequency_hz <= GREATEST_CUTOFF_HZ]
    last = int(np.flatnonzero(amplitude >= AMPLITUDE_THRESHOLD)[-1])
    if last == 0:
        return 0.0
    steps = np.hypot(
        np.diff(frequency_hz[: last + 1]) / (frequency_hz[last] - frequency_hz[0]),
        np.diff(amplitude[: last + 1]),
    )
    return -float(np.sum(steps))
