"""A second maker: the cue moved, hit and felt by a general-purpose physics engine (MuJoCo).

A rigid cue, its weight carried, is led by a soft weld at the grip along the course that a hand
takes, and meets a ball that lies on the cloth. Forces, contact, accelerometer, gyroscope and truth
come from the engine; none of the maker's own closed forms for the hit or the felt force is used.
The hand's course, with its tremor, and the sensor model are shared with the first maker.

Far off the centre the engine's contact gives the ball too much (8 % at 5 mm, its restitution acts
along the line of centres while friction holds the tip), so that sessions keep near the centre.

Needs the package ``mujoco`` (extra ``bench``).
"""

import importlib
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from cue_bench.maker.motion import Motion
from cue_bench.maker.settings import SessionSettings, StrokePlan
from cue_bench.maker.strokes import BALL_MASS_KG, BALL_RADIUS_M

FloatArray = NDArray[np.float64]
PARKED_M = (50.0, 0.0, 0.0)
"""Where the ball waits while it is not needed."""

CROSS_INERTIA_SHARE = 0.9
"""Of a uniform rod's: a cue is heavier at the butt (common practice, no source)."""

TWIST_INERTIA_KG_M2 = 0.03
"""About the cue's own axis: the gripping hand turns with it. The engine scales a soft weld by the
body's mean inertia, so that a cue alone (some 4e-5) would follow the hand far too loosely."""

CENTRE_FROM_BUTT_SHARE = 0.31
"""Where a cue balances, over its length (common practice, no source)."""

# The weld's small impedance makes it give way to forces: one near 1 holds the cue as if the hand
# weighed tons. The cloth starts off the origin: a geom that coincides with its body cannot be
# moved later.
MODEL = """
<mujoco>
  <option timestep="{step}" gravity="0 0 -9.81" cone="elliptic" impratio="1" integrator="Euler"/>
  <worldbody>
    <geom name="cloth" type="plane" size="100 100 1" pos="0 0 -1" contype="0" conaffinity="0"/>
    <body name="hand" mocap="true"/>
    <body name="cue" gravcomp="1">
      <freejoint/>
      <inertial pos="{centre} 0 0" mass="{mass}" diaginertia="{along} {across} {across}"/>
      <geom name="tip" type="sphere" size="{tip_radius}" pos="{dome} 0 0" mass="0"
            contype="0" conaffinity="0"/>
      <site name="sensor" pos="{sensor_x} 0 {sensor_z}"/>
      <site name="front" pos="{front} 0 0"/>
    </body>
    <body name="ball">
      <freejoint/>
      <geom name="ball" type="sphere" size="{ball_radius}" mass="{ball_mass}"
            contype="0" conaffinity="0"/>
    </body>
  </worldbody>
  <contact>
    <pair geom1="tip" geom2="ball" condim="3" friction="0.7 0.7 0.005 0.0001 0.0001"
          solref="{stiffness} {damping}" solimp="0.99 0.99 0.001"/>
    <pair geom1="ball" geom2="cloth" condim="3" friction="0.2 0.2 0.005 0.0001 0.0001"
          solref="0.004 1" solreffriction="0.05 1" solimp="0.95 0.95 0.001"/>
  </contact>
  <equality>
    <weld body1="hand" body2="cue" solref="{softness} 1" solimp="0.02 0.02 0.001"/>
  </equality>
  <sensor>
    <accelerometer site="sensor"/><gyro site="sensor"/>
    <framepos objtype="site" objname="front"/><framelinvel objtype="site" objname="front"/>
    <framequat objtype="xbody" objname="cue"/>
    <framepos objtype="body" objname="ball"/><framelinvel objtype="body" objname="ball"/>
  </sensor>
</mujoco>
"""


@dataclass(frozen=True)
class Grip:
    """The hand: where it holds the cue, how softly, and how long a contact lasts.

    ``softness_s`` is the time constant with which the cue follows the hand, critically damped.
    """

    from_butt_m: float = 0.3
    softness_s: float = 0.02
    contact_s: float = 0.0015


