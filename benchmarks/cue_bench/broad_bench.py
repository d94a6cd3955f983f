"""Attitude and short-window speed on real recordings with a motion-capture reference.

BROAD, the Berlin Robust Orientation Estimation Assessment Dataset (Laidig, Caruso, Cereatti,
Seel, Data 6(7), 2021, doi 10.3390/data6070072, CC BY 4.0). There is no cue in it: what is checked
is the turning of the sensor over the length of a stroke, and the gain of speed over 0.3 s.
"""

from pathlib import Path

import numpy as np
from rich.table import Table
from scipy.io import loadmat
from scipy.signal import savgol_filter
from scipy.spatial.transform import Rotation

from cue_sensors.samples import FloatArray
from cue_signal.attitude import GRAVITY_M_S2, turned_from_start
from cue_signal.integrals import running_integral

SPAN_S = 2.0
GAIN_S = 0.3
FAST_M_S = 0.7
"""Gains of speed below this are too small to compare."""


def broad_table(folder: Path) -> Table:
    """Return the errors on every trial in a folder.

    Parameters
    ----------
    folder : Path
        Holds the trials as Matlab files.
    """
    table = Table(title="Real recordings: errors against motion capture")
    for name in ("trial", "turn over 2 s, deg", "gain over 0.3 s, median", "quartiles", "cases"):
        table.add_column(name)
    for path in sorted(folder.glob("*.mat")):
        turn_deg, gains = _trial(path)
        low, middle, high = np.percentile(gains, [25, 50, 75]) if len(gains) else [np.nan] * 3
        table.add_row(
            path.stem,
            f"{turn_deg:.2f}",
            f"{middle:.3f}",
            f"{low:.3f} to {high:.3f}",
            str(len(gains)),
        )
    return table


def _trial(path: Path) -> tuple[float, FloatArray]:
    """Return RMS error of the turning over 2 s, and the ratios of gains of speed."""
    data = loadmat(str(path), squeeze_me=True)
    rate_hz = float(data["sampling_rate"])
    rate, force = np.asarray(data["imu_gyr"]), np.asarray(data["imu_acc"])
    reference, place = np.asarray(data["opt_quat"]), np.asarray(data["opt_pos"])
    still = ~np.asarray(data["movement"], dtype=bool)
    rate = rate - np.median(rate[still], axis=0)
    span, gain = round(SPAN_S * rate_hz), round(GAIN_S * rate_hz)
    known = np.asarray(np.isfinite(np.hstack([reference, place])).all(axis=1), dtype=np.bool_)
    velocity = savgol_filter(place, 15, 3, deriv=1, delta=1.0 / rate_hz, axis=0)
    turn_errors, ratios = [], []
    for first in range(0, len(rate) - span, span):
        if not known[first : first + span].all() or still[first : first + span].mean() > 0.9:
            continue
        turned = turned_from_start(rate[first : first + span], np.full(span - 1, 1.0 / rate_hz))
        true = Rotation.from_quat(reference[first : first + span][:, [1, 2, 3, 0]])
        error = (true[0].inv() * true[-1]).inv() * turned[-1]
        turn_errors.append(error.magnitude())
        ratios += _ratios(
            turned, true, force[first : first + span], velocity[first:], rate_hz, gain
        )
    rms = float(np.sqrt(np.mean(np.square(turn_errors)))) if turn_errors else float("nan")
    return float(np.degrees(rms)), np.array(ratios)


def _ratios(
    turned: Rotation,
    true: Rotation,
    force: FloatArray,
    velocity: FloatArray,
    rate_hz: float,
    gain: int,
) -> list[float]:
    """Return our gain of speed by the reference's, along the reference's, over short windows."""
    up = np.array([0.0, 0.0, GRAVITY_M_S2])
    accel = true[0].apply(turned.apply(force)) - up
    time_s = np.arange(len(accel)) / rate_hz
    ours = running_integral(accel, time_s)
    ratios = []
    for start in range(0, len(accel) - gain, gain // 2):
        true_gain = velocity[start + gain] - velocity[start]
        size = float(np.linalg.norm(true_gain))
        if size > FAST_M_S:
            ratios.append(float((ours[start + gain] - ours[start]) @ true_gain) / size**2)
    return ratios
