"""Which pace gives the right result from a mark at a tip height, for one player of the log."""

from collections.abc import Iterable
from dataclasses import replace

from cue_practice.inference import PaceAnswer, pace_answer
from cue_practice.log import PracticeLog
from cue_practice.paces import FitShots
from cue_practice.prior import PacePrior
from cue_practice.spread import OwnSpread, own_spread
from cue_practice.views import Cue, Table
from cue_table.cloth import DEFAULT_CLOTH, Cloth
from cue_table.tip import DEFAULT_CUE
from cue_table.tip import Cue as TableCue

__all__ = ["OwnSpread", "PaceAnswer", "PacePrior", "answer_for", "pace_answer"]


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
        From the table model alone where there are no shots yet.

    Raises
    ------
    PracticeError
        If there is no such set-up.
    cue_table.errors.TableError
        If no cue can meet the white there.
    """
    entry = log.setup(setup_id)
    shots = log.fit_shots(setup_id, player_id, tip_below_centre_m, side_m=side_m)
    prior = PacePrior.from_table(
        entry.setup,
        tip_below_centre_m,
        table_cue(log.cues(), shots.cue_id),
        table_cloth(log.tables(), entry.table_id),
        side_m=side_m,
    )
    answer = pace_answer(
        shots.pace_m_s,
        shots.grades,
        pace_sd_m_s=shots.pace_sd_m_s,
        prior=prior,
        own_spread=own_spread(log.called_paces(player_id)),
    )
    words = (*answer.words, *_no_band(answer, entry.name), *_not_used(shots))
    return replace(answer, words=words)


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