@dataclass(frozen=True, eq=False)
class Track:
    """What the engine gave over a stretch of time; arrays of n rows.

    ``felt`` is specific force and angular rate at the sensor's place in the cue's body frame.
    """

    time_s: FloatArray
    felt: FloatArray
    tip_m: FloatArray
    tip_velocity_m_s: FloatArray
    rotation: FloatArray
    ball_m: FloatArray
    ball_velocity_m_s: FloatArray

    @property
    def axial_speed_m_s(self) -> FloatArray:
        """Return the tip's speed along the cue."""
        return np.asarray(np.einsum("ni,ni->n", self.tip_velocity_m_s, self.rotation[:, :, 0]))

    def between(self, start_s: float, stop_s: float) -> "Track":
        """Return the rows with start_s <= time < stop_s."""
        first, last = np.searchsorted(self.time_s, [start_s, stop_s])
        return Track(*(rows[first:last] for rows in self._rows()))

    def followed_by(self, other: "Track") -> "Track":
        """Return both stretches as one."""
        pairs = zip(self._rows(), other._rows(), strict=True)
        return Track(*(np.concatenate(pair) for pair in pairs))

    def _rows(self) -> tuple[FloatArray, ...]:
        """Return all arrays in the order of the fields."""
        return (
            self.time_s,
            self.felt,
            self.tip_m,
            self.tip_velocity_m_s,
            self.rotation,
            self.ball_m,
            self.ball_velocity_m_s,
        )


