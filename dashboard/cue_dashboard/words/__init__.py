"""Every word the pages say, in one place, so that it can be put into another language.

Braces are filled by the caller. Nothing here knows about pages.
"""

from typing import TYPE_CHECKING

from cue_practice.grades import Grade
from cue_signal.stroke import StrokeFlag
from cue_signal.trend import HitTrend

if TYPE_CHECKING:
    from cue_dashboard.units import PaceScale
    from cue_practice.answer import PaceAnswer
    from cue_practice.live import LiveStatus

# everywhere
NAME = "stunpace"
NAV = (
    ("/", "At the table"),
    ("/strokes", "Stroke by stroke"),
    ("/pace", "Pace and stun"),
    ("/setups", "Set-ups"),
    ("/progress", "Progress"),
    ("/coach", "Coach"),
    ("/sensor", "Sensor"),
    ("/log", "Log"),
    ("/share", "Share"),
)
NAV_SHORT = ("Table", "Strokes", "Pace", "Set-ups", "Progress", "Coach", "Sensor", "Log", "Share")
NAV_LABEL = "Pages"
NAV_MORE = "More"
LIST_PAGES = "Pages of the list"
SKIP_TO_CONTENT = "Skip to the page"
UNIT_LABEL = "Unit of pace"
SCHEME_LABEL = "Light or dark"
NOT_FOUND = "There is no page here."
NOT_FOUND_REMEDY = "Go to the table"
NOTHING = "\u2013"
NEEDS_SCRIPT = "The pages need JavaScript, from this machine only."

# results
GRADE_NAME = {
    Grade.TOO_LITTLE: "Too little",
    Grade.RIGHT: "Right",
    Grade.TOO_MUCH: "Too much",
}
GRADE_SHORT = {
    Grade.TOO_LITTLE: "Too<br>little",
    Grade.RIGHT: "Right",
    Grade.TOO_MUCH: "Too<br>much",
}
GRADE_MEANS = {
    Grade.TOO_LITTLE: "spin ran out",
    Grade.RIGHT: "came where it should",
    Grade.TOO_MUCH: "went too wide",
}
UNGRADED = "No result yet"
POTTED = "Potted"
MISSED = "Missed"
POTTED_UNKNOWN = "Not said"

