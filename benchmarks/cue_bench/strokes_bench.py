"""How well strokes are found and measured: ``python -m cue_bench.strokes_bench``.

Made sessions with exact truth, by rate, sensor and knowledge of the cue's axis. Strokes whose
delivery itself left the sensor's range or fell into a gap are reported apart. ``--broad FOLDER``
adds real hand-held recordings with a motion-capture reference (see ``broad_bench``).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import click
import numpy as np
from rich.console import Console
from rich.table import Table

from cue_bench.broad_bench import broad_table
from cue_bench.maker import StrokeTruth, make_strokes
from cue_signal.analysis import analyse
from cue_signal.stroke import Stroke

MATCH_S = 0.1
"""A stroke found within this of a true one is that one."""
PLAIN_ACCEL_M_S2 = 1.0
"""The sign of the acceleration counts where its truth is beyond this."""


@dataclass(frozen=True)
class Pair:
    """One true stroke and what was found of it."""

    truth: StrokeTruth
    found: Stroke | None

    @property
    def is_hard(self) -> bool:
        """Return whether the delivery itself was clipped or fell into a gap."""
        return self.truth.is_delivery_clipped or self.truth.has_gap_in_delivery


@dataclass(frozen=True)
class Score:
    """Figures of one row of the table; NaN where nothing was measured."""

    n_strokes: int
    recall: float
    precision: float
    speed_rms: float
    speed_inside: float
    sign_right: float
    accel_inside: float
    hit_time_ms: float
    lateral_rms_mm: float
    lateral_inside: float
    backswing_rms_mm: float
    rear_pause_ms: float


def pair_up(
    strokes: Sequence[Stroke], truth: Sequence[StrokeTruth]
) -> tuple[list[Pair], list[Stroke]]:
    """Return every true stroke with the nearest found one, and the found ones left over.

    Parameters
    ----------
    strokes : sequence of Stroke
        Found.
    truth : sequence of StrokeTruth
        What happened.
    """
    left = list(strokes)
    pairs: list[Pair] = []
    for true in truth:
        near = [s for s in left if abs(s.impact_time_s - true.impact_time_s) < MATCH_S]
        best = min(near, key=lambda s: abs(s.impact_time_s - true.impact_time_s), default=None)
        if best is not None:
            left.remove(best)
        pairs.append(Pair(true, best))
    return pairs, left


def score(pairs: Sequence[Pair], n_false: int) -> Score:
    """Return the figures of some strokes.

    Parameters
    ----------
    pairs : sequence of Pair
        True strokes with what was found.
    n_false : int
        Number found where there was none.
    """
    found = [(p.truth, p.found) for p in pairs if p.found is not None]
    speed = np.array([s.tip_speed_m_s - t.tip_speed_m_s for t, s in found])
    accel = np.array([s.accel_at_hit_m_s2 - t.accel_at_hit_m_s2 for t, s in found])
    plain = [(t, s) for t, s in found if abs(t.accel_at_hit_m_s2) > PLAIN_ACCEL_M_S2]
    aside = [
        (1000.0 * (s.tip_lateral_m - t.tip_lateral_m), 1000.0 * s.tip_lateral_sd_m)
        for t, s in found
        if s.tip_lateral_m is not None and s.tip_lateral_sd_m is not None
    ]
    lateral = np.array([error for error, _ in aside])
    return Score(
        n_strokes=len(pairs),
        recall=len(found) / len(pairs) if pairs else np.nan,
        precision=len(found) / (len(found) + n_false) if found else np.nan,
        speed_rms=_rms(speed / np.array([t.tip_speed_m_s for t, _ in found])),
        speed_inside=_inside(speed, np.array([s.tip_speed_sd_m_s for _, s in found])),
        sign_right=_mean([t.accel_at_hit_m_s2 * s.accel_at_hit_m_s2 > 0.0 for t, s in plain]),
        accel_inside=_inside(accel, np.array([s.accel_at_hit_sd_m_s2 for _, s in found])),
        hit_time_ms=1000.0 * _rms(np.array([s.impact_time_s - t.impact_time_s for t, s in found])),
        lateral_rms_mm=_rms(lateral),
        lateral_inside=_inside(lateral, np.array([sd for _, sd in aside])),
        backswing_rms_mm=1000.0 * _rms(np.array([s.backswing_m - t.backswing_m for t, s in found])),
        rear_pause_ms=1000.0 * _rms(np.array([s.rear_pause_s - t.rear_pause_s for t, s in found])),
    )


def run(
    rate_hz: float,
    *,
    has_gyroscope: bool,
    is_axis_known: bool,
    accel_range_g: float,
    n_strokes: int,
    seeds: Sequence[int],
) -> tuple[list[Pair], int]:
    """Return all pairs of some made sessions, and the number of false strokes."""
    pairs: list[Pair] = []
    n_false = 0
    for seed in seeds:
        session = make_strokes(
            n_strokes,
            seed,
            rate_hz=rate_hz,
            has_gyroscope=has_gyroscope,
            known_mounting=is_axis_known,
            accel_range_g=accel_range_g,
        )
        more, left = pair_up(analyse(session.recording).strokes, session.truth.strokes)
        pairs += more
        n_false += len(left)
    return pairs, n_false


def table_of(scores: Sequence[tuple[str, Score]]) -> Table:
    """Return the scores as a table to print."""
    table = Table(title="Strokes found and measured, against exact truth")
    for name in (
        "sensor",
        "strokes",
        "recall",
        "precision",
        "speed RMS %",
        "inside 1 sd %",
        "sign %",
        "inside %",
        "hit ms",
        "sideways mm",
        "inside %",
        "backswing mm",
        "pause ms",
    ):
        table.add_column(
            name, justify="left" if name == "sensor" else "right", no_wrap=name == "sensor"
        )
    for name, s in scores:
        table.add_row(
            name,
            str(s.n_strokes),
            f"{s.recall:.3f}",
            f"{s.precision:.3f}",
            f"{100 * s.speed_rms:.2f}",
            f"{100 * s.speed_inside:.0f}",
            f"{100 * s.sign_right:.1f}",
            f"{100 * s.accel_inside:.0f}",
            f"{s.hit_time_ms:.1f}",
            f"{s.lateral_rms_mm:.2f}",
            f"{100 * s.lateral_inside:.0f}",
            f"{s.backswing_rms_mm:.0f}",
            f"{s.rear_pause_ms:.0f}",
        )
    return table


def _rms(values: np.ndarray) -> float:
    """Return the root mean square, NaN for nothing."""
    return float(np.sqrt(np.mean(values**2))) if len(values) else float("nan")


def _mean(values: Sequence[bool]) -> float:
    """Return the share that is true, NaN for nothing."""
    return float(np.mean(values)) if len(values) else float("nan")


def _inside(error: np.ndarray, sd: np.ndarray) -> float:
    """Return the share of errors within one standard uncertainty."""
    return float(np.mean(np.abs(error) < sd)) if len(error) else float("nan")


@click.command()
@click.option("--rates", default="50,100,200,400,1000", help="Sensor rates in Hz.")
@click.option("--ranges", default="16", help="Accelerometer ranges in g.")
@click.option("--seeds", default="901,902", help="Seeds of the made sessions.")
@click.option("--strokes", default=24, help="Strokes a session.")
@click.option(
    "--broad",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Folder with the BROAD trials (Matlab files), not part of this repository.",
)
def main(rates: str, ranges: str, seeds: str, strokes: int, broad: Path | None) -> None:
    """Print the table of strokes found and measured."""
    console = Console(width=170)
    scores: list[tuple[str, Score]] = []
    apart: list[Pair] = []
    for rate in map(float, rates.split(",")):
        for has_gyroscope in (True, False):
            for is_axis_known in (True, False):
                for accel_range in map(float, ranges.split(",")):
                    pairs, n_false = run(
                        rate,
                        has_gyroscope=has_gyroscope,
                        is_axis_known=is_axis_known,
                        accel_range_g=accel_range,
                        n_strokes=strokes,
                        seeds=[int(seed) for seed in seeds.split(",")],
                    )
                    name = (
                        f"{rate:.0f} Hz, {accel_range:.0f} g, "
                        f"{'gyro' if has_gyroscope else 'accel alone'}, "
                        f"axis {'known' if is_axis_known else 'unknown'}"
                    )
                    apart += [pair for pair in pairs if pair.is_hard]
                    plain = [pair for pair in pairs if not pair.is_hard]
                    scores.append((name, score(plain, n_false)))
    if apart:
        scores.append(("delivery clipped or in a gap, all of the above", score(apart, 0)))
    console.print(table_of(scores))
    if broad is None:
        console.print("Real recordings were left out: give their folder with --broad.")
    else:
        console.print(broad_table(broad))


if __name__ == "__main__":
    main()
