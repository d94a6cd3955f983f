"""Words of the drawer in which a shot of the log is put right, and of its history."""

RULE = "Kept what its series holds"
AS_SERIES = "Yes: it counts for the answer"
NOT_AS_SERIES = "No, left out of the answer: {why}"
NOT_COUNTED = "not in the answer: {why}"
SERIES = "Series it belongs to"
SERIES_NAME = "{player}: {series}"
MARK_NEW = "The white's mark was chalked anew before it"
UNDO = "Undo the last change"
REDO = "Repeat it"
REDONE = "Done again: {what}"
NOTHING_TO_REDO = "Nothing to repeat"
HISTORY = "What was changed ({n})"
HISTORY_NONE = "Nothing was changed since the stroke was found."
CHANGED = "{when}: {what}"
TAKEN_BACK = "{what} (taken back)"
EMPTY = "none"
FROM_TO = "{what} from {before} to {after}"
SET_TO = "{what}: {after}"

RESULT, POTTED, NOTE = "result", "pot", "note"
POINTS = {"cushion": "cushion point tapped", "stop": "stopping point tapped"}
POINTS_GONE = {"cushion": "cushion point taken away", "stop": "stopping point taken away"}
DISCARDED = {True: "left out", False: "taken back in"}
MARKED_NEW = {True: "mark chalked anew", False: "mark not chalked anew"}
RULE_BROKEN, RULE_KEPT = "not as its series: {why}", "as its series again"
MOVED = "moved to {series}"
