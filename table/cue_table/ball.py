"""The ball, gravity, and the shorthand every module of the table model shares.

Spin is carried as speeds of the ball's surface, in m/s, so that it compares with the ball's own
speed: the roll velocity is the velocity at which a ball with that spin would roll without slipping
(two components in the plane of the cloth), and the side speed is radius times the spin about the
vertical axis, positive anticlockwise seen from above.
"""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

BALL_RADIUS_M = 0.02625
"""Half of 52.5 mm (rules of the International Billiards and Snooker Federation, section 1.2)."""

BALL_MASS_KG = 0.142
"""Usual mass; the rules only hold a set's balls together within 3 g (a trade page)."""

GRAVITY_M_S2 = 9.81
