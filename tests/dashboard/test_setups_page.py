"""Set-ups: built on the plan by pointer, keys and numbers, kept in the log, compared."""

import contextlib
import json

import pytest
from in_chromium import needs_chromium, started
from selenium.common.exceptions import TimeoutException
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.actions.action_builder import ActionBuilder
from selenium.webdriver.common.actions.pointer_input import PointerInput
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import WebDriverWait

from cue_dashboard.drafts import (
    USUAL_PACE_M_S,
    USUAL_TIP_M,
    AreaWish,
    draft_of,
    fresh_draft,
    judged,
    setup_of,
)
from cue_dashboard.ids import setups as ids
from cue_dashboard.listen import Listener
from cue_dashboard.pages import setups_keep, setups_say, setups_ways
from cue_dashboard.pages.setups_page import wished
from cue_dashboard.playing import Playing
from cue_dashboard.units import PaceScale
from cue_dashboard.words import setups as words
from cue_practice.spread import OwnSpread, own_spread
from cue_table.choose import WAYS, WayResult
from cue_table.cloth import Cloth
from cue_table.fan import Intent
from cue_table.setup import FULL_SIZE
from cue_table.shot import play as play_shot
from cue_table.sizes import TABLE_SIZES

STROKE = {"setups_pace": 2.0, "setups_tip": 7, "setups_side": 0, "unit": "m/s"}


def on_page(setup, *, table="size:12 ft", name="Corner mark", kind="drawn", **more):
    """Return what the page of a set-up holds, by id."""
    return {
        "setups_draft": draft_of(setup),
        "setups_table": table,
        "setups_name": name,
        "setups_pocket": setup.pocket,
        "setups_area_kind": kind,
        "setups_next_pocket": "any",
        "setups_greatest_cut": 30,
        "setups_nearest": 100,
        "setups_furthest": 1000,
    } | more


def save(wire, button, page, edited=None):
    """Press one of the two buttons that save and return what is said."""
    held = {name: one for name, one in page.items()}
    answer = wire.fire("setups-said.children", (button, 1), setups_edited=edited, **held)
    return answer["setups-said"]["children"]


def test_a_set_up_is_saved_on_a_table_of_a_usual_size(wire, log, setup):
    assert save(wire, ids.SAVE, on_page(setup)) == words.SAVED.format(name="Corner mark")
    (table,) = log.tables()
    (entry,) = log.setups()
    assert table.size == FULL_SIZE
    assert entry.setup.white_m == setup.white_m
    assert entry.setup.landing_area_m == setup.landing_area_m
    # the next one lies on the same table
    save(wire, ids.SAVE_NEW, on_page(setup, name="Another mark"))
    assert len(log.tables()) == 1
    assert len(log.setups()) == 2


def test_a_set_up_that_is_open_is_replaced_until_it_was_played(wire, log, setup):
    save(wire, ids.SAVE, on_page(setup))
    (entry,) = log.setups()
    moved = on_page(setup, table=setups_keep.table_value(entry.table_id), name="Moved mark")
    assert save(wire, ids.SAVE, moved, edited=entry.setup_id) == words.SAVED.format(
        name="Moved mark"
    )
    assert [one.name for one in log.setups()] == ["Moved mark"]


def test_a_set_up_that_was_played_is_not_redrawn(wire, log, series):
    entry = log.setup(series.setup_id)
    page = on_page(entry.setup, table=setups_keep.table_value(entry.table_id), name="Other")
    said = save(wire, ids.SAVE, page, edited=entry.setup_id)
    assert "Save it under a new name" in said
    assert log.setup(series.setup_id).name == entry.name


def test_nothing_is_saved_without_a_name_or_with_balls_that_overlap(wire, log, setup):
    assert save(wire, ids.SAVE, on_page(setup, name="  ")) == words.NAME_MISSING
    page = on_page(setup)
    page["setups_draft"]["balls"]["next"] = page["setups_draft"]["balls"]["white"]
    assert "0.0 mm apart" in save(wire, ids.SAVE, page)
    assert log.setups() == []
    assert log.tables() == []


def test_an_area_for_the_next_ball_is_saved_as_its_corners(wire, log, setup):
    save(wire, ids.SAVE, on_page(setup, kind="derived"))
    (entry,) = log.setups()
    assert len(entry.setup.landing_area_m) > 10
    assert entry.setup.landing_area_m != setup.landing_area_m


