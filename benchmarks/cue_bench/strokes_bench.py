"""How well strokes are found and measured: ``python -m cue_bench.strokes_bench``.

Made sessions with exact truth, of the closed-form maker and of the physics engine. Each session is
measured with and without its gyroscope, and with the cue's axis given and found. What has to be
reached stands beside what was measured; strokes whose delivery itself left the sensor's range or
fell into a gap are reported apart. ``--broad FOLDER`` adds real hand-held recordings with a
motion-capture reference (see ``broad_bench``).
"""

import dataclasses
import importlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import click
import numpy as np
from rich.console import Console
from rich.table import Table

from cue_bench.broad_bench import broad_table
from cue_bench.maker import SessionTruth, make_strokes
from cue_bench.strokes_score import Case, Pair, Score, aims, pair_up, score, worst_kinds
from cue_sensors.samples import Recording
from cue_signal.analysis import analyse

SLOW_HZ = 150.0
"""Sensors below this are held to the aims for 100 Hz."""


@dataclass(frozen=True)
class Run:
    """All strokes of one session measured one way, and how many were found besides."""

    case: Case
    pairs: list[Pair]
    n_false: int


def make(
    maker: str, n_strokes: int, seed: int, *, rate_hz: float, accel_range_g: float
) -> tuple[Recording, SessionTruth]:
    """Return a session with a gyroscope and a known axis.

    Parameters
    ----------
    maker : str
        ``"rigid"`` for the closed forms, ``"engine"`` for the physics engine (needs mujoco).
    n_strokes, seed, rate_hz, accel_range_g
        As in ``make_strokes``.
    """
    if maker == "engine":
        module = importlib.import_module("cue_bench.maker.engine_session")
        made = module.make_engine_strokes(
            n_strokes, seed, rate_hz=rate_hz, accel_range_g=accel_range_g
        )
    else:
        made = make_strokes(n_strokes, seed, rate_hz=rate_hz, accel_range_g=accel_range_g)
    return made.recording, made.truth


def runs(
    maker: str, n_strokes: int, seed: int, *, rate_hz: float, accel_range_g: float
) -> Iterator[Run]:
    """Yield one made session measured in the four ways; arguments as for ``make``."""
    recording, truth = make(maker, n_strokes, seed, rate_hz=rate_hz, accel_range_g=accel_range_g)
    blind = dataclasses.replace(recording.samples, angular_rate_rad_s=None)
    unknown = dataclasses.replace(recording.mounting, cue_axis=None, cue_axis_sd_rad=None)
    for has_gyroscope, samples in ((True, recording.samples), (False, blind)):
        for is_known, mounting in ((True, recording.mounting), (False, unknown)):
            case = Case(maker, rate_hz, accel_range_g, has_gyroscope, is_known)
            found = analyse(samples, mounting=mounting).strokes
            pairs, left = pair_up(found, truth.strokes, case)
            yield Run(case, pairs, len(left))


def figures(chosen: Sequence[Run]) -> Score:
    """Return the figures of some runs, hard strokes left out."""
    plain = [pair for run in chosen for pair in run.pairs if not pair.is_hard]
    return score(plain, sum(run.n_false for run in chosen))


def reach_table(all_runs: Sequence[Run], maker: str) -> Table:
    """Return what was measured beside what has to be reached, for one maker."""
    table = Table(title=f"Reach, maker: {maker} (measured, aim; ! where missed)")
    classes = [(gyro, slow) for gyro in (True, False) for slow in (False, True)]
    table.add_column("", no_wrap=True)
    for gyro, slow in classes:
        name = "gyroscope" if gyro else "accelerometer alone"
        table.add_column(f"{name}, {'100 Hz' if slow else '200 Hz and up'}", justify="right")
    cells: dict[str, list[str]] = {"strokes": []}
    for place, (gyro, slow) in enumerate(classes):
        chosen = [
            run
            for run in all_runs
            if run.case.maker == maker
            and run.case.has_gyroscope == gyro
            and (run.case.rate_hz < SLOW_HZ) == slow
        ]
        total = figures(chosen)
        cells["strokes"].append(str(total.n_strokes))
        for aim in aims(has_gyroscope=gyro, is_slow=slow):
            row = cells.setdefault(aim.name, [])
            row += ["not asked"] * (place - len(row))
            row.append(_against(aim.value(total), aim.low, aim.high, aim.digits))
    for name, row in cells.items():
        table.add_row(name, *row, *["not asked"] * (len(classes) - len(row)))
    return table


