"""What limits a stroke's numbers, and how sure its speed is."""

import math
from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import Calibration, Mounting
from cue_signal.after import AFTER_SD_M_S, LOSS_SHARE, LOSS_SHARE_SD
from cue_signal.axis import CueAxis
from cue_signal.follow import Follow
from cue_signal.hit import HitFit
from cue_signal.pointing import gained_m_s, turning_of
from cue_signal.strapdown import Path
from cue_signal.stroke import StrokeFlag
from cue_signal.swing import Swing
from cue_signal.windows import Window

SCALE_SD = 0.005
"""Standard uncertainty of the scale along a cue that lies anyhow in the sensor: each axis up to 1 %
off, evenly likely, and cross terms of half of that."""
UNRESTED_SD_M_S = 0.03
UNRESTED_TILT_SD_M_S = 0.05
"""Without a rest before, where the cue stood is taken from a feather's turn, which may be the wrong
one: root mean square of made strokes beyond what their drift explains, with and without a
gyroscope; one in fifty was 0.25 m/s off."""
OFF_AXIS_SD_M = 0.016
"""Off the cue's axis, in any one direction across it: a butt's radius of 14 to 15 mm and half a
sensor's height (common practice, no source)."""
FEW_SAMPLES = 8
CLIPPED_SHARE = 0.3

BALANCE_SHARE_SD = 0.04
MOST_BALANCE_LOG_ODDS = 6.0
"""The speeds before and after are not trusted further: what was taken for the rest after may have
been a gentle follow-through."""


@dataclass(frozen=True, eq=False)
class Instrument:
    """What is known of sensor and cue before a stroke.

    Parameters
    ----------
    axis : CueAxis
        The cue in the sensor's frame.
    mounting : Mounting
        For the distance from sensor to tip.
    scale_sd : float
        Relative standard uncertainty of a force along the cue.
    """

    axis: CueAxis
    mounting: Mounting
    scale_sd: float = SCALE_SD


def scale_sd_of(calibration: Calibration | None) -> float:
    """Return how sure the accelerometer's scale is: as its calibration states, else as usual.

    Parameters
    ----------
    calibration : Calibration or None
        Of the sensor.
    """
    stated = None if calibration is None else calibration.accel_scale_sd
    return SCALE_SD if stated is None else stated


def balance_log_odds(fit: HitFit, follow: Follow, tip_speed: float, speed_sd: float) -> float:
    """Return the log odds of a hit against none, by the speeds before and after it.

    Parameters
    ----------
    fit, follow : HitFit, Follow
        The hit, and what the cue did after it.
    tip_speed, speed_sd : float
        Speed before it and its standard uncertainty, in m/s.
    """
    if not follow.has_rest:
        return 0.0
    lost = tip_speed - (follow.speed_after_m_s - fit.regained_m_s)
    unsure = np.hypot(AFTER_SD_M_S + BALANCE_SHARE_SD * tip_speed, speed_sd)
    spread = np.hypot(LOSS_SHARE_SD * tip_speed, unsure)
    hit = -0.5 * ((lost - LOSS_SHARE * tip_speed) / spread) ** 2 - np.log(spread)
    none = -0.5 * (lost / unsure) ** 2 - np.log(unsure)
    return float(np.clip(hit - none, -MOST_BALANCE_LOG_ODDS, MOST_BALANCE_LOG_ODDS))


def speed_sd_m_s(
    window: Window,
    instrument: Instrument,
    swing: Swing,
    fit: HitFit,
    anchor: int,
    tip_speed: float,
    flags: frozenset[StrokeFlag],
    lever_sd_m_s: float,
) -> float:
    """Return the standard uncertainty of the tip speed from its causes.

    Parameters
    ----------
    window, instrument, swing, fit : Window, Instrument, Swing, HitFit
        Samples and what was made of them.
    anchor : int
        Sample from which the fit's gain of speed counts.
    tip_speed : float
        In m/s.
    flags : frozenset of StrokeFlag
        What limits the stroke.
    lever_sd_m_s : float
        From `lever_sds`.
    """
    causes = [
        swing.speed.speed_sd_m_s(anchor),
        fit.gain_sd_m_s,
        instrument.scale_sd * tip_speed,
        instrument.axis.sd_rad**2 * tip_speed,
        instrument.axis.sd_rad
        * across_m_s(window, swing.path, swing.phases.rear_index, swing.clear_index),
        lever_sd_m_s,
        swing.speed_spread_m_s,
    ]
    if StrokeFlag.NO_REST_BEFORE in flags:
        has_gyroscope = window.rate_rad_s is not None
        causes.append(UNRESTED_SD_M_S if has_gyroscope else UNRESTED_TILT_SD_M_S)
    if StrokeFlag.CLIPPED_DELIVERY in flags:
        causes.append(_missing_m_s(window, swing, anchor))
    return float(np.sqrt(np.sum(np.square(causes))))


