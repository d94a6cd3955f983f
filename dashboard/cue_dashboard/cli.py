"""The command line: strokes of a file, the demo, the pages.

Heavy imports stay inside the commands, so that ``--help`` is instant.
"""

import contextlib
import json
import os
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cue_dashboard.commands import calibrate, cloth, export, keep, sensor
from cue_dashboard.errors import DashboardError, PortBusyError
from cue_practice.errors import PracticeError
from cue_practice.folder import FOLDER_VARIABLE
from cue_sensors.errors import SensorError
from cue_signal.errors import SignalError
from cue_table.errors import TableError

if TYPE_CHECKING:
    from cue_practice.log import PracticeLog
    from cue_sensors.samples import Mounting

OUR_ERRORS = (SensorError, SignalError, TableError, PracticeError, DashboardError)
DEFAULT_PORT = 8050


def _direction(
    ctx: click.Context, param: click.Parameter, value: str | None
) -> tuple[float, float, float] | None:
    """Return "X,Y,Z" as a vector of length 1, or refuse the text."""
    if value is None:
        return None
    try:
        x, y, z = (float(part) for part in value.split(","))
    except ValueError:
        raise click.BadParameter(
            f"{value!r} is not three numbers with commas, like 1,0,0.", ctx, param
        ) from None
    length = (x * x + y * y + z * z) ** 0.5
    if not 0 < length < float("inf"):
        raise click.BadParameter(f"{value!r} has no direction, unlike 1,0,0.", ctx, param)
    return x / length, y / length, z / length


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="stunpace")
def cli() -> None:
    """Measure the pace of your cue and tie it to the stun it gave."""


@cli.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print a JSON list, one object a stroke.")
@click.option(
    "--cue-axis",
    metavar="X,Y,Z",
    callback=_direction,
    help="Direction along the cue towards the tip, in the sensor's own axes.",
)
@click.option(
    "--sensor-from-butt-m",
    type=click.FloatRange(min=0, max=3),
    help="Distance of the sensor from the butt end, in metres.",
)
@click.option(
    "--cue-length-m",
    type=click.FloatRange(min=0, min_open=True, max=3),
    help="Length of the cue, in metres.",
)
def strokes(
    file: Path,
    as_json: bool,
    cue_axis: tuple[float, float, float] | None,
    sensor_from_butt_m: float | None,
    cue_length_m: float | None,
) -> None:
    """Find the strokes in FILE, a recording or a CSV file, and print one row a stroke."""
    from cue_dashboard.printed import console, stroke_json, stroke_table
    from cue_sensors.load import load_recording
    from cue_signal.analysis import analyse

    recording = load_recording(file)
    mounting = _mounting(recording.mounting, cue_axis, sensor_from_butt_m, cue_length_m)
    try:
        found = analyse(recording, mounting=mounting).strokes
    except SignalError as error:
        raise SignalError(f"{file}: {error}") from error
    for problem in recording.problems:
        click.echo(f"note: {problem}", err=True)
    if as_json:
        click.echo(json.dumps([stroke_json(s) for s in found], indent=1, allow_nan=False))
    elif found:
        out = console()
        title = f"{file.name}: {len(found)} strokes"
        out.print(stroke_table(found, title=title, width_columns=out.width))
    else:
        click.echo(f"No stroke found in {file.name}.")


@cli.command()
@click.option("--no-serve", is_flag=True, help="Stop after the answer.")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=None,
    help="Port of the pages; a free one by default.",
)
def demo(no_serve: bool, port: int | None) -> None:
    """Show the main job on an invented practice evening, in a throwaway data folder."""
    from cue_dashboard.demo import run_demo

    with tempfile.TemporaryDirectory(prefix="stunpace-demo-") as folder, _data_folder(folder):
        run_demo(Path(folder), then=None if no_serve else partial(serve_pages, port=port))


@cli.command()
@click.option("--port", type=click.IntRange(0, 65535), default=DEFAULT_PORT, show_default=True)
@click.option(
    "--share",
    is_flag=True,
    help="Also let in a device on your network, by a link that works once.",
)
@click.option(
    "--share-port",
    type=click.IntRange(0, 65535),
    default=0,
    help="Port for the network; a free one by default.",
)
@click.option(
    "--share-plain",
    is_flag=True,
    help="Share without encryption, for a device that refuses the certificate.",
)
def serve(port: int, share: bool, share_port: int, share_plain: bool) -> None:
    """Open your practice log as pages on this computer only (127.0.0.1), unless --share is on."""
    from cue_practice.log import PracticeLog

    with PracticeLog() as log:
        share_at = share_port if share or share_plain else None
        serve_pages(log, port=port, share_port=share_at, is_encrypted=not share_plain)