# at the table
TABLE_TITLE = "At the table"
START_TITLE = "Start a series"
START_HELP = "Same marks, same tip height, every shot. Only the pace changes."
PLAYER = "Player"
CUE = "Cue"
TABLE = "Table"
SETUP = "Set-up"
TIP_HEIGHT = "Tip below centre, mm"
ABOVE = "above"
TIP_HEIGHT_LABEL = "Tip height"
TIP_HEIGHT_HELP = "Minus is above centre."
TIP_SIDE = "Side, mm"
TIP_SIDE_HELP = "Plus is left, minus right."
CALLED_PACE = "Called pace, {unit}"
CALLED_PACE_HELP = "Only if you play to one."
START = "Start the series"
A_TIP_HEIGHT = "a tip height"
A_SIDE = "a side, 0 for none"
START_MISSING = "Choose {missing} first."
START_EMPTY = "The log has no {missing} yet. The steps above add what is missing."
SOURCE_TITLE = "Where do the strokes come from?"
SOURCE_REHEARSAL = "Recording"
SOURCE_SENSOR = "Sensor"
RECORDING = "Shipped recording (invented)"
SPEED = "Speed"
SPEED_REAL = "As played"
SPEED_FAST = "4 times"
REHEARSE = "Rehearse"
STOP_SOURCE = "Stop"
END_SERIES = "End the series"
REHEARSE_NEEDS_SERIES = "Start a series first: a recording is rehearsed into it."
NO_RECORDINGS = "No recording is shipped with this copy."
STATE_IDLE = "Nothing is connected"
STATE_STARTING = "Getting ready"
STATE_RUNNING = "Listening"
STATE_FINISHED = "The recording is over"
STATE_STOPPED = "Stopped"
STATE_FAILED = "Stopped by a fault"
_STATE = {
    "idle": STATE_IDLE,
    "starting": STATE_STARTING,
    "running": STATE_RUNNING,
    "finished": STATE_FINISHED,
    "stopped": STATE_STOPPED,
    "failed": STATE_FAILED,
}
_LIVE = ("starting", "running")
STATE_LOST = "{n_lost} samples lost on the way"
LAST_PACE = "Last pace"
NO_STROKE_YET = "Waiting for the first stroke"
NO_STROKE_IDLE = "Connect a sensor or rehearse, and each stroke's pace shows here"
PLUS_MINUS = "\u00b1 {pace}"
ASK_RESULT = "Shot {number}: result?"
ASK_RESULT_FIRST = "Shot {number}: {pace}"
RESULT_GIVEN = "Shot {number}: {told}"
CUSHION_TAPPED = "cushion"
STOP_TAPPED = "stop"
NO_SHOT = "No shot to judge yet"
WAITING = "{n} wait"
WAITING_ONE = "1 waits"
NEXT_SHOT = "Next"
UNDO = "Undo"
UNDONE = "Taken back: {what}"
NOTHING_TO_UNDO = "Nothing to take back"
NO_SHOT_BUTTON = "No shot"
DISCARDED = "Shot {number} left out. Undo brings it back."
NOTHING_TO_MOVE = "Tap the plan first, then move the mark."
SAVED = "Shot {number}: {what}"
IN_THE_LOG = "in the log"
WHERE_TITLE = "Where did the white go?"
WHERE_HELP = "If you like: tap the plan where the white met the cushion, then where it stopped."
WHERE_CUSHION = "Met the cushion"
WHERE_STOP = "Stopped"
WHERE_SHORT = ("Cushion", "Stop")
NUDGE = {
    "left": "Move the mark left",
    "right": "Move the mark right",
    "up": "Move the mark up",
    "down": "Move the mark down",
}
NUDGE_SIGN = {"left": "\u2190", "right": "\u2192", "up": "\u2191", "down": "\u2193"}
WHOLE_TABLE = "Whole table"
HELD = "Held: {held}"
FREE = "Free: {free}"
FREE_PACE = "pace"
CALLED = "pace {pace}"
TRY_NEXT = "Try next: {pace}"
SO_FAR = "This series"
SO_FAR_EMPTY = "Each shot leaves a mark here."
SHOT_MARK = "Shot {number}, {pace}: {grade}"
CAUTIONS_TITLE = "Before you play"
CAUTIONS = (
    "Clip the sensor on tight, behind your grip hand and out of the bridge's way. "
    "A loose clip can fly off, and spoils the numbers before it does.",
    "Wrist, elbow, shoulder or back sore? Stop, and ask a physiotherapist before you go on. "
    "Rest between series.",
    "Charge the sensor as its maker says. Do not use one that is hot, swollen or wet.",
    "A venue or a competition may not allow a sensor on the cue: ask before you play.",
    "Your coach has the last word on how you play; these are only measurements.",
)
TREND = {
    HitTrend.SLOWING: "slowing into the ball",
    HitTrend.LEVEL: "level into the ball",
    HitTrend.GAINING: "gaining into the ball",
    HitTrend.UNSURE: "slowing or gaining: too close to tell",
}
TREND_SIGN = {
    HitTrend.SLOWING: "\u2198",
    HitTrend.LEVEL: "\u2192",
    HitTrend.GAINING: "\u2197",
    HitTrend.UNSURE: "?",
}
TREND_SHORT = {
    HitTrend.SLOWING: "\u2198 slowing",
    HitTrend.LEVEL: "\u2192 level",
    HitTrend.GAINING: "\u2197 gaining",
    HitTrend.UNSURE: "too close to tell",
}
LOST_FROM_PEAK = "{pace} below its fastest"

# plan of the table
PLAN_WHITE = "white"
PLAN_OBJECT = "object ball"
PLAN_NEXT = "next"
PLAN_CUSHION = "cushion"
PLAN_STOP = "stopped"
PLAN_RUN_END = "the model has the white stop here"

