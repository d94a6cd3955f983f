"""Progress: the evenings of one side or two, as figures, sentences and tables."""

import json
import shutil
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from cue_bench.long_log import fill
from cue_dashboard.app import create_app
from cue_dashboard.figures.evenings import Course, evenings_figure
from cue_dashboard.figures.tired import hour_changes, tired_figure
from cue_dashboard.ids import progress as own
from cue_dashboard.pages import progress_page
from cue_dashboard.sides import choices, sides_of, split_of
from cue_dashboard.theme import LIGHT
from cue_dashboard.words import progress as say
from cue_practice.control import Measure
from cue_practice.log import PracticeLog
from cue_practice.progress import Evening
from cue_practice.tiredness import Tiredness, tiredness
from cue_practice.trade_words import probability_words

N_EVENINGS, N_SHOTS = 6, 40
"""Three evenings of each of the two players: the least that a trend is told of."""


@pytest.fixture(scope="module")
def long_file(tmp_path_factory):
    """Return the file of a log of six evenings."""
    path = tmp_path_factory.mktemp("long") / "long.sqlite3"
    with PracticeLog(path) as log:
        fill(
            log,
            n_shots=N_EVENINGS * N_SHOTS,
            shots_per_evening=N_SHOTS,
            seed=3,
            has_traces=False,
        )
    return path


@pytest.fixture
def long_log(long_file, tmp_path):
    with PracticeLog(shutil.copy(long_file, tmp_path)) as opened:
        yield opened


@pytest.fixture
def shown(long_log):
    """Return a function that gives what the page shows, as text."""
    app = create_app(long_log, recordings=())

    def show(kind="nobody", which=None, player="1"):
        with app.server.app_context():
            found = progress_page.show(which, player, kind, "light")
        return json.dumps([one.to_plotly_json() for one in found], default=plain)

    return show


def plain(value):
    return value.to_plotly_json() if hasattr(value, "to_plotly_json") else str(value)


def test_every_quantity_has_a_figure_a_sentence_and_a_table(shown):
    said = shown()
    for name, title in say.QUANTITY.items():
        assert title in said
        assert f"{own.GRAPH}-{name}" in said
    assert said.count("Over 3 evenings") == len(say.QUANTITY)
    assert said.count(say.AS_TABLE) == len(say.QUANTITY)


def test_where_no_evening_tells_what_an_hour_does_it_is_said_and_not_drawn(shown, long_log):
    said, found = shown(), tiredness(sides_of(long_log, 1, "nobody", None)[0].shots)
    assert found.pace_change is None
    assert all(one in said for one in found.words)
    assert f"{own.GRAPH}-tired" not in said


def test_what_an_hour_does_is_drawn_where_evenings_tell():
    told = Tiredness(0.4, Measure(-0.02, -0.03, -0.01), Measure(1.5, 1.2, 1.9), 3, ("Softer.",))
    said = json.dumps(progress_page._tired(told, LIGHT), default=plain)
    assert "Softer." in said
    assert f"{own.GRAPH}-tired" in said
    assert "change in 24 minutes, %" in said


def test_an_hour_s_change_is_drawn_in_per_cent_from_no_change():
    pace, spread = Measure(-0.02, -0.03, -0.01), Measure(1.5, 1.2, 1.9)
    changes = hour_changes(Tiredness(1.0, pace, spread, 3, ()))
    figure = tired_figure(changes, "an hour", LIGHT)
    assert [one.x[0] for one in figure.data] == pytest.approx([-2.0, 50.0])
    assert figure.data[1].error_x.array[0] == pytest.approx(40.0)
    assert [line.x0 for line in figure.layout.shapes] == [0.0, 0.0]
    assert "-2.0 % (-3.0 to -1.0 %)" in figure.layout.annotations[0].text
    assert hour_changes(Tiredness(0.0, None, None, 0, ())) == ()


def test_two_players_are_set_side_by_side_with_a_probability(shown):
    said = shown("player", "2")
    assert "Wren beside Badger" in said
    assert "% sure" in said
    assert "120 / 120" in said


def test_two_times_split_the_shots_between_them(long_log):
    offered = choices(long_log, 1, "period")
    assert len(offered) == 2  # the first evening cannot begin the later time
    earlier, later = sides_of(long_log, 1, "period", offered[0].value)
    assert len(earlier.shots) + len(later.shots) == 3 * N_SHOTS
    assert earlier.shots.struck_s.max() < later.shots.struck_s.min()
    split = split_of("period", offered[0].value)
    assert split == datetime.fromtimestamp(float(np.min(later.shots.struck_s)), UTC)


def test_who_has_one_cue_is_told_that_there_is_no_other(long_log):
    app = create_app(long_log, recordings=())
    with app.server.app_context():
        data, value, _, error, is_hidden = progress_page.offer("1", "cue", None)
    assert (data, value, is_hidden) == ([], None, False)
    assert error == say.WHICH_NONE["cue"]


