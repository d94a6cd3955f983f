"""One suspected hit -> one stroke with all its measures, or the reason why it is none."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from cue_sensors.samples import FloatArray, Mounting
from cue_signal.account import Rejected
from cue_signal.axis import bridge_distance_m
from cue_signal.bias import GyroBias
from cue_signal.doubt import Instrument, balance_log_odds, flags_of, lever_sds, speed_sd_m_s
from cue_signal.feathers import count_feathers
from cue_signal.follow import Follow, follow_through
from cue_signal.hit import HitFit, fit_hit
from cue_signal.hit_model import HitData
from cue_signal.integrals import running_integral
from cue_signal.pointing import Pointing, pointing
from cue_signal.rest import Rest, rest_at_end
from cue_signal.smoothness import spectral_arc_length
from cue_signal.stroke import (
    BALL_SPEED_PER_TIP_SPEED,
    BALL_SPEED_PER_TIP_SPEED_SD,
    Stroke,
    StrokeTrace,
)
from cue_signal.swing import SLOWEST_M_S, Swing, find_blow, find_swing, with_hit
from cue_signal.tip import TipPath, tip_path
from cue_signal.windows import Window, median

LEAST_LOG_ODDS = 6.0
"""How much better a hit must explain the samples than a smooth movement (natural logarithm)."""
LEAST_ENDS_LOG_ODDS = -1.0
"""The same against a push that ends without a blow, which at 50 Hz is much alike."""
SURELY_ENDS_LOG_ODDS = -5.0
"""Below this no other account of the rests makes a hit of it: they hardly bend the samples about
the blow, so that the odds of knocks among 777 made strokes moved by 1 at most."""
LOSS_LEAST, LOSS_MOST = 0.08, 0.75
"""Share of its speed a cue can lose to a ball, uncertainty allowed for."""
LOSS_SLACK_M_S = 0.05
LEVEL_M_S2 = 1.0
"""Within this the cue is called level."""
FADED_SHARE = 0.7
FADED_LOSS = 0.2
FADED_LOG_ODDS = 3.0
"""A swing that has lost so much of its peak speed must lose this share at once to be a hit, and
the loss must be plain against a push that ends."""
DOUBT_SHARE, DOUBT_SDS = 0.05, 3.0
"""The blow and the rest after it may differ in the speed lost by this share of the tip's speed
besides the blow's own uncertainty, times so many standard deviations."""
ACCEL_SD_M_S2 = 0.015
ACCEL_TILT_SD_M_S2 = 0.045
"""What tremor, cross-axis terms and, without a gyroscope, the cue's tilt at the hit add to the
acceleration there."""
NOISE_LEAST_M_S2 = 0.02
TRACE_BEFORE_S = 2.5
"""A stroke out of long feathers is drawn from so long before its backswing."""
BLOW_OVER_S = 0.02
"""From the middle of the blow until it has rung out."""
SETTLED_RAD = 0.12
SETTLED_M_S2 = 2.0
"""While the cue is held within this of its direction at the ball, the player has settled."""


@dataclass(frozen=True, eq=False)
class Measured:
    """A stroke with what later steps want to know about it.

    Parameters
    ----------
    stroke : Stroke
        The measures.
    pointing : Pointing
        The cue's direction in the sensor's frame, as this stroke shows it.
    ends_log_odds : float
        How much better a hit explains the samples than a push that ends (natural logarithm).
    is_rest_after_doubtful : bool
        Whether the speed that the rest after the hit leaves is not the one that the blow left.
    """

    stroke: Stroke
    pointing: Pointing
    ends_log_odds: float
    is_rest_after_doubtful: bool


def measure(
    window: Window,
    about_s: float,
    instrument: Instrument,
    *,
    rests: list[Rest],
    bias: GyroBias | None,
) -> Measured | Rejected:
    """Return the stroke around a sudden loss of speed.

    Parameters
    ----------
    window : Window
        From some seconds before to the end of the follow-through.
    about_s : float
        Time of the loss.
    instrument : Instrument
        The cue in the sensor's frame, and how sure scale and place are.
    rests : list of Rest
        The window's quiet stretches.
    bias : GyroBias or None
        The gyroscope's bias.

    Returns
    -------
    Measured or Rejected
        Never raises for what a recording holds.
    """
    peak = find_blow(window, instrument.axis.direction, about_s)
    if peak is None:
        return Rejected("no sudden loss of speed")
    rests = list(rests)
    end = rest_at_end(window)
    if end is not None and not any(rest.stop > end.start for rest in rests):
        rests.append(end)
    found = _account(window, instrument, bias, rests, peak)
    before = [rest for rest in rests if rest.start <= peak + 2]
    is_sure = found.is_sure if isinstance(found, Rejected) else not found.is_rest_after_doubtful
    if is_sure or len(before) == len(rests):
        return found
    # a gentle follow-through is as quiet as a rest: the blow alone has to tell
    alone = _account(window, instrument, bias, before, peak)
    return alone if isinstance(alone, Measured) else found