# stroke by stroke
STROKES_TITLE = "Stroke by stroke"
STROKES_EMPTY = "No strokes in the log yet."
STROKES_EMPTY_REMEDY = "Start a series at the table, or run the demo."
STROKES_NONE_MATCH = "No stroke matches. Choose another player, series or result."
ALL_PLAYERS = "All players"
SERIES_NOT_FOUND = "No series has that in its name."
ALL_SERIES = "All series"
ALL_GRADES = "All results"
SERIES = "Series"
RESULT = "Result"
PREVIOUS = "Previous"
NEXT = "Next"
KEYS_HINT = "Arrow keys left and right go from stroke to stroke."
STROKE_OF = "Stroke {number} of {total}"
PHASES = ("backswing", "pause", "delivery", "follow-through")
SPEED_TITLE = "Speed along the cue"
SPEED_HELP = (
    "Above the line the cue goes towards the ball; the ring is its fastest moment, "
    "the disc the hit."
)
HIT_TITLE = "Into the ball"
HIT_HELP = (
    "Acceleration over the last tenth of a second; the bar is its mean over the last 20 ms, "
    "the shade twice its uncertainty. Between the dotted lines nobody would call it either."
)
ABOVE_TITLE = "Tip from above"
ABOVE_HELP = "Dotted going back, solid coming through; the ring is where the tip met the ball."
SIDE_TITLE = "Tip from the side"
SIDE_HELP = "The same seen from the side: a dropping elbow shows as the tip going up or down."
NO_PATH = "Straightness needs a sensor with a gyroscope, and its distance from the tip."
NO_TRACE = "This stroke's course was not kept; only its numbers are known."
FACTS_TITLE = "In numbers"
TIME_FROM_HIT = "seconds from the hit"
SPEED_ALONG_CUE = "{unit}"
MS_BEFORE_HIT = "milliseconds before the hit"
ACCELERATION = "m/s\u00b2"
WAY_BEHIND_BALL = "mm behind the ball"
OFF_LINE = "mm off the line"
LEFT_RIGHT = ("left", "right")
UP_DOWN = ("up", "down")
FASTEST = "fastest: {pace}"
AT_THE_HIT = "at the hit: {pace}"
SLOWING = "Slowing"
LEVEL = "Level"
GAINING = "Gaining"
FACT_PACE = "Pace at the hit"
FACT_FASTEST = "Fastest"
FACT_BACKSWING = "Backswing"
FACT_PAUSE = "Pause at the back"
FACT_DELIVERY = "Delivery"
FACT_TEMPO = "Tempo, back to through"
FACT_FOLLOW = "Follow-through"
FACT_FEATHERS = "Feathers"
FACT_RHYTHM = "One feather every"
FACT_LATERAL = "Tip at the hit, sideways"
FACT_VERTICAL = "Tip at the hit, up or down"
FACT_STILL = "Shake after the hit"
FLAGS_TITLE = "Mind"
FLAGS_NONE = "Nothing to mind about this stroke."
FLAG = {
    StrokeFlag.GAP: "Some samples were lost on the way, so the numbers lean on what came through.",
    StrokeFlag.CLIPPED_DELIVERY: "The sensor's range ended during the delivery: the true pace may "
    "be higher.",
    StrokeFlag.CLIPPED_HIT: "The hit itself went beyond the sensor's range. That is usual, and "
    "allowed for.",
    StrokeFlag.NO_REST_BEFORE: "The cue did not stand still before the backswing, so the pace is "
    "less sure.",
    StrokeFlag.NO_REST_AFTER: "The cue did not stand still after the stroke.",
    StrokeFlag.AXIS_FROM_STROKES: "The cue was not rolled after clipping on, so its direction was "
    "taken from the strokes.",
    StrokeFlag.NO_GYROSCOPE: "This sensor has no gyroscope: straightness cannot be told.",
    StrokeFlag.NO_TIP_DISTANCE: "How far the sensor sits from the tip is not known, so the tip's "
    "place cannot be told.",
    StrokeFlag.FEW_SAMPLES: "Few samples in the delivery: set the sensor to a higher rate.",
}

# pace and stun
PACE_TITLE = "Pace and stun"
PACE_EMPTY = "No graded shots yet."
PACE_EMPTY_REMEDY = "Play a series at the table and tap what each shot did."
BEST_PACE = "Best pace"
BEST_SPAN = "90 % sure: between {low} and {high}"
BEST_MARK = "best {pace}"
IN_SENTENCES = "In whole sentences"
BAND = "Right at least every second time"
NO_BAND = "no pace yet"
OWN_SPREAD = "Your own spread"
USUAL_SPREAD = "{spread}, taken as usual"
CHANCE_OWN = "Right, with your spread"
N_SHOTS = "Shots it rests on"
TRY_NEXT_TITLE = "Try next"
RESULTS_TITLE = "What each pace did"
RESULTS_NEWEST = "Drawn are the newest {n} shots; the answer rests on all of them."
RESULTS_HELP = (
    "Each mark is one shot, open where the ball was missed; below, the chance of each result at a "
    "pace, the shaded ribbon saying how sure the chance of the right one is."
)
HEIGHTS_TITLE = "Tip heights of this set-up"
HEIGHTS_HELP = (
    "The longer the bar, the more room for error in pace; the mark is the best pace. Filled: you "
    "have played it. Open: not played yet, the table model's word, set right by your other shots."
)
HEIGHTS_WAIT = "Tip heights are being compared."
HEIGHT_NOT_PLAYED = "not played yet"
HEIGHT_NOWHERE = "no pace brings the white there (table model)"
PLAN_TITLE = "On the table"
PLAN_HELP = (
    "Lines are the model's ways of the white, the dotted shape is where it should stop; marks are "
    "where your shots stopped."
)
PLAN_BY = "What the plan shows"
PLAN_BY_RESULT = "Results, best pace"
PLAN_BY_PACE = "Slow to fast"
WAY_AT = "the model's way at {pace}"
STOP_AT = "{pace}: {grade}"
STOPS_BY_PACE = "where your shots stopped, larger and lighter the faster"
CHANCE = "chance"
PACE_AXIS = "pace, {unit}"
OWN_SPREAD_HINT = "your own spread: {spread} to either side"
BAND_HINT = "right at least every second time: {span}"
BEST_HINT = "best pace: {pace}"
LEGEND = "Marks"

