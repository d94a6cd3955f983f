"""Samples of one sensor and the recording that carries them.

The sensor's own frame is right-handed. Specific force is what an accelerometer reads: at rest
+9.81 m/s^2 along the axis that points up. Angular rate follows the right-hand rule.

The cue's frame is used everywhere downstream: x along the cue towards the tip, y to the player's
left, z up (exactly: y horizontal, z completes the right-handed frame).
"""

from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

GAP_FACTOR = 1.5
"""Two samples further apart than this many sampling periods have lost samples between them."""


@dataclass(frozen=True, eq=False)
class Samples:
    """A stretch of samples of one sensor, in SI units.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Strictly increasing seconds on the recording's own axis.
    specific_force_m_s2 : ndarray, shape (n, 3)
        Accelerometer in the sensor's frame, calibrated, in m/s^2.
    angular_rate_rad_s : ndarray, shape (n, 3), or None
        Gyroscope in the sensor's frame, calibrated, in rad/s; None where the sensor has none.
    is_clipped : ndarray of bool, shape (n,)
        True where an accelerometer axis stood at the end of its range.
    rate_hz : float
        Sampling rate as fitted to the times, greater than 0.
    """

    time_s: FloatArray
    specific_force_m_s2: FloatArray
    angular_rate_rad_s: FloatArray | None
    is_clipped: BoolArray
    rate_hz: float

    def __len__(self) -> int:
        """Return the number of samples."""
        return len(self.time_s)

    @property
    def has_gyroscope(self) -> bool:
        """Return whether the sensor measures angular rate."""
        return self.angular_rate_rad_s is not None

    @property
    def gap_indices(self) -> IntArray:
        """Return the indices i, shape (k,), for which samples were lost just before sample i."""
        late = np.diff(self.time_s) * self.rate_hz > GAP_FACTOR
        return (np.flatnonzero(late) + 1).astype(np.int64)

    @property
    def n_lost(self) -> int:
        """Return how many samples are missing in the gaps, to the nearest whole sample."""
        periods = np.diff(self.time_s) * self.rate_hz
        return int(np.sum(np.round(periods[periods > GAP_FACTOR]) - 1))

    def between(self, start_s: float, stop_s: float) -> "Samples":
        """Return the samples with start_s <= time < stop_s."""
        first, last = np.searchsorted(self.time_s, [start_s, stop_s])
        rate = self.angular_rate_rad_s
        return Samples(
            time_s=self.time_s[first:last],
            specific_force_m_s2=self.specific_force_m_s2[first:last],
            angular_rate_rad_s=None if rate is None else rate[first:last],
            is_clipped=self.is_clipped[first:last],
            rate_hz=self.rate_hz,
        )


@dataclass(frozen=True)
class SensorInfo:
    """What is known of the sensor that made a recording.

    Parameters
    ----------
    kind : str
        Key of the protocol in the decoder registry, or ``"csv"``.
    name : str
        What the sensor calls itself.
    accel_range_m_s2, gyro_range_rad_s : float or None
        Ends of the ranges, None where unknown or absent.
    nominal_rate_hz : float or None
        Rate the sensor was set to.
    accel_m_s2_per_count, gyro_rad_s_per_count : float or None
        Size of one count; None where it is the range over 32768.
    """

    kind: str = "csv"
    name: str = ""
    accel_range_m_s2: float | None = None
    gyro_range_rad_s: float | None = None
    nominal_rate_hz: float | None = None
    accel_m_s2_per_count: float | None = None
    gyro_rad_s_per_count: float | None = None


@dataclass(frozen=True)
class Mounting:
    """How the sensor sits on the cue; None where it was not measured.

    Parameters
    ----------
    cue_axis : tuple of three floats or None
        Unit vector along the cue towards the tip, in the sensor's frame.
    cue_axis_sd_rad : float or None
        Standard uncertainty of that direction, per angle.
    sensor_from_butt_m, cue_length_m : float or None
        Distance of the sensor from the butt end, and the cue's length.
    """

    cue_axis: tuple[float, float, float] | None = None
    cue_axis_sd_rad: float | None = None
    sensor_from_butt_m: float | None = None
    cue_length_m: float | None = None

    @property
    def sensor_to_tip_m(self) -> float | None:
        """Return the distance from the sensor to the tip, None where it is not known."""
        if self.sensor_from_butt_m is None or self.cue_length_m is None:
            return None
        return self.cue_length_m - self.sensor_from_butt_m


@dataclass(frozen=True)
class Calibration:
    """Correction of raw readings: corrected = matrix @ (reading - bias), SI units.

    Parameters
    ----------
    accel_bias_m_s2, gyro_bias_rad_s : tuple of three floats
        Readings at zero input.
    accel_matrix : tuple of nine floats
        Scale and cross-axis matrix, row by row.
    measured_utc : datetime or None
        When it was measured.
    temperature_c : float or None
        Sensor temperature at that time, degrees Celsius.
    accel_scale_sd : float or None
        Relative standard uncertainty of a corrected force, gravity's own included; None where
        it was not stated.
    """

    accel_bias_m_s2: tuple[float, float, float] = (0.0, 0.0, 0.0)
    gyro_bias_rad_s: tuple[float, float, float] = (0.0, 0.0, 0.0)
    accel_matrix: tuple[float, ...] = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)
    measured_utc: datetime | None = None
    temperature_c: float | None = None
    accel_scale_sd: float | None = None


@dataclass(frozen=True, eq=False)
class Recording:
    """Samples with everything needed to understand them.

    Parameters
    ----------
    name : str
        Name of the file, or of the live source.
    samples : Samples
        All samples, calibrated, on one time axis.
    sensor, mounting, calibration
        What made them and how it sat on the cue.
    start_utc : datetime or None
        UTC at ``time_s == 0``; None where the file does not say.
    labels : dict of str to str
        What the recorder noted, for example ``{"invented": "yes"}``.
    problems : tuple of str
        Sentences on what was met while reading, for example a cut-off end.
    """

    name: str
    samples: Samples
    sensor: SensorInfo = field(default_factory=SensorInfo)
    mounting: Mounting = field(default_factory=Mounting)
    calibration: Calibration | None = None
    start_utc: datetime | None = None
    labels: dict[str, str] = field(default_factory=dict)
    problems: tuple[str, ...] = ()
