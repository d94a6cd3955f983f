"""Which end the tip is, and what a whole turn says about the gyroscope's scale."""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray, Samples
from cue_signal.roll_find import Rolled, across

BLOCK_S = 0.25
HELD_M_S2 = 0.6
HELD_RATE_RAD_S = 0.3
GRAVITY_WITHIN_M_S2 = 1.0
LIFTED_SIN = 0.26
"""A lifted tip: 15 degrees or more against the roll; a butt is raised by 10 at most in play."""
LEAST_LIFTED_BLOCKS = 3
MOST_AGAINST = 0.2
"""Share of the blocks that may say the contrary."""
NEAR_S = 30.0
"""A lift counts within this of the roll."""
HINT_COSINE = 0.3
REST_RATE_RAD_S = 0.1
REST_DIRECTION_SD_RAD = 0.006
RAW_BIAS_SHARE, CALIBRATED_BIAS_SHARE = 0.02, 0.002
"""Direction of gravity at rest: tremor, and the accelerometer's bias in parts of gravity, which
cancels as far as the cue comes to lie as it lay before."""
LEAST_SCALE_TURN_RAD = 4.5
MOST_SCALE_OFF = 0.1


@dataclass(frozen=True)
class Scale:
    """True turn in parts of the turn shown, with its standard uncertainty."""

    value: float
    sd: float


def tip_sign(
    samples: Samples, rolled: Rolled, axis: FloatArray, towards_tip: FloatArray | None
) -> float:
    """Return +1 where the axis points to the tip, -1 where to the butt, 0 where that is not told.

    Parameters
    ----------
    samples : Samples
        All samples.
    rolled : Rolled
        Where the cue was rolled.
    axis : ndarray, shape (3,)
        Unit vector along the cue.
    towards_tip : ndarray, shape (3,), or None
        A rough direction known beforehand.
    """
    if towards_tip is not None:
        along = float(np.asarray(towards_tip) @ axis) / float(np.linalg.norm(towards_tip))
        if abs(along) > HINT_COSINE:
            return float(np.sign(along))
    lift = _lifts(samples, rolled, axis)
    up, down = np.count_nonzero(lift > LIFTED_SIN), np.count_nonzero(lift < -LIFTED_SIN)
    if max(up, down) < LEAST_LIFTED_BLOCKS or min(up, down) > MOST_AGAINST * (up + down):
        return 0.0
    return 1.0 if up > down else -1.0


def scale_by_turn(
    samples: Samples, rolled: Rolled, axis: FloatArray, *, is_calibrated: bool
) -> Scale | None:
    """Return the gyroscope's scale about the cue from rests before and after a push.

    Gravity at rest says how the cue lay before and after, up to whole turns, and the gyroscope
    how many whole turns there were: a manual turn by a known angle as reference, as in "In-Field
    Gyroscope Autocalibration with Iterative Attitude Estimation" (arXiv 2103.11097).

    Parameters
    ----------
    samples : Samples
        All samples.
    rolled : Rolled
        Where the cue was rolled.
    axis : ndarray, shape (3,)
        Unit vector along the cue.
    is_calibrated : bool
        Whether the accelerometer's errors were taken out of the samples.

    Returns
    -------
    Scale or None
        None without a gyroscope, or where no push of most of a turn lies between two rests.
    """
    if not samples.has_gyroscope:
        return None
    first, second = across(axis)
    force = samples.specific_force_m_s2
    angle = np.arctan2(force @ second, force @ first)
    pace = rolled.turning_rad_s @ axis
    found = []
    for part in rolled.parts:
        before, after = _rest_about(samples, rolled, part)
        if before is None or after is None:
            continue
        middle = slice(before.stop, after.start)
        shown = _between(pace, before, middle, after, samples.rate_hz)
        if abs(shown) < LEAST_SCALE_TURN_RAD:
            continue
        # gravity goes round in the sensor against the cue's turn
        change = _mean_angle(angle[before]) - _mean_angle(angle[after])
        true = change + 2.0 * np.pi * round((shown - change) / (2.0 * np.pi))
        off = (
            (CALIBRATED_BIAS_SHARE if is_calibrated else RAW_BIAS_SHARE) * 2.0 * np.sin(change / 2)
        )
        sd = np.sqrt(2.0 * REST_DIRECTION_SD_RAD**2 + off**2)
        found.append((true / shown, sd / abs(shown)))
    if not found:
        return None
    values, sds = np.array(found).T
    weight = sds**-2.0
    value = float(weight @ values / weight.sum())
    if abs(value - 1.0) > MOST_SCALE_OFF:
        return None
    return Scale(value, float(max(weight.sum() ** -0.5, np.std(values) / np.sqrt(len(values)))))


