"""One contact of ball and cushion, integrated: the impulse model of Mathavan, Jackson and Parkin.

The paper steps through the impulse. Here the compression is integrated over the normal speed and
the restitution over the square root of the work, both of which begin and end at known values, so
that a classical fourth-order method needs few steps where the simple one needs thousands. Only
where a slip passes through zero, and its friction turns round, are the steps halved.
"""

from collections.abc import Callable

import numpy as np

from cue_table.ball import BoolArray, FloatArray

N_STEPS = 4
"""Steps for each half of the contact, where neither slip is about to turn round."""

N_HALVINGS = 5
"""How often a step is halved where a slip may turn round. With both numbers the rebound errs by
0.0015 of the incoming speed at most for rolling balls; for balls with any spin at all by 0.001 in
nine of ten cases and 0.01 at most (against 2,000 plain steps, tests/table/test_cushion.py)."""

CHUNK = 4096
"""Balls worked on together, so that they stay in the processor's cache."""

SOFT = 1.4
"""Slip, in steps times friction, below which friction fades out: as stiff as the method bears."""

_Slope = Callable[[FloatArray, FloatArray], FloatArray]


class Contact:
    """The equations of one contact: x along the cushion, y towards it, spin as radius times rate.

    State: vx, vy, wx, wy, wz and a sixth row for the work (compression) or its square root
    (release). Rates are per unit of normal impulse over the mass.
    """

    def __init__(
        self, *, restitution: float, friction: float, cloth_friction: float, nose_sine: float
    ) -> None:
        """Keep the constants."""
        self.sine = nose_sine
        self.cosine = float(np.sqrt(1.0 - nose_sine**2))
        self.rail = friction
        self.cloth = cloth_friction
        self.restitution = restitution

    def pass_through(self, incoming: FloatArray) -> FloatArray:
        """Return the five rows of the state after the contact, shape (5, n)."""
        leaving = np.empty_like(incoming)
        for first in range(0, incoming.shape[1], CHUNK):
            part = slice(first, first + CHUNK)
            leaving[:, part] = self._integrated(incoming[:, part])
        return leaving

    def _integrated(self, incoming: FloatArray) -> FloatArray:
        """Return the five rows after the contact of balls few enough to work on together."""
        scale = incoming[1]
        state = np.concatenate([incoming / scale, np.zeros((1, scale.size))])
        stride = np.full(scale.size, 1.0 / N_STEPS)
        for _ in range(N_STEPS):
            state = self.step(state, stride, self.compression, N_HALVINGS)
        end = self.restitution * np.sqrt(state[5])
        state[1] = 0.0
        state[5] = 0.0
        stride = end / N_STEPS
        for _ in range(N_STEPS):
            state = self.step(state, stride, self.release, N_HALVINGS)
        return np.asarray(state[:5] * scale)

    def step(
        self, state: FloatArray, stride: FloatArray, slope: _Slope, halvings: int
    ) -> FloatArray:
        """Return the state one step on; halve the step where a slip may pass through zero."""
        k1 = slope(state, stride)
        if halvings > 0:
            is_turning = self.may_turn(state, k1, stride)
            if is_turning.any():
                after = np.empty_like(state)
                smooth = ~is_turning
                if smooth.any():
                    after[:, smooth] = self.step(state[:, smooth], stride[smooth], slope, 0)
                half = 0.5 * stride[is_turning]
                middle = self.step(state[:, is_turning], half, slope, halvings - 1)
                after[:, is_turning] = self.step(middle, half, slope, halvings - 1)
                return after
        k2 = slope(state + 0.5 * stride * k1, stride)
        k3 = slope(state + 0.5 * stride * k2, stride)
        k4 = slope(state + stride * k3, stride)
        return np.asarray(state + stride / 6.0 * (k1 + 2.0 * (k2 + k3) + k4))

    def slips(self, state: FloatArray) -> tuple[FloatArray, ...]:
        """Return the slip at the cushion, along and up, and at the cloth, along and towards."""
        vx, vy, wx, wy, wz, _ = state
        return vx + self.sine * wy - self.cosine * wz, wx - self.sine * vy, vx - wy, vy + wx

    def may_turn(self, state: FloatArray, slope: FloatArray, stride: FloatArray) -> BoolArray:
        """Return where a slip comes close to zero within the step, so that its friction turns."""
        ux, uz, cx, cy = self.slips(state)
        dux, duz, dcx, dcy = (rate * stride for rate in self.slips(slope))
        soft = SOFT * stride
        return _turns(ux, uz, dux, duz, soft * self.rail) | _turns(
            cx, cy, dcx, dcy, soft * self.cloth * self.sine
        )

    def compression(self, state: FloatArray, stride: FloatArray) -> FloatArray:
        """Return the slope over the normal speed lost; the sixth row is the work put in."""
        rates = self.rates(state, stride)
        rates[5] = self.cosine * state[1]
        return np.asarray(rates / -rates[1])

    def release(self, state: FloatArray, stride: FloatArray) -> FloatArray:
        """Return the slope over the square root of the work given back, the sixth row."""
        rates = self.rates(state, 1.45 * stride)
        root = state[5]
        outward = np.maximum(-self.cosine * state[1], 1e-12)
        first = np.sqrt(2.0 / (self.cosine * -rates[1]))
        pace = np.where(root > 0.0, 2.0 * root / outward, first)
        rates *= pace
        rates[5] = 1.0
        return rates

    def rates(self, state: FloatArray, step: FloatArray) -> FloatArray:
        """Return the rates of the five rows of the state; the sixth is left open."""
        vx, vy, wx, wy, wz, _ = state
        sine, cosine, rail = self.sine, self.cosine, self.rail
        slip_x = vx + sine * wy - cosine * wz
        slip_up = wx - sine * vy
        # Below this slip the force passes smoothly through zero, as stiffly as the method bears.
        size = np.sqrt(slip_x * slip_x + slip_up * slip_up)
        rail_grip = rail / np.maximum(size, SOFT * rail * step + 1e-12)
        rail_x = rail_grip * slip_x
        rail_up = rail_grip * slip_up
        press = self.cloth * (sine + cosine * rail_up)
        under_x = vx - wy
        under_y = vy + wx
        under = np.sqrt(under_x * under_x + under_y * under_y)
        grip = press / np.maximum(under, SOFT * press * step + 1e-12)
        is_resting = under < 1e-9
        if is_resting.any():
            # From rest the slip grows along the push of the other forces, or not at all.
            push_x = rail_x * (2.5 * sine - 1.0)
            push_y = -cosine + rail_up * (sine - 2.5)
            push = np.sqrt(push_x * push_x + push_y * push_y)
            grip = np.where(is_resting, press / np.maximum(push, 3.5 * press + 1e-12), grip)
            under_x = np.where(is_resting, push_x, under_x)
            under_y = np.where(is_resting, push_y, under_y)
        cloth_x = grip * under_x
        cloth_y = grip * under_y
        out = np.empty_like(state)
        out[0] = -rail_x - cloth_x
        out[1] = sine * rail_up - cosine - cloth_y
        out[2] = -2.5 * (rail_up + cloth_y)
        out[3] = 2.5 * (cloth_x - sine * rail_x)
        out[4] = 2.5 * cosine * rail_x
        out[5] = 0.0  # else leftover memory overflows when the rates are scaled
        return out


def _turns(
    x: FloatArray, y: FloatArray, dx: FloatArray, dy: FloatArray, soft: FloatArray
) -> BoolArray:
    """Return where a slip passes near zero within a step, or is too small to give full friction."""
    size = x * x + y * y
    change = dx * dx + dy * dy
    closing = -(x * dx + y * dy)
    is_passing = (closing > 0.0) & (closing < 1.15 * change)
    is_near = size * change - closing * closing < change * change
    falls_to = np.sqrt(size) - np.sqrt(change)
    is_small = (size < soft * soft) | ((closing > 0.0) & (falls_to < soft))
    is_unsure = (size < 4.0 * soft * soft) & (change > size)
    return np.asarray(((is_passing & is_near) | is_small | is_unsure) & (size > 1e-18))
