"""Strokes found while samples arrive; the same code serves recordings."""

import copy
from collections import deque
from dataclasses import dataclass
from itertools import takewhile

import numpy as np

from cue_sensors.samples import BoolArray, Calibration, FloatArray, Mounting, Samples
from cue_signal.axis import CueAxis, Hint, agree, axis_hint, bridge_distance_m
from cue_signal.bias import BiasTracker
from cue_signal.doubt import Instrument, scale_sd_of
from cue_signal.integrals import means_over
from cue_signal.measure import Measured, measure
from cue_signal.pointing import Pointing, pointed
from cue_signal.rest import check_gravity, ends_of, find_rests
from cue_signal.spikes import find_spikes, margin_samples
from cue_signal.stroke import Stroke, StrokeFlag
from cue_signal.windows import Window, cut_window

HISTORY_S = 8.0
"""A stroke is measured from at most this much before its hit."""
LEAST_TAIL_S = 0.3
MOST_TAIL_S = 2.0
"""A stroke is measured this long after its hit at least and at most."""
TAIL_STEP_S = 0.02
AFTER_REST_S = 0.25
"""Standing still for this long ends a stroke. A player who looks up would wait less, but a shorter
rest after the hit is mistaken for a gentle follow-through now and then, and a soft stroke without a
rest before has nothing else to hold on to: at 0.15 s one in thirty was half its speed off."""
FIRST_REST_S = 0.1
"""Standing still for this long is enough for a first look at a stroke, which is not kept."""
MEASURING_S = 1.5
"""A follow-through with its rest is over so long after the hit; what moves longer is no shot."""
RIVAL_S, FIRST_RIVAL_S = 0.3, 0.2
"""Of sudden changes closer than this, the greatest is the hit; a first look waits for fewer."""
BRAKED_S, BRAKED_SHARE = 0.09, 0.5
"""So soon after a blow the hand brakes what it has pushed on, and a blow cut off is no less than
this share of that."""
PLAIN_LOG_ODDS, PUSH_LOG_ODDS = 3.0, -0.5
"""Beside a stroke plainer than the one, those below the other are pushes that end."""
GAIN_SHARE = 0.5
"""A sudden gain of speed is less of a sign than a loss."""
CLIPPED_SIZE_M_S = 0.3
"""What clipping hides of a hit."""
STANDS_STILL_M_S2 = 0.35
"""Spread of the force, all axes together, of a cue held still."""
LEAST_STILL_SAMPLES = 3
STATED_AXIS_SD_RAD = 0.01
"""Taken for a mounting that states an axis without its uncertainty."""


@dataclass(frozen=True, eq=False)
class Suspect:
    """A sudden change of speed that may be a hit.

    Parameters
    ----------
    time_s : float
        Middle of it.
    change_m_s : ndarray, shape (3,)
        In the sensor's frame.
    """

    time_s: float
    change_m_s: FloatArray


