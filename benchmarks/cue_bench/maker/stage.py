"""The stage on which scenes follow one another: where the cue is now, and what comes on top.

Between scenes the player stands with the cue's tip up. Getting down brings the cue to the line of
aim, behind the ball.
"""

from dataclasses import dataclass, field

import numpy as np

from cue_bench.maker.curves import Hum, Move, Ring
from cue_bench.maker.motion import ChannelName, Couplings, Motion
from cue_bench.maker.settings import SessionSettings

STANDING: dict[ChannelName, float] = {
    "slide": 0.0,
    "yaw": 0.0,
    "pitch": 0.9,
    "twist": 0.0,
    "bridge_x": -0.25,
    "bridge_y": 0.1,
    "bridge_z": 0.4,
}


@dataclass
class Stage:
    """The motion as far as it is written, and the time it has reached."""

    settings: SessionSettings
    rng: np.random.Generator
    motion: Motion = field(init=False)
    now_s: float = 0.0
    levels: dict[ChannelName, float] = field(default_factory=lambda: dict(STANDING))

    def __post_init__(self) -> None:
        """Start standing, with the hand's tremor and the body's sway running."""
        own = self.settings
        link = Couplings(own.cueing_yaw_rad_m, own.cueing_pitch_rad_m, own.arm_arc_rad_m2)
        self.motion = Motion(start_values=dict(STANDING), couplings=link)
        reach = self.reach_m
        tremor, sway = own.tremor_m_s2, own.sway_m
        self._shake("slide", 0.5 * tremor, 0.1 * sway)
        self._shake("yaw", tremor / reach, 0.15 * sway / reach)
        self._shake("pitch", tremor / reach, 0.3 * sway / reach)
        self._shake("twist", 3.0 * tremor, sway)
        for name in ("bridge_x", "bridge_y", "bridge_z"):
            self._shake(name, 0.1 * tremor, 0.1 * sway)

    @property
    def reach_m(self) -> float:
        """Return the way from the bridge back to the sensor with the cue at the ball."""
        own = self.settings
        return own.cue.length_m - own.sensor.sensor_from_butt_m - own.cue.bridge_to_tip_m

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        self.now_s += seconds

    def move(self, channel: ChannelName, to: float, start_s: float, span_s: float) -> None:
        """Bring one coordinate to a value."""
        change = to - self.levels[channel]
        if change:
            self.motion.add(channel, Move(start_s, start_s + span_s, change))
        self.levels[channel] = to

    def nudge(self, channel: ChannelName, change: float, start_s: float, span_s: float) -> None:
        """Change one coordinate by an amount."""
        self.move(channel, self.levels[channel] + change, start_s, span_s)

    def spread(self, size: float) -> float:
        """Return a normal random number with this standard deviation, cut off at three."""
        return float(size * np.clip(self.rng.standard_normal(), -3.0, 3.0))

    def within(self, low: float, high: float) -> float:
        """Return a uniform random number."""
        return float(self.rng.uniform(low, high))

    def get_down(self) -> None:
        """Go from standing to the line of aim: tip behind the ball, small corrections, still."""
        targets: dict[ChannelName, float] = {
            "yaw": self.spread(0.004),
            "pitch": -self.settings.elevation_rad + self.spread(0.004),
            "twist": self.levels["twist"] + self.spread(0.08),
            "bridge_x": 0.0,
            "bridge_y": 0.0,
            "bridge_z": 0.0,
        }
        span = self.within(0.9, 1.5)
        for channel, target in targets.items():
            late = self.within(0.0, 0.25)
            self.move(channel, target, self.now_s + late, span - late)
        self.now_s += span
        self._settle()

    def get_up(self) -> None:
        """Go back to standing."""
        span = self.within(0.8, 1.3)
        for channel, target in STANDING.items():
            if channel == "twist":
                continue
            late = self.within(0.0, 0.25)
            self.move(channel, target, self.now_s + late, span - late)
        self.now_s += span

    def knock(self, channel: ChannelName, accel: float, at_s: float) -> None:
        """Let the cue's body meet something hard: a sharp, quickly damped push."""
        frequency = self.within(60.0, 140.0)
        size = accel / (2 * np.pi * frequency) ** 2
        damping = self.within(60.0, 120.0)
        self.motion.add(channel, Ring(at_s, size, frequency, damping, rise_s=0.0008))

    def _settle(self) -> None:
        """Find the line: a little slide and turn to and fro, ending at the ball."""
        way, turn = self.spread(0.008), self.spread(0.003)
        span = self.within(0.25, 0.4)
        for sign in (1.0, -1.0):
            self.nudge("slide", sign * way, self.now_s, span)
            self.nudge("yaw", sign * turn, self.now_s, span)
            self.now_s += span

    def _shake(self, channel: ChannelName, tremor_accel: float, sway: float) -> None:
        """Add tremor of 8 to 12 Hz (root mean square acceleration) and slow sway (amplitude)."""
        fast, slow = self.rng.uniform(8.0, 12.0, 2), self.rng.uniform(0.15, 0.6, 2)
        phases = self.rng.uniform(0.0, 2 * np.pi, 4)
        # Two sinusoids of amplitude a each have together a root mean square of a.
        sizes = tremor_accel / (2 * np.pi * fast) ** 2
        self.motion.add(
            channel,
            Hum(
                (*sizes, sway / 2, sway / 2),
                tuple(np.concatenate([fast, slow])),
                tuple(phases),
            ),
        )
