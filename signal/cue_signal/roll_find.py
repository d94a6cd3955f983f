"""Where in a recording the cue was rolled.

A roll is a stretch of turning about one direction of the sensor's frame while the cue lies level.
With a gyroscope the turning is measured. Without one it is told by gravity, which goes round in
the sensor's frame: its direction u obeys du/dt = u x w, so -u x du/dt is the turning w without
its part about the vertical, which a roll on level cloth does not need.
"""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import BoolArray, FloatArray, Samples
from cue_signal.rest_loops import moving_mean

SMOOTH_S = 0.12
TURNING_RAD_S = 0.4
"""Slower turning is not called rolling."""
JOIN_S = 0.15
LEAST_PART_RAD = 0.6
"""A push of the hand turns the cue at least this far."""
STRAIGHT = 0.8
"""The turn of one push, in parts of all turning in it."""
STEADY_M_S2 = 2.0
"""Root mean square of what the smoothed force may differ from gravity by in a push: a stroke tilts
the force as well, but makes it greater."""
TOGETHER_S = 15.0
"""Pushes within this of one another are one roll."""
ENOUGH_RAD = 12.0
"""Turning beyond two turns is no better roll."""
SAME_RAD = 0.26
"""Pushes about directions this near to each other are one roll."""
LEVEL_SIN = 0.5
"""A cue on the cloth lies within 30 degrees of level, the sensor's own bias included."""
SECTORS = 12


@dataclass(frozen=True, eq=False)
class Rolled:
    """The pushes of one roll.

    Parameters
    ----------
    parts : tuple of slice
        Samples of each push.
    about : ndarray, shape (3,)
        Rough direction that the cue was turned about, in the sensor's frame, sign open.
    turning_rad_s : ndarray, shape (n, 3)
        Turning of the whole recording, bias taken off; without a gyroscope, by gravity.
    bias_rad_s : ndarray, shape (3,)
        What was taken off.
    turned_rad : float
        All pushes together, to and fro.
    n_sectors : int
        Of the twelve parts of the circle, how many gravity was seen in.
    level : float
        Mean of gravity's component along ``about`` over the roll, in parts of gravity.
    """

    parts: tuple[slice, ...]
    about: FloatArray
    turning_rad_s: FloatArray
    bias_rad_s: FloatArray
    turned_rad: float
    n_sectors: int
    level: float

    @property
    def index(self) -> np.ndarray:
        """Return the indices of all samples of the roll."""
        return np.concatenate([np.arange(part.start, part.stop) for part in self.parts])


