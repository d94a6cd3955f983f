"""Who plays the stroke that is tried on a plan: spread, cue and cloth, from the log where known."""

from dataclasses import dataclass

from cue_practice.answer import table_cloth, table_cue
from cue_practice.log import PracticeLog
from cue_practice.spread import OwnSpread
from cue_table.conditions import DEFAULT_CONDITIONS, Conditions
from cue_table.fan import Spread

NOBODY = "usual"
"""The choice of no player of the log."""

USUAL_SPREAD = OwnSpread()


@dataclass(frozen=True)
class Playing:
    """How somebody plays, and on what.

    Parameters
    ----------
    name : str
        The player's nickname, empty for nobody in particular.
    own : OwnSpread
        Spread of pace, the usual one where the log tells none.
    conditions : Conditions
        The player's cue, and the table's cloth where it was measured.
    """

    name: str = ""
    own: OwnSpread = USUAL_SPREAD
    conditions: Conditions = DEFAULT_CONDITIONS

    @property
    def is_own(self) -> bool:
        """Return whether the spread of pace is a player's own."""
        return self.own.n_shots > 0

    @property
    def spread(self) -> Spread:
        """Return the spread: of pace from the log, of all else the invented player's."""
        return Spread(pace_share=min(self.own.share, 0.5))


USUAL = Playing()
"""Nobody in particular on an ordinary table."""


def playing(log: PracticeLog, player: str | None, table_id: int | None) -> Playing:
    """Return how a player of the log plays on a table of it.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    player : str or None
        Number of the player as a choice holds it; `NOBODY` and None are nobody in particular.
    table_id : int or None
        None for a table that is not in the log.
    """
    cloth = DEFAULT_CONDITIONS.cloth
    if table_id is not None:
        cloth = table_cloth(log.tables(), table_id)
    names = {str(one.player_id): one.nickname for one in log.players()}
    if player is None or player not in names:
        return Playing(conditions=Conditions(cloth=cloth))
    player_id = int(player)
    newest = next(iter(log.all_series(player_id=player_id, newest=1)), None)
    cue = table_cue(log.cues(), newest.cue_id if newest else None)
    return Playing(
        name=names[player],
        own=log.own_spread(player_id),
        conditions=Conditions(cue=cue, cloth=cloth),
    )


def player_choices(log: PracticeLog) -> tuple[list[tuple[str, str]], str]:
    """Return the players as (value, name), and the one to begin with: who played last."""
    known = [(str(one.player_id), one.nickname) for one in log.players()]
    newest = log.last_player_id()
    return known, NOBODY if newest is None else str(newest)