def _account(
    window: Window,
    instrument: Instrument,
    bias: GyroBias | None,
    rests: list[Rest],
    peak: int,
) -> Measured | Rejected:
    """Return the stroke as one account of the rests has it."""
    bridge_m = bridge_distance_m(instrument.mounting.sensor_to_tip_m)
    swing = find_swing(window, instrument.axis, rests, peak, bridge_m=bridge_m, bias=bias)
    if isinstance(swing, Rejected):
        return swing
    fit = fit_hit(_hit_data(window, swing, peak))
    if fit.smooth_log_odds < LEAST_LOG_ODDS:
        odds = fit.smooth_log_odds
        return Rejected(f"a swing without a hit explains it as well (log odds {odds:.1f})")
    swing = with_hit(window, swing, fit)
    anchor = int(np.argmin(np.abs(window.time_s - fit.anchor_s)))
    tip_speed = float(swing.speed.speed_m_s[anchor]) + fit.gain_m_s
    if tip_speed < SLOWEST_M_S:
        return Rejected(f"only {tip_speed:.2f} m/s at the hit")
    follow = _follow(window, swing, fit, rests, peak, tip_speed)
    speed_sd = swing.speed.speed_sd_m_s(anchor)
    odds = fit.ends_log_odds + balance_log_odds(fit, follow, tip_speed, speed_sd)
    if odds < LEAST_ENDS_LOG_ODDS:
        is_sure = fit.ends_log_odds < SURELY_ENDS_LOG_ODDS
        return Rejected(f"a push that ends explains it as well (log odds {odds:.1f})", is_sure)
    share = _lost_share(fit, follow, tip_speed)
    slack = (LOSS_SLACK_M_S + 2.0 * swing.speed.speed_sd_m_s(anchor)) / max(tip_speed, 0.1)
    if not LOSS_LEAST - slack < share < LOSS_MOST + slack:
        return Rejected(f"the cue lost {100 * share:.0f} % of its speed, which no ball takes")
    stroke = _stroke(window, instrument, swing, fit, follow, anchor, tip_speed)
    is_faded = tip_speed < FADED_SHARE * stroke.peak_speed_m_s
    if is_faded and (fit.lost_m_s < FADED_LOSS * tip_speed or fit.ends_log_odds < FADED_LOG_ODDS):
        return Rejected("the swing had faded before it, and little was lost at once")
    off_m_s = abs(share * tip_speed - fit.lost_m_s - fit.hidden_m_s)
    doubt_m_s = float(np.hypot(fit.lost_sd_m_s, DOUBT_SHARE * tip_speed))
    return Measured(
        stroke=stroke,
        pointing=pointing(
            window,
            swing.path,
            instrument.axis,
            swing.phases.rear_index,
            swing.clear_index,
            bridge_m=bridge_m,
        ),
        ends_log_odds=fit.ends_log_odds,
        is_rest_after_doubtful=off_m_s > DOUBT_SDS * doubt_m_s,
    )


def _lost_share(fit: HitFit, follow: Follow, tip_speed: float) -> float:
    """Return the share of its speed that the cue lost, by the rest after if there is one."""
    if tip_speed <= 0.0:
        return 1.0
    if not follow.has_rest:
        return (fit.lost_m_s + fit.hidden_m_s) / tip_speed
    return 1.0 - (follow.speed_after_m_s - fit.regained_m_s) / tip_speed


def _hit_data(window: Window, swing: Swing, peak: int) -> HitData:
    """Return the axial samples about the hit for the fit."""
    clear = swing.clear_index
    late = swing.speed.accel_m_s2[max(0, clear - 2) : clear + 1]
    speed = float(swing.speed.speed_m_s[clear]) + float(late.mean()) * 2 * window.period_s
    delivery_s = float(window.time_s[peak]) - swing.phases.delivery_start_s
    return HitData(
        time_s=window.time_s,
        accel_m_s2=swing.speed.accel_m_s2,
        is_usable=~window.is_clipped,
        is_clipped=window.is_clipped,
        peak_index=peak,
        period_s=window.period_s,
        noise_m_s2=_noise_m_s2(swing.path.axial_m_s2),
        delivery_s=max(delivery_s, 4 * window.period_s),
        speed_m_s=max(speed, 0.1),
        over_s=float(window.time_s[_over_index(window, peak)]),
    )