@cli.command("to-csv")
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("csv", type=click.Path(path_type=Path))
def to_csv(file: Path, csv: Path) -> None:
    """Write the samples of the recording FILE as the CSV file CSV, units in its header."""
    from cue_sensors.csv_file import write_csv
    from cue_sensors.errors import RecordingError
    from cue_sensors.load import load_recording

    recording = load_recording(file)
    if csv.exists():
        raise RecordingError(
            str(csv), "", "There is already a file of that name.", "Choose a name that is free."
        )
    write_csv(recording.samples, csv)
    click.echo(f"{len(recording.samples)} samples written to {csv}.")


cli.add_command(sensor.scan)
cli.add_command(sensor.record)
cli.add_command(sensor.rehearse)
cli.add_command(calibrate.calibrate)
cli.add_command(cloth.cloth)
cli.add_command(export.export)
cli.add_command(keep.reanalyse)
cli.add_command(keep.backup)
cli.add_command(keep.restore)


def serve_pages(
    log: "PracticeLog",
    *,
    port: int | None,
    share_port: int | None = None,
    is_encrypted: bool = True,
) -> None:
    """Serve the pages of a log on 127.0.0.1 until interrupted, and say where.

    Parameters
    ----------
    log : PracticeLog
        An open log.
    port : int or None
        Where to listen; None takes the usual port, or a free one where that is busy.
    share_port : int, optional
        Where to let in devices of the network, 0 for a free port; nobody is let in if not given.
    is_encrypted : bool
        Whether they are let in over TLS.
    """
    from cue_dashboard.app import create_app
    from cue_dashboard.door import door_of
    from cue_dashboard.serve import serve as serve_app

    app = create_app(log)
    if share_port is not None:
        door = door_of(app.server)
        door.open(port=share_port, is_encrypted=is_encrypted)
        _say_link(door.link(), door.fingerprint)
    if port is not None:
        serve_app(app, port=port, on_ready=_say_where)
        return
    try:
        serve_app(app, port=DEFAULT_PORT, on_ready=_say_where)
    except PortBusyError:
        serve_app(app, port=0, on_ready=_say_where)


def _say_where(url: str) -> None:
    """Tell the player where the pages are."""
    click.echo(f"Open {url} in a browser; Ctrl-C ends it.")


def _say_link(link: str, fingerprint: str) -> None:
    """Show the link for one device, as text and as a square for its camera, and how to check it."""
    import io

    import segno

    square = io.StringIO()
    segno.make(link, error="m").terminal(square, compact=True)
    click.echo(f"{square.getvalue()}\nOne device on your network may open {link}")
    if fingerprint:
        click.echo(
            "It will warn once, for no authority vouches for this computer; the SHA-256 "
            f"fingerprint of its certificate is {fingerprint}"
        )


def main() -> None:
    """Run the command line; our own errors become one sentence and exit code 1."""
    try:
        cli(prog_name="stunpace")
    except OUR_ERRORS as error:
        click.echo(str(error), err=True)
        sys.exit(1)
    except BrokenPipeError:
        # the reader, `head` say, has seen enough; keep Python from writing again at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)


def _mounting(
    known: "Mounting",
    cue_axis: tuple[float, float, float] | None,
    sensor_from_butt_m: float | None,
    cue_length_m: float | None,
) -> "Mounting":
    """Return the recording's mounting with what the command line says put in its place."""
    if cue_axis is not None:
        known = replace(known, cue_axis=cue_axis, cue_axis_sd_rad=None)
    if sensor_from_butt_m is not None:
        known = replace(known, sensor_from_butt_m=sensor_from_butt_m)
    if cue_length_m is not None:
        known = replace(known, cue_length_m=cue_length_m)
    return known


@contextlib.contextmanager
def _data_folder(folder: str) -> Iterator[None]:
    """Point the data folder at a throwaway one, so that the demo touches nobody's log."""
    before = os.environ.get(FOLDER_VARIABLE)
    os.environ[FOLDER_VARIABLE] = folder
    try:
        yield
    finally:
        if before is None:
            del os.environ[FOLDER_VARIABLE]
        else:
            os.environ[FOLDER_VARIABLE] = before
