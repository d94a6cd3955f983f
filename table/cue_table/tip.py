"""Tip on ball: what a stroke gives the white.

The cue is level, the tip does not slip, the impulse lies along the cue and the cue runs free during
the millisecond of contact. Offsets are those of the cue's axis from the white's centre: how far
below the centre it passes, and how far to the player's left. The tip's dome meets the ball nearer
to the centre than the axis passes; the model allows for that.

All formulas derived for this project, and checked as algebra against an integrated spring contact.
That the tip's restitution stays the same off centre and at every speed is not verified anywhere.
"""

from dataclasses import dataclass

import numpy as np

from cue_table.ball import BALL_MASS_KG, BALL_RADIUS_M, BoolArray, FloatArray
from cue_table.errors import RangeError, check_range

MISCUE_LIMIT = 0.5
"""Contact offset over radius beyond which miscues are likely (Alciatore, "How High or Low Should
You Hit the Cue Ball?")."""


@dataclass(frozen=True)
class Cue:
    """The cue and its tip.

    Parameters
    ----------
    mass_kg : float
        Whole mass; 0.51 kg is 18 oz.
    tip_restitution : float
        0.71 to 0.75 for leather playing tips (Colorado State University, "tip efficiency").
    tip_radius_m : float
        Radius of the tip's dome. Common practice, no source.
    tip_width_m : float
        Width of the tip, which is what players call "one tip". Common practice, no source.
    end_mass_kg : float
        Mass of the cue's front end that swings sideways in the contact and so decides squirt; a
        twentieth of the ball's mass, from memory.
    tip_friction : float
        Friction of the chalked tip, 0.6 to 0.7 from memory: beyond it the tip slips for certain.

    Raises
    ------
    TableError
        If a value lies outside what a cue can be.
    """

    mass_kg: float = 0.51
    tip_restitution: float = 0.73
    tip_radius_m: float = 0.0095 / 2
    tip_width_m: float = 0.0095
    end_mass_kg: float = 0.0071
    tip_friction: float = 0.7

    def __post_init__(self) -> None:
        """Refuse what no cue is."""
        advice = "Give the value of a real cue, in SI units."
        check_range("Cue mass", self.mass_kg, low=0.2, high=1.5, unit="kg", remedy=advice)
        check_range("Tip restitution", self.tip_restitution, low=0.3, high=1.0, remedy=advice)
        check_range("Tip radius", self.tip_radius_m, low=0.0, high=0.05, unit="m", remedy=advice)
        check_range("Tip width", self.tip_width_m, low=0.004, high=0.02, unit="m", remedy=advice)
        check_range("End mass", self.end_mass_kg, low=0.0, high=0.1, unit="kg", remedy=advice)
        check_range("Tip friction", self.tip_friction, low=0.1, high=2.0, remedy=advice)

    @property
    def contact_share(self) -> float:
        """Return contact offset over axis offset: the dome meets the ball nearer its centre."""
        return BALL_RADIUS_M / (BALL_RADIUS_M + self.tip_radius_m)

    @property
    def safe_offset_m(self) -> float:
        """Return the axis offset up to which a miscue is unlikely (contact at half the radius)."""
        return MISCUE_LIMIT * BALL_RADIUS_M / self.contact_share

    @property
    def greatest_offset_m(self) -> float:
        """Return the axis offset at which even a well chalked tip slips off the ball."""
        slope = self.tip_friction / np.hypot(1.0, self.tip_friction)
        return float(slope * BALL_RADIUS_M / self.contact_share)

    def tips(self, offset_m: float) -> float:
        """Return an axis offset in tip widths, the trade's own measure."""
        return offset_m / self.tip_width_m

    def check_offset(self, below_centre_m: float, side_m: float = 0.0) -> None:
        """Raise TableError where the tip would slip off the ball for certain."""
        offset = float(np.hypot(below_centre_m, side_m))
        greatest = self.greatest_offset_m
        if not offset <= greatest:
            raise RangeError(
                "Distance of the cue's axis from the white's centre",
                offset * 1e3,
                low=0.0,
                high=greatest * 1e3,
                unit="mm",
                remedy=f"Aim nearer the centre: beyond {self.safe_offset_m * 1e3:.1f} mm miscues "
                "are likely.",
            )


DEFAULT_CUE = Cue()
"""An ordinary cue of 18 oz with a leather tip."""


