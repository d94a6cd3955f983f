"""How well a series teaches the right pace: ``python -m cue_bench.pace_bench``.

Simulated players with known truth. Coverage of the intervals; error of the best pace against a
plain maximum-likelihood ordered fit (statsmodels) and against the mean of the right ones; the
large-sample limit against statsmodels; posterior and next shot against a published implementation
of the adaptive method (Watson 2017; package questplus, of the extra "bench"); the band's edges
against psychometric functions (package psignifit, of the same extra); time of a refit as a ratio.
All from one seed; ``--part`` runs some of it.
"""

import click
from rich.console import Console
from rich.table import Table

from cue_bench import psychometric_peer
from cue_bench.pace_measures import (
    Coverage,
    Errors,
    NextShot,
    coverage,
    errors,
    large_sample,
    learning,
    next_shot,
    refit_ms,
)

PARTS = ("coverage", "errors", "large", "edges", "next", "learning", "times")


@click.command()
@click.option("--series", "n_series", default=2000, help="Players for the coverage.")
@click.option("--players", "n_players", default=400, help="Players for the errors.")
@click.option("--learners", "n_learners", default=60, help="Players for the choice of paces.")
@click.option("--cases", "n_cases", default=12, help="Series for the published adaptive method.")
@click.option("--seed", default=1, help="Of everything.")
@click.option("--part", "parts", multiple=True, type=click.Choice(PARTS), help="All if left out.")
def main(
    n_series: int, n_players: int, n_learners: int, n_cases: int, seed: int, parts: tuple[str, ...]
) -> None:
    """Print every table, or some."""
    out = Console(width=110)
    for part in parts or PARTS:
        if part == "coverage":
            cases = ((5, 0), (10, 0), (30, 0), (10, 10), (30, 30), (60, 60))
            _print_coverage(out, [coverage(n_series, *case, seed) for case in cases])
        elif part == "errors":
            _print_errors(out, [errors(n_players, n, seed) for n in (10, 30, 300)])
        elif part == "large":
            _print_large(out, large_sample(20_000, seed))
        elif part == "edges":
            _print_edges(out, seed)
        elif part == "next":
            _print_next_shot(out, next_shot(n_cases, seed))
        elif part == "learning":
            _print_learning(out, learning(n_learners, 12, seed))
        else:
            _print_times(out, [(n, *refit_ms(1000, 7, n_tapped=n)) for n in (0, 1000)])


def _print_large(out: Console, found: list[tuple[str, float, float]]) -> None:
    """Print the large-sample limit."""
    _print(
        out,
        "20,000 shots, neither prior nor lapses",
        ("parameter", "ours", "statsmodels"),
        [(name, f"{ours:.4f}", f"{peer:.4f}") for name, ours, peer in found],
    )


def _print_edges(out: Console, seed: int) -> None:
    """Print the band's edges beside psychometric functions."""
    if not psychometric_peer.is_there():
        out.print("Psychometric functions were left out: pip install -e '.[bench]'.")
        return
    _print(
        out,
        "Edges of the band, log m/s, beside psychometric functions",
        ("shots", "edge", "truth", "ours", "psignifit"),
        [
            (
                n,
                one.name,
                f"{one.truth:.4f}",
                f"{one.ours:.4f} \u00b1 {one.ours_sd:.4f}",
                f"{one.peer:.4f} \u00b1 {one.peer_sd:.4f}",
            )
            for n in (130, 1300, 13_000)
            for one in psychometric_peer.edges(n, seed)
        ],
    )


def _print_learning(out: Console, found: dict[str, float]) -> None:
    """Print what shots chosen in four ways teach."""
    _print(
        out,
        "Median error of the best pace after 12 shots chosen one by one, in %",
        ("paces", "error"),
        [(way, f"{off:.2f}") for way, off in found.items()],
    )


def _print_coverage(out: Console, found: list[Coverage]) -> None:
    """Print how often intervals held the truth."""
    _print(
        out,
        "Intervals of 90 % that held the truth, in %",
        ("shots", "places tapped", "middle of the band", "scatter", "chance at 2 m/s"),
        [
            (one.n_shots, one.n_tapped, *map(_per_cent, (one.centre, one.scatter, one.chance)))
            for one in found
        ],
    )


def _per_cent(share: float) -> str:
    """Return a share in per cent."""
    return f"{100 * share:.1f}"


def _print_errors(out: Console, found: list[Errors]) -> None:
    """Print how far off three ways of finding the best pace are."""
    _print(
        out,
        "Median error of the best pace, in %",
        ("shots", "ours", "ordered fit, ML", "mean of the right ones", "ML gave none"),
        [
            (
                one.n_shots,
                f"{one.ours:.2f}",
                f"{one.plain:.2f}",
                f"{one.mean_of_right:.2f}",
                f"{100 * one.plain_failed:.0f} %",
            )
            for one in found
        ],
    )


def _print_next_shot(out: Console, found: NextShot | None) -> None:
    """Print how the next shot compares with the published method's."""
    if found is None:
        out.print("The published adaptive method was left out: pip install -e '.[bench]'.")
        return
    _print(
        out,
        "Against a published adaptive method, same model and shots",
        ("cases", "means apart, at most", "our next shot teaches", "one at random"),
        [
            (
                found.n_cases,
                f"{found.centre_apart_sd:.3f} sd",
                f"{100 * found.gain_share:.1f} %",
                f"{100 * found.gain_of_random:.0f} %",
            )
        ],
    )


def _print_times(out: Console, found: list[tuple[int, float, float, float]]) -> None:
    """Print how long a refit takes."""
    _print(
        out,
        "1,000 shots refitted, in ms",
        ("places tapped", "whole answer", "fit alone", "statsmodels", "answer / statsmodels"),
        [
            (n, f"{answer:.0f}", f"{fitted:.0f}", f"{peer:.0f}", f"{answer / peer:.2f}")
            for n, answer, fitted, peer in found
        ],
    )


def _print(
    out: Console, title: str, names: tuple[str, ...], rows: list[tuple[object, ...]]
) -> None:
    """Print one table."""
    table = Table(title=title)
    for name in names:
        table.add_column(name, justify="right")
    for row in rows:
        table.add_row(*map(str, row))
    out.print(table)


if __name__ == "__main__":
    main()