def _over_index(window: Window, peak: int) -> int:
    """Return the first sample at which the blow has rung out."""
    return min(peak + window.n_samples(BLOW_OVER_S, at_least=4), len(window) - 2)


def _noise_m_s2(axial: FloatArray) -> float:
    """Return the standard deviation of the samples' own noise, from their second differences."""
    second = np.abs(np.diff(axial, 2))
    return float(np.hypot(median(second) / (0.6745 * np.sqrt(6.0)), NOISE_LEAST_M_S2))


def _follow(
    window: Window, swing: Swing, fit: HitFit, rests: list[Rest], peak: int, tip_speed: float
) -> Follow:
    """Return what the cue did after the hit."""
    first = _over_index(window, peak)
    after = [rest for rest in rests if rest.start >= first]
    return follow_through(
        window,
        swing.speed.accel_m_s2,
        first,
        touch_s=fit.end_s,
        start_speed_m_s=tip_speed - fit.lost_m_s - fit.hidden_m_s + fit.regained_m_s,
        rest=after[0] if after else None,
    )


def _stroke(
    window: Window,
    instrument: Instrument,
    swing: Swing,
    fit: HitFit,
    follow: Follow,
    anchor: int,
    tip_speed: float,
) -> Stroke:
    """Return all measures of one stroke."""
    phases, speed = swing.phases, swing.speed
    delay_s = fit.end_s - fit.touch_s
    flags = flags_of(window, instrument, swing, follow, fit)
    lever_m_s, lever_m_s2 = lever_sds(window, swing.path, swing.clear_index)
    speed_sd = speed_sd_m_s(window, instrument, swing, fit, anchor, tip_speed, flags, lever_m_s)
    peak_speed, peak_s = _peak(window, swing, fit, anchor, tip_speed)
    turn = None if swing.path.turn_rad is None else swing.path.turn_rad[swing.clear_index]
    accel_sd = float(
        np.sqrt(
            fit.accel_sd_m_s2**2
            + speed.accel_sd_m_s2(anchor) ** 2
            + (ACCEL_TILT_SD_M_S2 if turn is None else ACCEL_SD_M_S2) ** 2
            + (instrument.scale_sd * fit.accel_m_s2) ** 2
            + lever_m_s2**2
            + (instrument.axis.sd_rad * _across_m_s2(window, swing)) ** 2
        )
    )
    slowing, above, below = ndtr(
        (np.array([0.0, LEVEL_M_S2, -LEVEL_M_S2]) - fit.accel_m_s2) / accel_sd
    )
    feathers, period_s, period_sd_s = _feathers(window, swing)
    tip = _tip(window, instrument.mounting, swing)
    backswing = speed.travel_m[swing.ball.index] - speed.travel_m[phases.rear_index]
    return Stroke(
        impact_time_s=fit.touch_s,
        backswing_start_s=phases.backswing_start_s - delay_s,
        rear_s=phases.rear_s - delay_s,
        delivery_start_s=phases.delivery_start_s - delay_s,
        follow_through_end_s=follow.end_s - delay_s,
        tip_speed_m_s=tip_speed,
        tip_speed_sd_m_s=speed_sd,
        peak_speed_m_s=peak_speed,
        peak_time_s=peak_s - delay_s,
        accel_at_hit_m_s2=fit.accel_m_s2,
        accel_at_hit_sd_m_s2=accel_sd,
        speed_lost_m_s=max(peak_speed - tip_speed, 0.0),
        slowing_probability=float(slowing),
        level_probability=float(above - below),
        backswing_m=float(backswing),
        backswing_sd_m=speed.travel_sd_m(swing.ball.index, phases.rear_index),
        rear_pause_s=phases.delivery_start_s - phases.pause_start_s,
        delivery_s=fit.end_s - phases.delivery_start_s,
        follow_through_m=follow.way_m,
        feathers=feathers,
        smoothness=_smoothness(window, swing),
        tip_lateral_m=None if tip is None else float(tip.lateral_m[swing.clear_index]),
        tip_lateral_sd_m=None if tip is None else tip.lateral_sd_m,
        tip_vertical_m=None if tip is None else float(tip.vertical_m[swing.clear_index]),
        tip_vertical_sd_m=None if tip is None else tip.vertical_sd_m,
        yaw_rad=None if turn is None else float(turn[2]),
        pitch_rad=None if turn is None else -float(turn[1]),
        twist_rad=None if turn is None else float(turn[0]),
        stillness_m_s2=follow.stillness_m_s2,
        feather_period_s=period_s,
        feather_period_sd_s=period_sd_s,
        tempo=_tempo(swing, fit),
        ball_speed_m_s=BALL_SPEED_PER_TIP_SPEED * tip_speed,
        ball_speed_sd_m_s=float(
            np.hypot(BALL_SPEED_PER_TIP_SPEED * speed_sd, BALL_SPEED_PER_TIP_SPEED_SD * tip_speed)
        ),
        flags=flags,
        trace=_trace(window, swing, fit, follow, anchor, tip_speed, tip),
    )


