"""The two or three things a pupil's shots support, and nothing that they do not.

In this order, at most three: what goes with failure (two at most, held to one false alarm in twenty
players); slowing into the ball in surely more than one stroke in ten; a pace surely off the called
one, by more than 2 %; where something is surely going over the evenings.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import beta

from cue_dashboard.words import coach as say
from cue_practice.control import CalledColumns, CalledShot, pace_control
from cue_practice.failure import FailureReport, what_goes_with
from cue_practice.played import PlayedShots
from cue_practice.progress import trends
from cue_practice.trend_over import SURE

MOST_POINTS = 3
MOST_LINKS = 2
NEWEST_SHOTS = 100
"""Slowing and pace are told of these last shots: the player of today, not of a year ago."""
FEWEST_SHOTS = 20
MUCH_SLOWING = 0.1
"""A coach would mind from one stroke in ten; an assumption of ours."""
MUCH_OFF = 0.02
"""A pace this close to the called one, as a share, is not worth a lesson; an assumption of ours."""
_SIDES = (0.05, 0.95)


@dataclass(frozen=True)
class Point:
    """One thing the evidence supports.

    Parameters
    ----------
    kind : str
        ``"failure"``, ``"slowing"``, ``"pace"`` or ``"trend"``.
    words : str
        In a sentence, with size, interval and number of shots.
    """

    kind: str
    words: str


@dataclass(frozen=True)
class Evidence:
    """What a pupil's shots support.

    Parameters
    ----------
    points : tuple of Point
        At most three.
    caveats : tuple of str
        What else must be said: what the first cannot tell, or why there is nothing to say.
    """

    points: tuple[Point, ...]
    caveats: tuple[str, ...]


def evidence(shots: PlayedShots, called: Sequence[CalledShot] | CalledColumns) -> Evidence:
    """Return what a pupil's shots support.

    Parameters
    ----------
    shots : PlayedShots
        Of one player.
    called : sequence of CalledShot, or CalledColumns
        Those of them that were played to a called pace.
    """
    if not np.isfinite(shots.pace_m_s).any():
        return Evidence((), (say.NO_STROKES,))
    report = what_goes_with(shots)
    found = [Point("failure", link.words) for link in report.clear[:MOST_LINKS]]
    found += [Point("slowing", words) for words in _slowing(shots)]
    found += [Point("pace", words) for words in _off_pace(called)]
    found += [Point("trend", words) for words in _going(shots)]
    points = tuple(found[:MOST_POINTS])
    if points and points[0].kind != "failure":
        return Evidence(points, ())
    return Evidence(points, _rest(report))


def _rest(report: FailureReport) -> tuple[str, ...]:
    """Return what the report on failure says beside its links."""
    said = {link.words for link in report.clear}
    return tuple(words for words in report.words if words not in said)


def _slowing(shots: PlayedShots) -> list[str]:
    """Return that the pupil slows into the ball, where that is surely so and often enough."""
    known = shots.is_slowing[np.isfinite(shots.is_slowing)][-NEWEST_SHOTS:]
    n, yes = len(known), int(known.sum())
    if n < FEWEST_SHOTS:
        return []
    low, high = (float(beta.ppf(side, yes + 0.5, n - yes + 0.5)) for side in _SIDES)
    if low <= MUCH_SLOWING:
        return []
    share = f"{100.0 * yes / n:.0f} %"
    return [say.SLOWING.format(share=share, n=n, low=f"{100 * low:.0f}", high=f"{100 * high:.0f}")]


def _off_pace(called: Sequence[CalledShot] | CalledColumns) -> list[str]:
    """Return that the pupil plays harder or softer than called, where that is surely so."""
    columns = called if isinstance(called, CalledColumns) else CalledColumns.of(called)
    newest = columns.newest(NEWEST_SHOTS)
    offset = pace_control(newest).offset
    if len(newest) < FEWEST_SHOTS or offset is None:
        return []
    if not (offset.low > MUCH_OFF or offset.high < -MUCH_OFF):
        return []
    # offsets are logarithms of pace over called pace
    ends = sorted(abs(math.expm1(end)) for end in (offset.low, offset.high))
    return [
        say.OFF_PACE.format(
            size=f"{100.0 * abs(math.expm1(offset.value)):.1f} %",
            side=say.HARDER if offset.value > 0.0 else say.SOFTER,
            n=len(newest),
            low=f"{100.0 * ends[0]:.1f}",
            high=f"{100.0 * ends[1]:.1f}",
        )
    ]


def _going(shots: PlayedShots) -> list[str]:
    """Return where something is surely going, the surest first."""
    found = trends(shots).values()
    sure = [(max(one.probability_rising, 1.0 - one.probability_rising), one) for one in found]
    clear = [(chance, one.words) for chance, one in sure if chance >= SURE]
    return [words for _, words in sorted(clear, key=lambda one: -one[0])]
