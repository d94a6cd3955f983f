"""Which pace gives the right result from a mark at a tip height, for one player of the log."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from cue_practice.inference import PaceAnswer, pace_answer
from cue_practice.log import PracticeLog
from cue_practice.paces import FitShots
from cue_practice.prior import PacePrior
from cue_practice.spread import OwnSpread, own_spread
from cue_practice.trade_words import height_words, side_words
from cue_practice.views import Cue, Player, SetUpEntry, Table
from cue_table.cloth import DEFAULT_CLOTH, Cloth
from cue_table.tip import DEFAULT_CUE
from cue_table.tip import Cue as TableCue

__all__ = [
    "OwnSpread",
    "PaceAnswer",
    "PacePrior",
    "Question",
    "answer_for",
    "pace_answer",
    "questions",
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
    """

    player: Player
    setup: SetUpEntry
    tip_below_centre_m: float
    side_m: float
    n_shots: int
    words: str


def questions(log: PracticeLog) -> list[Question]:
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
    counts: dict[tuple[int, str, int, float, float], int] = {}
    for series in log.all_series():
        nickname = players[series.player_id].nickname
        place = (round(series.tip_below_centre_m, 4), round(series.side_m, 4))
        key = (series.setup_id, nickname, series.player_id, *place)
        counts[key] = counts.get(key, 0) + series.n_shots
    found = []
    for (setup_id, nickname, player_id, below_m, side_m), n_shots in sorted(counts.items()):
        if n_shots == 0:
            continue
        words = f"{nickname}, {setups[setup_id].name}, {height_words(below_m)}"
        found.append(
            Question(
                player=players[player_id],
                setup=setups[setup_id],
                tip_below_centre_m=below_m,
                side_m=side_m,
                n_shots=n_shots,
                words=f"{words}, {side_words(side_m)}" if side_m else words,
            )
        )
    return found


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
