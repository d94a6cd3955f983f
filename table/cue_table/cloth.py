"""How the white runs straight over the cloth: sliding first, then rolling, then at rest.

Coulomb friction while the ball's underside slips, a small constant deceleration once it rolls.
Closed forms, standard mechanics, derived again for this project and checked against numerical
integration. Motion here is along one line; :mod:`cue_table.motion` does the plane.
"""

from dataclasses import dataclass

import numpy as np

from cue_table.ball import GRAVITY_M_S2, BoolArray, FloatArray
from cue_table.errors import check_range


@dataclass(frozen=True)
class Cloth:
    """What the cloth does to a ball.

    Parameters
    ----------
    sliding_friction : float
        Friction coefficient of a slipping ball. The default lies within 0.178 to 0.245, measured
        by Mathavan, Jackson and Parkin, Am. J. Phys. 77(9), 788 (2009), known to us only
        through two transcriptions that agree.
    rolling_resistance : float
        Deceleration of a rolling ball over g; 0.0126 to 0.0128 in the same paper, same standing.
    spin_deceleration_rad_s2 : float
        How fast spin about the vertical axis dies away; 5 to 15 rad/s^2, from memory.

    Raises
    ------
    TableError
        If a value lies outside 0.02 to 1, 0.001 to 0.1 or 0 to 100 rad/s^2.
    """

    sliding_friction: float = 0.21
    rolling_resistance: float = 0.0127
    spin_deceleration_rad_s2: float = 10.0

    def __post_init__(self) -> None:
        """Refuse a cloth that no ball has met."""
        advice = "Give the coefficient of a real cloth."
        check_range("Sliding friction", self.sliding_friction, low=0.02, high=1.0, remedy=advice)
        check_range(
            "Rolling resistance", self.rolling_resistance, low=0.001, high=0.1, remedy=advice
        )
        check_range(
            "Spin deceleration",
            self.spin_deceleration_rad_s2,
            low=0.0,
            high=100.0,
            unit="rad/s^2",
            remedy=advice,
        )

    @property
    def slide_m_s2(self) -> float:
        """Return the acceleration friction gives a slipping ball."""
        return self.sliding_friction * GRAVITY_M_S2

    @property
    def roll_m_s2(self) -> float:
        """Return the deceleration of a rolling ball."""
        return self.rolling_resistance * GRAVITY_M_S2


DEFAULT_CLOTH = Cloth()
"""A cloth as measured by Mathavan, Jackson and Parkin (2009)."""


@dataclass(frozen=True, eq=False)
class Slide:
    """The slipping part of a straight run.

    Parameters
    ----------
    time_s, distance_m : ndarray
        How long and how far the ball slips before it rolls.
    roll_speed_m_s : ndarray
        Its speed when it begins to roll, signed along the line.
    """

    time_s: FloatArray
    distance_m: FloatArray
    roll_speed_m_s: FloatArray


def slide_to_roll(
    speed_m_s: float | FloatArray, roll_speed_m_s: float | FloatArray, cloth: Cloth
) -> Slide:
    """Return when, where and how fast a sliding ball begins to roll.

    Parameters
    ----------
    speed_m_s : float or ndarray
        Speed along the line.
    roll_speed_m_s : float or ndarray
        Radius times spin: positive topspin, negative backspin, equal to the speed when rolling.
    cloth : Cloth
        The cloth.

    Returns
    -------
    Slide
        All three with the broadcast shape of the input.
    """
    speed, roll = np.broadcast_arrays(
        np.asarray(speed_m_s, dtype=np.float64), np.asarray(roll_speed_m_s, dtype=np.float64)
    )
    time = 2.0 * np.abs(speed - roll) / (7.0 * cloth.slide_m_s2)
    rolling = (5.0 * speed + 2.0 * roll) / 7.0
    return Slide(time_s=time, distance_m=0.5 * (speed + rolling) * time, roll_speed_m_s=rolling)


@dataclass(frozen=True, eq=False)
class Arrival:
    """What is left of a straight run after a given distance.

    Parameters
    ----------
    speed_m_s : ndarray
        Speed on arrival, 0 where the ball stopped short.
    roll_speed_m_s : ndarray
        Radius times spin on arrival.
    is_rolling : ndarray of bool
        Whether the ball had stopped slipping.
    is_short : ndarray of bool
        Whether the ball came to rest before the distance was run.
    time_s : ndarray
        How long the run took, until rest where the ball stopped short.
    """

    speed_m_s: FloatArray
    roll_speed_m_s: FloatArray
    is_rolling: BoolArray
    is_short: BoolArray
    time_s: FloatArray

    @property
    def spin_ratio(self) -> FloatArray:
        """Return roll speed over speed: 1 rolling, 0 stun, negative screw, nan stopped short."""
        ratio = np.full_like(self.speed_m_s, np.nan)
        np.divide(self.roll_speed_m_s, self.speed_m_s, out=ratio, where=self.speed_m_s > 0.0)
        return ratio


def arrive(
    speed_m_s: float | FloatArray,
    roll_speed_m_s: float | FloatArray,
    distance_m: float | FloatArray,
    cloth: Cloth,
) -> Arrival:
    """Return speed and spin after a straight run of the given length.

    Parameters
    ----------
    speed_m_s, roll_speed_m_s : float or ndarray
        Speed (not negative) and radius times spin at the start, as in :func:`slide_to_roll`.
    distance_m : float or ndarray
        Length of the run, not negative.
    cloth : Cloth
        The cloth.

    Returns
    -------
    Arrival
        With the broadcast shape of the input.
    """
    speed, roll, distance = np.broadcast_arrays(
        np.asarray(speed_m_s, dtype=np.float64),
        np.asarray(roll_speed_m_s, dtype=np.float64),
        np.asarray(distance_m, dtype=np.float64),
    )
    slide = slide_to_roll(speed, roll, cloth)
    is_rolling = distance >= slide.distance_m
    slip_sign = np.sign(speed - roll)
    sliding_square = speed**2 - 2.0 * slip_sign * cloth.slide_m_s2 * distance
    rolling_square = slide.roll_speed_m_s**2 - 2.0 * cloth.roll_m_s2 * (distance - slide.distance_m)
    square = np.where(is_rolling, rolling_square, sliding_square)
    is_short = (square <= 0.0) & (distance > 0.0)
    arrived = np.sqrt(np.maximum(square, 0.0))
    spin = np.where(is_rolling, arrived, roll + 2.5 * (speed - arrived))
    sliding_time = np.abs(speed - arrived) / cloth.slide_m_s2
    rolling_time = slide.time_s + (slide.roll_speed_m_s - arrived) / cloth.roll_m_s2
    return Arrival(
        speed_m_s=arrived,
        roll_speed_m_s=np.where(is_short, 0.0, spin),
        is_rolling=is_rolling,
        is_short=is_short,
        time_s=np.where(is_rolling, rolling_time, sliding_time),
    )


def rolling_distance_m(speed_m_s: float, cloth: Cloth) -> float:
    """Return how far a ball that already rolls at this speed runs before it stops."""
    return speed_m_s**2 / (2.0 * cloth.roll_m_s2)