def test_a_second_cue_can_be_set_beside_the_first(long_log):
    player = long_log.players()[0].player_id
    new = long_log.add_cue("Maple", player_id=player)
    old = long_log.all_series(player_id=player)[0]
    series = long_log.add_series(player, new.cue_id, old.table_id, old.setup_id, 0.0095)
    shot = long_log.shots(series_id=old.series_id)[0]
    long_log.move(shot.shot_id, series.series_id)
    offered = choices(long_log, player, "cue")
    assert [one.label for one in offered] == ["Maple"]
    first, second = sides_of(long_log, player, "cue", offered[0].value)
    assert (len(first.shots), len(second.shots)) == (3 * N_SHOTS - 1, 1)


def test_an_empty_log_is_told_what_to_do(wire):
    answer = wire.fire("progress-found.children", (own.PLAYER, None), scheme="light")
    assert say.EMPTY_REMEDY in json.dumps(answer)


def test_a_quantity_that_nothing_is_known_of_says_why(wire, play):
    play((2.0, None), (2.1, None))  # free pace, no result tapped
    answer = json.dumps(
        wire.fire(
            "progress-found.children",
            (own.PLAYER, "1"),
            progress_beside="nobody",
            scheme="light",
        )
    )
    assert say.NOTHING_YET["pace_spread"] in answer
    assert say.NOTHING_YET["right"] in answer
    assert say.NOTHING_YET["slowing"] not in answer
    assert say.FEW_EVENINGS in answer


def test_the_interval_of_an_evening_is_drawn_to_its_ends():
    when = datetime(2026, 3, 4, tzinfo=UTC)
    course = Course("Wren", (when,), (Measure(7.0, 5.5, 9.1),), ("hint",))
    mark = evenings_figure([course], LIGHT, axis="%").data[0]
    assert mark.y[0] + mark.error_y.array[0] == pytest.approx(9.1)
    assert mark.y[0] - mark.error_y.arrayminus[0] == pytest.approx(5.5)


def test_two_marks_of_one_evening_share_its_tick():
    moments = (datetime(2026, 3, 4, 19, tzinfo=UTC), datetime(2026, 3, 4, 20, tzinfo=UTC))
    measures = (Measure(0.0, 0.0, 0.0), Measure(0.0, 0.0, 0.0))
    figure = evenings_figure([Course("a", moments, measures, ("", ""))], LIGHT, axis="%")
    assert list(figure.layout.xaxis.tickvals) == [moments[0]]
    assert figure.layout.yaxis.range[0] < 0.0  # a mark on nought is seen whole


def test_two_sides_have_two_marks():
    when = datetime(2026, 3, 4, tzinfo=UTC)
    sides = [Course(name, (when,), (Measure(7.0, 5.5, 9.1),), ("",)) for name in ("a", "b")]
    symbols = [one.marker.symbol for one in evenings_figure(sides, LIGHT, axis="%").data]
    assert len(set(symbols)) == 2


def test_marks_of_many_evenings_are_small_enough_to_be_told_apart():
    when = [datetime(2026, 3, 4, tzinfo=UTC) + timedelta(days=k) for k in range(180)]
    sizes = []
    for n in (10, 180):
        course = Course("a", tuple(when[:n]), (Measure(7.0, 5.5, 9.1),) * n, ("",) * n)
        sizes.append(evenings_figure([course], LIGHT, axis="%").data[0].marker.size)
    assert sizes[1] <= sizes[0] / 2


@pytest.mark.parametrize(
    ("chance", "said"), [(0.999, "over 99 %"), (0.004, "under 1 %"), (0.86, "86 %")]
)
def test_no_chance_is_called_certain(chance, said):
    assert probability_words(chance) == said


def test_an_interval_is_told_with_decimals_enough_or_as_too_small_to_measure():
    start = datetime(2026, 3, 4, tzinfo=UTC)

    def points(value_mm, low_mm, high_mm):
        sideways = Measure(value_mm / 1e3, low_mm / 1e3, high_mm / 1e3)
        return progress_page._points(
            "sideways_m", [Evening(0, start, start, 9, sideways_m=sideways)]
        )

    (told,) = points(0.104, 0.091, 0.118)  # with one decimal 0.1 to 0.1
    assert (told.value, told.span) == ("0.10", "0.09 to 0.12")
    (told,) = points(0.104, 0.103, 0.1041)
    assert (told.value, told.span) == ("0.1", "as exactly as can be shown")
    hidden = points(0.0, 0.0, 0.0)
    course = progress_page._course("sideways_m", "Wren", hidden)
    assert course.hints == ("Wren, 4 Mar 2026: too small to measure",)
    table = progress_page._table("sideways_m", "Wren", hidden)
    assert "too small to measure" in json.dumps(table.to_plotly_json(), default=str)
