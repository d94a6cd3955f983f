import json
from dataclasses import dataclass, fields

import numpy as np
import pytest

from cue_practice import rows
from cue_practice.plain import default_of, plain, unplain
from cue_signal.stroke import Stroke, StrokeFlag


@pytest.mark.parametrize(
    ("value", "kept"),
    [
        (np.float64(1.5), 1.5),
        (np.array([1, 2]), [1, 2]),
        (float("nan"), None),
        ((1.0, float("inf")), [1.0, None]),
        (frozenset({StrokeFlag.GAP, StrokeFlag.CLIPPED_HIT}), ["clipped_hit", "gap"]),
        ({"a": np.int64(3)}, {"a": 3}),
        ("word", "word"),
        (None, None),
    ],
)
def test_a_value_becomes_what_json_holds(value, kept):
    assert plain(value) == kept
    json.dumps(plain(value), allow_nan=False)


def test_a_list_comes_back_as_a_frozen_dataclass_holds_it():
    assert unplain(json.loads(json.dumps(plain(((1.0, 2.0), "a"))))) == ((1.0, 2.0), "a")


@dataclass(frozen=True, eq=False)
class LaterStroke(Stroke):
    """A stroke with measures that this log has no column for."""

    grip_change: float | None = None
    speeds_m_s: tuple[float, ...] = ()


def test_a_measure_of_later_is_kept_without_a_new_schema(bench, make_stroke, monkeypatch):
    later = [f for f in fields(LaterStroke) if f.name in ("grip_change", "speeds_m_s")]
    names = (*rows.MORE_MEASURES, *(f.name for f in later))
    monkeypatch.setattr(rows, "Stroke", LaterStroke)
    monkeypatch.setattr(rows, "MORE_MEASURES", names)
    monkeypatch.setattr(rows, "_DEFAULTS", rows._DEFAULTS | {f.name: default_of(f) for f in later})
    known = vars(make_stroke(12.0))
    stroke = LaterStroke(**known, grip_change=np.float64(0.25), speeds_m_s=(1.0, 1.5))
    found = bench.add(stroke, LaterStroke(**(known | {"impact_time_s": 40.0})))
    assert (found[0].stroke.grip_change, found[0].stroke.speeds_m_s) == (0.25, (1.0, 1.5))
    assert (found[1].stroke.grip_change, found[1].stroke.speeds_m_s) == (None, ())
    assert found[0].stroke.tip_speed_m_s == known["tip_speed_m_s"]


def test_a_stroke_kept_before_a_measure_came_has_its_default(bench, make_stroke, monkeypatch):
    shot = bench.add(make_stroke(12.0))[0]
    monkeypatch.setattr(rows, "Stroke", LaterStroke)
    monkeypatch.setattr(rows, "MORE_MEASURES", ("grip_change", "speeds_m_s"))
    monkeypatch.setattr(rows, "_DEFAULTS", {"grip_change": None, "speeds_m_s": ()})
    stroke = bench.log.shot(shot.shot_id).stroke
    assert (stroke.grip_change, stroke.speeds_m_s) == (None, ())
