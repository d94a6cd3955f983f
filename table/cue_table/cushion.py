"""Ball on cushion: the impulse model of Mathavan, Jackson and Parkin (2010).

Proc. IMechE Part C 224(9), 1863-1873: a rigid cushion meets the ball above its centre; while the
normal impulse builds up, Coulomb friction acts at the cushion and, because the cushion presses the
ball down, at the cloth. The contact ends when the work given back is the square of the restitution
times the work put in. The abstract was read (restitution 0.98, friction 0.14, valid up to 2.5 m/s
of normal speed); nose height and cloth friction are known from transcriptions; the equations were
derived again here, in vectors.

The paper steps through the impulse. Here the compression is integrated over the normal speed and
the restitution over the square root of the work, both of which begin and end at known values, so
that a classical fourth-order method needs a dozen steps where the simple one needs thousands.
"""

from dataclasses import dataclass

import numpy as np

from cue_table.ball import FloatArray
from cue_table.errors import check_range

VALID_NORMAL_SPEED_M_S = 2.5
"""Up to this speed towards the cushion the published model was found to hold."""

N_STEPS = 12
"""Steps for each half of the contact; see tests/table/test_cushion.py for what they reach."""


@dataclass(frozen=True)
class Cushion:
    """What the cushion does to a ball.

    Parameters
    ----------
    restitution : float
        Square root of the share of the work that is given back; not the ratio of speeds.
    friction : float
        Between cushion and ball; below 0.4, so that the ball stays on the cloth.
    cloth_friction : float
        Between cloth and ball during the contact.
    nose_sine : float
        Height of the nose above the ball's centre over the radius.

    Raises
    ------
    TableError
        If a value lies outside its range.
    """

    restitution: float = 0.98
    friction: float = 0.14
    cloth_friction: float = 0.212
    nose_sine: float = 0.4

    def __post_init__(self) -> None:
        """Refuse what no cushion does."""
        advice = "Give the value of a real cushion."
        check_range("Cushion restitution", self.restitution, low=0.3, high=1.0, remedy=advice)
        check_range("Cushion friction", self.friction, low=0.0, high=0.4, remedy=advice)
        check_range(
            "Cloth friction at the cushion", self.cloth_friction, low=0.0, high=1.0, remedy=advice
        )
        check_range(
            "Nose height over the centre, in radii",
            self.nose_sine,
            low=0.3,
            high=0.6,
            remedy=advice,
        )


DEFAULT_CUSHION = Cushion()
"""The published snooker cushion."""

_Vector = tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]


@dataclass(frozen=True, eq=False)
class Rebound:
    """A ball just after it left the cushion, in the cushion's frame.

    Parameters
    ----------
    along_m_s, towards_m_s : ndarray, shape (n,)
        Velocity along the cushion and towards it (negative: away).
    roll_along_m_s, roll_towards_m_s : ndarray, shape (n,)
        Roll velocity, the same way.
    side_m_s : ndarray, shape (n,)
        Side speed.
    """

    along_m_s: FloatArray
    towards_m_s: FloatArray
    roll_along_m_s: FloatArray
    roll_towards_m_s: FloatArray
    side_m_s: FloatArray


def rebound(
    along_m_s: FloatArray,
    towards_m_s: FloatArray,
    roll_along_m_s: FloatArray,
    roll_towards_m_s: FloatArray,
    side_m_s: FloatArray,
    cushion: Cushion = DEFAULT_CUSHION,
    *,
    n_steps: int = N_STEPS,
) -> Rebound:
    """Return the ball just after the cushion.

    Parameters
    ----------
    along_m_s, towards_m_s : ndarray, shape (n,)
        Velocity along the cushion (to the right, seen facing it) and towards it, the latter
        greater than 0.
    roll_along_m_s, roll_towards_m_s : ndarray, shape (n,)
        Roll velocity, the same way.
    side_m_s : ndarray, shape (n,)
        Radius times spin about the vertical, anticlockwise from above.
    cushion : Cushion
        The cushion.
    n_steps : int
        Steps for each half of the contact.

    Returns
    -------
    Rebound
        Speeds scale with the incoming speed: the model knows no speed of its own.
    """
    scale = np.sqrt(along_m_s**2 + towards_m_s**2)
    model = _Contact(cushion)
    state = (
        along_m_s / scale,
        towards_m_s / scale,
        -roll_towards_m_s / scale,
        roll_along_m_s / scale,
        side_m_s / scale,
    )
    state, work = model.compress(state, n_steps)
    state = model.release(state, work, n_steps)
    along, towards, spin_x, spin_y, spin_z = (part * scale for part in state)
    return Rebound(along, towards, spin_y, -spin_x, spin_z)


