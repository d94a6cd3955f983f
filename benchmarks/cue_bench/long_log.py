"""A long, invented practice log, for measuring pages and statistics on many evenings.

Two players of our own; one keeps the pace better and slows less from evening to evening, the other
stays as they are. Strokes are drawn as measures, not as sensor data: nothing here tests the signal.
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from scipy.special import ndtr
from sqlalchemy import update

from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_practice.tables import ShotRow
from cue_practice.views import Shot
from cue_signal.stroke import FloatArray, Stroke, StrokeFlag, StrokeTrace
from cue_table.setup import FULL_SIZE, SetUp

FIRST_UTC = datetime(2026, 1, 5, 18, 30, tzinfo=UTC)
SHOTS_PER_EVENING = 100
SHOTS_PER_SERIES = 20
RATE_HZ = 200.0
PACES_M_S = (1.6, 2.0, 2.4)
RIGHT_M_S = {0: 2.1, 1: 1.8}
"""Pace that gives the right result on each of the two set-ups."""
SD_ACCEL_M_S2 = 0.8
_LEVEL_M_S2 = 1.0


def fill(
    log: PracticeLog,
    *,
    n_shots: int,
    seed: int,
    shots_per_evening: int = SHOTS_PER_EVENING,
    has_traces: bool = True,
) -> None:
    """Enter shots of two players into a log, in series of 20; the players take turns.

    Parameters
    ----------
    log : PracticeLog
        An empty log.
    n_shots : int
        How many.
    seed : int
        Of the draws.
    shots_per_evening : int
        How many one player plays in an evening.
    has_traces : bool
        Whether the courses of the strokes are kept.
    """
    rng = np.random.default_rng(seed)
    players = [log.add_player(name) for name in ("Wren", "Badger")]
    table = log.add_table("Window table")
    cues = [log.add_cue(f"{p.nickname}'s ash", player_id=p.player_id) for p in players]
    setups = [log.add_setup(setup, table.table_id) for setup in _setups()]
    n_evenings = -(-n_shots // shots_per_evening)
    left = n_shots
    for evening in range(n_evenings):
        who = evening % 2
        start = FIRST_UTC + timedelta(days=2 * (evening // 2) + who)
        recording = log.add_recording(
            Path(f"invented-{evening}.mcap"), start_utc=start, sensor_kind="made up",
            sensor_name="made up", is_growing=True,
        )  # fmt: skip
        # the first player learns, the second does not
        learnt = (1 - who) * evening / max(n_evenings - 1, 1)
        for k in range(shots_per_evening // SHOTS_PER_SERIES):
            n = min(SHOTS_PER_SERIES, left)
            if not n:
                return
            begin_s = 900.0 * k
            called = PACES_M_S[k % 3] if k % 2 == 0 else None
            series = log.add_series(
                players[who].player_id, cues[who].cue_id, table.table_id,
                setups[k % 2].setup_id, (0.0095, 0.007)[k // 3], called_pace_m_s=called,
                started_utc=start + timedelta(seconds=begin_s),
                ended_utc=start + timedelta(seconds=begin_s + 800.0),
            )  # fmt: skip
            strokes = draw_strokes(rng, n, begin_s, called, learnt, has_traces=has_traces)
            shots = log.add_strokes(recording.recording_id, series.series_id, strokes)
            _tap(log, rng, shots, RIGHT_M_S[k % 2])
            left -= n


def _tap(log: PracticeLog, rng: np.random.Generator, shots: list[Shot], right_m_s: float) -> None:
    """Enter the results of a series at once; tap by tap, with its history, takes minutes."""
    rows = [
        {
            "shot_id": shot.shot_id,
            "grade": _grade(rng, shot.pace_m_s or right_m_s, right_m_s).value,
            "is_potted": bool(rng.random() < 0.8),
            "tapped_utc": shot.struck_utc + timedelta(seconds=6),
        }
        for shot in shots
    ]
    with log._write() as session:
        session.execute(update(ShotRow), rows)


def draw_strokes(
    rng: np.random.Generator,
    n: int,
    begin_s: float,
    called_m_s: float | None,
    learnt: float,
    *,
    has_traces: bool,
) -> list[Stroke]:
    """Return strokes of a series.

    Parameters
    ----------
    rng : numpy.random.Generator
        Of the draws.
    n : int
        How many.
    begin_s : float
        First hit in seconds on the recording's axis.
    called_m_s : float or None
        The pace to keep; None for a free one.
    learnt : float
        From 0, as bad as at first, to 1, as good as it gets.
    has_traces : bool
        Whether to draw the course.
    """
    spread = 0.09 - 0.04 * learnt
    middle = np.full(n, called_m_s) if called_m_s else rng.uniform(1.4, 2.6, n)
    pace = middle * np.exp(rng.normal(0.0, spread, n))
    is_slowing = rng.random(n) < 0.35 - 0.25 * learnt
    accel = np.where(is_slowing, -4.0, 5.0) + rng.normal(0.0, 1.0, n)
    aside = rng.normal(0.0, 0.0016 - 0.0006 * learnt, n)
    hits = begin_s + 40.0 * np.arange(n)
    return [
        _stroke(*one, has_trace=has_traces)
        for one in zip(hits.tolist(), pace.tolist(), accel.tolist(), aside.tolist(), strict=True)
    ]


def _stroke(hit_s: float, pace: float, accel: float, aside: float, *, has_trace: bool) -> Stroke:
    """Return one stroke with these measures."""
    sure = SD_ACCEL_M_S2
    within = ndtr((_LEVEL_M_S2 - accel) / sure) - ndtr((-_LEVEL_M_S2 - accel) / sure)
    lost = max(-accel, 0.0) * 0.02
    return Stroke(
        impact_time_s=hit_s,
        backswing_start_s=hit_s - 1.2,
        rear_s=hit_s - 0.5,
        delivery_start_s=hit_s - 0.3,
        follow_through_end_s=hit_s + 0.3,
        tip_speed_m_s=pace,
        tip_speed_sd_m_s=0.02 * pace,
        peak_speed_m_s=pace + lost,
        peak_time_s=hit_s - 0.02,
        accel_at_hit_m_s2=accel,
        accel_at_hit_sd_m_s2=sure,
        speed_lost_m_s=lost,
        slowing_probability=float(ndtr(-accel / sure)),
        level_probability=float(within),
        backswing_m=0.1 + 0.05 * pace,
        backswing_sd_m=0.005,
        rear_pause_s=0.2,
        delivery_s=0.3,
        follow_through_m=0.1 * pace,
        feathers=3,
        feather_period_s=0.8,
        tip_lateral_m=aside,
        tip_lateral_sd_m=0.0005,
        tip_vertical_m=-aside,
        tip_vertical_sd_m=0.0005,
        stillness_m_s2=0.2,
        flags=frozenset({StrokeFlag.CLIPPED_HIT}),
        trace=_trace(hit_s, pace, accel, aside) if has_trace else None,
    )


def _trace(hit_s: float, pace: float, accel: float, aside: float) -> StrokeTrace:
    """Return a smooth course that ends in the measures."""
    t: FloatArray = np.arange(-2.0, 0.8, 1.0 / RATE_HZ)
    speed = np.zeros_like(t)
    back = (t >= -1.2) & (t < -0.5)
    speed[back] = -0.4 * np.sin(np.pi * (t[back] + 1.2) / 0.7)
    push = (t >= -0.3) & (t < 0.0)
    speed[push] = pace * np.sin(0.5 * np.pi * (t[push] + 0.3) / 0.3) + accel * np.maximum(
        t[push] + 0.02, 0.0
    )
    out = (t >= 0.0) & (t < 0.3)
    speed[out] = 0.7 * pace * (1.0 - t[out] / 0.3)
    off = aside * np.clip((t + 0.3) / 0.3, 0.0, 1.0)
    return StrokeTrace(t + hit_s, speed, np.gradient(speed, 1.0 / RATE_HZ), off, -off)


def _grade(rng: np.random.Generator, pace: float, right: float) -> Grade:
    """Return what a shot did, told by its pace and some luck."""
    off = np.log(pace / right) + rng.normal(0.0, 0.04)
    if off < -0.1:
        return Grade.TOO_LITTLE
    return Grade.TOO_MUCH if off > 0.1 else Grade.RIGHT


def _setups() -> list[SetUp]:
    """Return two set-ups of our own on a full-size table."""
    return [
        SetUp(
            name=name,
            table=FULL_SIZE,
            white_m=(0.7, 2.1),
            object_ball_m=ball,
            pocket="top_right",
            next_ball_m=(0.5, 3.2),
            landing_area_m=((0.9, 1.9), (1.6, 1.9), (1.6, 2.4), (0.9, 2.4)),
        )
        for name, ball in (("Off the side", (1.25, 2.7)), ("Across", (1.1, 2.6)))
    ]
