import numpy as np
import pytest
from numpy.polynomial import Polynomial
from scipy.spatial.transform import Rotation

from cue_bench.maker import MadeSession
from cue_bench.maker.curves import Hum, Move, Path
from cue_bench.maker.motion import Couplings, Motion
from cue_bench.maker.sensor import sensor_place_m

STEP_S = 2e-5
GRAVITY = np.array([0.0, 0.0, 9.81])


def busy_times_s(made: MadeSession) -> np.ndarray:
    """Times in all kinds of scenes, hits and their ringing among them."""
    hits = [marks.touch_s + late for marks in made.marks for late in (-0.01, 0.0006, 0.004, 0.1)]
    others = [made.true_time_s(other.start_s) + 1.1 for other in made.truth.distractors]
    return np.array(hits + others)


def test_specific_force_is_the_second_difference_of_the_sensors_place(made: MadeSession) -> None:
    # Truth: fourth-order central differences of the position, plus gravity, turned into the body.
    place = sensor_place_m(made.settings)
    weights = np.array([-1, 16, -30, 16, -1]) / (12 * STEP_S**2)
    for time in busy_times_s(made):
        pose = made.motion.pose(time + STEP_S * np.arange(-2, 3))
        lifted = weights @ pose.point_m(place) + GRAVITY
        expected = pose.rotation()[2].T @ lifted
        force = pose.specific_force_m_s2(place)[2]
        # Rounding of positions of some metres leaves 1e-15 / step^2 = 2e-6 m/s^2.
        np.testing.assert_allclose(force, expected, rtol=1e-6, atol=2e-4)


def test_angular_rate_turns_one_attitude_into_the_next(made: MadeSession) -> None:
    # Truth: scipy's rotation vector between two attitudes.
    for time in busy_times_s(made):
        pose = made.motion.pose(time + STEP_S * np.arange(-1, 2))
        attitude = Rotation.from_matrix(pose.rotation())
        turn = (attitude[0].inv() * attitude[2]).as_rotvec() / (2 * STEP_S)
        rate, _ = pose.angular_rate_rad_s()
        # Just after a hit the rate itself bends within the two steps: 3e-5 rad/s.
        np.testing.assert_allclose(rate[1], turn, atol=1e-4)


def test_integrating_the_angular_rate_gives_the_attitude_back(made: MadeSession) -> None:
    # Truth: scipy's composition of small turns over a whole stroke, midpoint rule.
    step = 2e-4
    start, stop = made.marks[0].backswing_s, made.marks[0].stop_s
    times = np.arange(start, stop, step)
    rate, _ = made.motion.pose(times + step / 2).angular_rate_rad_s()
    attitude = Rotation.from_matrix(made.motion.pose(times[:1]).rotation()[0])
    for turn in Rotation.from_rotvec(rate * step):
        attitude = attitude * turn
    end = Rotation.from_matrix(made.motion.pose(times[-1:] + step).rotation()[0])
    assert (attitude.inv() * end).magnitude() < 1e-5


@pytest.mark.parametrize("pitch_rad", [-0.1, 0.0, 0.9])
def test_a_cue_at_rest_feels_gravity_alone(pitch_rad: float) -> None:
    motion = Motion(start_values={"pitch": pitch_rad, "twist": 0.4})
    force = motion.pose(np.array([0.0])).specific_force_m_s2((-1.0, 0.0, 0.02))[0]
    assert np.linalg.norm(force) == pytest.approx(9.81, rel=1e-12)
    assert force[0] == pytest.approx(9.81 * np.sin(pitch_rad))


def test_an_even_turn_about_the_bridge_is_felt_as_centripetal() -> None:
    # Closed form: omega squared times radius, towards the bridge.
    motion = Motion()
    motion.add("yaw", Path(0.0, (10.0,), (Polynomial([0.0, 2.0]),)))
    force = motion.pose(np.array([1.0])).specific_force_m_s2((-1.2, 0.0, 0.0))[0]
    np.testing.assert_allclose(force, [4.0 * 1.2, 0.0, 9.81], atol=1e-12)


def test_sliding_through_a_turning_bridge_is_felt_as_coriolis() -> None:
    # Closed form: 2 omega v sideways, while the point passes through the bridge itself.
    motion = Motion()
    motion.add("yaw", Path(0.0, (10.0,), (Polynomial([0.0, 2.0]),)))
    motion.add("slide", Path(0.0, (10.0,), (Polynomial([0.0, 0.5]),)))
    force = motion.pose(np.array([1.0])).specific_force_m_s2((-0.5, 0.0, 0.0))[0]
    np.testing.assert_allclose(force, [0.0, 2 * 2.0 * 0.5, 9.81], atol=1e-12)


def test_axial_speed_integrates_to_the_way_along_the_cue() -> None:
    motion = Motion(couplings=Couplings(pitch_rad_m2=-0.3))
    motion.add("slide", Move(0.0, 0.5, 0.25))
    motion.add("bridge_y", Hum((0.001,), (9.0,), (0.0,)))
    times = np.linspace(0.0, 0.5, 5001)
    speed = motion.pose(times).axial_speed_m_s()
    # The bridge moves sideways only: 1e-7 of the cue's own way is left for the trapezoids.
    assert np.trapezoid(speed, times) == pytest.approx(0.25, abs=1e-6)
