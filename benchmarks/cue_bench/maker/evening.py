"""The invented practice evening that is shipped: who plays what, and how.

Scenario, wholly invented: two club players, Wren and Badger, work on position off the side
cushion, one chalk mark after the other, on a table with a slowish cloth. The results come out of
the table physics with each player's spread; nothing is graded by hand. Pauses between strokes are
kept short, so that the files stay small.
"""

import dataclasses
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from scipy.spatial.transform import Rotation

from cue_bench.maker.settings import (
    CueBody,
    Delivery,
    Distractor,
    DistractorKind,
    Knowledge,
    Scene,
    SensorSettings,
    SessionSettings,
    StrokePlan,
)
from cue_bench.maker.strokes import accel_at_hit_m_s2, is_playable
from cue_table.cloth import Cloth
from cue_table.setup import SetUp, TableSize
from cue_table.shot import Outcome, WhiteRun, outcome, play
from cue_table.tip import Cue

TABLE_NAME = "Table 2, back room"
TABLE = TableSize()
CLOTH = Cloth(sliding_friction=0.235, rolling_resistance=0.0145)
"""Slower than the default of the table model: the prior is off, the results must overrule it."""

SETUPS = {
    "pale": SetUp(
        name="Pale mark: top right, off the side to the middle",
        table=TABLE,
        white_m=(0.615, 2.347),
        object_ball_m=(1.30, 2.75),
        pocket="top_right",
        next_ball_m=(0.889, 3.245),
        landing_area_m=((0.78, 1.98), (1.52, 1.98), (1.52, 2.36), (0.78, 2.36)),
    ),
    "short": SetUp(
        name="Short mark: bottom right, stay near the side",
        table=TABLE,
        white_m=(1.024, 1.159),
        object_ball_m=(1.42, 0.78),
        pocket="bottom_right",
        next_ball_m=(0.889, 0.737),
        landing_area_m=((1.46, 0.90), (1.74, 0.90), (1.74, 1.07), (1.46, 1.07)),
    ),
    "far": SetUp(
        name="Far mark: top left, across the table",
        table=TABLE,
        white_m=(1.355, 2.496),
        object_ball_m=(0.5, 2.9),
        pocket="top_left",
        next_ball_m=(0.889, 3.245),
        landing_area_m=((0.36, 1.92), (0.92, 1.92), (0.92, 2.44), (0.36, 2.44)),
    ),
}


@dataclass(frozen=True)
class Player:
    """One invented player: the cue, the hand, and what it does to soft and firm shots."""

    nickname: str
    cue_name: str
    cue: CueBody
    pace_spread: float
    height_spread_m: float
    direction_spread_rad: float
    is_slowing_soft: bool
    tremor_m_s2: float
    cueing_yaw_rad_m: float
    steer_rad: float
    elbow_drop_rad: float

    @property
    def table_cue(self) -> Cue:
        """Return the cue as the table model wants it."""
        return Cue(
            mass_kg=self.cue.mass_kg,
            tip_restitution=self.cue.tip_restitution,
            tip_radius_m=self.cue.tip_radius_m,
        )


WREN = Player(
    nickname="Wren",
    cue_name="Wren's ash",
    cue=CueBody(mass_kg=0.53, tip_restitution=0.73, bridge_to_tip_m=0.24),
    pace_spread=0.055,
    height_spread_m=0.0009,
    direction_spread_rad=0.0005,
    is_slowing_soft=False,
    tremor_m_s2=0.06,
    cueing_yaw_rad_m=0.004,
    steer_rad=0.002,
    elbow_drop_rad=0.004,
)
BADGER = Player(
    nickname="Badger",
    cue_name="Badger's maple",
    cue=CueBody(mass_kg=0.505, tip_restitution=0.72, bridge_to_tip_m=0.28),
    pace_spread=0.085,
    height_spread_m=0.0012,
    direction_spread_rad=0.0007,
    is_slowing_soft=True,
    tremor_m_s2=0.12,
    cueing_yaw_rad_m=-0.015,
    steer_rad=0.006,
    elbow_drop_rad=0.012,
)
PLAYERS = (WREN, BADGER)


@dataclass(frozen=True)
class Series:
    """One series of one recording: what is held, and how the pace is freed."""

    key: str
    file: str
    player: Player
    setup: str
    below_centre_m: float
    n_strokes: int
    first_pace_m_s: float
    usual_pace_m_s: float
    sensor: SensorSettings
    knowledge: Knowledge
    has_roll: bool
    start_utc: datetime
    seed: int
    first_interlude: int