def _across_m_s2(window: Window, swing: Swing) -> float:
    """Return the acceleration across the cue at the hit: an axis that is off sees a part of it."""
    late = slice(max(0, swing.clear_index - window.n_samples(0.02)), swing.clear_index + 1)
    return float(np.linalg.norm(swing.path.accel_m_s2[late, 1:].mean(axis=0)))


def _tempo(swing: Swing, fit: HitFit) -> float | None:
    """Return the time back over the time forward."""
    back_s = swing.phases.pause_start_s - swing.phases.backswing_start_s
    forward_s = fit.end_s - swing.phases.delivery_start_s
    return back_s / forward_s if back_s > 0.0 < forward_s else None


def _peak(
    window: Window, swing: Swing, fit: HitFit, anchor: int, tip_speed: float
) -> tuple[float, float]:
    """Return the greatest speed from delivery start to touch, and its sample time."""
    start = swing.phases.delivery_start_index
    time_s = np.concatenate([window.time_s[start : anchor + 1], fit.curve_s[1:]])
    late = running_integral(fit.curve_m_s2, fit.curve_s)[1:]
    measured = swing.speed.speed_m_s[start : anchor + 1]
    speed = np.concatenate([measured, swing.speed.speed_m_s[anchor] + late])
    best = int(np.argmax(speed))
    if speed[best] <= tip_speed:
        return tip_speed, fit.end_s
    return float(speed[best]), float(time_s[best])


def _feathers(window: Window, swing: Swing) -> tuple[int, float | None, float | None]:
    """Return count, period and its spread of the feathers, the cue held as at the hit."""
    if swing.path.turn_rad is not None:
        held = np.linalg.norm(swing.path.turn_rad, axis=1) < SETTLED_RAD
    else:
        held = np.abs(swing.path.accel_m_s2[:, 2]) < SETTLED_M_S2
    away = np.flatnonzero(~held[: swing.phases.backswing_start_index])
    first = int(away[-1]) + 1 if len(away) else 0
    return count_feathers(
        swing.path.axial_m_s2[first : swing.clear_index],
        rate_hz=1.0 / window.period_s,
        stop_index=swing.phases.backswing_start_index - first,
    )


def _smoothness(window: Window, swing: Swing) -> float | None:
    """Return the spectral arc length of the delivery's speed."""
    speed = swing.speed.speed_m_s[swing.phases.rear_index : swing.clear_index + 1]
    if len(speed) < 4:
        return None
    length = spectral_arc_length(np.maximum(speed, 0.0), rate_hz=1.0 / window.period_s)
    return length if np.isfinite(length) else None


def _tip(window: Window, mounting: Mounting, swing: Swing) -> TipPath | None:
    """Return the tip's way, None where the sensor or its place cannot tell."""
    if mounting.sensor_to_tip_m is None:
        return None
    return tip_path(window, swing.path, swing.speed.travel_m, swing.clear_index)


def _trace(
    window: Window,
    swing: Swing,
    fit: HitFit,
    follow: Follow,
    anchor: int,
    tip_speed: float,
    tip: TipPath | None,
) -> StrokeTrace:
    """Return the course of the stroke for drawing."""
    longest = swing.phases.backswing_start_index - window.n_samples(TRACE_BEFORE_S)
    first = max(0, swing.ball.index - window.n_samples(0.2), longest)
    n_follow = len(follow.speed_m_s)
    late = running_integral(fit.curve_m_s2, fit.curve_s)
    time_s, speed = window.time_s, swing.speed.speed_m_s.copy()
    after = len(window) - n_follow
    speed[anchor:after] = np.where(
        time_s[anchor:after] <= fit.end_s,
        speed[anchor] + np.interp(time_s[anchor:after], fit.curve_s, late),
        np.interp(
            time_s[anchor:after],
            [fit.end_s, time_s[after]],
            [tip_speed - fit.lost_m_s - fit.hidden_m_s, follow.speed_m_s[0]],
        ),
    )
    speed[after:] = follow.speed_m_s
    return StrokeTrace(
        time_s=time_s[first:] - (fit.end_s - fit.touch_s),
        speed_m_s=speed[first:],
        accel_m_s2=swing.speed.accel_m_s2[first:],
        tip_lateral_m=None if tip is None else tip.lateral_m[first:],
        tip_vertical_m=None if tip is None else tip.vertical_m[first:],
    )
