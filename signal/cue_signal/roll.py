"""Mounting from a roll: the cue's direction in the sensor, by rolling the cue on the cloth.

The cue is laid on the cloth with the sensor clear of it and rolled a whole turn under a flat
hand, then held with the tip up for a second. The roll tells the line of the cue, the lift which
end of it the tip is.
"""

from dataclasses import dataclass, replace

import numpy as np

from cue_sensors.samples import FloatArray, Mounting, Samples
from cue_signal.calibrate_guide import GuideState
from cue_signal.calibrate_result import three
from cue_signal.calibrate_still import joined, still_now
from cue_signal.errors import SignalError
from cue_signal.roll_axis import Direction, by_gravity, by_turning, combined
from cue_signal.roll_find import SECTORS, Rolled, find_roll
from cue_signal.roll_tip import Scale, scale_by_turn, tip_sign

TRIED_SECTORS, LEAST_SECTORS, WANTED_SECTORS = 4, 9, 11
"""Of the twelve parts of a turn; below the first it was a cue tilted, not rolled."""
MOST_SD_RAD = 0.05
MOST_SCATTER_M_S2 = 0.8
"""A cue that wobbles more than this (5 degrees) was not lying on the cloth."""
MOST_EXCESS = 5.0
HELD_S = 60.0
LOOK_EVERY_S = 0.4


@dataclass(frozen=True, eq=False)
class MountingResult:
    """The cue's direction in the sensor, from a roll.

    Parameters
    ----------
    mounting : Mounting
        With ``cue_axis`` and ``cue_axis_sd_rad`` set.
    sd_rad : float
        Standard uncertainty of the direction, per angle.
    source : str
        ``"roll, gyroscope and gravity"`` or ``"roll, gravity alone"``.
    turned_rad : float
        How far the cue was turned, all pushes together.
    agreement : float or None
        By how many standard uncertainties gyroscope and gravity differ.
    gyro_scale, gyro_scale_sd : float or None
        True turn by the gyroscope's, about the cue: by the places of gravity at rest before and
        after the roll. None where that is not told.
    words : tuple of str
        Sentences on how good it is.
    """

    mounting: Mounting
    sd_rad: float
    source: str
    turned_rad: float
    agreement: float | None
    gyro_scale: float | None
    gyro_scale_sd: float | None
    words: tuple[str, ...]


def roll(
    samples: Samples,
    *,
    mounting: Mounting | None = None,
    towards_tip: FloatArray | None = None,
    is_calibrated: bool = False,
) -> MountingResult:
    """Return the cue's direction in the sensor from a roll on the cloth.

    Parameters
    ----------
    samples : Samples
        With a roll of the cue, three quarters of a turn or more, in one push or several, and a
        second in which the tip was held up.
    mounting : Mounting, optional
        Kept, but for the axis.
    towards_tip : ndarray, shape (3,), optional
        Roughly towards the tip in the sensor's frame, where that is known: then the tip need not
        be lifted.
    is_calibrated : bool
        Whether the accelerometer's errors were taken out of the samples.

    Returns
    -------
    MountingResult
        With its standard uncertainty.

    Raises
    ------
    SignalError
        If there was no roll: too little turn, or a wobble; or if the tip's end is not known.
    """
    rolled = _checked(find_roll(samples))
    found, agreement, source = _direction(samples, rolled, is_calibrated=is_calibrated)
    _check_wobble(found, agreement)
    sign = tip_sign(samples, rolled, found.axis, towards_tip)
    if sign == 0.0:
        raise SignalError(
            "The roll tells the line of the cue, but not which end the tip is. Hold the cue "
            "still with the tip up for a second, after the roll or before."
        )
    scale = scale_by_turn(samples, rolled, found.axis, is_calibrated=is_calibrated)
    return MountingResult(
        mounting=replace(
            mounting or Mounting(), cue_axis=three(sign * found.axis), cue_axis_sd_rad=found.sd_rad
        ),
        sd_rad=found.sd_rad,
        source=source,
        turned_rad=rolled.turned_rad,
        agreement=agreement,
        gyro_scale=None if scale is None else scale.value,
        gyro_scale_sd=None if scale is None else scale.sd,
        words=_words(found, rolled, scale),
    )


