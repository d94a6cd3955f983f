"""What a table is like, from the command line: two simple tests and the log's own shots."""

import math
from dataclasses import replace

import pytest
from click.testing import CliRunner

from cue_dashboard.cloth_kept import keep
from cue_dashboard.commands.cloth import cloth, recorded_on
from cue_practice.answer import table_cloth
from cue_practice.errors import PracticeError
from cue_practice.grades import Grade
from cue_table.cloth import Cloth
from cue_table.fit import fit_table
from cue_table.results import RollTest


def test_a_timed_roll_gives_the_rolling_resistance_back():
    # A ball that rolls 2 m to rest under a constant deceleration: t = sqrt(2 d / a).
    resistance = 0.0100
    seconds = math.sqrt(2 * 2.0 / (resistance * 9.81))
    rolls = [part for _ in range(3) for part in ("--roll", "2.0", f"{seconds:.2f}")]
    found = CliRunner().invoke(cloth, rolls)
    assert found.exit_code == 0, found.output
    line = next(one for one in found.output.splitlines() if "rolling resistance" in one)
    value, low, high = (float(word) for word in line.split() if word[0].isdigit())
    assert low < resistance < high
    assert value == pytest.approx(resistance, rel=0.03)
    assert "do not tell the sliding friction" in found.output
    assert Cloth().rolling_resistance != resistance


def test_shots_with_a_stop_are_taken_and_others_left(log, play, series):
    shots = play((2.0, Grade.RIGHT), (2.1, None), (2.2, Grade.RIGHT))
    log.set_result(shots[0].shot_id, stop_point_m=(1.2, 2.1))
    log.set_result(shots[2].shot_id, stop_point_m=(1.1, 2.0))
    log.discard(shots[2].shot_id)
    (found,) = recorded_on(log, "By the window")
    assert found.stop_point_m == (1.2, 2.1)
    assert found.tip_speed_m_s == pytest.approx(2.0)
    assert found.below_centre_m == series.tip_below_centre_m


def test_a_table_that_is_not_there_is_named_with_those_that_are(log, series):
    with pytest.raises(PracticeError, match=r"no table 'Elsewhere' .*'By the window'"):
        recorded_on(log, "Elsewhere")


@pytest.fixture
def own_log(log, series, monkeypatch):
    """Return the log, which commands open as well."""
    monkeypatch.setenv("STUNPACE_DATABASE", log._url.render_as_string(hide_password=False))
    return log


def rolled(resistance, *more):
    """Run the command on three rolls over 2 m of a cloth, t = sqrt(2 d / a)."""
    seconds = math.sqrt(2 * 2.0 / (resistance * 9.81))
    rolls = [part for _ in range(3) for part in ("--roll", "2.0", f"{seconds:.2f}")]
    return CliRunner().invoke(cloth, [*rolls, *more])


def test_a_measured_roll_is_kept_with_its_table_and_answers_use_it(own_log):
    found = rolled(0.0100, "--table", "By the window", "--save")
    assert found.exit_code == 0, found.output
    assert "Kept with 'By the window': rolling resistance 0.0" in found.output
    (table,) = own_log.tables()
    assert table.rolling_resistance == pytest.approx(0.0100, rel=0.03)
    assert table.sliding_friction is None  # the rolls do not tell it
    assert table_cloth(own_log.tables(), table.table_id).rolling_resistance == (
        table.rolling_resistance
    )


def test_without_being_asked_nothing_is_kept(own_log):
    assert rolled(0.0100, "--table", "By the window").exit_code == 0
    assert own_log.tables()[0].rolling_resistance is None


def test_what_is_only_assumed_is_not_kept(own_log):
    found = fit_table([], roll_tests=[RollTest(2.0, 6.0)])
    vague = replace(found, estimates=tuple(replace(e, is_told=False) for e in found.estimates))
    assert keep(own_log, own_log.tables()[0], vague).startswith("Nothing is kept")
    assert own_log.history() == []


def test_keeping_needs_a_table():
    found = rolled(0.0100, "--save")
    assert found.exit_code == 2
    assert "--save needs --table" in found.output
