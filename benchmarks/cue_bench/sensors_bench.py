"""How well sensors are read: ``python -m cue_bench.sensors_bench``.

Everything over Bluetooth runs an unmodified client library against a stand-in for Linux's service
on a private bus: it measures this project and that library, not a radio. Truth is exact: every
sample carries its own number, every packet the moment it was sent.
"""

import contextlib
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import click
import numpy as np
from rich.console import Console
from rich.table import Table

from cue_bench.numbered import NumberedSensor
from cue_bench.sensor_chain import Load, live_load, memory_over
from cue_bench.sensor_drops import DROPS, Listener, gap_errors
from cue_bench.sensor_fuzz import fuzz
from cue_bench.sensor_kill import kill_record
from cue_bench.sensor_rig import Rig, Streamer
from cue_sensors.ble import BleSensor, BleSettings
from cue_sensors.ble_loop import LoopThread
from cue_sensors.decoders import decoders
from cue_sensors.rig.private_bus import private_bus

ADDRESS: Final = "C0:FF:EE:00:00:01"
NAME: Final = "cue tag A"
HASTY: Final = BleSettings(
    scan_s=2.0, connect_s=2.0, step_s=1.0, stall_s=0.4, back_off_s=(0.02, 0.05, 0.1)
)
BUS_DEATH: Final = "the_bus_dies"
MISSED_PACKETS: Final = 40
"""What the sensor takes while there is no bus."""
PARTS: Final = ("stream", "drops", "live", "memory", "fuzz", "kill")


@click.command()
@click.option("--part", type=click.Choice(PARTS), multiple=True, help="Only these; all by default.")
@click.option("--minutes", type=float, default=10.0, show_default=True, help="Of device time.")
@click.option("--faster", type=float, default=20.0, show_default=True, help="Than device time.")
@click.option("--drops", "n_drops", type=int, default=100, show_default=True, help="Of each kind.")
@click.option("--fuzz", "n_fuzz", type=int, default=1_000_000, show_default=True, help="In all.")
@click.option("--kills", "n_kills", type=int, default=50, show_default=True)
@click.option("--hours", type=float, default=2.0, show_default=True, help="For the memory.")
def main(
    part: tuple[str, ...],
    minutes: float,
    faster: float,
    n_drops: int,
    n_fuzz: int,
    n_kills: int,
    hours: float,
) -> None:
    """Measure loss, latency, recovery, CPU, memory and what malformed bytes do."""
    runs: dict[str, Callable[[], Table]] = {
        "stream": lambda: stream_table(minutes, faster),
        "drops": lambda: drops_table(n_drops),
        "live": live_table,
        "memory": lambda: memory_table(hours),
        "fuzz": lambda: fuzz_table(n_fuzz),
        "kill": lambda: kill_table(n_kills),
    }
    out = Console(highlight=False, width=120)
    for name in part or PARTS:
        out.print(runs[name]())


def stream_table(minutes: float, faster: float) -> Table:
    """Return loss and latency of long streams, in device time and as fast as wanted."""
    table = _table(
        f"{minutes:g} min of device time over Bluetooth",
        ("rate", "times", "packets", "samples lost", "misplaced", "latency 50 %", "99 %", "most"),
    )
    for rate_hz, speed in ((208.0, faster), (416.0, faster), (416.0, 1.0)):
        short = minutes if speed > 1 else min(minutes, 0.5)
        table.add_row(f"{rate_hz:g} Hz", f"{speed:g}", *_stream(rate_hz, short, speed))
    return table


def _stream(rate_hz: float, minutes: float, faster: float) -> list[str]:
    """Return what came of one stream."""
    per_packet = round(0.05 * rate_hz)
    n = round(minutes * 60 * rate_hz / per_packet)
    numbered = NumberedSensor(rate_hz=rate_hz, per_packet=per_packet)
    tag = Streamer(numbered, NAME, ADDRESS, period_s=per_packet / rate_hz / faster)
    tag.last_packet = n
    with _bench(tag) as (_, loop):
        sensor = BleSensor(NAME, settings=BleSettings(stall_s=60.0), loop=loop)
        listener = Listener(sensor, patience_s=60.0 * minutes + 60.0)
        start_s = time.monotonic()
        listener.wait_for(lambda: len(listener.got) >= n)
        took_s = time.monotonic() - start_s
        arrived_s = np.array([at for at, _ in listener.got]) + sensor.start_steady_s
        listener.close()
    samples, assembler = listener.samples()
    index = numbered.index_of(samples)
    n_lost = n * per_packet - len(index)
    n_misplaced = int(np.sum(np.diff(index) != 1)) + assembler.n_restarts
    steps = np.diff(samples.time_s) * rate_hz
    n_misplaced += int(np.sum(np.abs(steps - 1) > 0.01))
    late_ms = 1e3 * (arrived_s - np.array(tag.sent_s[: len(arrived_s)]))
    shown = [f"{value:.2f} ms" for value in np.percentile(late_ms, (50, 99, 100))]
    return [f"{n} in {took_s:.0f} s", str(n_lost), str(n_misplaced), *shown]


