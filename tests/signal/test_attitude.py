import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from vqf import VQF  # type: ignore[import-untyped]

from cue_signal.attitude import cue_frame
from cue_signal.turn_loops import (
    agreed_gravity,
    along,
    last_away,
    motion_in,
    rotated,
    rotation_vectors,
    running_product,
    seen_from,
)

RATE_HZ = 200.0


def wobble(n: int) -> np.ndarray:
    time_s = np.arange(n) / RATE_HZ
    return np.column_stack(
        [0.8 * np.sin(5.0 * time_s), 0.5 * np.cos(3.0 * time_s), 0.3 * np.sin(2.0 * time_s + 1.0)]
    )


@pytest.mark.parametrize("n", [1, 2, 3, 64, 777])
def test_turning_agrees_with_scipy_one_step_after_the_other(n):
    rate = wobble(n)
    turned = Rotation.from_quat(running_product(rate, np.full(n - 1, 1.0 / RATE_HZ)))
    slow = Rotation.identity()
    for k in range(1, n):
        slow = slow * Rotation.from_rotvec(0.5 * (rate[k] + rate[k - 1]) / RATE_HZ)
    # the same products in another order: rounding alone
    assert (turned[-1].inv() * slow).magnitude() < 1e-12
    assert turned[0].magnitude() == 0.0


def test_turning_agrees_with_an_independent_filter_over_a_stroke():
    rate = wobble(400)
    ours = Rotation.from_quat(running_product(rate, np.full(399, 1.0 / RATE_HZ))[-1])
    vqf = VQF(1.0 / RATE_HZ, motionBiasEstEnabled=False, restBiasEstEnabled=False)
    for row in rate:
        vqf.updateGyr(np.ascontiguousarray(row))
    w, x, y, z = vqf.getQuat3D()
    # vqf turns by the rate at the end of each step, we by its mean: half a step apart
    assert (ours.inv() * Rotation.from_quat([x, y, z, w])).magnitude() < 0.006


def test_turning_from_another_sample_agrees_with_scipy():
    turned = running_product(6.0 * wobble(300), np.full(299, 1.0 / RATE_HZ))
    expected = Rotation.from_quat(turned[120]).inv() * Rotation.from_quat(turned)
    found = seen_from(turned, 120)
    # quaternions of unit size: rounding alone
    assert (Rotation.from_quat(found).inv() * expected).magnitude().max() < 1e-12
    assert rotation_vectors(found) == pytest.approx(expected.as_rotvec(), abs=1e-12)
    assert rotation_vectors(found)[120] == pytest.approx(np.zeros(3), abs=1e-15)
    vectors = np.random.default_rng(3).normal(size=(300, 3))
    assert rotated(found, vectors) == pytest.approx(expected.apply(vectors), abs=1e-12)
    assert rotated(found, vectors[:1]) == pytest.approx(expected.apply(vectors[0]), abs=1e-12)


def test_cue_frame_has_a_level_left_and_the_tip_ahead():
    gravity = np.array([1.0, 2.0, 9.5])
    axis = np.array([0.9, 0.3, -0.2]) / np.linalg.norm([0.9, 0.3, -0.2])
    frame = cue_frame(axis, gravity)
    assert frame @ frame.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(frame) == pytest.approx(1.0)
    assert frame[0] == pytest.approx(axis)
    assert frame[1] @ gravity == pytest.approx(0.0, abs=1e-12)
    assert frame[2] @ gravity > 0.0


def test_the_last_moment_turned_away_is_that_of_scipys_angles():
    turned = running_product(4.0 * wobble(400), np.full(399, 1.0 / RATE_HZ))
    rotations = Rotation.from_quat(turned)
    for index in (399, 250, 20):
        angle = (rotations[index].inv() * rotations[: index + 1]).magnitude()
        away = np.flatnonzero(angle > 0.2)
        assert last_away(turned, index, 0.2) == (away[-1] if len(away) else -1)


def test_motion_in_the_cues_frame_is_turned_by_it():
    seen = running_product(wobble(60), np.full(59, 1.0 / RATE_HZ))
    rng, time_s = np.random.default_rng(5), np.arange(60) / RATE_HZ
    turn, level, gravity = rng.normal(size=(60, 3)), rng.normal(size=(60, 3)), np.array([1, 2, 9.5])
    frame = cue_frame(np.array([0.6, 0.0, 0.8]), gravity)
    accel, axial, turned = motion_in(frame, seen, turn, level, gravity, time_s, 20, 0.5)
    assert accel == pytest.approx((level - gravity) @ frame.T)
    assert turned == pytest.approx(turn @ frame.T)
    pointing = Rotation.from_quat(seen).apply(frame[0]) @ frame.T
    assert axial == pytest.approx(along(accel, pointing, time_s, 20, 0.5))


def test_gravity_is_what_two_rests_agree_on_near_to_what_it_is_about():
    means = np.array([[0, 0, 9.8], [0, 0, 9.9], [0, 1.0, 9.8], [0, 0, 5.0]])
    weight, about = np.array([0.6, 0.2, 0.3, 0.6]), np.array([0.0, 0.0, 9.8])
    assert agreed_gravity(means, weight, about, np.inf, 0.15) == pytest.approx([0, 0, 9.825, 0.8])
    # nothing is near enough, or only one
    assert agreed_gravity(means + 3.0, weight, about, 1.0, 0.15)[3] == 0.0
    assert agreed_gravity(means[1:], weight[1:], about, 0.2, 0.15)[3] == 0.0
