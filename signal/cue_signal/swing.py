"""The swing before a suspected hit: rests, speed along the cue and phases."""

from dataclasses import dataclass, replace

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.account import Rejected, Scene, after_of, best_account, judge, path_of
from cue_signal.after import AfterHit, after_blow
from cue_signal.axis import STEEPEST_SIN, CueAxis
from cue_signal.bias import GyroBias
from cue_signal.drift import ADDRESS_GAP_SD_M, AtBall, Speed, solve_speed
from cue_signal.hit import HitFit
from cue_signal.phases import Phases, find_phases
from cue_signal.reach import moments_down
from cue_signal.rest import Rest
from cue_signal.standing import Standing
from cue_signal.strapdown import Path, best_reference
from cue_signal.tilt import GUESSES_RAD_M2, with_guess, without_leak
from cue_signal.windows import Window

SLOWEST_M_S = 0.15
"""No stroke is slower than this at the hit."""
LEAST_DELIVERY_M = 0.02
LONGEST_DELIVERY_S = 1.5
LEAST_MOMENTS = 4
"""Without a rest the player must have been down on the shot for so many steps of a reach."""
MOST_TURN_RAD = 0.35
"""A cue that turned further than this since its rest was carried, not stroked."""
BLOW_WITHIN_S = 0.036
"""The middle of the blow lies this close to the sudden change of speed."""
LEAK_ROUNDS = 2
BLOW_BEFORE_SAMPLES, BLOW_BEFORE_S = 12, 0.06
"""Where only the hand's push after a clipped blow was seen, the blow lies this far before it."""
BLOW_SIDE_S = 0.008
TURNING_POINT_SD_M = 0.03
"""How closely a feather's front turning point tells where the ball is."""


@dataclass(frozen=True, eq=False)
class Swing:
    """A swing that may have met a ball.

    Parameters
    ----------
    path, speed, phases : Path, Speed, Phases
        Raw motion, speed along the cue, phases before the hit.
    rests : list of Rest
        Rests before the hit that belong to this hold of the cue.
    speed_sds_m_s : list of float
        How still the cue was in each.
    address : Rest or None
        The last of them with the tip at the ball.
    ball : AtBall
        When the tip lay at the ball.
    after : AfterHit or None
        What the rest after the stroke tells.
    clear_index : int
        Last sample clear of the blow.
    speed_spread_m_s : float
        What other accounts of the rests would make of the speed at the hit.
    """

    path: Path
    speed: Speed
    phases: Phases
    rests: list[Rest]
    speed_sds_m_s: list[float]
    address: Rest | None
    ball: AtBall
    after: AfterHit | None
    clear_index: int
    speed_spread_m_s: float


def find_blow(window: Window, cue_axis: FloatArray, about_s: float) -> int | None:
    """Return the sample in the middle of the blow next to a time, None for no loss there."""
    middle = int(np.searchsorted(window.time_s, about_s))
    reach = min(5, window.n_samples(BLOW_WITHIN_S, at_least=3))
    back = max(reach, min(BLOW_BEFORE_SAMPLES, window.n_samples(BLOW_BEFORE_S)))
    first, last = max(2, middle - back), min(len(window) - 2, middle + reach + 1)
    if last <= first:
        return None
    axial = window.force_m_s2 @ cue_axis
    # against its surroundings: a follow-through can brake harder than a clipped blow shows
    side = window.n_samples(BLOW_SIDE_S, at_least=2)
    padded = np.pad(axial, side, mode="edge")
    sharp = axial - 0.5 * (padded[: -2 * side] + padded[2 * side :])
    peak = first + int(np.argmin(sharp[first:last]))
    push = first + int(np.argmax(sharp[first : max(peak, first + 1)]))
    if push < peak and sharp[push] > -sharp[peak]:
        # the hand's push is followed by its braking; a blow that was cut off lies before both
        first = max(2, push - back)
        peak = first + int(np.argmin(sharp[first:push]))
    if not window.is_clipped[peak]:
        return peak
    start = stop = peak
    while start > first and window.is_clipped[start - 1] and axial[start - 1] < 0.0:
        start -= 1
    while stop < last and window.is_clipped[stop + 1] and axial[stop + 1] < 0.0:
        stop += 1
    return (start + stop) // 2


def find_swing(
    window: Window,
    axis: CueAxis,
    rests: list[Rest],
    peak: int,
    *,
    bridge_m: float,
    bias: GyroBias | None,
) -> Swing | Rejected:
    """Return the swing before a suspected hit, or why there is none.

    Parameters
    ----------
    window : Window
        Samples.
    axis : CueAxis
        The cue in the sensor's frame.
    rests : list of Rest
        All rests of the window.
    peak : int
        Sample in the middle of the blow.
    bridge_m : float
        From the sensor to the bridge hand.
    bias : GyroBias or None
        The gyroscope's bias.

    Returns
    -------
    Swing or Rejected
        Never raises for what a recording holds.
    """
    found = best_account(window, axis, rests, peak, bias=bias)
    if isinstance(found, Rejected):
        return found
    scene, standing, path = found
    swing = _solve(scene, standing, path)
    if window.rate_rad_s is None and isinstance(swing, Swing):
        swing = _again_without_leak(scene, swing, bridge_m)
    return swing if isinstance(swing, Rejected) else _plausible(window, swing)


