"""A sensor at the table in a real browser: found, connected, dropped, found again; server gone.

The sensor is a stretch of a shipped recording on a private bus, the way to it is unmodified
Bluetooth. Tests run in order and share one browser; the server is ours, so that it can be ended.
"""

import asyncio
import threading
from dataclasses import replace

import numpy as np
import pytest
from in_chromium import needs_chromium, started
from selenium.webdriver.common.by import By

from cue_dashboard import air as air_module
from cue_dashboard import ids, words
from cue_dashboard.app import create_app
from cue_dashboard.desk import desk_of
from cue_dashboard.door import door_of
from cue_dashboard.ids import table as table_ids
from cue_dashboard.listen import Listener
from cue_dashboard.words import table as table_words
from cue_practice.folder import FOLDER_VARIABLE
from cue_practice.grades import Grade
from cue_practice.log import PracticeLog
from cue_recordings import data_folder
from cue_sensors.ble import BleSensor, BleSettings
from cue_sensors.csv_file import write_csv
from cue_sensors.load import load_recording
from cue_sensors.rig.played import PlayedSensor, playing
from cue_sensors.rig.private_bus import private_bus, rig_problem
from cue_signal.warm import warm_up
from cue_table.setup import FULL_SIZE, SetUp

pytestmark = [
    needs_chromium,
    pytest.mark.skipif(rig_problem() is not None, reason=str(rig_problem())),
]

KEPT = "return localStorage.getItem('stunpace-taps')"
HEARD = """
window.heard = {said: [], tones: []};
const voice = {name: 'own', lang: 'en', localService: true};
const voices = {getVoices: () => [{...voice, localService: false}, voice], cancel() {},
  speak: one => heard.said.push(one.voice.localService ? one.text : 'not its own'),
  addEventListener() {}};
Object.defineProperty(window, 'speechSynthesis', {value: voices});
window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
const none = () => {};
const level = {
  setValueAtTime: none, linearRampToValueAtTime: none, exponentialRampToValueAtTime: none};
window.AudioContext = class {
  state = 'running'; currentTime = 0; destination = {};
  createGain() { return {gain: level, connect: to => to}; }
  createOscillator() {
    const pitch = {value: 0}, start = () => heard.tones.push(pitch.value);
    return {frequency: pitch, connect: to => to, stop: none, start};
  }
};
"""
"""A voice and a speaker that write down what they are given."""
SAID = [
    (1.8, "1.80", [494, 370]),
    (2.04, "2.04", [494, 494]),
    (2.3, "2.30", [494, 659]),
    (2.0, "7.2", [494, 494]),
]
"""Pace in m/s against a called 2.0, the words, and the two tones: falling, alike, rising."""

LOOKS = """
window.looks = [];
const look = document.getElementById(arguments[1]);
new MutationObserver(() => {
  const number = look.querySelector('.pace-number').textContent;
  if (!look.hidden && looks[looks.length - 1] !== number) looks.push(number);
}).observe(document.getElementById(arguments[0]),
  {subtree: true, childList: true, attributes: true, characterData: true});
"""
"""Writes down the paces that are shown before the card has them; every stroke here is the same."""

HASTY = BleSettings(scan_s=5.0, connect_s=5.0, step_s=3.0, stall_s=1.0, back_off_s=(0.1, 0.2))
FROM_S, TO_S = 12.5, 19.0
"""One stroke of the shipped recording, hit at 15.5 s, with the rests about it: long enough ones for
the second playing of it to be found as well, although the cue jumps between the two."""


def two_strokes():
    """Return a stretch of samples played twice, from 0 s on: two strokes 6.5 s apart."""
    recording = load_recording(data_folder() / "2-wren-pale-higher.mcap")
    once = recording.samples.between(FROM_S, TO_S)
    period_s = 1 / once.rate_hz
    first_s = once.time_s - once.time_s[0]
    again_s = first_s + first_s[-1] + period_s
    return replace(
        once,
        time_s=np.concatenate([first_s, again_s]),
        specific_force_m_s2=np.tile(once.specific_force_m_s2, (2, 1)),
        angular_rate_rad_s=np.tile(once.angular_rate_rad_s, (2, 1)),
        is_clipped=np.tile(once.is_clipped, 2),
    )


