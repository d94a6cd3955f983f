"""What is taken for a stroke and is none: ``python -m cue_bench.distractors_bench``.

Made sessions that hold strokes and one kind of scene that is none, so that each kind's false
alarms are counted by themselves; at two ranges, the narrower of which the knocks leave. A last row
has no such scene, but lost notifications: strokes that meet a gap, and how many of them say so.
"""

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass

import click
import numpy as np
from rich.console import Console
from rich.table import Table

from cue_bench.maker import MadeSession, make_session
from cue_bench.maker.distractors import DISTRACTOR_KINDS
from cue_bench.maker.draw import draw_session
from cue_bench.maker.settings import Distractor, DistractorKind, Scene
from cue_bench.strokes_score import Pair, pair_up
from cue_signal.analysis import analyse
from cue_signal.stroke import StrokeFlag

SCENES_A_STROKE = 3
SIZES = (0.6, 1.3)
LOST_SHARE = 0.03


@dataclass(frozen=True)
class Count:
    """What one session gave, measured one way."""

    pairs: list[Pair]
    n_scenes: int
    n_false: int


def session_of(
    kind: DistractorKind | None, n_strokes: int, seed: int, *, rate_hz: float, accel_range_g: float
) -> MadeSession:
    """Return a session of strokes among scenes of one kind, or with lost notifications.

    Parameters
    ----------
    kind : str or None
        Kind of the scenes; None for none, and notifications lost instead.
    n_strokes, seed : int
        Strokes, each followed by SCENES_A_STROKE scenes; seed of everything random.
    rate_hz, accel_range_g : float
        The sensor's.
    """
    drawn = draw_session(
        n_strokes,
        seed,
        rate_hz=rate_hz,
        accel_range_g=accel_range_g,
        distractors=False,
        lost_share=0.0 if kind else LOST_SHARE,
    )
    rng = np.random.default_rng([seed, 1])
    scenes: list[Scene] = []
    for stroke in drawn.scenes:
        scenes.append(stroke)
        if kind is not None:
            sizes = rng.uniform(*SIZES, SCENES_A_STROKE).tolist()
            scenes += [Distractor(kind, size) for size in sizes]
    return make_session(dataclasses.replace(drawn, scenes=tuple(scenes)), seed)


def counts(session: MadeSession) -> Iterator[tuple[str, Count]]:
    """Yield one session measured with and without gyroscope, its axis given and found."""
    recording = session.recording
    blind = dataclasses.replace(recording.samples, angular_rate_rad_s=None)
    unknown = dataclasses.replace(recording.mounting, cue_axis=None, cue_axis_sd_rad=None)
    for sensor, samples in (("gyro", recording.samples), ("accel", blind)):
        for axis, mounting in (("given", recording.mounting), ("found", unknown)):
            found = analyse(samples, mounting=mounting).strokes
            pairs, left = pair_up(found, session.truth.strokes)
            yield f"{sensor}, {axis}", Count(pairs, len(session.truth.distractors), len(left))


def _row(of_way: list[Count]) -> str:
    """Return false alarms over scenes, and strokes found over strokes."""
    pairs = [pair for count in of_way for pair in count.pairs]
    n_found = sum(pair.found is not None for pair in pairs)
    n_false, n_scenes = sum(c.n_false for c in of_way), sum(c.n_scenes for c in of_way)
    text = f"{n_false} in {n_scenes}; {n_found} of {len(pairs)}"
    cut = [pair.found for pair in pairs if pair.truth.has_gap and pair.found is not None]
    if cut:
        n_told = sum(StrokeFlag.GAP in stroke.flags for stroke in cut)
        text += f"; {n_told} of {len(cut)} gaps told"
    return text


@click.command()
@click.option("--rates", default="100,200", help="Sensor rates in Hz.")
@click.option("--ranges", default="8,16", help="Accelerometer ranges in g.")
@click.option("--seed", default=905, help="Each kind, rate and range adds its own.")
@click.option("--strokes", default=5, help="Strokes a session; three scenes follow each.")
def main(rates: str, ranges: str, seed: int, strokes: int) -> None:
    """Print false alarms over scenes, and strokes found, one kind of scene at a time."""
    kinds: list[DistractorKind | None] = [*DISTRACTOR_KINDS, None]
    table = Table(title="False alarms in scenes; strokes found among them")
    table.add_column("kind, range", no_wrap=True)
    ways = [f"{sensor}, {axis}" for sensor in ("gyro", "accel") for axis in ("given", "found")]
    for way in ways:
        table.add_column(way, justify="right")
    for k, kind in enumerate(kinds):
        for g, accel_range in enumerate(map(float, ranges.split(","))):
            by_way: dict[str, list[Count]] = {way: [] for way in ways}
            for i, rate in enumerate(map(float, rates.split(","))):
                own = seed + 100 * k + 1000 * i + 100_000 * g
                session = session_of(kind, strokes, own, rate_hz=rate, accel_range_g=accel_range)
                for way, count in counts(session):
                    by_way[way].append(count)
            name = f"{kind or 'lost notifications'}, {accel_range:.0f} g"
            table.add_row(name, *(_row(by_way[way]) for way in ways))
    Console(width=150).print(table)


if __name__ == "__main__":
    main()
