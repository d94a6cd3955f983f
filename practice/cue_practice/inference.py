"""From paces and results to the pace that is right, and how sure that is."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.ndimage import gaussian_filter1d
from scipy.special import xlogy

from cue_practice.answer_words import in_words, remarks_in_words
from cue_practice.grades import Grade
from cue_practice.lengths import Lengths
from cue_practice.likelihood import FloatArray, IntArray
from cue_practice.limits import FASTEST_M_S, SLOWEST_M_S
from cue_practice.pace_fit import FitSettings, Posterior, fit
from cue_practice.pace_words import IN_M_S, PaceWords
from cue_practice.prior import PacePrior
from cue_practice.spread import OwnSpread

SURE = 0.9
"""Share of the credible bands and intervals."""

N_PACES = 101
_N_THINNED = 500
_PRUNED_SHARE = 0.9995
_EVEN = 0.5


@dataclass(frozen=True, eq=False)
class PaceAnswer:
    """What the shots say about pace; all paces in m/s, on a grid of n.

    Parameters
    ----------
    pace_m_s : ndarray, shape (n,)
        Paces the probabilities are given for, rising.
    p_too_little, p_right, p_too_much : ndarray, shape (n,)
        Mean probability of each result at that pace; they add up to 1.
    p_right_low, p_right_high : ndarray, shape (n,)
        90 % credible band of the probability of the right result.
    best_pace_m_s : float
        Where the right result is likeliest.
    best_pace_low_m_s, best_pace_high_m_s : float
        90 % credible interval of the middle of the right band.
    best_chance : float
        Probability of the right result at the best pace, if it is met exactly.
    band_m_s : tuple of two floats or None
        Paces at which right is at least an even chance, None if there are none.
    own_spread : OwnSpread
        How closely the player keeps to a called pace.
    own_spread_m_s : float
        The same at the best pace, in m/s.
    chance_at_own_spread, chance_low, chance_high : float
        Probability of the right result when the player tries for the best pace, and its 90 %
        credible interval.
    next_pace_m_s : float
        Pace of the shot that is expected to teach most.
    n_too_little, n_right, n_too_much : int
        Shots that were used, by result.
    left_out : tuple of (int, str)
        Place in the given order of each shot that was not used, and why.
    prior : PacePrior
        What was expected before the first shot.
    words : tuple of str
        The answer in plain sentences, paces in m/s.
    used_log_pace, used_result : ndarray, shape (m,)
        The shots that were used: natural logarithm of pace in m/s, and -1, 0 or +1.
    left_out_pace_m_s : tuple of float
        Pace of each shot that was not used, nan where it is not known.
    more_words : tuple of str
        Sentences at the end of ``words`` that hold no pace.
    """

    pace_m_s: FloatArray
    p_too_little: FloatArray
    p_right: FloatArray
    p_too_much: FloatArray
    p_right_low: FloatArray
    p_right_high: FloatArray
    best_pace_m_s: float
    best_pace_low_m_s: float
    best_pace_high_m_s: float
    best_chance: float
    band_m_s: tuple[float, float] | None
    own_spread: OwnSpread
    own_spread_m_s: float
    chance_at_own_spread: float
    chance_low: float
    chance_high: float
    next_pace_m_s: float
    n_too_little: int
    n_right: int
    n_too_much: int
    left_out: tuple[tuple[int, str], ...]
    prior: PacePrior
    words: tuple[str, ...] = ()
    used_log_pace: FloatArray = field(default_factory=lambda: np.empty(0))
    used_result: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    left_out_pace_m_s: tuple[float, ...] = ()
    more_words: tuple[str, ...] = ()

    @property
    def n_shots(self) -> int:
        """Return how many shots were used."""
        return self.n_too_little + self.n_right + self.n_too_much

    def in_words(self, pace: PaceWords = IN_M_S) -> tuple[str, ...]:
        """Return the answer in plain sentences.

        Parameters
        ----------
        pace : PaceWords
            How paces are written, for example in mph.
        """
        return (*in_words(self, pace), *self.more_words)

    def remarks(self, pace: PaceWords = IN_M_S) -> tuple[str, ...]:
        """Return those of the sentences that no figure says: doubts, and shots left out."""
        return (*remarks_in_words(self, pace), *self.more_words)


def pace_answer(
    paces_m_s: ArrayLike,
    grades: Sequence[Grade | str],
    *,
    pace_sd_m_s: ArrayLike | None = None,
    prior: PacePrior,
    own_spread: OwnSpread | None = None,
    lengths: Lengths | None = None,
    settings: FitSettings | None = None,
) -> PaceAnswer:
    """Return which pace is right, from shots with a pace and a result.

    Parameters
    ----------
    paces_m_s : array_like, shape (n,)
        Pace of each shot. One that no cue can have is left out, with a word why.
    grades : sequence of Grade
        What each shot did.
    pace_sd_m_s : array_like, shape (n,), optional
        Standard uncertainty of each pace; none at all if not given.
    prior : PacePrior
        What was expected before.
    own_spread : OwnSpread, optional
        How closely the player keeps to a called pace; the usual spread if not given.
    lengths : Lengths, optional
        What the tapped points of the same shots say, from :func:`cue_practice.lengths.lengths`.
    settings : FitSettings, optional
        What the fit takes for granted.

    Returns
    -------
    PaceAnswer
        Deterministic, and the same for any order of the shots.

    Raises
    ------
    ValueError
        If the lengths differ or a grade is none.

    References
    ----------
    .. [1] A. B. Watson, "QUEST+: A general multidimensional Bayesian adaptive psychometric
       method", Journal of Vision 17(3):10, 2017: the next pace is the one with the least expected
       entropy of what is unknown.

    Examples
    --------
    >>> prior = PacePrior(centre_m_s=2.0, centre_sd_log=0.15)
    >>> answer = pace_answer([1.6, 1.8, 2.2], ["too_little", "right", "too_much"], prior=prior)
    >>> 1.7 < answer.best_pace_m_s < 2.0
    True
    """
    shots = checked(paces_m_s, grades, pace_sd_m_s)
    spread = own_spread or OwnSpread()
    posterior = posterior_of(shots, prior=prior, lengths=lengths, settings=settings)
    answer = _answer(shots, posterior, prior, spread)
    return replace(answer, words=answer.in_words())


@dataclass(frozen=True, eq=False)
class UsedShots:
    """The shots that are used, and why others are not.

    Parameters
    ----------
    log_pace, sd_log : ndarray, shape (n,)
        Natural logarithm of pace in m/s, and its standard uncertainty.
    result : ndarray of int, shape (n,)
        -1 too little, 0 right, +1 too much.
    place : ndarray of int, shape (n,)
        Place of each in the given order.
    left_out : tuple of (int, str)
        Place in the given order of each other shot, and why.
    left_out_pace_m_s : tuple of float
        Pace of each of these, nan where it is not known.
    """

    log_pace: FloatArray
    sd_log: FloatArray
    result: IntArray
    place: IntArray
    left_out: tuple[tuple[int, str], ...]
    left_out_pace_m_s: tuple[float, ...]


def posterior_of(
    shots: UsedShots,
    *,
    prior: PacePrior,
    lengths: Lengths | None = None,
    settings: FitSettings | None = None,
) -> Posterior:
    """Return what shots say of the right band.

    Parameters
    ----------
    shots : UsedShots
        From :func:`checked`.
    prior, lengths, settings
        As :func:`pace_answer` takes them.

    Returns
    -------
    Posterior
        The same for any order of the shots.
    """
    return fit(
        shots.log_pace,
        shots.result,
        sd_log=shots.sd_log,
        prior=prior,
        offset_log=None if lengths is None else lengths.offset_log[shots.place],
        offset_sd_log=None if lengths is None else lengths.sd_log[shots.place],
        settings=settings,
    )


_RESULT = {Grade.TOO_LITTLE: -1, Grade.RIGHT: 0, Grade.TOO_MUCH: 1}


def checked(
    paces_m_s: ArrayLike, grades: Sequence[Grade | str], pace_sd_m_s: ArrayLike | None
) -> UsedShots:
    """Return the shots a cue can have played, and the others with a word why.

    Parameters
    ----------
    paces_m_s, grades, pace_sd_m_s
        As :func:`pace_answer` takes them.

    Returns
    -------
    UsedShots
        As the fit takes them.
    """
    pace = np.atleast_1d(np.asarray(paces_m_s, dtype=np.float64))
    sd = np.zeros_like(pace) if pace_sd_m_s is None else np.asarray(pace_sd_m_s, dtype=np.float64)
    if not len(pace) == len(grades) == len(np.atleast_1d(sd)):
        raise ValueError(
            f"paces, grades and uncertainties must be as many, got {len(pace)}, {len(grades)} and "
            f"{len(np.atleast_1d(sd))}"
        )
    result = np.array([_RESULT[Grade(grade)] for grade in grades], dtype=np.int64)
    is_played = (pace >= SLOWEST_M_S) & (pace <= FASTEST_M_S)
    left_out = tuple((int(place), _why_not(pace[place])) for place in np.flatnonzero(~is_played))
    odd = tuple(float(one) for one in pace[~is_played])
    sd = np.where(np.isfinite(sd) & (sd >= 0.0), sd, 0.0)[is_played]
    pace = pace[is_played]
    return UsedShots(
        log_pace=np.log(pace),
        sd_log=np.minimum(sd / pace, 1.0),
        result=result[is_played],
        place=np.flatnonzero(is_played).astype(np.int64),
        left_out=left_out,
        left_out_pace_m_s=odd,
    )


def _why_not(pace_m_s: float) -> str:
    """Return why a pace cannot be used."""
    if np.isnan(pace_m_s):
        return "its pace is not known"
    return f"no stroke has a pace of {pace_m_s:.3g} m/s"


def _answer(
    shots: UsedShots, posterior: Posterior, prior: PacePrior, spread: OwnSpread
) -> PaceAnswer:
    """Return the answer of a posterior, without words."""
    weighty, few = posterior.pruned(_PRUNED_SHARE), posterior.thinned(_N_THINNED)
    log_pace = _paces(shots.log_pace, posterior)
    little, _, much = (chance @ weighty.weight for chance in weighty.chances(log_pace))
    right = 1.0 - little - much
    chances = few.chances(log_pace)
    low, high = np.quantile(chances[1], [(1.0 - SURE) / 2.0, (1.0 + SURE) / 2.0], axis=1)
    best, best_chance = _peak(log_pace, right)
    sides = ((1.0 - SURE) / 2.0, (1.0 + SURE) / 2.0)
    first, last = posterior.centre_quantiles(sides)
    at_spread = few.chances(np.array([best]), spread.share)[1][0]
    return PaceAnswer(
        pace_m_s=np.exp(log_pace),
        p_too_little=little,
        p_right=right,
        p_too_much=much,
        p_right_low=np.minimum(low, right),
        p_right_high=np.maximum(high, right),
        best_pace_m_s=float(np.exp(best)),
        best_pace_low_m_s=float(np.exp(min(first, best))),
        best_pace_high_m_s=float(np.exp(max(last, best))),
        best_chance=best_chance,
        band_m_s=_even_band(log_pace, right),
        own_spread=spread,
        own_spread_m_s=float(spread.share * np.exp(best)),
        chance_at_own_spread=float(at_spread.mean()),
        chance_low=float(np.quantile(at_spread, sides[0])),
        chance_high=float(np.quantile(at_spread, sides[1])),
        next_pace_m_s=float(np.exp(_most_telling(log_pace, chances, spread.share))),
        n_too_little=int(np.sum(shots.result < 0)),
        n_right=int(np.sum(shots.result == 0)),
        n_too_much=int(np.sum(shots.result > 0)),
        left_out=shots.left_out,
        prior=prior,
        used_log_pace=shots.log_pace,
        used_result=shots.result,
        left_out_pace_m_s=shots.left_out_pace_m_s,
    )


def _paces(log_pace: FloatArray, posterior: Posterior) -> FloatArray:
    """Return an even grid of log pace over all shots and all the band may cover."""
    low_edge = posterior.centre_log - posterior.half_width_log - posterior.scatter_log
    high_edge = posterior.centre_log + posterior.half_width_log + posterior.scatter_log
    low = float(posterior.quantile(low_edge, (0.02,))[0])
    high = float(posterior.quantile(high_edge, (0.98,))[0])
    if len(log_pace):
        low, high = min(low, log_pace.min() - 0.02), max(high, log_pace.max() + 0.02)
    low, high = max(low, float(np.log(SLOWEST_M_S))), min(high, float(np.log(FASTEST_M_S)))
    return np.linspace(low, high, N_PACES)


def _peak(x: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Return where y on an even grid is greatest, by a parabola through the three highest."""
    top = int(np.argmax(y))
    if top in (0, len(x) - 1):
        return float(x[top]), float(y[top])
    left, middle, right = y[top - 1 : top + 2]
    bend = left - 2.0 * middle + right
    shift = 0.0 if bend >= 0.0 else 0.5 * (left - right) / bend
    return float(x[top] + shift * (x[1] - x[0])), float(middle - 0.25 * (left - right) * shift)