class Air:
    """The private bus with one sensor on it, run in a thread of its own."""

    def __init__(self, path, address):
        self._loop = asyncio.new_event_loop()
        self._over = threading.Event()
        self._ready = threading.Event()
        self._path, self._address = path, address
        self._thread = threading.Thread(target=self._loop.run_until_complete, args=(self._run(),))
        self._thread.start()
        assert self._ready.wait(20)

    async def _run(self):
        self._sensor = PlayedSensor(self._path, loop=True)
        async with playing([self._sensor], self._address) as self._bluez:
            self._ready.set()
            while not self._over.is_set():
                await asyncio.sleep(0.05)

    @property
    def name(self):
        return self._sensor.device.name

    def drop(self):
        self._loop.call_soon_threadsafe(self._bluez.drop_link, self._sensor.device)

    def close(self):
        self._over.set()
        self._thread.join(20)
        self._loop.close()


class Program:
    """The dashboard, which can be ended and started again at the same address."""

    def __init__(self, path):
        self.path, self.port = path, 0
        self.start()

    def start(self):
        self.log = PracticeLog(self.path)
        source = lambda one: BleSensor(one.address, kind=one.kind, settings=HASTY)  # noqa: E731
        self.app = create_app(self.log, recordings=(), sensor_source=source)
        self._listener = Listener(self.app.server, port=self.port)
        self.port = int(self._listener.address.rpartition(":")[2])
        desk_of(self.app.server).reconnect()

    def end(self):
        desk_of(self.app.server).stop()
        self._listener.stop()
        self.log.close()


@pytest.fixture(scope="module")
def air(tmp_path_factory):
    path = tmp_path_factory.mktemp("played") / "tag seven.csv"
    write_csv(two_strokes(), path)
    with private_bus(set_env=True) as address:
        playing = Air(path, address)
        yield playing
        playing.close()


@pytest.fixture(scope="module")
def program(tmp_path_factory, air):
    folder = tmp_path_factory.mktemp("data")
    patch = pytest.MonkeyPatch()
    patch.setenv(FOLDER_VARIABLE, str(folder))
    patch.setattr(air_module, "SCAN_S", 1.0)
    warm_up()  # on a machine that has compiled nothing yet a first stroke may wait a minute for it
    running = Program(folder / "practice.sqlite3")
    log = running.log
    player, table = log.add_player("Plover"), log.add_table("By the window")
    cue = log.add_cue("Old ash", player_id=player.player_id)
    landing = ((0.9, 1.9), (1.6, 1.9), (1.6, 2.4))
    setup = SetUp("Window side", FULL_SIZE, (0.7, 2.1), (1.25, 2.7), "top_right", None, landing)
    entry = log.add_setup(setup, table.table_id)
    log.add_series(player.player_id, cue.cue_id, table.table_id, entry.setup_id, 0.0095)
    yield running
    running.end()
    patch.undo()


@pytest.fixture(scope="module")
def tab(program, tmp_path_factory):
    address = f"http://127.0.0.1:{program.port}"
    with started(address, tmp_path_factory.mktemp("chromium")) as browser:
        browser.size("phone")
        yield browser


def says(tab, element_id, text):
    """Wait until an element says something."""
    tab.until(
        "const e = document.getElementById(arguments[0]);"
        "return e && !e.hidden && e.innerText.includes(arguments[1])",
        element_id,
        text,
    )


def strokes(tab, number):
    """Wait until so many shots have left a mark."""
    tab.until("return document.querySelectorAll('.shot-mark').length >= arguments[0]", number)


def test_a_sensor_is_found_and_connected_from_the_page(tab, air):
    tab.open("/")
    tab.shown(f"#{ids.TABLE_SOURCE_KIND}")
    tab.ask(f"document.querySelector('#{ids.TABLE_SOURCE_KIND} input[value=sensor]').click()")
    tab.tap(table_ids.SCAN)
    found = tab.shown(".found")
    assert air.name in found.text
    assert table_words.kind("stroke_stream") in found.text
    tab.picture("sensor-found")
    tab.driver.find_element(By.CSS_SELECTOR, ".found").click()
    says(tab, ids.TABLE_STATE, air.name)
    says(tab, table_ids.FACTS, table_words.BATTERY.format(percent=87))


