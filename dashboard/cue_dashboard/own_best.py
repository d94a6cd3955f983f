"""A player's own best strokes of a series, to lay another stroke over.

The rule, in one place: only shots with the right result that kept what the series holds; of these,
the nearest to one pace and to the straight line. That pace is the called one, or, where the pace is
free, the middle one of the right shots. Pace and tip are weighed by what a player would call close:
5 % of the pace counts as much as 2 mm sideways.
"""

import math
from collections.abc import Sequence
from statistics import median

from cue_practice.grades import Grade
from cue_practice.views import Shot
from cue_signal.stroke import Stroke

N_BEST = 3
CLOSE_PACE = 0.05
"""Share of the pace that a player would still call the same pace; an assumption of ours."""
CLOSE_TIP_M = 0.002
"""Tip off its line that a player would still call straight; an assumption of ours."""


def own_best(
    shots: Sequence[Shot],
    *,
    called_pace_m_s: float | None = None,
    but_not: int | None = None,
    n_best: int = N_BEST,
) -> list[Shot]:
    """Return the best strokes of a series, the best first.

    Parameters
    ----------
    shots : sequence of Shot
        Shots of one series, discarded ones left out.
    called_pace_m_s : float or None
        The pace to keep; None takes the median pace of the right shots.
    but_not : int or None
        Number of a shot that is not to be compared with itself.
    n_best : int
        At most this many.

    Returns
    -------
    list of Shot
        Empty where no other shot came right. The distance of each is the root of the sum of
        squares of its pace's distance in shares of 5 % and its tip's in shares of 2 mm; a tip that
        the sensor could not see counts as straight.
    """
    right = [(shot, shot.stroke) for shot in shots if _came_right(shot) and shot.stroke is not None]
    if not right:
        return []
    target_m_s = called_pace_m_s or median(stroke.tip_speed_m_s for _, stroke in right)
    others = [(_distance(stroke, target_m_s), shot) for shot, stroke in right]
    others = [(far, shot) for far, shot in others if shot.shot_id != but_not]
    return [shot for _, shot in sorted(others, key=lambda one: (one[0], one[1].shot_id))][:n_best]


def _came_right(shot: Shot) -> bool:
    """Return whether a shot kept to the series and did what it should."""
    return shot.grade is Grade.RIGHT and shot.broken_rule is None and not shot.is_discarded


def _distance(stroke: Stroke, target_m_s: float) -> float:
    """Return how far a stroke is from the pace and the line, 1 being close in one of them."""
    pace = math.log(stroke.tip_speed_m_s / target_m_s) / CLOSE_PACE
    return math.hypot(pace, (stroke.tip_lateral_m or 0.0) / CLOSE_TIP_M)
