"""Samples packed into notifications, some of them late and some lost.

The bytes follow the open layout "stroke stream" version 1: little-endian, 12 bytes of header
(u8 version, u8 flags, u16 sequence, u32 microseconds of the first sample, u16 period in
microseconds, u8 number of samples, u8 bytes a sample), then the samples as 16-bit words. Written
here once more, apart from the decoder's own encoder, so that each checks the other.
"""

import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cue_bench.maker.sensor import FULL_SCALE, Taken
from cue_bench.maker.settings import SessionSettings

HAS_ACCEL, HAS_GYRO, IS_SATURATED = 1, 2, 8
RADIO_INTERVAL_S = 0.03
LATE_SHARE = 0.02


@dataclass(frozen=True, eq=False)
class Sent:
    """What arrived: ``(arrival_utc_ns, bytes)`` each, and which samples those hold."""

    notifications: list[tuple[int, bytes]]
    is_received: NDArray[np.bool_]
    n_lost_notifications: int


def send(taken: Taken, settings: SessionSettings, rng: np.random.Generator) -> Sent:
    """Send all samples in batches; lose some."""
    own = settings.sensor
    starts = np.arange(0, len(taken.counts), own.batch)
    is_lost = _losses(len(starts), settings, rng)
    is_received = np.ones(len(taken.counts), dtype=np.bool_)
    notifications = []
    last_arrival = 0.0
    for sequence, first in enumerate(starts.tolist()):
        part = slice(first, min(first + own.batch, len(taken.counts)))
        # A radio delivers at its own intervals, now and then a few intervals late.
        late = rng.geometric(0.4) if rng.random() < LATE_SHARE else 0
        event = np.ceil(taken.true_s[part.stop - 1] / RADIO_INTERVAL_S + 0.2) + late
        arrival = max(event * RADIO_INTERVAL_S + rng.exponential(0.002), last_arrival + 1e-5)
        if is_lost[sequence]:
            is_received[part] = False
            continue
        last_arrival = arrival
        stamp_ns = int((settings.start_utc_s + arrival) * 1e9)
        notifications.append((stamp_ns, _pack(taken, part, sequence, settings)))
    return Sent(notifications, is_received, int(is_lost.sum()))


def _losses(n: int, settings: SessionSettings, rng: np.random.Generator) -> NDArray[np.bool_]:
    """Return which notifications are lost, a few in a row; never the first."""
    own = settings.sensor
    is_lost = np.zeros(n, dtype=np.bool_)
    for start in np.flatnonzero(rng.random(n) < own.lost_share / max(own.lost_run, 1)):
        is_lost[max(start, 1) : start + own.lost_run] = True
    return is_lost


def _pack(taken: Taken, part: slice, sequence: int, settings: SessionSettings) -> bytes:
    """Return one notification."""
    counts = taken.counts[part]
    accel = counts[:, :3]
    is_full = bool(np.any((accel == FULL_SCALE - 1) | (accel == -FULL_SCALE)))
    n, axes = counts.shape
    flags = HAS_ACCEL | (HAS_GYRO if axes == 6 else 0) | (IS_SATURATED if is_full else 0)
    stamp = round(float(taken.device_s[part.start]) * 1e6) % 2**32
    period = round(1e6 / settings.sensor.rate_hz)
    head = struct.pack("<BBHIHBB", 1, flags, sequence % 65536, stamp, period, n, 2 * axes)
    return head + counts.astype("<i2").tobytes()