def test_the_page_says_how_the_stroke_ends_and_which_paces_land(wire, setup):
    answer = wire.fire("setups-shown.data", ("setups-pace", 2.0), **on_page(setup), **STROKE)
    said = json.dumps(answer["setups-run"]["children"])
    assert words.RUN_STOPS_IN in said or words.RUN_STOPS_OUT in said
    assert "m/s" in said
    assert answer["setups-shown"]["data"]["path"]
    assert answer["setups-faults"]["className"] == "setups-faults none"


def test_paces_follow_the_unit(wire, setup):
    given = STROKE | {"unit": "mph"}
    answer = wire.fire("setups-shown.data", ("setups-pace", 2.0), **on_page(setup), **given)
    assert answer["setups-pace-words"]["children"] == "4.5 mph"


def test_two_stretches_of_pace_are_called_separate():
    said = setups_say._bands(((1.2, 1.5), (2.0, 2.3)), PaceScale())
    assert "2 separate stretches" in said
    assert "1.20" in said
    assert "2.30" in said


@pytest.mark.parametrize(
    ("ratio", "word"),
    [
        (-0.8, words.SPIN_SCREW),
        (0.0, words.SPIN_STUN),
        (0.6, words.SPIN_SOME),
        (1.0, words.SPIN_ROLLS),
    ],
)
def test_spin_is_said_in_the_trade_s_words(ratio, word):
    assert setups_say.spin_words(ratio) == word


def test_an_unfinished_page_is_no_set_up():
    assert wished(None, "size:12 ft", "", "top_right", "drawn", "any", 30, 100, 1000) is None


def test_empty_number_fields_mean_the_usual_limits(setup):
    page = (draft_of(setup), "size:12 ft", "", setup.pocket, "derived", "any", "", "", "")
    found = wished(*page)
    assert found is not None
    assert found[1] == AreaWish(is_derived=True)


def test_every_way_has_words():
    assert set(words.WAY_NAME) == {way.name for way in WAYS}


def test_a_way_that_hardly_ever_works_is_not_offered():
    rare = WayResult(WAYS[0], Intent(2.0, 0.0), 0.004, (1.9, 2.1), (0.0, 0.001))
    none = WayResult(WAYS[1], None, 0.0)
    table = setups_ways.ways_table([rare, none], PaceScale())
    said = str(table)
    assert said.count(words.WAY_NOT) == 2
    assert words.WAY_TRY not in said


def test_the_ways_of_a_set_up_are_compared_with_pictures(wire, setup):
    page = [*wire_page(setup), None]
    answer = wire.fire("setups-ways.children", ("setups-ways-of", page), scheme="dark", unit="m/s")
    said = json.dumps(answer["setups-ways"]["children"])
    assert any(name in said for name in words.WAY_NAME.values())
    assert ids.MAP in said
    assert words.SPREAD_USUAL.format(pace=0.07) in said


def judged_as(wire, setup, player, **more):
    """Return what is said of the stroke tried as a player plays it."""
    page, stroke = on_page(setup, **more), STROKE | {"setups_played_by": player}
    answer = wire.fire("setups-shown.data", ("setups-pace", 2.0), **page, **stroke)
    return json.dumps(answer["setups-run"]["children"]), answer["setups-shown"]["data"]


def test_the_spread_is_the_chosen_player_s_own_or_said_to_be_the_usual(wire, log, series, play):
    player = str(series.player_id)
    assert words.SPREAD_USUAL.format(pace=0.07) in judged_as(wire, series_setup(log), None)[0]
    unknown = words.SPREAD_USUAL_OF.format(name="Plover", pace=0.07)
    assert unknown in judged_as(wire, series_setup(log), player)[0]
    log.edit_series(series.series_id, called_pace_m_s=2.0)
    play(*[(2.0 * factor, None) for factor in (0.9, 1.1, 0.95, 1.05, 1.0, 0.88, 1.12)])
    own = own_spread(log.called_shots(series.player_id))
    said = judged_as(wire, series_setup(log), player)[0]
    assert words.SPREAD_OWN.format(name="Plover", pace=own.share, n=7) in said


def series_setup(log):
    """Return the set-up of the log."""
    return log.setups()[-1].setup


