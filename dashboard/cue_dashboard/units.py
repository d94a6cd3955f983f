"""Units of the screen: SI inside, the trade's units in front of people."""

from dataclasses import dataclass
from enum import StrEnum

MM_PER_M = 1000.0

TYPICAL_TIP_WIDTH_M = 0.0095
"""Common practice, no source: a snooker tip is 9 to 10 mm wide; used when no cue is chosen."""


class PaceUnit(StrEnum):
    """Unit of pace on the screen."""

    M_S = "m/s"
    MPH = "mph"
    KM_H = "km/h"


_PER_M_S = {PaceUnit.M_S: 1.0, PaceUnit.MPH: 3600.0 / 1609.344, PaceUnit.KM_H: 3.6}
_DIGITS = {PaceUnit.M_S: 2, PaceUnit.MPH: 1, PaceUnit.KM_H: 1}


@dataclass(frozen=True)
class PaceScale:
    """How paces are written on the screen.

    Parameters
    ----------
    unit : PaceUnit
        Unit to show.
    """

    unit: PaceUnit = PaceUnit.M_S

    @classmethod
    def of(cls, name: object) -> "PaceScale":
        """Return the scale for a unit's name, metres a second for anything unknown."""
        known = {unit.value: unit for unit in PaceUnit}
        return cls(known.get(str(name), PaceUnit.M_S))

    @property
    def factor(self) -> float:
        """Shown value of 1 m/s."""
        return _PER_M_S[self.unit]

    @property
    def digits(self) -> int:
        """Decimals that a pace is shown with."""
        return _DIGITS[self.unit]

    def number(self, pace_m_s: float) -> str:
        """Return the pace without its unit."""
        return f"{pace_m_s * self.factor:.{self.digits}f}"

    def text(self, pace_m_s: float) -> str:
        """Return the pace with its unit."""
        return f"{self.number(pace_m_s)} {self.unit}"

    def span(self, low_m_s: float, high_m_s: float) -> str:
        """Return a range of paces with its unit."""
        return f"{self.number(low_m_s)} to {self.number(high_m_s)} {self.unit}"


def tips_text(tip_below_centre_m: float, tip_width_m: float = TYPICAL_TIP_WIDTH_M) -> str:
    """Return a tip height in the trade's tips, as "1 tip below centre".

    Parameters
    ----------
    tip_below_centre_m : float
        How far the cue's axis passes below the white's centre, in metres; above is negative.
    tip_width_m : float
        Width of this cue's tip in metres.
    """
    tips = abs(tip_below_centre_m) / tip_width_m
    quarters = round(tips * 4)
    if quarters == 0:
        return "centre ball"
    side = "below" if tip_below_centre_m > 0 else "above"
    whole, rest = divmod(quarters, 4)
    shown = (str(whole) if whole else "") + ("", "\u00bc", "\u00bd", "\u00be")[rest]
    about = "" if abs(tips * 4 - quarters) < 0.2 else "about "
    return f"{about}{shown} {'tip' if quarters <= 4 else 'tips'} {side} centre"


def short_tips(tip_below_centre_m: float, tip_width_m: float = TYPICAL_TIP_WIDTH_M) -> str:
    """Return a tip height in tips without the words below or above centre."""
    text = tips_text(tip_below_centre_m, tip_width_m)
    return text.replace(" below centre", "").replace(" above centre", "")


def mm_text(length_m: float, digits: int = 0) -> str:
    """Return a length in millimetres with its unit."""
    return f"{length_m * MM_PER_M:.{digits}f} mm"


def tip_height_text(tip_below_centre_m: float, tip_width_m: float = TYPICAL_TIP_WIDTH_M) -> str:
    """Return a tip height in millimetres with tips beside it."""
    tips = short_tips(tip_below_centre_m, tip_width_m)
    if tips == "centre ball":
        return tips
    side = "below" if tip_below_centre_m > 0 else "above"
    return f"{mm_text(abs(tip_below_centre_m), 1)} {side} centre ({tips})"
