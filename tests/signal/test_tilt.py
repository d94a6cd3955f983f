"""Tilt without a gyroscope against a cue whose course and tilt are closed forms."""

import numpy as np
import pytest

from cue_signal.drift import Speed
from cue_signal.rest import Rest
from cue_signal.strapdown import Path
from cue_signal.tilt import without_leak
from cue_signal.windows import Window

RATE_HZ = 200.0
G_M_S2 = 9.80665
LEVER_M = 0.9
LASTED_S, BACK_M = 0.6, 0.25


def swing():
    """Return fine times and the travel: a rest, a backswing, a pause, a delivery that gains."""
    time_s = np.arange(round(2.6 * 2000.0) + 1) / 2000.0
    part = np.clip((time_s - 1.0) / 0.8, 0.0, 1.0)
    way = -BACK_M * part**3 * (10.0 - 15.0 * part + 6.0 * part**2)
    forward = np.clip((time_s - 2.0) / LASTED_S, 0.0, 1.0)
    return time_s, way + (BACK_M + 0.01) * forward**3 * (2.0 - forward)


def rates(values, time_s):
    first = np.gradient(values, time_s)
    return first, np.gradient(first, time_s)


@pytest.mark.parametrize("drop_rad", [0.0, 0.01, 0.02])
@pytest.mark.parametrize("arc_rad_m2", [-0.2, -0.8])
def test_what_leaks_in_as_the_elbow_drops_is_taken_off(drop_rad, arc_rad_m2):
    fine_s, way = swing()
    late = np.clip((fine_s - 2.0) / LASTED_S - 0.3, 0.0, None) / 0.7
    # the tip rises as the elbow drops, and the butt with it falls
    tilt = arc_rad_m2 * way**2 + drop_rad * late**2 * (3.0 - 2.0 * late)
    speed, accel = rates(way, fine_s)
    across = -LEVER_M * rates(tilt, fine_s)[1]
    at = slice(0, len(fine_s), round(2000.0 / RATE_HZ))
    time_s, n = fine_s[at], len(fine_s[at])
    rng = np.random.default_rng(2)
    force = np.stack([accel[at] + G_M_S2 * tilt[at], np.zeros(n), across[at]], axis=1)
    force += rng.normal(0.0, 0.03, (n, 3))
    none = np.zeros(n, dtype=bool)
    window = Window(time_s, force, None, none, np.zeros(0, dtype=int), 1.0 / RATE_HZ)
    path = Path(force, force[:, 0], None, Rest(100, 180), 0.0, 0.02)
    known = Speed(speed[at], way[at] - way[-1], accel[at], None, np.eye(1))
    found = without_leak(window, path, known, n - 1, axis_sd_rad=0.01, bridge_m=LEVER_M)
    gained = np.trapezoid((force[:, 0] - found.axial_m_s2)[400:], time_s[400:])
    true = np.trapezoid(G_M_S2 * tilt[at][400:], time_s[400:])
    # speed that tilt would feign over the delivery: the drop alone is up to 0.03 m/s of it
    assert gained == pytest.approx(true, abs=0.015)
