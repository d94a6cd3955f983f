"""Gravity where the sensor is: the standard that an accelerometer is calibrated against.

Whatever gravity is taken for goes straight into every speed: 0.3 % too much gravity is 0.3 % too
much pace. Between equator and pole it differs by 0.53 %.
"""

from dataclasses import dataclass

import numpy as np

STANDARD_GRAVITY_M_S2 = 9.80665
"""Standard acceleration of gravity, CGPM 1901 (the value by definition)."""
UNKNOWN_PLACE_SD_M_S2 = 0.015
"""Where people live, from the tropics (9.78) to 60 degrees (9.82)."""
KNOWN_LATITUDE_SD_M_S2 = 0.0015
"""At a known latitude: a few hundred metres of height (3.1e-6 per second squared each metre) and
local anomalies of 50 mGal or so (from memory)."""

_EQUATOR_M_S2 = 9.7803253359
_SOMIGLIANA_K = 0.00193185265241
_ECCENTRICITY_SQUARED = 0.00669437999014
_FREE_AIR_PER_S2 = 3.086e-6


@dataclass(frozen=True)
class LocalGravity:
    """Gravity taken for the calibration.

    Parameters
    ----------
    gravity_m_s2, sd_m_s2 : float
        Value and standard uncertainty.
    words : str
        How it was come by, one sentence.
    """

    gravity_m_s2: float
    sd_m_s2: float
    words: str

    @property
    def relative_sd(self) -> float:
        """Return the standard uncertainty in parts of gravity: that of every speed by it."""
        return self.sd_m_s2 / self.gravity_m_s2


def local_gravity(latitude_deg: float | None = None, *, height_m: float = 0.0) -> LocalGravity:
    """Return gravity at a latitude, or the standard value where that is not known.

    Parameters
    ----------
    latitude_deg : float or None
        Geographic latitude in degrees, north positive; whole degrees will do.
    height_m : float
        Above sea level.

    Returns
    -------
    LocalGravity
        With its standard uncertainty.

    Raises
    ------
    ValueError
        If the latitude lies beyond 90 degrees.

    References
    ----------
    .. [1] Somigliana's closed form with the constants of WGS 84 (NIMA TR8350.2, section 4).

    Examples
    --------
    >>> round(local_gravity(0.0).gravity_m_s2, 4)
    9.7803
    """
    if latitude_deg is None:
        return LocalGravity(
            STANDARD_GRAVITY_M_S2,
            UNKNOWN_PLACE_SD_M_S2,
            f"Gravity is taken as {STANDARD_GRAVITY_M_S2} m/s², which leaves "
            f"{100 * UNKNOWN_PLACE_SD_M_S2 / STANDARD_GRAVITY_M_S2:.2f} % of doubt in every speed; "
            "the latitude, in whole degrees, would take it out.",
        )
    if not abs(latitude_deg) <= 90.0:
        raise ValueError(f"a latitude of {latitude_deg} degrees is not on Earth")
    sine = np.sin(np.radians(latitude_deg)) ** 2
    value = (
        _EQUATOR_M_S2 * (1.0 + _SOMIGLIANA_K * sine) / np.sqrt(1.0 - _ECCENTRICITY_SQUARED * sine)
    )
    value -= _FREE_AIR_PER_S2 * height_m
    return LocalGravity(
        float(value),
        KNOWN_LATITUDE_SD_M_S2,
        f"Gravity at {latitude_deg:g} degrees of latitude is {value:.4f} m/s².",
    )
