"""What is measured of the inference, over simulated players with known truth."""

import time
import warnings
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr
from statsmodels.miscmodels.ordinal_model import OrderedModel

from cue_bench.adaptive_peer import AdaptivePeer, is_there
from cue_bench.pace_players import PACE_SD_LOG, PRIOR, Played, Truth, drawn_truth, play
from cue_practice.grades import Grade
from cue_practice.inference import pace_answer
from cue_practice.lengths import Lengths
from cue_practice.likelihood import FloatArray
from cue_practice.pace_fit import LAPSE, FitSettings, fit
from cue_practice.placed import SHAPE_SD_LOG
from cue_practice.prior import PacePrior
from cue_practice.spread import OwnSpread

GRADES = {-1: Grade.TOO_LITTLE, 0: Grade.RIGHT, 1: Grade.TOO_MUCH}
_SIDES = (0.05, 0.95)
_WIDE = PacePrior(centre_m_s=2.0, centre_sd_log=1.0, half_width_sd_log=2.0, scatter_sd_log=2.0)
_OWN_SPREAD = 0.06
_TAP_SD = 0.05


@dataclass(frozen=True)
class Coverage:
    """How often intervals of 90 % held the truth."""

    n_shots: int
    n_tapped: int
    centre: float
    scatter: float
    chance: float


def coverage(n_series: int, n_shots: int, n_tapped: int, seed: int) -> Coverage:
    """Return how often the intervals hold the truth, over players drawn from the prior.

    Parameters
    ----------
    n_series, n_shots, n_tapped : int
        Players, shots of each, and how many of these have a tapped place.
    seed : int
        Of the players.
    """
    rng = np.random.default_rng(seed)
    inside_centre = inside_scatter = inside_chance = 0
    for _ in range(n_series):
        truth = drawn_truth(rng)
        meant = np.log(2.0) + rng.normal(0.0, 0.15, n_shots)
        shape = SHAPE_SD_LOG * rng.standard_normal()
        shots = play(truth, meant, rng, offset_sd=_TAP_SD, shape_error=shape)
        offset = np.where(np.arange(n_shots) < n_tapped, shots.offset, np.nan)
        after = fit(
            shots.log_pace, shots.result, sd_log=np.full(n_shots, PACE_SD_LOG), prior=PRIOR,
            offset_log=offset, offset_sd_log=np.full(n_shots, np.hypot(_TAP_SD, SHAPE_SD_LOG)),
        )  # fmt: skip
        low, high = after.centre_quantiles(_SIDES)
        inside_centre += low <= truth.centre <= high
        low, high = after.even_quantiles(np.log(after.scatter_log), _SIDES)
        inside_scatter += low <= np.log(truth.scatter) <= high
        at = np.array([np.log(2.0)])
        low, high = after.quantile(after.chances(at, _OWN_SPREAD)[1][0], _SIDES)
        inside_chance += low <= _true_chance(truth, at[0]) <= high
    inside = (inside_centre, inside_scatter, inside_chance)
    return Coverage(n_shots, n_tapped, *(count / n_series for count in inside))


def _true_chance(truth: Truth, log_pace: float) -> float:
    """Return a player's true chance of right about a pace, lapses included."""
    spread = float(np.hypot(truth.scatter, _OWN_SPREAD))
    reach = ndtr((truth.centre + truth.half_width - log_pace) / spread) - ndtr(
        (truth.centre - truth.half_width - log_pace) / spread
    )
    return float((1.0 - LAPSE) * reach + LAPSE / 3.0)


@dataclass(frozen=True)
class Errors:
    """Median error of the best pace in per cent; how often the plain fit gave none."""

    n_shots: int
    ours: float
    plain: float
    mean_of_right: float
    plain_failed: float


