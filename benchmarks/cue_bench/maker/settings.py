"""What a made session consists of: cue, strokes, distractors, sensor. All frozen, all in SI.

A settings object and a seed give the same bytes every time.
"""

from dataclasses import dataclass, field
from typing import Literal

DistractorKind = Literal[
    "air_stroke",
    "butt_on_floor",
    "chalking",
    "down_without_playing",
    "rail_knock",
    "roll_on_cloth",
    "sensor_turned",
    "walking",
]
STANDARD_GRAVITY_M_S2 = 9.80665


@dataclass(frozen=True)
class CueBody:
    """The cue, its tip and where it is held; invented, of usual size (common practice, no source).

    ``tip_restitution`` lies in the range 0.71 to 0.75 given for leather playing tips by the
    Colorado State University page on tip efficiency.
    """

    mass_kg: float = 0.51
    length_m: float = 1.475
    tip_restitution: float = 0.73
    tip_radius_m: float = 0.0095 / 2
    bridge_to_tip_m: float = 0.25
    radius_at_sensor_m: float = 0.014


@dataclass(frozen=True)
class Delivery:
    """Shape of the speed over the delivery, in parts of its end: f(0) = 0, f(1) = 1.

    Parameters
    ----------
    slope_at_hit : float
        f'(1): above 0 gaining, below 0 slowing; acceleration at the hit is this times speed over
        delivery time.
    start_slope : float
        f'(0): 0 out of a rear pause, above it when the cue turns on the spot.
    start_curve, end_curve : float
        f''(0) and f''(1).
    jerk, jerk_place : float
        Size and place of an added uneven push.
    """

    slope_at_hit: float = 0.5
    start_slope: float = 0.0
    start_curve: float = 3.0
    end_curve: float = 0.0
    jerk: float = 0.0
    jerk_place: float = 0.5


@dataclass(frozen=True)
class StrokePlan:
    """One stroke as meant: the session's tremor and sway come on top.

    Lengths in metres, times in seconds, angles in radians. ``below_centre_m`` is how far the
    cue's axis passes below the white's centre; the contact lies nearer, as the tip is round.
    """

    tip_speed_m_s: float = 1.5
    below_centre_m: float = 0.0
    backswing_m: float = 0.22
    backswing_s: float = 0.9
    rear_pause_s: float = 0.2
    tip_to_ball_m: float = 0.015
    delivery: Delivery = Delivery()
    feathers: int = 3
    feather_m: float = 0.12
    feather_s: float = 0.9
    feather_pause_s: float = 0.0
    address_s: float = 0.5
    rest_s: float = 0.5
    hold_s: float = 0.8
    between_s: float = 1.5
    follow_s: float = 0.3
    hand_push: float = 0.1
    contact_s: float = 0.0014
    steer_rad: float = 0.0
    backswing_yaw_rad: float = 0.0
    elbow_drop_rad: float = 0.0
    twist_rad: float = 0.0
    kick_m_s2: float = 8.0
    kick_hz: float = 80.0
    axial_ring_m_s2: float = 10.0
    axial_ring_hz: float = 150.0


@dataclass(frozen=True)
class Distractor:
    """Something that is no stroke."""

    kind: DistractorKind
    size: float = 1.0
    """How lively it is; 1 is usual."""


Scene = StrokePlan | Distractor


@dataclass(frozen=True)
class SensorSettings:
    """The sensor, its place on the cue and its way to the computer.

    Noise densities, biases and ranges are typical data-sheet values of small inertial sensors,
    from memory.

    Parameters
    ----------
    rate_hz : float
        Samples a second by the device's own clock.
    cutoff_ratio : float
        Cut-off of the second-order Butterworth low-pass before sampling, in parts of the rate.
    clipping : str
        ``"output"``: only the 16-bit word ends at the range, after the filter.
        ``"front_end"``: the converter ends at the range, before the filter, so that a hit's
        missing area cannot be seen in the output; the word ends there as well.
    is_delay_removed : bool
        Whether time stamps are set back by the filter's delay at low frequency.
    sensor_from_butt_m, off_axis_m : float
        Place along the cue and distance from its axis.
    mounting_rotvec : tuple of three floats
        Rotation vector that takes the sensor's axes to the cue's body axes.
    accel_scale, accel_cross : tuple of three floats
        Scale errors per axis, and the cross-axis terms (xy, xz, yz) of a symmetric matrix.
    g_sensitivity_rad_s_per_m_s2 : float
        What one m/s^2 adds to the angular rate on the same axis.
    clock_error, jitter_s
        Relative error of the device's clock (positive: it runs fast), and the standard deviation
        of a sampling instant.
    batch, lost_share, lost_run
        Samples a notification, share of the notifications lost, and how many go at once.
    """

    rate_hz: float = 200.0
    has_gyroscope: bool = True
    accel_range_g: float = 16.0
    gyro_range_deg_s: float = 1000.0
    cutoff_ratio: float = 0.5
    clipping: Literal["output", "front_end"] = "output"
    is_delay_removed: bool = False
    sensor_from_butt_m: float = 0.25
    off_axis_m: float = 0.022
    mounting_rotvec: tuple[float, float, float] = (0.0, 0.0, 0.0)
    accel_noise_g_sqrt_hz: float = 150e-6
    gyro_noise_deg_s_sqrt_hz: float = 0.008
    accel_bias_g: tuple[float, float, float] = (0.0, 0.0, 0.0)
    gyro_bias_deg_s: tuple[float, float, float] = (0.0, 0.0, 0.0)
    accel_scale: tuple[float, float, float] = (0.0, 0.0, 0.0)
    accel_cross: tuple[float, float, float] = (0.0, 0.0, 0.0)
    gyro_scale: tuple[float, float, float] = (0.0, 0.0, 0.0)
    g_sensitivity_rad_s_per_m_s2: float = 0.0
    clock_error: float = 0.0
    jitter_s: float = 0.0
    batch: int = 10
    lost_share: float = 0.0
    lost_run: int = 2


@dataclass(frozen=True)
class Knowledge:
    """What the recording says about the sensor's place, as a player could have measured it."""

    is_axis_known: bool = True
    axis_error_rad: tuple[float, float] = (0.0, 0.0)
    axis_sd_rad: float = 0.01
    is_distance_known: bool = True
    distance_error_m: float = 0.0


@dataclass(frozen=True)
class SessionSettings:
    """Everything one made session needs, apart from the seed.

    ``dense_rate_hz`` is the rate at which the motion is felt before the sensor's filter.
    ``tremor_m_s2`` is the hand's 8 to 12 Hz acceleration, root mean square.
    """

    scenes: tuple[Scene, ...]
    cue: CueBody = CueBody()
    sensor: SensorSettings = SensorSettings()
    knowledge: Knowledge = Knowledge()
    elevation_rad: float = 0.06
    cueing_yaw_rad_m: float = 0.0
    cueing_pitch_rad_m: float = 0.0
    arm_arc_rad_m2: float = -0.3
    tremor_m_s2: float = 0.1
    sway_m: float = 0.002
    dense_rate_hz: float = 8000.0
    start_utc_s: float = 1_790_000_000.0
    name: str = "made"
    labels: dict[str, str] = field(default_factory=dict)
