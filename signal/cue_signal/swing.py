"""The swing before a suspected hit: rests, speed along the cue and phases."""

from dataclasses import dataclass, replace

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.axis import STEEPEST_SIN, CueAxis
from cue_signal.bias import GyroBias
from cue_signal.drift import (
    ADDRESS_GAP_SD_M,
    AfterHit,
    AtBall,
    Speed,
    after_blow,
    after_hit,
    solve_speed,
)
from cue_signal.hit import HitFit
from cue_signal.phases import Phases, find_phases
from cue_signal.reach import moments_down
from cue_signal.rest import Rest
from cue_signal.standing import Standing, judge_rests
from cue_signal.strapdown import LOOK_BACK_S, Path, best_reference, down_from, strapdown
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
BLOW_BEFORE_SAMPLES, BLOW_BEFORE_S = 9, 0.045
"""Where only the hand's push after a clipped blow was seen, the blow lies this far before it."""
BLOW_SIDE_S = 0.008
SAME_HOLD_M_S2 = 2.5
"""Without a gyroscope: rests whose gravity differs by more belong to another hold of the cue."""
OTHER_HOLD_LOG_ODDS_PER_S = -15.0
"""What it costs an account to call quiet time before the hit another hold."""
MOST_REFERENCES = 6
OTHER_GRAVITY_M_S2 = 0.12
"""Without a gyroscope: rests that differ by this are tried in turn for what gravity is."""
LOOK_BACK_ACCEL_S = 5.5
LOOK_BACK_MORE_S = 3.5
"""With a gyroscope."""
SURE_SCORE = 0.0
"""Without a gyroscope a feather's turns look like rests: where no account of the last seconds is
better than this, the rest before the feathers is asked too."""
LEAST_SCORE = -120.0
"""Without a gyroscope: a cue that is carried about is found still nowhere near a ball; of made
strokes the worst had -90."""
TURNING_POINT_SD_M = 0.03
"""How closely a feather's front turning point tells where the ball is."""


@dataclass(frozen=True)
class Rejected:
    """Why a sudden change of speed was no stroke."""

    reason: str


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


@dataclass(frozen=True, eq=False)
class _Scene:
    """A suspected hit with what is known about it before anything is solved."""

    window: Window
    axis: CueAxis
    rests: list[Rest]
    before: list[Rest]
    later: Rest | None
    bias: GyroBias | None
    clear: int
    peak: int
    ahead_s: float
    down: int


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
    clear = max(1, peak - 3)
    down = down_from(window, axis.direction, clear, bias=bias)
    oldest_s = float(window.time_s[peak]) - LOOK_BACK_S
    if window.rate_rad_s is not None:
        oldest_s = max(oldest_s - LOOK_BACK_MORE_S, float(window.time_s[down]))
    scene = _Scene(
        window=window,
        axis=axis,
        rests=rests,
        before=_rests_within(window, rests, clear, oldest_s),
        later=next((rest for rest in rests if rest.start > peak + 2), None),
        bias=bias,
        clear=clear,
        peak=peak,
        ahead_s=2.0 * window.period_s,
        down=down,
    )
    found = _first_account(scene)
    if window.rate_rad_s is None and _is_unsure(found):
        oldest_s = window.time_s[peak] - LOOK_BACK_ACCEL_S
        scene, found = _further_back(scene, found, _rests_within(window, rests, clear, oldest_s))
    if isinstance(found, Rejected):
        return found
    if window.rate_rad_s is None and found[0].score < LEAST_SCORE:
        return Rejected("no swing at a ball explains the seconds before it")
    swing = _solve(scene, *found)
    if window.rate_rad_s is None and isinstance(swing, Swing):
        swing = _again_without_leak(scene, swing, bridge_m)
    return swing if isinstance(swing, Rejected) else _plausible(window, swing)


def _rests_within(window: Window, rests: list[Rest], clear: int, oldest_s: float) -> list[Rest]:
    """Return the rests before the hit that reach beyond a time."""
    oldest = int(np.searchsorted(window.time_s, oldest_s))
    return [rest for rest in rests if rest.stop <= clear and rest.stop > oldest]


def _is_unsure(found: tuple[Standing, Path] | Rejected) -> bool:
    """Return whether no rest at the ball explains the last seconds well."""
    return isinstance(found, Rejected) or found[0].address is None or found[0].score < SURE_SCORE


def _further_back(
    scene: _Scene, found: tuple[Standing, Path] | Rejected, before: list[Rest]
) -> tuple[_Scene, tuple[Standing, Path] | Rejected]:
    """Return the account that older rests allow, if it is the better one."""
    if len(before) == len(scene.before):
        return scene, found
    wider = replace(scene, before=before)
    again = _first_account(wider)
    if isinstance(again, Rejected):
        return scene, found
    n_older = sum(rest.stop - rest.start for rest in before if rest not in scene.before)
    older = OTHER_HOLD_LOG_ODDS_PER_S * n_older * scene.window.period_s
    if isinstance(found, Rejected) or again[0].score > found[0].score + older:
        return wider, again
    return scene, found


