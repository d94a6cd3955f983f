"""What the analysis costs against a bare orientation filter: ``python -m cue_bench.vqf_bench``.

An hour of made playing at 200 Hz, six axes and the accelerometer's three alone, is analysed whole,
and pushed piece by piece as a sensor would send it; the offline filter of the vqf package (Laidig
and Seel, Information Fusion 91, 2023), C++ of the same six axes in the same run, is the measure.
Each figure is the least of some repeats, as other work on the machine can only add to it. The hour
is made of one short session played over and over with fresh noise: what the analysis does depends
on the strokes in it, and these are as many as a busy hour has.
"""

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import click
import numpy as np
from rich.console import Console
from rich.table import Table
from vqf import offlineVQF  # type: ignore[import-untyped]

from cue_bench.maker import make_strokes
from cue_sensors.samples import Mounting, Samples
from cue_signal.analysis import analyse
from cue_signal.live import StrokeFinder
from cue_signal.warm import warm_up

TARGET_RATIO = 3.0
TARGET_LIVE_SHARE = 0.1
PIECE_S = 0.05
NOISE_M_S2, NOISE_RAD_S = 0.01, 0.0005


@dataclass(frozen=True)
class Cost:
    """Seconds of one core for one length of samples.

    Parameters
    ----------
    minutes : float
        Length.
    n_strokes : int
        Found in it.
    filter_s, analyse_s, live_s : float
        Offline filter alone, whole analysis, piece by piece.
    """

    minutes: float
    n_strokes: int
    filter_s: float
    analyse_s: float
    live_s: float

    @property
    def ratio(self) -> float:
        """Return the whole analysis in parts of the bare filter."""
        return self.analyse_s / self.filter_s

    @property
    def live_share(self) -> float:
        """Return the share of one core that the live path takes."""
        return self.live_s / (60.0 * self.minutes)


def make_hour(
    minutes: float, *, rate_hz: float = 200.0, seed: int = 77, has_mounting: bool = True
) -> tuple[Samples, Mounting]:
    """Return samples of playing for some minutes, and how the sensor sits.

    Parameters
    ----------
    minutes : float
        Length.
    rate_hz : float
        Sampling rate.
    seed : int
        Of all that is random.
    has_mounting : bool
        Whether the cue's axis is stated.
    """
    session = make_strokes(8, seed, rate_hz=rate_hz, known_mounting=has_mounting)
    one = session.recording.samples
    rng = np.random.default_rng(seed)
    n = round(60.0 * minutes * rate_hz)
    times = int(np.ceil(n / len(one)))
    force = np.tile(one.specific_force_m_s2, (times, 1))[:n]
    rate = np.tile(_rates(one), (times, 1))[:n]
    samples = Samples(
        time_s=np.arange(n) / rate_hz,
        specific_force_m_s2=force + NOISE_M_S2 * rng.standard_normal(force.shape),
        angular_rate_rad_s=rate + NOISE_RAD_S * rng.standard_normal(rate.shape),
        is_clipped=np.tile(one.is_clipped, times)[:n],
        rate_hz=rate_hz,
    )
    return samples, session.recording.mounting


def cost_of(
    samples: Samples,
    mounting: Mounting,
    *,
    repeats: int,
    is_live: bool = True,
    has_gyroscope: bool = True,
) -> Cost:
    """Return what samples cost, the least of some repeats taken in turn.

    Parameters
    ----------
    samples : Samples
        Six axes.
    mounting : Mounting
        How the sensor sits.
    repeats : int
        How often.
    is_live : bool
        Whether the live path is measured as well.
    has_gyroscope : bool
        Whether the analysis is given the angular rates; the filter always is.
    """
    force = np.ascontiguousarray(samples.specific_force_m_s2)
    rate = np.ascontiguousarray(_rates(samples))
    n_strokes, period_s = 0, 1.0 / samples.rate_hz
    if not has_gyroscope:
        samples = replace(samples, angular_rate_rad_s=None)

    def whole() -> None:
        nonlocal n_strokes
        n_strokes = len(analyse(samples, mounting=mounting).strokes)

    filter_s, analyse_s = np.inf, np.inf
    for _ in range(repeats):
        # in turn, so that a busy spell of the machine meets both
        filter_s = min(filter_s, _seconds(lambda: offlineVQF(rate, force, None, period_s)))
        analyse_s = min(analyse_s, _seconds(whole))
    live_s = _seconds(lambda: push_all(samples, mounting)) if is_live else float("nan")
    return Cost(len(samples) / samples.rate_hz / 60.0, n_strokes, filter_s, analyse_s, live_s)


