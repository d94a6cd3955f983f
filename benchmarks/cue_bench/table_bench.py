"""How fast and how exact the table model is: ``python -m cue_bench.table_bench``.

The time of a fan of 10,000 strokes is set against one white that scipy's solve_ivp integrates from
the hit to its stop in the same run; the cushion's kept answers against the integration they come
from and against equal steps of impulse as published; the fit of a table against tables drawn from
what is known beforehand, whose 90 % intervals must hold the truth nine times in ten.
"""

from collections.abc import Callable, Iterable
from time import perf_counter
from typing import Any

import click
import numpy as np
from rich.console import Console
from rich.table import Table
from scipy.integrate import solve_ivp
from scipy.stats import qmc, truncnorm

from cue_table.ball import FloatArray
from cue_table.cloth import DEFAULT_CLOTH
from cue_table.conditions import DEFAULT_CONDITIONS
from cue_table.cushion import Cushion, contact_of, rebound
from cue_table.fan import Intent, fan
from cue_table.fit import LIMITS, PARAMETERS, PRIOR, TableFit, fit_table, with_parameters
from cue_table.results import RollTest, ShotResult, StunTest
from cue_table.runs import play_many
from cue_table.setup import FULL_SIZE, SetUp
from cue_table.stun import dead_stop_tip_speed_m_s

N_STROKES = 10_000
AREA_M = ((0.4, 2.4), (1.2, 2.4), (1.2, 3.2), (0.4, 3.2))
WIDE = SetUp("wide", FULL_SIZE, (1.30, 2.35), (1.30, 2.95), "top_right", (0.889, 1.7845), AREA_M)
LONG = SetUp("long", FULL_SIZE, (0.70, 0.90), (0.90, 1.70), "top_right", None, AREA_M)
"""Invented positions."""

INTENTS = (Intent(1.2, 0.005), Intent(2.4, 0.0065), Intent(3.5, 0.008), Intent(5.0, 0.010))
"""From one cushion to four."""


@click.command()
@click.option("--trials", default=40, show_default=True, help="Tables drawn to check the fit.")
@click.option("--shots", default=5, show_default=True, help="Shots a position in each trial.")
def main(trials: int, shots: int) -> None:
    """Print the time of a fan, the exactness of the cushion, and the coverage of the fit."""
    console = Console(width=100)
    for table in (fan_table(), cushion_table(), cover_table(trials, shots)):
        console.print(table)


def best_s(work: Callable[[], object], *, n_times: int = 7) -> float:
    """Return the shortest time some work takes."""
    times = []
    for _ in range(n_times):
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    return min(times)


def fan_table() -> Table:
    """Return the time of a fan, and how many single whites by solve_ivp it is worth."""
    table = _titled(
        f"A fan of {N_STROKES:,} strokes",
        ("pace, m/s", "cushions", "first, ms", "then, ms", "over one white by solve_ivp"),
    )
    peer = best_s(one_white_by_solve_ivp, n_times=5)
    for intent in INTENTS:
        start = perf_counter()
        first = fan(WIDE, intent, n_strokes=N_STROKES)
        cold = perf_counter() - start
        warm = best_s(lambda intent=intent: fan(WIDE, intent, n_strokes=N_STROKES))  # type: ignore[misc]
        table.add_row(
            f"{intent.tip_speed_m_s:g}",
            f"{first.runs.n_cushions.mean():.1f}",
            f"{1e3 * cold:.0f}",
            f"{1e3 * warm:.0f}",
            f"{warm / peer:.1f}",
        )
    return table


def one_white_by_solve_ivp() -> FloatArray:
    """Return where one sliding white comes to rest on an endless cloth, integrated."""
    slide, roll = DEFAULT_CLOTH.slide_m_s2, DEFAULT_CLOTH.roll_m_s2

    def forces(_: float, state: FloatArray) -> list[float]:
        _, _, vx, vy, sx, sy = state
        size = np.hypot(vx - sx, vy - sy)
        if size > 1e-6:
            push = [-slide * (vx - sx) / size, -slide * (vy - sy) / size]
            return [vx, vy, *push, -2.5 * push[0], -2.5 * push[1]]
        speed = max(np.hypot(vx, vy), 1e-12)
        push = [-roll * vx / speed, -roll * vy / speed]
        return [vx, vy, *push, *push]

    def rolls(_: float, state: FloatArray) -> float:
        return float(np.hypot(state[2] - state[4], state[3] - state[5]) - 1e-6)

    def rests(_: float, state: FloatArray) -> float:
        return float(np.hypot(state[2], state[3]) - 1e-5)

    rolls.__dict__.update(terminal=True)
    rests.__dict__.update(terminal=True)
    state = np.array([0.9, 1.0, 1.2, 0.7, 0.0, -0.4])
    for event in (rolls, rests):
        done: Any = solve_ivp(forces, (0, 60), state, events=event, rtol=1e-8, atol=1e-10)
        state = done.y[:, -1].copy()
        state[4:] = state[2:4]
    return np.asarray(state[:2])


def cushion_table() -> Table:
    """Return how far the cushion's kept answers lie from the integration, and the time of each."""
    table = _titled(
        "The cushion's kept answers against the integration, per incoming speed",
        ("balls", "9 in 10 within", "99 in 100", "worst", "time over the integration's"),
    )
    cushion = Cushion(slows_with_speed=False)
    contact = contact_of(cushion)
    for name, is_rolling in (("rolling, any side", True), ("any spin", False)):
        balls = _balls(4000, is_rolling=is_rolling)
        vx, vy, roll_x, roll_y, side = balls
        state = np.stack([vx, vy, -roll_y, roll_x, side])
        exact = contact.pass_through(state)
        found = _off(balls, cushion)
        error = np.max(np.abs(found - exact), axis=0)
        kept = best_s(lambda balls=balls: _off(balls, cushion))  # type: ignore[misc]
        full = best_s(lambda state=state: contact.pass_through(state), n_times=3)  # type: ignore[misc]
        usual, most = np.quantile(error, [0.9, 0.99])
        table.add_row(
            name, f"{usual:.4f}", f"{most:.4f}", f"{error.max():.4f}", f"{kept / full:.3f}"
        )
    return table


