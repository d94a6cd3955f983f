"""The plan of the pace page: ways from too soft to too hard, told apart by colour and by size."""

import json

import numpy as np
import pytest
from plotly.colors import unlabel_rgb

from cue_dashboard import ids, words
from cue_dashboard.figures.paces_on_plan import (
    PacedRun,
    PacedStop,
    colour,
    paces_figure,
    share,
)
from cue_dashboard.figures.plan import Stop
from cue_dashboard.pages.pace_plan import BY_PACE, BY_RESULT, N_WAYS, ways_paces_m_s
from cue_dashboard.theme import DARK, LIGHT
from cue_dashboard.units import PaceScale
from cue_practice.grades import Grade
from cue_table.shot import play

SCALE = PaceScale()


def luminance(rgb):
    """Return the relative luminance of "rgb(r, g, b)" (WCAG 2.2)."""
    parts = np.array(unlabel_rgb(rgb)) / 255
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


class Found:
    """As much of an answer as the ways need."""

    def __init__(self, best, band):
        self.best_pace_m_s, self.band_m_s = best, band


@pytest.mark.parametrize("band", [(1.8, 2.4), (2.2, 2.4), None])
def test_ways_run_from_below_the_band_to_above_it_through_the_best_pace(band):
    paces = ways_paces_m_s(Found(2.1, band))
    assert len(paces) == N_WAYS
    assert paces == sorted(paces)
    assert any(pace == pytest.approx(2.1) for pace in paces)
    low, high = band or (2.1, 2.1)
    assert paces[0] < min(low, 2.1)
    assert paces[-1] > max(high, 2.1)


@pytest.mark.parametrize("palette", [LIGHT, DARK])
def test_even_steps_of_pace_are_ever_lighter(palette):
    shades = [luminance(colour(place, palette)) for place in np.linspace(0, 1, 9)]
    assert np.all(np.diff(shades) > 0)


def test_the_middle_of_one_pace_is_a_half():
    assert share(2.0, (2.0, 2.0)) == 0.5
    assert share(2.5, (2.0, 3.0)) == 0.5


def test_a_faster_way_is_thicker_and_a_faster_stop_larger(setup):
    runs = [PacedRun(pace, play(setup, pace, below_centre_m=0.0095)) for pace in (1.6, 2.0, 2.4)]
    stops = [PacedStop(p, Stop(k, (0.5, 1.0), Grade.RIGHT)) for k, p in enumerate((1.7, 2.3))]
    figure = paces_figure(setup, runs, stops, LIGHT, SCALE)
    ways = [t for t in figure.data if t.name and t.name.startswith("the model's way at")]
    assert np.all(np.diff([way.line.width for way in ways]) > 0)
    assert [way.text[-1] for way in ways] == ["1.60", "2.00", "2.40"]
    for way, one in zip(ways, runs, strict=True):
        assert (way.x[-1], way.y[-1]) == pytest.approx(tuple(one.run.points_m[-1]))
    marks = next(t for t in figure.data if t.name == words.STOPS_BY_PACE)
    assert marks.marker.size[1] > marks.marker.size[0]
    assert list(marks.text) == ["1.70 m/s: Right", "2.30 m/s: Right"]


def test_without_ways_and_stops_the_plan_is_still_drawn(setup):
    assert paces_figure(setup, [], [], LIGHT, SCALE).data


@pytest.mark.parametrize(("by", "n_ways"), [(BY_RESULT, 0), (BY_PACE, N_WAYS)])
def test_the_page_draws_the_plan_that_is_asked_for(wire, log, played, by, n_ways):
    log.set_result(played[2].shot_id, stop_point_m=(1.234, 2.111))
    answer = wire.fire(
        f"{ids.PACE_ANSWER}.children",
        (ids.PACE_HEIGHT, "0.0095|0.0000"),
        unit="m/s",
        scheme="light",
        pace_player="1",
        pace_setup="1",
    )
    store = find(answer, ids.PACE_PLAN_OF)
    plan = wire.fire(
        f"{ids.PACE_PLAN}.figure",
        (ids.PACE_PLAN_BY, by),
        pace_plan_of=store["data"],
        unit="mph",
        scheme="dark",
    )
    assert "1.234" in json.dumps(plan)
    names = [one.get("name", "") for one in plan[ids.PACE_PLAN]["figure"]["data"]]
    ways = [name for name in names if name.startswith("the model's way at")]
    assert len(ways) == n_ways
    assert all(name.endswith("mph") for name in ways)


def find(part, wanted):
    """Return the properties of the component with an id, anywhere in an answer."""
    if isinstance(part, dict):
        if part.get("id") == wanted:
            return part
        part = list(part.values())
    if isinstance(part, list):
        return next((got for one in part if (got := find(one, wanted)) is not None), None)
    return None
