"""How hard and how low for dead stun, and how much room for error it leaves.

Dead stun is the white arriving with no spin about the axis across its path: all its backspin has
just run out, and it still slides. With beta the contact offset below the centre over the radius,
v0 the white's first speed and d its free travel, derived from Coulomb sliding:

- the spin is gone after ``d = v0^2 beta (2 - beta) / (2 mu g)``,
- so ``v0* = sqrt(2 mu g d / (beta (2 - beta)))``.

Harder than that the white arrives with backspin, softer with topspin.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import overload

import numpy as np
from scipy.optimize import root_scalar

from cue_table.ball import BALL_MASS_KG, BALL_RADIUS_M, FloatArray
from cue_table.cloth import DEFAULT_CLOTH, Cloth, arrive
from cue_table.collision import DEFAULT_CONTACT, BallContact
from cue_table.errors import TableError, check_range
from cue_table.tip import DEFAULT_CUE, Cue, strike, tip_speed_for_m_s


@overload
def dead_stun_tip_speed_m_s(
    distance_m: float, below_centre_m: float, cue: Cue = ..., cloth: Cloth = ...
) -> float: ...


@overload
def dead_stun_tip_speed_m_s(
    distance_m: float | FloatArray,
    below_centre_m: float | FloatArray,
    cue: Cue = ...,
    cloth: Cloth = ...,
) -> float | FloatArray: ...


def dead_stun_tip_speed_m_s(
    distance_m: float | FloatArray,
    below_centre_m: float | FloatArray,
    cue: Cue = DEFAULT_CUE,
    cloth: Cloth = DEFAULT_CLOTH,
) -> float | FloatArray:
    """Return the tip speed at which the white arrives with no spin.

    Parameters
    ----------
    distance_m : float or ndarray
        Free travel of the white to contact, greater than 0.
    below_centre_m : float or ndarray
        How far the cue's axis passes below the white's centre, greater than 0.
    cue : Cue
        The cue.
    cloth : Cloth
        The cloth.

    Returns
    -------
    float or ndarray
        A float for two floats.

    Raises
    ------
    TableError
        If the white is not struck below its centre, or the distance is not greater than 0: no
        pace gives stun then.
    """
    _check_low_and_far(distance_m, below_centre_m)
    beta = _beta(below_centre_m, cue)
    white = np.sqrt(2.0 * cloth.slide_m_s2 * np.asarray(distance_m) / (beta * (2.0 - beta)))
    return _plain(tip_speed_for_m_s(white, below_centre_m=below_centre_m, cue=cue))


@overload
def dead_stun_distance_m(
    tip_speed_m_s: float, below_centre_m: float, cue: Cue = ..., cloth: Cloth = ...
) -> float: ...


@overload
def dead_stun_distance_m(
    tip_speed_m_s: float | FloatArray,
    below_centre_m: float | FloatArray,
    cue: Cue = ...,
    cloth: Cloth = ...,
) -> float | FloatArray: ...


def dead_stun_distance_m(
    tip_speed_m_s: float | FloatArray,
    below_centre_m: float | FloatArray,
    cue: Cue = DEFAULT_CUE,
    cloth: Cloth = DEFAULT_CLOTH,
) -> float | FloatArray:
    """Return how far the white runs until its backspin is gone.

    Parameters
    ----------
    tip_speed_m_s : float or ndarray
        Speed of the tip just before it touches.
    below_centre_m : float or ndarray
        How far the cue's axis passes below the white's centre; 0 and above gives 0.
    cue : Cue
        The cue.
    cloth : Cloth
        The cloth.

    Returns
    -------
    float or ndarray
        A float for two floats.
    """
    beta = np.maximum(_beta(below_centre_m, cue), 0.0)
    white = strike(tip_speed_m_s, below_centre_m=below_centre_m, cue=cue).speed_m_s
    return _plain(white**2 * beta * (2.0 - beta) / (2.0 * cloth.slide_m_s2))


@overload
def arrival_spin_ratio(
    tip_speed_m_s: float,
    distance_m: float,
    below_centre_m: float,
    cue: Cue = ...,
    cloth: Cloth = ...,
) -> float: ...


@overload
def arrival_spin_ratio(
    tip_speed_m_s: float | FloatArray,
    distance_m: float | FloatArray,
    below_centre_m: float | FloatArray,
    cue: Cue = ...,
    cloth: Cloth = ...,
) -> float | FloatArray: ...


def arrival_spin_ratio(
    tip_speed_m_s: float | FloatArray,
    distance_m: float | FloatArray,
    below_centre_m: float | FloatArray,
    cue: Cue = DEFAULT_CUE,
    cloth: Cloth = DEFAULT_CLOTH,
) -> float | FloatArray:
    """Return spin over speed when the white arrives.

    Parameters
    ----------
    tip_speed_m_s : float or ndarray
        Speed of the tip just before it touches.
    distance_m : float or ndarray
        Free travel of the white to contact.
    below_centre_m : float or ndarray
        How far the cue's axis passes below the white's centre; negative above it.
    cue : Cue
        The cue.
    cloth : Cloth
        The cloth.

    Returns
    -------
    float or ndarray
        1 is natural roll, 0 stun, below 0 screw; nan where the white stops short.
    """
    struck = strike(tip_speed_m_s, below_centre_m=below_centre_m, cue=cue)
    arrived = arrive(struck.speed_m_s, struck.roll_speed_m_s, distance_m, cloth)
    return _plain(arrived.spin_ratio)


def stun_below_centre_m(
    tip_speed_m_s: float,
    distance_m: float,
    cue: Cue = DEFAULT_CUE,
    cloth: Cloth = DEFAULT_CLOTH,
) -> float:
    """Return the tip height at which this pace gives dead stun.

    At one tip speed a lower hit spins the white more and drives it less, so at most two heights
    give stun; this is the one nearer the centre.

    Parameters
    ----------
    tip_speed_m_s : float
        Speed of the tip just before it touches, greater than 0.
    distance_m : float
        Free travel of the white to contact, greater than 0.
    cue : Cue
        The cue.
    cloth : Cloth
        The cloth.

    Returns
    -------
    float
        How far below the centre the cue's axis passes.

    Raises
    ------
    TableError
        If the pace is too soft for stun at any height over this distance; names the least pace.
    """
    _check_low_and_far(distance_m, 1.0)
    lowest = forgiving_below_centre_m(cue)
    least = float(dead_stun_tip_speed_m_s(distance_m, lowest, cue, cloth))
    if not tip_speed_m_s >= least:
        raise TableError(
            f"A tip speed of {tip_speed_m_s:.3g} m/s gives no stun over {distance_m:.3g} m at any "
            f"height; the least is {least:.3g} m/s. Hit harder or shorten the shot."
        )

    def surplus(below_m: float) -> float:
        return float(dead_stun_distance_m(tip_speed_m_s, below_m, cue, cloth)) - distance_m

    return _root(surplus, 0.0, lowest)


def forgiving_below_centre_m(cue: Cue = DEFAULT_CUE) -> float:
    """Return the tip height at which stun needs the least pace.

    There a small error in tip height cancels to first order: lower gives more backspin but a slower
    white. It does not depend on cloth or distance. Derived here, found in no publication, and it
    rests on a tip restitution that does not change with the offset.
    """
    ratio = BALL_MASS_KG / cue.mass_kg

    def slope(beta: float) -> float:
        return 5.0 * beta**2 * (2.0 - beta) - (1.0 - beta) * (1.0 + ratio + 2.5 * beta**2)

    return _root(slope, 0.01, 0.9) * BALL_RADIUS_M / cue.contact_share


@dataclass(frozen=True)
class PaceWindow:
    """The tip speeds between which the white arrives with little enough spin.

    Parameters
    ----------
    softest_m_s, dead_stun_m_s, hardest_m_s : float
        Arriving with the tolerated topspin, with none, and with the tolerated backspin. The
        hardest is infinite where no pace gives that much backspin.
    """

    softest_m_s: float
    dead_stun_m_s: float
    hardest_m_s: float


def pace_window(
    distance_m: float,
    below_centre_m: float,
    *,
    spin_tolerance: float = 0.1,
    cue: Cue = DEFAULT_CUE,
    cloth: Cloth = DEFAULT_CLOTH,
) -> PaceWindow:
    """Return the paces that bring the white there with at most this much spin.

    Parameters
    ----------
    distance_m : float
        Free travel of the white to contact, greater than 0.
    below_centre_m : float
        How far the cue's axis passes below the white's centre, greater than 0.
    spin_tolerance : float
        Greatest spin ratio, either way, greater than 0 and less than 1.
    cue : Cue
        The cue.
    cloth : Cloth
        The cloth.

    Returns
    -------
    PaceWindow
        In relative terms it depends on the tip height alone, not on distance or cloth.

    Raises
    ------
    TableError
        If the white is not struck below its centre, or the tolerance is out of range.
    """
    _check_low_and_far(distance_m, below_centre_m)
    check_range(
        "Spin tolerance", spin_tolerance, low=1e-6, high=0.999, remedy="0.1 is a usual choice."
    )

    def tip_speed(spin_ratio: float) -> float:
        return tip_speed_for_spin_m_s(spin_ratio, distance_m, below_centre_m, cue, cloth)

    return PaceWindow(
        softest_m_s=tip_speed(spin_tolerance),
        dead_stun_m_s=tip_speed(0.0),
        hardest_m_s=tip_speed(-spin_tolerance),
    )


def tip_speed_for_spin_m_s(
    spin_ratio: float,
    distance_m: float,
    below_centre_m: float,
    cue: Cue = DEFAULT_CUE,
    cloth: Cloth = DEFAULT_CLOTH,
) -> float:
    """Return the pace at which the white, still sliding, arrives with this spin over speed.

    Parameters
    ----------
    spin_ratio : float
        Wanted on arrival: 0 stun, negative screw; less than 1.
    distance_m : float
        Free travel of the white to contact, greater than 0.
    below_centre_m : float
        How far the cue's axis passes below the white's centre, greater than 0.
    cue : Cue
        The cue.
    cloth : Cloth
        The cloth.

    Returns
    -------
    float
        Infinite where the white has not that much backspin even as it leaves the tip.

    Raises
    ------
    TableError
        If the white is not struck below its centre, or the distance is not greater than 0.
    """
    _check_low_and_far(distance_m, below_centre_m)
    quotient = (1.0 - float(_beta(below_centre_m, cue))) / (1.0 + spin_ratio / 2.5)
    if not 0.0 <= quotient < 1.0:
        return float("inf")
    white = np.sqrt(2.0 * cloth.slide_m_s2 * distance_m / (1.0 - quotient**2))
    return float(tip_speed_for_m_s(float(white), below_centre_m=below_centre_m, cue=cue))


def dead_stop_tip_speed_m_s(
    distance_m: float,
    below_centre_m: float,
    cue: Cue = DEFAULT_CUE,
    cloth: Cloth = DEFAULT_CLOTH,
    contact: BallContact = DEFAULT_CONTACT,
) -> float:
    """Return the pace at which a full hit leaves the white where it struck.

    A little harder than dead stun: balls give back less than all, so the white keeps
    ``(1 - e)/2`` of its speed and needs backspin, ``S = -(5/4)(1 - e)`` after the hit, to stand
    still; and the hit itself takes five twelfths of a small spin.

    Parameters
    ----------
    distance_m : float
        Free travel of the white to contact, greater than 0.
    below_centre_m : float
        How far the cue's axis passes below the white's centre, greater than 0.
    cue : Cue
        The cue.
    cloth : Cloth
        The cloth.
    contact : BallContact
        How balls meet.

    Returns
    -------
    float
        Tip speed; infinite where no pace keeps enough backspin.

    Raises
    ------
    TableError
        If the white is not struck below its centre, or the distance is not greater than 0.
    """
    needed = -1.25 * (1.0 - contact.restitution)
    return tip_speed_for_spin_m_s(needed * 12.0 / 7.0, distance_m, below_centre_m, cue, cloth)


def _beta(below_centre_m: float | FloatArray, cue: Cue) -> FloatArray:
    """Return the contact offset below the centre over the radius."""
    return np.asarray(below_centre_m, dtype=np.float64) * cue.contact_share / BALL_RADIUS_M


def _check_low_and_far(distance_m: float | FloatArray, below_centre_m: float | FloatArray) -> None:
    """Raise TableError unless the hit is below the centre and the white has some way to go."""
    lowest = float(np.min(below_centre_m))
    if not lowest > 0.0:
        raise TableError(
            f"The cue's axis passes {lowest * 1e3:.3g} mm below the centre; stun needs more than 0 "
            "mm. Strike below the centre."
        )
    nearest = float(np.min(distance_m))
    if not nearest > 0.0:
        raise TableError(
            f"The free travel is {nearest:.3g} m; stun needs more than 0 m. Move the white away "
            "from the object ball."
        )


def _plain(value: FloatArray) -> float | FloatArray:
    """Return a float for an array of no dimension, the array itself otherwise."""
    return float(value) if np.ndim(value) == 0 else value


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Return where a function passes through zero."""
    return float(root_scalar(function, bracket=(low, high), xtol=1e-12).root)
