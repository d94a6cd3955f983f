"""Answers for the pages: which pace is right, per player, set-up, tip height and side."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cue_practice.log import PracticeLog
from cue_practice.views import Series, Shot

if TYPE_CHECKING:
    from cue_practice.answer import PaceAnswer
    from cue_table.shot import WhiteRun


@dataclass(frozen=True, order=True)
class Held:
    """What a player held while only the pace changed.

    Parameters
    ----------
    player_id, setup_id : int
        Numbers in the log.
    tip_below_centre_m, side_m : float
        As in the series, to a tenth of a millimetre.
    """

    player_id: int
    setup_id: int
    tip_below_centre_m: float
    side_m: float

    @classmethod
    def of(cls, series: Series) -> "Held":
        """Return what a series holds."""
        below_m, side_m = round(series.tip_below_centre_m, 4), round(series.side_m, 4)
        return cls(series.player_id, series.setup_id, below_m, side_m)

    def answer(self, log: PracticeLog) -> "PaceAnswer":
        """Return which pace is right, from all shots of the log that were played like this."""
        from cue_practice.answer import answer_for  # heavy

        return answer_for(
            log, self.setup_id, self.player_id, self.tip_below_centre_m, side_m=self.side_m
        )

    def shots(self, log: PracticeLog) -> list[Shot]:
        """Return the shots that were played like this."""
        shots = log.shots(
            setup_id=self.setup_id,
            player_id=self.player_id,
            tip_below_centre_m=self.tip_below_centre_m,
        )
        ours = {one.series_id for one in log.all_series() if Held.of(one) == self}
        return [shot for shot in shots if shot.series_id in ours]


def graded(log: PracticeLog) -> dict[Held, int]:
    """Return how many graded shots bear on each question, newest question first."""
    counts: dict[Held, int] = {}
    for series in log.all_series():
        if series.n_graded:
            held = Held.of(series)
            counts[held] = counts.get(held, 0) + series.n_graded
    return counts


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
