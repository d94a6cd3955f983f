"""The answer beside a made session, as data classes and as JSON.

Only tests and benchmarks may read it.
"""

import dataclasses
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

CONVENTIONS = {
    "time": "impact_time_s is the true moment of the first touch, read on the time axis of the"
    " samples as the device stamps them. The sensor's filter delays what the samples show by"
    " filter_delay_s (unless is_delay_removed): the stamps are of the filter's output.",
    "speed": "Speed and acceleration are those of the tip along the cue's own axis, positive"
    " towards the ball, just before the first touch.",
    "accel_at_hit_m_s2": "Change of that speed over the last 20 ms before the touch, by 20 ms.",
    "shape": "gaining above 1 m/s^2 of accel_at_hit_m_s2, slowing below -1 m/s^2, else level.",
    "rear_pause_s": "Time around the rearmost point with that speed below 0.05 m/s either way.",
    "delivery_s": "From the end of the rear pause to the touch.",
    "tip_lateral_m, tip_vertical_m": "Tip at the touch less tip at the rest at the ball (mean of"
    " its last 0.1 s), resolved in the cue's frame at that rest: y horizontal to the player's left,"
    " z completing it upwards.",
    "tip_lateral_from_rear_m, tip_vertical_from_rear_m": "Tip at the touch less tip at the"
    " rearmost point, resolved in the cue's frame at the rearmost point.",
    "yaw_rad, pitch_rad, twist_rad": "Cue's direction at the touch less that at the rest at the"
    " ball: tip to the left, tip up, right-handed turn about its axis.",
    "follow_through_m": "Way along the cue from the touch to where its speed first falls below"
    " 0.01 m/s.",
}


@dataclass(frozen=True)
class StrokeTruth:
    """One stroke that met the white; see ``CONVENTIONS`` for each measure."""

    impact_time_s: float
    tip_speed_m_s: float
    peak_speed_m_s: float
    peak_time_s: float
    accel_at_hit_m_s2: float
    accel_50_ms_m_s2: float
    backswing_m: float
    rear_pause_s: float
    delivery_s: float
    rest_start_s: float
    backswing_start_s: float
    rear_time_s: float
    follow_through_end_s: float
    tip_lateral_m: float
    tip_vertical_m: float
    tip_lateral_from_rear_m: float
    tip_vertical_from_rear_m: float
    yaw_rad: float
    pitch_rad: float
    twist_rad: float
    follow_through_m: float
    feathers: int
    has_rest_before: bool
    speed_after_m_s: float
    ball_speed_m_s: float
    below_centre_m: float
    has_gap: bool
    has_gap_in_delivery: bool
    is_delivery_clipped: bool
    is_hit_clipped: bool
    shape: str
    is_hit: bool


@dataclass(frozen=True)
class DistractorTruth:
    """Something that is no stroke, from when to when."""

    kind: str
    start_s: float
    stop_s: float


@dataclass(frozen=True)
class SessionTruth:
    """All that happened in one session, on the recording's own time axis."""

    strokes: tuple[StrokeTruth, ...]
    distractors: tuple[DistractorTruth, ...]
    cue_axis: tuple[float, float, float]
    filter_delay_s: float
    seed: int
    n_lost_notifications: int
    sensor: dict[str, Any]

    def on_axis(self, clock: Callable[[float], float]) -> "SessionTruth":
        """Return the same with every time read on another axis."""
        return dataclasses.replace(
            self,
            strokes=tuple(on_axis(stroke, clock) for stroke in self.strokes),
            distractors=tuple(on_axis(other, clock) for other in self.distractors),
        )

    def to_json(self) -> str:
        """Return the truth as JSON text, with its conventions."""
        return json.dumps(
            {"invented": True, "conventions": CONVENTIONS, **dataclasses.asdict(self)}, indent=1
        )

    def write(self, path: Path) -> None:
        """Write the truth beside a recording."""
        path.write_text(self.to_json() + "\n", encoding="utf-8")


def read_truth(path: str | Path) -> SessionTruth:
    """Return the truth that lies in a JSON file."""
    data = json.loads(Path(path).read_text(encoding="utf-8"))
    del data["invented"], data["conventions"]
    data["strokes"] = tuple(StrokeTruth(**stroke) for stroke in data["strokes"])
    data["distractors"] = tuple(DistractorTruth(**other) for other in data["distractors"])
    data["cue_axis"] = tuple(data["cue_axis"])
    return SessionTruth(**data)


TIME_FIELDS = (
    "impact_time_s",
    "peak_time_s",
    "rest_start_s",
    "backswing_start_s",
    "rear_time_s",
    "follow_through_end_s",
    "start_s",
    "stop_s",
)


Event = TypeVar("Event", StrokeTruth, DistractorTruth)


def on_axis(event: Event, clock: Callable[[float], float]) -> Event:
    """Return an event with every time read on another axis."""
    moved: dict[str, Any] = {
        field.name: clock(getattr(event, field.name))
        for field in dataclasses.fields(event)
        if field.name in TIME_FIELDS
    }
    return dataclasses.replace(event, **moved)
