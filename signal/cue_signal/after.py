"""What the rest after the follow-through tells about the speed at the hit."""

from dataclasses import dataclass, replace

import numpy as np

from cue_sensors.samples import FloatArray
from cue_signal.integrals import area_of, mean_of
from cue_signal.rest import Rest
from cue_signal.strapdown import Path
from cue_signal.windows import Window

LOSS_SHARE = 0.31
LOSS_SHARE_SD = 0.06
"""Share of its speed that the cue loses: 22 to 41 % for cues of 16 to 21 oz and any offset up to
half the ball's radius, from momentum and restitution at the tip."""
REGAINED_SHARE = 0.05
REGAINED_SHARE_SD = 0.07
"""Share that the hand, driving on, gives back until the blow has rung out, as long as the samples
about the hit have not been asked."""
AFTER_SD_M_S = 0.04
BLOW_OVER_S = 0.02
"""From the middle of the blow until it has rung out."""


@dataclass(frozen=True)
class AfterHit:
    """What the rest after the follow-through tells about the speed just after the hit.

    The speed lost to the ball ties it to the speed just before.

    Parameters
    ----------
    first : int
        First sample clear of the blow.
    rest : Rest
        The rest after the follow-through.
    leak_m_s : float
        Speed that the change of the cue's tilt adds between the two, without a gyroscope.
    sd_m_s : float
        How closely the speed after the hit is known by it.
    back_m_s, ahead_m_s : float
        Change of speed from the touch to ``first``, and from the last clear sample to the touch,
        without the blow.
    steady_sd_m_s, before_m_s : float
        The part of ``sd_m_s`` that does not grow with speed; a first idea of the speed before.
    share : float
        Share of its speed that the cue lost.
    regained_m_s : float
        Speed given back by the hand besides.
    """

    first: int
    rest: Rest
    leak_m_s: float
    sd_m_s: float
    back_m_s: float
    ahead_m_s: float
    steady_sd_m_s: float
    before_m_s: float
    share: float = LOSS_SHARE - REGAINED_SHARE
    regained_m_s: float = 0.0

    def values(self) -> FloatArray:
        """Return it as the loops take it.

        First sample clear of the blow, start and stop of the rest, share of the speed kept, the
        part of what the speeds before and after are apart that no drift changes, and its spread.
        """
        kept = 1.0 - self.share
        steady = kept * self.ahead_m_s + self.back_m_s + self.leak_m_s + self.regained_m_s
        places = [self.first, self.rest.start, self.rest.stop]
        return np.array([*places, kept, steady, self.sd_m_s])


def after_hit(
    window: Window, path: Path, rest: Rest | None, *, hit_index: int, peak: int, ahead_s: float
) -> AfterHit | None:
    """Return what the rest after the follow-through tells.

    Parameters
    ----------
    window, path : Window, Path
        Samples and raw motion.
    rest : Rest or None
        First rest after the hit.
    hit_index, peak : int
        Last sample clear of the blow; its middle.
    ahead_s : float
        From hit_index to the touch.

    Returns
    -------
    AfterHit or None
        None without a rest.
    """
    if rest is None:
        return None
    first = min(peak + window.n_samples(BLOW_OVER_S, at_least=4), rest.start)
    lasted_s = float(window.time_s[rest.start] - window.time_s[first])
    left_over = mean_of(path.axial_m_s2, rest.start, rest.stop)
    early = mean_of(path.axial_m_s2, first, first + window.n_samples(0.03, at_least=2))
    late = mean_of(path.axial_m_s2, max(0, hit_index - 1), hit_index + 1)
    back = early * (float(window.time_s[first] - window.time_s[hit_index]) - ahead_s)
    gone = -area_of(path.axial_m_s2, window.time_s, first, (rest.start + rest.stop) // 2)
    leak = -0.5 * left_over * lasted_s
    share_sd = float(np.hypot(LOSS_SHARE_SD, REGAINED_SHARE_SD))
    before = abs(gone - back - leak) / (1.0 - LOSS_SHARE)
    steady = AFTER_SD_M_S + 0.5 * abs(leak)
    slack = np.hypot(steady, share_sd * before)
    return AfterHit(first, rest, leak, float(slack), back, late * ahead_s, steady, before)


def after_blow(
    after: AfterHit, *, ahead_m_s: float, regained_m_s: float, regained_sd_m_s: float
) -> AfterHit:
    """Return what the rest after tells once the samples about the hit have been asked.

    Parameters
    ----------
    after : AfterHit
        As before.
    ahead_m_s : float
        Speed gained from the last clear sample to the touch.
    regained_m_s, regained_sd_m_s : float
        What the hand gave back.
    """
    sd = np.sqrt(after.steady_sd_m_s**2 + (LOSS_SHARE_SD * after.before_m_s) ** 2)
    return replace(
        after,
        ahead_m_s=ahead_m_s,
        share=LOSS_SHARE,
        regained_m_s=regained_m_s,
        sd_m_s=float(np.hypot(sd, regained_sd_m_s)),
    )