class RollGuide:
    """Leads through the roll while samples arrive.

    Parameters
    ----------
    mounting : Mounting, optional
        Kept, but for the axis.
    is_calibrated : bool
        Whether the accelerometer's errors were taken out of the samples.
    """

    def __init__(self, *, mounting: Mounting | None = None, is_calibrated: bool = False) -> None:
        self._mounting, self._is_calibrated = mounting, is_calibrated
        self._held: Samples | None = None
        self._state = GuideState(
            "Lay the cue on the cloth with the sensor clear of it, and hold it still.",
            0,
            SECTORS,
            False,
        )
        self._looked_s = -np.inf

    def push(self, samples: Samples) -> GuideState:
        """Take samples and return what to do next.

        Parameters
        ----------
        samples : Samples
            Later than all before; may be none.
        """
        if len(samples):
            held = samples if self._held is None else joined(self._held, samples)
            now = float(held.time_s[-1])
            if now - held.time_s[0] > HELD_S + 10.0:
                held = held.between(now - HELD_S, np.inf)
            self._held = held
            if now - self._looked_s >= LOOK_EVERY_S:
                self._looked_s = now
                self._state = self._look(held)
        return self._state

    def result(self) -> MountingResult:
        """Return the mounting from the samples so far.

        Raises
        ------
        SignalError
            As ``roll`` does.
        """
        if self._held is None:
            raise SignalError("No samples have come yet. Connect the sensor, then roll the cue.")
        return roll(self._held, mounting=self._mounting, is_calibrated=self._is_calibrated)

    def _look(self, held: Samples) -> GuideState:
        """Return the state by all samples held."""
        rolled = find_roll(held)
        if rolled is not None and rolled.n_sectors < TRIED_SECTORS:
            rolled = None
        still_s, up = still_now(held)
        n_done = 0 if rolled is None else min(rolled.n_sectors, SECTORS)
        words, is_ready = "", False
        if rolled is None:
            words = "Lay the cue on the cloth with the sensor clear of it, and hold it still."
            if still_s > 0.5:
                words = "Now roll it under a flat hand, slowly, for a whole turn."
        elif n_done < WANTED_SECTORS:
            words = "Go on rolling until the cue has turned once round."
        elif tip_sign(held, rolled, rolled.about, None) == 0.0:
            words = "Rolled. Now lift the tip well up and hold the cue still for a second."
        else:
            words, is_ready = self._judged(held)
        return GuideState(
            words=words,
            n_done=n_done,
            n_wanted=SECTORS,
            is_ready=is_ready,
            is_still=still_s > 0.25,
            still_s=still_s,
            up=None if up is None else three(up),
            turned_rad=0.0 if rolled is None else rolled.turned_rad,
        )

    def _judged(self, held: Samples) -> tuple[str, bool]:
        """Return what to say of a whole roll, and whether it serves."""
        try:
            found = roll(held, mounting=self._mounting, is_calibrated=self._is_calibrated)
        except SignalError as error:
            return str(error), False
        return f"Done: {found.words[0]}", True


def _checked(rolled: Rolled | None) -> Rolled:
    """Return the roll, refusing what was none."""
    if rolled is None or rolled.n_sectors < TRIED_SECTORS:
        raise SignalError(
            "Nothing in the samples is a roll of a level cue. Lay it on the cloth with the sensor "
            "clear of it and roll it a whole turn under a flat hand, in two seconds or three."
        )
    if rolled.n_sectors < LEAST_SECTORS:
        raise SignalError(
            f"Only {360 * rolled.n_sectors // SECTORS} degrees of the circle were rolled through; "
            "roll the cue a whole turn."
        )
    return rolled


def _direction(
    samples: Samples, rolled: Rolled, *, is_calibrated: bool
) -> tuple[Direction, float | None, str]:
    """Return the direction by all that tells it, the agreement, and the source."""
    gravity = by_gravity(samples, rolled, is_calibrated=is_calibrated)
    if not samples.has_gyroscope:
        return gravity, None, "roll, gravity alone"
    both, agreement = combined(by_turning(samples, rolled), gravity)
    return both, agreement, "roll, gyroscope and gravity"


def _check_wobble(found: Direction, agreement: float | None) -> None:
    """Refuse a roll about no one direction."""
    if found.scatter_m_s2 > MOST_SCATTER_M_S2 or found.sd_rad > MOST_SD_RAD:
        degrees = np.degrees(max(found.sd_rad, found.scatter_m_s2 / 9.81))
        raise SignalError(
            f"The cue wobbled by about {degrees:.0f} degrees while it was turned. Roll it flat on "
            "the cloth, slowly, with nothing under it but the cloth."
        )
    if agreement is not None and agreement > MOST_EXCESS:
        raise SignalError(
            f"Gyroscope and gravity disagree about the roll by {agreement:.0f} times what they "
            "should. Roll the cue again, slowly, the sensor clear of the table."
        )


def _words(found: Direction, rolled: Rolled, scale: Scale | None) -> tuple[str, ...]:
    """Return sentences on how good the mounting is."""
    words = [
        f"The cue's direction in the sensor is known to {np.degrees(found.sd_rad):.2f} degrees, "
        f"from {np.degrees(rolled.turned_rad):.0f} degrees of rolling."
    ]
    if scale is not None:
        words.append(
            f"About the cue, the gyroscope shows {100.0 / scale.value:.2f} % of the true turn "
            f"(± {100.0 * scale.sd:.2f} %)."
        )
    return tuple(words)
