"""Raw counts to SI units, calibrated, with the samples at the end of the range marked."""

from typing import Final

import numpy as np

from cue_sensors.decoders.packet import CountArray
from cue_sensors.samples import BoolArray, Calibration, FloatArray, SensorInfo

FULL_SCALE: Final = 32768
"""Counts at the end of the range, unless the sensor states the size of a count."""


class Scaling:
    """Turns one sensor's counts into samples.

    Parameters
    ----------
    sensor : SensorInfo
        Ranges and scales as the sensor or the recording states them.
    usual : SensorInfo
        What the protocol states where they do not.
    calibration : Calibration or None
        Applied to every sample.
    """

    def __init__(
        self, sensor: SensorInfo, usual: SensorInfo, calibration: Calibration | None
    ) -> None:
        accel_range = sensor.accel_range_m_s2 or usual.accel_range_m_s2
        gyro_range = sensor.gyro_range_rad_s or usual.gyro_range_rad_s
        accel_step = sensor.accel_m_s2_per_count or usual.accel_m_s2_per_count
        gyro_step = sensor.gyro_rad_s_per_count or usual.gyro_rad_s_per_count
        self.accel_m_s2 = accel_step or _over_full_scale(accel_range)
        self.gyro_rad_s = gyro_step or _over_full_scale(gyro_range)
        self._accel_bias = np.array(calibration.accel_bias_m_s2 if calibration else (0.0,) * 3)
        self._gyro_bias = np.array(calibration.gyro_bias_rad_s if calibration else (0.0,) * 3)
        matrix = np.array(calibration.accel_matrix).reshape(3, 3) if calibration else None
        self._matrix = None if matrix is None or np.array_equal(matrix, np.eye(3)) else matrix
        end = FULL_SCALE if accel_range is None else round(accel_range / self.accel_m_s2)
        self._end_counts = min(end, FULL_SCALE) - 1

    def specific_force_m_s2(self, counts: CountArray) -> FloatArray:
        """Return calibrated specific force, shape (n, 3), for counts of shape (n, 3 or 6)."""
        force = np.asarray(counts[:, :3] * self.accel_m_s2 - self._accel_bias, dtype=np.float64)
        if self._matrix is not None:
            force = np.asarray(np.sum(force[:, None, :] * self._matrix, axis=2))
        return force

    def angular_rate_rad_s(self, counts: CountArray) -> FloatArray | None:
        """Return calibrated angular rate, shape (n, 3); None where there is no gyroscope."""
        if counts.shape[1] < 6:
            return None
        rate = counts[:, 3:6] * self.gyro_rad_s - self._gyro_bias
        return np.asarray(rate, dtype=np.float64)

    def is_clipped(self, counts: CountArray) -> BoolArray:
        """Return, shape (n,), whether an accelerometer axis stands at the end of its range."""
        accel = counts[:, :3]
        return np.asarray(
            np.any((accel >= self._end_counts) | (accel <= -self._end_counts), axis=1)
        )


def _over_full_scale(full_range: float | None) -> float:
    """Return the size of a count where only the range is known."""
    return (full_range or FULL_SCALE) / FULL_SCALE
