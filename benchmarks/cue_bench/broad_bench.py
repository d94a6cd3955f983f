"""Turning, tilt and short-window speed on real recordings: ``python -m cue_bench.broad_bench``.

BROAD, the Berlin Robust Orientation Estimation Assessment Dataset (Laidig, Caruso, Cereatti,
Seel, Data 6(7), 2021, doi 10.3390/data6070072, CC BY 4.0). Its folder is given as an argument;
the files are not part of this repository. There is no cue in it: what is checked is the turning
of a hand-held sensor over the length of a stroke, and the gain of speed over 0.3 s, with our own
turning and with the offline filter of the vqf package on the same data, and whether the causes of
uncertainty that strokes are given (scale, tilt, gravity reference) cover the errors.

Sensor and cameras differ by a constant lag of up to 3 ms, in which a fast hand gains 0.1 m/s. It is
found as one number a trial, from all its windows, printed, and taken out for both methods alike.
"""

from dataclasses import dataclass, replace
from pathlib import Path

import click
import numpy as np
from rich.console import Console
from rich.table import Table
from scipy.io import loadmat
from scipy.signal import savgol_filter
from scipy.spatial.transform import Rotation
from vqf import offlineVQF  # type: ignore[import-untyped]

from cue_sensors.samples import BoolArray, FloatArray
from cue_signal.integrals import running_integral
from cue_signal.turn_loops import running_product

GRAVITY_M_S2 = 9.81
SPAN_S = 2.0
GAIN_S = 0.3
FAST_M_S = 0.7
"""Gains of speed below this are too small to compare."""
SCALE_SD = 0.006
"""An accelerometer's scale: up to 1 % off, evenly likely."""
GYRO_SCALE_SD = 0.006
BIAS_SD_RAD_S = 0.0017
"""A gyroscope's bias left over: 0.1 degrees per second."""
GRAVITY_SD_M_S2 = 0.02
REFERENCE_SD_M_S = 0.008
LEVER_M = 0.003
"""The reference's own: half a millimetre of the markers at both ends of a fit over 50 ms, and a
lever of millimetres between marker body and sensor (taken, not measured). What the fit smooths
away is seen by how a shorter fit differs."""
FIT_SAMPLES, SHORT_FIT_SAMPLES = 15, 9


@dataclass(frozen=True, eq=False)
class Trial:
    """One recording with its reference.

    Parameters
    ----------
    name : str
        Of the file.
    rate_hz : float
        Sampling rate.
    force, rate : ndarray, shape (n, 3)
        Specific force, and angular rate with its bias at rest taken off.
    reference : scipy.spatial.transform.Rotation
        Sensor to room, z up; any where not known.
    velocity : ndarray, shape (n, 3)
        By the cameras.
    smoothed_m_s : ndarray, shape (n,)
        By how much a shorter fit to the places differs.
    is_known, is_still : ndarray of bool, shape (n,)
        Where the cameras saw the sensor; where it was not moved.
    filtered : scipy.spatial.transform.Rotation
        Sensor to level by the offline filter, six axes.
    """

    name: str
    rate_hz: float
    force: FloatArray
    rate: FloatArray
    reference: Rotation
    velocity: FloatArray
    smoothed_m_s: FloatArray
    is_known: BoolArray
    is_still: BoolArray
    filtered: Rotation


@dataclass(frozen=True, eq=False)
class Figures:
    """What one trial gives.

    Parameters
    ----------
    turn_deg, tilt_deg, filter_tilt_deg : float
        Root mean square error of the turn over two seconds, of its tilt part, and of the filter's
        tilt at the same instants.
    gains, filter_gains : ndarray, shape (k,)
        Gain of speed by the reference's: ours and the filter's.
    inside : ndarray of bool, shape (k,)
        Whether our error lies within one stated standard uncertainty.
    """

    turn_deg: float
    tilt_deg: float
    filter_tilt_deg: float
    gains: FloatArray
    filter_gains: FloatArray
    inside: BoolArray


