"""Made rests, tumbles and rolls of a sensor with known errors.

It shares no code with what is held against it. Rests: gravity in drawn attitudes, with a sway and
jolts in between. Rolls: a cue of drawn bow and taper is laid down, rolled in one push or several
with a yawing hand, a bump and a tremor, the sensor off its axis, and lifted tip up.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from cue_sensors.samples import Samples

FloatArray = NDArray[np.float64]
GRAVITY_M_S2 = 9.80665
COUNT_M_S2 = 16 * GRAVITY_M_S2 / 32768
CUE_RADIUS_M = 0.0125
SENSOR_OFF_AXIS_M = 0.022


@dataclass(frozen=True, eq=False)
class SensorErrors:
    """What a made sensor does to what it feels.

    Parameters
    ----------
    accel_matrix : ndarray, shape (3, 3)
        Reading = matrix @ force + bias.
    accel_bias_m_s2, gyro_bias_rad_s, gyro_scale : ndarray, shape (3,)
        Biases, and scale errors of the gyroscope.
    accel_noise_m_s2, gyro_noise_rad_s : float
        Of one sample.
    """

    accel_matrix: FloatArray
    accel_bias_m_s2: FloatArray
    gyro_bias_rad_s: FloatArray
    gyro_scale: FloatArray
    accel_noise_m_s2: float = 0.015
    gyro_noise_rad_s: float = 0.002


def draw_errors(rng: np.random.Generator) -> SensorErrors:
    """Return sensor errors of the usual size: 30 mg, 1 %, 0.5 %, 0.5 degrees per second."""
    matrix = np.eye(3) + np.diag(rng.uniform(-0.01, 0.01, 3))
    xy, xz, yz = rng.uniform(-0.005, 0.005, 3)
    matrix += np.array([[0.0, xy, xz], [xy, 0.0, yz], [xz, yz, 0.0]])
    return SensorErrors(
        accel_matrix=matrix,
        accel_bias_m_s2=rng.uniform(-0.3, 0.3, 3),
        gyro_bias_rad_s=rng.uniform(-0.0087, 0.0087, 3),
        gyro_scale=rng.uniform(-0.01, 0.01, 3),
    )


def six_ups(rng: np.random.Generator, *, lean_rad: float = 0.1) -> FloatArray:
    """Return what points up, shape (6, 3), in rests on six sides that lean a little."""
    ups = np.vstack([np.eye(3), -np.eye(3)])[rng.permutation(6)]
    return np.asarray(Rotation.from_rotvec(lean_rad * rng.standard_normal((6, 3))).apply(ups))


def any_ups(rng: np.random.Generator, n: int) -> FloatArray:
    """Return what points up, shape (n, 3), in attitudes drawn at random."""
    return np.asarray(Rotation.random(n, rng=rng).apply([0.0, 0.0, 1.0]))


def make_rests(
    ups: FloatArray,
    errors: SensorErrors,
    rng: np.random.Generator,
    *,
    rate_hz: float = 100.0,
    rest_s: float = 2.5,
    wander_m_s2: float = 0.002,
    has_gyroscope: bool = True,
) -> Samples:
    """Return samples of a sensor laid down in one attitude after the other.

    Parameters
    ----------
    ups : ndarray, shape (k, 3)
        What points up in each.
    errors : SensorErrors
        Of the sensor.
    rng : numpy.random.Generator
        Of all that is random.
    rate_hz, rest_s : float
        Sampling rate, and length of each rest.
    wander_m_s2 : float
        Bias instability: by how much the bias differs from rest to rest.
    has_gyroscope : bool
        Whether angular rate is given.
    """
    n_rest, n_move = round(rest_s * rate_hz), round(0.8 * rate_hz)
    forces, rates = [], []
    for k, up in enumerate(ups):
        if k:
            share = np.linspace(0.0, 1.0, n_move)[:, None]
            way = ups[k - 1] * (1.0 - share) + up * share
            way = way + 0.3 * np.sin(np.pi * share) * rng.standard_normal(3)
            way /= np.linalg.norm(way, axis=1)[:, None]
            forces.append(GRAVITY_M_S2 * way + rng.standard_normal((n_move, 3)))
            rates.append(rng.standard_normal((n_move, 3)))
        forces.append(
            np.tile(GRAVITY_M_S2 * up + wander_m_s2 * rng.standard_normal(3), (n_rest, 1))
        )
        rates.append(np.zeros((n_rest, 3)))
    return _read(np.vstack(forces), np.vstack(rates), errors, rng, rate_hz, has_gyroscope)


@dataclass(frozen=True)
class RollPlan:
    """How a cue is rolled.

    Parameters
    ----------
    pushes_rad : tuple of floats
        Turn of each push, right-handed about the direction to the tip.
    push_s : float
        Length of a push of a whole turn.
    slope_rad : float
        Of the cue on the cloth, tip up positive.
    bow_rad : float
        Slope of the cue at the sensor against the line it rolls about: bow and taper.
    yaw_rad : float
        By how much the cue yaws over a push.
    bump_m_s2 : float
        Largest jolt of a seam in the cloth.
    tremor_m_s2 : float
        The hand's.
    pitch_wobble_rad : float
        Amplitude of a slow pitching of the cue, as on uneven cloth.
    lift_rad : float
        Elevation of the tip at the end.
    """

    pushes_rad: tuple[float, ...] = (6.6,)
    push_s: float = 2.4
    slope_rad: float = 0.01
    bow_rad: float = 0.0
    yaw_rad: float = 0.0
    bump_m_s2: float = 0.0
    tremor_m_s2: float = 0.03
    pitch_wobble_rad: float = 0.0
    lift_rad: float = 0.6


def draw_roll(rng: np.random.Generator) -> RollPlan:
    """Return a roll as a player may do it: whole or in pushes, yawing, over a seam."""
    whole = rng.uniform(6.0, 7.5)
    kind = int(rng.integers(3))
    sign = float(rng.choice([-1.0, 1.0]))
    pushes = [(whole,), (whole, -whole), tuple(whole * rng.dirichlet(np.full(3, 20.0)))][kind]
    return RollPlan(
        pushes_rad=tuple(sign * float(p) for p in pushes),
        push_s=float(rng.uniform(1.5, 3.5)),
        slope_rad=float(rng.normal(0.0, 0.01)),
        bow_rad=float(abs(rng.normal(0.0, 0.002))),
        yaw_rad=float(rng.normal(0.0, 0.08)),
        bump_m_s2=float(rng.uniform(0.0, 3.0)),
        tremor_m_s2=float(rng.uniform(0.01, 0.1)),
        pitch_wobble_rad=float(abs(rng.normal(0.0, 0.002))),
        lift_rad=float(rng.uniform(0.3, 1.0)),
    )


@dataclass(frozen=True, eq=False)
class MadeRoll:
    """A roll with its truth: the direction to the tip in the sensor, and the turn."""

    samples: Samples
    cue_axis: FloatArray
    turned_rad: float


def make_roll(
    plan: RollPlan,
    errors: SensorErrors,
    rng: np.random.Generator,
    *,
    rate_hz: float = 100.0,
    has_gyroscope: bool = True,
) -> MadeRoll:
    """Return samples of a roll.

    The cue's pose is written as angles of time, z-y-x (yaw, pitch, roll), at 1 kHz; force and
    rate follow by finite differences of the pose and of the sensor's place.
    """
    fine = 1000.0
    time, roll, pitch, yaw = _angles(plan, rng, fine)
    pose = Rotation.from_euler("ZYX", np.column_stack([yaw, -pitch, roll]))
    # the bow: at the sensor the cue leans against the line it rolls about
    lean = Rotation.from_rotvec(plan.bow_rad * _across_x(rng))
    mount = Rotation.random(rng=rng)
    sensor = pose * lean * mount
    place = pose.apply([0.0, 0.0, SENSOR_OFF_AXIS_M])
    place[:, 1] -= CUE_RADIUS_M * roll
    accel = np.gradient(np.gradient(place, 1.0 / fine, axis=0), 1.0 / fine, axis=0)
    accel += _jolts(plan, time, rng)
    force = sensor.inv().apply(accel + np.array([0.0, 0.0, GRAVITY_M_S2]))
    step = (sensor[:-1].inv() * sensor[1:]).as_rotvec() * fine
    rate = np.vstack([step, step[-1:]])
    # as a sensor's filter would: means over half a sample
    n = max(1, round(0.5 * fine / rate_hz))
    picks = np.arange(n, len(time) - n, fine / rate_hz).astype(np.int64)
    kernel = np.ones(n) / n
    smooth = np.column_stack([np.convolve(c, kernel, "same") for c in np.hstack([force, rate]).T])
    samples = _read(smooth[picks, :3], smooth[picks, 3:], errors, rng, rate_hz, has_gyroscope)
    axis = (lean * mount).inv().apply([1.0, 0.0, 0.0])
    # what a stroke moves along is the line the cue rolls about, bow or no bow
    axis = mount.inv().apply(lean.inv().apply([1.0, 0.0, 0.0]))
    return MadeRoll(samples, np.asarray(axis), float(np.sum(np.abs(plan.pushes_rad))))


def _angles(
    plan: RollPlan, rng: np.random.Generator, fine: float
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return time and the three angles: laid down, rolled, lifted."""
    events: list[tuple[str, float, float]] = [("pitch", -0.7 + plan.slope_rad, 1.2), ("", 0.0, 1.2)]
    for push in plan.pushes_rad:
        events += [("roll", push, plan.push_s * max(abs(push) / 6.28, 0.25)), ("", 0.0, 0.7)]
    events += [("pitch", plan.lift_rad, 1.2), ("", 0.0, 1.5)]
    total = 1.0 + sum(span for _, _, span in events)
    time = np.arange(round(total * fine)) / fine
    angles = {
        "roll": np.zeros(len(time)),
        "pitch": np.full(len(time), 0.7),
        "yaw": np.zeros(len(time)),
    }
    now = 1.0
    for channel, change, span in events:
        share = np.clip((time - now) / span, 0.0, 1.0)
        ease = share - np.sin(2.0 * np.pi * share) / (2.0 * np.pi)
        if channel:
            angles[channel] = angles[channel] + change * ease
        if channel == "roll":
            # the yaw comes late in the push, as when one end of the hand drags
            angles["yaw"] = angles["yaw"] + plan.yaw_rad * ease**2
        now += span
    on_cloth = angles["pitch"] < plan.slope_rad + 1e-6
    slow = rng.uniform(0.5, 1.2)
    wobble = plan.pitch_wobble_rad * np.sin(2.0 * np.pi * slow * time + rng.uniform(0.0, 6.0))
    angles["pitch"] = angles["pitch"] + np.where(
        on_cloth, wobble - wobble[int(np.argmax(on_cloth))], 0.0
    )
    return time, angles["roll"], angles["pitch"], angles["yaw"]