def test_its_stroke_arrives_and_a_drop_is_said_and_mended(tab, air):
    strokes(tab, 1)
    tab.ask(LOOKS, ids.TABLE_PACE_CARD, table_ids.FIRST_LOOK)
    air.drop()
    tab.shown(".state.seeking")
    tab.shown(".state.on")
    strokes(tab, 2)
    # shown before the card was drawn, and out of its way again
    gone = "return looks.length && document.getElementById(arguments[0]).hidden && looks"
    looks = tab.until(gone, table_ids.FIRST_LOOK)
    pace = float(tab.text(f"#{ids.TABLE_PACE} .pace-number"))
    assert [float(one) for one in looks] == pytest.approx([pace] * len(looks), rel=0.05)
    assert tab.complaints() == []


def fit_above(tab, element_ids, selector):
    """Wait until all elements are within the screen, above what stands at its lower edge."""
    tab.until(
        "const box = e => e.getBoundingClientRect(), of = id => document.getElementById(id);"
        "const edge = box(document.querySelector(arguments[1])).top;"
        "return arguments[0].every(id => {"
        "  const b = box(of(id));"
        "  return b.height > 0 && b.top >= 0 && b.left >= 0 && b.right <= innerWidth"
        "    && b.bottom <= edge + 1;"
        "})",
        element_ids,
        selector,
        within_s=20,
    )


RESULTS = [*ids.TABLE_GRADE.values(), ids.TABLE_UNDO]


@pytest.fixture
def small(tab):
    """A phone whose browser shows its bars."""
    size = {"width": 390, "height": 664, "deviceScaleFactor": 1, "mobile": True}
    tab.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    tab.ask("scrollTo(0, 0)")
    yield tab
    tab.size("phone")


def test_pace_next_pace_results_and_undo_fit_on_one_screen_of_a_phone_with_its_bars(small):
    seen = [ids.TABLE_STATE, table_ids.AIDS, ids.TABLE_PACE, table_ids.NEXT_PACE]
    fit_above(small, [*RESULTS, ids.TABLE_NO_SHOT], ".pages-bar")
    fit_above(small, seen, f"#{table_ids.JUDGE_BAR}")


def test_after_the_result_the_plan_takes_the_place_of_the_pace_on_one_screen(small, program):
    strokes(small, 1)
    shots = program.log.shots()
    small.tap(ids.TABLE_GRADE["right"])
    small.until("return document.querySelector('.shot-mark .mark-right') !== null")
    small.ask("document.querySelector('.shot-mark').click()")  # others may wait by now
    small.until(
        "return document.getElementById(arguments[0]).dataset.step === 'more'", "table-page"
    )
    small.ask("scrollTo(0, 0)")
    fit_above(small, RESULTS, ".pages-bar")
    more = [ids.TABLE_PACE, table_ids.NEXT_PACE, ids.TABLE_WHERE_KIND, ids.TABLE_PLAN]
    fit_above(small, [*more, ids.TABLE_POTTED, ids.TABLE_MISSED], f"#{table_ids.JUDGE_BAR}")
    assert small.ask("return document.getElementById('table-plan').clientWidth") >= 200
    small.picture("table-small-more")
    small.tap_plan(0.9, 0.3)
    says(small, ids.TABLE_ASK, words.CUSHION_TAPPED)
    for _ in range(2):  # the plan, then the result: the next tests begin anew
        small.tap(ids.TABLE_UNDO)
        says(small, ids.TABLE_SAID, words.UNDONE.split("{")[0])
    small.until("return document.querySelector('.shot-mark .mark-right') === null")
    assert program.log.shot(shots[0].shot_id).grade is None


def test_what_is_tapped_while_the_program_is_away_comes_with_the_sensor_once_it_is_back(
    tab, program
):
    shots = program.log.shots()
    program.end()
    says(tab, table_ids.AWAY, table_words.IN_BROWSER["away"])
    tab.tap(ids.TABLE_GRADE["right"])
    tab.tap(ids.TABLE_MISSED)
    says(tab, table_ids.AWAY, table_words.IN_BROWSER["away_n"].format(n=2))
    tab.picture("table-away")
    assert tab.ask(KEPT).count('"shot"') == 2
    program.start()
    tab.until(  # hidden again after some seconds
        "return document.getElementById(arguments[0]).textContent === arguments[1]",
        table_ids.AWAY,
        table_words.IN_BROWSER["back_anew"],
    )
    tab.until(f"{KEPT} === '[]'")
    shot = program.log.shot(shots[0].shot_id)
    assert shots[0].grade is None
    assert (shot.grade, shot.is_potted) == (Grade.RIGHT, False)
    tab.shown(".state.on")  # nobody tapped Connect
    tab.complaints()  # of the requests that nobody answered


