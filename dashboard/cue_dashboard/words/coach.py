"""Words of the page Coach."""

TITLE = "Coach"
PUPIL = "Pupil"
PUPIL_LABEL = "{name}: {n} since {when}"
PUPIL_NEW = "{name}: {n}, no lesson kept yet"
EMPTY = "No pupil yet."
EMPTY_REMEDY = "Add a player under Log; the shots they play show up here."
ONE_SHOT, SHOTS = "1 shot", "{n} shots"
ONE_EVENING, EVENINGS = "1 evening", "{n} evenings"
WEIGHING = "Weighing the evidence\u2026"

CHANGED_TITLE = "Since the last lesson"
CHANGED_NONE = "Keep a lesson below, and from the next one on this says what changed since."
CHANGED_NO_SHOTS = "No shot since the lesson of {when}."
CHANGED_COUNT = "Since the lesson of {when}: {shots} on {evenings}."
CHANGED_COUNT_NEWEST = (
    "Since the lesson of {when}: {shots}; the newest {n_told} are told of, from {evenings}."
)
CHANGED_EXERCISE = "Exercise given then: {exercise}"
CHANGED_BEFORE_NONE = "There is no shot from before the lesson to set them beside."
SINCE = "the time since"
BEFORE = "the time before"

EVIDENCE_TITLE = "What the evidence supports"
EVIDENCE_NONE = "So far the shots support nothing that is worth a lesson."
EVIDENCE_HELP = (
    "At most three things, each only where chance alone would seldom say as much. They say what "
    "goes together, not why: you have seen the pupil play."
)
NO_STROKES = "No stroke of this pupil is in the log yet: play with a sensor, or take a file in."
SLOWING = (
    "Slows into the ball in {share} of the last {n} strokes (90 % sure: {low} to {high} %): "
    "surely more than one in ten."
)
SLOWING_LINK = "Look at them"
OFF_PACE = (
    "Plays {size} {side} than the called pace over the last {n} shots (90 % sure: {low} to "
    "{high} %)."
)
HARDER, SOFTER = "harder", "softer"

REMARKS_TITLE = "Remarks on strokes"
REMARKS_NONE = "None yet: pin one to a stroke under Stroke by stroke."
REMARK_LINK = "Open the stroke"
REMARK_OF = "Remark of {when}: open its stroke"

LESSON_TITLE = "Today's lesson"
LESSON_CORRECT_TITLE = "Correct the lesson of {when}"
LESSON_HELD = "Held"
LESSON_NOW = "Now"
LESSON_TEXT = "What was talked over"
LESSON_EXERCISE = "Exercise for next time"
SUGGESTED = "From the shots: {exercise}"
SUGGESTED_NONE = "Once shots have results, an exercise is suggested here."
TAKE = "Take this as the exercise"
SAVE = "Keep the lesson"
CANCEL = "Leave it as it was"
LESSON_EMPTY = "Write what was talked over, or the exercise, first."
LESSON_KEPT = "The lesson is kept."
LESSON_LEFT_OUT = "The lesson of {when} is left out."
LESSON_BACK = "The lesson is back."
BRING_BACK = "Bring it back"

LESSONS_TITLE = "Lessons so far"
LESSONS_NONE = "None kept yet."
LESSON_CORRECT = "Correct"
LESSON_LEAVE_OUT = "Leave out"
LESSON_OF = "{what}: lesson of {when}"
EXERCISE_WAS = "Exercise: {exercise}"

PRINT_TITLE = "To take home"
PRINT_HELP = (
    "One sheet: the answer in figures and pictures, the words of the newest lesson, its exercise."
)
PRINT_QUESTION = "Set-up and tip height"
PRINT_NONE = "A page can be made once a shot of this pupil has a result."
PRINT_OPEN = "Open the page to print"
PRINT_OPENS = "Open the page to print, in a new tab"
PRINT_PDF = "Download as PDF"
PRINT_NAME = "stunpace-{player}.pdf"
PRINT_WRONG = "This page cannot be made: {what} is missing or no number. Open it from Coach."
