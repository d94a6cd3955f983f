"""White on object ball: who goes where, with throw and with the spin lost in the hit.

The object ball is at rest. The hit has a restitution; where the surfaces slip on each other,
friction turns the object ball off the line of centres (throw) and takes spin from the white. The
cloth holds down whichever ball the friction presses into it, the other one is taken to stay on the
cloth too (the hop is left out). Friction of the cloth during the hit is left out.
"""

from dataclasses import dataclass

import numpy as np

from cue_table.ball import FloatArray
from cue_table.errors import check_range


@dataclass(frozen=True)
class BallContact:
    """How two balls meet.

    Parameters
    ----------
    restitution : float
        0.92 to 0.98 (a property list of Colorado State University, at second hand).
    friction_floor, friction_rise, friction_rate_s_m : float
        Friction is floor + rise * exp(-rate * slip speed): Alciatore's fit (technical proof A.28)
        to Marlow's measurements (1995). A rise and floor of 0 make the balls smooth.

    Raises
    ------
    TableError
        If a value lies outside its range.
    """

    restitution: float = 0.95
    friction_floor: float = 0.009951
    friction_rise: float = 0.108
    friction_rate_s_m: float = 1.088

    def __post_init__(self) -> None:
        """Refuse what no pair of balls does."""
        advice = "Give the value of real balls."
        check_range("Ball restitution", self.restitution, low=0.0, high=1.0, remedy=advice)
        check_range("Ball friction floor", self.friction_floor, low=0.0, high=1.0, remedy=advice)
        check_range("Ball friction rise", self.friction_rise, low=0.0, high=1.0, remedy=advice)
        check_range(
            "Ball friction rate",
            self.friction_rate_s_m,
            low=0.0,
            high=100.0,
            unit="s/m",
            remedy=advice,
        )

    def friction(self, slip_m_s: FloatArray) -> FloatArray:
        """Return the friction coefficient at a slip speed."""
        falling = self.friction_rise * np.exp(-self.friction_rate_s_m * slip_m_s)
        return np.asarray(self.friction_floor + falling, dtype=np.float64)


DEFAULT_CONTACT = BallContact()
"""Clean snooker balls."""


@dataclass(frozen=True, eq=False)
class Hit:
    """Both balls just after they met.

    Parameters
    ----------
    velocity_m_s, roll_m_s : ndarray, shape (2, n)
        The white's velocity and roll velocity.
    side_m_s : ndarray, shape (n,)
        The white's side speed.
    object_velocity_m_s : ndarray, shape (2, n)
        The object ball's velocity.
    object_roll_m_s : ndarray, shape (2, n)
        The object ball's roll velocity.
    object_side_m_s : ndarray, shape (n,)
        The object ball's side speed.
    throw_rad : ndarray, shape (n,)
        Turn of the object ball off the line of centres, positive anticlockwise.
    """

    velocity_m_s: FloatArray
    roll_m_s: FloatArray
    side_m_s: FloatArray
    object_velocity_m_s: FloatArray
    object_roll_m_s: FloatArray
    object_side_m_s: FloatArray
    throw_rad: FloatArray


def hit(
    velocity_m_s: FloatArray,
    roll_m_s: FloatArray,
    side_m_s: FloatArray,
    line_of_centres: FloatArray,
    contact: BallContact = DEFAULT_CONTACT,
) -> Hit:
    """Return both balls just after the white met an object ball at rest.

    Parameters
    ----------
    velocity_m_s, roll_m_s : ndarray, shape (2, n)
        The white's velocity and roll velocity as it arrives.
    side_m_s : ndarray, shape (n,)
        Its side speed.
    line_of_centres : ndarray, shape (2, n)
        Unit vectors from the white's centre to the object ball's.
    contact : BallContact
        Restitution and friction.

    Returns
    -------
    Hit
        Momentum in the plane is kept exactly.

    Notes
    -----
    Per unit of mass, the impulse along the line of centres is ``(1 + e)/2`` of the closing speed.
    Friction is Coulomb's, but never more than what stops the slip: a seventh of the slip sideways
    (both balls free), a sixth of it up and down (the cloth holds one ball). Sideways this is
    Alciatore's technical proof A.24; up and down it is derived here and checked by integration.
    """
    tangent = np.stack([-line_of_centres[1], line_of_centres[0]])
    closing = np.sum(velocity_m_s * line_of_centres, axis=0)
    push = 0.5 * (1.0 + contact.restitution) * np.maximum(closing, 0.0)
    slip_across = np.sum(velocity_m_s * tangent, axis=0) + side_m_s
    slip_down = np.sum(roll_m_s * line_of_centres, axis=0)
    slip = np.hypot(slip_across, slip_down)
    grip = contact.friction(slip) * push / np.maximum(slip, 1e-12)
    across = np.minimum(grip, 1.0 / 7.0) * slip_across
    down = np.minimum(grip, 1.0 / 6.0) * slip_down
    impulse = push * line_of_centres + across * tangent
    return Hit(
        velocity_m_s=velocity_m_s - impulse,
        roll_m_s=roll_m_s - 2.5 * down * line_of_centres,
        side_m_s=side_m_s - 2.5 * across,
        object_velocity_m_s=impulse,
        object_roll_m_s=-2.5 * down * line_of_centres,
        object_side_m_s=-2.5 * across,
        throw_rad=np.arctan2(across, np.maximum(push, 1e-12)),
    )