def _solve(scene: Scene, standing: Standing, path: Path) -> Swing | Rejected:
    """Return the swing of an account of the rests, gravity from the rest at the ball."""
    window, clear = scene.window, scene.clear
    better = standing.address or best_reference(window, standing.still, clear)
    if better != path.reference:
        path = path_of(scene, better)
        path = with_guess(window, path, clear, curve_rad_m2=GUESSES_RAD_M2[0])
    if abs(path.tilt_sin) > STEEPEST_SIN:
        return Rejected("the cue was not held level")
    if not standing.still and len(moments_down(window, path, clear)) < LEAST_MOMENTS:
        return Rejected("the player had hardly come down before it")
    after = after_of(scene, path)
    speed = solve_speed(
        window, path, standing.still, standing.speed_sd_m_s, clear, ball=None, after=after
    )
    phases = _phases(window, speed, clear)
    if phases is None:
        return Rejected("no swing back and forward before it")
    ball = _at_ball(standing.address, phases, ahead_s=scene.ahead_s, ahead_m=0.0)
    speed = solve_speed(
        window, path, standing.still, standing.speed_sd_m_s, clear, ball=ball, after=after
    )
    phases = _phases(window, speed, clear)
    if phases is None:
        return Rejected("no swing back and forward before it")
    return Swing(
        path=path,
        speed=speed,
        phases=phases,
        rests=standing.still,
        speed_sds_m_s=standing.speed_sd_m_s,
        address=standing.address,
        ball=ball,
        after=after,
        clear_index=clear,
        speed_spread_m_s=standing.speed_spread_m_s,
    )


def _again_without_leak(scene: Scene, swing: Swing, bridge_m: float) -> Swing | Rejected:
    """Return the swing solved again with the leak of gravity that it shows itself taken off."""
    for _ in range(LEAK_ROUNDS):
        path = without_leak(
            scene.window,
            swing.path,
            swing.speed,
            scene.clear,
            axis_sd_rad=scene.axis.sd_rad,
            bridge_m=bridge_m,
        )
        again = _solve(scene, judge(scene, path), path)
        if isinstance(again, Rejected):
            return swing
        swing = again
    return swing


def with_hit(window: Window, swing: Swing, fit: HitFit) -> Swing:
    """Return the swing solved again with what the samples about the hit tell.

    Parameters
    ----------
    window : Window
        Samples.
    swing : Swing
        As found.
    fit : HitFit
        When the touch was, what the cue gained until then, and what the hand gave back after.
    """
    clear = swing.clear_index
    ahead_s = fit.end_s - float(window.time_s[clear])
    late = slice(max(0, clear - 2), clear + 1)
    ahead_m = 0.5 * float(swing.speed.accel_m_s2[late].mean()) * ahead_s**2
    ball = _at_ball(swing.address, swing.phases, ahead_s=ahead_s, ahead_m=ahead_m)
    after = swing.after
    if after is not None:
        anchor = int(np.argmin(np.abs(window.time_s - fit.anchor_s)))
        gained = float(swing.speed.speed_m_s[clear] - swing.speed.speed_m_s[anchor])
        after = after_blow(
            after,
            ahead_m_s=fit.gain_m_s - gained,
            regained_m_s=fit.regained_m_s,
            regained_sd_m_s=fit.regained_sd_m_s,
        )
    speed = solve_speed(
        window, swing.path, swing.rests, swing.speed_sds_m_s, clear, ball=ball, after=after
    )
    phases = _phases(window, speed, clear) or swing.phases
    return replace(swing, speed=speed, phases=phases, ball=ball, after=after)


def _phases(window: Window, speed: Speed, clear: int) -> Phases | None:
    """Return the phases of the swing that ends at the last clear sample."""
    stop = clear + 1
    return find_phases(window.time_s[:stop], speed.speed_m_s[:stop], speed.travel_m[:stop])


def _at_ball(address: Rest | None, phases: Phases, *, ahead_s: float, ahead_m: float) -> AtBall:
    """Return when the tip lay at the ball: at the rest there, else at the front turning point."""
    if address is not None:
        return AtBall((address.start + address.stop) // 2, ADDRESS_GAP_SD_M, ahead_s, ahead_m)
    return AtBall(phases.backswing_start_index, TURNING_POINT_SD_M, ahead_s, ahead_m)


def _plausible(window: Window, swing: Swing) -> Swing | Rejected:
    """Return the swing, or why it is not one at a ball."""
    clear = swing.clear_index
    speed = float(swing.speed.speed_m_s[clear])
    if speed < SLOWEST_M_S:
        return Rejected(f"only {speed:.2f} m/s forward before it")
    way = -float(swing.speed.travel_m[swing.phases.rear_index])
    if way < LEAST_DELIVERY_M:
        return Rejected(f"only {1000 * way:.0f} mm forward before it")
    duration = float(window.time_s[clear]) - swing.phases.delivery_start_s
    if duration > LONGEST_DELIVERY_S:
        return Rejected(f"{duration:.1f} s forward before it")
    turn = swing.path.turn_rad
    if turn is not None and np.linalg.norm(turn[clear]) > MOST_TURN_RAD:
        return Rejected("the cue was carried, not stroked")
    return swing
