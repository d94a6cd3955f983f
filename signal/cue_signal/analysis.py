"""All strokes of a recording."""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import Calibration, FloatArray, Mounting, Recording, Samples
from cue_signal.axis import CueAxis, Hint, axis_hint, bridge_distance_m, rival_axes
from cue_signal.errors import SignalError
from cue_signal.integrals import means_over
from cue_signal.live import StrokeFinder, axis_of
from cue_signal.pointing import pointed
from cue_signal.rest import check_gravity, ends_of, find_rests
from cue_signal.roll import roll
from cue_signal.spikes import find_spikes
from cue_signal.stroke import Stroke, StrokeFlag
from cue_signal.windows import cut_window, mark_plateaus

LEAST_RATE_HZ = 49.0
"""Rates are called by their nominal value; a sensor's 50 Hz may be 49.5."""
LEAST_DURATION_S = 1.0
MOST_FORCE_M_S2 = 1e5
ROLL_WITHIN_S = 600.0
"""A cue is rolled when the sensor has been clipped on."""
ROLL_AGREES_SDS = 4.0
"""A roll further than so many standard uncertainties from the strokes was something else."""
ENOUGH_STROKES, RESTED_SHARE = 0.5, 0.5
"""Where fewer strokes between two rests than the one share of an axis's hints, or the other of its
strokes, are measured along it, another is tried: knocks and chalking agree with themselves as
strokes do. The axis with the most of them is taken."""
ENOUGH_POINTINGS, LOOK_STEP_S = 6, 5.0
"""The direction is made surer by so many strokes, looked for in pieces so long."""
FAR_RAD, MOST_LOOKS = 0.1, 2
"""A direction that was further off is looked for once more along the better one."""
MOST_RATE_RAD_S = 175.0
"""No hand turns a cue at 10,000 degrees per second."""


@dataclass(frozen=True, eq=False)
class Analysis:
    """What a recording tells.

    Parameters
    ----------
    strokes : tuple of Stroke
        In order of time.
    cue_axis : ndarray, shape (3,), or None
        Unit vector along the cue towards the tip in the sensor's frame; None if neither the
        mounting nor any stroke told it.
    cue_axis_sd_rad : float or None
        Its standard uncertainty per angle.
    cue_axis_source : str
        ``"mounting"``, ``"strokes"``, ``"roll"`` (one in the recording) or ``"unknown"``.
    rests : ndarray, shape (k, 2)
        Start and stop, in seconds, of the stretches in which the cue stood still.
    notes : tuple of str
        Sentences on what limits the result.
    """

    strokes: tuple[Stroke, ...]
    cue_axis: FloatArray | None
    cue_axis_sd_rad: float | None
    cue_axis_source: str
    rests: FloatArray
    notes: tuple[str, ...]


def analyse(source: Recording | Samples, *, mounting: Mounting | None = None) -> Analysis:
    """Return all strokes of a recording.

    Parameters
    ----------
    source : Recording or Samples
        What to analyse.
    mounting : Mounting, optional
        How the sensor sits on the cue, in place of what the recording says.

    Returns
    -------
    Analysis
        Strokes and how the cue lay in the sensor.

    Raises
    ------
    SignalError
        If no stroke can honestly be measured: rate below 50 Hz, less than a second of samples,
        values that are not numbers, rests that do not read gravity.
    """
    samples = source.samples if isinstance(source, Recording) else source
    if mounting is None:
        mounting = source.mounting if isinstance(source, Recording) else Mounting()
    check_samples(samples)
    samples = _with_plateaus(samples)
    rests = _checked_rests(samples)
    calibration = source.calibration if isinstance(source, Recording) else None
    axis, strokes = _measured(samples, mounting, calibration)
    return Analysis(
        strokes=tuple(strokes),
        cue_axis=None if axis is None else axis.direction,
        cue_axis_sd_rad=None if axis is None else axis.sd_rad,
        cue_axis_source="unknown" if axis is None else axis.source,
        rests=rests,
        notes=_notes(samples, axis, mounting),
    )


