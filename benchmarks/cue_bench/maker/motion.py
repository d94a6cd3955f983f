"""The rigid cue in three dimensions: from its coordinates to what a point of it feels.

World frame: x along the line of aim, y to the player's left, z up. The cue is led through a
bridge point B. Its direction has a yaw (tip to the left) and a pitch (tip up), it is turned by a
twist about its own axis (right-hand rule), and ``slide`` is how far it is pushed through the
bridge: 0 at the rest at the ball, positive towards it. Body frame: x along the cue to the tip,
y and z turned with the twist.

A point that lies ``rho`` from the bridge in the body frame, rho = (slide + constant, y, z), feels

    f = R^T (B'' + g up) + alpha x rho + omega x (omega x rho) + 2 omega x rho' + rho''

which is exact for a rigid body. The curves are closed forms, so nothing is differentiated
numerically.
"""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from cue_bench.maker.curves import Curve, product

FloatArray = NDArray[np.float64]
ChannelName = Literal["slide", "yaw", "pitch", "twist", "bridge_x", "bridge_y", "bridge_z"]
CHANNELS: tuple[ChannelName, ...] = (
    "slide",
    "yaw",
    "pitch",
    "twist",
    "bridge_x",
    "bridge_y",
    "bridge_z",
)
GRAVITY_M_S2 = 9.81


@dataclass(frozen=True)
class Couplings:
    """How the cue's direction follows its slide, as an arm that swings about an elbow makes it.

    Parameters
    ----------
    yaw_rad_m, pitch_rad_m : float
        Turn per metre of slide: a cue that does not run along its own axis.
    pitch_rad_m2 : float
        Turn per square metre: the hand's arc lifts the butt at both ends of the swing.
    """

    yaw_rad_m: float = 0.0
    pitch_rad_m: float = 0.0
    pitch_rad_m2: float = 0.0


@dataclass(frozen=True, eq=False)
class Pose:
    """The cue's coordinates at n times; each array has rows value, rate, acceleration."""

    slide_m: FloatArray
    yaw_rad: FloatArray
    pitch_rad: FloatArray
    twist_rad: FloatArray
    bridge_m: FloatArray
    """Shape (3, 3, n): axis, then value, rate, acceleration."""

    def rotation(self) -> FloatArray:
        """Return the matrices from body to world, shape (n, 3, 3)."""
        sy, cy = np.sin(self.yaw_rad[0]), np.cos(self.yaw_rad[0])
        sp, cp = np.sin(self.pitch_rad[0]), np.cos(self.pitch_rad[0])
        st, ct = np.sin(self.twist_rad[0]), np.cos(self.twist_rad[0])
        matrix = np.empty((len(sy), 3, 3))
        matrix[:, :, 0] = np.stack([cy * cp, sy * cp, sp], axis=1)
        matrix[:, :, 1] = np.stack(
            [-sy * ct - cy * sp * st, cy * ct - sy * sp * st, cp * st], axis=1
        )
        matrix[:, :, 2] = np.stack(
            [sy * st - cy * sp * ct, -cy * st - sy * sp * ct, cp * ct], axis=1
        )
        return matrix

    def point_m(self, rho_m: tuple[float, float, float]) -> FloatArray:
        """Return where in the world a point of the cue is, shape (n, 3).

        ``rho_m`` is its place in the body frame, seen from the bridge when the slide is 0.
        """
        local = np.tile(np.asarray(rho_m), (self.slide_m.shape[1], 1))
        local[:, 0] += self.slide_m[0]
        moved: FloatArray = np.einsum("nij,nj->ni", self.rotation(), local)
        return self.bridge_m[:, 0].T + moved

    def axial_speed_m_s(self) -> FloatArray:
        """Return the cue's speed along its own axis, shape (n,)."""
        along = self.rotation()[:, :, 0]
        speed: FloatArray = self.slide_m[1] + np.einsum("ni,in->n", along, self.bridge_m[:, 1])
        return speed

    def angular_rate_rad_s(self) -> tuple[FloatArray, FloatArray]:
        """Return angular rate and its derivative in the body frame, each of shape (n, 3)."""
        _, y1, y2 = self.yaw_rad
        # Pitch is positive with the tip up, a negative turn about the left-pointing axis.
        b0, b1, b2 = -self.pitch_rad
        t0, t1, t2 = self.twist_rad
        sb, cb, st, ct = np.sin(b0), np.cos(b0), np.sin(t0), np.cos(t0)
        rate = [t1 - y1 * sb, b1 * ct + y1 * cb * st, -b1 * st + y1 * cb * ct]
        change = [
            t2 - y2 * sb - y1 * b1 * cb,
            b2 * ct - b1 * t1 * st + y2 * cb * st - y1 * b1 * sb * st + y1 * cb * t1 * ct,
            -b2 * st - b1 * t1 * ct + y2 * cb * ct - y1 * b1 * sb * ct - y1 * cb * t1 * st,
        ]
        return np.stack(rate, axis=1), np.stack(change, axis=1)

    def specific_force_m_s2(self, rho_m: tuple[float, float, float]) -> FloatArray:
        """Return what an accelerometer at a point feels in the body frame, shape (n, 3)."""
        omega, alpha = self.angular_rate_rad_s()
        rho = np.tile(np.asarray(rho_m), (len(omega), 1))
        rho[:, 0] += self.slide_m[0]
        rho_rate = np.zeros_like(rho)
        rho_rate[:, 0] = self.slide_m[1]
        carried = self.bridge_m[:, 2].T + np.array([0.0, 0.0, GRAVITY_M_S2])
        force: FloatArray = np.einsum("nij,ni->nj", self.rotation(), carried)
        force += np.cross(alpha, rho) + np.cross(omega, np.cross(omega, rho) + 2 * rho_rate)
        force[:, 0] += self.slide_m[2]
        return force


@dataclass
class Motion:
    """All curves of one session; evaluated at any times."""

    start_values: dict[ChannelName, float] = field(default_factory=dict)
    couplings: Couplings = field(default_factory=Couplings)
    curves: dict[ChannelName, list[Curve]] = field(
        default_factory=lambda: {name: [] for name in CHANNELS}
    )

    def add(self, channel: ChannelName, curve: Curve) -> None:
        """Add a curve to one coordinate."""
        self.curves[channel].append(curve)

    def pose(self, time_s: FloatArray) -> Pose:
        """Return the cue's coordinates at increasing times in seconds."""
        rows = {name: self._channel(name, time_s) for name in CHANNELS}
        slide, link = rows["slide"], self.couplings
        return Pose(
            slide_m=slide,
            yaw_rad=rows["yaw"] + link.yaw_rad_m * slide,
            pitch_rad=rows["pitch"]
            + link.pitch_rad_m * slide
            + link.pitch_rad_m2 * product(slide, slide),
            twist_rad=rows["twist"],
            bridge_m=np.stack([rows["bridge_x"], rows["bridge_y"], rows["bridge_z"]]),
        )

    def _channel(self, name: ChannelName, time_s: FloatArray) -> FloatArray:
        """Return one coordinate's value, rate and acceleration, shape (3, n)."""
        out = np.zeros((3, len(time_s)))
        out[0] = self.start_values.get(name, 0.0)
        for curve in self.curves[name]:
            first, last = np.searchsorted(time_s, [curve.start_s, curve.stop_s])
            out[0, last:] += curve.final
            if last > first:
                out[:, first:last] += curve.at(time_s[first:last])
        return out
