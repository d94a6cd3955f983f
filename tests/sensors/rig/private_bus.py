"""A private D-Bus daemon on a unix socket in a temporary folder."""

import contextlib
import os
import pathlib
import subprocess
import tempfile

CONFIG = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>session</type>
  <listen>unix:path={sock}</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow user="*"/><allow own="*"/>
    <allow send_destination="*"/><allow receive_sender="*"/>
  </policy>
</busconfig>
"""


@contextlib.contextmanager
def private_bus(set_env=True, folder=None):
    """Start dbus-daemon, yield its address, stop it again; one folder gives one address."""
    with contextlib.ExitStack() as stack:
        folder = folder or stack.enter_context(tempfile.TemporaryDirectory(prefix="bus-"))
        sock = pathlib.Path(folder, "sock")  # keep < 108 bytes (sun_path)
        conf = pathlib.Path(folder, "bus.conf")
        conf.write_text(CONFIG.format(sock=sock))
        proc = subprocess.Popen(
            [
                "dbus-daemon",
                f"--config-file={conf}",
                "--nofork",
                "--nopidfile",
                "--print-address=1",
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )  # it grumbles about its fd limit
        saved = os.environ.get("DBUS_SYSTEM_BUS_ADDRESS")
        try:
            address = proc.stdout.readline().strip()  # printed once it listens
            if not address:
                raise RuntimeError("dbus-daemon did not start")
            if set_env:
                os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = address
            yield address
        finally:
            if set_env:
                os.environ.pop("DBUS_SYSTEM_BUS_ADDRESS", None)
                if saved is not None:
                    os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = saved
            proc.terminate()
            proc.wait(5)
            proc.stdout.close()
