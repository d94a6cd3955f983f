"""Ids of everything the pages' callbacks speak to: one place, so that none is used twice."""

# shell
SCHEME = "scheme"
UNIT = "unit"
MAIN = "main"

# at the table
TABLE_DESK = "table-desk"
TABLE_PICK = "table-pick"
TABLE_MARKED = "table-marked"
TABLE_SHOWN = "table-shown"
TABLE_STARTED = "table-started"
TABLE_SOURCED = "table-sourced"
TABLE_START = "table-start"
TABLE_START_PLAYER = "table-start-player"
TABLE_START_CUE = "table-start-cue"
TABLE_START_SETUP = "table-start-setup"
TABLE_START_TIP = "table-start-tip"
TABLE_START_TIP_WORDS = "table-start-tip-words"
TABLE_START_SIDE = "table-start-side"
TABLE_START_CALLED = "table-start-called"
TABLE_START_BUTTON = "table-start-button"
TABLE_START_MISSING = "table-start-missing"
TABLE_START_FAULT = "table-start-fault"
TABLE_SOURCE = "table-source"
TABLE_SOURCE_KIND = "table-source-kind"
TABLE_SOURCE_REHEARSAL = "table-source-rehearsal"
TABLE_SOURCE_CHOICE = "table-source-choice"
TABLE_SOURCE_FAULT = "table-source-fault"
TABLE_RECORDING = "table-recording"
TABLE_SPEED = "table-speed"
TABLE_REHEARSE = "table-rehearse"
TABLE_STOP = "table-stop"
TABLE_END = "table-end"
TABLE_SERIES_CARD = "table-series-card"
TABLE_SERIES_WORDS = "table-series-words"
TABLE_STATE = "table-state"
TABLE_PACE = "table-pace"
TABLE_PACE_CARD = "table-pace-card"
TABLE_ASK = "table-ask"
TABLE_WAITING = "table-waiting"
TABLE_GRADE = {
    "too_little": "table-grade-too-little",
    "right": "table-grade-right",
    "too_much": "table-grade-too-much",
}
TABLE_POTTED = "table-potted"
TABLE_MISSED = "table-missed"
TABLE_NEXT = "table-next"
TABLE_UNDO = "table-undo"
TABLE_NO_SHOT = "table-no-shot"
TABLE_SAID = "table-said"
TABLE_WHERE = "table-where"
TABLE_WHERE_KIND = "table-where-kind"
TABLE_PLAN = "table-plan"
TABLE_WHOLE = "table-whole"
TABLE_NUDGE = {
    "left": "table-nudge-left",
    "up": "table-nudge-up",
    "down": "table-nudge-down",
    "right": "table-nudge-right",
}
TABLE_CAUTIONS = "table-cautions"
TABLE_MARKS = "table-marks"
TABLE_MARK = "table-mark"
TABLE_TRACE = "table-trace"
TABLE_TRACE_CARD = "table-trace-card"

# stroke by stroke
STROKES_PLAYER = "strokes-player"
STROKES_SERIES = "strokes-series"
STROKES_GRADE = "strokes-grade"
STROKES_LIST = "strokes-list"
STROKES_ROW = "strokes-row"
STROKES_PAGES = "strokes-pages"
STROKES_SHOT = "strokes-shot"
STROKES_FOUND = "strokes-found"
STROKES_PREVIOUS = "strokes-previous"
STROKES_NEXT = "strokes-next"
STROKES_PLACE = "strokes-place"
STROKES_ONE = "strokes-one"
STROKES_SPEED_GRAPH = "strokes-speed-graph"
STROKES_HIT_GRAPH = "strokes-hit-graph"
STROKES_ABOVE_GRAPH = "strokes-above-graph"
STROKES_SIDE_GRAPH = "strokes-side-graph"

# pace and stun
PACE_PLAYER = "pace-player"
PACE_SETUP = "pace-setup"
PACE_HEIGHT = "pace-height"
PACE_ANSWER = "pace-answer"
PACE_RESULTS = "pace-results"
PACE_HEIGHTS = "pace-heights"
PACE_HEIGHTS_OF = "pace-heights-of"
PACE_HEIGHTS_FOUND = "pace-heights-found"
PACE_PLAN = "pace-plan"
PACE_PLAN_BY = "pace-plan-by"
PACE_PLAN_OF = "pace-plan-of"

# log
LOG_PLAYER = "log-player"
LOG_SERIES = "log-series"
LOG_DISCARDED = "log-discarded"
LOG_SHOTS = "log-shots"
LOG_PAGES = "log-pages"
LOG_EDIT_GRADE = "log-edit-grade"
LOG_EDIT_POTTED = "log-edit-potted"
LOG_EDIT_NOTE = "log-edit-note"
LOG_EDIT_FAULT = "log-edit-fault"
LOG_EDIT_SAVE = "log-edit-save"
LOG_EDIT_DISCARD = "log-edit-discard"
LOG_DRAWER = "log-drawer"
LOG_EDITED = "log-edited"
LOG_CHANGED = "log-changed"
LOG_DOWNLOAD_BUTTON = "log-download-button"
LOG_DOWNLOAD = "log-download"


def add_field(form: str, field: str) -> str:
    """Return the id of a field of a form that adds something to the log."""
    return f"add-{form}-{field}"


def add_button(form: str) -> str:
    """Return the id of such a form's button."""
    return f"add-{form}-save"


def add_said(form: str) -> str:
    """Return the id of what such a form says afterwards."""
    return f"add-{form}-said"
