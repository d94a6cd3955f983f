"""What a long evening does: pace that sags or hardens, and pace that gets wilder.

It is told for as long as an evening lasted, an hour at most: what an hour would do, a quarter of an
hour cannot tell.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from cue_practice.control import Measure, measure_of
from cue_practice.evening_means import Evenings, draw_means
from cue_practice.evening_sums import without_group
from cue_practice.likelihood import FloatArray
from cue_practice.played import PlayedShots
from cue_practice.trade_words import capital

FEWEST_SHOTS = 12
"""Shots to a called pace that an evening needs to tell anything."""

LEAST_HOURS, MOST_HOURS = 0.25, 1.0
"""An evening shorter than the first tells nothing; changes are told over the second at most."""

SURE = 0.95
"""From this probability on something is said."""

_PACE_SCATTER, _LOG_SPREAD_SCATTER = 0.02, 0.2
"""How far an hour's change may differ between evenings; assumptions of ours."""
_LEAST_SHARE = 1e-4
_LOG_NORMAL_SD = np.pi / np.sqrt(8.0)
"""Standard deviation of the logarithm of the size of a normal number; exact."""


@dataclass(frozen=True)
class Tiredness:
    """What a stretch of practice changes, over all evenings.

    Parameters
    ----------
    hours : float
        How long: the longest evening that tells, an hour at most.
    pace_change : Measure or None
        Change of pace over called pace, as a share; None where no evening tells.
    spread_factor : Measure or None
        Factor on the spread of pace.
    n_evenings : int
        Evenings that tell.
    words : tuple of str
        In sentences.
    """

    hours: float
    pace_change: Measure | None
    spread_factor: Measure | None
    n_evenings: int
    words: tuple[str, ...]


def tiredness(shots: PlayedShots) -> Tiredness:
    """Return what an hour of practice, or as much as was played, changes in shots to a called pace.

    Parameters
    ----------
    shots : PlayedShots
        Of one player.

    Returns
    -------
    Tiredness
        Every called pace is taken about its own mean of the evening, so that calling harder
        paces later does not pass for hardening.
    """
    pace: list[tuple[float, float]] = []
    spread: list[tuple[float, float]] = []
    hours = 0.0
    for struck_s, off, called_m_s in _evenings_of_calls(shots):
        lasted = float(np.ptp(struck_s)) / 3600.0
        if len(off) < FEWEST_SHOTS or lasted < LEAST_HOURS:
            continue
        # by their content: an evening that is over is worked out once
        slopes = _slopes(struck_s.tobytes(), off.tobytes(), called_m_s.tobytes())
        if slopes is not None:
            pace.append(slopes[0])
            spread.append(slopes[1])
            hours = min(max(hours, lasted), MOST_HOURS)
    if not pace:
        return Tiredness(0.0, None, None, 0, (_too_short(),))
    sags = hours * draw_means(_evenings(pace), between_sd=_PACE_SCATTER)[0]
    grows = hours * draw_means(_evenings(spread), between_sd=_LOG_SPREAD_SCATTER)[0]
    said = _words(sags, grows, hours, len(pace))
    return Tiredness(hours, measure_of(sags), measure_of(np.exp(grows)), len(pace), said)


def _evenings_of_calls(shots: PlayedShots) -> Iterator[tuple[FloatArray, FloatArray, FloatArray]]:
    """Yield when, how far off and at what the shots to a called pace were struck, by evening."""
    pace_off_log = shots.pace_off_log
    is_called = np.isfinite(pace_off_log)
    columns = [one[is_called] for one in (shots.struck_s, pace_off_log, shots.called_m_s)]
    first = np.unique(shots.evening[is_called], return_index=True)[1][1:]
    parts = [np.split(one, first) for one in columns]
    if is_called.any():
        yield from zip(*parts, strict=True)


@lru_cache(maxsize=4096)
def _slopes(
    struck_s: bytes, off_log: bytes, called_m_s: bytes
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Return slope and error an hour, of pace and of the logarithm of its distance.

    All of one evening, as the bytes of their arrays.
    """
    struck, off_call, called = (np.frombuffer(one) for one in (struck_s, off_log, called_m_s))
    _, group = np.unique(np.round(called, 3), return_inverse=True)
    hours = without_group(struck / 3600.0, group)
    off = without_group(off_call, group)
    square = float(hours @ hours)
    degrees = len(off) - int(group.max()) - 2
    if degrees < FEWEST_SHOTS // 2 or square < LEAST_HOURS**2:
        return None
    slope = float(hours @ off / square)
    left = off - slope * hours
    error = float(np.sqrt(left @ left / (degrees - 2.0) / square))  # as wide as Student's t
    distance = np.log(np.maximum(np.abs(left), _LEAST_SHARE))
    growth = float(hours @ without_group(distance, group) / square)
    scatter = max(float(distance.std(ddof=1)), _LOG_NORMAL_SD)
    return (slope, error), (growth, float(scatter / np.sqrt(square)))


def _evenings(found: list[tuple[float, float]]) -> Evenings:
    """Return values and errors as evenings."""
    value, sd = np.array(found).T
    return Evenings(value, np.maximum(sd, 1e-6))


def _too_short() -> str:
    """Return what an evening needs."""
    return (
        f"What a long evening does can be told from {FEWEST_SHOTS} shots to a called pace on, "
        f"over {LEAST_HOURS * 60:.0f} minutes or more."
    )


def span_words(hours: float) -> str:
    """Return how long changes are told over: "an hour" or "25 minutes"."""
    return "an hour" if hours >= MOST_HOURS else f"{hours * 60.0:.0f} minutes"


def _words(sags: FloatArray, grows: FloatArray, hours: float, n_evenings: int) -> tuple[str, ...]:
    """Return what is surely so, or that nothing is."""
    on = f"{capital(span_words(hours))} on"
    of = "1 evening" if n_evenings == 1 else f"{n_evenings} evenings"
    said = []
    harder, wilder = float(np.mean(sags > 0.0)), float(np.mean(grows > 0.0))
    if max(harder, 1.0 - harder) >= SURE:
        word = "harder" if harder >= 0.5 else "softer"
        said.append(
            f"{on}, the pace is about {abs(float(np.median(sags))) * 100:.1f} % {word} ({of})."
        )
    if max(wilder, 1.0 - wilder) >= SURE:
        word = "wilder" if wilder >= 0.5 else "steadier"
        factor = float(np.exp(np.median(grows)))
        said.append(f"{on}, the pace is {word}: {factor:.1f} times the spread ({of}).")
    return tuple(said) or (
        f"Nothing changes clearly as an evening goes on ({of}, up to {span_words(hours)}).",
    )
