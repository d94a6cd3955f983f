"""Have the machine code ready before the first stroke asks for it."""

from functools import lru_cache

import numpy as np

from cue_sensors.samples import FloatArray, Mounting, Samples
from cue_signal.analysis import analyse
from cue_signal.attitude import GRAVITY_M_S2

RATE_HZ = 200.0
TIP_SPEED_M_S = 1.5
LOSS_SHARE = 0.3
_BACK_S, _HIT_S, _STOP_S, _END_S = 1.5, 2.5, 2.75, 4.0


@lru_cache(maxsize=1)
def warm_up() -> None:
    """Compile the loops of the analysis, or load them where an earlier run has kept them.

    The first run on a machine takes some seconds, later ones a moment; meant for a thread of its
    own while a sensor is being connected. Calls after the first do nothing.
    """
    mounting = Mounting(cue_axis=(1.0, 0.0, 0.0), sensor_from_butt_m=0.2, cue_length_m=1.45)
    for has_gyroscope in (True, False):
        analyse(plain_stroke(has_gyroscope=has_gyroscope), mounting=mounting)


def plain_stroke(*, has_gyroscope: bool) -> Samples:
    """Return the samples of one textbook stroke, the cue along the sensor's x.

    Parameters
    ----------
    has_gyroscope : bool
        Whether the sensor has one.

    Returns
    -------
    Samples
        Rest, backswing, delivery to TIP_SPEED_M_S, a hit that takes LOSS_SHARE of it, rest.
    """
    rng = np.random.default_rng(1)
    time_s = np.arange(0.0, _END_S, 1.0 / RATE_HZ)
    force = rng.normal(0.0, 0.02, (len(time_s), 3))
    force[:, 2] += GRAVITY_M_S2
    force[:, 0] += np.convolve(np.gradient(_speed_m_s(time_s), time_s), [0.25, 0.5, 0.25], "same")
    rate = rng.normal(0.0, 0.001, (len(time_s), 3)) if has_gyroscope else None
    return Samples(time_s, force, rate, np.zeros(len(time_s), dtype=np.bool_), RATE_HZ)


def _speed_m_s(time_s: FloatArray) -> FloatArray:
    """Return the speed of the cue: as far back as forward."""
    middle_s = _BACK_S + 0.6 * (_HIT_S - _BACK_S)
    back = np.clip((time_s - _BACK_S) / (middle_s - _BACK_S), 0.0, 1.0)
    forward = np.clip((time_s - middle_s) / (_HIT_S - middle_s), 0.0, 1.0)
    speed = TIP_SPEED_M_S * np.sin(0.5 * np.pi * forward) ** 2
    way_m = 0.5 * TIP_SPEED_M_S * (_HIT_S - middle_s)
    speed -= 2.0 * way_m / (middle_s - _BACK_S) * np.sin(np.pi * back) ** 2
    left = np.clip((_STOP_S - time_s) / (_STOP_S - _HIT_S), 0.0, 1.0)
    after = (1.0 - LOSS_SHARE) * TIP_SPEED_M_S * left
    speed_m_s: FloatArray = np.where(time_s > _HIT_S, after, speed)
    return speed_m_s