def _measured(
    samples: Samples, mounting: Mounting, calibration: Calibration | None
) -> tuple[CueAxis | None, list[Stroke]]:
    """Return the cue's direction, stated or found, and the strokes along it."""
    stated = axis_of(mounting)
    if stated is not None:
        return stated, _along(samples, mounting, calibration, stated)
    best: tuple[CueAxis | None, list[Stroke]] = (None, [])
    for found, n_hints in _rivals(samples, mounting):
        axis = _surer_by_roll(samples, found)
        if axis.source == "strokes":
            axis = _surer_by_strokes(samples, mounting, calibration, axis)
        strokes = _along(samples, mounting, calibration, axis)
        n_rested = _n_rested(strokes)
        if best[0] is None or (n_rested, len(strokes)) > (_n_rested(best[1]), len(best[1])):
            best = (axis, strokes)
        if n_rested >= max(ENOUGH_STROKES * n_hints, RESTED_SHARE * len(strokes)):
            break
    return best


def _n_rested(strokes: list[Stroke]) -> int:
    """Return how many strokes the cue stood still before and after: knocks are amid movement."""
    amid = {StrokeFlag.NO_REST_BEFORE, StrokeFlag.NO_REST_AFTER}
    return sum(not stroke.flags & amid for stroke in strokes)


def _along(
    samples: Samples, mounting: Mounting, calibration: Calibration | None, axis: CueAxis
) -> list[Stroke]:
    """Return the strokes along an axis."""
    finder = StrokeFinder(mounting, axis=axis, calibration=calibration)
    return finder.push(samples) + finder.finish()


def _surer_by_strokes(
    samples: Samples, mounting: Mounting, calibration: Calibration | None, found: CueAxis
) -> CueAxis:
    """Return the cue's direction made surer by the first strokes along it."""
    axis = found
    for _ in range(MOST_LOOKS):
        finder = StrokeFinder(mounting, axis=axis, calibration=calibration)
        for start_s in np.arange(samples.time_s[0], samples.time_s[-1], LOOK_STEP_S):
            finder.push(samples.between(float(start_s), float(start_s) + LOOK_STEP_S))
            if len(finder.pointings) >= ENOUGH_POINTINGS:
                break
        else:
            finder.finish()
        before, axis = axis, pointed(found, finder.pointings)
        if float(np.linalg.norm(axis.direction - before.direction)) < FAR_RAD:
            break
    return axis


def _surer_by_roll(samples: Samples, found: CueAxis) -> CueAxis:
    """Return the cue's direction from the strokes, made surer by a roll if one is there."""
    if not samples.has_gyroscope:
        return found
    try:
        first_s = float(samples.time_s[0])
        early = samples.between(first_s, first_s + ROLL_WITHIN_S)
        rolled = roll(early, towards_tip=found.direction).mounting
    except SignalError:
        return found
    axis = axis_of(rolled)
    # whatever else turned about one direction, the cue does not move along that
    if axis is None or axis.sd_rad >= found.sd_rad:
        return found
    off_rad = float(np.linalg.norm(axis.direction - found.direction))
    if off_rad > ROLL_AGREES_SDS * float(np.hypot(axis.sd_rad, found.sd_rad)):
        return found
    return CueAxis(axis.direction, axis.sd_rad, "roll")


def axis_from_strokes(samples: Samples, mounting: Mounting | None = None) -> CueAxis | None:
    """Return the cue's direction in the sensor as the strokes of a recording show it.

    Parameters
    ----------
    samples : Samples
        All samples.
    mounting : Mounting, optional
        For the sensor's place along the cue.

    Returns
    -------
    CueAxis or None
        None where nothing looks like a stroke.
    """
    rivals = _rivals(samples, mounting or Mounting())
    return rivals[0][0] if rivals else None


def _rivals(samples: Samples, mounting: Mounting) -> list[tuple[CueAxis, int]]:
    """Return what may be the cue's direction, the most likely first, and its number of hints."""
    period_s = 1.0 / samples.rate_hz
    found = find_spikes(samples.specific_force_m_s2, period_s=period_s)
    hints: list[Hint] = []
    bridge_m = bridge_distance_m(mounting.sensor_to_tip_m)
    for index, change in zip(found.index, found.change_m_s, strict=True):
        about_s = float(samples.time_s[index])
        window = cut_window(samples, about_s - 3.0, about_s + 0.1)
        hint = axis_hint(window, about_s, change, bridge_m=bridge_m)
        hints += [] if hint is None else [hint]
    return [(CueAxis(axis, sd, "strokes"), n) for axis, sd, n in rival_axes(hints)]


