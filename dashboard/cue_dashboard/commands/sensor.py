"""Commands about sensors: what is near, recording one, playing a recording as one."""

import asyncio
import contextlib
import signal
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

if TYPE_CHECKING:
    from cue_sensors.ble_scan import FoundSensor
    from cue_sensors.rig.played import PlayedSensor

KINDS: Final = ("movesense", "stroke_stream", "thingy52", "wt901")
"""Keys of the decoder registry; a test holds them to it."""


@click.command()
@click.option(
    "--seconds",
    type=click.FloatRange(0.2, 120),
    default=5.0,
    show_default=True,
    help="How long to listen.",
)
def scan(seconds: float) -> None:
    """List the Bluetooth sensors near, the strongest first."""
    from cue_dashboard.printed import console
    from cue_sensors.ble_scan import scan as listen

    found = listen(seconds=seconds)
    if not found:
        click.echo(f"Nothing was heard in {seconds:g} s. Wake the sensor, or bring it nearer.")
        return
    console().print(_found_table(found))
    known = [one for one in found if one.kind]
    if known:
        name = known[0].name or known[0].address
        click.echo(f'\nTo record the first of a known kind:\n  stunpace record --sensor "{name}"')
    else:
        click.echo("\nNone of them is of a known kind: " + ", ".join(KINDS) + ".")


@click.command()
@click.option(
    "--sensor", metavar="NAME", help="Its name or address; the nearest known if left out."
)
@click.option("--kind", type=click.Choice(KINDS), help="Its protocol, where scan does not tell.")
@click.option(
    "--rate",
    "rate_hz",
    type=click.FloatRange(1, 8000),
    help="Samples a second to ask for; it takes the next below that it offers.",
)
@click.option(
    "--range",
    "range_g",
    type=click.FloatRange(1, 400),
    help="Accelerometer range to ask for, in g.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="File to write; one named for the time, in this folder, if left out.",
)
@click.option(
    "--seconds",
    type=click.FloatRange(min=0, min_open=True),
    help="Stop after so long; Ctrl-C stops at any time.",
)
@click.option(
    "--wait",
    "wait_s",
    type=click.FloatRange(min=0, min_open=True),
    default=60.0,
    show_default=True,
    help="Give up if no data came in so many seconds.",
)
def record(
    sensor: str | None,
    kind: str | None,
    rate_hz: float | None,
    range_g: float | None,
    out: Path | None,
    seconds: float | None,
    wait_s: float,
) -> None:
    """Record a Bluetooth sensor and show its strokes as they are played.

    Every packet is kept as it came; the file is safe from the moment it is written. A dropped
    connection is found again, and what was missed is a gap.
    """
    from cue_dashboard.recording import Watched, out_path, watch
    from cue_sensors.ble import BleSensor

    path = out_path(out)
    name, kind = _which(sensor, kind)
    source = BleSensor(name, kind=kind, rate_hz=rate_hz, accel_range_g=range_g)
    with _ends_on_signals():
        watch(Watched(source, path, seconds=seconds, wait_s=wait_s))


@click.command()
@click.argument(
    "files", nargs=-1, required=True, metavar="FILE...", type=click.Path(path_type=Path)
)
@click.option(
    "--speed",
    type=click.FloatRange(0.05, 100),
    default=1.0,
    show_default=True,
    help="1 is as it was played.",
)
@click.option("--loop", is_flag=True, help="Begin again at the end.")
@click.option(
    "--bus-folder",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    help="Folder for the bus; the same folder gives the same address.",
)
def rehearse(files: tuple[Path, ...], speed: float, loop: bool, bus_folder: Path | None) -> None:
    """Play the recordings FILE... as Bluetooth sensors, without a radio (Linux only).

    They are found by scan, record and the dashboard in another terminal, if that terminal is told
    of the private bus as this command says.
    """
    from cue_sensors.errors import SensorError
    from cue_sensors.rig.private_bus import private_bus, rig_problem

    problem = rig_problem()
    if problem is not None:
        raise SensorError(problem)
    from cue_sensors.rig.played import PlayedSensor

    sensors = [
        PlayedSensor(file, number=number, speed=speed, loop=loop)
        for number, file in enumerate(files, start=1)
    ]
    with private_bus(folder=bus_folder) as address, _ends_on_signals():
        asyncio.run(_play(sensors, address))


async def _play(sensors: "list[PlayedSensor]", address: str) -> None:
    """Play until interrupted, and say what happens."""
    from cue_sensors.rig.played import playing
    from cue_sensors.rig.private_bus import BUS_VARIABLE

    said: dict[int, str] = {}
    async with playing(sensors, address):
        for one in sensors:
            click.echo(f"{one.device.name} ({one.kind}) waits for a listener.")
        click.echo("In another terminal:")
        click.echo(f"  export {BUS_VARIABLE}={address}")
        click.echo("  stunpace scan")
        click.echo("Ctrl-C ends it.")
        sys.stdout.flush()
        while True:
            await asyncio.sleep(0.2)
            for number, one in enumerate(sensors):
                words = _played_words(one)
                if words and said.get(number) != words:
                    said[number] = words
                    click.echo(words)
                    sys.stdout.flush()


def _played_words(one: "PlayedSensor") -> str:
    """Return what became of a played sensor, empty while nothing did."""
    progress, name = one.progress, one.device.name
    if progress.is_over:
        missed = f", {progress.n_missed} heard by nobody" if progress.n_missed else ""
        return f"{name} has come to its end: {progress.n_sent} packets sent{missed}."
    return f"{name} is listened to." if progress.n_sent else ""


def _which(sensor: str | None, kind: str | None) -> tuple[str | None, str]:
    """Return name and kind of the sensor meant; listen for what is not told."""
    if kind is not None:
        return sensor, kind
    from cue_sensors.ble_scan import scan as listen
    from cue_sensors.errors import SensorError

    click.echo("Listening for sensors.", err=True)
    found = listen(seconds=3.0)
    if sensor is None:
        known = [one for one in found if one.kind]
        if not known:
            raise SensorError(
                f"No sensor of a known kind was heard in 3 s ({len(found)} others were). Wake it, "
                "bring it nearer, or name it with --sensor and --kind."
            )
        return known[0].address, known[0].kind or ""
    for one in found:
        if sensor.lower() in (one.name.lower(), one.address.lower()) and one.kind:
            return one.address, one.kind
    raise SensorError(
        f"{sensor} was not heard in 3 s, or does not say of which kind it is. Wake it and bring it "
        "nearer, or say its kind with --kind."
    )


def _found_table(found: "list[FoundSensor]") -> Any:
    """Return a table with one row for each device."""
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, title="Sensors near", title_justify="left")
    for heading in ("name", "kind", "signal", "address"):
        table.add_column(heading, justify="right" if heading == "signal" else "left")
    for one in found:
        signal_words = f"{one.signal_dbm} dBm" if one.signal_dbm is not None else ""
        table.add_row(one.name or "(no name)", one.kind or "not known", signal_words, one.address)
    return table


@contextlib.contextmanager
def _ends_on_signals() -> Iterator[None]:
    """Have Ctrl-C and a polite request to end stop what runs inside, and go on behind it."""

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, interrupt)
    try:
        yield
    except KeyboardInterrupt:
        click.echo("", err=True)
    finally:
        signal.signal(signal.SIGTERM, before)
