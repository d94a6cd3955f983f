"""Where to aim so that the object ball finds its pocket.

The player is taken to know the shot: the aim allows for the throw that this stroke gives the object
ball and for the squirt that its side gives the white. ``direction_error_rad`` elsewhere is counted
from this aim.
"""

import numpy as np

from cue_table.ball import BALL_RADIUS_M, FloatArray
from cue_table.cloth import Arrival, arrive
from cue_table.collision import hit
from cue_table.conditions import DEFAULT_CONDITIONS, Conditions
from cue_table.setup import SetUp
from cue_table.tip import Strike, strike

N_ITERATIONS = 8
"""Each one shrinks the error of the aim about sevenfold or better."""


def aim_direction_rad(
    setup: SetUp,
    tip_speed_m_s: float | FloatArray,
    *,
    below_centre_m: float | FloatArray,
    side_m: float | FloatArray = 0.0,
    conditions: Conditions = DEFAULT_CONDITIONS,
) -> FloatArray:
    """Return the direction of the cue's line that pots the object ball.

    Parameters
    ----------
    setup : SetUp
        The position.
    tip_speed_m_s, below_centre_m, side_m : float or ndarray
        The stroke, as in :func:`cue_table.tip.strike`.
    conditions : Conditions
        Cue, cloth, cushions and balls.

    Returns
    -------
    ndarray
        Angle from the table's x axis, anticlockwise, with the broadcast shape of the stroke.
    """
    struck = strike(tip_speed_m_s, below_centre_m=below_centre_m, side_m=side_m, cue=conditions.cue)
    return white_direction_rad(setup, struck, conditions) - struck.squirt_rad


def white_direction_rad(setup: SetUp, struck: Strike, conditions: Conditions) -> FloatArray:
    """Return the direction in which the white must leave the tip to pot the object ball."""
    pot_x, pot_y = setup.pot_direction
    throw = np.zeros_like(struck.speed_m_s)
    from_white = np.subtract(setup.object_ball_m, setup.white_m)
    direction = throw
    for _ in range(N_ITERATIONS):
        cosine, sine = np.cos(throw), np.sin(throw)
        line = np.stack([pot_x * cosine + pot_y * sine, pot_y * cosine - pot_x * sine])
        way_x = from_white[0] - 2.0 * BALL_RADIUS_M * line[0]
        way_y = from_white[1] - 2.0 * BALL_RADIUS_M * line[1]
        direction = np.arctan2(way_y, way_x)
        arrived, side = arrive_at(struck, np.hypot(way_x, way_y), conditions)
        heading = np.stack([np.cos(direction), np.sin(direction)])
        throw = hit(
            arrived.speed_m_s * heading,
            arrived.roll_speed_m_s * heading,
            side,
            line,
            conditions.contact,
        ).throw_rad
    return np.asarray(direction)


def arrive_at(
    struck: Strike, distance_m: float | FloatArray, conditions: Conditions
) -> tuple[Arrival, FloatArray]:
    """Return the white's arrival after a distance, and its side speed there."""
    arrived = arrive(struck.speed_m_s, struck.roll_speed_m_s, distance_m, conditions.cloth)
    lost = conditions.cloth.spin_deceleration_rad_s2 * BALL_RADIUS_M * arrived.time_s
    side = np.sign(struck.side_speed_m_s) * np.maximum(np.abs(struck.side_speed_m_s) - lost, 0.0)
    return arrived, np.asarray(side)
