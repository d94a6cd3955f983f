"""Strokes in closed form: constant acceleration to a speed chosen first."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from scipy import signal
from scipy.spatial.transform import Rotation

from cue_sensors.samples import Mounting, Samples

GRAVITY_M_S2 = 9.81
DENSE_HZ = 16000.0
MOUNT = Rotation.from_rotvec([0.4, -0.9, 1.3])
TILT_RAD = 0.05


@dataclass(frozen=True)
class Made:
    """Samples with the answers chosen first."""

    samples: Samples
    mounting: Mounting
    hit_times_s: tuple[float, ...]
    speeds_m_s: tuple[float, ...]
    accels_m_s2: tuple[float, ...]


def _piece(duration_s: float, accel_m_s2: float) -> np.ndarray:
    return np.full(round(duration_s * DENSE_HZ), accel_m_s2)


def stroke_accel(
    speed_m_s: float, delivery_s: float, *, back_m: float, is_hit: bool, late_share: float
) -> tuple[np.ndarray, int]:
    """Return acceleration along the cue, and where in it the hit lies.

    The delivery gains its speed at a steady rate, but for the last 60 ms at ``late_share`` of it;
    the cue goes back first by what the delivery comes forward, less the 15 mm before the ball.
    """
    late_s = 0.06
    steady = speed_m_s / (delivery_s - late_s + late_share * late_s)
    delivery = np.concatenate(
        [_piece(delivery_s - late_s, steady), _piece(late_s, late_share * steady)]
    )
    forward = np.sum(np.cumsum(delivery)) / DENSE_HZ**2
    back_s = 0.8
    phase = np.arange(round(back_s * DENSE_HZ)) / DENSE_HZ / back_s
    # a raised cosine of speed: its travel is half its peak times its duration
    peak = 2.0 * (forward - 0.015) / back_s if back_m == 0.0 else 2.0 * back_m / back_s
    backswing = -peak * np.pi / back_s * np.sin(2.0 * np.pi * phase)
    after = 0.69 * speed_m_s if is_hit else speed_m_s
    parts = [_piece(0.9, 0.0), backswing, _piece(0.2, 0.0), delivery]
    hit = sum(map(len, parts))
    blow = _piece(0.0015, -0.31 * speed_m_s / 0.0015) if is_hit else _piece(0.0015, 0.0)
    slow_s = 0.25
    phase = np.arange(round(slow_s * DENSE_HZ)) / DENSE_HZ / slow_s
    stop = -after / slow_s * (1.0 - np.cos(2.0 * np.pi * phase))
    return np.concatenate([*parts, blow, stop, _piece(1.2, 0.0)]), hit


def make(
    strokes: tuple[tuple[float, float], ...] = ((2.0, 0.25),),
    *,
    rate_hz: float = 200.0,
    has_gyroscope: bool = True,
    range_m_s2: float = 160.0,
    is_hit: bool = True,
    late_share: float = 1.0,
    noise_m_s2: float = 0.02,
    seed: int = 0,
    mount: Rotation = MOUNT,
) -> Made:
    """Return samples of strokes of (tip speed, delivery time) through a second-order filter."""
    pieces, hits, at = [_piece(1.0, 0.0)], [], round(1.0 * DENSE_HZ)
    for speed, delivery in strokes:
        accel, hit = stroke_accel(speed, delivery, back_m=0.0, is_hit=is_hit, late_share=late_share)
        pieces.append(accel)
        hits.append((at + hit) / DENSE_HZ)
        at += len(accel)
    axial = np.concatenate(pieces)
    sections = signal.butter(2, 0.4 * rate_hz, fs=DENSE_HZ, output="sos")
    axial = signal.sosfilt(sections, axial)
    picks = np.arange(0, len(axial), DENSE_HZ / rate_hz).astype(int)
    along = axial[picks]
    up = np.array([np.sin(TILT_RAD), 0.0, np.cos(TILT_RAD)])
    force = GRAVITY_M_S2 * up + along[:, None] * np.array([1.0, 0.0, 0.0])
    rng = np.random.default_rng(seed)
    force = mount.apply(force) + noise_m_s2 * rng.standard_normal((len(picks), 3))
    clipped = np.any(np.abs(force) >= range_m_s2, axis=1)
    rate = 0.002 * rng.standard_normal((len(picks), 3)) + np.array([0.004, -0.003, 0.002])
    samples = Samples(
        time_s=picks / DENSE_HZ,
        specific_force_m_s2=np.clip(force, -range_m_s2, range_m_s2),
        angular_rate_rad_s=rate if has_gyroscope else None,
        is_clipped=np.asarray(clipped, dtype=np.bool_),
        rate_hz=rate_hz,
    )
    axis = mount.apply([1.0, 0.0, 0.0])
    late = [late_share * v / (d - 0.06 + late_share * 0.06) for v, d in strokes]
    return Made(
        samples,
        Mounting((float(axis[0]), float(axis[1]), float(axis[2])), 0.005, 0.3, 1.45),
        tuple(hits),
        tuple(speed for speed, _ in strokes),
        tuple(late),
    )


@pytest.fixture(name="make")
def make_fixture() -> Callable[..., Made]:
    """Return the maker of closed-form strokes."""
    return make
