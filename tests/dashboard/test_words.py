"""The catalogue of words: complete, and all of it in use."""

import re
from pathlib import Path

import pytest

import cue_dashboard
from cue_dashboard import words
from cue_practice.grades import Grade
from cue_practice.live import LiveState, LiveStatus
from cue_signal.stroke import StrokeFlag
from cue_signal.trend import HitTrend
from cue_table.setup import POCKETS

FOLDER = Path(cue_dashboard.__file__).parent
SOURCES = "\n".join(
    path.read_text(encoding="utf-8") for path in FOLDER.rglob("*.py") if path.name != "cli.py"
)
CATALOGUES = sorted(FOLDER.glob("words/*.py"))


@pytest.mark.parametrize(
    ("catalogue", "members"),
    [
        (words.GRADE_NAME, Grade),
        (words.GRADE_SHORT, Grade),
        (words.GRADE_MEANS, Grade),
        (words.TREND, HitTrend),
        (words.TREND_SIGN, HitTrend),
        (words.TREND_SHORT, HitTrend),
        (words.FLAG, StrokeFlag),
        (words.POCKET_NAME, POCKETS),
    ],
)
def test_nothing_is_left_without_words(catalogue, members):
    assert set(catalogue) == set(members)
    assert all(catalogue.values())


@pytest.mark.parametrize("state", LiveState)
def test_every_state_of_a_live_session_has_words(state):
    assert words.live_state(LiveStatus(state=state))


def test_a_fault_of_the_live_session_is_said():
    status = LiveStatus(state=LiveState.FAILED, problem="The sensor is out of reach.", n_lost=3)
    said = words.live_state(status)
    assert "The sensor is out of reach." in said
    assert "3 samples lost" in said


@pytest.mark.parametrize("catalogue", CATALOGUES, ids=lambda path: path.stem)
def test_no_word_of_the_catalogue_is_idle(catalogue):
    own = catalogue.read_text(encoding="utf-8")
    names = re.findall(r"^([A-Z][A-Z0-9_]*)\b", own, flags=re.MULTILINE)
    idle = [
        name
        for name in names
        if not re.search(rf"\.{name}\b", SOURCES) and len(re.findall(rf"\b{name}\b", own)) < 2
    ]
    assert names
    assert idle == []


@pytest.mark.parametrize(
    ("names", "said"),
    [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (list("abc"), "a, b and c")],
)
def test_names_are_listed_as_people_list_them(names, said):
    assert words.listed(list(names)) == said


def test_cautions_speak_of_clip_body_battery_rules_and_coach():
    said = " ".join(words.CAUTIONS).lower()
    for word in ("clip", "physiotherapist", "hot", "venue", "competition", "coach"):
        assert word in said


def test_lost_speed_is_said_only_where_the_cue_slowed():
    assert "0.20 m/s" in words.trend(HitTrend.SLOWING, "0.20 m/s")
    assert "0.20 m/s" not in words.trend(HitTrend.GAINING, "0.20 m/s")
