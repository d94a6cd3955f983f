"""A message bus of our own in a temporary folder, never the machine's."""

import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from cue_sensors.errors import SensorError

BUS_VARIABLE: Final = "DBUS_SYSTEM_BUS_ADDRESS"
"""Environment variable that tells programs where the system's bus is."""
STOP_WAIT_S: Final = 5.0

_CONFIG: Final = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>session</type>
  <listen>unix:path={socket}</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow user="*"/><allow own="*"/>
    <allow send_destination="*"/><allow receive_sender="*"/>
  </policy>
</busconfig>
"""


def rig_problem() -> str | None:
    """Return why the rig cannot run here, None if it can."""
    if sys.platform != "linux":
        return "A rehearsal over Bluetooth needs Linux. Rehearse on the page At the table instead."
    if shutil.which("dbus-daemon") is None:
        return "The program dbus-daemon is missing. Install the package dbus-daemon."
    return None


@contextlib.contextmanager
def private_bus(*, set_env: bool = False, folder: Path | None = None) -> Iterator[str]:
    """Start a bus, yield its address, stop it again.

    Parameters
    ----------
    set_env : bool
        Have this process take it for the system's bus.
    folder : Path or None
        Where its socket lies; one folder gives one address. The path must be short.

    Yields
    ------
    str
        Its address.

    Raises
    ------
    SensorError
        If it cannot run here.
    """
    problem = rig_problem()
    if problem is not None:
        raise SensorError(problem)
    with contextlib.ExitStack() as stack:
        place = folder or Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="bus-")))
        address = stack.enter_context(_daemon(place))
        if set_env:
            stack.enter_context(_bus_in_environment(address))
        yield address


@contextlib.contextmanager
def _daemon(folder: Path) -> Iterator[str]:
    """Run the daemon with its socket in a folder."""
    config = folder / "bus.conf"
    config.write_text(_CONFIG.format(socket=folder / "sock"), encoding="utf-8")
    process = subprocess.Popen(
        ["dbus-daemon", f"--config-file={config}", "--nofork", "--nopidfile", "--print-address=1"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,  # it grumbles about limits that do not matter here
        text=True,
        start_new_session=True,  # Ctrl-C is for the program, which then stops the daemon
    )
    try:
        address = process.stdout.readline().strip() if process.stdout else ""
        address = address.partition(",guid=")[0]  # one folder, one address
        if not address:
            raise SensorError(
                f"The bus did not start in {folder}. Set TMPDIR to a shorter path and try again."
            )
        yield address
    finally:
        process.terminate()
        process.wait(STOP_WAIT_S)
        if process.stdout:
            process.stdout.close()


@contextlib.contextmanager
def _bus_in_environment(address: str) -> Iterator[None]:
    """Put the address into this process's environment, and what was there back."""
    before = os.environ.get(BUS_VARIABLE)
    os.environ[BUS_VARIABLE] = address
    try:
        yield
    finally:
        del os.environ[BUS_VARIABLE]
        if before is not None:
            os.environ[BUS_VARIABLE] = before