class StrokeFinder:
    """Find strokes in samples that arrive in pieces.

    The strokes do not depend on how the samples are cut into pieces: each is measured from the
    samples of one stretch about its hit, once these have arrived.

    Parameters
    ----------
    mounting : Mounting, optional
        How the sensor sits on the cue. Without a cue axis in it, the axis is taken from the
        strokes so far, so the first strokes are less sure than the same ones in a recording.
    axis : CueAxis, optional
        An axis already known from elsewhere, instead of the mounting's.
    calibration : Calibration, optional
        What the samples were calibrated with, for how sure their scale is.
    """

    def __init__(
        self,
        mounting: Mounting | None = None,
        *,
        axis: CueAxis | None = None,
        calibration: Calibration | None = None,
    ) -> None:
        self._mounting = mounting or Mounting()
        self._scale_sd = scale_sd_of(calibration)
        self._axis = axis or axis_of(self._mounting)
        self._is_axis_fixed = self._axis is not None
        self._hints: list[Hint] = []
        self._seen: list[Pointing] = []
        self._bias = BiasTracker()
        self._buffer: Samples | None = None
        self._searched_s = -np.inf
        self._busy_until_s = -np.inf
        self._suspects: deque[Suspect] = deque()
        self._has_checked_gravity = False
        self._first: Stroke | None = None
        self._first_of_s = -np.inf

    @property
    def is_measuring(self) -> bool:
        """Return whether a hit may just have been, whose stroke is not complete yet."""
        if not self._suspects or self._buffer is None:
            return False
        return float(self._buffer.time_s[-1]) - self._suspects[0].time_s < MEASURING_S

    @property
    def cue_axis(self) -> CueAxis | None:
        """Return the cue's direction in the sensor as known so far."""
        return self._axis

    @property
    def pointings(self) -> list[Pointing]:
        """Return what the strokes so far show of the cue's direction."""
        return list(self._seen)

    @property
    def n_held(self) -> int:
        """Return how many samples are kept for the strokes to come."""
        return 0 if self._buffer is None else len(self._buffer)

    def push(self, samples: Samples) -> list[Stroke]:
        """Take samples and return the strokes that are now complete.

        Parameters
        ----------
        samples : Samples
            The next samples, later than all before; may be empty.

        Returns
        -------
        list of Stroke
            In order of time, usually empty.

        Raises
        ------
        SignalError
            If the cue at rest does not read gravity.
        ValueError
            If the samples overlap those before, or come without the gyroscope that those had.
        """
        if len(samples) == 0:
            return []
        self._buffer = samples if self._buffer is None else joined(self._buffer, samples)
        self._check_gravity()
        self._search(is_end=False)
        strokes = self._measure_ready(is_end=False)
        self._forget()
        return strokes

    def first_look(self) -> Stroke | None:
        """Return the stroke that is not complete yet, as far as it can be told.

        A player looks up sooner than a stroke is complete: that takes `AFTER_REST_S` of rest. A
        first look takes `FIRST_REST_S`. It leaves no trace in what is measured later: the complete
        stroke comes from `push` as if nobody had looked, and only that one is to be kept.

        Returns
        -------
        Stroke or None
            The same one until the stroke is complete, or turns out to be none.
        """
        if not self._suspects:
            self._first = None
            return None
        suspect = self._suspects[0]
        if suspect.time_s != self._first_of_s:
            self._first = None
            stop_s = self._stop_s(suspect.time_s, rest_s=FIRST_REST_S, is_end=False)
            if stop_s is not None:
                self._first_of_s = suspect.time_s
                best = self._apart()._best(suspect, stop_s)
                self._first = None if best is None else best.stroke
        return self._first

    def finish(self) -> list[Stroke]:
        """Return the strokes that still waited for samples.

        Returns
        -------
        list of Stroke
            In order of time.
        """
        if self._buffer is None:
            return []
        self._search(is_end=True)
        return self._measure_ready(is_end=True)

    def _search(self, *, is_end: bool) -> None:
        """Add the sudden changes of speed in the samples not yet searched."""
        buffer = self._held()
        period_s = 1.0 / buffer.rate_hz
        margin = margin_samples(period_s)
        start = int(np.searchsorted(buffer.time_s, self._searched_s, side="right"))
        stop = len(buffer) if is_end else len(buffer) - margin
        if stop <= start:
            return
        first, last = max(0, start - margin), min(len(buffer), stop + margin)
        force = buffer.specific_force_m_s2[first:last]
        axis = self._axis if self._is_axis_fixed else None
        if axis is not None:
            force = (force @ axis.direction)[:, None]
        found = find_spikes(force, period_s=period_s, is_loss=axis is not None)
        inside = (found.index + first >= start) & (found.index + first < stop)
        for index, change in zip(found.index[inside], found.change_m_s[inside], strict=True):
            time_s = float(buffer.time_s[first + index])
            if time_s > self._busy_until_s:
                self._suspects.append(Suspect(time_s, change))
        self._searched_s = float(buffer.time_s[stop - 1])

    def _measure_ready(self, *, is_end: bool) -> list[Stroke]:
        """Return the strokes among the suspects whose samples are all there."""
        strokes: list[Stroke] = []
        while self._suspects:
            suspect = self._suspects[0]
            stop_s = self._stop_s(suspect.time_s, is_end=is_end)
            if stop_s is None:
                break
            best = self._best(suspect, stop_s)
            if best is None:
                self._suspects.popleft()
                continue
            strokes.append(best.stroke)
            self._seen.append(best.pointing)
            busy_s = max(best.stroke.follow_through_end_s, best.stroke.impact_time_s + RIVAL_S)
            self._busy_until_s = busy_s
            while self._suspects and self._suspects[0].time_s <= busy_s:
                self._suspects.popleft()
        return strokes

    def _best(self, suspect: Suspect, stop_s: float) -> Measured | None:
        """Return the stroke about the greatest of a suspect and its rivals, None if none is one."""
        until_s = suspect.time_s + RIVAL_S
        rivals = list(takewhile(lambda rival: rival.time_s <= until_s, self._suspects))
        window = cut_window(self._held(), suspect.time_s - HISTORY_S, stop_s)
        rests = find_rests(window)
        bias = self._bias.add(window, rests)
        known = [(_seen_m_s(rival), rival, self._axis_by(window, rival)) for rival in rivals]
        found: list[tuple[float, Measured]] = []
        for seen, rival, axis in sorted(known, key=lambda one: one[0], reverse=True):
            if axis is None or not _may_be_hit(seen, rival.time_s, found):
                continue
            instrument = Instrument(axis, self._mounting, self._scale_sd)
            one = measure(window, rival.time_s, instrument, rests=rests, bias=bias)
            found += [(_size_m_s(seen, one), one)] if isinstance(one, Measured) else []
        return hit_of(found)

    def _axis_by(self, window: Window, suspect: Suspect) -> CueAxis | None:
        """Return the cue's direction in the sensor as known with what a suspect tells of it."""
        if not self._is_axis_fixed and len(suspect.change_m_s) == 3:
            hint = axis_hint(
                window,
                suspect.time_s,
                suspect.change_m_s,
                bridge_m=bridge_distance_m(self._mounting.sensor_to_tip_m),
            )
            self._hints += [] if hint is None else [hint]
            hinted = axis_from_hints(self._hints)
            self._axis = None if hinted is None else pointed(hinted, self._seen)
        return self._axis

    def _apart(self) -> "StrokeFinder":
        """Return a finder that knows the same and whose measuring teaches this one nothing."""
        apart = copy.copy(self)
        apart._hints, apart._bias = list(self._hints), copy.deepcopy(self._bias)
        return apart

    def _stop_s(self, time_s: float, *, is_end: bool, rest_s: float = AFTER_REST_S) -> float | None:
        """Return until when a stroke is measured, None while that is not known."""
        buffer = self._held()
        last_s = float(buffer.time_s[-1])
        rival_s = RIVAL_S if rest_s >= AFTER_REST_S else FIRST_RIVAL_S
        if not is_end and self._searched_s < time_s + rival_s:
            return None
        stops_s = time_s + np.arange(LEAST_TAIL_S, MOST_TAIL_S, TAIL_STEP_S)
        tail = buffer.between(float(stops_s[0]) - rest_s, float(stops_s[-1]))
        still = stops_s[stands_still(tail, stops_s, rest_s) & (stops_s <= last_s)]
        if len(still):
            return float(still[0])
        if stops_s[-1] <= last_s:
            return time_s + MOST_TAIL_S
        return last_s + 1.0 if is_end else None

    def _check_gravity(self) -> None:
        """Refuse samples whose first rests do not read gravity."""
        buffer = self._held()
        if self._has_checked_gravity or buffer.time_s[-1] - buffer.time_s[0] < 2.0:
            return
        window = cut_window(buffer, buffer.time_s[-1] - HISTORY_S, buffer.time_s[-1])
        rests = find_rests(window)
        check_gravity(means_over(window.force_m_s2, *ends_of(rests)))
        self._has_checked_gravity = len(rests) > 0

    def _forget(self) -> None:
        """Drop the samples that no later stroke can need."""
        buffer = self._held()
        oldest = self._suspects[0].time_s if self._suspects else float(buffer.time_s[-1])
        start_s = oldest - HISTORY_S - 1.0
        if buffer.time_s[0] < start_s - HISTORY_S:
            self._buffer = buffer.between(start_s, np.inf)

    def _held(self) -> Samples:
        """Return the samples held."""
        if self._buffer is None:
            raise ValueError("no samples were pushed yet")
        return self._buffer