def read_trial(path: Path) -> Trial:
    """Return a trial from its Matlab file.

    Parameters
    ----------
    path : Path
        Of the file.
    """
    data = loadmat(str(path), squeeze_me=True)
    rate_hz = float(data["sampling_rate"])
    rate, force = np.asarray(data["imu_gyr"]), np.asarray(data["imu_acc"])
    place = np.asarray(data["opt_pos"])
    quaternion = np.asarray(data["opt_quat"])[:, [1, 2, 3, 0]]
    is_known = np.isfinite(np.hstack([quaternion, place])).all(axis=1)
    still = ~np.asarray(data["movement"], dtype=bool)
    whole = np.ascontiguousarray(rate), np.ascontiguousarray(force)
    velocity, short = (
        savgol_filter(place, n, 3, deriv=1, delta=1.0 / rate_hz, axis=0)
        for n in (FIT_SAMPLES, SHORT_FIT_SAMPLES)
    )
    level = np.asarray(offlineVQF(*whole, None, 1.0 / rate_hz)["quat6D"])
    return Trial(
        name=path.stem,
        rate_hz=rate_hz,
        force=force,
        rate=np.asarray(rate - np.median(rate[still], axis=0), dtype=np.float64),
        reference=Rotation.from_quat(np.where(is_known[:, None], quaternion, [0, 0, 0, 1.0])),
        velocity=velocity,
        smoothed_m_s=np.linalg.norm(velocity - short, axis=1) / np.sqrt(3.0),
        is_known=np.asarray(is_known, dtype=np.bool_),
        is_still=np.asarray(still, dtype=np.bool_),
        filtered=Rotation.from_quat(level[:, [1, 2, 3, 0]]),
    )


