"""What a player's own spread does to a shot: many strokes about the one that is meant."""

from dataclasses import dataclass

import numpy as np

from cue_table.aim import aim_direction_rad
from cue_table.ball import BoolArray
from cue_table.conditions import DEFAULT_CONDITIONS, Conditions
from cue_table.errors import check_range
from cue_table.runs import WhiteRuns, play_many
from cue_table.setup import SetUp
from cue_table.shot import runs_land


@dataclass(frozen=True)
class Spread:
    """How far a player's strokes scatter, as standard deviations.

    The defaults are invented; take a player's own from recorded strokes.

    Parameters
    ----------
    pace_share : float
        Of the tip speed, as a share of it.
    tip_height_m, side_m : float
        Of the height and the side at which the tip meets the white.
    direction_rad : float
        Of the cue's direction.

    Raises
    ------
    TableError
        If one is negative or larger than any player's.
    """

    pace_share: float = 0.05
    tip_height_m: float = 0.001
    side_m: float = 0.0005
    direction_rad: float = 0.001

    def __post_init__(self) -> None:
        """Refuse what is no spread."""
        advice = "Give a standard deviation."
        check_range("Spread of pace", self.pace_share, low=0.0, high=0.5, remedy=advice)
        for name, value, high, unit in (
            ("Spread of tip height", self.tip_height_m, 0.01, "m"),
            ("Spread of side", self.side_m, 0.01, "m"),
            ("Spread of direction", self.direction_rad, 0.1, "rad"),
        ):
            check_range(name, value, low=0.0, high=high, unit=unit, remedy=advice)


DEFAULT_SPREAD = Spread()
"""An invented player."""


@dataclass(frozen=True)
class Intent:
    """The stroke a player means to play.

    Parameters
    ----------
    tip_speed_m_s : float
        Its pace.
    below_centre_m : float
        How far the cue's axis is to pass below the white's centre; negative above it.
    side_m : float
        How far to the player's left; negative is right-hand side.
    """

    tip_speed_m_s: float
    below_centre_m: float
    side_m: float = 0.0


@dataclass(frozen=True, eq=False)
class Fan:
    """Many strokes about the one that is meant.

    Parameters
    ----------
    intent : Intent
        What was meant.
    runs : WhiteRuns
        What the strokes did.
    lands : ndarray of bool, shape (n,)
        Which whites stopped in the landing area.
    chance_landing, chance_potted, chance_both : float
        Shares of strokes that landed, that potted the object ball, and that did both.
    """

    intent: Intent
    runs: WhiteRuns
    lands: BoolArray
    chance_landing: float
    chance_potted: float
    chance_both: float

    @property
    def chance_sd(self) -> float:
        """Return the standard error of chance_both that comes from counting strokes."""
        share = self.chance_both
        return float(np.sqrt(share * (1.0 - share) / len(self.runs)))


def fan(
    setup: SetUp,
    intent: Intent,
    spread: Spread = DEFAULT_SPREAD,
    *,
    n_strokes: int = 10_000,
    seed: int = 1,
    conditions: Conditions = DEFAULT_CONDITIONS,
) -> Fan:
    """Return what many strokes about the meant one do.

    Parameters
    ----------
    setup : SetUp
        The position, with a landing area.
    intent : Intent
        The stroke that is meant. The cue is aimed once, for it.
    spread : Spread
        How far the strokes scatter: pace lognormally, the rest normally, all independently.
    n_strokes : int
        How many, at least 1.
    seed : int
        Of the scatter: the same seed scatters the same way.
    conditions : Conditions
        Cue, cloth, cushions and balls.

    Returns
    -------
    Fan
        Strokes and chances.

    Raises
    ------
    TableError
        If the tip of the meant stroke would slip off the ball.
    ValueError
        If there is no stroke.
    """
    if n_strokes < 1:
        raise ValueError(f"n_strokes is {n_strokes}; at least 1 is needed")
    conditions.cue.check_offset(intent.below_centre_m, intent.side_m)
    scatter = np.random.default_rng(seed).normal(size=(4, n_strokes))
    aim = aim_direction_rad(
        setup,
        intent.tip_speed_m_s,
        below_centre_m=intent.below_centre_m,
        side_m=intent.side_m,
        conditions=conditions,
    )
    runs = play_many(
        setup,
        intent.tip_speed_m_s * np.exp(spread.pace_share * scatter[0]),
        below_centre_m=intent.below_centre_m + spread.tip_height_m * scatter[1],
        side_m=intent.side_m + spread.side_m * scatter[2],
        direction_error_rad=spread.direction_rad * scatter[3],
        aim_rad=aim,
        cue=conditions.cue,
        cloth=conditions.cloth,
        cushion=conditions.cushion,
        contact=conditions.contact,
    )
    lands = runs_land(setup, runs)
    return Fan(
        intent=intent,
        runs=runs,
        lands=lands,
        chance_landing=float(np.mean(lands)),
        chance_potted=float(np.mean(runs.is_object_ball_potted)),
        chance_both=float(np.mean(lands & runs.is_object_ball_potted)),
    )