INTERLUDES: tuple[DistractorKind, ...] = (
    "chalking",
    "walking",
    "rail_knock",
    "down_without_playing",
    "butt_on_floor",
    "chalking",
    "air_stroke",
)
"""What comes between the strokes, in turn."""

START = datetime(2026, 10, 14, 18, 30, tzinfo=UTC)


def _sensor(seed: int, **changes: object) -> SensorSettings:
    """Return a sensor with its own errors, clipped on anew for this recording."""
    rng = np.random.default_rng(seed)

    def three(size: float) -> tuple[float, float, float]:
        x, y, z = rng.uniform(-size, size, 3)
        return float(x), float(y), float(z)

    # Clipped on with its x axis roughly back along the cue, turned about it at will.
    turned = Rotation.from_euler("zyx", [np.pi + 0.1 * rng.normal(), 0.1 * rng.normal(), 0.0])
    rolled = Rotation.from_euler("x", rng.uniform(-3, 3)) * turned
    rx, ry, rz = rolled.as_rotvec()
    base = SensorSettings(
        mounting_rotvec=(float(rx), float(ry), float(rz)),
        sensor_from_butt_m=0.12,
        off_axis_m=0.021,
        accel_bias_g=three(0.025),
        gyro_bias_deg_s=three(0.4),
        accel_scale=three(0.006),
        accel_cross=three(0.003),
        gyro_scale=three(0.006),
        clock_error=float(rng.uniform(-40e-6, 40e-6)),
        jitter_s=10e-6,
        batch=19,
    )
    return dataclasses.replace(base, **changes)  # type: ignore[arg-type]


KNOWN = Knowledge(axis_error_rad=(0.004, -0.003), axis_sd_rad=0.006, distance_error_m=0.002)
UNKNOWN = Knowledge(is_axis_known=False, distance_error_m=-0.002)

SERIES = (
    Series("pale-low", "1-wren-pale-low.mcap", WREN, "pale", 0.0095, 22, 2.05, 2.33,
           _sensor(11), KNOWN, True, START, 4101, 0),
    Series("pale-higher", "2-wren-pale-higher.mcap", WREN, "pale", 0.007, 22, 2.55, 2.28,
           _sensor(11, lost_share=0.012), KNOWN, False, START + timedelta(minutes=9), 4102, 2),
    Series("far-badger", "3-badger-far-accelerometer.mcap", BADGER, "far", 0.008, 22, 2.85, 2.45,
           _sensor(12, has_gyroscope=False, batch=38, clipping="front_end"), KNOWN, True,
           START + timedelta(minutes=20), 4103, 4),
    Series("short-badger", "4-badger-short-416.mcap", BADGER, "short", 0.0095, 18, 1.6, 1.85,
           _sensor(13, rate_hz=416.0, cutoff_ratio=0.25), UNKNOWN, False,
           START + timedelta(minutes=31), 4104, 6),
    Series("far-wren", "5-wren-far-100.mcap", WREN, "far", 0.008, 16, 2.2, 2.45,
           _sensor(14, rate_hz=100.0, lost_share=0.006, lost_run=1), KNOWN, False,
           START + timedelta(minutes=42), 4105, 8),
)  # fmt: skip


@dataclass(frozen=True)
class Shot:
    """One stroke as meant, with what goes wrong in aim."""

    plan: StrokePlan
    direction_error_rad: float


def play_shot(series: Series, shot: Shot, tip_speed_m_s: float) -> tuple[WhiteRun, Outcome]:
    """Return what the white did, and the grade of it, by the table physics."""
    run = play(
        SETUPS[series.setup],
        tip_speed_m_s,
        below_centre_m=shot.plan.below_centre_m,
        direction_error_rad=shot.direction_error_rad,
        cue=series.player.table_cue,
        cloth=CLOTH,
    )
    return run, outcome(SETUPS[series.setup], run)