def find_roll(samples: Samples) -> Rolled | None:
    """Return the longest roll in a recording, None where nothing was turned about one direction.

    Parameters
    ----------
    samples : Samples
        All samples.
    """
    if len(samples) < samples.rate_hz:
        return None
    turning, bias = turning_of(samples)
    ups = _ups(samples)
    parts = [part for part in _pushes(samples, turning) if _is_push(samples, turning, ups, part)]
    if not parts:
        return None
    turns = np.array([_turn(samples, turning, part)[0] for part in parts])
    middle_s = np.array([samples.time_s[(part.start + part.stop) // 2] for part in parts])
    together = np.abs(middle_s[:, None] - middle_s) < TOGETHER_S
    ways = turns / np.linalg.norm(turns, axis=1)[:, None]
    same = together & (np.abs(ways @ ways.T) > np.cos(SAME_RAD))
    groups = [_rolled(parts, turns, same[k], turning, bias, ups) for k in range(len(parts))]
    return max(groups, key=lambda one: (one.n_sectors, min(one.turned_rad, ENOUGH_RAD)))


def _is_push(samples: Samples, turning: FloatArray, ups: FloatArray, part: slice) -> bool:
    """Return whether a stretch of turning may be a push of a level cue."""
    turn, straight = _turn(samples, turning, part)
    force = smooth(samples.specific_force_m_s2[part], samples.rate_hz)
    size = np.linalg.norm(force, axis=1)
    unsteady = float(np.sqrt(np.mean((size - np.median(size)) ** 2)))
    is_level = abs(float(np.mean(ups[part] @ _unit(turn)))) < LEVEL_SIN
    is_far = float(np.linalg.norm(turn)) > LEAST_PART_RAD
    return is_far and is_level and straight > STRAIGHT and unsteady < STEADY_M_S2


def _rolled(
    parts: list[slice],
    turns: FloatArray,
    is_in: BoolArray,
    turning: FloatArray,
    bias: FloatArray,
    ups: FloatArray,
) -> Rolled:
    """Return some pushes as one roll."""
    kept = tuple(part for part, is_kept in zip(parts, is_in.tolist(), strict=True) if is_kept)
    chosen = turns[is_in]
    sizes = np.linalg.norm(chosen, axis=1)
    largest = chosen[int(np.argmax(sizes))]
    about = _unit(np.sum(np.sign(chosen @ largest)[:, None] * chosen, axis=0))
    index = np.concatenate([np.arange(part.start, part.stop) for part in kept])
    return Rolled(
        kept,
        about,
        turning,
        bias,
        float(sizes.sum()),
        sectors_seen(ups[index], about),
        float(np.mean(ups[index] @ about)),
    )


def turning_of(samples: Samples) -> tuple[FloatArray, FloatArray]:
    """Return the turning, shape (n, 3), with its bias off, and the bias, shape (3,).

    Parameters
    ----------
    samples : Samples
        With or without a gyroscope.
    """
    rate = samples.angular_rate_rad_s
    if rate is None:
        return _turning_by_gravity(samples), np.zeros(3)
    bias = _quiet_rate(rate, samples.rate_hz)
    return np.asarray(rate - bias, dtype=np.float64), bias


def sectors_seen(ups: FloatArray, about: FloatArray) -> int:
    """Return in how many of the twelve parts of the circle about a direction gravity was seen.

    Parameters
    ----------
    ups : ndarray, shape (n, 3)
        Directions that pointed up.
    about : ndarray, shape (3,)
        Middle of the circle.
    """
    first, second = across(about)
    angle = np.arctan2(ups @ second, ups @ first)
    sector = np.floor((angle + np.pi) / (2.0 * np.pi) * SECTORS).astype(np.int64) % SECTORS
    return int(np.count_nonzero(np.bincount(sector, minlength=SECTORS)))


def across(about: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return two unit vectors at right angles to a unit vector and to each other.

    Parameters
    ----------
    about : ndarray, shape (3,)
        Unit vector; the three are right-handed in the order (first, second, about).
    """
    first = np.cross(about, np.eye(3)[int(np.argmin(np.abs(about)))])
    first /= np.linalg.norm(first)
    return first, np.asarray(np.cross(about, first), dtype=np.float64)


def smooth(values: FloatArray, rate_hz: float) -> FloatArray:
    """Return values, shape (n, 3), as means over an eighth of a second.

    Parameters
    ----------
    values : ndarray, shape (n, 3)
        Even samples.
    rate_hz : float
        Their rate.
    """
    n = max(1, round(SMOOTH_S * rate_hz))
    return moving_mean(np.ascontiguousarray(values, dtype=np.float64), n)


def _ups(samples: Samples) -> FloatArray:
    """Return the direction of the smoothed force, shape (n, 3)."""
    force = smooth(samples.specific_force_m_s2, samples.rate_hz)
    size = np.maximum(np.linalg.norm(force, axis=1), 1e-6)
    return np.asarray(force / size[:, None], dtype=np.float64)


def _turning_by_gravity(samples: Samples) -> FloatArray:
    """Return the turning without its vertical part, from the way gravity goes round."""
    up = smooth(_ups(samples), samples.rate_hz)
    up /= np.maximum(np.linalg.norm(up, axis=1), 1e-6)[:, None]
    change = np.gradient(up, samples.time_s, axis=0)
    return np.asarray(-np.cross(up, change), dtype=np.float64)


def _quiet_rate(rate: FloatArray, rate_hz: float) -> FloatArray:
    """Return the mean rate over the stillest fifth of the recording."""
    n = max(4, round(0.25 * rate_hz))
    whole = rate[: len(rate) // n * n].reshape(-1, n, 3)
    spread = np.sqrt(whole.var(axis=1).sum(axis=1))
    means = whole.mean(axis=1)
    # steady rolling has little spread too, but it goes fast
    slow = np.linalg.norm(means, axis=1) < TURNING_RAD_S
    if not slow.any():
        return np.zeros(3)
    limit = np.quantile(spread[slow], 0.2)
    return np.asarray(np.median(means[slow & (spread <= limit)], axis=0), dtype=np.float64)


def _pushes(samples: Samples, turning: FloatArray) -> list[slice]:
    """Return the stretches of turning, none across a gap or a change of direction."""
    mean = smooth(turning, samples.rate_hz)
    moving = np.linalg.norm(mean, axis=1) > TURNING_RAD_S
    edges = np.flatnonzero(np.diff(np.concatenate([[False], moving, [False]]).astype(np.int8)))
    n_join = round(JOIN_S * samples.rate_hz)
    runs: list[list[int]] = []
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if runs and start - runs[-1][1] < n_join and _go_on(mean, runs[-1][1] - 1, start):
            runs[-1][1] = stop
        else:
            runs.append([start, stop])
    gaps = samples.gap_indices
    return [slice(a, b) for a, b in runs if b - a > 3 and not np.any((gaps > a) & (gaps < b))]


def _go_on(mean: FloatArray, last: int, start: int) -> bool:
    """Return whether turning goes on the same way after a moment's stop."""
    return float(mean[last] @ mean[start]) > 0.0


def _turn(samples: Samples, turning: FloatArray, part: slice) -> tuple[FloatArray, float]:
    """Return the turn over one push, and its size in parts of all turning in it."""
    step = 1.0 / samples.rate_hz
    # smoothed, so that noise and bumps do not count as turning to and fro
    mean = smooth(turning[part], samples.rate_hz)
    total = mean.sum(axis=0) * step
    # the vertical part of a roll's turning is the hand's, not the roll's
    everything = float(np.linalg.norm(mean, axis=1).sum()) * step
    return np.asarray(total, dtype=np.float64), float(np.linalg.norm(total)) / max(everything, 1e-9)


def _unit(vector: FloatArray) -> FloatArray:
    """Return a vector at length one."""
    return np.asarray(vector / max(float(np.linalg.norm(vector)), 1e-12), dtype=np.float64)
