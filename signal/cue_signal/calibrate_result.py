"""What a calibration from rests gives, and how good it is, in numbers and words."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from cue_sensors.samples import Calibration, FloatArray
from cue_signal.calibrate_fit import N_BIAS, AccelFit, fit_gravity, matrix_of
from cue_signal.calibrate_gravity import LocalGravity, local_gravity
from cue_signal.calibrate_still import Attitude, n_apart
from cue_signal.errors import SignalError

FACES = ("x up", "x down", "y up", "y down", "z up", "z down")
FACE_COSINE = 0.8
"""A side counts as up or down within 37 degrees."""
LEAST_APART = 4
APART_RAD = 0.35
"""Fewer rests than this, so far apart, are no calibration at all."""
VAGUE_BIAS_M_S2 = 0.05
"""Missing sides are named where the bias of their axis is known less well than this."""
ODD_SDS = 4.0
ODD_M_S2 = 0.03
"""A rest that disagrees by more than both is named."""


@dataclass(frozen=True, eq=False)
class CalibrationResult:
    """A calibration with its standard uncertainties.

    Parameters
    ----------
    calibration : Calibration
        For raw samples; ready to be kept and applied.
    accel_bias_sd_m_s2 : tuple of three floats
        Of the bias.
    accel_matrix_sd : tuple of nine floats
        Of scale (diagonal) and cross-axis terms, row by row; gravity's own doubt included.
    gyro_bias_sd_rad_s : tuple of three floats or None
        Of the gyroscope's bias, None without a gyroscope.
    residual_m_s2 : float
        Root mean square of the corrected rests' lengths less gravity.
    gravity : LocalGravity
        What was taken for gravity.
    n_attitudes : int
        Rests used.
    told, missing : tuple of str
        What the rests told; which sides never lay up or down.
    condition : float
        Condition of what the rests say (see ``calibrate_fit``).
    words : tuple of str
        Sentences on how good it is.
    fit : AccelFit
        All numbers of the fit.
    """

    calibration: Calibration
    accel_bias_sd_m_s2: tuple[float, float, float]
    accel_matrix_sd: tuple[float, ...]
    gyro_bias_sd_rad_s: tuple[float, float, float] | None
    residual_m_s2: float
    gravity: LocalGravity
    n_attitudes: int
    told: tuple[str, ...]
    missing: tuple[str, ...]
    condition: float
    words: tuple[str, ...]
    fit: AccelFit

    def scale_sd(self, direction: FloatArray) -> float:
        """Return the relative standard uncertainty of a force along a direction.

        Parameters
        ----------
        direction : ndarray, shape (3,)
            In the sensor's frame, for example the cue's axis; it is that of the speed as well.
        """
        return self.fit.scale_sd(np.asarray(direction, dtype=np.float64))


@dataclass(frozen=True)
class GyroBias:
    """What a gyroscope reads at rest.

    Parameters
    ----------
    bias_rad_s, sd_rad_s : tuple of three floats
        Weighted mean over all rests, and its standard uncertainty.
    n_rests : int
        Rests used.
    duration_s : float
        Of all together.
    """

    bias_rad_s: tuple[float, float, float]
    sd_rad_s: tuple[float, float, float]
    n_rests: int
    duration_s: float


def bias_of(attitudes: list[Attitude]) -> GyroBias | None:
    """Return the gyroscope's bias over some rests, None where nothing tells it.

    Parameters
    ----------
    attitudes : list of Attitude
        In which the sensor lay still.
    """
    pairs = [
        (one.rate_rad_s, one.rate_sd_rad_s)
        for one in attitudes
        if one.rate_rad_s is not None and one.rate_sd_rad_s is not None
    ]
    if not pairs:
        return None
    rates, sds = (np.array(column) for column in zip(*pairs, strict=True))
    weight = sds**-2.0
    mean = (weight * rates).sum(axis=0) / weight.sum(axis=0)
    sd = weight.sum(axis=0) ** -0.5
    if len(rates) > 1:
        # forces turn into rate in a real gyroscope: rests then differ by more than noise
        excess = (weight * (rates - mean) ** 2).sum(axis=0) / (len(rates) - 1)
        sd = sd * np.sqrt(np.maximum(excess, 1.0))
    return GyroBias(
        three(mean), three(sd), len(rates), sum(one.stop_s - one.start_s for one in attitudes)
    )


def calibration_of(
    attitudes: list[Attitude],
    *,
    gravity: LocalGravity | None = None,
    applied: Calibration | None = None,
    measured_utc: datetime | None = None,
    temperature_c: float | None = None,
) -> CalibrationResult:
    """Return the calibration from rests already found; see ``six_rests``."""
    apart = n_apart(attitudes, angle_rad=APART_RAD)
    faces = faces_of(attitudes)
    if apart < LEAST_APART:
        raise SignalError(
            f"Only {apart} rests in different attitudes; a calibration needs {LEAST_APART} at "
            f"least and six to be good. Lay the sensor still for two seconds on each of its "
            f"sides; still missing: {', '.join(f for f in FACES if f not in faces)}."
        )
    gravity = gravity or local_gravity()
    fit = fit_gravity(attitudes, gravity)
    bias = bias_of(attitudes)
    matrix = matrix_of(fit.values)
    own = Calibration(
        accel_bias_m_s2=three(fit.values[:N_BIAS]),
        gyro_bias_rad_s=bias.bias_rad_s if bias else (0.0, 0.0, 0.0),
        accel_matrix=tuple(float(v) for v in matrix.ravel()),
        measured_utc=measured_utc,
        temperature_c=temperature_c,
        accel_scale_sd=_mean_scale_sd(fit),
    )
    missing = tuple(face for face in FACES if face not in faces)
    return CalibrationResult(
        calibration=own if applied is None else compose(own, after=applied),
        accel_bias_sd_m_s2=three(fit.sds[:N_BIAS]),
        accel_matrix_sd=_matrix_sd(fit),
        gyro_bias_sd_rad_s=None if bias is None else bias.sd_rad_s,
        residual_m_s2=float(np.sqrt(np.mean(fit.residual_m_s2**2))),
        gravity=gravity,
        n_attitudes=len(attitudes),
        told=fit.told,
        missing=missing,
        condition=fit.condition,
        words=_words(fit, attitudes, missing, gravity),
        fit=fit,
    )


def compose(calibration: Calibration, *, after: Calibration) -> Calibration:
    """Return one calibration for raw samples from one measured on samples already corrected.

    Parameters
    ----------
    calibration : Calibration
        Measured on samples that ``after`` had corrected.
    after : Calibration
        What had been applied to them.

    Returns
    -------
    Calibration
        Does both; date and temperature are those of the new one.
    """
    old = np.array(after.accel_matrix).reshape(3, 3)
    new = np.array(calibration.accel_matrix).reshape(3, 3)
    bias = np.array(after.accel_bias_m_s2) + np.linalg.solve(old, calibration.accel_bias_m_s2)
    gyro = np.array(after.gyro_bias_rad_s) + np.array(calibration.gyro_bias_rad_s)
    return Calibration(
        accel_bias_m_s2=three(bias),
        gyro_bias_rad_s=three(gyro),
        accel_matrix=tuple(float(v) for v in (new @ old).ravel()),
        measured_utc=calibration.measured_utc,
        temperature_c=calibration.temperature_c,
        accel_scale_sd=calibration.accel_scale_sd,
    )


def faces_of(attitudes: list[Attitude]) -> tuple[str, ...]:
    """Return the sides on which the sensor has lain, in the order of ``FACES``."""
    ups = np.array([one.up for one in attitudes]).reshape(-1, 3)
    seen = np.column_stack([ups, -ups])[:, [0, 3, 1, 4, 2, 5]] > FACE_COSINE
    return tuple(face for k, face in enumerate(FACES) if bool(seen[:, k].any()))


def _words(
    fit: AccelFit, attitudes: list[Attitude], missing: tuple[str, ...], gravity: LocalGravity
) -> tuple[str, ...]:
    """Return sentences on how good the calibration is."""
    bias_mg = 1000.0 * float(fit.sds[:N_BIAS].max()) / gravity.gravity_m_s2
    scale = 100.0 * float(fit.sds[N_BIAS : N_BIAS + 3].max())
    words = [
        f"Bias is known to {bias_mg:.1f} mg and scale to {scale:.2f} % on the worst axis, "
        f"from {len(attitudes)} rests."
    ]
    vague = [name for k, name in enumerate("xyz") if fit.sds[k] > VAGUE_BIAS_M_S2]
    if missing and any(face[0] in vague for face in missing):
        words.append(f"Missing sides: {', '.join(missing)}; rest the sensor on them as well.")
    untold = [name for name in ("xy", "xz", "yz") if f"cross {name}" not in fit.told]
    if untold:
        words.append(
            f"The cross-axis terms {', '.join(untold)} are not told by these rests and stay as "
            "they were; rests on edges and corners would tell them."
        )
    worst = int(np.argmax(np.abs(fit.residual_sds)))
    off = float(fit.residual_m_s2[worst])
    if abs(fit.residual_sds[worst]) > ODD_SDS and abs(off) > ODD_M_S2:
        words.append(
            f"The rest at {attitudes[worst].start_s:.1f} s disagrees with the others by "
            f"{off:+.2f} m/s²: was the sensor moved?"
        )
    return (*words, gravity.words)


def _mean_scale_sd(fit: AccelFit) -> float:
    """Return the relative standard uncertainty of a force, root mean square over directions."""
    # over all directions the square of a component averages 1/3, products of two 1/15
    rows = fit.covariance[N_BIAS:, N_BIAS:]
    fourth = np.full((3, 3), 1.0 / 15.0) + np.eye(3) * (2.0 / 15.0)
    total = float(np.sum(fourth * rows[:3, :3])) + 4.0 / 15.0 * float(np.trace(rows[3:, 3:]))
    return float(np.sqrt(total))


def _matrix_sd(fit: AccelFit) -> tuple[float, ...]:
    """Return the standard uncertainties of the matrix, row by row."""
    x, y, z, xy, xz, yz = (float(v) for v in fit.sds[N_BIAS:])
    return (x, xy, xz, xy, y, yz, xz, yz, z)


def three(values: FloatArray) -> tuple[float, float, float]:
    """Return an array of three as a tuple.

    Parameters
    ----------
    values : ndarray, shape (3,)
        Any.
    """
    x, y, z = (float(value) for value in values)
    return x, y, z