def lag_s(trial: Trial) -> float:
    """Return by how much the sensor lags the cameras: one number from all fast windows.

    Parameters
    ----------
    trial : Trial
        As read.
    """
    span, gain = round(SPAN_S * trial.rate_hz), round(GAIN_S * trial.rate_hz)
    errors, changes = [], []
    for part in _stretches(trial):
        ours = trial.reference[part.start] * _turned(trial, part)
        accel = ours.apply(trial.force[part]) - np.array([0.0, 0.0, GRAVITY_M_S2])
        speed = running_integral(accel, np.arange(span) / trial.rate_hz)
        velocity = trial.velocity[part]
        for start in range(0, span - gain, gain // 2):
            true = velocity[start + gain] - velocity[start]
            size = float(np.linalg.norm(true))
            if size > FAST_M_S:
                errors.append(float((speed[start + gain] - speed[start] - true) @ true) / size)
                changes.append(float((accel[start + gain] - accel[start]) @ true) / size)
    if not errors:
        return 0.0
    return -float(np.dot(errors, changes) / np.dot(changes, changes))


def shifted(trial: Trial, by_s: float) -> Trial:
    """Return a trial with its reference that much later: what the sensor sees as it comes.

    Parameters
    ----------
    trial : Trial
        As read.
    by_s : float
        See ``lag_s``.
    """
    time_s = np.arange(len(trial.rate)) / trial.rate_hz
    velocity = np.column_stack([np.interp(time_s - by_s, time_s, v) for v in trial.velocity.T])
    back = Rotation.from_rotvec(-by_s * trial.rate)
    return replace(trial, velocity=velocity, reference=trial.reference * back)


def _stretches(trial: Trial) -> list[slice]:
    """Return the stretches of two seconds that the cameras saw and in which there is motion."""
    span = round(SPAN_S * trial.rate_hz)
    parts = [slice(first, first + span) for first in range(0, len(trial.rate) - span, span)]
    return [p for p in parts if trial.is_known[p].all() and trial.is_still[p].mean() <= 0.9]


def _turned(trial: Trial, part: slice) -> Rotation:
    """Return our turning over a stretch."""
    n = part.stop - part.start
    steps_s = np.full(n - 1, 1.0 / trial.rate_hz)
    return Rotation.from_quat(running_product(np.ascontiguousarray(trial.rate[part]), steps_s))


def figures_of(trial: Trial) -> Figures:
    """Return the errors over all stretches of two seconds with motion in them.

    Parameters
    ----------
    trial : Trial
        Read from its file.
    """
    turns: list[list[float]] = []
    gains = [np.empty((0, 3))]
    for part in _stretches(trial):
        ours = trial.reference[part.start] * _turned(trial, part)
        turns.append(
            [
                float((trial.reference[part][-1].inv() * ours[-1]).magnitude()),
                _tilt(ours[-1], trial.reference[part][-1]),
                _tilt(trial.filtered[part][-1], trial.reference[part][-1]),
            ]
        )
        gains.append(_gains(trial, part, ours))
    rms = np.sqrt(np.mean(np.square(turns), axis=0)) if turns else np.full(3, np.nan)
    turn, tilt, filter_tilt = np.degrees(rms)
    ours_by, filter_by, excess = np.vstack(gains).T
    return Figures(
        float(turn), float(tilt), float(filter_tilt), ours_by, filter_by, np.abs(excess) < 1.0
    )


def _tilt(one: Rotation, other: Rotation) -> float:
    """Return the angle between what two rotations to the room call up."""
    up = np.array([0.0, 0.0, 1.0])
    cosine = float(one.inv().apply(up) @ other.inv().apply(up))
    return float(np.arccos(np.clip(cosine, -1.0, 1.0)))


def _gains(trial: Trial, part: slice, ours: Rotation) -> FloatArray:
    """Return, for each fast window of 0.3 s: our gain and the filter's, both by the reference's.

    The third column is our error in stated standard uncertainties.
    """
    gain = round(GAIN_S * trial.rate_hz)
    force, velocity = trial.force[part], trial.velocity[part]
    time_s = np.arange(len(force)) / trial.rate_hz
    up = np.array([0.0, 0.0, GRAVITY_M_S2])
    speed = running_integral(ours.apply(force) - up, time_s)
    # the filter knows no heading: it is lent the reference's at the start
    lent = trial.filtered[part]
    heading = _heading(trial.reference[part][0] * lent[0].inv())
    filtered = running_integral((heading * lent).apply(force) - up, time_s)
    turned = running_integral(np.linalg.norm(trial.rate[part], axis=1)[:, None], time_s)[:, 0]
    speed_of_turn = np.linalg.norm(trial.rate[part], axis=1)
    smoothed = trial.smoothed_m_s[part]
    rows = []
    for start in range(0, len(force) - gain, gain // 2):
        stop = start + gain
        true = velocity[stop] - velocity[start]
        size = float(np.linalg.norm(true))
        if size <= FAST_M_S:
            continue
        mine = float((speed[stop] - speed[start]) @ true) / size
        theirs = float((filtered[stop] - filtered[start]) @ true) / size
        tilt = BIAS_SD_RAD_S * time_s[stop] + GYRO_SCALE_SD * float(turned[stop]) / np.sqrt(3.0)
        sd = np.linalg.norm(
            [
                SCALE_SD * size,
                (GRAVITY_M_S2 * tilt / np.sqrt(3.0) + GRAVITY_SD_M_S2) * GAIN_S,
                REFERENCE_SD_M_S,
                LEVER_M * float(np.hypot(speed_of_turn[start], speed_of_turn[stop])) / np.sqrt(1.5),
                float(np.hypot(smoothed[start], smoothed[stop])),
            ]
        )
        rows.append([mine / size, theirs / size, (mine - size) / float(sd)])
    return np.array(rows, dtype=np.float64).reshape(-1, 3)


def _heading(rotation: Rotation) -> Rotation:
    """Return the turn about the vertical in a rotation."""
    z, w = rotation.as_quat()[2:]
    return Rotation.from_quat([0.0, 0.0, z, w] if z or w else [0.0, 0.0, 0.0, 1.0])


def broad_table(folder: Path) -> Table:
    """Return the errors on every trial in a folder.

    Parameters
    ----------
    folder : Path
        Holds the trials as Matlab files.
    """
    table = Table(title="Real recordings: errors against motion capture")
    for name in (
        "trial",
        "lag ms",
        "turn over 2 s, deg",
        "tilt of it",
        "vqf tilt",
        "cases",
        "gain in 0.3 s",
        "RMS %",
        "vqf RMS %",
        "ratio",
        "inside 1 sd %",
    ):
        table.add_column(name, justify="left" if name == "trial" else "right")
    everything = []
    for path in sorted(folder.glob("*.mat")):
        trial = read_trial(path)
        lag = lag_s(trial)
        found = figures_of(shifted(trial, lag))
        everything.append(found)
        table.add_row(
            path.stem[:28],
            f"{1000 * lag:.1f}",
            f"{found.turn_deg:.2f}",
            f"{found.tilt_deg:.2f}",
            f"{found.filter_tilt_deg:.2f}",
            *_gain_cells(found.gains, found.filter_gains, found.inside),
        )
    if everything:
        table.add_row(
            "all",
            "",
            "",
            "",
            "",
            *_gain_cells(
                np.concatenate([one.gains for one in everything]),
                np.concatenate([one.filter_gains for one in everything]),
                np.concatenate([one.inside for one in everything]),
            ),
        )
    return table


def _gain_cells(gains: FloatArray, filtered: FloatArray, inside: BoolArray) -> list[str]:
    """Return the cells on gains of speed."""
    if len(gains) == 0:
        return ["0", "", "", "", "", ""]
    mine, theirs = (float(np.sqrt(np.mean((part - 1.0) ** 2))) for part in (gains, filtered))
    return [
        str(len(gains)),
        f"{np.median(gains):.3f}",
        f"{100 * mine:.2f}",
        f"{100 * theirs:.2f}",
        f"{mine / theirs:.2f}",
        f"{100 * np.mean(inside):.0f}",
    ]


@click.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
def main(folder: Path) -> None:
    """Print errors on the BROAD trials (Matlab files) in FOLDER."""
    if not any(folder.glob("*.mat")):
        raise click.ClickException(f"There is no .mat file in {folder}. Give the trials' folder.")
    Console(width=160).print(broad_table(folder))


if __name__ == "__main__":
    main()
