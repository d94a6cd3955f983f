"""What a player can tell about a table: shots with their results, and two simple tests."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cue_table.ball import GRAVITY_M_S2
from cue_table.errors import TableError, check_range
from cue_table.setup import Point, SetUp
from cue_table.stun import dead_stop_tip_speed_m_s

LOWEST_RESISTANCE, HIGHEST_RESISTANCE = 0.003, 0.04
"""Rolling resistances beyond which no cloth is met."""


@dataclass(frozen=True)
class ShotResult:
    """A recorded shot and where its white went.

    Parameters
    ----------
    setup : SetUp
        The position.
    tip_speed_m_s, below_centre_m, side_m : float
        The stroke.
    stop_point_m, cushion_point_m : tuple of two floats or None
        Where the white stopped, and where it met its first cushion; at least one of them.
    tip_speed_sd_m_s, below_centre_sd_m, direction_sd_rad : float
        How sure the stroke is.
    reading_sd_m : float
        How well the player reads a point on the table.
    """

    setup: SetUp
    tip_speed_m_s: float
    below_centre_m: float
    side_m: float = 0.0
    stop_point_m: Point | None = None
    cushion_point_m: Point | None = None
    tip_speed_sd_m_s: float = 0.03
    below_centre_sd_m: float = 0.001
    direction_sd_rad: float = 0.001
    reading_sd_m: float = 0.03


@dataclass(frozen=True)
class RollTest:
    """A ball rolled gently and timed from a mark to rest.

    Parameters
    ----------
    distance_m : float
        From the mark to where it lay still; it must roll, not slip, at the mark.
    time_s : float
        How long that took.
    time_sd_s : float
        How sure the time is.
    """

    distance_m: float
    time_s: float
    time_sd_s: float = 0.2


@dataclass(frozen=True)
class StunTest:
    """The pace at which a full hit from a known distance stopped the white dead.

    Parameters
    ----------
    distance_m : float
        Free travel of the white.
    below_centre_m : float
        Tip height.
    tip_speed_m_s : float
        The pace that did it.
    pace_sd_share : float
        How sure that pace is, as a share of it.
    """

    distance_m: float
    below_centre_m: float
    tip_speed_m_s: float
    pace_sd_share: float = 0.05


def check_results(
    shots: Sequence[ShotResult], rolls: Sequence[RollTest], stuns: Sequence[StunTest]
) -> None:
    """Raise TableError if there is nothing to fit or a result makes no sense.

    Parameters
    ----------
    shots : sequence of ShotResult
        Recorded shots.
    rolls : sequence of RollTest
        Balls rolled and timed.
    stuns : sequence of StunTest
        Paces that stopped the white dead.
    """
    if not (shots or rolls or stuns):
        raise TableError("There are 0 results to fit; at least 1 is needed. Record some shots.")
    for number, shot in enumerate(shots, start=1):
        if shot.stop_point_m is None and shot.cushion_point_m is None:
            raise TableError(
                f"Shot {number} has neither a stop nor a cushion point. Tap one, or leave it out."
            )
    for roll in rolls:
        check_range(
            "Distance of the roll test",
            roll.distance_m,
            low=0.1,
            high=10.0,
            unit="m",
            remedy="Roll the ball at least a few balls' widths.",
        )
        check_range(
            f"Time of the roll test over {roll.distance_m:g} m",
            roll.time_s,
            low=_roll_time_s(roll.distance_m, HIGHEST_RESISTANCE),
            high=_roll_time_s(roll.distance_m, LOWEST_RESISTANCE),
            unit="s",
            remedy="Time it from the mark to rest.",
        )
        _check_sd("time of the roll test", roll.time_sd_s, unit="s")
    for stun in stuns:
        _check_stun(stun)


def _check_stun(stun: StunTest) -> None:
    """Raise TableError if a stun test makes no sense, or no white stops dead that way."""
    for what, value, low, high, unit, remedy in (
        ("Distance of the stun test", stun.distance_m, 0.05, 4.0, "m", "Measure ball to ball."),
        ("Pace of the stun test", stun.tip_speed_m_s, 0.1, 12.0, "m/s", "Give it in m/s."),
    ):
        check_range(what, value, low=low, high=high, unit=unit, remedy=remedy)
    _check_sd("pace of the stun test, as a share", stun.pace_sd_share)
    if not np.isfinite(dead_stop_tip_speed_m_s(stun.distance_m, stun.below_centre_m)):
        raise TableError(
            f"At {stun.below_centre_m * 1e3:.3g} mm below the centre no pace stops the white dead. "
            "Strike lower, or leave that test out."
        )


def _check_sd(what: str, sd: float, *, unit: str = "") -> None:
    """Raise TableError unless a standard deviation is greater than 0."""
    check_range(
        f"Uncertainty of the {what}",
        sd,
        low=1e-6,
        high=100.0,
        unit=unit,
        remedy="Say how sure it is.",
    )


def _roll_time_s(distance_m: float, resistance: float) -> float:
    """Return how long a ball rolls to rest over a distance."""
    return float(np.sqrt(2.0 * distance_m / (resistance * GRAVITY_M_S2)))
