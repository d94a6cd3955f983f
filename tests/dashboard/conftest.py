"""Made-up strokes and a small log of them; one of each for every test that asks."""

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import NormalDist
from typing import Any

import dash
import numpy as np
import pytest
from flask.testing import FlaskClient

from cue_dashboard.app import create_app
from cue_dashboard.door import door_of
from cue_dashboard.security import CSRF_COOKIE, CSRF_HEADER
from cue_practice.folder import FOLDER_VARIABLE
from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_signal.stroke import Stroke, StrokeFlag, StrokeTrace
from cue_table.setup import FULL_SIZE, SetUp

EVENING_UTC = datetime(2026, 3, 4, 18, 30, tzinfo=UTC)
LATER_UTC = EVENING_UTC + timedelta(hours=1)
RATE_HZ = 200.0
HOST = "127.0.0.2"
"""Stands for an address on the network; it is this machine's own all the same."""
BACK_S, REAR_S, PUSH_S, STILL_S = -1.2, -0.5, -0.3, 0.3
"""Events of the made-up stroke in seconds from its hit."""


def _trace(impact_time_s: float, pace_m_s: float, *, has_gyroscope: bool) -> StrokeTrace:
    """Return a course with a smooth backswing, a straight rise to the pace and a run-out."""
    t = np.arange(-2.5, 1.0, 1 / RATE_HZ)
    speed = np.zeros_like(t)
    back = (t >= BACK_S) & (t < REAR_S)
    speed[back] = -0.4 * np.sin(np.pi * (t[back] - BACK_S) / (REAR_S - BACK_S))
    push = (t >= PUSH_S) & (t < 0)
    speed[push] = pace_m_s * (t[push] - PUSH_S) / -PUSH_S
    through = (t >= 0) & (t < STILL_S)
    speed[through] = 0.7 * pace_m_s * (1 - t[through] / STILL_S)
    aside = 0.004 * np.clip(t - PUSH_S, 0.0, 1.0) if has_gyroscope else None
    upwards = None if aside is None else -aside
    return StrokeTrace(t + impact_time_s, speed, np.gradient(speed, 1 / RATE_HZ), aside, upwards)


@pytest.fixture
def make_stroke() -> Callable[..., Stroke]:
    """Return a function that makes a stroke of a pace, with any measure put in its place."""

    def make(
        impact_time_s: float = 10.0,
        pace_m_s: float = 2.0,
        accel_m_s2: float = 4.0,
        has_gyroscope: bool = True,
        **measures: object,
    ) -> Stroke:
        spread = NormalDist(accel_m_s2, 1.0)
        missing = frozenset() if has_gyroscope else {StrokeFlag.NO_GYROSCOPE}
        values: dict[str, object] = {
            "impact_time_s": impact_time_s,
            "backswing_start_s": impact_time_s + BACK_S,
            "rear_s": impact_time_s + REAR_S,
            "delivery_start_s": impact_time_s + PUSH_S,
            "follow_through_end_s": impact_time_s + STILL_S,
            "tip_speed_m_s": pace_m_s,
            "tip_speed_sd_m_s": 0.02 * pace_m_s,
            "peak_speed_m_s": pace_m_s + 0.1,
            "peak_time_s": impact_time_s - 0.03,
            "accel_at_hit_m_s2": accel_m_s2,
            "accel_at_hit_sd_m_s2": 1.0,
            "speed_lost_m_s": 0.1,
            "slowing_probability": spread.cdf(0.0),
            "level_probability": spread.cdf(1.0) - spread.cdf(-1.0),
            "backswing_m": 0.18,
            "backswing_sd_m": 0.005,
            "rear_pause_s": 0.2,
            "delivery_s": 0.3,
            "follow_through_m": 0.2,
            "feathers": 3,
            "feather_period_s": 0.8,
            "tip_lateral_m": 0.0012 if has_gyroscope else None,
            "tip_vertical_m": -0.0012 if has_gyroscope else None,
            "flags": frozenset({StrokeFlag.CLIPPED_HIT} | missing),
            "trace": _trace(impact_time_s, pace_m_s, has_gyroscope=has_gyroscope),
        }
        return Stroke(**(values | measures))  # type: ignore[arg-type]

    return make


@pytest.fixture
def setup() -> SetUp:
    """Return a set-up of our own on a full-size table."""
    return SetUp(
        name="Window side",
        table=FULL_SIZE,
        white_m=(0.7, 2.1),
        object_ball_m=(1.25, 2.7),
        pocket="top_right",
        next_ball_m=(0.5, 3.2),
        landing_area_m=((0.9, 1.9), (1.6, 1.9), (1.6, 2.4), (0.9, 2.4)),
    )


@pytest.fixture(scope="session")
def empty_file(tmp_path_factory) -> Path:
    """Return the file of an empty log, migrated once for all tests."""
    path = tmp_path_factory.mktemp("empty") / "practice.sqlite3"
    with PracticeLog(path):
        return path


@pytest.fixture
def log(tmp_path, empty_file) -> Iterator[PracticeLog]:
    """Return an empty log."""
    with PracticeLog(shutil.copy(empty_file, tmp_path)) as opened:
        yield opened


