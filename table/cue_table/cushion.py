"""Ball on cushion: the impulse model of Mathavan, Jackson and Parkin (2010).

Proc. IMechE Part C 224(9), 1863-1873: a rigid cushion meets the ball above its centre; while the
normal impulse builds up, Coulomb friction acts at the cushion and, because the cushion presses the
ball down, at the cloth. The contact ends when the work given back is the square of the restitution
times the work put in. The abstract was read (restitution 0.98, friction 0.14, valid up to 2.5 m/s
of normal speed); nose height and cloth friction are known from transcriptions; the equations were
derived again here, in vectors. :mod:`cue_table.contact` integrates them and
:mod:`cue_table.contact_grid` keeps the answers.

The model knows no speed, real cushions do: the same authors' measured straight shots (2009) come
off by a curve of speed, 0.95 of the incoming speed at 1 m/s and 0.80 at 3.5 m/s, where the model
has 0.91 throughout. So the speed away from the cushion is scaled by that curve over the model's own
value, at the ball's speed towards the cushion. Straight rolling shots then follow the measurement
from 0.5 to 3.5 m/s. That oblique ones follow the same curve of their speed towards the cushion is
an assumption; up to 2.5 m/s, where the model was found to hold, it changes that speed by 4.1 % at
most.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from cue_table.ball import FloatArray
from cue_table.contact import Contact
from cue_table.contact_grid import ContactGrid
from cue_table.errors import check_range

VALID_NORMAL_SPEED_M_S = 2.5
"""Up to this speed towards the cushion the published model was found to hold."""

MEASURED_SPEEDS_M_S = (0.5, 3.5)
"""Between these speeds the curve of straight shots is used; beyond them its ends hold."""

MEASURED_STRAIGHT = (-0.0877, 1.131, -0.0953)
"""Rebound of 31 straight rolling shots over their speed, as a polynomial of second degree in m/s:
Mathavan, Jackson and Parkin, Am. J. Phys. 77(9), 788 (2009), at second hand."""

MODEL_STRAIGHT = 0.9107
"""What the published model gives a straight rolling shot at every speed; derived."""

N_KEPT = 16
"""Cushions whose answers are kept."""


@dataclass(frozen=True)
class Cushion:
    """What the cushion does to a ball.

    Parameters
    ----------
    restitution : float
        Square root of the share of the work that is given back; not the ratio of speeds.
    friction : float
        Between cushion and ball; below 0.4, so that the ball stays on the cloth.
    cloth_friction : float
        Between cloth and ball during the contact.
    nose_sine : float
        Height of the nose above the ball's centre over the radius.
    slows_with_speed : bool
        Whether hard shots come off slower, as measured; False is the model alone.

    Raises
    ------
    TableError
        If a value lies outside its range.
    """

    restitution: float = 0.98
    friction: float = 0.14
    cloth_friction: float = 0.212
    nose_sine: float = 0.4
    slows_with_speed: bool = True

    def __post_init__(self) -> None:
        """Refuse what no cushion does."""
        advice = "Give the value of a real cushion."
        check_range("Cushion restitution", self.restitution, low=0.3, high=1.0, remedy=advice)
        check_range("Cushion friction", self.friction, low=0.0, high=0.4, remedy=advice)
        check_range(
            "Cloth friction at the cushion", self.cloth_friction, low=0.0, high=1.0, remedy=advice
        )
        check_range(
            "Nose height over the centre, in radii",
            self.nose_sine,
            low=0.3,
            high=0.6,
            remedy=advice,
        )


DEFAULT_CUSHION = Cushion()
"""The published snooker cushion."""


@dataclass(frozen=True, eq=False)
class Rebound:
    """A ball just after it left the cushion, in the cushion's frame.

    Parameters
    ----------
    along_m_s, towards_m_s : ndarray, shape (n,)
        Velocity along the cushion and towards it (negative: away).
    roll_along_m_s, roll_towards_m_s : ndarray, shape (n,)
        Roll velocity, the same way.
    side_m_s : ndarray, shape (n,)
        Side speed.
    """

    along_m_s: FloatArray
    towards_m_s: FloatArray
    roll_along_m_s: FloatArray
    roll_towards_m_s: FloatArray
    side_m_s: FloatArray


def rebound(
    along_m_s: FloatArray,
    towards_m_s: FloatArray,
    roll_along_m_s: FloatArray,
    roll_towards_m_s: FloatArray,
    side_m_s: FloatArray,
    cushion: Cushion = DEFAULT_CUSHION,
) -> Rebound:
    """Return the ball just after the cushion.

    Parameters
    ----------
    along_m_s, towards_m_s : ndarray, shape (n,)
        Velocity along the cushion (to the right, seen facing it) and towards it, the latter
        greater than 0.
    roll_along_m_s, roll_towards_m_s : ndarray, shape (n,)
        Roll velocity, the same way.
    side_m_s : ndarray, shape (n,)
        Radius times spin about the vertical, anticlockwise from above.
    cushion : Cushion
        The cushion.

    Returns
    -------
    Rebound
        Never with more energy than the ball came with.
    """
    incoming = np.stack(
        [along_m_s, towards_m_s, -roll_towards_m_s, roll_along_m_s, side_m_s]
    ).astype(np.float64)
    leaving = _grid_of(cushion).pass_through(incoming)
    if cushion.slows_with_speed:
        leaving[1] *= liveliness(incoming[1])
    # Interpolation, or a ball with hardly any slip on a livelier cushion, could give a little more.
    share = np.sqrt(_energy(incoming) / np.maximum(_energy(leaving), 1e-300))
    along, towards, spin_x, spin_y, spin_z = leaving * np.minimum(share, 1.0)
    return Rebound(along, towards, spin_y, -spin_x, spin_z)


def liveliness(towards_m_s: FloatArray) -> FloatArray:
    """Return how lively a cushion is at a speed towards it, over the model that knows no speed."""
    speed = np.clip(towards_m_s, *MEASURED_SPEEDS_M_S)
    square, linear, constant = MEASURED_STRAIGHT
    return np.asarray((square * speed + linear + constant / speed) / MODEL_STRAIGHT)


def contact_of(cushion: Cushion) -> Contact:
    """Return the contact with a cushion, to integrate it without the table of answers."""
    return Contact(
        restitution=cushion.restitution,
        friction=cushion.friction,
        cloth_friction=cushion.cloth_friction,
        nose_sine=cushion.nose_sine,
    )


@lru_cache(maxsize=N_KEPT)
def _grid_of(cushion: Cushion) -> ContactGrid:
    """Return the kept answers of a cushion."""
    return ContactGrid(contact_of(cushion))


def _energy(state: FloatArray) -> FloatArray:
    """Return twice the energy per mass of balls, shape (5, n): velocity, then radius times spin."""
    return np.asarray(np.sum(state[:2] ** 2, axis=0) + 0.4 * np.sum(state[2:] ** 2, axis=0))
