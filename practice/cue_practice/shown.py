"""What was shown on a table: the shots of every question, each beside the table model's word."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cue_practice.carry_over import Lesson, lesson
from cue_practice.inference import checked
from cue_practice.likelihood import FloatArray
from cue_practice.limits import SLOWEST_M_S
from cue_practice.log import PracticeLog
from cue_practice.paces import SAME_PLACE_M, FitShots
from cue_practice.prior import PacePrior
from cue_practice.questions import Question, questions
from cue_practice.views import Cue, Table
from cue_table.cloth import DEFAULT_CLOTH, Cloth
from cue_table.conditions import Conditions
from cue_table.tip import DEFAULT_CUE
from cue_table.tip import Cue as TableCue

FEWEST_TO_CHOOSE = 5
"""Where several bands of pace land, so many shots decide which of them the player goes for."""

OTHER_BAND = "nearer to another pace at which the white lands there"
"""Why a shot is left out that was played for another band."""

LESSON_SHOTS = 200
"""Newest shots of another set-up that are heard for a head start; more would add nothing to it."""


@dataclass(frozen=True)
class Equipment:
    """Cues and tables of the log, asked for once."""

    cues: Sequence[Cue]
    tables: Sequence[Table]

    @classmethod
    def of(cls, log: PracticeLog) -> "Equipment":
        """Return those of a log."""
        return cls(log.cues(), log.tables())

    def conditions(self, cue_id: int | None, table_id: int) -> Conditions:
        """Return a cue on a table as the table model takes them."""
        return Conditions(table_cue(self.cues, cue_id), table_cloth(self.tables, table_id))


@dataclass(frozen=True)
class Shown:
    """What one player has shown at one tip height of one set-up.

    Parameters
    ----------
    question : Question
        Whose shots, and where.
    lesson : Lesson
        What they teach the player who asks.
    """

    question: Question
    lesson: Lesson


def what_was_shown(
    log: PracticeLog, table_id: int, player_id: int, equipment: Equipment
) -> tuple[Shown, ...]:
    """Return what all shots on a table teach one player.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    table_id, player_id : int
        On which table, and who asks: other players' shots count for less.
    equipment : Equipment
        Of the log.

    Returns
    -------
    tuple of Shown
        One for each question with shots that can teach.
    """
    found = []
    for question in questions(log):
        if question.setup.table_id != table_id:
            continue
        prior, shots = table_prior(log, question, equipment, LESSON_SHOTS)
        used = checked(shots.pace_m_s, shots.grades, shots.pace_sd_m_s)
        if len(used.result):
            is_own = question.player.player_id == player_id
            told = lesson(prior, used.log_pace, used.result, used.sd_log, is_same_player=is_own)
            found.append(Shown(question, told))
    return tuple(found)


def table_prior(
    log: PracticeLog, asked: Question, equipment: Equipment, newest: int | None = None
) -> tuple[PacePrior, FitShots]:
    """Return what the table model expects, and the shots there are.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    asked : Question
        Player, set-up, tip height and side.
    equipment : Equipment
        Of the log.
    newest : int or None
        Only so many shots, the last ones.

    Returns
    -------
    tuple of PacePrior and FitShots
        Shots that went for another band in which the white lands are left out.
    """
    shots = log.fit_shots(
        asked.setup.setup_id,
        asked.player.player_id,
        asked.tip_below_centre_m,
        side_m=asked.side_m,
        newest=newest,
    )
    n_shots = len(shots.pace_m_s)
    conditions = equipment.conditions(shots.cue_id, asked.setup.table_id)
    prior = PacePrior.from_table(
        asked.setup.setup,
        asked.tip_below_centre_m,
        conditions.cue,
        conditions.cloth,
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
        is_potted=tuple(p for p, keep in zip(shots.is_potted, is_this, strict=True) if keep),
        points=tuple(p for p, keep in zip(shots.points, is_this, strict=True) if keep),
        broken_rules={**shots.broken_rules, OTHER_BAND: int((~is_this).sum())},
    )


def _away_log(pace_m_s: FloatArray, band: tuple[float, float]) -> FloatArray:
    """Return how far paces lie outside of a band, as shares of the pace."""
    pace = np.maximum(pace_m_s, SLOWEST_M_S)
    below, above = np.log(band[0] / pace), np.log(pace / band[1])
    return np.asarray(np.maximum(np.maximum(below, above), 0.0))


def is_same(one: Question, other: Question) -> bool:
    """Return whether two questions are about the same shots."""
    return (
        one.setup.setup_id == other.setup.setup_id
        and one.player.player_id == other.player.player_id
        and abs(one.tip_below_centre_m - other.tip_below_centre_m) < SAME_PLACE_M
        and abs(one.side_m - other.side_m) < SAME_PLACE_M
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
