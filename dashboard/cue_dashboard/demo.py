"""The main job on the shipped, invented practice evening, from samples to the right pace."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from cue_dashboard.printed import console, stroke_table
from cue_practice.answer import answer_for, questions
from cue_practice.evening import load_evening
from cue_practice.log import PracticeLog
from cue_recordings import data_folder


def run_demo(folder: Path, *, then: Callable[[PracticeLog], None] | None = None) -> None:
    """Load the shipped evening into a log in a folder, and print its strokes and answers.

    Parameters
    ----------
    folder : Path
        Existing folder for the log, named so that no log of the player's own is ever taken.
    then : callable, optional
        What to do with the log while it is still there, for example serve its pages.
    """
    out = console()
    with PracticeLog(folder / "practice.sqlite") as log:
        with _progress() as on_progress:
            load_evening(log, data_folder(), on_progress=on_progress)
        _print_strokes(log, out)
        _print_answers(log, out)
        if then is not None:
            then(log)


def _print_strokes(log: PracticeLog, out: Console) -> None:
    """Print the strokes of every series of the log."""
    for series in reversed(log.all_series()):  # in the order they were played
        strokes = [s.stroke for s in log.shots(series_id=series.series_id) if s.stroke]
        title = log.series_words(series.series_id)
        out.print(stroke_table(strokes, title=title, width_columns=out.width))
        out.print()


def _print_answers(log: PracticeLog, out: Console) -> None:
    """Print what each set-up and tip height has taught."""
    for question in questions(log):
        answer = answer_for(
            log,
            setup_id=question.setup.setup_id,
            player_id=question.player.player_id,
            tip_below_centre_m=question.tip_below_centre_m,
            side_m=question.side_m,
        )
        out.print(question.words, style="bold")
        for sentence in answer.words:
            out.print(f"  {sentence}")


@contextmanager
def _progress() -> Iterator[Callable[[int, int, str], None]]:
    """Show a progress bar on the error stream and yield the function that moves it."""
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    bar = Progress(*columns, TimeElapsedColumn(), console=Console(stderr=True), transient=True)
    with bar:
        task = bar.add_task("reading the evening", total=None)

        def move(done: int, total: int, words: str) -> None:
            bar.update(task, completed=done, total=total, description=words)

        yield move