def push_all(samples: Samples, mounting: Mounting) -> int:
    """Push samples in pieces of a twentieth of a second; return the number of strokes.

    Parameters
    ----------
    samples : Samples
        The stream.
    mounting : Mounting
        How the sensor sits.
    """
    finder, rate = StrokeFinder(mounting), samples.angular_rate_rad_s
    n, n_strokes = max(1, round(PIECE_S * samples.rate_hz)), 0
    for start in range(0, len(samples), n):
        piece = slice(start, start + n)
        n_strokes += len(
            finder.push(
                Samples(
                    samples.time_s[piece],
                    samples.specific_force_m_s2[piece],
                    None if rate is None else rate[piece],
                    samples.is_clipped[piece],
                    samples.rate_hz,
                )
            )
        )
    return n_strokes + len(finder.finish())


def table_of(costs: Sequence[tuple[str, Cost]]) -> Table:
    """Return the costs as a table to print.

    Parameters
    ----------
    costs : sequence of (str, Cost)
        Name of the row and its figures.
    """
    table = Table(title="Cost against the bare offline filter, same samples, same run")
    for name in (
        "axes, cue",
        "minutes",
        "strokes",
        "filter s",
        "analysis s",
        "ratio",
        "ms a stroke",
        "s a minute",
        "live, % of a core",
    ):
        table.add_column(name, justify="left" if name == "axes, cue" else "right")
    for name, cost in costs:
        table.add_row(
            name,
            f"{cost.minutes:.0f}",
            str(cost.n_strokes),
            f"{cost.filter_s:.2f}",
            f"{cost.analyse_s:.2f}",
            f"{cost.ratio:.1f}",
            f"{1000 * cost.analyse_s / max(cost.n_strokes, 1):.0f}",
            f"{cost.analyse_s / cost.minutes:.3f}",
            "" if math.isnan(cost.live_share) else f"{100 * cost.live_share:.1f}",
        )
    return table


def _rates(samples: Samples) -> np.ndarray:
    """Return the angular rate of six-axis samples."""
    if samples.angular_rate_rad_s is None:
        raise ValueError("the samples have no angular rate")
    return samples.angular_rate_rad_s


def _seconds(run: Callable[[], object]) -> float:
    """Return the processor time of one run in seconds."""
    start = time.process_time()
    run()
    return time.process_time() - start


@click.command()
@click.option("--minutes", default="15,30,60", help="Lengths to measure.")
@click.option("--rate", default=200.0, help="Sampling rate in Hz.")
@click.option("--repeats", default=3, help="How often each is done; the least counts.")
@click.option("--live/--no-live", default=True, help="Whether the live path is measured.")
@click.option("--seed", default=77, help="Seed of the made playing.")
def main(minutes: str, rate: float, repeats: int, live: bool, seed: int) -> None:
    """Print what the analysis costs against the bare filter."""
    warm_up()
    costs: list[tuple[str, Cost]] = []
    lengths = [float(text) for text in minutes.split(",")]
    for has_gyroscope in (True, False):
        for has_mounting in (True, False):
            for length in lengths:
                samples, mounting = make_hour(
                    length, rate_hz=rate, seed=seed, has_mounting=has_mounting
                )
                cost = cost_of(
                    samples,
                    mounting,
                    repeats=repeats,
                    is_live=live and has_mounting and length == lengths[-1],
                    has_gyroscope=has_gyroscope,
                )
                axes, cue = 6 if has_gyroscope else 3, "known" if has_mounting else "unknown"
                costs.append((f"{axes}, {cue}", cost))
    console = Console(width=120)
    console.print(table_of(costs))
    console.print(
        f"Wanted: with six axes a ratio of at most {TARGET_RATIO:.0f}, the same seconds a minute "
        f"at every length, and at most {100 * TARGET_LIVE_SHARE:.0f} % of a core live."
    )


if __name__ == "__main__":
    main()
