"""Where the cue stands still, and whether what it feels there is gravity."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.attitude import GRAVITY_M_S2
from cue_signal.errors import SignalError
from cue_signal.rest_loops import distance_from, liveliness, moving_mean, quiet_runs
from cue_signal.windows import Window, medians

REST_S = 0.15
"""Shortest stretch that is called a rest."""
QUIET_LEAST_M_S2 = 0.12
QUIET_MOST_M_S2 = 0.6
"""Spread of the force, all axes together, below which a held cue is still (tremor included)."""
QUIET_FACTOR = 2.0
STEP_FACTOR = 4.0
"""A rest may be this much livelier than the quietest tenth of its window."""
STEP_LEAST_M_S2 = 0.06
STEP_MOST_M_S2 = 0.2
"""Change of the smoothed force over the length of a rest, below which a cue is still."""
PIECE_S = 0.2
"""A long rest tells the speed once for each stretch of this length: it may not drift in it."""
TREMOR_S = 0.1
"""Smoothing twice over this takes out physiological tremor (8 to 12 Hz), not a slow backswing."""
END_S = 0.15
END_QUIET_M_S2 = 0.35
STILL_RATE_RAD_S = 0.12
"""Angular rate of a held cue: well under one turn of a backswing."""


@dataclass(frozen=True)
class Rest:
    """A stretch [start, stop) of samples in which the cue stood still."""

    start: int
    stop: int


def ends_of(stretches: Sequence[Rest]) -> tuple[IntArray, IntArray]:
    """Return the first samples of stretches, and one past their last ones.

    Parameters
    ----------
    stretches : sequence of Rest, length k
        May be empty.

    Returns
    -------
    tuple of ndarray of int, shape (k,), twice
        Starts and stops.
    """
    first = np.array([stretch.start for stretch in stretches], dtype=np.int64)
    return first, np.array([stretch.stop for stretch in stretches], dtype=np.int64)


def find_rests(window: Window) -> list[Rest]:
    """Return the stretches in which the cue stands still.

    Parameters
    ----------
    window : Window
        Samples.

    Returns
    -------
    list of Rest
        In order of time, each at least REST_S long.
    """
    n_rest = window.n_samples(REST_S, at_least=4)
    if len(window) < n_rest:
        return []
    n_tremor = window.n_samples(TREMOR_S)
    spread, step = liveliness(window.force_m_s2, n_rest, n_tremor)
    limit = QUIET_FACTOR * _tenth(spread)
    quiet = spread < min(max(limit, QUIET_LEAST_M_S2), QUIET_MOST_M_S2)
    limit = STEP_FACTOR * _tenth(step)
    quiet &= step < min(max(limit, STEP_LEAST_M_S2), STEP_MOST_M_S2)
    if window.rate_rad_s is not None and quiet.any():
        rate = moving_mean(window.rate_rad_s, n_rest)
        # a gyroscope's own bias is not motion
        quiet &= distance_from(rate, medians(rate[quiet])) < STILL_RATE_RAD_S
    runs = quiet_runs(quiet, n_rest, window.gap_indices)
    return [Rest(start, stop) for start, stop in runs.tolist()]


def rest_at_end(window: Window) -> Rest | None:
    """Return the end of the window as a rest, if the cue stands still there.

    Parameters
    ----------
    window : Window
        Samples that were cut off once the cue seemed to stand still.
    """
    n_rest = window.n_samples(END_S, at_least=3)
    if len(window) <= n_rest:
        return None
    last = window.force_m_s2[-n_rest:]
    spread = float(np.sqrt(np.var(last, axis=0).sum()))
    return Rest(len(window) - n_rest, len(window)) if spread < END_QUIET_M_S2 else None


def check_gravity(rest_force_m_s2: FloatArray) -> None:
    """Refuse samples whose rests do not read gravity.

    Parameters
    ----------
    rest_force_m_s2 : ndarray, shape (k, 3)
        Mean specific force of each rest in m/s^2.

    Raises
    ------
    SignalError
        If their magnitude looks like a multiple of g, or like no gravity at all.
    """
    if len(rest_force_m_s2) == 0:
        return
    size = float(np.median(np.linalg.norm(rest_force_m_s2, axis=1)))
    if 0.85 * GRAVITY_M_S2 <= size <= 1.15 * GRAVITY_M_S2:
        return
    if 0.85 <= size <= 1.15:
        raise SignalError(
            f"The cue at rest reads {size:.2f} where {GRAVITY_M_S2} m/s^2 is expected, "
            "which looks like g. Name the columns ax_g, ay_g, az_g, or convert them to m/s^2."
        )
    raise SignalError(
        f"The cue at rest reads {size:.2f} m/s^2 where {GRAVITY_M_S2} is expected. "
        "Check the unit of the acceleration and the sensor's calibration."
    )


def _tenth(values: FloatArray) -> float:
    """Return the value that a tenth of all lie below, as numpy's quantile has it."""
    place = 0.1 * (len(values) - 1)
    low = int(place)
    two = np.partition(values, [low, min(low + 1, len(values) - 1)])[low : low + 2]
    return float(two[0] + (place - low) * (two[-1] - two[0]))
