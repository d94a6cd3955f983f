"""Which pace gives the right result from a mark at a tip height, for one player of the log."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from cue_practice.carry_over import Lesson, carried, lesson
from cue_practice.errors import PracticeError
from cue_practice.inference import (
    PaceAnswer,
    UsedShots,
    checked,
    pace_answer,
    posterior_of,
)
from cue_practice.lengths import Lengths, lengths
from cue_practice.likelihood import FloatArray
from cue_practice.limits import SLOWEST_M_S
from cue_practice.log import PracticeLog
from cue_practice.pace_fit import Posterior
from cue_practice.paces import SAME_PLACE_M, FitShots
from cue_practice.prior import PacePrior
from cue_practice.questions import Held, Question, questions
from cue_practice.spread import OwnSpread, own_spread
from cue_practice.views import Cue, Player, Table
from cue_table.cloth import DEFAULT_CLOTH, Cloth
from cue_table.conditions import Conditions
from cue_table.tip import DEFAULT_CUE
from cue_table.tip import Cue as TableCue

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
]

FEWEST_TO_CHOOSE = 5
"""Where several bands of pace land, so many shots decide which of them the player goes for."""

OTHER_BAND = "nearer to another pace at which the white lands there"
"""Why a shot is left out that was played for another band."""

LESSON_SHOTS = 200
"""Newest shots of another set-up that are heard for a head start; more would add nothing to it."""


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
    other_heights : tuple of (Held, Lesson)
        What the player has shown on this set-up at other tip heights and sides.
    own_spread : OwnSpread
        How closely the player keeps to a called pace.
    """

    asked: Question
    prior: PacePrior
    shots: FitShots
    lengths: Lengths | None
    elsewhere: tuple[Lesson, ...]
    other_heights: tuple[tuple[Held, Lesson], ...]
    own_spread: OwnSpread

    def heard(self, without: Held | None = None) -> PacePrior:
        """Return the prior that has heard every lesson, those of one tip height left out."""
        here = [told for held, told in self.other_heights if held != without]
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
) -> Evidence:
    """Return what an answer rests on.

    Parameters
    ----------
    log, setup_id, player_id, tip_below_centre_m, side_m
        As for :func:`answer_for`, which says what is raised.

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
    known = _Known(log.cues(), log.tables())
    prior, shots = _table_prior(log, asked, known)
    elsewhere, here = _lessons(log, asked, known)
    return Evidence(
        asked=asked,
        prior=prior,
        shots=shots,
        lengths=_lengths(asked, prior, shots, known),
        elsewhere=tuple(elsewhere),
        other_heights=tuple(here),
        own_spread=own_spread(log.called_shots(player_id)),
    )


@dataclass(frozen=True)
class _Known:
    """Cues and tables of the log, asked for once."""

    cues: list[Cue]
    tables: list[Table]


def _table_prior(
    log: PracticeLog, asked: Question, known: _Known, newest: int | None = None
) -> tuple[PacePrior, FitShots]:
    """Return what the table model expects, and the shots there are."""
    shots = log.fit_shots(
        asked.setup.setup_id,
        asked.player.player_id,
        asked.tip_below_centre_m,
        side_m=asked.side_m,
        newest=newest,
    )
    n_shots = len(shots.pace_m_s)
    prior = PacePrior.from_table(
        asked.setup.setup,
        asked.tip_below_centre_m,
        table_cue(known.cues, shots.cue_id),
        table_cloth(known.tables, asked.setup.table_id),
        side_m=asked.side_m,
        near_m_s=float(np.median(shots.pace_m_s)) if n_shots >= FEWEST_TO_CHOOSE else None,
    )
    return prior, _of_this_band(prior, shots)


def _of_this_band(prior: PacePrior, shots: FitShots) -> FitShots:
    """Return the shots without those that went for another band in which the white lands.

    A right result there says nothing of this band, and its tapped places would mislead.
    """
    if not prior.other_bands_m_s or prior.band_m_s is None or not len(shots.pace_m_s):
        return shots
    away = [_away_log(shots.pace_m_s, band) for band in prior.other_bands_m_s]
    is_this = _away_log(shots.pace_m_s, prior.band_m_s) <= np.min(away, axis=0)
    if is_this.all():
        return shots
    return replace(
        shots,
        shot_id=shots.shot_id[is_this],
        pace_m_s=shots.pace_m_s[is_this],
        pace_sd_m_s=shots.pace_sd_m_s[is_this],
        grades=tuple(g for g, keep in zip(shots.grades, is_this, strict=True) if keep),
        points=tuple(p for p, keep in zip(shots.points, is_this, strict=True) if keep),
        broken_rules={**shots.broken_rules, OTHER_BAND: int((~is_this).sum())},
    )


def _away_log(pace_m_s: FloatArray, band: tuple[float, float]) -> FloatArray:
    """Return how far paces lie outside of a band, as shares of the pace."""
    pace = np.maximum(pace_m_s, SLOWEST_M_S)
    below, above = np.log(band[0] / pace), np.log(pace / band[1])
    return np.asarray(np.maximum(np.maximum(below, above), 0.0))


def _lengths(asked: Question, prior: PacePrior, shots: FitShots, known: _Known) -> Lengths | None:
    """Return what the tapped points say, None where the table model has no right band."""
    if prior.band_m_s is None:
        return None
    conditions = Conditions(
        table_cue(known.cues, shots.cue_id), table_cloth(known.tables, asked.setup.table_id)
    )
    return lengths(
        asked.setup.setup,
        asked.tip_below_centre_m,
        np.log(np.maximum(shots.pace_m_s, SLOWEST_M_S)),
        shots.points,
        side_m=asked.side_m,
        conditions=conditions,
        middle_m_s=prior.centre_m_s,
    )


def _points_told(told: Lengths | None) -> list[str]:
    """Return for how many shots the tapped points count."""
    if told is None or told.n_told == 0:
        return []
    return [f"Where the white went counts as well, for {_shots(told.n_told)}."]


def _lessons(
    log: PracticeLog, asked: Question, known: _Known
) -> tuple[list[Lesson], list[tuple[Held, Lesson]]]:
    """Return what else was played on the table teaches: elsewhere, and at other heights here."""
    elsewhere: list[Lesson] = []
    here: list[tuple[Held, Lesson]] = []
    for other in questions(log):
        if other.setup.table_id != asked.setup.table_id or _is_same(other, asked):
            continue
        prior, shots = _table_prior(log, other, known, LESSON_SHOTS)
        used = checked(shots.pace_m_s, shots.grades, shots.pace_sd_m_s)
        if not len(used.result):
            continue
        is_own = other.player.player_id == asked.player.player_id
        told = lesson(prior, used.log_pace, used.result, used.sd_log, is_same_player=is_own)
        if is_own and other.setup.setup_id == asked.setup.setup_id:
            here.append((other.held, told))
        else:
            elsewhere.append(told)
    return elsewhere, here


def _is_same(one: Question, other: Question) -> bool:
    """Return whether two questions are about the same shots."""
    return (
        one.setup.setup_id == other.setup.setup_id
        and one.player.player_id == other.player.player_id
        and abs(one.tip_below_centre_m - other.tip_below_centre_m) < SAME_PLACE_M
        and abs(one.side_m - other.side_m) < SAME_PLACE_M
    )


def _player(log: PracticeLog, player_id: int) -> Player:
    """Return a player by number."""
    for player in log.players():
        if player.player_id == player_id:
            return player
    raise PracticeError(
        f"There is no player {player_id} in the practice log. Choose one that is listed."
    )


def table_cue(cues: Iterable[Cue], cue_id: int | None) -> TableCue:
    """Return a cue of the log as the table model takes it, an ordinary one for None."""
    for cue in cues:
        if cue.cue_id == cue_id:
            return TableCue(
                mass_kg=cue.mass_kg,
                tip_width_m=cue.tip_width_m,
                tip_radius_m=cue.tip_width_m / 2.0,
            )
    return DEFAULT_CUE


def table_cloth(tables: Iterable[Table], table_id: int) -> Cloth:
    """Return a table's cloth as the table model takes it, usual values where none is known."""
    for table in tables:
        if table.table_id == table_id:
            sliding, rolling = table.sliding_friction, table.rolling_resistance
            return Cloth(
                sliding_friction=DEFAULT_CLOTH.sliding_friction if sliding is None else sliding,
                rolling_resistance=DEFAULT_CLOTH.rolling_resistance if rolling is None else rolling,
            )
    return DEFAULT_CLOTH


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
        f"Left out of the fit: {_shots(n)}, {why}." for why, n in sorted(shots.broken_rules.items())
    ]
    if shots.n_without_result:
        words.append(f"Still without a result: {_shots(shots.n_without_result)}.")
    if shots.n_without_stroke:
        words.append(f"Without a measured pace: {_shots(shots.n_without_stroke)}.")
    return words


def _shots(n: int) -> str:
    """Return a number of shots."""
    return "1 shot" if n == 1 else f"{n} shots"
