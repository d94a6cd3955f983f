"""Malformed notifications for every decoder: what may come out, and what must not."""

import gc
import os
import tracemalloc
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from cue_sensors.assemble import SampleAssembler
from cue_sensors.decoders import Decoder, Packet, decoder_for
from cue_sensors.errors import DecodeError
from cue_sensors.samples import SensorInfo

LENGTHS: Final = (0, 1, 2, 11, 12, 13, 18, 19, 20, 36, 40, 54, 132, 155, 198, 244, 260)
EVERY_S: Final = 0.01
"""Time between notifications, give or take."""


BATCH: Final = 32
"""Handed over at once, which gives the same samples and is quicker."""


@dataclass(frozen=True)
class FuzzReport:
    """What a decoder and the assembler made of malformed notifications.

    Parameters
    ----------
    kind : str
        Protocol.
    n, n_decoded, n_samples : int
        Notifications, those that decode, samples that came of them.
    n_out_of_place : int
        Samples not later than the one before.
    grown_bytes : int
        Memory at the end over what it was after the first tenth: held by Python's own account
        where that is traced, of the whole process where it is not.
    """

    kind: str
    n: int
    n_decoded: int
    n_samples: int
    n_out_of_place: int
    grown_bytes: int


class Malformer:
    """Makes notifications that are wrong in every way, and now and then right.

    Parameters
    ----------
    decoder : Decoder
        Whose protocol they nearly follow.
    seed : int
        Same seed, same notifications.
    """

    def __init__(self, decoder: Decoder, seed: int) -> None:
        self._decoder = decoder
        self._rng = np.random.default_rng(seed)
        self._i = 0

    def next(self) -> bytes:
        """Return one more."""
        rng = self._rng
        way = int(rng.integers(8))
        self._i += 1
        if way == 0:
            return rng.bytes(int(rng.choice(LENGTHS)))
        data = bytearray(self._right())
        if way == 1:  # cut short or too long
            return bytes(data[: int(rng.integers(len(data) + 1))])
        if way == 2:
            return bytes(data) + rng.bytes(int(rng.integers(1, 30)))
        if way in (3, 4, 5):  # some bytes changed, in the head rather than behind it
            reach = len(data) if way == 5 else min(12, len(data))
            for place in rng.integers(reach, size=int(rng.integers(1, 5))):
                data[int(place)] = int(rng.integers(256))
        return bytes(data)  # ways 6 and 7 are right, with counters that jump

    def _right(self) -> bytes:
        """Return a notification that follows the protocol."""
        rng, decoder = self._rng, self._decoder
        n = 1 if decoder.kind == "thingy52" else int(rng.integers(1, 12))
        n_axes = 3 if decoder.kind == "stroke_stream" and rng.random() < 0.05 else 6
        jump = int(rng.integers(2**32)) if rng.random() < 0.02 else 0
        packet = Packet(
            counts=rng.integers(-32768, 32768, (n, n_axes)).astype(np.int16),
            period_us=5000.0,
            sequence=(self._i + jump) % 2**16,
            device_time_us=(self._i * 10_000 + jump) % 2**32,
        )
        return decoder.encode(packet)


def fuzz(kind: str, n: int, *, seed: int, is_traced: bool = True) -> FuzzReport:
    """Feed malformed notifications to a decoder and to the assembler behind it.

    Anything that a decoder raises except DecodeError comes out of here.

    Parameters
    ----------
    kind : str
        Protocol.
    n : int
        How many, at least 10.
    seed : int
        Same seed, same notifications.
    is_traced : bool
        Measure the memory, which takes time.

    Returns
    -------
    FuzzReport
        What came of it.
    """
    decoder = decoder_for(kind)
    malformer = Malformer(decoder, seed)
    rng = np.random.default_rng(seed)
    assembler = SampleAssembler(SensorInfo(kind=kind, nominal_rate_hz=200.0))
    np.median(np.zeros(3))  # it brings modules along when first used, which are no leak
    if is_traced:
        tracemalloc.start()
    n_decoded = n_samples = n_out = held = 0
    end_s, arrival_s = -np.inf, 0.0
    batch: list[tuple[float, bytes]] = []
    for i in range(n):
        notification = malformer.next()
        n_decoded += _decodes(decoder, notification)
        arrival_s += EVERY_S * rng.exponential()
        batch.append((arrival_s, notification))
        if len(batch) < BATCH and i < n - 1:
            continue
        time_s = assembler.push_many(batch).time_s
        batch.clear()
        if len(time_s):
            n_out += int(np.sum(np.diff(time_s) <= 0)) + int(time_s[0] <= end_s)
            n_samples += len(time_s)
            end_s = float(time_s[-1])
        if not held and i >= n // 10:
            held = _held_bytes()
    grown = _held_bytes() - held
    if is_traced:
        tracemalloc.stop()
    return FuzzReport(kind, n, n_decoded, n_samples, n_out, grown)


def _decodes(decoder: Decoder, notification: bytes) -> bool:
    """Return whether a notification decodes; anything but the decoder's own error is raised."""
    try:
        packet = decoder.decode(notification)
    except DecodeError:
        return False
    if packet.counts.shape[1] not in (3, 6) or not np.all(np.isfinite(packet.counts)):
        raise AssertionError(f"{decoder.kind} made {packet.counts} of {notification.hex()}")
    return True


def _held_bytes() -> int:
    """Return the memory held, garbage left out."""
    gc.collect()
    return tracemalloc.get_traced_memory()[0] if tracemalloc.is_tracing() else resident_bytes()


def resident_bytes() -> int:
    """Return the memory of this process, 0 where the system does not tell."""
    status = Path("/proc/self/statm")
    if not status.exists():
        return 0
    return int(status.read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")