def plan_series(series: Series) -> tuple[SessionSettings, list[Shot]]:
    """Return the session of a series: the tip's height is held, the pace is free."""
    rng = np.random.default_rng(series.seed)
    player = series.player
    scenes: list[Scene] = [Distractor("roll_on_cloth")] if series.has_roll else []
    shots = []
    for k, meant in enumerate(meant_paces_m_s(series, rng)):
        if k % 3 == 2:
            kind = INTERLUDES[(k // 3 + series.first_interlude) % len(INTERLUDES)]
            scenes.append(Distractor(kind, float(rng.uniform(0.7, 1.2))))
        pace = meant * float(np.exp(player.pace_spread * rng.standard_normal()))
        shot = Shot(
            plan=_stroke(rng, player, pace, series.below_centre_m),
            direction_error_rad=float(player.direction_spread_rad * rng.standard_normal()),
        )
        scenes.append(shot.plan)
        shots.append(shot)
    settings = SessionSettings(
        scenes=tuple(scenes),
        cue=player.cue,
        sensor=series.sensor,
        knowledge=series.knowledge,
        elevation_rad=float(np.deg2rad(rng.uniform(3.0, 5.0))),
        cueing_yaw_rad_m=player.cueing_yaw_rad_m,
        arm_arc_rad_m2=-0.25,
        tremor_m_s2=player.tremor_m_s2,
        sway_m=0.001,
        start_utc_s=series.start_utc.timestamp(),
        name=series.file,
        labels={"scenario": "invented practice evening", "series": series.key},
    )
    return settings, shots


def meant_paces_m_s(series: Series, rng: np.random.Generator) -> list[float]:
    """Return the paces a player means to play: feeling for the right one, from the first one on.

    They do not look at the results, so that the recordings do not hang on the table model.
    """
    off = float(np.log(series.first_pace_m_s / series.usual_pace_m_s))
    paces = []
    for _ in range(series.n_strokes):
        paces.append(series.usual_pace_m_s * float(np.exp(off)))
        off = PACE_MEMORY * off + PACE_SEARCH * float(rng.standard_normal())
    return paces


PACE_MEMORY, PACE_SEARCH = 0.6, 0.075
SOFT_M_S = 2.0


def _stroke(
    rng: np.random.Generator, player: Player, pace_m_s: float, below_centre_m: float
) -> StrokePlan:
    """Return a player's stroke at a pace."""
    while True:
        plan = _any_stroke(rng, player, pace_m_s, below_centre_m)
        if is_playable(plan) and -10.0 < accel_at_hit_m_s2(plan) < 14.0:
            return plan


def _any_stroke(
    rng: np.random.Generator, player: Player, pace_m_s: float, below_centre_m: float
) -> StrokePlan:
    """Return a stroke that may yet be unplayable."""
    is_soft = player.is_slowing_soft and pace_m_s < SOFT_M_S
    slope = rng.uniform(-1.5, -0.4) if is_soft else rng.uniform(0.0, 0.9)
    return StrokePlan(
        tip_speed_m_s=pace_m_s,
        below_centre_m=below_centre_m + float(player.height_spread_m * rng.standard_normal()),
        backswing_m=float(rng.uniform(0.2, 0.27)),
        backswing_s=float(rng.uniform(0.65, 0.95)),
        rear_pause_s=float(rng.uniform(0.05, 0.3)),
        tip_to_ball_m=float(rng.uniform(0.008, 0.02)),
        delivery=Delivery(
            slope_at_hit=float(slope),
            start_curve=float(rng.uniform(1.0, 7.0)),
            end_curve=float(rng.uniform(-3.0, 3.0)),
            jerk=float(rng.normal(0.0, 0.1)) if is_soft else 0.0,
        ),
        feathers=int(rng.integers(2, 5)),
        feather_m=float(rng.uniform(0.08, 0.13)),
        feather_s=float(rng.uniform(0.65, 0.85)),
        address_s=float(rng.uniform(0.3, 0.5)),
        rest_s=float(rng.uniform(0.3, 0.7)),
        hold_s=float(rng.uniform(0.5, 0.9)),
        between_s=float(rng.uniform(0.5, 1.2)),
        follow_s=float(rng.uniform(0.2, 0.3)),
        hand_push=float(rng.uniform(0.05, 0.2)),
        contact_s=float(rng.uniform(0.0012, 0.0017)),
        steer_rad=float(player.steer_rad * rng.standard_normal()),
        backswing_yaw_rad=float(0.5 * player.steer_rad * rng.standard_normal()),
        elbow_drop_rad=float(player.elbow_drop_rad * rng.uniform(0.0, 1.5)),
        twist_rad=float(0.03 * rng.standard_normal()),
        kick_m_s2=float(rng.uniform(2.0, 8.0)),
        kick_hz=float(rng.uniform(50.0, 120.0)),
        axial_ring_m_s2=float(rng.uniform(1.0, 8.0)),
        axial_ring_hz=float(rng.uniform(100.0, 180.0)),
    )