def drops_table(n: int) -> Table:
    """Return how every way of losing the connection is recovered from."""
    table = _table(
        f"{n} drops of every kind, the sensor's clock running 10 times as fast as the wall's",
        ("kind", "recovered", "gaps", "worst length", "worst share", "wall time each"),
    )
    for name in (*DROPS, BUS_DEATH):
        table.add_row(name, *(_bus_deaths(n) if name == BUS_DEATH else _drops(name, n)))
    return table


def _drops(name: str, n: int) -> list[str]:
    """Return what came of many drops of one kind."""
    tag = Streamer(NumberedSensor(), NAME, ADDRESS)
    recovered = 0
    with _bench(tag) as (rig, loop):
        listener = Listener(BleSensor(NAME, settings=HASTY, loop=loop))
        listener.wait_for_more()
        start_s = time.monotonic()
        for _ in range(n):
            DROPS[name](rig, tag)
            with contextlib.suppress(TimeoutError):
                listener.wait_for_more()
                recovered += 1
        took_s = time.monotonic() - start_s
        listener.close()
    return [f"{recovered} of {n}", *_gaps(tag, listener), f"{took_s / n:.2f} s"]


def _bus_deaths(n: int) -> list[str]:
    """Return what came of a message bus that dies and comes back at the same address."""
    tag = Streamer(NumberedSensor(), NAME, ADDRESS)
    recovered = 0
    with contextlib.ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="b-")))
        loop = stack.enter_context(contextlib.closing(LoopThread()))
        listener: Listener | None = None
        start_s = time.monotonic()
        for _ in range(n + 1):
            with private_bus(set_env=True, folder=folder):
                rig = Rig(tag)
                listener = listener or Listener(BleSensor(NAME, settings=HASTY, loop=loop))
                with contextlib.suppress(TimeoutError):
                    listener.wait_for_more()
                    recovered += 1
                rig.close()
                tag.next_packet += MISSED_PACKETS
        took_s = time.monotonic() - start_s
        if listener is None:
            raise ValueError("there must be drops")
        listener.close()
    return [f"{recovered - 1} of {n}", *_gaps(tag, listener), f"{took_s / (n + 1):.2f} s"]


def _gaps(tag: Streamer, listener: Listener) -> list[str]:
    """Return how well the gaps are told."""
    n_gaps, worst, share = gap_errors(tag, listener.samples()[0])
    return [str(n_gaps), f"{worst:.2f} samples", f"{100 * share:.3f} %"]


def live_table() -> Table:
    """Return what the live chain costs: decode, order, time, record, find strokes, draw."""
    table = _table(
        "Live chain, of one core (recording to disk and the trace for the screen among it)",
        ("rate", "minutes", "strokes", "share of a core", "notifications", "stroke known after"),
    )
    for rate_hz in (200.0, 416.0, 1000.0):
        load: Load = live_load(rate_hz)
        table.add_row(
            f"{rate_hz:g} Hz",
            f"{load.seconds / 60:.1f}",
            str(load.n_strokes),
            f"{100 * load.cpu_s / load.seconds:.1f} %",
            f"{1e3 * load.slowest_s:.0f} ms slowest",
            f"{1e3 * load.known_after_s:.0f} ms",
        )
    return table


def memory_table(hours: float) -> Table:
    """Return what memory a long session takes."""
    table = _table(f"Memory of a live session of {hours:g} h at 200 Hz", ("after", "process"))
    for at_h, size in memory_over(hours):
        table.add_row(f"{at_h:.2f} h", f"{size / 1e6:.1f} MB")
    return table


def fuzz_table(n: int) -> Table:
    """Return what malformed notifications do to each decoder and the assembler behind it."""
    table = _table(
        "Malformed notifications; any exception but the decoder's own would end this",
        ("kind", "notifications", "decoded", "samples", "out of place", "memory grown"),
    )
    for kind in sorted(decoders):
        one = fuzz(kind, n // len(decoders), seed=20260, is_traced=False)
        numbers = (one.n, one.n_decoded, one.n_samples, one.n_out_of_place)
        table.add_row(kind, *map(str, numbers), f"{one.grown_bytes / 1e6:.2f} MB")
    return table


def kill_table(n: int) -> Table:
    """Return what is left of recordings whose program was killed."""
    table = _table(
        "`stunpace record` killed at random moments",
        ("kills", "open", "in order", "longest missing at the end", "closed afterwards"),
    )
    left = kill_record(n, seed=7)
    table.add_row(
        str(left.n),
        str(left.n_open),
        str(left.n_in_order),
        f"{left.worst_missing_s:.2f} s",
        str(left.n_closed),
    )
    return table


@contextlib.contextmanager
def _bench(tag: Streamer) -> Iterator[tuple[Rig, LoopThread]]:
    """Put a sensor on a bus of its own."""
    with contextlib.ExitStack() as stack:
        stack.enter_context(private_bus(set_env=True))
        rig = stack.enter_context(contextlib.closing(Rig(tag)))
        yield rig, stack.enter_context(contextlib.closing(LoopThread()))


def _table(title: str, headings: tuple[str, ...]) -> Table:
    """Return a table with these headings."""
    table = Table(title=title, title_justify="left")
    for heading in headings:
        table.add_column(heading, justify="right")
    return table


if __name__ == "__main__":
    main()