def errors(n_players: int, n_shots: int, seed: int) -> Errors:
    """Return how far off the best pace is, for three ways of finding it from the same shots.

    Parameters
    ----------
    n_players, n_shots, seed : int
        Players drawn from the prior, shots of each, seed. Where the plain fit does not converge,
        or there was no right shot, the mean of all paces stands for the answer.
    """
    rng = np.random.default_rng(seed)
    off: list[tuple[float, float, float]] = []
    n_failed = 0
    for _ in range(n_players):
        truth = drawn_truth(rng)
        meant = np.log(2.0) + rng.normal(0.0, 0.15, n_shots)
        shots = play(truth, meant, rng)
        ours = fit(shots.log_pace, shots.result, sd_log=np.full(n_shots, PACE_SD_LOG), prior=PRIOR)
        fallback = float(shots.log_pace.mean())
        plain = plain_fit(shots)
        n_failed += plain is None
        right = shots.log_pace[shots.result == 0]
        found = (
            float(ours.centre_quantiles((0.5,))[0]),
            fallback if plain is None else plain[0],
            float(right.mean()) if len(right) else fallback,
        )
        off.append((found[0] - truth.centre, found[1] - truth.centre, found[2] - truth.centre))
    median = 100.0 * np.median(np.abs(np.array(off)), axis=0)
    ours_off, plain_off, right_off = (float(one) for one in median)
    return Errors(n_shots, ours_off, plain_off, right_off, n_failed / n_players)


def plain_fit(shots: Played) -> tuple[float, float, float] | None:
    """Return centre, half width and scatter by maximum likelihood (statsmodels), or None."""
    if len(np.unique(shots.result)) < 3:
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            model = OrderedModel(shots.result, shots.log_pace[:, np.newaxis], distr="probit")
            found = model.fit(method="bfgs", disp=False)
        except (np.linalg.LinAlgError, ValueError):
            return None
    slope = float(found.params[0])
    low, high = model.transform_threshold_params(found.params)[1:3]
    centre, half = (low + high) / 2.0 / slope, (high - low) / 2.0 / slope
    is_sound = found.mle_retvals["converged"] and slope > 0.0 and abs(centre) < 5.0
    return (float(centre), float(half), 1.0 / slope) if is_sound else None


def large_sample(n_shots: int, seed: int) -> list[tuple[str, float, float]]:
    """Return centre, half width and scatter of one player, ours beside statsmodels'."""
    rng = np.random.default_rng(seed)
    truth = Truth(np.log(2.2), 0.1, 0.08)
    latent_pace = np.log(2.1) + rng.normal(0.0, 0.15, n_shots)
    shots = play(truth, latent_pace, rng)
    plain = plain_fit(shots)
    ours = fit(
        shots.log_pace, shots.result, sd_log=np.zeros(n_shots), prior=_WIDE,
        settings=FitSettings(lapse=0.0),
    )  # fmt: skip
    means = [
        float(ours.weight @ values)
        for values in (ours.centre_log, ours.half_width_log, ours.scatter_log)
    ]
    names = ("centre, log m/s", "half width, log", "scatter, log")
    return list(zip(names, means, plain or (np.nan,) * 3, strict=True))


@dataclass(frozen=True)
class NextShot:
    """Ours against the published adaptive method on the same model and shots."""

    n_cases: int
    centre_apart_sd: float
    gain_share: float
    gain_of_random: float


def next_shot(n_cases: int, seed: int) -> NextShot | None:
    """Return how the next shot and the posterior compare; None without questplus.

    ``gain_share`` is what our pace is expected to teach, as the other implementation counts it, as
    a share of what its own best pace is; ``gain_of_random`` the same for a pace at random.
    """
    if not is_there():
        return None
    rng = np.random.default_rng(seed)
    apart, shares, random = [], [], []
    for _ in range(n_cases):
        n = int(rng.integers(0, 13))
        shots = play(drawn_truth(rng), np.log(2.0) + rng.normal(0.0, 0.15, n), rng)
        peer = AdaptivePeer(PRIOR, shots)
        answer = pace_answer(
            np.exp(shots.log_pace), [GRADES[int(one)] for one in shots.result], prior=PRIOR,
            own_spread=OwnSpread(0.005, 9),
        )  # fmt: skip
        ours = fit(shots.log_pace, shots.result, sd_log=np.zeros(n), prior=PRIOR)
        mean = float(ours.weight @ ours.centre_log)
        spread = float(np.sqrt(ours.weight @ (ours.centre_log - mean) ** 2))
        apart.append(abs(mean - peer.centre_log) / spread)
        shares.append(peer.gain(float(np.log(answer.next_pace_m_s))) / peer.best_gain)
        random.append(peer.gain(float(np.log(2.0) + rng.normal(0.0, 0.15))) / peer.best_gain)
    return NextShot(
        n_cases, float(np.max(apart)), float(np.median(shares)), float(np.median(random))
    )