def test_a_reload_in_the_middle_of_a_tap_loses_nothing(tab, program):
    says(tab, ids.TABLE_ASK, "Shot 2")
    tab.driver.set_network_conditions(offline=True, latency=0, throughput=0)
    tab.tap(ids.TABLE_POTTED)
    tab.until(f"{KEPT}.includes('potted')")
    tab.driver.delete_network_conditions()
    tab.driver.refresh()
    tab.until(f"{KEPT} === '[]'")
    assert [shot.is_potted for shot in program.log.shots()][:2] == [False, True]
    tab.complaints()


def test_a_second_browser_sees_the_same(tab, program):
    before = tab.driver.current_window_handle
    tab.driver.switch_to.new_window("tab")
    tab.open("/")
    says(tab, ids.TABLE_ASK, "Shot 2")
    tab.tap(ids.TABLE_GRADE["too_much"])
    tab.until("return document.querySelectorAll('.shot-mark .mark-too-much').length === 1")
    tab.driver.close()
    tab.driver.switch_to.window(before)
    tab.until("return document.querySelectorAll('.shot-mark .mark-too-much').length === 1")
    assert [shot.grade for shot in program.log.shots()][:2] == [Grade.RIGHT, Grade.TOO_MUCH]


def test_the_pace_is_said_and_the_tone_tells_slower_right_and_faster(tab, program, make_stroke):
    tab.tap(ids.TABLE_STOP)
    says(tab, ids.TABLE_STATE, words.STATE_STOPPED)
    log = program.log
    series, recording = log.all_series()[0], log.recordings()[0]
    log.edit_series(series.series_id, called_pace_m_s=2.0)
    tab.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": HEARD})
    tab.driver.refresh()
    for switch in (table_ids.SAY, table_ids.TONE):
        tab.shown(f"#{table_ids.AIDS}")
        tab.ask("document.getElementById(arguments[0]).click()", switch)
    # what is on the card as the page opens is not said, so that must be there before the next comes
    tab.shown(f"#{ids.TABLE_PACE} > [data-stroke]")
    tab.until("const on = stunpaceTable.aids; return on && on.say && on.tone")
    tab.tap(ids.TABLE_ASK)  # sound needs a hand
    for k, (pace, said, tones) in enumerate(SAID):
        if k == len(SAID) - 1:  # the last one in another unit
            tab.ask(f"document.querySelector('#{ids.UNIT} input[value=\"km/h\"]').click()")
            tab.until("return document.querySelector('#table-pace [data-say]').dataset.say > 6")
        log.add_strokes(
            recording.recording_id, series.series_id, [make_stroke(9000.0 + 20 * k, pace)]
        )
        assert tab.until("return heard.said.length > arguments[0] && heard.said", k)[k] == said
        assert tab.ask("return heard.tones.splice(0)") == tones
    assert tab.complaints() == []


def test_a_link_opens_the_pages_encrypted_on_another_device(tab, program):
    door = door_of(program.app.server)
    door.open("127.0.0.2")
    ignored = {"ignore": True}  # as who taps "go on" at the browser's warning
    tab.driver.execute_cdp_cmd("Security.setIgnoreCertificateErrors", ignored)
    tab.driver.get(door.link())
    tab.driver.find_element(By.TAG_NAME, "button").click()
    strokes(tab, 6)
    tab.shown(f"#{table_ids.AIDS}")
    assert tab.ask("return isSecureContext && 'wakeLock' in navigator")
    taken = "navigator.wakeLock.request('screen').then(l => arguments[0](l.released))"
    assert tab.driver.execute_async_script(taken) is False
    tab.tap(ids.TABLE_UNDO)
    tab.until("return document.getElementById(arguments[0]).innerText !== ''", ids.TABLE_SAID)
    door.sharing.remove_all()
    says(tab, table_ids.AWAY, table_words.IN_BROWSER["refused"])
    tab.tap(ids.TABLE_MISSED)
    tab.until(f"{KEPT}.includes('potted')")  # kept until the device is let in again
    tab.driver.get(door.link())
    tab.driver.find_element(By.TAG_NAME, "button").click()
    tab.until(f"return location.pathname === '/' && {KEPT.removeprefix('return ')} === '[]'")
    door.shut()