def check_samples(samples: Samples) -> None:
    """Refuse samples from which no stroke can be measured.

    Parameters
    ----------
    samples : Samples
        All samples.

    Raises
    ------
    SignalError
        With the value met and what to do.
    """
    n = len(samples)
    duration_s = float(samples.time_s[-1] - samples.time_s[0]) if n else 0.0
    if n < 2 or duration_s < LEAST_DURATION_S:
        raise SignalError(
            f"Only {duration_s:.2f} s of samples; a stroke needs at least "
            f"{LEAST_DURATION_S:.0f} s. Record from before the feathers until after the "
            "follow-through."
        )
    if not samples.rate_hz >= LEAST_RATE_HZ:
        raise SignalError(
            f"Only {samples.rate_hz:.0f} Hz; finding a hit needs at least 50 Hz. "
            "Record again with a higher sensor rate."
        )
    columns = {"acceleration": samples.specific_force_m_s2}
    if samples.angular_rate_rad_s is not None:
        columns["angular rate"] = samples.angular_rate_rad_s
    for name, values in columns.items():
        if not np.isfinite(values).all():
            bad = np.flatnonzero(~np.isfinite(values).all(axis=1))
            raise SignalError(
                f"The {name} at {samples.time_s[bad[0]]:.3f} s is not a number ({len(bad)} such "
                "samples). Leave lost samples out instead of filling them in."
            )
    _check_size(samples)


def _check_size(samples: Samples) -> None:
    """Refuse values that no sensor on a cue gives."""
    force = _greatest(samples.specific_force_m_s2)
    if force > MOST_FORCE_M_S2:
        raise SignalError(
            f"An acceleration of {force:.3g} m/s^2 is beyond any sensor. "
            "Check the unit of the acceleration."
        )
    if samples.angular_rate_rad_s is None:
        return
    rate = _greatest(samples.angular_rate_rad_s)
    if rate > MOST_RATE_RAD_S:
        raise SignalError(
            f"An angular rate of {rate:.3g} rad/s is beyond any hand, which looks like degrees "
            "per second. Name the columns gx_deg_s, gy_deg_s, gz_deg_s, or convert them to rad/s."
        )


def _greatest(values: FloatArray) -> float:
    """Return the greatest absolute value."""
    return max(float(values.max()), -float(values.min()))


def _checked_rests(samples: Samples) -> FloatArray:
    """Return start and stop of all rests in seconds, having checked that they read gravity."""
    window = cut_window(samples, -np.inf, np.inf)
    rests = find_rests(window)
    first, last = ends_of(rests)
    check_gravity(means_over(window.force_m_s2, first, last))
    return np.column_stack([window.time_s[first], window.time_s[last - 1]])


def _with_plateaus(samples: Samples) -> Samples:
    """Return the samples with clipping marked that only its repeated end value shows."""
    clipped = samples.is_clipped | mark_plateaus(samples.specific_force_m_s2)
    return Samples(
        samples.time_s,
        samples.specific_force_m_s2,
        samples.angular_rate_rad_s,
        clipped,
        samples.rate_hz,
    )


def _notes(samples: Samples, axis: CueAxis | None, mounting: Mounting) -> tuple[str, ...]:
    """Return sentences on what limits the result."""
    notes: list[str] = []
    if axis is None:
        notes.append("Nothing in the recording looks like a stroke that met a ball.")
    elif axis.source == "strokes":
        degrees = np.degrees(axis.sd_rad)
        notes.append(
            f"The cue's direction in the sensor was taken from the strokes (about {degrees:.1f} "
            "degrees sure); roll the cue on the cloth once, or state it, for surer numbers."
        )
    if not samples.has_gyroscope:
        notes.append("Without a gyroscope the tip's way sideways and up cannot be told.")
    elif mounting.sensor_to_tip_m is None:
        notes.append("State the sensor's place and the cue's length to get the tip's way.")
    if samples.n_lost:
        notes.append(f"{samples.n_lost} samples were lost on the way.")
    return tuple(notes)
