"""What is expected of a set-up before the first shot: the table model, and how far to trust it.

The right band is described on the natural logarithm of pace, so 0.08 means 8 %.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

from cue_table.cloth import DEFAULT_CLOTH, Cloth
from cue_table.conditions import Conditions
from cue_table.setup import SetUp
from cue_table.shot import landing_bands_m_s, middle_pace_m_s
from cue_table.stun import dead_stun_tip_speed_m_s
from cue_table.tip import DEFAULT_CUE, Cue

FRICTION_SD_SHARE = 0.16
"""Cloths differ: 0.178 to 0.245 about 0.21, measured by Mathavan, Jackson and Parkin, Am. J. Phys.
77(9), 788 (2009), known through transcriptions. Dead-stun pace goes with its root, so 8 %."""

RESTITUTION_SD = 0.02
"""Leather tips: 0.71 to 0.75, Colorado State University billiards pages, "tip efficiency"."""

HEIGHT_SD_M = 0.001
"""How truly a player keeps to a tip height he has set himself; an assumption of ours."""

NO_STUN_HEIGHT_DOUBT_LOG = 0.05
"""The same at centre height and above, where there is no dead stun; an assumption of ours."""

MODEL_SD_LOG = 0.06
"""What the model itself gets wrong, above all at the cushion, where it is 4 % off the measured
rebound in the middle of its range and more outside it (physics as for the friction above)."""

NO_BAND_SD_LOG = 0.25
"""Doubt on the centre where no pace lands in the model and dead stun has to stand for it."""

HALF_WIDTH_LOG = 0.10
HALF_WIDTH_SD_LOG = 0.5
NO_BAND_HALF_WIDTH_SD_LOG = 0.7
"""Half width of the right band where no model gives one, and doubt on its logarithm: a player
calls right what he can play on from, which may be more or less than the drawn area."""

SCATTER_LOG = 0.08
SCATTER_SD_LOG = 0.6
"""How blurred the edges of the band are, as pace: a millimetre of tip height or a degree of aim
from shot to shot is worth several per cent of pace. Assumption of ours, wide on purpose."""

NO_BAND_SOURCE = "the pace of dead stun"

_MIN_HALF_WIDTH_LOG = 0.02


_LEAST_OTHER_LOG = 0.04
_LEAST_OTHER_SHARE = 0.25
"""A further band of landing paces counts from this width on, as pace and as a share of the widest;
narrower ones are the grain of the model."""

Band = tuple[float, float]


@dataclass(frozen=True)
class PacePrior:
    """Where the right band is expected, and how surely.

    Parameters
    ----------
    centre_m_s : float
        Pace in the middle of the band.
    centre_sd_log : float
        Its standard uncertainty as a share of the pace.
    half_width_log, half_width_sd_log : float
        Median of the band's half width as a share of the pace, and spread of its logarithm.
    scatter_log, scatter_sd_log : float
        The same for the blur of its edges.
    band_m_s : tuple of two floats or None
        Paces that land in the model, None where none does.
    source : str
        Where it comes from, in words.
    other_bands_m_s : tuple of tuples of two floats
        Other paces that land in the model, another way.
    """

    centre_m_s: float
    centre_sd_log: float
    half_width_log: float = HALF_WIDTH_LOG
    half_width_sd_log: float = HALF_WIDTH_SD_LOG
    scatter_log: float = SCATTER_LOG
    scatter_sd_log: float = SCATTER_SD_LOG
    band_m_s: Band | None = None
    source: str = "the first guess"
    other_bands_m_s: tuple[Band, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a prior that no pace can have."""
        for name in ("centre_m_s", "half_width_log", "scatter_log"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise ValueError(f"{name} must be a finite number above 0, got {value!r}")
        for name in ("centre_sd_log", "half_width_sd_log", "scatter_sd_log"):
            value = getattr(self, name)
            if not 0.0 < value <= 3.0:
                raise ValueError(f"{name} must lie within 0 and 3, got {value!r}")

    @staticmethod
    def from_table(
        setup: SetUp,
        tip_below_centre_m: float,
        cue: Cue = DEFAULT_CUE,
        cloth: Cloth = DEFAULT_CLOTH,
        *,
        side_m: float = 0.0,
        near_m_s: float | None = None,
    ) -> "PacePrior":
        """Return what the table model expects of a set-up at a tip height.

        The band is that of the paces whose white stops in the landing area. Its centre is as
        unsure as cloth, tip and height make the pace of dead stun, and as the model itself is.

        Parameters
        ----------
        setup : SetUp
            With a landing area.
        tip_below_centre_m, side_m : float
            Where the cue's axis passes, below and left of the white's centre.
        cue : cue_table.tip.Cue
            The cue.
        cloth : cue_table.cloth.Cloth
            The cloth.
        near_m_s : float, optional
            Where several bands of pace land, the one nearest to this pace is meant; the widest if
            not given.

        Returns
        -------
        PacePrior
            Wide where no pace lands.

        Raises
        ------
        cue_table.errors.TableError
            If the tip would slip off the ball there.
        """
        cue.check_offset(tip_below_centre_m, side_m)
        conditions = Conditions(cue, cloth)
        bands = _bands(setup, tip_below_centre_m, side_m, conditions)
        chosen = _chosen(bands, near_m_s)
        return _from_table(setup, tip_below_centre_m, side_m, conditions, chosen, bands)


def width_log(band: Band) -> float:
    """Return how wide a band of pace is, as a share of the pace."""
    return math.log(band[1] / band[0])


@lru_cache(maxsize=256)
def _bands(setup: SetUp, below_m: float, side_m: float, conditions: Conditions) -> tuple[Band, ...]:
    """Return the bands of pace that land in the model, remembered: the model takes its time."""
    found = landing_bands_m_s(setup, below_m, side_m, conditions)
    widest = max((width_log(band) for band in found), default=0.0)
    least = max(_LEAST_OTHER_LOG, _LEAST_OTHER_SHARE * widest)
    return tuple(band for band in found if width_log(band) >= min(least, widest))


def _chosen(bands: tuple[Band, ...], near_m_s: float | None) -> Band | None:
    """Return the band that is meant."""
    if not bands:
        return None
    if near_m_s is None:
        return max(bands, key=width_log)
    return min(bands, key=lambda band: abs(math.log(math.sqrt(band[0] * band[1]) / near_m_s)))


@lru_cache(maxsize=256)
def _from_table(
    setup: SetUp,
    below_m: float,
    side_m: float,
    conditions: Conditions,
    band: Band | None,
    bands: tuple[Band, ...],
) -> PacePrior:
    """Return the prior of :meth:`PacePrior.from_table`, remembered."""
    if band is None:
        return PacePrior(
            centre_m_s=middle_pace_m_s(setup, below_m, side_m, conditions),
            centre_sd_log=NO_BAND_SD_LOG,
            half_width_sd_log=NO_BAND_HALF_WIDTH_SD_LOG,
            source=NO_BAND_SOURCE,
        )
    doubts = _centre_doubts_log(setup, below_m, conditions)
    return PacePrior(
        centre_m_s=math.sqrt(band[0] * band[1]),
        centre_sd_log=math.hypot(MODEL_SD_LOG, *doubts),
        half_width_log=max(width_log(band) / 2.0, _MIN_HALF_WIDTH_LOG),
        band_m_s=band,
        source="the table model",
        other_bands_m_s=tuple(other for other in bands if other != band),
    )


def _centre_doubts_log(
    setup: SetUp, below_m: float, conditions: Conditions
) -> tuple[float, float, float]:
    """Return how far cloth, tip and height may move the right pace, as shares of it.

    Dead stun stands for the whole shot here: its pace goes with the root of friction and with
    1 / (1 + restitution), exactly; how it goes with height is asked of its closed form.
    """
    tip = RESTITUTION_SD / (1.0 + conditions.cue.tip_restitution)
    return FRICTION_SD_SHARE / 2.0, tip, _height_doubt_log(setup, below_m, conditions)


def _height_doubt_log(setup: SetUp, below_m: float, conditions: Conditions) -> float:
    """Return how far a wrong height moves the pace of dead stun."""
    cue, cloth = conditions.cue, conditions.cloth
    low = max(below_m - HEIGHT_SD_M, HEIGHT_SD_M)
    high = min(below_m + HEIGHT_SD_M, cue.safe_offset_m)
    if high <= low:
        return NO_STUN_HEIGHT_DOUBT_LOG
    paces = [dead_stun_tip_speed_m_s(setup.travel_m, at, cue, cloth) for at in (low, high)]
    return abs(math.log(paces[1] / paces[0])) / (high - low) * HEIGHT_SD_M