def learning(n_players: int, n_shots: int, seed: int) -> dict[str, float]:
    """Return the median error of the best pace in per cent after shots chosen in four ways."""
    ways = ("adaptive next shot", "the model's pace called", "at random, 15 %", "up and down")
    found: dict[str, list[float]] = {way: [] for way in ways}
    for player in range(n_players):
        for way in ways:
            rng = np.random.default_rng([seed, player])
            truth = drawn_truth(rng)
            found[way].append(abs(_taught(truth, way, n_shots, rng) - truth.centre))
    return {way: float(100.0 * np.median(off)) for way, off in found.items()}


def _taught(truth: Truth, way: str, n_shots: int, rng: np.random.Generator) -> float:
    """Return the centre after shots chosen one by one, each met to within the player's spread."""
    log_pace, result = np.empty(0), np.empty(0, dtype=np.int64)
    wish = np.log(2.0)
    for _ in range(n_shots):
        if way == "adaptive next shot":
            answer = pace_answer(
                np.exp(log_pace), [GRADES[int(r)] for r in result], prior=PRIOR,
                pace_sd_m_s=PACE_SD_LOG * np.exp(log_pace), own_spread=OwnSpread(_OWN_SPREAD, 9),
            )  # fmt: skip
            wish = float(np.log(answer.next_pace_m_s))
        elif way == "at random, 15 %":
            wish = float(np.log(2.0) + rng.normal(0.0, 0.15))
        elif way == "up and down" and len(result):
            wish = float(wish - 0.08 * result[-1])
        one = play(truth, np.array([wish + _OWN_SPREAD * rng.standard_normal()]), rng)
        log_pace = np.append(log_pace, one.log_pace)
        result = np.append(result, one.result)
    after = fit(log_pace, result, sd_log=np.full(n_shots, PACE_SD_LOG), prior=PRIOR)
    return float(after.centre_quantiles((0.5,))[0])


def refit_ms(n_shots: int, n_times: int, *, n_tapped: int = 0) -> tuple[float, float, float]:
    """Return the least time of our whole answer, of our fit alone and of statsmodels' fit, in ms.

    The least of several is the time without the machine's other work.
    """
    rng = np.random.default_rng(1)
    shots = play(Truth(np.log(2.2), 0.1, 0.08), np.log(2.1) + rng.normal(0.0, 0.15, n_shots), rng)
    pace, grades = np.exp(shots.log_pace), [GRADES[int(one)] for one in shots.result]
    offset = np.where(np.arange(n_shots) < n_tapped, shots.offset, np.nan)
    told = Lengths(offset, np.full(n_shots, _TAP_SD)) if n_tapped else None
    sd = np.full(n_shots, PACE_SD_LOG)
    took: list[FloatArray] = []
    for _ in range(n_times):
        start = time.perf_counter()
        pace_answer(pace, grades, pace_sd_m_s=pace * PACE_SD_LOG, prior=PRIOR, lengths=told)
        answered = time.perf_counter()
        fit(shots.log_pace, shots.result, sd_log=sd, prior=PRIOR,
            offset_log=None if told is None else offset,
            offset_sd_log=None if told is None else np.full(n_shots, _TAP_SD))  # fmt: skip
        fitted = time.perf_counter()
        plain_fit(shots)
        took.append(np.diff([start, answered, fitted, time.perf_counter()]))
    least = 1e3 * np.min(np.array(took), axis=0)
    return float(least[0]), float(least[1]), float(least[2])