@dataclass(frozen=True, eq=False)
class Strike:
    """The white just after the tip has left it. Arrays have the broadcast shape of the stroke.

    Parameters
    ----------
    speed_m_s : ndarray
        Speed of the white.
    roll_speed_m_s : ndarray
        Radius times spin along its path: positive topspin, negative backspin.
    side_speed_m_s : ndarray
        Radius times spin about the vertical, positive anticlockwise seen from above.
    squirt_rad : ndarray
        Turn of the white's path off the cue's line, positive to the left.
    cue_speed_after_m_s : ndarray
        Speed left in the cue.
    contact_offset : ndarray
        Distance of the contact from the centre, over the radius.
    """

    speed_m_s: FloatArray
    roll_speed_m_s: FloatArray
    side_speed_m_s: FloatArray
    squirt_rad: FloatArray
    cue_speed_after_m_s: FloatArray
    contact_offset: FloatArray

    @property
    def is_miscue_likely(self) -> BoolArray:
        """Return where the contact lies further out than half the radius."""
        return self.contact_offset > MISCUE_LIMIT

    @property
    def warnings(self) -> tuple[str, ...]:
        """Return what a player should be told about this stroke."""
        n_doubtful = int(np.count_nonzero(self.is_miscue_likely))
        if n_doubtful == 0:
            return ()
        worst = float(np.max(self.contact_offset))
        return (
            f"Miscue likely: the tip meets the white {worst:.2f} radii from its centre, and "
            f"{MISCUE_LIMIT:.1f} is the usual limit.",
        )


def strike(
    tip_speed_m_s: float | FloatArray,
    *,
    below_centre_m: float | FloatArray,
    side_m: float | FloatArray = 0.0,
    cue: Cue = DEFAULT_CUE,
) -> Strike:
    """Return speed and spin the stroke gives the white.

    Parameters
    ----------
    tip_speed_m_s : float or ndarray
        Speed of the tip just before it touches, not negative.
    below_centre_m : float or ndarray
        How far the cue's axis passes below the white's centre; negative above it.
    side_m : float or ndarray
        How far it passes to the player's left of the centre; negative is right-hand side.
    cue : Cue
        The cue.

    Returns
    -------
    Strike
        With the broadcast shape of the input.

    Notes
    -----
    With x the contact offset over the radius, M and m the masses of cue and ball and e the tip's
    restitution: speed ``(1 + e) V / (1 + m/M + 5/2 x^2)``, spin speed ``5/2 x`` times that. Offsets
    beyond the miscue limit are calculated as if the tip held; ``is_miscue_likely`` marks them.

    Examples
    --------
    >>> struck = strike(1.0, below_centre_m=0.0, cue=Cue(mass_kg=0.5103))
    >>> round(float(struck.speed_m_s), 4)
    1.3534
    """
    speed, below, side = np.broadcast_arrays(
        np.asarray(tip_speed_m_s, dtype=np.float64),
        np.asarray(below_centre_m, dtype=np.float64),
        np.asarray(side_m, dtype=np.float64),
    )
    share = cue.contact_share / BALL_RADIUS_M
    low, left = share * below, share * side
    ratio = BALL_MASS_KG / cue.mass_kg
    given = (1.0 + cue.tip_restitution) * speed / (1.0 + ratio + 2.5 * (low**2 + left**2))
    return Strike(
        speed_m_s=given,
        roll_speed_m_s=-2.5 * low * given,
        side_speed_m_s=-2.5 * left * given,
        squirt_rad=-squirt_rad(left, cue),
        cue_speed_after_m_s=speed - ratio * given,
        contact_offset=np.hypot(low, left),
    )


def squirt_rad(contact_side: float | FloatArray, cue: Cue) -> FloatArray:
    """Return how far the white turns off the cue's line, away from the side that is struck.

    Parameters
    ----------
    contact_side : float or ndarray
        Sideways offset of the contact over the radius, -1 to 1.
    cue : Cue
        Its end mass decides.

    Returns
    -------
    ndarray
        Angle with the sign of the offset. Derived; its form agrees with what we remember of
        Shepard (2001). A cue without end mass gives none.
    """
    x = np.clip(np.asarray(contact_side, dtype=np.float64), -1.0, 1.0)
    if cue.end_mass_kg == 0.0:
        return np.zeros_like(x)
    forward = 1.0 + BALL_MASS_KG / cue.end_mass_kg + 2.5 * (1.0 - x**2)
    return np.arctan2(2.5 * x * np.sqrt(1.0 - x**2), forward)


def tip_speed_for_m_s(
    white_speed_m_s: float | FloatArray,
    *,
    below_centre_m: float | FloatArray,
    side_m: float | FloatArray = 0.0,
    cue: Cue = DEFAULT_CUE,
) -> FloatArray:
    """Return the tip speed that gives the white this speed: :func:`strike` the other way round."""
    per_unit = strike(1.0, below_centre_m=below_centre_m, side_m=side_m, cue=cue).speed_m_s
    return np.asarray(white_speed_m_s, dtype=np.float64) / per_unit
