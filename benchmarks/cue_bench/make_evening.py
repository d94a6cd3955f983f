"""Make the shipped practice evening: ``python -m cue_bench.make_evening OUTFOLDER``."""

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import click
import numpy as np

from cue_bench.maker.evening import (
    PLAYERS,
    SERIES,
    SETUPS,
    TABLE,
    TABLE_NAME,
    Series,
    Shot,
    plan_series,
    play_shot,
)
from cue_bench.maker.files import write_session
from cue_bench.maker.session import MadeSession, make_session

SCENARIO = (
    "Invented. Two club players, Wren and Badger, practise position off the side cushion from"
    " three chalk marks on a slowish table: they hold the tip's height and free the pace. Badger"
    " tends to slow into soft shots. Pauses between the strokes are kept short (8 to 12 s) so that"
    " the files stay small."
)
UNTAPPED = {"pale-low": {5}, "far-badger": {9}, "short-badger": {13}}
"""Strokes whose result was not tapped, counted from 0."""

CUSHION_TAP_SPREAD_M, STOP_TAP_SPREAD_M = 0.015, 0.025
"""How exactly a finger finds the spot on a small plan."""


@click.command()
@click.argument("outfolder", type=click.Path(file_okay=False, path_type=Path))
def main(outfolder: Path) -> None:
    """Write the recordings, their truths and evening.json into OUTFOLDER, which must be empty."""
    if outfolder.exists() and any(outfolder.iterdir()):
        raise click.UsageError(f"'{outfolder}' is not empty. Name a new or an empty folder.")
    outfolder.mkdir(parents=True, exist_ok=True)
    taps: list[dict[str, Any]] = []
    entries: list[dict[str, Any]] = []
    for series in SERIES:
        made, shots = make_series(series)
        write_session(made, outfolder / series.file)
        taps += _taps(series, made, shots)
        entries.append(_series_entry(series, made))
        click.echo(f"{series.file}: {len(shots)} strokes")
    text = json.dumps(_evening(entries, taps), indent=1, ensure_ascii=False)
    (outfolder / "evening.json").write_text(text + "\n", encoding="utf-8")


def make_series(series: Series) -> tuple[MadeSession, list[Shot]]:
    """Return the session of one series and the shots in it."""
    settings, shots = plan_series(series)
    return make_session(settings, series.seed), shots


def _evening(entries: list[dict[str, Any]], taps: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the whole evening as one JSON object."""
    return {
        "format": "stunpace-evening/1",
        "invented": True,
        "scenario": SCENARIO,
        "players": [{"nickname": player.nickname} for player in PLAYERS],
        "cues": [
            {
                "name": player.cue_name,
                "player": player.nickname,
                "mass_kg": player.cue.mass_kg,
                "length_m": player.cue.length_m,
                "tip_width_m": 2 * player.cue.tip_radius_m,
            }
            for player in PLAYERS
        ],
        "tables": [{"name": TABLE_NAME, "length_m": TABLE.length_m, "width_m": TABLE.width_m}],
        "setups": [
            {
                "name": setup.name,
                "table": TABLE_NAME,
                "white_m": setup.white_m,
                "object_ball_m": setup.object_ball_m,
                "pocket": setup.pocket,
                "next_ball_m": setup.next_ball_m,
                "landing_area_m": setup.landing_area_m,
            }
            for setup in SETUPS.values()
        ],
        "series": entries,
        "taps": taps,
    }


def _series_entry(series: Series, made: MadeSession) -> dict[str, Any]:
    """Return what evening.json says of one series."""
    span = timedelta(seconds=round(float(made.recording.samples.time_s[-1])) + 10)
    return {
        "key": series.key,
        "player": series.player.nickname,
        "cue": series.player.cue_name,
        "table": TABLE_NAME,
        "setup": SETUPS[series.setup].name,
        "recording": series.file,
        "tip_below_centre_m": series.below_centre_m,
        "side_m": 0.0,
        "called_pace_m_s": None,
        "started_utc": series.start_utc.isoformat(),
        "ended_utc": (series.start_utc + span).isoformat(),
    }


def _taps(series: Series, made: MadeSession, shots: list[Shot]) -> list[dict[str, Any]]:
    """Return the results as tapped: grades and points of the run that the physics gives."""
    rng = np.random.default_rng([series.seed, 7])
    taps = []
    strokes = zip(shots, made.marks, made.truth.strokes, strict=True)
    for k, (shot, marks, truth) in enumerate(strokes):
        run, grade = play_shot(series, shot, truth.tip_speed_m_s)
        wait = float(rng.uniform(4.0, 5.5))
        noise = rng.standard_normal((2, 2))
        has_points = rng.random() < 0.8
        if k in UNTAPPED.get(series.key, set()):
            continue
        cushion = run.cushion_points_m[0] if len(run.cushion_points_m) else None
        stop = run.stop_m if run.potted_in is None else None
        tapped = series.start_utc + timedelta(seconds=marks.touch_s + wait)
        taps.append(
            {
                "tapped_utc": tapped.isoformat(timespec="milliseconds"),
                "series": series.key,
                "grade": grade,
                "is_potted": run.is_object_ball_potted,
                "cushion_point_m": _tapped(cushion, has_points, noise[0], CUSHION_TAP_SPREAD_M),
                "stop_point_m": _tapped(stop, has_points, noise[1], STOP_TAP_SPREAD_M),
                "note": "" if run.potted_in is None else "In-off.",
            }
        )
    return taps


def _tapped(
    point: np.ndarray | None, is_tapped: bool, noise: np.ndarray, spread_m: float
) -> list[float] | None:
    """Return where a finger put a point on the plan, kept on the table."""
    if point is None or not is_tapped:
        return None
    edge = 0.0263
    limits = [TABLE.width_m - edge, TABLE.length_m - edge]
    return [round(float(v), 3) for v in np.clip(point + spread_m * noise, edge, limits)]


if __name__ == "__main__":
    main()
