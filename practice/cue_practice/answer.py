"""Which pace gives the right result from a mark at a tip height, for one player of the log."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cue_practice.carry_over import Lesson, carried
from cue_practice.errors import PracticeError
from cue_practice.inference import PaceAnswer, UsedShots, checked, pace_answer, posterior_of
from cue_practice.lengths import Lengths, lengths
from cue_practice.limits import SLOWEST_M_S
from cue_practice.log import PracticeLog
from cue_practice.pace_fit import Posterior
from cue_practice.paces import FitShots
from cue_practice.prior import PacePrior
from cue_practice.questions import ANSWER_SHOTS, Question, questions
from cue_practice.shown import (
    Equipment,
    Shown,
    is_same,
    table_cloth,
    table_cue,
    table_prior,
    what_was_shown,
)
from cue_practice.spread import OwnSpread
from cue_practice.trade_words import shots_words
from cue_practice.views import Player

__all__ = [
    "Evidence",
    "OwnSpread",
    "PaceAnswer",
    "PacePrior",
    "Question",
    "answer_for",
    "evidence_for",
    "pace_answer",
    "questions",
    "table_cloth",
    "table_cue",
]


def answer_for(
    log: PracticeLog,
    setup_id: int,
    player_id: int,
    tip_below_centre_m: float,
    *,
    side_m: float = 0.0,
) -> PaceAnswer:
    """Return which pace is right for a player on a set-up at a tip height.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    setup_id, player_id : int
        Which set-up, which player.
    tip_below_centre_m, side_m : float
        What the series held.

    Returns
    -------
    PaceAnswer
        It starts from the table model and from what this player and this table have shown on
        other set-ups and heights, so a new set-up does not start from nothing.

    Raises
    ------
    PracticeError
        If there is no such set-up or player.
    cue_table.errors.TableError
        If no cue can meet the white there.
    """
    return evidence_for(log, setup_id, player_id, tip_below_centre_m, side_m=side_m).answer()


@dataclass(frozen=True, eq=False)
class Evidence:
    """Everything an answer rests on.

    Parameters
    ----------
    asked : Question
        Player, set-up, tip height and side.
    prior : PacePrior
        The table model's word.
    shots : FitShots
        The shots that were played so.
    lengths : Lengths or None
        What their tapped points say.
    elsewhere : tuple of Lesson
        What was shown on other set-ups of the table.
    other_heights : tuple of Shown
        What the player has shown on this set-up at other tip heights and sides.
    own_spread : OwnSpread
        How closely the player keeps to a called pace.
    """

    asked: Question
    prior: PacePrior
    shots: FitShots
    lengths: Lengths | None
    elsewhere: tuple[Lesson, ...]
    other_heights: tuple[Shown, ...]
    own_spread: OwnSpread

    def heard(self, without: Question | None = None) -> PacePrior:
        """Return the prior that has heard every lesson, those of one tip height left out."""
        here = [
            one.lesson
            for one in self.other_heights
            if without is None or not is_same(one.question, without)
        ]
        return carried(self.prior, self.elsewhere, here)

    def posterior(self, prior: PacePrior) -> Posterior:
        """Return what is known of the right band, begun from a prior."""
        return posterior_of(self._checked(), prior=prior, lengths=self.lengths)

    def answer(self) -> PaceAnswer:
        """Return the answer, with what is told, left out and missing in its words."""
        shots = self.shots
        answer = pace_answer(
            shots.pace_m_s,
            shots.grades,
            pace_sd_m_s=shots.pace_sd_m_s,
            prior=self.heard(),
            own_spread=self.own_spread,
            lengths=self.lengths,
        )
        name = self.asked.setup.name
        more = (*_points_told(self.lengths), *_no_band(answer, name), *_not_used(shots))
        more += tuple(_not_asked(shots))
        return replace(answer, words=(*answer.words, *more), more_words=more)

    def _checked(self) -> UsedShots:
        """Return the shots as the fit takes them."""
        return checked(self.shots.pace_m_s, self.shots.grades, self.shots.pace_sd_m_s)


def evidence_for(
    log: PracticeLog,
    setup_id: int,
    player_id: int,
    tip_below_centre_m: float,
    *,
    side_m: float = 0.0,
    shown: Sequence[Shown] | None = None,
) -> Evidence:
    """Return what an answer rests on.

    Parameters
    ----------
    log, setup_id, player_id, tip_below_centre_m, side_m
        As for :func:`answer_for`, which says what is raised.
    shown : sequence of Shown, optional
        What was shown on the table, where it is known already.

    Returns
    -------
    Evidence
        For one answer, or for several tip heights against each other.
    """
    asked = Question(
        player=_player(log, player_id),
        setup=log.setup(setup_id),
        tip_below_centre_m=tip_below_centre_m,
        side_m=side_m,
        n_shots=0,
        words="",
    )
    equipment = Equipment.of(log)
    prior, shots = table_prior(log, asked, equipment, ANSWER_SHOTS)
    if shown is None:
        shown = what_was_shown(log, asked.setup.table_id, player_id, equipment)
    others = [one for one in shown if not is_same(one.question, asked)]
    return Evidence(
        asked=asked,
        prior=prior,
        shots=shots,
        lengths=_lengths(asked, prior, shots, equipment),
        elsewhere=tuple(one.lesson for one in others if not _is_here(one, asked)),
        other_heights=tuple(one for one in others if _is_here(one, asked)),
        own_spread=log.own_spread(player_id),
    )


def _not_asked(shots: FitShots) -> list[str]:
    """Return that older shots were not asked, where there may be some."""
    left_out = shots.n_without_result + shots.n_without_stroke + sum(shots.broken_rules.values())
    if len(shots.shot_id) + left_out < ANSWER_SHOTS:
        return []
    return [f"Only the newest {ANSWER_SHOTS:,} shots count: cloth, cue and player change."]


def _is_here(one: Shown, asked: Question) -> bool:
    """Return whether the player who asks has shown it on the set-up that is asked about."""
    return (one.question.player.player_id, one.question.setup.setup_id) == (
        asked.player.player_id,
        asked.setup.setup_id,
    )


def _lengths(
    asked: Question, prior: PacePrior, shots: FitShots, equipment: Equipment
) -> Lengths | None:
    """Return what the tapped points say, None where the table model has no right band."""
    if prior.band_m_s is None:
        return None
    return lengths(
        asked.setup.setup,
        asked.tip_below_centre_m,
        np.log(np.maximum(shots.pace_m_s, SLOWEST_M_S)),
        shots.points,
        side_m=asked.side_m,
        conditions=equipment.conditions(shots.cue_id, asked.setup.table_id),
        middle_m_s=prior.centre_m_s,
    )


def _points_told(told: Lengths | None) -> list[str]:
    """Return for how many shots the tapped points count."""
    if told is None or told.n_told == 0:
        return []
    return [f"Where the white went counts as well, for {shots_words(told.n_told)}."]


def _player(log: PracticeLog, player_id: int) -> Player:
    """Return a player by number."""
    for player in log.players():
        if player.player_id == player_id:
            return player
    raise PracticeError(
        f"There is no player {player_id} in the practice log. Choose one that is listed."
    )


def _no_band(answer: PaceAnswer, name: str) -> list[str]:
    """Return that the table model knows no right pace, where it knows none."""
    if answer.prior.band_m_s is not None:
        return []
    return [
        f"In the table model no pace brings the white into the landing area of '{name}' at this "
        "tip height, so your results have to say more."
    ]


def _not_used(shots: FitShots) -> list[str]:
    """Return which shots of the log are not in the fit, and why."""
    words = [
        f"Left out of the fit: {shots_words(n)}, {why}."
        for why, n in sorted(shots.broken_rules.items())
    ]
    if shots.n_without_result:
        words.append(f"Still without a result: {shots_words(shots.n_without_result)}.")
    if shots.n_without_stroke:
        words.append(f"Without a measured pace: {shots_words(shots.n_without_stroke)}.")
    return words
