"""Answers for the pages: which pace is right, and how the model has the white go at a pace."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from cue_practice.log import PracticeLog
from cue_practice.questions import Held, graded
from cue_practice.views import Shot

if TYPE_CHECKING:
    from cue_table.shot import WhiteRun

__all__ = ["MOST_DRAWN", "Held", "graded", "model_run"]

MOST_DRAWN = 400
"""Shots that are drawn, the newest; an answer rests on all of them."""


def model_run(log: PracticeLog, held: Held, shots: Sequence[Shot], pace_m_s: float) -> "WhiteRun":
    """Return the model's way of the white at a pace, with the cue of the last of the shots.

    Raises
    ------
    TableError
        If the model cannot play it.
    """
    from cue_practice.answer import table_cloth, table_cue  # heavy
    from cue_table.shot import play

    entry = log.setup(held.setup_id)
    cue_id = log.series(shots[-1].series_id).cue_id if shots else None
    return play(
        entry.setup,
        pace_m_s,
        below_centre_m=held.tip_below_centre_m,
        side_m=held.side_m,
        cue=table_cue(log.cues(), cue_id),
        cloth=table_cloth(log.tables(), entry.table_id),
    )
