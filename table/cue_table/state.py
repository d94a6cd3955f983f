"""What the events of a run work on: balls in motion, stretches of path, and whole courses."""

from dataclasses import dataclass

import numpy as np

from cue_table.ball import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Motion:
    """Position, velocity and spin of n balls.

    Parameters
    ----------
    position_m, velocity_m_s, roll_m_s : ndarray, shape (2, n)
        Centre, velocity, and the velocity at which a ball with that spin would roll.
    side_m_s : ndarray, shape (n,)
        Radius times spin about the vertical, positive anticlockwise from above.
    """

    position_m: FloatArray
    velocity_m_s: FloatArray
    roll_m_s: FloatArray
    side_m_s: FloatArray

    def take(self, which: IntArray | BoolArray) -> "Motion":
        """Return the balls picked out by an index or a mask."""
        return Motion(
            self.position_m[:, which],
            self.velocity_m_s[:, which],
            self.roll_m_s[:, which],
            self.side_m_s[which],
        )

    def put(self, which: IntArray | BoolArray, part: "Motion") -> None:
        """Overwrite the balls picked out by an index or a mask, in place."""
        self.position_m[:, which] = part.position_m
        self.velocity_m_s[:, which] = part.velocity_m_s
        self.roll_m_s[:, which] = part.roll_m_s
        self.side_m_s[which] = part.side_m_s

    def copy(self) -> "Motion":
        """Return a copy that shares no memory."""
        return Motion(
            self.position_m.copy(),
            self.velocity_m_s.copy(),
            self.roll_m_s.copy(),
            self.side_m_s.copy(),
        )


@dataclass(frozen=True, eq=False)
class Stretch:
    """One stretch of path of some of the balls, without an event inside.

    Parameters
    ----------
    index : ndarray of int, shape (k,)
        Which balls.
    start : Motion
        Their state at its start.
    accel_m_s2 : ndarray, shape (2, k)
        Constant acceleration over it.
    duration_s : ndarray, shape (k,)
        How long it lasts.
    hits_cushion : ndarray of bool, shape (k,)
        Whether it ends at a cushion.
    ball : ndarray of int, shape (k,)
        Which ball in the way it ends at, -1 for none.
    """

    index: IntArray
    start: Motion
    accel_m_s2: FloatArray
    duration_s: FloatArray
    hits_cushion: BoolArray
    ball: IntArray

    def at(self, share: float) -> FloatArray:
        """Return positions, shape (2, k), after a share of the duration."""
        time = share * self.duration_s
        return np.asarray(
            self.start.position_m + self.start.velocity_m_s * time + 0.5 * self.accel_m_s2 * time**2
        )


@dataclass(frozen=True, eq=False)
class Course:
    """What became of n balls.

    Parameters
    ----------
    end : Motion
        Where they came to rest or fell.
    pocket : ndarray of int, shape (n,)
        Index into POCKETS, -1 where the ball stayed on the table.
    n_cushions : ndarray of int, shape (n,)
        How many cushions each met.
    first_cushion_m : ndarray, shape (2, n)
        Centre of the ball at its first cushion, nan where it met none.
    hardest_cushion_m_s : ndarray, shape (n,)
        Greatest speed towards a cushion at contact, 0 where none was met.
    touched : ndarray of bool, shape (m, n)
        Which balls in the way each has run into.
    stretches : tuple of Stretch
        The whole path, in order.
    """

    end: Motion
    pocket: IntArray
    n_cushions: IntArray
    first_cushion_m: FloatArray
    hardest_cushion_m_s: FloatArray
    touched: BoolArray
    stretches: tuple[Stretch, ...]
