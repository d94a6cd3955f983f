"""Every way in which a connection is lost, played on the rig."""

import threading
import time
from collections.abc import Callable
from typing import Any, Final

import numpy as np

from cue_bench.sensor_rig import Rig, Streamer
from cue_sensors.assemble import SampleAssembler
from cue_sensors.ble import BleSensor
from cue_sensors.rate import joined
from cue_sensors.rig.fake_device import BluezError
from cue_sensors.samples import Samples

Drop = Callable[[Rig, Streamer], None]
FAILED: Final = "org.bluez.Error.Failed"


class Listener:
    """Collects what a sensor gives, in a thread, as a live session does.

    Parameters
    ----------
    sensor : BleSensor
        What to listen to.
    patience_s : float
        How long to wait for anything.
    """

    def __init__(self, sensor: BleSensor, *, patience_s: float = 30.0) -> None:
        self.sensor, self._patience_s = sensor, patience_s
        self.got: list[tuple[float, bytes]] = []
        self.error: Exception | None = None
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def wait_for(self, condition: Callable[[], object]) -> None:
        """Wait until a condition holds; TimeoutError if it never does."""
        end_s = time.monotonic() + self._patience_s
        while not condition():
            if time.monotonic() > end_s:
                raise TimeoutError(f"{self.sensor.words} ({len(self.got)} packets)")
            time.sleep(0.005)

    def wait_for_more(self, n: int = 20) -> None:
        """Wait for so many more packets."""
        before = len(self.got)
        self.wait_for(lambda: len(self.got) >= before + n)

    def close(self) -> None:
        """Close the sensor and wait until the listening has ended."""
        self.sensor.close()
        self.join()

    def join(self) -> None:
        """Wait until the listening has ended."""
        self._thread.join(self._patience_s)
        if self._thread.is_alive():
            raise TimeoutError("the sensor does not end")

    def samples(self) -> tuple[Samples, SampleAssembler]:
        """Return what was heard as samples, and what put them together."""
        assembler = SampleAssembler(self.sensor.sensor)
        pieces = [assembler.push_many(self.got), assembler.finish()]
        return joined(pieces, rate_hz=200.0), assembler

    def _run(self) -> None:
        """Collect; the thread's own function."""
        try:
            for one in self.sensor:
                self.got.append(one)
        except Exception as error:  # kept for whoever waits
            self.error = error


def disconnect(rig: Rig, tag: Streamer) -> None:
    """Drop the link."""
    rig.do(rig.bluez.drop_link, tag.device)


def forget(rig: Rig, tag: Streamer) -> None:
    """Drop the link and have the system forget the device."""
    rig.do(rig.bluez.drop_link, tag.device, forget=True)


def vanish_without_a_word(rig: Rig, tag: Streamer) -> None:
    """Remove the device object; nothing tells that it was disconnected."""
    rig.do(rig.bluez.vanish, tag.device)


def fall_silent(rig: Rig, tag: Streamer) -> None:
    """Send nothing for a while."""
    tag.is_silent = True
    time.sleep(0.6)
    tag.is_silent = False


def refuse_to_connect_thrice(rig: Rig, tag: Streamer) -> None:
    """Fail three attempts to connect."""
    errors = [BluezError(FAILED, "le-connection-abort-by-remote") for _ in range(3)]
    tag.device.connect_errors += errors
    disconnect(rig, tag)


def refuse_to_subscribe_once(rig: Rig, tag: Streamer) -> None:
    """Fail one attempt to subscribe."""
    bluez: Any = rig.bluez
    original = bluez.do_StartNotify

    async def refuse(message: Any) -> None:
        if message.path != tag.data.path:
            await original(message)
            return
        bluez.do_StartNotify = original
        raise BluezError(FAILED, "Operation failed with ATT error: 0x0e")

    bluez.do_StartNotify = refuse
    disconnect(rig, tag)


def never_resolve_once(rig: Rig, tag: Streamer) -> None:
    """Connect once without finding the services before the time-out."""
    tag.device.resolve = False
    disconnect(rig, tag)
    time.sleep(0.5)
    tag.device.resolve = True


def go_out_of_range_for_a_while(rig: Rig, tag: Streamer) -> None:
    """Be heard by nobody for a while."""
    tag.device.advertising = False
    forget(rig, tag)
    time.sleep(0.5)
    tag.device.advertising = True


def switch_the_adapter_off_and_on(rig: Rig, tag: Streamer) -> None:
    """Switch the host's Bluetooth off and on."""
    rig.do(rig.bluez.power, False)
    forget(rig, tag)
    time.sleep(0.3)
    rig.do(rig.bluez.power, True)


DROPS: Final[dict[str, Drop]] = {
    drop.__name__: drop
    for drop in (
        disconnect,
        forget,
        vanish_without_a_word,
        fall_silent,
        refuse_to_connect_thrice,
        refuse_to_subscribe_once,
        never_resolve_once,
        go_out_of_range_for_a_while,
        switch_the_adapter_off_and_on,
    )
}
"""All of them by name; the death of the bus needs a bus of its own."""


def gap_errors(tag: Streamer, samples: Samples) -> tuple[int, float, float]:
    """Return how well the gaps in samples from a numbered sensor are told.

    Parameters
    ----------
    tag : Streamer
        What sent them.
    samples : Samples
        At least one sample.

    Returns
    -------
    n_gaps : int
        Number of gaps.
    worst_samples : float
        Largest error of a gap's length, in samples.
    worst_share : float
        Largest error of a gap's length, as a share of it.

    Raises
    ------
    ValueError
        If samples are out of order or come twice.
    """
    steps = np.diff(tag.fake.index_of(samples))
    if np.any(steps <= 0):
        raise ValueError(f"{np.count_nonzero(steps <= 0)} samples are out of order")
    gaps = steps > 1
    off = np.abs(np.diff(samples.time_s)[gaps] * tag.fake.rate_hz - steps[gaps])
    if not len(off):
        return 0, 0.0, 0.0
    return len(off), float(np.max(off)), float(np.max(off / steps[gaps]))