def _off(balls: FloatArray, cushion: Cushion) -> FloatArray:
    """Return balls of shape (5, n) off the cushion: velocity, then radius times spin."""
    along, towards, roll_along, roll_towards, side = balls
    off = rebound(along, towards, roll_along, roll_towards, side, cushion)
    spins = [-off.roll_towards_m_s, off.roll_along_m_s, off.side_m_s]
    return np.stack([off.along_m_s, off.towards_m_s, *spins])


def _balls(n_balls: int, *, is_rolling: bool) -> FloatArray:
    """Return balls that reach a cushion at unit speed, shape (5, n)."""
    rng = np.random.default_rng(20)
    angle = rng.uniform(0.1, np.pi - 0.1, n_balls)
    velocity = np.stack([np.cos(angle), np.sin(angle)])
    roll = velocity if is_rolling else rng.normal(0.0, 0.7, (2, n_balls))
    return np.concatenate([velocity, roll, rng.normal(0.0, 0.3, (1, n_balls))])


def cover_table(n_trials: int, n_shots: int) -> Table:
    """Return how often the fit's 90 % intervals hold the truth.

    Parameters
    ----------
    n_trials : int
        Tables drawn.
    n_shots : int
        Shots on each of two positions; a fit with the two simple tests instead is made as well.
    """
    table = _titled(
        f"Intervals of 90 % that hold the truth, {n_trials} tables",
        ("results", *(name.replace("_", " ") for name in PARAMETERS), "all"),
    )
    kinds: tuple[tuple[str, Callable[[FloatArray, np.random.Generator], TableFit]], ...] = (
        (f"{2 * n_shots} shots", lambda truth, rng: fit_table(shots_on(truth, n_shots, rng))),
        ("3 rolls, 3 stuns", fit_of_tests),
    )
    truths = drawn_tables(n_trials)
    for name, fitted in kinds:
        held = np.array([_held(fitted, truth, trial) for trial, truth in enumerate(truths)])
        cells = [f"{share:.0%}" for share in held.mean(axis=0)]
        table.add_row(name, *cells, f"{held.mean():.1%}")
    return table


def _held(
    fitted: Callable[[FloatArray, np.random.Generator], TableFit], truth: FloatArray, trial: int
) -> list[bool]:
    """Return which intervals of one trial hold the truth."""
    fit = fitted(truth, np.random.default_rng([11, trial]))
    return [one.low <= value <= one.high for one, value in zip(fit.estimates, truth, strict=True)]


def drawn_tables(n_tables: int) -> FloatArray:
    """Return tables drawn from what is known beforehand, evenly over it, shape (n, 4)."""
    shares = qmc.LatinHypercube(len(PARAMETERS), rng=np.random.default_rng(3)).random(n_tables)
    columns = []
    for name, share in zip(PARAMETERS, shares.T, strict=True):
        (mean, sd), (low, high) = PRIOR[name], LIMITS[name]
        columns.append(truncnorm((low - mean) / sd, (high - mean) / sd, mean, sd).ppf(share))
    return np.stack(columns, axis=-1)


def shots_on(truth: FloatArray, n_each: int, rng: np.random.Generator) -> list[ShotResult]:
    """Return shots on a table, with the errors their uncertainties speak of."""
    now = with_parameters(DEFAULT_CONDITIONS, truth)
    shots = []
    for setup in (WIDE, LONG):
        pace, low = rng.uniform(1.0, 2.6, n_each), rng.uniform(-0.003, 0.010, n_each)
        runs = play_many(
            setup,
            pace + 0.03 * rng.normal(size=n_each),
            below_centre_m=low + 0.001 * rng.normal(size=n_each),
            direction_error_rad=0.001 * rng.normal(size=n_each),
            cue=now.cue,
            cloth=now.cloth,
            cushion=now.cushion,
        )
        stops = runs.stop_m + 0.03 * rng.normal(size=(n_each, 2))
        shots += [
            ShotResult(setup, float(pace[i]), float(low[i]), 0.0, (float(x), float(y)))
            for i, (x, y) in enumerate(stops)
            if runs.pocket[i] < 0
        ]
    return shots


def fit_of_tests(truth: FloatArray, rng: np.random.Generator) -> TableFit:
    """Return the fit of three rolled balls and three stun tests on a table."""
    now = with_parameters(DEFAULT_CONDITIONS, truth)
    rolls = [
        RollTest(way, float(np.sqrt(2.0 * way / now.cloth.roll_m_s2) + 0.2 * rng.normal()), 0.2)
        for way in (1.5, 2.0, 2.5)
    ]
    stuns = [
        StunTest(
            way,
            0.008,
            dead_stop_tip_speed_m_s(way, 0.008, now.cue, now.cloth)
            * float(np.exp(0.05 * rng.normal())),
            0.05,
        )
        for way in (0.8, 1.2, 1.6)
    ]
    return fit_table(roll_tests=rolls, stun_tests=stuns)


def _titled(title: str, columns: Iterable[str]) -> Table:
    """Return an empty table to print."""
    table = Table(title=title)
    for column in columns:
        table.add_column(column)
    return table


if __name__ == "__main__":
    main()
