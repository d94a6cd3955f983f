"""What the seconds before a suspected hit were: which account of their quiet time is the best.

Without a gyroscope any rest may tell gravity, and the cue's tilt is guessed; each choice gives
another raw motion, and the account of the rests that fits best says which it was.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from cue_signal.after import AfterHit, after_hit
from cue_signal.axis import STEEPEST_SIN, CueAxis
from cue_signal.bias import GyroBias
from cue_signal.integrals import means_over
from cue_signal.rest import Rest, ends_of
from cue_signal.standing import Standing, judge_rests
from cue_signal.strapdown import LOOK_BACK_S, Path, by_worth, down_from, strapdown
from cue_signal.tilt import GUESSES_RAD_M2, with_guess
from cue_signal.windows import Window

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


@dataclass(frozen=True)
class Rejected:
    """Why a sudden change of speed was no stroke.

    Parameters
    ----------
    reason : str
        In words.
    is_sure : bool
        The blow itself says so, whatever the rest after it was.
    """

    reason: str
    is_sure: bool = False


@dataclass(frozen=True, eq=False)
class Scene:
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


def best_account(
    window: Window, axis: CueAxis, rests: list[Rest], peak: int, *, bias: GyroBias | None
) -> tuple[Scene, Standing, Path] | Rejected:
    """Return the most probable account of the quiet time before a suspected hit, or why none.

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
    bias : GyroBias or None
        The gyroscope's bias.

    Returns
    -------
    tuple of Scene, Standing and Path, or Rejected
        What is known, which quiet stretches were stillness, and the raw motion by them.
    """
    clear = max(1, peak - 3)
    down = down_from(window, axis.direction, clear, bias=bias)
    oldest_s = float(window.time_s[peak]) - LOOK_BACK_S
    if window.rate_rad_s is not None:
        oldest_s = max(oldest_s - LOOK_BACK_MORE_S, float(window.time_s[down]))
    scene = Scene(
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
    return scene, *found


def _rests_within(window: Window, rests: list[Rest], clear: int, oldest_s: float) -> list[Rest]:
    """Return the rests before the hit that reach beyond a time."""
    oldest = int(np.searchsorted(window.time_s, oldest_s))
    return [rest for rest in rests if rest.stop <= clear and rest.stop > oldest]


def _is_unsure(found: tuple[Standing, Path] | Rejected) -> bool:
    """Return whether no rest at the ball explains the last seconds well."""
    return isinstance(found, Rejected) or found[0].address is None or found[0].score < SURE_SCORE


def _further_back(
    scene: Scene, found: tuple[Standing, Path] | Rejected, before: list[Rest]
) -> tuple[Scene, tuple[Standing, Path] | Rejected]:
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


def _first_account(scene: Scene) -> tuple[Standing, Path] | Rejected:
    """Return the most probable account of the rests, over what may have been gravity."""
    raws = [path_of(scene, reference) for reference in _references(scene)]
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


def _references(scene: Scene) -> list[Rest | None]:
    """Return the rests that may tell gravity, the best first."""
    ordered = by_worth(scene.window, scene.before, scene.clear)
    if not ordered or scene.window.rate_rad_s is not None:
        return [*ordered[:1]] or [None]
    means = means_over(scene.window.force_m_s2, *ends_of(ordered)).tolist()
    chosen: list[tuple[Rest, list[float]]] = []
    for rest, mean in zip(ordered, means, strict=True):
        # of rests that agree, the longer was hardly a turn of the swing
        is_told = any(
            math.dist(mean, known) <= OTHER_GRAVITY_M_S2
            and rest.stop - rest.start <= better.stop - better.start
            for better, known in chosen
        )
        chosen += [] if is_told else [(rest, mean)]
    return [rest for rest, _ in chosen[:MOST_REFERENCES]]


def _guessed(scene: Scene, path: Path, curve_rad_m2: float) -> Path:
    """Return the path with a guess at the cue's tilt taken off, as it is with a gyroscope."""
    return with_guess(scene.window, path, scene.clear, curve_rad_m2=curve_rad_m2)


def _judged(scene: Scene, path: Path) -> tuple[Standing, Path]:
    """Return the most probable account of the rests for a path, and the path."""
    return judge(scene, path), path


def path_of(scene: Scene, reference: Rest | None) -> Path:
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


def judge(scene: Scene, path: Path) -> Standing:
    """Return the most probable account of the rests for one path."""
    held = _same_hold(path, scene.before)
    standing = judge_rests(
        scene.window, path, held, scene.clear, ahead_s=scene.ahead_s, after=after_of(scene, path)
    )
    if len(held) == len(scene.before):
        return standing
    n_other = sum(rest.stop - rest.start for rest in scene.before if rest not in held)
    other = OTHER_HOLD_LOG_ODDS_PER_S * n_other * scene.window.period_s
    return replace(standing, score=standing.score + other)


def after_of(scene: Scene, path: Path) -> AfterHit | None:
    """Return what the rest after the stroke tells."""
    return after_hit(
        scene.window,
        path,
        scene.later,
        hit_index=scene.clear,
        peak=scene.peak,
        ahead_s=scene.ahead_s,
    )


def _same_hold(path: Path, rests: list[Rest]) -> list[Rest]:
    """Return the rests in which the cue was held as at the hit."""
    if path.turn_rad is not None:
        return rests
    means = means_over(path.accel_m_s2, *ends_of(rests)).tolist()
    return [
        rest for rest, mean in zip(rests, means, strict=True) if math.hypot(*mean) < SAME_HOLD_M_S2
    ]