@pytest.fixture
def series(log, setup):
    """Return an open series in the log: player, cue, table and set-up are there."""
    player, table = log.add_player("Plover"), log.add_table("By the window")
    cue = log.add_cue("Old ash", player_id=player.player_id)
    entry = log.add_setup(setup, table.table_id)
    return log.add_series(
        player.player_id,
        cue.cue_id,
        table.table_id,
        entry.setup_id,
        0.0095,
        started_utc=EVENING_UTC,
    )


@pytest.fixture
def play(log, series, make_stroke, tmp_path):
    """Return a function that enters shots of (pace, grade) into the open series."""
    recording = log.add_recording(
        tmp_path / "made-up.mcap",
        start_utc=EVENING_UTC,
        sensor_kind="made up",
        sensor_name="made up",
        is_growing=True,
    )

    def enter(*shots: tuple[float, Grade | None], start_s: float = 10.0, **measures: object):
        strokes = [
            make_stroke(start_s + 20.0 * k, pace, **measures) for k, (pace, _) in enumerate(shots)
        ]
        entered = log.add_strokes(recording.recording_id, series.series_id, strokes)
        for shot, (_, grade) in zip(entered, shots, strict=True):
            if grade is not None:
                log.set_result(
                    shot.shot_id, grade=grade, tapped_utc=EVENING_UTC + timedelta(hours=1)
                )
        return [log.shot(shot.shot_id) for shot in entered]

    return enter


SPREAD = [
    (1.7, Grade.TOO_LITTLE),
    (1.9, Grade.TOO_LITTLE),
    (2.1, Grade.RIGHT),
    (2.2, Grade.RIGHT),
    (2.3, Grade.RIGHT),
    (2.6, Grade.TOO_MUCH),
    (2.8, Grade.TOO_MUCH),
]


@pytest.fixture
def played(play):
    """Return the shots of a series whose right paces lie about 2.2 m/s."""
    return play(*SPREAD)


@pytest.fixture
def app(log, tmp_path, monkeypatch):
    """Return the dashboard of the log, with nothing to rehearse and a data folder of its own."""
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path))
    return create_app(log, recordings=())


@pytest.fixture
def door(app):
    """Return the dashboard's door, open, and shut again afterwards."""
    found = door_of(app.server)
    found.open(HOST, is_encrypted=False)
    yield found
    found.shut()


class Outside(FlaskClient):
    """A client that calls this machine by its address on the network."""

    def open(self, *args, **kwargs):
        return super().open(*args, **{"base_url": f"http://{HOST}"} | kwargs)


@dataclass
class Wire:
    """Speaks to a dashboard's callbacks as a browser does, over HTTP, without one."""

    app: dash.Dash

    def fire(self, output: str, trigger: tuple[Any, str], **known: Any) -> dict[str, Any]:
        """Fire the callback that writes `output` ("id.property") and return what it answers.

        Parameters
        ----------
        output : str
            One of the callback's outputs.
        trigger : tuple
            Id and value of what was touched; its property is the callback's own.
        known : Any
            Values of other inputs and states by id, dashes written as underscores.
        """
        key, callback = next(
            (key, one)
            for key, one in self.app.callback_map.items()
            if output in key.strip(".").split("...")
        )
        touched, value = trigger
        values = {name.replace("_", "-"): one for name, one in known.items()} | {touched: value}
        inputs = [self._filled(one, values) for one in callback["inputs"]]
        body = {
            "output": key,
            "outputs": self._outputs(key),
            "inputs": inputs,
            "state": [self._filled(one, values) for one in callback["state"]],
            "changedPropIds": [
                f"{touched}.{one['property']}" for one in callback["inputs"] if one["id"] == touched
            ],
        }
        client = self.client()
        answer = client.post("/_dash-update-component", json=body, headers={CSRF_HEADER: "served"})
        assert answer.status_code in (200, 204), answer.get_data(as_text=True)
        return answer.get_json()["response"] if answer.status_code == 200 else {}

    def client(self) -> FlaskClient:
        """Return who asks: a page of this machine."""
        client = self.app.server.test_client()
        client.set_cookie(CSRF_COOKIE, "served", domain="localhost")
        return client

    @staticmethod
    def _filled(dependency: dict[str, str], values: dict[str, Any]) -> Any:
        """Return a dependency with its value; a pattern matches nothing."""
        if dependency["id"].startswith("{"):
            return []
        return {**dependency, "value": values.get(dependency["id"])}

    @staticmethod
    def _outputs(key: str) -> Any:
        """Return a callback's outputs as a browser writes them."""
        names = [name.rsplit(".", 1) for name in key.strip(".").split("...")]
        outputs = [{"id": name, "property": part} for name, part in names]
        return outputs if key.startswith("..") else outputs[0]


@pytest.fixture
def wire(app) -> Wire:
    """Return a way to touch the dashboard of the log."""
    app.server.test_client().get("/")  # Dash sets itself up at the first request
    return Wire(app)
