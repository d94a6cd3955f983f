"""The command that says what a table's cloth, cushions and a player's tip are like."""

from typing import TYPE_CHECKING

import click

from cue_dashboard.cloth_kept import SPOKEN, keep
from cue_dashboard.units import MM_PER_M

if TYPE_CHECKING:
    from cue_practice.log import PracticeLog
    from cue_practice.views import Table
    from cue_table.fit import TableFit
    from cue_table.results import ShotResult

_G_PER_KG = 1000.0


@click.command()
@click.option("--table", "name", help="Use the stops and cushions tapped on this table of the log.")
@click.option(
    "--roll",
    "rolls",
    type=(float, float),
    multiple=True,
    metavar="M S",
    help="A ball rolled gently: metres from a mark to rest, and seconds. May be repeated.",
)
@click.option(
    "--stun",
    "stuns",
    type=(float, float, float),
    multiple=True,
    metavar="M MM M/S",
    help="A full hit that stopped the white dead: free travel in metres, tip below centre in"
    " millimetres, pace in m/s. May be repeated.",
)
@click.option(
    "--cue-mass-g", default=510.0, show_default=True, help="Mass of the cue the pace is of."
)
@click.option(
    "--save", "is_saved", is_flag=True, help="Keep friction and roll with that table of the log."
)
def cloth(
    name: str | None,
    rolls: tuple[tuple[float, float], ...],
    stuns: tuple[tuple[float, float, float], ...],
    cue_mass_g: float,
    is_saved: bool,
) -> None:
    """Say how fast a table is, from two simple tests and from shots in the log.

    Roll a ball gently from a mark and time it to rest; find the pace at which a full hit stops the
    white dead. What the results cannot tell is said, with what would, and is never saved.
    """
    if is_saved and name is None:
        raise click.UsageError("--save needs --table, the table of the log to keep it with.")
    from dataclasses import replace

    from cue_practice.log import PracticeLog
    from cue_table.conditions import DEFAULT_CONDITIONS
    from cue_table.fit import fit_table
    from cue_table.results import RollTest, StunTest

    shots: list[ShotResult] = []
    if name is not None:
        with PracticeLog() as log:
            shots = recorded_on(log, name)
    cue = replace(DEFAULT_CONDITIONS.cue, mass_kg=cue_mass_g / _G_PER_KG)
    roll_tests = [RollTest(*one) for one in rolls]
    stun_tests = [StunTest(way, mm / MM_PER_M, v) for way, mm, v in stuns]
    fit = fit_table(
        shots,
        roll_tests=roll_tests,
        stun_tests=stun_tests,
        conditions=replace(DEFAULT_CONDITIONS, cue=cue),
    )
    n_tests = len(rolls) + len(stuns)
    click.echo(f"From {len(shots)} shots and {n_tests} tests; intervals hold nine times in ten.")
    for line in told(fit):
        click.echo(line)
    if is_saved and name is not None:
        with PracticeLog() as log:
            click.echo(keep(log, _table(log, name), fit))


def recorded_on(log: "PracticeLog", name: str) -> "list[ShotResult]":
    """Return the shots of a table whose stop or cushion was tapped, for the fit.

    Parameters
    ----------
    log : PracticeLog
        The log.
    name : str
        Of the table.

    Raises
    ------
    PracticeError
        If the log has no such table.
    """
    from cue_table.results import ShotResult

    table = _table(log, name)
    found = []
    for series in log.all_series():
        if series.table_id != table.table_id:
            continue
        setup = log.setup(series.setup_id).setup
        for shot in log.shots(series_id=series.series_id):
            if shot.stroke is None or shot.is_discarded:
                continue
            if shot.stop_point_m is None and shot.cushion_point_m is None:
                continue
            found.append(
                ShotResult(
                    setup,
                    shot.stroke.tip_speed_m_s,
                    series.tip_below_centre_m,
                    series.side_m,
                    stop_point_m=shot.stop_point_m,
                    cushion_point_m=shot.cushion_point_m,
                    tip_speed_sd_m_s=shot.stroke.tip_speed_sd_m_s,
                )
            )
    return found


def _table(log: "PracticeLog", name: str) -> "Table":
    """Return the table of the log with a name."""
    from cue_practice.errors import PracticeError

    table = next((one for one in log.tables() if one.name == name), None)
    if table is None:
        names = ", ".join(f"'{one.name}'" for one in log.tables()) or "none yet"
        raise PracticeError(f"There is no table '{name}' in the log. Its tables: {names}.")
    return table


def told(fit: "TableFit") -> list[str]:
    """Return the estimates one a line, then what cannot be told.

    Parameters
    ----------
    fit : TableFit
        As `cue_table.fit.fit_table` gives it.
    """
    lines = [
        f"  {SPOKEN[one.name]:<20} {one.value:.4f}   between {one.low:.4f} and {one.high:.4f}"
        + ("" if one.is_told else "   (hardly more than was known before)")
        for one in fit.estimates
    ]
    return lines + list(fit.words)