def _jolts(plan: RollPlan, time: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return tremor and two seams as accelerations in the room, shape (n, 3)."""
    jolts = np.zeros((len(time), 3))
    for axis in range(3):
        hertz, phase = rng.uniform(8.0, 12.0), rng.uniform(0.0, 6.28)
        jolts[:, axis] += plan.tremor_m_s2 * np.sqrt(2.0) * np.sin(2 * np.pi * hertz * time + phase)
    for at in rng.uniform(3.5, 5.5, 2):
        after = np.clip(time - at, 0.0, None)
        ring = plan.bump_m_s2 * np.exp(-40.0 * after) * np.sin(2 * np.pi * 30.0 * after)
        jolts += ring[:, None] * rng.standard_normal(3)
    return jolts


def _across_x(rng: np.random.Generator) -> FloatArray:
    """Return a unit vector at right angles to x."""
    angle = rng.uniform(0.0, 2.0 * np.pi)
    return np.array([0.0, np.cos(angle), np.sin(angle)])


def _read(
    force: FloatArray,
    rate: FloatArray,
    errors: SensorErrors,
    rng: np.random.Generator,
    rate_hz: float,
    has_gyroscope: bool,
) -> Samples:
    """Return what the sensor gives for what it feels."""
    n = len(force)
    reading = force @ errors.accel_matrix.T + errors.accel_bias_m_s2
    reading = reading + errors.accel_noise_m_s2 * rng.standard_normal((n, 3))
    turning = rate * (1.0 + errors.gyro_scale) + errors.gyro_bias_rad_s
    turning = turning + errors.gyro_noise_rad_s * rng.standard_normal((n, 3))
    return Samples(
        time_s=np.arange(n) / rate_hz,
        specific_force_m_s2=np.round(reading / COUNT_M_S2) * COUNT_M_S2,
        angular_rate_rad_s=turning if has_gyroscope else None,
        is_clipped=np.zeros(n, dtype=np.bool_),
        rate_hz=rate_hz,
    )
