"""Errors of calibration and mounting: ``python -m cue_bench.calibration_bench``.

Made rests and rolls with exact truth. Beside the errors stand the stated uncertainties, the share
of errors inside them, and what the information in the rests allows: for a calibration the
posterior uncertainty with the noise, the wander and the spread of errors that the maker really
uses (Bayesian Cramer-Rao bound), computed here on its own from the true attitudes.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import click
import numpy as np
from rich.console import Console
from rich.table import Table

from cue_bench.calibration_bench_maker import (
    COUNT_M_S2,
    GRAVITY_M_S2,
    SensorErrors,
    any_ups,
    draw_errors,
    draw_roll,
    make_rests,
    make_roll,
    six_ups,
)
from cue_sensors.samples import FloatArray
from cue_signal.calibrate import CalibrationResult, six_rests
from cue_signal.calibrate_gravity import LocalGravity
from cue_signal.errors import SignalError
from cue_signal.roll import roll
from cue_signal.tumble import tumble

EXACT_GRAVITY = LocalGravity(GRAVITY_M_S2, 0.0, "Gravity is as made.")
REST_S, RATE_HZ, WANDER_M_S2 = 2.5, 100.0, 0.002
USED_SHARE = 0.7
"""Of each rest, after its first and last quarter second are left out."""
TRUE_SPREAD = np.array([0.3] * 3 + [0.01] * 3 + [0.005] * 3) / np.sqrt(3.0)
"""Of the maker's errors, drawn evenly."""
GROUPS = {"bias mm/s²": (0, 3, 1e3), "scale %": (3, 6, 100.0), "cross %": (6, 9, 100.0)}


@dataclass(frozen=True, eq=False)
class Sample:
    """One calibration: errors, stated uncertainties and bounds of its nine numbers."""

    errors: FloatArray
    stated: FloatArray
    bounds: FloatArray


def calibrate_once(kind: str, n: int, rng: np.random.Generator) -> Sample | None:
    """Return one made calibration, None where it was refused.

    Parameters
    ----------
    kind : str
        ``"six"`` or ``"tumble"``.
    n : int
        Attitudes of a tumble.
    rng : numpy.random.Generator
        Of all that is random.
    """
    sensor = draw_errors(rng)
    ups = six_ups(rng) if kind == "six" else any_ups(rng, n)
    samples = make_rests(ups, sensor, rng, rate_hz=RATE_HZ, rest_s=REST_S, wander_m_s2=WANDER_M_S2)
    measure = six_rests if kind == "six" else tumble
    try:
        result: CalibrationResult = measure(samples, gravity=EXACT_GRAVITY)
    except SignalError:
        return None
    return Sample(result.fit.values - true_values(sensor), result.fit.sds, rest_bounds(ups, sensor))


def true_values(sensor: SensorErrors) -> FloatArray:
    """Return the nine numbers that would correct a made sensor, in the order of the fit.

    Parameters
    ----------
    sensor : SensorErrors
        Of the maker.
    """
    undo = np.linalg.inv(sensor.accel_matrix)
    return np.concatenate(
        [
            sensor.accel_bias_m_s2,
            np.diag(undo) - 1.0,
            [undo[0, 1], undo[0, 2], undo[1, 2]],
        ]
    )


def rest_bounds(ups: FloatArray, sensor: SensorErrors) -> FloatArray:
    """Return the least standard uncertainties, shape (9,), that rests in some attitudes allow.

    Parameters
    ----------
    ups : ndarray, shape (k, 3)
        What points up.
    sensor : SensorErrors
        For its noise.
    """
    n_used = USED_SHARE * REST_S * RATE_HZ
    white = sensor.accel_noise_m_s2**2 + COUNT_M_S2**2 / 12.0
    variance = white / n_used + WANDER_M_S2**2
    x, y, z = ups.T
    # change of a corrected rest's length with each number, to first order
    rows = np.column_stack(
        [
            -ups,
            GRAVITY_M_S2 * ups**2,
            2.0 * GRAVITY_M_S2 * np.column_stack([x * y, x * z, y * z]),
        ]
    )
    information = rows.T @ rows / variance + np.diag(TRUE_SPREAD**-2.0)
    return np.asarray(np.sqrt(np.diag(np.linalg.inv(information))), dtype=np.float64)


