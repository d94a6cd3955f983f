"""What the sensor page says: clip it on, calibrate it, roll the cue, what a crash left open."""

TITLE = "Sensor on the cue"
INTRO = (
    "Once for a sensor: six rests. Each time it is clipped on: roll the cue. Both take a minute, "
    "and make pace and straightness surer. Without them strokes are measured all the same."
)
CONNECTED = "{name} is connected and sends."
SEEKING = "{name} is not sending just now. {words}"
NONE = "No sensor is connected."
CONNECT = "Connect to {name}"
GO_TO_TABLE = "Find one at the table"
SEES = "What the sensor sees"
AXES = ("x", "y", "z")
UP = "up"
NOT_STILL = "moving"
STILL = "still for {seconds:.0f} s"
TURNED = "turned by {degrees:.0f}\u00b0"

MOUNT_TITLE = "1. Clip it on"
MOUNT_STEPS = (
    "At the butt end, behind your grip hand: where a coach stands behind you is the side to use.",
    "Tight: try to turn it with two fingers. If it gives, the clip is loose; add a strip of rubber "
    "or tape under it.",
    "Clear of the bridge, the chin and the chest: play three slow feathers and see that nothing "
    "touches it.",
)
PARTS = ("butt", "sensor", "grip", "bridge", "tip")
PICTURE = "A cue from butt to tip: the sensor sits at the butt, behind the grip."
CUE = "Cue it sits on"
FROM_BUTT = "From the butt end to the sensor, mm"
FROM_BUTT_HELP = "Measured to its middle. With it the tip's path can be told."

RESTS_TITLE = "2. Six rests, once for a sensor"
RESTS_HELP = (
    "Take it off the cue. Lay it on each of its six sides in turn, on something firm, for two "
    "seconds. It need not stand exactly upright."
)
RESTS_START = "Start the six rests"
FACE = {
    "x up": "x up", "x down": "x down", "y up": "y up", "y down": "y down", "z up": "z up",
    "z down": "z down",
}  # fmt: skip
DONE = "done"
OPEN = "to do"

ROLL_TITLE = "3. Roll the cue, each time it is clipped on"
ROLL_HELP = (
    "With the sensor on the cue and clear of the cloth: lay the cue on the table, hold it still, "
    "then roll it a whole turn under a flat hand, and lift the tip for a second."
)
ROLL_START = "Start the roll"
PROGRESS = "{n_done} of {n_wanted}"
STOP = "Stop"
SAVE = "Save and use it from now on"
SAVED_RESTS = "Saved: the next strokes use it."
SAVED_ROLL = "Saved for {cue}: the next strokes use it."
NEEDS_SENSOR = "Connect the sensor first: the guide shows what it sees."
NEEDS_CUE = "Choose the cue it sits on first."
WRONG_LENGTH = "{value} mm from the butt end is not on a cue {length} mm long. Measure it again."
KNOWN_CALIBRATION = "Six rests of {when}."
KNOWN_MOUNTING = "Rolled on {cue}, {when}."
KNOWN_NOTHING = "Nothing is known of this sensor yet: begin with the six rests."
WHEN = "%d %B %Y, %H:%M UTC"

LEFT_TITLE = "Recordings that were cut off"
LEFT_HELP = (
    "A crash, a flat battery or a full disk left these open. Nothing in them is lost but perhaps "
    "the last second; take them in, and strokes that were still missing join their series."
)
LEFT_TAKE = "Take in {name}"
LEFT_TAKEN = "{name}: closed; {n_found} strokes in it, {n_new} of them new in the log."
LEFT_NO_SERIES = "{name}: closed; {n_found} strokes in it. It names no series, so none was entered."
LEFT_NOTE = "{n} recordings were cut off by a crash."
LEFT_NOTE_ONE = "A recording was cut off by a crash."
LEFT_LINK = "See what they hold"


def left_note(n: int) -> str:
    """Return that recordings were left open."""
    return LEFT_NOTE_ONE if n == 1 else LEFT_NOTE.format(n=n)
