"""How true the probabilities are that another tip height is easier.

Simulated players with two tip heights of one set-up, whose truths are drawn from what the model
says two heights share. The probability that one is easier is held against which truly is, beside
the same with the heights taken as independent: ``python -m cue_bench.heights_bench``.
"""

from dataclasses import dataclass, replace

import click
import numpy as np
from rich.console import Console
from rich.table import Table
from scipy.special import ndtr

from cue_bench.pace_players import PACE_SD_LOG, PRIOR, Truth, play
from cue_practice.carry_over import own_at_a_height
from cue_practice.pace_fit import TAIL_DOF, fit
from cue_practice.prior import PacePrior
from cue_practice.together import HeightKnown, probability_easier

SPREAD = 0.06
SURE = 0.9
_OTHER = replace(PRIOR, centre_m_s=2.2, half_width_log=0.085)
_NOTHING_SHARED = (9.0, 9.0, 9.0)


def drawn_pair(rng: np.random.Generator) -> tuple[Truth, Truth]:
    """Return one player's truths at two heights, drawn from what they share and what not."""
    heavy = np.sqrt(TAIL_DOF / rng.chisquare(TAIL_DOF))
    common, pair = rng.standard_normal(3), []
    for prior in (PRIOR, _OTHER):
        sd = np.array([prior.centre_sd_log, prior.half_width_sd_log, prior.scatter_sd_log])
        own = np.array(own_at_a_height(prior))
        off = np.sqrt(sd**2 - own**2) * common + own * rng.standard_normal(3)
        pair.append(Truth(
            float(np.log(prior.centre_m_s) + heavy * off[0]),
            float(prior.half_width_log * np.exp(off[1])),
            float(prior.scatter_log * np.exp(off[2])),
        ))  # fmt: skip
    return pair[0], pair[1]


def known(truth: Truth, prior: PacePrior, n_shots: int, rng: np.random.Generator) -> HeightKnown:
    """Return what so many shots say of a height."""
    shots = play(truth, np.log(prior.centre_m_s) + rng.normal(0.0, 0.15, n_shots), rng)
    after = fit(shots.log_pace, shots.result, sd_log=np.full(n_shots, PACE_SD_LOG), prior=prior)
    best = float(np.exp(after.centre_quantiles((0.5,))[0]))
    return HeightKnown(prior, after, own_at_a_height(prior), best)


def chance(truth: Truth, pace_m_s: float) -> float:
    """Return the true chance of the right result about a pace."""
    blur = np.hypot(truth.scatter, SPREAD)
    off = np.log(pace_m_s) - truth.centre
    return float(ndtr((truth.half_width - off) / blur) - ndtr((-truth.half_width - off) / blur))


@dataclass(frozen=True)
class Told:
    """How true the probabilities of one way are.

    Parameters
    ----------
    score : float
        Mean logarithm of the probability given to what is true; a coin gets -0.693.
    n_sure, right_when_sure : int, float
        Pairs told apart with 90 % or more, and the share of them told rightly.
    mean_when_sure : float
        The probability that was claimed for these.
    """

    score: float
    n_sure: int
    right_when_sure: float
    mean_when_sure: float


def measure(n_pairs: int, n_shots: tuple[int, int], seed: int) -> tuple[Told, Told]:
    """Return how true the probabilities are, within one posterior and as if independent."""
    rng = np.random.default_rng(seed)
    claimed: list[tuple[float, float]] = []
    for _ in range(n_pairs):
        truths = drawn_pair(rng)
        sides = [
            known(truth, prior, n, rng)
            for truth, prior, n in zip(truths, (PRIOR, _OTHER), n_shots, strict=True)
        ]
        apart = [replace(side, own_sd=_NOTHING_SHARED) for side in sides]
        chances = [chance(t, side.pace_m_s) for t, side in zip(truths, sides, strict=True)]
        found = [probability_easier(one, other, SPREAD) for one, other in (sides, apart)]
        is_first = chances[0] > chances[1]
        claimed.append((found[0], found[1]) if is_first else (1.0 - found[0], 1.0 - found[1]))
    together, independent = np.array(claimed).T
    return _told(together), _told(independent)


def _told(p_true: np.ndarray) -> Told:
    """Return how true the probabilities given to what is true are."""
    sure = np.maximum(p_true, 1.0 - p_true)
    is_sure = sure >= SURE
    return Told(
        float(np.mean(np.log(np.clip(p_true, 1e-6, 1.0)))),
        int(is_sure.sum()),
        float(np.mean(p_true[is_sure] > 0.5)) if is_sure.any() else float("nan"),
        float(sure[is_sure].mean()) if is_sure.any() else float("nan"),
    )


@click.command()
@click.option("--pairs", default=600, help="Players of each kind.")
@click.option("--seed", default=1, help="Of the players.")
def main(pairs: int, seed: int) -> None:
    """Print how true the probabilities are."""
    table = Table(title="Is another tip height easier? Probabilities against the truth")
    for name in ("shots", "heights", "score", "told with 90 %", "claimed", "right"):
        table.add_column(name, justify="right")
    for n_shots in ((20, 0), (10, 10), (30, 30)):
        for way, one in zip(
            ("one posterior", "independent"), measure(pairs, n_shots, seed), strict=True
        ):
            table.add_row(
                f"{n_shots[0]} and {n_shots[1]}", way, f"{one.score:.3f}", str(one.n_sure),
                f"{100 * one.mean_when_sure:.0f} %", f"{100 * one.right_when_sure:.0f} %",
            )  # fmt: skip
    Console(width=100).print(table)


if __name__ == "__main__":
    main()