def _against(value: float, low: float, high: float, digits: int) -> str:
    """Return a figure with its aim, marked where it is missed."""
    aim = f"{low:g} to {high:g}" if np.isfinite([low, high]).all() else ""
    aim = aim or (f">= {low:g}" if np.isfinite(low) else f"<= {high:g}")
    mark = "" if low <= value <= high else "! "
    return f"{mark}{value:.{digits}f} ({aim})"


def detail_table(all_runs: Sequence[Run]) -> Table:
    """Return one row for every maker, rate, range, sensor and knowledge of the axis."""
    table = Table(title="Strokes found and measured, against exact truth")
    table.add_column("sensor", no_wrap=True)
    names = ["strokes", "recall", "precision", "speed RMS %", "inside 1 sd %", "sign %"]
    for name in (*names, "inside %", "hit ms", "sideways mm", "backswing mm", "pause ms"):
        table.add_column(name, justify="right")
    for case in dict.fromkeys(run.case for run in all_runs):
        s = figures([run for run in all_runs if run.case == case])
        name = (
            f"{case.maker}, {case.rate_hz:.0f} Hz, {case.accel_range_g:.0f} g, "
            f"{'gyro' if case.has_gyroscope else 'accel alone'}, "
            f"axis {'given' if case.is_axis_known else 'found'}"
        )
        values = (s.recall, s.precision, 100 * s.speed_rms, 100 * s.speed_inside)
        more = (100 * s.sign_right, 100 * s.accel_inside, s.hit_time_ms, s.lateral_rms_mm)
        last = (s.backswing_rms_mm, s.rear_pause_ms)
        digits = (3, 3, 2, 0, 1, 0, 1, 2, 1, 0)
        cells = [f"{v:.{d}f}" for v, d in zip(values + more + last, digits, strict=True)]
        table.add_row(name, str(s.n_strokes), *cells)
    return table


def _words(all_runs: Sequence[Run]) -> Iterator[str]:
    """Yield sentences on what came out worst, and on the strokes reported apart."""
    pairs = [pair for run in all_runs for pair in run.pairs if not pair.is_hard]
    for gyro in (True, False):
        of_sensor = [pair for pair in pairs if pair.case and pair.case.has_gyroscope == gyro]
        yield f"Worst kinds, {'with a gyroscope' if gyro else 'accelerometer alone'}:"
        for name, n, recall, rms in worst_kinds(of_sensor):
            yield f"  {name}: {n} measured, recall {recall:.3f}, speed RMS {100 * rms:.1f} %"
    hard = [pair for run in all_runs for pair in run.pairs if pair.is_hard]
    if hard:
        s = score(hard, 0)
        yield (
            f"Delivery clipped or in a gap: {s.n_strokes} measured, recall {s.recall:.3f}, speed "
            f"RMS {100 * s.speed_rms:.1f} %, {100 * s.speed_inside:.0f} % inside one sd."
        )


@click.command()
@click.option("--makers", default="rigid,engine", help="Makers: rigid, engine.")
@click.option("--rates", default="100,200,416", help="Sensor rates in Hz.")
@click.option("--ranges", default="8,16,200", help="Accelerometer ranges in g.")
@click.option("--seeds", default="901,902", help="Seeds; each rate and range adds its own.")
@click.option("--strokes", default=6, help="Strokes a session; many sensors teach more.")
@click.option(
    "--broad",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Folder with the BROAD trials (Matlab files), not part of this repository.",
)
def main(
    makers: str, rates: str, ranges: str, seeds: str, strokes: int, broad: Path | None
) -> None:
    """Print what was measured beside what has to be reached."""
    console = Console(width=170)
    all_runs: list[Run] = []
    for maker in makers.split(","):
        for i, rate in enumerate(map(float, rates.split(","))):
            for k, accel_range in enumerate(map(float, ranges.split(","))):
                for seed in map(int, seeds.split(",")):
                    # another sensor and player for every session: a sensor's scale error is one
                    own = seed + 1000 * i + 100_000 * k
                    all_runs += runs(maker, strokes, own, rate_hz=rate, accel_range_g=accel_range)
    console.print(detail_table(all_runs))
    for maker in makers.split(","):
        console.print(reach_table(all_runs, maker))
    for line in _words(all_runs):
        console.print(line)
    if broad is None:
        console.print("Real recordings were left out: give their folder with --broad.")
    else:
        console.print(broad_table(broad))


if __name__ == "__main__":
    main()