def calibration_table(rows: Sequence[tuple[str, Sequence[Sample], int]]) -> Table:
    """Return errors of calibrations as a table to print.

    Parameters
    ----------
    rows : sequence of (str, sequence of Sample, int)
        Name, calibrations, and how many were asked for.
    """
    table = Table(title="Calibration: RMS error / bound / stated, and share inside 1 sd")
    for name in ("rests", "made", *GROUPS):
        table.add_column(name, no_wrap=name == "rests")
    for name, samples, asked in rows:
        errors, stated, bounds = (
            np.array([getattr(one, part) for one in samples])
            for part in ("errors", "stated", "bounds")
        )
        cells = []
        for first, last, unit in GROUPS.values():
            part = slice(first, last)
            rms = [unit * np.sqrt(np.mean(v[:, part] ** 2)) for v in (errors, bounds, stated)]
            inside = np.mean(np.abs(errors[:, part]) < stated[:, part])
            cells.append(f"{rms[0]:.3g} / {rms[1]:.3g} / {rms[2]:.3g}, {100 * inside:.0f} %")
        table.add_row(name, f"{len(samples)} of {asked}", *cells)
    return table


def roll_table(n: int, seed: int) -> Table:
    """Return errors of mountings from made rolls as a table to print.

    Parameters
    ----------
    n, seed : int
        Rolls a row, and seed of everything random.
    """
    table = Table(title="Mounting by a roll: degrees per angle")
    for name in (
        "sensor",
        "rolls",
        "refused",
        "RMS error",
        "stated",
        "inside 1 sd %",
        "gyro scale",
    ):
        table.add_column(name, no_wrap=name == "sensor")
    for has_gyroscope in (True, False):
        for is_calibrated in (False, True):
            cells = _roll_row(n, seed, has_gyroscope=has_gyroscope, is_calibrated=is_calibrated)
            name = "gyroscope and gravity" if has_gyroscope else "gravity alone"
            table.add_row(f"{name}, {'calibrated' if is_calibrated else 'raw'}", *cells)
    return table


def _roll_row(n: int, seed: int, *, has_gyroscope: bool, is_calibrated: bool) -> list[str]:
    """Return one row of the table of rolls."""
    offs, sds, scales = [], [], []
    for k in range(n):
        rng = np.random.default_rng([seed, k])
        errors = draw_errors(rng)
        if is_calibrated:
            errors = SensorErrors(np.eye(3), np.zeros(3), errors.gyro_bias_rad_s, errors.gyro_scale)
        made = make_roll(draw_roll(rng), errors, rng, has_gyroscope=has_gyroscope)
        try:
            found = roll(made.samples, is_calibrated=is_calibrated)
        except SignalError:
            continue
        off = np.array(found.mounting.cue_axis) - made.cue_axis
        across = np.linalg.svd(made.cue_axis[None, :])[2][1:]
        offs.append(across @ off)
        sds.append(found.sd_rad)
        if found.gyro_scale is not None and found.gyro_scale_sd is not None:
            true = 1.0 / (1.0 + float(made.cue_axis**2 @ errors.gyro_scale))
            scales.append((found.gyro_scale - true, found.gyro_scale_sd))
    off_rad, sd_rad = np.array(offs), np.array(sds)
    inside = np.mean(np.abs(off_rad) < sd_rad[:, None])
    cells = [
        str(len(offs)),
        str(n - len(offs)),
        f"{np.degrees(np.sqrt(np.mean(off_rad**2))):.2f}",
        f"{np.degrees(np.sqrt(np.mean(sd_rad**2))):.2f}",
        f"{100 * inside:.0f}",
    ]
    if not scales:
        return [*cells, ""]
    error, sd = np.array(scales).T
    return [
        *cells,
        f"{100 * np.sqrt(np.mean(error**2)):.2f} % of {100 * np.mean(sd):.2f} %, "
        f"{100 * np.mean(np.abs(error) < sd):.0f} %",
    ]


@click.command()
@click.option("--n", default=60, help="Calibrations and rolls a row.")
@click.option("--seed", default=31, help="Seed of everything random.")
def main(n: int, seed: int) -> None:
    """Print the errors of calibrations and mountings."""
    console = Console(width=150)
    rows = []
    for name, kind, attitudes in (
        ("six, leaning by 6 degrees", "six", 6),
        ("tumble of 9", "tumble", 9),
        ("tumble of 12", "tumble", 12),
        ("tumble of 20", "tumble", 20),
    ):
        made = [
            calibrate_once(kind, attitudes, np.random.default_rng([seed, attitudes, k]))
            for k in range(n)
        ]
        rows.append((name, [one for one in made if one is not None], n))
    console.print(calibration_table(rows))
    console.print(roll_table(n, seed))


if __name__ == "__main__":
    main()
