"""Was the cue slowing into the ball? One word for it, and when to say that it is not known."""

from enum import StrEnum

from cue_signal.stroke import Stroke

SURE_PROBABILITY = 0.9
"""A coach is told "slowing" or "gaining" only from this probability on."""


class HitTrend(StrEnum):
    """What the cue's speed was doing over the last 20 ms before the touch."""

    SLOWING = "slowing"
    LEVEL = "level"
    GAINING = "gaining"
    UNSURE = "unsure"


def hit_trend(stroke: Stroke) -> HitTrend:
    """Return the word for a stroke's acceleration at the hit.

    Parameters
    ----------
    stroke : Stroke
        A measured stroke.

    Returns
    -------
    HitTrend
        LEVEL where it is more likely than not within +/-1 m/s^2; otherwise SLOWING or GAINING from
        a probability of 0.9 on; otherwise UNSURE.
    """
    if stroke.level_probability > 1 / 2:
        return HitTrend.LEVEL
    if stroke.slowing_probability >= SURE_PROBABILITY:
        return HitTrend.SLOWING
    if stroke.slowing_probability <= 1 - SURE_PROBABILITY:
        return HitTrend.GAINING
    return HitTrend.UNSURE
