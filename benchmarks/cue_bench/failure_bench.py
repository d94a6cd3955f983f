"""How often a link with failure is named, right or wrong: ``python -m cue_bench.failure_bench``.

Simulated players whose misses, results and paces have nothing to do with their strokes, and players
who miss more when the cue slows. All twelve traits and four outcomes are looked at in each.
"""

from dataclasses import dataclass

import click
import numpy as np
from rich.console import Console
from rich.table import Table
from scipy.special import expit

from cue_practice.failure import TRAITS, what_goes_with
from cue_practice.played import PlayedShots, evenings_of
from cue_practice.rows import MEASURES

SHOTS_A_SERIES, SERIES_AN_EVENING = 12, 4
_PACE_SPREAD, _FREE_SPREAD = 0.06, 0.15
_BAND, _BLUR = 0.12, 0.06


@dataclass(frozen=True)
class Found:
    """Shares of players of whom something was said."""

    n_shots: int
    log_odds: float
    anything: float
    the_link: float


def player(seed: int, n_shots: int, log_odds: float) -> PlayedShots:
    """Return the shots of one player.

    Parameters
    ----------
    seed, n_shots : int
        Which player, how many shots; every other series is to a called pace.
    log_odds : float
        How much the log odds of a miss grow with a standard deviation of slowing in a series.
    """
    rng = np.random.default_rng(seed)
    series = np.arange(n_shots) // SHOTS_A_SERIES
    habit = rng.standard_normal((2, series.max() + 1))
    struck_s = np.arange(n_shots) * 30.0 + (series // SERIES_AN_EVENING) * 86_400.0
    is_called = series % 2 == 0
    spread = np.where(is_called, _PACE_SPREAD, _FREE_SPREAD)
    pace = 2.0 * np.exp(spread * rng.standard_normal(n_shots))
    measures = {name: np.full(n_shots, np.nan) for name in MEASURES}
    for name, _ in TRAITS.values():
        measures[name] = rng.standard_normal(n_shots) + 0.5 * habit[0][series]
    measures |= {"tip_speed_m_s": pace, "tip_speed_sd_m_s": 0.01 * pace}
    latent = np.log(pace / 2.02) + _BLUR * rng.standard_normal(n_shots)
    failing = -1.0 + 0.4 * habit[1][series] - log_odds * measures["accel_at_hit_m_s2"]
    return PlayedShots(
        shot_id=np.arange(n_shots),
        series_id=series,
        setup_id=np.ones(n_shots, dtype=np.int64),
        evening=evenings_of(struck_s),
        struck_s=struck_s,
        tip_below_centre_m=np.full(n_shots, 0.009),
        side_m=np.zeros(n_shots),
        called_m_s=np.where(is_called, 2.0, np.nan),
        grade=np.sign(latent) * (np.abs(latent) > _BAND),
        is_potted=(rng.random(n_shots) > expit(failing)).astype(np.float64),
        measures=measures,
    )


def measure(n_players: int, n_shots: int, log_odds: float) -> Found:
    """Return of how many players something, and the true link, is said."""
    anything = the_link = 0
    for seed in range(n_players):
        clear = {(link.trait, link.outcome) for link in what_goes_with(
            player(seed, n_shots, log_odds)).clear}  # fmt: skip
        anything += bool(clear)
        the_link += ("slowing", "missed") in clear
    return Found(n_shots, log_odds, anything / n_players, the_link / n_players)


@click.command()
@click.option("--players", default=400, help="Players of each kind.")
def main(players: int) -> None:
    """Print of how many players something is said."""
    table = Table(title="Players of whom something is said, in %")
    for name in ("shots", "log odds per sd", "anything", "slowing goes with missing"):
        table.add_column(name, justify="right")
    for n_shots, log_odds in ((60, 0.0), (120, 0.0), (600, 0.0), (300, 0.6), (600, 0.4)):
        one = measure(players, n_shots, log_odds)
        table.add_row(
            str(n_shots), f"{log_odds:.1f}", f"{100 * one.anything:.1f}",
            f"{100 * one.the_link:.1f}",
        )  # fmt: skip
    Console(width=100).print(table)


if __name__ == "__main__":
    main()
