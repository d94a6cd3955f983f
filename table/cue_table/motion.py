"""The white in the plane of the cloth, from event to event, many strokes at once."""

from collections.abc import Sequence

import numpy as np

from cue_table.ball import IntArray
from cue_table.cloth import Cloth
from cue_table.collision import DEFAULT_CONTACT, BallContact, hit
from cue_table.cushion import Cushion
from cue_table.events import (
    advance,
    bounce,
    first_wall,
    is_moving,
    phase,
    pocket_at,
    reach_ball_s,
    speed_towards,
)
from cue_table.setup import TableSize
from cue_table.state import Course, Motion, Stretch

MAX_EVENTS = 200
"""A white that has met this many events is taken to be at rest."""


def run_out(
    start: Motion,
    table: TableSize,
    cloth: Cloth,
    cushion: Cushion,
    *,
    in_the_way_m: Sequence[tuple[float, float]] = (),
    contact: BallContact = DEFAULT_CONTACT,
) -> Course:
    """Follow balls until they lie still or have fallen.

    Parameters
    ----------
    start : Motion
        Their state; it is not changed.
    table : TableSize
        Cushions and pockets.
    cloth : Cloth
        The cloth.
    cushion : Cushion
        The cushions.
    in_the_way_m : sequence of points
        Balls at rest they may run into. One that is struck leaves its place and is not followed.
    contact : BallContact
        How balls meet.

    Returns
    -------
    Course
        One entry a ball.
    """
    walk = _Walk(start, table, cloth, cushion, in_the_way_m, contact)
    for _ in range(MAX_EVENTS):
        if walk.index.size == 0:
            break
        walk.step()
    return walk.course()


class _Walk:
    """The state of all balls between two events, and what they have met so far."""

    def __init__(
        self,
        start: Motion,
        table: TableSize,
        cloth: Cloth,
        cushion: Cushion,
        in_the_way_m: Sequence[tuple[float, float]],
        contact: BallContact,
    ) -> None:
        """Begin at the start."""
        self.now = start.copy()
        self.table, self.cloth, self.cushion, self.contact = table, cloth, cushion, contact
        self.balls_m = np.asarray(in_the_way_m, dtype=np.float64).reshape(-1, 2)
        n = start.side_m_s.size
        self.index = np.arange(n)
        self.pocket = np.full(n, -1, dtype=np.int64)
        self.n_cushions = np.zeros(n, dtype=np.int64)
        self.first_m = np.full((2, n), np.nan)
        self.hardest_m_s = np.zeros(n)
        self.touched = np.zeros((len(self.balls_m), n), dtype=np.bool_)
        self.stretches: list[Stretch] = []

    def step(self) -> None:
        """Move every ball that still runs to its next event, and through it."""
        stretch, wall = self._next_stretch()
        self.stretches.append(stretch)
        after = advance(stretch, self.cloth)
        at_wall = np.flatnonzero(wall >= 0)
        fell = np.full(self.index.size, -1, dtype=np.int64)
        fell[at_wall] = pocket_at(after.position_m[:, at_wall], wall[at_wall], self.table)
        self._bounce(after, wall, at_wall[fell[at_wall] < 0])
        self._touch(after, stretch.ball)
        self.pocket[self.index] = fell
        self.now.put(self.index, after)
        self.index = self.index[(fell < 0) & is_moving(after)]

    def course(self) -> Course:
        """Return what became of the balls."""
        return Course(
            end=self.now,
            pocket=self.pocket,
            n_cushions=self.n_cushions,
            first_cushion_m=self.first_m,
            hardest_cushion_m_s=self.hardest_m_s,
            touched=self.touched,
            stretches=tuple(self.stretches),
        )

    def _next_stretch(self) -> tuple[Stretch, IntArray]:
        """Return the stretch up to the next event, and the wall it ends at (-1 for none)."""
        now = self.now.take(self.index)
        accel, phase_s = phase(now, self.cloth)
        wall_s, wall = first_wall(now, accel, self.table)
        duration = np.minimum(wall_s, phase_s)
        ball = np.full(self.index.size, -1, dtype=np.int64)
        for number, at in enumerate(self.balls_m):
            reach_s = reach_ball_s(now, accel, duration, at)
            is_first = (reach_s < duration) & ~self.touched[number, self.index]
            duration = np.where(is_first, reach_s, duration)
            ball[is_first] = number
        is_wall = (wall_s < phase_s) & (ball < 0)
        stretch = Stretch(self.index, now, accel, duration, is_wall, ball)
        return stretch, np.where(is_wall, wall, -1)

    def _bounce(self, after: Motion, wall: IntArray, bounced: IntArray) -> None:
        """Send the balls that met a cushion off it, and remember where and how fast."""
        if bounced.size == 0:
            return
        index = self.index[bounced]
        is_new = self.n_cushions[index] == 0
        self.first_m[:, index[is_new]] = after.position_m[:, bounced[is_new]]
        self.n_cushions[index] += 1
        met = after.take(bounced)
        speed = speed_towards(met, wall[bounced])
        self.hardest_m_s[index] = np.maximum(self.hardest_m_s[index], speed)
        after.put(bounced, bounce(met, wall[bounced], self.cushion))

    def _touch(self, after: Motion, ball: IntArray) -> None:
        """Let the balls that ran into another one leave it."""
        touching = np.flatnonzero(ball >= 0)
        if touching.size == 0:
            return
        self.touched[ball[touching], self.index[touching]] = True
        part = after.take(touching)
        line = self.balls_m[ball[touching]].T - part.position_m
        met = hit(
            part.velocity_m_s,
            part.roll_m_s,
            part.side_m_s,
            line / np.hypot(line[0], line[1]),
            self.contact,
        )
        after.put(touching, Motion(part.position_m, met.velocity_m_s, met.roll_m_s, met.side_m_s))
