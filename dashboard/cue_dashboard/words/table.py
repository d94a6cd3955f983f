"""What the table page says about the sensor, the called pace, and what is heard and kept awake."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cue_practice.control import TrainingScore
    from cue_practice.live import LiveStatus

# the sensor
CONNECT_LAST = "Connect to {name}"
SCAN = "Look for sensors"
SCANNING = "Looking for sensors near you"
SCAN_NONE = (
    "No sensor was heard. Wake it, charge it, bring it nearer, and see that no other program "
    "holds it; then look again."
)
SCAN_HINT = "Wake the sensor first: most sleep until they are moved."
FOUND_TITLE = "Near you, the strongest first"
FOUND_KIND_UNKNOWN = "kind not known"
NO_NAME = "Without a name"
CHOOSE_KIND = "{name} does not say what kind it is. Choose its kind, then tap it again."
KIND = "Kind of sensor"
KIND_AUTO = "As it says itself"
KIND_NAME = {
    "stroke_stream": "Stroke stream",
    "movesense": "Movesense-type stream",
    "thingy52": "Thingy:52-type motion",
    "wt901": "WT901BLE-type tag",
}
RATE = "Samples a second"
RATE_AUTO = "As the sensor is set"
RATE_HZ = "{rate} Hz"
SIGNAL = ((-65, "strong signal"), (-80, "fair signal"), (-999, "weak signal"))
"""Lower ends in dBm; common practice, no source."""
SIGNAL_TEXT = "{words} ({dbm} dBm)"
BATTERY = "battery {percent} %"
BATTERY_LOW = "battery {percent} %, charge it soon"
LOW_PERCENT = 20
"""Common practice, no source."""
RATE_NOW = "{rate:.0f} Hz"
LOST_SHARE = "{share} of samples lost"
NOT_CONNECTED = "No sensor connected"
CONNECTED = "Connected to {name}"
DISCONNECT = "Disconnect"
CHOOSE_SOURCE = "Connect"
STOP_PLAYING = "Stop"
SENSOR_HELP = "First time, or clipped on anew?"
SENSOR_HELP_LINK = "Mount and calibrate the sensor"
FIRST_LOOK = "first look, being measured"
NOT_KEPT = "Not in the log: no series is open"

# a called pace
ON_PACE = "on the called pace"
FASTER = "{by} faster than called"
SLOWER = "{by} slower than called"
AGAINST_SIGN = {"slower": "\u2212", "on": "=", "faster": "+"}
TOLERANCE = "Counts as on pace"
TOLERANCE_CHOICE = "\u00b1 {percent} %"
SCORE = "{n_within} of {n_shots} within {percent} %"
SCORE_STREAK = ", {streak} in a row"
SCORE_NONE = "Every stroke counts here"
GAUGE = "Called {pace}, from slower on the left to faster on the right"

# heard and kept awake
AIDS_TITLE = "Voice, tone, screen"
SAY = "Say pace"
TONE = "Tone"
TONE_HELP = "The tone: falling, slower; two alike, on pace; rising, faster."
AWAKE = "Screen on"
IN_BROWSER = {
    "no_voice": "This browser has no voice of its own, so it cannot speak without a network.",
    "no_awake_plain": "Over an unencrypted connection browsers do not keep the screen on: share "
    "encrypted, or set a longer time in the device's own settings.",
    "no_awake": "This browser cannot keep the screen on here; set a longer time in the device's "
    "own settings.",
    "no_awake_now": "The device did not keep the screen on, perhaps to save its battery.",
    "tap_first": "Tap the page once to let the browser make sound.",
    "away": "stunpace does not answer. What you tap is kept here and sent when it is back.",
    "away_n": "stunpace does not answer. {n} taps are kept here and sent when it is back.",
    "back": "stunpace is back; everything tapped is in the log.",
    "back_anew": "stunpace was started again; everything tapped is in the log. A sensor that was "
    "connected is looked for.",
    "refused": "This page is not let in any more. What you tap is kept here. Load the page again; "
    "if that does not help, open a new link from the computer's page Share.",
    "not_done": "stunpace does not answer, so nothing was changed. Try again when it is back.",
    "sending": "Kept here, on its way to the log.",
    "moved_on": "The page had just gone on to another shot. Tap again.",
    "trace": "Speed along the cue over the last ten seconds, drawn.",
}
TRACE_TITLE = "The cue, live"
TRACE_HELP = (
    "Thin: quick moves as they come, for the eye only. Thick: a stroke once it is measured, "
    "against the scale; up is towards the ball."
)
TAP_UNKNOWN = "That tap was not understood. Reload the page and tap again."

# the first time
FIRST_TITLE = "Three steps to the first series"
FIRST_INTRO = "A player and a cue, a set-up, then play."
FIRST_WHO = "Who plays, and with what?"
FIRST_PLAYER = "Nickname"
FIRST_CUE = "Cue, as you call it"
FIRST_SAVE = "That is me"
FIRST_HAVE = "{player}, {cue}"
FIRST_WHERE = "A set-up: chalk marks, pocket, where the white should stop"
FIRST_SETUP = "Take the example set-up"
FIRST_BUILD = "or build your own"
FIRST_SOURCE = (
    "Start the series, just below; then connect a sensor, or rehearse with an invented recording"
)
FIRST_MISSING = "Still missing: {missing}."
FIRST_TABLE = "Full-size table"
STEP_DONE = "done"
STEP_OPEN = "to do"


def so_far(n_shots: int) -> str:
    """Return how many shots a series has."""
    return "1 shot" if n_shots == 1 else f"{n_shots} shots"


def signal(dbm: int | None) -> str:
    """Return how strong a signal is, empty where that is not known."""
    if dbm is None:
        return ""
    said = next(word for low, word in SIGNAL if dbm >= low)
    return SIGNAL_TEXT.format(words=said, dbm=f"\u2212{abs(dbm)}")


def kind(name: str | None) -> str:
    """Return a kind of sensor in words."""
    return FOUND_KIND_UNKNOWN if name is None else KIND_NAME.get(name, name)


def facts(status: "LiveStatus") -> list[str]:
    """Return battery, signal, rate and loss, as far as they are known."""
    said = []
    if status.battery_percent is not None:
        low = status.battery_percent < LOW_PERCENT
        said.append((BATTERY_LOW if low else BATTERY).format(percent=status.battery_percent))
    if status.signal_dbm is not None:
        said.append(signal(status.signal_dbm))
    if status.rate_hz is not None:
        said.append(RATE_NOW.format(rate=status.rate_hz))
        share = status.n_lost / max(status.n_lost + status.n_samples, 1)
        said.append(LOST_SHARE.format(share=f"{share:.1%}" if share else "0 %"))
    return said


def against(ratio: float, tolerance: float) -> str:
    """Return whether a pace is slower, on or faster, from its ratio to the called one."""
    if abs(ratio - 1.0) <= tolerance + 1e-9:
        return "on"
    return "faster" if ratio > 1.0 else "slower"


def score(found: "TrainingScore", tolerance: float) -> str:
    """Return how many shots kept to the called pace."""
    if not found.n_shots:
        return SCORE_NONE
    said = SCORE.format(
        n_within=found.n_within, n_shots=found.n_shots, percent=f"{100 * tolerance:.0f}"
    )
    return said + (SCORE_STREAK.format(streak=found.streak) if found.streak > 1 else "")
