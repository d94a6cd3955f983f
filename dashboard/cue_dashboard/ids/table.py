"""Ids of the table page that came with the sensor; the others are in `ids`."""

PAGE = "table-page"
AWAY = "table-away"
KEPT = "table-kept"
FACTS = "table-facts"
JUDGE_BAR = "table-judge-bar"
NEXT_PACE = "table-next-pace"

# the sensor
CONNECT = "table-connect"
CONNECT_LAST = "table-connect-last"
SCAN = "table-scan"
SCAN_LIST = "table-scan-list"
FOUND = "table-found"
CONNECT_FAULT = "table-connect-fault"
KIND = "table-sensor-kind"
RATE = "table-sensor-rate"

# what is heard and kept awake
AIDS = "table-aids"
SAY = "table-say"
TONE = "table-tone"
AWAKE = "table-awake"
AIDS_NOTE = "table-aids-note"
TOLERANCE = "table-tolerance"
TOLERANCE_ROW = "table-tolerance-row"

# the first time
START_FIELDS = "table-start-fields"
FIRST = "table-first"
FIRST_PLAYER = "table-first-player"
FIRST_CUE = "table-first-cue"
FIRST_SAVE = "table-first-save"
FIRST_SETUP = "table-first-setup"
FIRST_SAID = "table-first-said"
FIRST_DONE = "table-first-done"
"""Goes on when a step of the guide was done."""