def test_a_closer_spread_of_pace_brings_more_strokes_right():
    fresh = setup_of(fresh_draft(FULL_SIZE), FULL_SIZE, name="fresh", pocket="top_right")
    stroke = {"tip_speed_m_s": USUAL_PACE_M_S, "below_centre_m": USUAL_TIP_M, "side_m": 0.0}
    close, wide = (
        judged(fresh, AreaWish(), **stroke, playing=Playing(own=OwnSpread(share, 50)))
        for share in (0.01, 0.2)
    )
    # twenty times the spread: far beyond the 2.5 % that 400 strokes are counted to
    assert close.spread.chance_landing > wide.spread.chance_landing + 0.2


def test_the_stroke_is_tried_on_the_cloth_of_the_chosen_table(wire, log, setup):
    slow = log.add_table("Slow one", rolling_resistance=0.02)
    _, known = judged_as(wire, setup, None)
    _, found = judged_as(wire, setup, None, table=setups_keep.table_value(slow.table_id))
    run = play_shot(setup, 2.0, below_centre_m=0.007, cloth=Cloth(rolling_resistance=0.02))
    assert found["stop"] == pytest.approx(run.stop_m, abs=6e-5)
    assert found["stop"] != known["stop"]


def wire_page(setup):
    """Return what the page holds in the order of its callbacks."""
    page = on_page(setup)
    return page.values()


@pytest.fixture(scope="module")
def tab(tmp_path_factory):
    with started("", tmp_path_factory.mktemp("chromium")) as browser:
        yield browser


@pytest.fixture
def browser(app, series, tab):
    """Return the browser on the page of set-ups; its console stays clean."""
    listener = Listener(app.server)
    tab.address = listener.address
    tab.size("phone")
    tab.open("/setups")
    tab.shown("[data-item=white]")
    tab.shown(".s-path")
    yield tab
    assert tab.complaints() == []
    assert tab.asked_elsewhere() == []
    tab.driver.get("about:blank")
    tab.complaints()
    listener.stop()


CROSSED = """
const lines = [...document.querySelectorAll('.s-pot, .s-path')];
return [...document.querySelectorAll('.s-name')].filter(e => e.textContent).filter(e => {
  const box = e.getBoundingClientRect();
  return lines.some(line => {
    const long = line.getTotalLength(), to = line.getScreenCTM();
    return Array.from({length: 400}, (_, k) => line.getPointAtLength(long * k / 399))
      .map(p => p.matrixTransform(to))
      .some(p => p.x > box.left && p.x < box.right && p.y > box.top + 3 && p.y < box.bottom - 3);
  });
}).map(e => e.textContent);
"""
"""Names on the plan that a line runs through."""


COVERED = """
const boxes = selector => [...document.querySelectorAll(selector)]
  .map(e => [e.textContent, e.getBoundingClientRect()]);
const spots = boxes('#s-table .s-line').slice(2)
  .map(([_, b]) => ({x: (b.left + b.right) / 2, y: (b.top + b.bottom) / 2}));
return [spots.length, boxes('.s-name').filter(([name, b]) => name && spots.some(
  p => p.x > b.left && p.x < b.right && p.y > b.top + 3 && p.y < b.bottom - 3)).map(([n]) => n)];
"""
"""How many spots there are, and the names on the plan that lie over one."""


def label(browser, item):
    """Return what is said of a thing on the plan."""
    return browser.ask(
        "return document.querySelector(`[data-item=${arguments[0]}]`).ariaLabel", item
    )


def lies(browser, item, expected):
    """Wait until a ball is said to lie where it should, and hold it to that."""
    with contextlib.suppress(TimeoutException):
        WebDriverWait(browser.driver, 10, poll_frequency=0.1).until(
            lambda _: place(browser, item) == expected
        )
    assert place(browser, item) == expected


def place(browser, item):
    """Return where a thing lies, mm from the left and the bottom cushion."""
    return [int(word) for word in label(browser, item).split() if word.isdigit()][-2:]


