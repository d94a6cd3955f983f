"""Which questions the log can answer: a player, a set-up, and what was held as the pace changed."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from cue_practice.trade_words import height_words, side_words
from cue_practice.views import Player, Series, SetUpEntry, Shot

if TYPE_CHECKING:
    from cue_practice.inference import PaceAnswer
    from cue_practice.log import PracticeLog
    from cue_practice.paces import FitShots


ANSWER_SHOTS = 2000
"""Newest shots that an answer rests on: more make it no surer than a cloth stays the same."""


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

    def answer(self, log: "PracticeLog") -> "PaceAnswer":
        """Return which pace is right, from all shots of the log that were played like this."""
        from cue_practice.answer import answer_for  # heavy

        return answer_for(
            log, self.setup_id, self.player_id, self.tip_below_centre_m, side_m=self.side_m
        )

    def paces(self, log: "PracticeLog") -> "FitShots":
        """Return the paces and results that an answer rests on, the newest; never change them."""
        return log.fit_shots(
            self.setup_id,
            self.player_id,
            self.tip_below_centre_m,
            side_m=self.side_m,
            newest=ANSWER_SHOTS,
        )

    def shots(self, log: "PracticeLog", newest: int | None = None) -> list[Shot]:
        """Return the shots that were played like this, or only so many, the newest."""
        return log.shots(
            newest=newest,
            setup_id=self.setup_id,
            player_id=self.player_id,
            tip_below_centre_m=self.tip_below_centre_m,
            side_m=self.side_m,
        )


def graded(log: "PracticeLog") -> dict[Held, int]:
    """Return how many graded shots bear on each question that has any, newest question first."""
    return {held: n_graded for held, (_, n_graded) in _played(log).items() if n_graded}


@dataclass(frozen=True)
class Question:
    """A player, a set-up and a tip height that shots of the log belong to.

    Parameters
    ----------
    player : Player
        Who asks.
    setup : SetUpEntry
        From which mark.
    tip_below_centre_m, side_m : float
        What the series held.
    n_shots : int
        Shots behind it that are not discarded.
    words : str
        In one line.
    n_graded : int
        Those of them that have a result.
    """

    player: Player
    setup: SetUpEntry
    tip_below_centre_m: float
    side_m: float
    n_shots: int
    words: str
    n_graded: int = 0

    @property
    def held(self) -> Held:
        """Return the question as numbers of the log."""
        return Held(
            self.player.player_id, self.setup.setup_id, self.tip_below_centre_m, self.side_m
        )


def questions(log: "PracticeLog") -> list[Question]:
    """Return every question the log can answer, by set-up, player, tip height and side.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.

    Returns
    -------
    list of Question
        Each with at least one shot.
    """
    players = {player.player_id: player for player in log.players()}
    setups = {entry.setup_id: entry for entry in log.setups()}
    found = []
    for held, (n_shots, n_graded) in _played(log).items():
        player, setup = players[held.player_id], setups[held.setup_id]
        words = f"{player.nickname}, {setup.name}, {height_words(held.tip_below_centre_m)}"
        found.append(
            Question(
                player=player,
                setup=setup,
                tip_below_centre_m=held.tip_below_centre_m,
                side_m=held.side_m,
                n_shots=n_shots,
                words=f"{words}, {side_words(held.side_m)}" if held.side_m else words,
                n_graded=n_graded,
            )
        )
    return sorted(found, key=_by_name)


def _by_name(one: Question) -> tuple[int, str, int, float, float]:
    """Return the place of a question in a list."""
    held = one.held
    return (
        held.setup_id, one.player.nickname, held.player_id, held.tip_below_centre_m, held.side_m
    )  # fmt: skip


def _played(log: "PracticeLog") -> dict[Held, tuple[int, int]]:
    """Return shots and graded shots of every question that has any, newest question first."""
    counts: dict[Held, tuple[int, int]] = {}
    for player_id, setup_id, below_m, side_m, n_shots, n_graded in log.shots_by_held():
        # databases round by rules of their own
        held = Held(player_id, setup_id, round(below_m, 4), round(side_m, 4))
        known = counts.get(held, (0, 0))
        counts[held] = (known[0] + n_shots, known[1] + n_graded)
    return counts