class _Contact:
    """The equations of one contact: x along the cushion, y towards it, spin as radius times rate.

    State: vx, vy, wx, wy, wz. All derivatives are per unit of normal impulse over the mass.
    """

    def __init__(self, cushion: Cushion) -> None:
        """Keep the constants."""
        self.sine = cushion.nose_sine
        self.cosine = float(np.sqrt(1.0 - cushion.nose_sine**2))
        self.rail = cushion.friction
        self.cloth = cushion.cloth_friction
        self.given_back = cushion.restitution**2

    def rates(self, state: _Vector, step: FloatArray) -> tuple[_Vector, FloatArray]:
        """Return the derivatives and the rate at which the normal speed falls."""
        vx, vy, wx, wy, wz = state
        sine, cosine, rail = self.sine, self.cosine, self.rail
        slip_x = vx + sine * wy - cosine * wz
        slip_up = wx - sine * vy
        # Below this slip the force passes smoothly through zero, as stiffly as the method bears.
        size = np.maximum(np.sqrt(slip_x * slip_x + slip_up * slip_up), 1.4 * rail * step + 1e-12)
        rail_x = rail * slip_x / size
        rail_up = rail * slip_up / size
        press = self.cloth * np.maximum(sine + cosine * rail_up, 0.0)
        under_x = vx - wy
        under_y = vy + wx
        under = np.sqrt(under_x * under_x + under_y * under_y)
        is_gripping = under < 1e-9
        if np.any(is_gripping):
            # From rest the slip grows along the push of the other forces, or not at all.
            push_x = rail_x * (2.5 * sine - 1.0)
            push_y = -cosine + rail_up * (sine - 2.5)
            under_x = np.where(is_gripping, push_x, under_x)
            under_y = np.where(is_gripping, push_y, under_y)
            hold = np.maximum(np.sqrt(push_x * push_x + push_y * push_y), 3.5 * press)
            under = np.where(is_gripping, hold, np.maximum(under, 1.4 * press * step))
        else:
            under = np.maximum(under, 1.4 * press * step)
        grip = press / np.maximum(under, 1e-12)
        cloth_x = grip * under_x
        cloth_y = grip * under_y
        fall = cosine - sine * rail_up + cloth_y
        return (
            -rail_x - cloth_x,
            -fall,
            -2.5 * (rail_up + cloth_y),
            2.5 * (cloth_x - sine * rail_x),
            2.5 * cosine * rail_x,
        ), fall

    def compress(self, state: _Vector, n_steps: int) -> tuple[_Vector, FloatArray]:
        """Return the state when the ball is deepest in the cushion, and the work put in."""
        start = state[1]
        stride = start / n_steps
        work = np.zeros_like(start)

        def slope(at: _Vector) -> tuple[_Vector, FloatArray]:
            rates, fall = self.rates(at, stride)
            return _scaled(rates, 1.0 / fall), self.cosine * at[1] / fall

        for _ in range(n_steps):
            k1, w1 = slope(state)
            k2, w2 = slope(_moved(state, k1, 0.5 * stride))
            k3, w3 = slope(_moved(state, k2, 0.5 * stride))
            k4, w4 = slope(_moved(state, k3, stride))
            state = _moved(state, _blend(k1, k2, k3, k4), stride / 6.0)
            work = work + stride / 6.0 * (w1 + 2.0 * w2 + 2.0 * w3 + w4)
        return state, work

    def release(self, state: _Vector, work: FloatArray, n_steps: int) -> _Vector:
        """Return the state when the share of the work has been given back."""
        end = np.sqrt(self.given_back * work)
        stride = end / n_steps
        impulse_step = stride * np.sqrt(2.0 / self.cosine)

        def slope(at: _Vector, root: FloatArray) -> _Vector:
            rates, fall = self.rates(at, impulse_step)
            outward = np.maximum(-self.cosine * at[1], 1e-12)
            first = np.sqrt(2.0 / (self.cosine * fall))
            pace = np.where(root > 0.0, 2.0 * root / outward, first)
            return _scaled(rates, pace)

        for i in range(n_steps):
            root = i * stride
            k1 = slope(state, root)
            k2 = slope(_moved(state, k1, 0.5 * stride), root + 0.5 * stride)
            k3 = slope(_moved(state, k2, 0.5 * stride), root + 0.5 * stride)
            k4 = slope(_moved(state, k3, stride), root + stride)
            state = _moved(state, _blend(k1, k2, k3, k4), stride / 6.0)
        return state


def _scaled(a: _Vector, factor: FloatArray) -> _Vector:
    """Return a times factor."""
    return a[0] * factor, a[1] * factor, a[2] * factor, a[3] * factor, a[4] * factor


def _moved(a: _Vector, rate: _Vector, step: FloatArray) -> _Vector:
    """Return a + rate * step."""
    return (
        a[0] + rate[0] * step,
        a[1] + rate[1] * step,
        a[2] + rate[2] * step,
        a[3] + rate[3] * step,
        a[4] + rate[4] * step,
    )


def _blend(a: _Vector, b: _Vector, c: _Vector, d: _Vector) -> _Vector:
    """Return a + 2 b + 2 c + d."""
    return (
        a[0] + 2.0 * (b[0] + c[0]) + d[0],
        a[1] + 2.0 * (b[1] + c[1]) + d[1],
        a[2] + 2.0 * (b[2] + c[2]) + d[2],
        a[3] + 2.0 * (b[3] + c[3]) + d[3],
        a[4] + 2.0 * (b[4] + c[4]) + d[4],
    )