def drag(browser, item, right_px, down_px, *, kind="touch"):
    """Drag a thing on the plan with a finger or the mouse."""
    element = browser.driver.find_element(By.CSS_SELECTOR, f"[data-item={item}] .s-ball")
    browser.ask("arguments[0].scrollIntoView({block: 'center'})", element)
    finger = ActionBuilder(browser.driver, mouse=PointerInput(kind, f"a {kind}"))
    finger.pointer_action.move_to(element).pointer_down()
    for step in (1, 2, 3):
        finger.pointer_action.move_to(element, right_px * step // 3, down_px * step // 3)
    finger.pointer_action.pointer_up()
    finger.perform()


@needs_chromium
@pytest.mark.parametrize("kind", ["touch", "mouse"])
def test_balls_are_dragged_and_the_way_of_the_white_follows(browser, kind):
    before = place(browser, "white")
    way = browser.ask("return document.querySelector('.s-path').getAttribute('points')")
    drag(browser, "white", -24, 15, kind=kind)
    after = place(browser, "white")
    assert after[0] < before[0] - 50
    assert after[1] < before[1] - 30
    browser.until(
        "const p = document.querySelector('.s-path');"
        "return p && p.getAttribute('points') !== arguments[0]",
        way,
    )
    browser.picture(f"setups-dragged-{kind}")
    assert browser.ask(CROSSED) == []


@needs_chromium
def test_arrow_keys_move_a_ball_by_a_centimetre_and_with_shift_by_a_millimetre(browser):
    browser.ask("document.querySelector('[data-item=object]').focus()")
    across, up = place(browser, "object")
    ActionChains(browser.driver).send_keys(Keys.ARROW_LEFT, Keys.ARROW_UP).perform()
    lies(browser, "object", [across - 10, up + 10])
    keys = ActionChains(browser.driver).key_down(Keys.SHIFT).send_keys(Keys.ARROW_RIGHT)
    keys.key_up(Keys.SHIFT).perform()
    lies(browser, "object", [across - 9, up + 10])


@needs_chromium
def test_a_name_lies_over_no_spot(browser):
    x, y = FULL_SIZE.spots_m["blue"]
    at = 1e3 * x - 20, 1e3 * y + 128  # the white's name would be below it
    for field, value in zip((ids.ACROSS, ids.UP), at, strict=True):
        type_into(browser, field, f"{value:.0f}")
        browser.until(
            "return document.querySelector('[data-item=white]').ariaLabel.includes(arguments[0])",
            f"{value:.0f}",
        )
    browser.settled()
    n_spots, covered = browser.ask(COVERED)
    assert (n_spots, covered) == (len(FULL_SIZE.spots_m), [])
    browser.picture("setups-spot")


def type_into(browser, element_id, text):
    """Put other text into a field."""
    field = browser.driver.find_element(By.ID, element_id)
    browser.ask("arguments[0].scrollIntoView({block: 'center'})", field)
    field.send_keys(Keys.CONTROL, "a")
    field.send_keys(text, Keys.TAB)


@needs_chromium
def test_typed_numbers_move_the_chosen_ball_and_the_set_up_is_kept(browser, log):
    type_into(browser, ids.ACROSS, "1200")
    browser.until(
        "return document.querySelector('[data-item=white]').ariaLabel.includes('1200 mm')"
    )
    browser.tap(ids.ADD_NEXT)
    browser.shown("[data-item=next]")
    type_into(browser, ids.NAME, "Typed mark")
    browser.tap(ids.SAVE)
    browser.until("return document.body.innerText.includes(arguments[0])", "Saved: Typed mark")
    kept = log.setups()[-1].setup
    assert kept.white_m[0] == pytest.approx(1.2, abs=1e-4)
    assert kept.next_ball_m is not None
    browser.picture("setups-saved")


@needs_chromium
def test_the_area_is_drawn_by_tapping_its_corners(browser):
    browser.tap(ids.CLEAR_CORNERS)
    browser.until("return !document.querySelector('.s-area')")
    browser.ask("document.getElementById(arguments[0]).click()", ids.TAP_CORNERS)
    browser.until("return document.querySelector('.setups-board.tapping')")
    cloth = browser.driver.find_element(By.CSS_SELECTOR, ".s-cloth")
    browser.ask("arguments[0].scrollIntoView({block: 'center'})", cloth)
    for right, down in ((-90, -60), (-30, -60), (-30, 0), (-90, 0)):
        ActionChains(browser.driver).move_to_element_with_offset(
            cloth, right, down
        ).click().perform()
    browser.until("return document.querySelectorAll('[data-item^=corner]').length === 4")
    browser.until("return document.querySelector('.s-area')")
    browser.picture("setups-area")
    assert TABLE_SIZES["12 ft"] == FULL_SIZE


@needs_chromium
def test_a_set_up_of_the_log_is_opened_on_the_plan(browser, log, series):
    setup = log.setup(series.setup_id).setup
    browser.ask("document.querySelector('.setups-list button').click()")
    browser.shown("[data-item=next]")
    lies(browser, "white", [round(1e3 * one) for one in setup.white_m])
    assert browser.ask("return document.getElementById(arguments[0]).value", ids.NAME) == setup.name