class Engine:
    """The cue in the engine, following a hand's course from time 0 on.

    Parameters
    ----------
    settings : SessionSettings
        Cue, sensor and step (one over ``dense_rate_hz``).
    hand : Motion
        The course of the hand, given as that of a cue held stiffly.
    grip : Grip
        How the hand holds the cue.
    """

    def __init__(self, settings: SessionSettings, hand: Motion, grip: Grip) -> None:
        # Imported here: the package is an extra, and this module must be readable without it.
        self._mujoco: Any = importlib.import_module("mujoco")
        self._rollout: Any = importlib.import_module("mujoco.rollout")
        self.settings, self.hand, self.grip = settings, hand, grip
        self.step_s = 1.0 / settings.dense_rate_hz
        self.model = self._mujoco.MjModel.from_xml_string(_model(settings, grip))
        self.data = self._mujoco.MjData(self.model)
        self.n_done = 0
        place, turn = self._course(np.zeros(1))
        self.data.qpos[:7] = np.concatenate([place[0], turn[0]])
        self.data.mocap_pos[0], self.data.mocap_quat[0] = place[0], turn[0]
        self.park_ball()

    def run_to(self, stop_s: float, *, finer: int = 1) -> Track:
        """Let the engine run on and return what it gave at every step.

        ``finer`` steps are taken inside each step: a contact of 1.5 ms needs them.
        """
        n = max(round(stop_s / self.step_s) - self.n_done, 1)
        self.model.opt.timestep = self.step_s / finer
        times = self.n_done * self.step_s + np.arange(n * finer) * self.step_s / finer
        place, turn = self._course(times)
        kinds = self._mujoco.mjtState
        start = np.empty(self._mujoco.mj_stateSize(self.model, kinds.mjSTATE_FULLPHYSICS))
        self._mujoco.mj_getState(self.model, self.data, start, kinds.mjSTATE_FULLPHYSICS)
        states, given = self._rollout.rollout(
            self.model,
            [self.data],
            start[None],
            np.hstack([place, turn])[None],
            control_spec=int(kinds.mjSTATE_MOCAP_POS | kinds.mjSTATE_MOCAP_QUAT),
        )
        self._mujoco.mj_setState(self.model, self.data, states[0, -1], kinds.mjSTATE_FULLPHYSICS)
        self.n_done += n
        return _track(times[::finer], given[0, ::finer])

    def place_ball(self, plan: StrokePlan) -> None:
        """Lay the ball before the tip as the plan has it, and the cloth below the ball.

        The cue's axis passes ``below_centre_m`` below its centre, and the tip is as far from it as
        at the rest at the ball.
        """
        self._mujoco.mj_forward(self.model, self.data)
        turn = Rotation.from_quat(self.data.body("cue").xquat, scalar_first=True).as_matrix()
        along = turn[:, 0]
        up = np.array([0.0, 0.0, 1.0]) - along[2] * along
        up /= np.linalg.norm(up)
        reach = BALL_RADIUS_M + self.settings.cue.tip_radius_m
        ahead = np.sqrt(reach**2 - plan.below_centre_m**2)
        dome = self.data.geom("tip").xpos + (plan.backswing_m + plan.tip_to_ball_m) * along
        self._put_ball(dome + ahead * along + plan.below_centre_m * up)

    def park_ball(self) -> None:
        """Take the ball away."""
        self._put_ball(np.array(PARKED_M))

    def _put_ball(self, centre_m: FloatArray) -> None:
        """Let the ball lie somewhere at rest."""
        self.data.qpos[7:14] = [*centre_m, 1.0, 0.0, 0.0, 0.0]
        self.data.qvel[6:12] = 0.0
        self.model.geom_pos[self.model.geom("cloth").id, 2] = centre_m[2] - BALL_RADIUS_M

    def _course(self, times: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return where the grip should be, shape (n, 3), and how turned, as quaternions (n, 4)."""
        pose = self.hand.pose(times)
        own = self.settings.cue
        back = own.bridge_to_tip_m - (own.length_m - self.grip.from_butt_m)
        turn = Rotation.from_matrix(pose.rotation()).as_quat(scalar_first=True)
        return pose.point_m((back, 0.0, 0.0)), np.asarray(turn, dtype=np.float64)


def _model(settings: SessionSettings, grip: Grip) -> str:
    """Return the model; the cue's body frame lies at the grip."""
    cue, sensor = settings.cue, settings.sensor
    # A damped oscillation over half a period: its duration is the contact's, its decay gives the
    # restitution. Direct stiffness and damping are per unit of effective mass.
    damping = -2 * np.log(cue.tip_restitution) / grip.contact_s
    stiffness = (np.pi / grip.contact_s) ** 2 + damping**2 / 4
    front = cue.length_m - grip.from_butt_m
    return MODEL.format(
        step=1.0 / settings.dense_rate_hz,
        mass=cue.mass_kg,
        centre=CENTRE_FROM_BUTT_SHARE * cue.length_m - grip.from_butt_m,
        along=TWIST_INERTIA_KG_M2,
        across=CROSS_INERTIA_SHARE * cue.mass_kg * cue.length_m**2 / 12,
        tip_radius=cue.tip_radius_m,
        front=front,
        dome=front - cue.tip_radius_m,
        sensor_x=sensor.sensor_from_butt_m - grip.from_butt_m,
        sensor_z=sensor.off_axis_m,
        ball_radius=BALL_RADIUS_M,
        ball_mass=BALL_MASS_KG,
        stiffness=-stiffness,
        damping=-damping,
        softness=grip.softness_s,
    )


def _track(times: FloatArray, given: FloatArray) -> Track:
    """Return the engine's sensor values by name; they belong to the start of each step."""
    force, rate, tip, tip_velocity, turn, ball, ball_velocity = np.split(
        given, np.cumsum([3, 3, 3, 3, 4, 3]), axis=1
    )
    return Track(
        time_s=times,
        felt=np.hstack([force, rate]),
        tip_m=tip,
        tip_velocity_m_s=tip_velocity,
        rotation=Rotation.from_quat(turn, scalar_first=True).as_matrix(),
        ball_m=ball,
        ball_velocity_m_s=ball_velocity,
    )
