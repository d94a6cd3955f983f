"""Commands that keep the log in order: analysing anew, backup and restore."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from rich.table import Table

    from cue_practice.reanalyse import Change, OnProgress, Reanalysis

MM_PER_M = 1000.0
_SHOWN = {
    "tip_speed_m_s": ("pace, m/s", 1.0, 3),
    "tip_speed_sd_m_s": ("its uncertainty, m/s", 1.0, 3),
    "accel_at_hit_m_s2": ("last 20 ms, m/s²", 1.0, 2),
    "backswing_m": ("backswing, mm", MM_PER_M, 1),
    "rear_pause_s": ("rear pause, s", 1.0, 3),
    "tip_lateral_m": ("tip off line, mm", MM_PER_M, 2),
}
"""Measures by name: words, factor, decimals."""


@click.command()
@click.option("--all", "is_all", is_flag=True, help="Recordings that are up to date too.")
@click.option("--dry-run", is_flag=True, help="Only say what would move.")
@click.option(
    "--cores",
    type=click.IntRange(min=1),
    default=None,
    help="Processes to use; one a core by default.",
)
@click.option(
    "--dask",
    "dask_address",
    metavar="ADDRESS",
    help="Use the Dask cluster whose scheduler is at ADDRESS, like tcp://host:8786.",
)
def reanalyse(is_all: bool, dry_run: bool, cores: int | None, dask_address: str | None) -> None:
    """Bring strokes of older recordings up to date, and say what moved.

    Recordings and tapped results are never touched, and the older measures are kept.
    """
    from cue_practice.log import PracticeLog
    from cue_signal.stroke import METHOD_VERSION

    with PracticeLog() as log:
        if not log.outdated_recordings(is_all=is_all):
            click.echo(f"Every stroke is up to date with method {METHOD_VERSION}.")
            return
        from cue_practice.reanalyse import reanalyse as run  # heavy

        show, close = _progress()
        try:
            found = run(
                log,
                is_all=is_all,
                is_dry_run=dry_run,
                n_cores=cores,
                dask_address=dask_address,
                on_progress=show,
            )
        finally:
            close()
    _say(found)
    if found.problems:
        sys.exit(1)


def _progress() -> "tuple[OnProgress, Callable[[], None]]":
    """Return what shows progress on a terminal, and what ends it."""
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    shown = Console(stderr=True)
    bar = Progress(
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=shown,
        disable=not shown.is_terminal,
        transient=True,
    )
    task = bar.add_task("analysing", total=None)
    bar.start()

    def show(n_done: int, n_total: int, name: str) -> None:
        bar.update(task, completed=n_done, total=n_total, description=name)

    return show, bar.stop


def _say(found: "Reanalysis") -> None:
    """Print what became of the archive."""
    from cue_dashboard.printed import console

    for problem in found.problems:
        click.echo(f"not analysed: {problem}", err=True)
    if not found.renewals:
        return
    click.echo(_head(found))
    if found.moved:
        console().print(_moved_table(found))
    for before, after in (pairs := found.trend_changes()):
        click.echo(f"Into the ball, {before} before, {after} now: {pairs[before, after]} strokes.")
    _say_new_and_lost(found)


def _head(found: "Reanalysis") -> str:
    """Return how much was analysed."""
    n = len(found.renewals)
    would = "would be brought" if found.is_dry_run else "brought"
    recordings = "1 recording" if n == 1 else f"{n} recordings"
    return f"{recordings} {would} to method {found.method_version}: {len(found.moved)} strokes."


def _say_new_and_lost(found: "Reanalysis") -> None:
    """Print which strokes are new and which are no longer found."""
    for renewal in found.renewals:
        for stroke, shot_id in renewal.new:
            where = "no shot yet" if shot_id is None else f"shot {shot_id}, waiting for its result"
            at = f"{renewal.recording.name} at {stroke.impact_time_s:.1f} s"
            click.echo(f"New: {at}, {stroke.tip_speed_m_s:.2f} m/s ({where}).")
    if found.lost_kept:
        click.echo(f"No longer found, kept with their results: shots {_list(found.lost_kept)}.")
    if found.lost_discarded:
        how = "would be discarded" if found.is_dry_run else "discarded (undo brings them back)"
        click.echo(
            f"No longer found, without a result, {how}: shots {_list(found.lost_discarded)}."
        )


def _list(numbers: list[int]) -> str:
    """Return numbers in a row."""
    return ", ".join(str(number) for number in numbers)


def _moved_table(found: "Reanalysis") -> "Table":
    """Return how far the measures moved."""
    from rich import box
    from rich.table import Table

    table = Table(title="What moved", box=box.SIMPLE_HEAD, title_justify="left")
    table.add_column("measure")
    for name in ("strokes", "moved", "median change", "median size", "largest", "in shot"):
        table.add_column(name, justify="right")
    for change in found.changes():
        if change.n_strokes:
            table.add_row(*_moved_row(change))
    return table


def _moved_row(change: "Change") -> list[str]:
    """Return one row of the table."""
    words, factor, decimals = _SHOWN[change.name]

    def number(value: float | None, sign: str) -> str:
        return "" if value is None else f"{factor * value:{sign}.{decimals}f}"

    return [
        words,
        str(change.n_strokes),
        str(change.n_moved),
        number(change.median, "+"),
        number(change.median_size, ""),
        number(change.largest, "+"),
        "" if change.largest_shot_id is None else str(change.largest_shot_id),
    ]


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--overwrite", is_flag=True, help="Replace a file that is there.")
def backup(file: Path, overwrite: bool) -> None:
    """Write everything in the practice log to the JSON file FILE.

    Recordings are files of their own and not in it: copy their folder as well.
    """
    from cue_practice.backup import write_backup
    from cue_practice.errors import PracticeError
    from cue_practice.log import PracticeLog

    if file.exists() and not overwrite:
        raise PracticeError(
            f"There is already a file {file}. Choose another name, or say --overwrite."
        )
    with PracticeLog() as log:
        n_rows = write_backup(log, file)
        n_shots = log.count_shots(include_discarded=True)
    click.echo(f"{n_shots} shots, {n_rows} entries in all, written to {file}.")


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
def restore(file: Path) -> None:
    """Read the backup FILE into your practice log, which must be empty."""
    from cue_practice.backup import restore_backup
    from cue_practice.log import PracticeLog

    with PracticeLog() as log:
        n_rows = restore_backup(log, file)
        n_shots = log.count_shots(include_discarded=True)
        click.echo(f"{n_shots} shots, {n_rows} entries in all, read into {log.place}.")
