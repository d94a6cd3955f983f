"""Speed as measured beside what the samples allow: ``python -m cue_bench.bound``.

For every stroke of made sessions the least possible uncertainty of its speed is computed for the
sensor in hand (see ``bound_model``): its noise, rate, low-pass, range of scale errors, mounting,
and the stroke's own speed and times. The root mean square of these, in parts of the speed, stands
beside that of the errors as measured on the same strokes. What a calibration takes away is the
column of scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import click
import numpy as np
from rich.console import Console
from rich.table import Table

from cue_bench.bound_model import Bound, BoundSensor, BoundStroke, speed_bound
from cue_bench.maker import MadeSession, StrokeTruth, make_strokes
from cue_signal.analysis import analyse
from cue_signal.stroke import Stroke

MATCH_S = 0.1
GRAVITY_M_S2 = 9.80665
RAW_SCALE_SD = 0.01 / np.sqrt(3.0)
"""The maker draws scale errors evenly up to 1 %."""
UNKNOWN_AXIS_SD_RAD = 0.02
MOST_SPAN_S = 1.5
"""Backswings, rests and holds beyond this add nothing but work."""


@dataclass(frozen=True)
class Measured:
    """One stroke: truth, bound and what was measured.

    Parameters
    ----------
    truth : StrokeTruth
        What happened.
    bound : Bound
        Least uncertainty of its speed.
    error_m_s, stated_m_s : float
        Measured speed less the true one, and the uncertainty stated with it.
    """

    truth: StrokeTruth
    bound: Bound
    error_m_s: float
    stated_m_s: float


def bound_sensor(session: MadeSession, *, scale_sd: float = float(RAW_SCALE_SD)) -> BoundSensor:
    """Return what the bound needs of a made session's sensor.

    Parameters
    ----------
    session : MadeSession
        With its settings.
    scale_sd : float
        Relative standard uncertainty of the scale; about 0.0005 once calibrated.
    """
    own, known = session.settings.sensor, session.settings.knowledge
    return BoundSensor(
        rate_hz=own.rate_hz,
        cutoff_hz=min(own.cutoff_ratio * own.rate_hz, 450.0),
        has_gyroscope=own.has_gyroscope,
        accel_noise_m_s2_sqrt_hz=own.accel_noise_g_sqrt_hz * GRAVITY_M_S2,
        gyro_noise_rad_s_sqrt_hz=float(np.deg2rad(own.gyro_noise_deg_s_sqrt_hz)),
        scale_sd=scale_sd,
        axis_sd_rad=known.axis_sd_rad if known.is_axis_known else UNKNOWN_AXIS_SD_RAD,
    )


def bound_stroke(truth: StrokeTruth) -> BoundStroke:
    """Return what the bound needs of a true stroke.

    Parameters
    ----------
    truth : StrokeTruth
        With its times.
    """
    pause = max(truth.rear_pause_s, 0.0)
    back = truth.impact_time_s - truth.delivery_s - pause - truth.backswing_start_s
    return BoundStroke(
        tip_speed_m_s=truth.tip_speed_m_s,
        rest_s=float(np.clip(truth.backswing_start_s - truth.rest_start_s, 0.1, MOST_SPAN_S)),
        backswing_s=float(np.clip(back, 0.2, MOST_SPAN_S)),
        pause_s=float(np.clip(pause, 0.0, MOST_SPAN_S)),
        delivery_s=float(np.clip(truth.delivery_s, 0.06, MOST_SPAN_S)),
        follow_s=float(np.clip(truth.follow_through_end_s - truth.impact_time_s, 0.1, 0.6)),
    )


def measured_of(session: MadeSession, *, scale_sd: float = float(RAW_SCALE_SD)) -> list[Measured]:
    """Return the strokes of a made session that were found, with their bounds.

    Strokes whose delivery was clipped or fell into a gap are left out.

    Parameters
    ----------
    session : MadeSession
        Recording and truth.
    scale_sd : float
        See ``bound_sensor``.
    """
    strokes = analyse(session.recording).strokes
    sensor = bound_sensor(session, scale_sd=scale_sd)
    found = []
    for truth in session.truth.strokes:
        if truth.is_delivery_clipped or truth.has_gap_in_delivery:
            continue
        near = _nearest(strokes, truth.impact_time_s)
        if near is not None:
            bound = speed_bound(sensor, bound_stroke(truth))
            error = near.tip_speed_m_s - truth.tip_speed_m_s
            found.append(Measured(truth, bound, error, near.tip_speed_sd_m_s))
    return found


def table_of(rows: Sequence[tuple[str, Sequence[Measured]]]) -> Table:
    """Return bounds and errors as a table to print, all in per cent of the speed.

    Parameters
    ----------
    rows : sequence of (str, sequence of Measured)
        Name and strokes of each row.
    """
    table = Table(title="Speed at the hit: root mean squares in % of the speed")
    names = ("sensor", "strokes", "bound, samples", "bound, scale", "bound, all")
    for name in (*names, "measured", "median", "stated", "measured/bound"):
        table.add_column(
            name, justify="left" if name == "sensor" else "right", no_wrap=name == "sensor"
        )
    for name, strokes in rows:
        if not strokes:
            continue
        speed = np.array([one.truth.tip_speed_m_s for one in strokes])
        parts = np.array(
            [
                (
                    one.bound.samples_m_s,
                    one.bound.scale_m_s,
                    one.bound.total_m_s,
                    one.error_m_s,
                    one.stated_m_s,
                )
                for one in strokes
            ]
        )
        share = 100.0 * np.abs(parts) / speed[:, None]
        samples, scale, total, error, stated = np.sqrt(np.mean(share**2, axis=0))
        table.add_row(
            name,
            str(len(strokes)),
            f"{samples:.2f}",
            f"{scale:.2f}",
            f"{total:.2f}",
            f"{error:.2f}",
            f"{np.median(share[:, 3]):.2f}",
            f"{stated:.2f}",
            f"{error / total:.1f}",
        )
    return table


def sessions_of(
    rate_hz: float,
    *,
    has_gyroscope: bool,
    is_axis_known: bool,
    n_strokes: int,
    seeds: Sequence[int],
) -> list[MadeSession]:
    """Return made sessions for one row of the table.

    Parameters
    ----------
    rate_hz : float
        Sensor rate.
    has_gyroscope, is_axis_known : bool
        What the sensor measures, and whether the mounting was.
    n_strokes : int
        In each session.
    seeds : sequence of int
        One session each.
    """
    return [
        make_strokes(
            n_strokes,
            seed,
            rate_hz=rate_hz,
            has_gyroscope=has_gyroscope,
            known_mounting=is_axis_known,
        )
        for seed in seeds
    ]


def _nearest(strokes: Sequence[Stroke], time_s: float) -> Stroke | None:
    """Return the stroke at a time, None where there is none."""
    near = [one for one in strokes if abs(one.impact_time_s - time_s) < MATCH_S]
    return min(near, key=lambda one: abs(one.impact_time_s - time_s), default=None)


def _by_causes(console: Console) -> None:
    """Print the bound for one stroke of each pace, by sensor."""
    table = Table(title="Bound for one stroke, % of the speed: samples / with a raw scale")
    paces = (BoundStroke(0.5, delivery_s=0.5), BoundStroke(), BoundStroke(3.5, delivery_s=0.15))
    table.add_column("sensor", no_wrap=True)
    for stroke in paces:
        table.add_column(f"{stroke.tip_speed_m_s:.1f} m/s in {stroke.delivery_s:.2f} s")
    for has_gyroscope in (True, False):
        for rate in (50.0, 100.0, 200.0, 416.0):
            sensor = BoundSensor(rate, 0.4 * rate, has_gyroscope)
            cells = []
            for stroke in paces:
                bound = speed_bound(sensor, stroke)
                share = 100.0 / stroke.tip_speed_m_s
                cells.append(f"{share * bound.samples_m_s:.2f} / {share * bound.total_m_s:.2f}")
            name = f"{rate:.0f} Hz, {'gyroscope' if has_gyroscope else 'accelerometer alone'}"
            table.add_row(name, *cells)
    console.print(table)


@click.command()
@click.option("--rates", default="100,200", help="Sensor rates in Hz.")
@click.option("--seeds", default="911,912", help="Seeds of the made sessions.")
@click.option("--strokes", default=12, help="Strokes a session.")
@click.option("--soft-m-s", default=0.8, help="Strokes below this pace get rows of their own.")
def main(rates: str, seeds: str, strokes: int, soft_m_s: float) -> None:
    """Print bounds and measured errors side by side."""
    console = Console(width=140)
    _by_causes(console)
    rows: list[tuple[str, Sequence[Measured]]] = []
    for rate in map(float, rates.split(",")):
        for has_gyroscope in (True, False):
            for is_axis_known in (True, False):
                sessions = sessions_of(
                    rate,
                    has_gyroscope=has_gyroscope,
                    is_axis_known=is_axis_known,
                    n_strokes=strokes,
                    seeds=[int(seed) for seed in seeds.split(",")],
                )
                found = [one for session in sessions for one in measured_of(session)]
                name = (
                    f"{rate:.0f} Hz, {'gyro' if has_gyroscope else 'accel alone'}, "
                    f"axis {'known' if is_axis_known else 'unknown'}"
                )
                soft = [one for one in found if one.truth.tip_speed_m_s < soft_m_s]
                firm = [one for one in found if one.truth.tip_speed_m_s >= soft_m_s]
                rows += [(f"{name}, soft", soft), (name, firm)]
    console.print(table_of(rows))


if __name__ == "__main__":
    main()