def _lifts(samples: Samples, rolled: Rolled, axis: FloatArray) -> FloatArray:
    """Return, block by block of stillness near the roll, the rise of the axis against the roll."""
    n = max(3, round(BLOCK_S * samples.rate_hz))
    whole = len(samples) // n * n
    force = samples.specific_force_m_s2[:whole].reshape(-1, n, 3)
    mean = force.mean(axis=1)
    size = np.linalg.norm(mean, axis=1)
    time = samples.time_s[:whole].reshape(-1, n).mean(axis=1)
    start, stop = (samples.time_s[rolled.parts[0].start], samples.time_s[rolled.parts[-1].stop - 1])
    held = np.sqrt(force.var(axis=1).sum(axis=1)) < HELD_M_S2
    level_force = np.median(np.linalg.norm(samples.specific_force_m_s2[rolled.index], axis=1))
    held &= np.abs(size - level_force) < GRAVITY_WITHIN_M_S2
    held &= (time > start - NEAR_S) & (time < stop + NEAR_S)
    if samples.has_gyroscope:
        rate = rolled.turning_rad_s[:whole].reshape(-1, n, 3).mean(axis=1)
        held &= np.linalg.norm(rate, axis=1) < HELD_RATE_RAD_S
    level = float(np.mean(samples.specific_force_m_s2[rolled.index] @ axis)) / float(level_force)
    return np.asarray((mean @ axis / np.maximum(size, 1e-6))[held] - level, dtype=np.float64)


def _rest_about(samples: Samples, rolled: Rolled, part: slice) -> tuple[slice | None, slice | None]:
    """Return quarter-second rests just before and just after a push."""
    n = max(3, round(BLOCK_S * samples.rate_hz))
    speed = np.linalg.norm(rolled.turning_rad_s, axis=1)
    reach = 6 * n
    before = after = None
    for start in range(part.start - n, max(0, part.start - reach) - 1, -max(1, n // 4)):
        if start >= 0 and speed[start : start + n].mean() < REST_RATE_RAD_S:
            before = slice(start, start + n)
            break
    for start in range(part.stop, min(len(speed), part.stop + reach) - n + 1, max(1, n // 4)):
        if speed[start : start + n].mean() < REST_RATE_RAD_S:
            after = slice(start, start + n)
            break
    gaps = samples.gap_indices
    if before and after and np.any((gaps > before.start) & (gaps < after.stop)):
        return None, None
    return before, after


def _between(pace: FloatArray, before: slice, middle: slice, after: slice, rate_hz: float) -> float:
    """Return the turn shown from the middle of one rest to the middle of the other."""
    # each rest's mean angle lies half its own turn from its end
    n = before.stop - before.start
    ramp = (np.arange(n) + 0.5) / n
    total = pace[middle].sum() + pace[before] @ ramp + pace[after] @ ramp[::-1]
    return float(total) / rate_hz


def _mean_angle(angles: FloatArray) -> float:
    """Return the mean of angles near each other."""
    return float(np.angle(np.mean(np.exp(1j * angles))))