# log
LOG_TITLE = "Log"
LOG_EMPTY = "The log is empty."
LOG_EMPTY_REMEDY = "Add a player, a table and a set-up below, then start a series at the table."
LOG_SHOTS = "Shots"
LOG_ADD = "Add"
DOWNLOAD = "Download as CSV"
DOWNLOAD_NAME = "stunpace-shots.csv"
SHOW_DISCARDED = "Show what was left out"
COLUMNS = ("When", "Player", "Set-up", "Tip height", "Pace", "Into the ball", "Result", "")
EDIT = "Edit"
EDIT_TITLE = "Shot of {when}"
NOTE = "Note"
SAVE = "Save"
CLOSE = "Close"
DISCARD = "Leave this shot out"
RESTORE = "Take this shot back in"
ADD_PLAYER = "Add a player"
ADD_CUE = "Add a cue"
ADD_TABLE = "Add a table"
ADD_ROLL = "How fast a table is"
ADD_SETUP = "Draw a set-up"
ROLL_DISTANCE = "Rolled from the mark, m"
ROLL_TIME = "Time to rest, s"
ROLL_HELP = (
    "Roll a ball gently, start the watch as it passes a mark, stop it when the ball lies still, "
    "and measure how far it went: two metres or more tell best. Answers on this table then use it."
)
NICKNAME = "Nickname"
NAME_LABEL = "Name"
CUE_MASS = "Mass, g"
CUE_LENGTH = "Length, mm"
TIP_WIDTH = "Tip width, mm"
TABLE_LENGTH = "Length between the cushions, mm"
TABLE_WIDTH = "Width between the cushions, mm"
POCKET_NAME = {
    "bottom_left": "Bottom left (baulk)",
    "bottom_right": "Bottom right (baulk)",
    "middle_left": "Middle left",
    "middle_right": "Middle right",
    "top_left": "Top left",
    "top_right": "Top right",
}
ADDED = "{what} is in the log."
FILL_IN = "Fill in {missing}."


def shot_hint(pace: str, is_potted: bool | None) -> str:
    """Return what a shot's mark says when it is pointed at."""
    if is_potted is None:
        return pace
    return f"{pace}, {(POTTED if is_potted else MISSED).lower()}"


def height_told(answer: "PaceAnswer", scale: "PaceScale") -> str:
    """Return best pace and chance of a tip height in words, the chance with its interval."""
    chance = (
        f"{answer.chance_at_own_spread:.0%} ({answer.chance_low:.0%} to {answer.chance_high:.0%})"
    )
    return f"{scale.text(answer.best_pace_m_s)} best, right {chance}"


def height_shots(n_shots: int) -> str:
    """Return how many shots a tip height rests on, or that it was not played."""
    if not n_shots:
        return HEIGHT_NOT_PLAYED
    return f"{n_shots} shot" + ("" if n_shots == 1 else "s")


def waiting(n_waiting: int) -> str:
    """Return how many strokes wait for their result."""
    return WAITING_ONE if n_waiting == 1 else WAITING.format(n=n_waiting)


def live_state(status: "LiveStatus | None") -> str:
    """Return what the live session is doing, in words."""
    if status is None:
        return STATE_IDLE
    lost = "" if not status.n_lost else ", " + STATE_LOST.format(n_lost=status.n_lost)
    said = _STATE[str(status.state)] + lost
    return f"{said}. {status.problem}" if status.problem else said


def is_live(status: "LiveStatus") -> bool:
    """Return whether strokes can still come in."""
    return str(status.state) in _LIVE


def trend(found: HitTrend, lost: str) -> str:
    """Return whether the cue slowed into the ball, and by how much where it did."""
    if found is HitTrend.SLOWING:
        return f"{TREND[found]}, {LOST_FROM_PEAK.format(pace=lost)}"
    return TREND[found]


def side(side_mm: float) -> str:
    """Return how much side, and which."""
    return f"{abs(side_mm):.1f} mm {LEFT_RIGHT[0] if side_mm > 0 else LEFT_RIGHT[1]}-hand side"


def sentence(text: str) -> str:
    """Return a text with its first letter large."""
    return text[:1].upper() + text[1:]


def listed(names: list[str]) -> str:
    """Return names as a list in words."""
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + " and " + names[-1]