def _first_account(scene: _Scene) -> tuple[Standing, Path] | Rejected:
    """Return the most probable account of the rests, over what may have been gravity."""
    raws = [_path(scene, reference) for reference in _references(scene)]
    level = [raw for raw in raws if abs(raw.tilt_sin) <= STEEPEST_SIN]
    if not level:
        return Rejected("the cue was not held level")
    # which rest tells gravity shows with any guess at the tilt: the other guesses are for the best
    found = [_judged(scene, _guessed(scene, raw, GUESSES_RAD_M2[0])) for raw in level]
    likely = level[int(np.argmax([one.score for one, _ in found]))]
    if likely.turn_rad is None and likely.reference is not None:
        found += [_judged(scene, _guessed(scene, likely, guess)) for guess in GUESSES_RAD_M2[1:]]
    best, path = max(found, key=lambda one: one[0].score)
    return replace(best, speed_spread_m_s=_spread_m_s([one for one, _ in found], best)), path


def _spread_m_s(accounts: list[Standing], best: Standing) -> float:
    """Return how far accounts, by their weights, put the speed at the hit from the best one's."""
    weight = np.exp([one.score - best.score for one in accounts])
    squares = [(one.speed_m_s - best.speed_m_s) ** 2 + one.speed_spread_m_s**2 for one in accounts]
    return float(np.sqrt(np.average(squares, weights=weight)))


def _references(scene: _Scene) -> list[Rest | None]:
    """Return the rests that may tell gravity, the best first."""
    first = best_reference(scene.window, scene.before, scene.clear)
    if first is None or scene.window.rate_rad_s is not None:
        return [first]
    chosen: list[Rest] = []
    left = list(scene.before)
    while left and len(chosen) < MOST_REFERENCES:
        best = best_reference(scene.window, left, scene.clear)
        if best is None:
            break
        chosen.append(best)
        left = [rest for rest in left if _tells_other_gravity(scene.window, rest, best)]
    return list(chosen)


def _tells_other_gravity(window: Window, rest: Rest, tried: Rest) -> bool:
    """Return whether a rest is worth trying for gravity once another was: it differs, or is longer.

    Of rests that agree, the longer was hardly a turn of the swing, and more likely at the ball.
    """
    off = np.linalg.norm(_mean_force(window, rest) - _mean_force(window, tried))
    return bool(off > OTHER_GRAVITY_M_S2) or rest.stop - rest.start > tried.stop - tried.start


def _mean_force(window: Window, rest: Rest) -> FloatArray:
    """Return the mean force of a rest."""
    mean: FloatArray = window.force_m_s2[rest.start : rest.stop].mean(axis=0)
    return mean


def _guessed(scene: _Scene, path: Path, curve_rad_m2: float) -> Path:
    """Return the path with a guess at the cue's tilt taken off, as it is with a gyroscope."""
    return with_guess(scene.window, path, scene.clear, curve_rad_m2=curve_rad_m2)


def _judged(scene: _Scene, path: Path) -> tuple[Standing, Path]:
    """Return the most probable account of the rests for a path, and the path."""
    return _judge(scene, path), path


def _path(scene: _Scene, reference: Rest | None) -> Path:
    """Return the raw motion with gravity from one rest."""
    return strapdown(
        scene.window,
        reference,
        scene.rests,
        scene.axis.direction,
        scene.clear,
        bias=scene.bias,
        down_index=scene.down,
    )


def _judge(scene: _Scene, path: Path) -> Standing:
    """Return the most probable account of the rests for one path."""
    held = _same_hold(path, scene.before)
    standing = judge_rests(
        scene.window, path, held, scene.clear, ahead_s=scene.ahead_s, after=_after(scene, path)
    )
    n_other = sum(rest.stop - rest.start for rest in scene.before if rest not in held)
    other = OTHER_HOLD_LOG_ODDS_PER_S * n_other * scene.window.period_s
    return replace(standing, score=standing.score + other)


def _after(scene: _Scene, path: Path) -> AfterHit | None:
    """Return what the rest after the stroke tells."""
    return after_hit(
        scene.window,
        path,
        scene.later,
        hit_index=scene.clear,
        peak=scene.peak,
        ahead_s=scene.ahead_s,
    )


def _solve(scene: _Scene, standing: Standing, path: Path) -> Swing | Rejected:
    """Return the swing of an account of the rests, gravity from the rest at the ball."""
    window, clear = scene.window, scene.clear
    better = standing.address or best_reference(window, standing.still, clear)
    if better != path.reference:
        path = _path(scene, better)
        path = with_guess(window, path, clear, curve_rad_m2=GUESSES_RAD_M2[0])
    if abs(path.tilt_sin) > STEEPEST_SIN:
        return Rejected("the cue was not held level")
    if not standing.still and len(moments_down(window, path, clear)) < LEAST_MOMENTS:
        return Rejected("the player had hardly come down before it")
    after = _after(scene, path)
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


def _again_without_leak(scene: _Scene, swing: Swing, bridge_m: float) -> Swing | Rejected:
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
        again = _solve(scene, _judge(scene, path), path)
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


def _same_hold(path: Path, rests: list[Rest]) -> list[Rest]:
    """Return the rests in which the cue was held as at the hit."""
    if path.turn_rad is not None:
        return rests
    level = path.accel_m_s2
    return [
        rest
        for rest in rests
        if np.linalg.norm(level[rest.start : rest.stop].mean(axis=0)) < SAME_HOLD_M_S2
    ]


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