def _even_band(log_pace: FloatArray, right: FloatArray) -> tuple[float, float] | None:
    """Return the paces around the best at which right is at least an even chance."""
    top = int(np.argmax(right))
    if right[top] < _EVEN:
        return None
    below = np.flatnonzero(right[:top] < _EVEN)
    above = np.flatnonzero(right[top:] < _EVEN)
    low, high = log_pace[0], log_pace[-1]
    if len(below):
        low = _crossing(log_pace, right, int(below[-1]))
    if len(above):
        high = _crossing(log_pace, right, top + int(above[0]) - 1)
    return float(np.exp(low)), float(np.exp(high))


def _crossing(x: FloatArray, y: FloatArray, index: int) -> float:
    """Return where y crosses an even chance between a grid point and the next."""
    share = (_EVEN - y[index]) / (y[index + 1] - y[index])
    return float(x[index] + share * (x[index + 1] - x[index]))


def _most_telling(log_pace: FloatArray, chances: tuple[FloatArray, ...], spread: float) -> float:
    """Return the log pace whose result is expected to narrow the posterior most.

    What a result tells is the entropy of its mean chances less the mean of their entropies; a
    player who tries for a pace meets it only to within his spread, so the gain is averaged there.
    """
    gain = np.zeros(len(log_pace))
    for chance in chances:
        mean = chance.mean(axis=1)
        gain += xlogy(chance, chance).mean(axis=1) - xlogy(mean, mean)
    step = log_pace[1] - log_pace[0]
    return _peak(log_pace, gaussian_filter1d(gain, spread / step, mode="nearest"))[0]
