import numpy as np
import pytest
from numpy.polynomial import Polynomial

from cue_bench.maker.curves import Contact, Curve, Hum, Move, Path, Ring, Wave, hermite, product

STEP_S = 1e-5

CURVES: dict[str, Curve] = {
    "move": Move(0.1, 0.9, -0.3),
    "path": Path(0.1, (0.4, 0.4), (Polynomial([0, 0, 1.0]), Polynomial([0.16, 0.8, -0.3]))),
    "contact": Contact(0.2, 0.6, 0.8),
    "ring": Ring(0.1, 0.002, 80.0, 25.0),
    "wave": Wave(0.1, 0.9, 0.3, 3.0, 0.7, ramp_s=0.3),
    "hum": Hum((0.1, 0.02), (0.4, 9.0), (0.3, 2.0)),
}


@pytest.mark.parametrize("curve", CURVES.values(), ids=CURVES.keys())
def test_rate_and_acceleration_are_the_derivatives_of_the_value(curve: Curve) -> None:
    # Truth: central differences; their error is of the order of step squared.
    times = np.linspace(0.211, 0.777, 53)
    before, now, after = (curve.at(times + shift) for shift in (-STEP_S, 0.0, STEP_S))
    rate = (after[0] - before[0]) / (2 * STEP_S)
    accel = (after[1] - before[1]) / (2 * STEP_S)
    np.testing.assert_allclose(now[1], rate, atol=1e-5 * (1 + np.abs(rate).max()))
    np.testing.assert_allclose(now[2], accel, atol=1e-5 * (1 + np.abs(accel).max()))


@pytest.mark.parametrize("name", ["move", "contact", "ring", "wave"])
def test_a_curve_ends_at_its_final_value_and_rests_there(name: str) -> None:
    curve = CURVES[name]
    last = curve.at(np.array([curve.stop_s - 1e-9]))[:, 0]
    assert last[0] == pytest.approx(curve.final, abs=1e-6)
    assert last[1] == pytest.approx(0.0, abs=1e-5)


def test_a_move_has_the_peak_speed_of_the_least_jerk_reach() -> None:
    # Flash and Hogan 1985: greatest speed is 15/8 of the mean speed, in the middle (from memory).
    reach = Move(0.0, 2.0, 0.5)
    assert reach.at(np.array([1.0]))[1, 0] == pytest.approx(15 / 8 * 0.25)


def test_a_contact_takes_the_whole_loss_by_a_half_sine() -> None:
    # Truth: a half-sine of mean loss/span peaks at pi/2 times that.
    contact = Contact(0.0, 0.0014, 0.77)
    middle = contact.at(np.array([0.0007]))
    assert middle[2, 0] == pytest.approx(-np.pi / 2 * 0.77 / 0.0014)
    assert contact.at(np.array([0.0]))[1, 0] == pytest.approx(0.77)


def test_a_hermite_piece_meets_all_six_end_conditions() -> None:
    start, stop, span = (0.3, -1.0, 4.0), (0.1, 2.0, -7.0), 0.37
    piece = hermite(start, stop, span)
    for order in range(3):
        derivative = piece.deriv(order) if order else piece
        assert derivative(0.0) == pytest.approx(start[order])
        assert derivative(span) == pytest.approx(stop[order])


def test_a_product_of_curves_follows_the_polynomial_product() -> None:
    a, b = Polynomial([1.0, -2.0, 0.5]), Polynomial([0.2, 1.0, 3.0])
    x = np.linspace(-1.0, 1.0, 9)

    def rows(p: Polynomial) -> np.ndarray:
        return np.stack([p(x), p.deriv(1)(x), p.deriv(2)(x)])

    np.testing.assert_allclose(product(rows(a), rows(b)), rows(a * b), atol=1e-12)