def _may_be_hit(seen_m_s: float, time_s: float, found: list[tuple[float, Measured]]) -> bool:
    """Return whether a rival no greater than those measured may yet be the hit."""
    if all(one.ends_log_odds <= PUSH_LOG_ODDS for _, one in found):
        return True
    size, best = max(found, key=lambda pair: pair[0])
    # whatever clipping hides, this one is no greater than that
    most = seen_m_s + CLIPPED_SIZE_M_S
    ahead_s = best.stroke.impact_time_s - time_s
    return most > size or (ahead_s < BRAKED_S and time_s < best.stroke.impact_time_s)


def hit_of(found: list[tuple[float, Measured]]) -> Measured | None:
    """Return the greatest of strokes, None if there is none.

    Where a blow was cut off, the hand's push after it and its braking are as great; the blow came
    first. What a push that ends explains better is none beside a plain one.

    Parameters
    ----------
    found : list of (float, Measured)
        How much speed was lost at once, and what was measured.
    """
    plain = any(one.ends_log_odds > PLAIN_LOG_ODDS for _, one in found)
    likely = [pair for pair in found if not plain or pair[1].ends_log_odds > PUSH_LOG_ODDS]
    size, best = max(likely, key=lambda pair: pair[0], default=(0.0, None))
    if best is None:
        return None
    braked_s = best.stroke.impact_time_s
    before = [
        (other_size, other)
        for other_size, other in found
        if 0.0 < braked_s - other.stroke.impact_time_s < BRAKED_S
        and other_size > BRAKED_SHARE * size
    ]
    return max(before, key=lambda pair: pair[0], default=(size, best))[1]


