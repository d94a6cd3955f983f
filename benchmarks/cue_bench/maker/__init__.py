"""A maker of cue strokes with known truth: motion, sensor, notifications.

It shares no code with the estimator it is held against.
"""

from cue_bench.maker.draw import (
    draw_distractor,
    draw_knowledge,
    draw_player,
    draw_sensor,
    draw_stroke,
    make_strokes,
)
from cue_bench.maker.session import MadeSession, make_session
from cue_bench.maker.settings import (
    CueBody,
    Delivery,
    Distractor,
    Knowledge,
    SensorSettings,
    SessionSettings,
    StrokePlan,
)
from cue_bench.maker.truth import (
    CONVENTIONS,
    DistractorTruth,
    SessionTruth,
    StrokeTruth,
    read_truth,
)

__all__ = [
    "CONVENTIONS",
    "CueBody",
    "Delivery",
    "Distractor",
    "DistractorTruth",
    "Knowledge",
    "MadeSession",
    "SensorSettings",
    "SessionSettings",
    "SessionTruth",
    "StrokePlan",
    "StrokeTruth",
    "draw_distractor",
    "draw_knowledge",
    "draw_player",
    "draw_sensor",
    "draw_stroke",
    "make_session",
    "make_strokes",
    "read_truth",
]