def flags_of(
    window: Window, instrument: Instrument, swing: Swing, follow: Follow, fit: HitFit
) -> frozenset[StrokeFlag]:
    """Return what limits the measures.

    Parameters
    ----------
    window, instrument, swing, fit : Window, Instrument, Swing, HitFit
        Samples and what was made of them.
    follow : Follow
        The follow-through.
    """
    time_s = window.time_s
    start = swing.ball.index
    near_hit = np.abs(time_s - fit.end_s) < 0.02 + 3 * window.period_s
    before = (time_s < fit.end_s - 1.5 * window.period_s) & (np.arange(len(time_s)) >= start)
    end = int(np.searchsorted(time_s, follow.end_s))
    gaps = window.gap_indices
    late_blow = time_s > fit.end_s - 1.5 * window.period_s
    found = {
        StrokeFlag.GAP: bool(np.any((gaps > start) & (gaps <= end))),
        StrokeFlag.CLIPPED_DELIVERY: bool(np.any(window.is_clipped & before)),
        StrokeFlag.CLIPPED_HIT: bool(np.any(window.is_clipped & near_hit & late_blow)),
        StrokeFlag.NO_REST_BEFORE: swing.address is None,
        StrokeFlag.NO_REST_AFTER: not follow.has_rest,
        StrokeFlag.AXIS_FROM_STROKES: instrument.axis.source == "strokes",
        StrokeFlag.NO_GYROSCOPE: window.rate_rad_s is None,
        StrokeFlag.NO_TIP_DISTANCE: instrument.mounting.sensor_to_tip_m is None,
        StrokeFlag.FEW_SAMPLES: (fit.end_s - swing.phases.delivery_start_s) / window.period_s
        < FEW_SAMPLES,
    }
    return frozenset(flag for flag, is_set in found.items() if is_set)


def lever_sds(window: Window, path: Path, clear: int) -> tuple[float, float]:
    """Return what the turning cue adds to speed and acceleration beside its axis, as uncertainty.

    A sensor sits on the butt, not in it, and on which side of it is not told. Zero without a
    gyroscope.

    Parameters
    ----------
    window, path : Window, Path
        Samples and motion.
    clear : int
        Last sample clear of the blow.
    """
    if path.turn_rad is None:
        return 0.0, 0.0
    rate, change = turning_of(window, path.turn_rad, clear, clear + 1)
    return OFF_AXIS_SD_M * math.hypot(*rate[1:]), OFF_AXIS_SD_M * math.hypot(*change[1:])


def across_m_s(window: Window, path: Path, rear: int, clear: int) -> float:
    """Return the sensor's speed across the cue at the hit: an axis that is off sees a part of it.

    The butt rises, falls and swings as the cue goes forward.

    Parameters
    ----------
    window, path : Window, Path
        Samples and motion.
    rear, clear : int
        Sample at the rear, and last one clear of the blow.
    """
    return float(np.linalg.norm(gained_m_s(window, path, rear, clear)[1:]))


def _missing_m_s(window: Window, swing: Swing, anchor: int) -> float:
    """Return the speed that clipped samples of the delivery may hide."""
    span = slice(swing.phases.delivery_start_index, anchor + 1)
    clipped_s = np.count_nonzero(window.is_clipped[span]) * window.period_s
    return float(CLIPPED_SHARE * np.abs(swing.speed.accel_m_s2[span]).max() * clipped_s)