def _seen_m_s(suspect: Suspect) -> float:
    """Return how much speed was lost at once."""
    size = float(np.linalg.norm(suspect.change_m_s))
    # a hard delivery begins as suddenly as the hand pushes on after a clipped blow
    is_gain = len(suspect.change_m_s) == 1 and suspect.change_m_s[0] > 0.0
    return GAIN_SHARE * size if is_gain else size


def _size_m_s(seen_m_s: float, measured: Measured) -> float:
    """Return the same with what clipping hides of it."""
    is_clipped = StrokeFlag.CLIPPED_HIT in measured.stroke.flags
    return seen_m_s + (CLIPPED_SIZE_M_S if is_clipped else 0.0)


def axis_of(mounting: Mounting) -> CueAxis | None:
    """Return the cue axis that a mounting states, None where it states none.

    Parameters
    ----------
    mounting : Mounting
        How the sensor sits on the cue.

    Raises
    ------
    ValueError
        If the stated axis has no direction.
    """
    if mounting.cue_axis is None:
        return None
    direction = np.asarray(mounting.cue_axis, dtype=np.float64)
    size = float(np.linalg.norm(direction))
    if not np.isfinite(size) or size < 1e-6:
        raise ValueError(f"the cue axis {mounting.cue_axis} has no direction")
    stated = mounting.cue_axis_sd_rad
    return CueAxis(direction / size, STATED_AXIS_SD_RAD if stated is None else stated, "mounting")


def axis_from_hints(hints: list[Hint]) -> CueAxis | None:
    """Return the axis that the hints agree on, None without hints."""
    agreed = agree([hint for hint in hints if not hint.is_push] or hints)
    return None if agreed is None else CueAxis(agreed[0], agreed[1], "strokes")


def stands_still(samples: Samples, stops_s: FloatArray, rest_s: float = AFTER_REST_S) -> BoolArray:
    """Return whether the cue stood still over the last moment before each time.

    Parameters
    ----------
    samples : Samples
        From a moment before the first of the times on.
    stops_s : ndarray, shape (k,)
        Times in order.
    rest_s : float
        How long a moment is.
    """
    if len(samples) < LEAST_STILL_SAMPLES:
        return np.zeros(len(stops_s), dtype=np.bool_)
    # about the first sample, so that squares of gravity do not swamp tremor
    force = samples.specific_force_m_s2 - samples.specific_force_m_s2[0]
    sums = np.zeros((len(force) + 1, 4))
    np.cumsum(np.column_stack([force, np.sum(force**2, axis=1)]), axis=0, out=sums[1:])
    first, last = np.searchsorted(samples.time_s, [stops_s - rest_s, stops_s])
    n = np.maximum(last - first, 1)[:, None]
    mean = (sums[last] - sums[first]) / n
    variance = mean[:, 3] - np.sum(mean[:, :3] ** 2, axis=1)
    enough = last - first >= LEAST_STILL_SAMPLES
    return np.asarray(enough & (variance < STANDS_STILL_M_S2**2), dtype=np.bool_)


def joined(first: Samples, second: Samples) -> Samples:
    """Return two stretches of the same stream as one.

    Raises
    ------
    ValueError
        If the second does not come after the first, or only one has a gyroscope.
    """
    if second.time_s[0] <= first.time_s[-1]:
        raise ValueError(
            f"samples from {second.time_s[0]:.6f} s came after samples up to "
            f"{first.time_s[-1]:.6f} s"
        )
    rate = None
    if first.angular_rate_rad_s is not None and second.angular_rate_rad_s is not None:
        rate = np.concatenate([first.angular_rate_rad_s, second.angular_rate_rad_s])
    elif first.has_gyroscope != second.has_gyroscope:
        raise ValueError("samples with and without a gyroscope cannot be joined")
    return Samples(
        time_s=np.concatenate([first.time_s, second.time_s]),
        specific_force_m_s2=np.concatenate([first.specific_force_m_s2, second.specific_force_m_s2]),
        angular_rate_rad_s=rate,
        is_clipped=np.concatenate([first.is_clipped, second.is_clipped]),
        rate_hz=second.rate_hz,
    )
