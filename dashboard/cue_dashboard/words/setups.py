"""What is said on the page of set-ups."""

TITLE = "Set-ups"
NEW = "A new set-up"
LIST_TITLE = "Your set-ups"
LIST_EMPTY = "None yet. Drag the balls where your marks are, say where the white should stop, save."
LIST_OPEN = "Open"
LIST_OPEN_WHICH = "Open {name}"
LIST_ROW = "{table} \u00b7 {cut:.0f}\u00b0 cut, {travel:.2f} m to the object ball, {pocket}"
LIST_SERIES = "{n} series"
LIST_SERIES_NONE = "not played yet"

BOARD_TITLE = "The plan"
BOARD_HELP = (
    "Drag a ball, or choose it and use the arrow keys: 1 cm a press, 1 mm with Shift. "
    "The way of the white is the model's, for the pace and tip height below it."
)
BOARD_LABEL = "Plan of the table, the baulk end at the bottom"
ITEM_PLACE = "{name}, {across} mm from the left cushion, {up} mm from the bottom cushion"
WHITE = "White"
OBJECT = "Object ball"
NEXT = "Next ball"
OBSTACLE = "Ball in the way {number}"
CORNER = "Corner {number}"

PLACE_TITLE = "Where things lie"
NAME = "Name"
TABLE = "Table"
NEW_TABLE = "A new table, {size}"
NEW_TABLE_NAME = "{size} table"
POCKET = "Object ball into"
CHOSEN = "Move"
ACROSS = "From the left cushion, mm"
UP = "From the bottom cushion, mm"
ADD_NEXT = "Add the next ball"
ADD_OBSTACLE = "Add a ball in the way"
REMOVE = "Take this one off"

AREA_TITLE = "Where the white should stop"
AREA_DRAWN = "Drawn"
AREA_DERIVED = "For the next ball"
AREA_KIND = "How the area is found"
TAP_CORNERS = "Tapping the plan adds a corner"
ADD_CORNER = "Add a corner"
CLEAR_CORNERS = "Clear the area"
NEXT_POCKET = "Next ball into"
BEST_POCKET = "The pocket with most room"
GREATEST_CUT = "Greatest cut, degrees"
NEAREST = "Nearest, mm"
FURTHEST = "Furthest, mm"
DERIVED_NEEDS_NEXT = (
    "From here the next ball is a straight enough pot. There must be a next ball on the plan."
)

SHOT_TITLE = "Try a stroke"
PACE = "Pace of the tip"
TIP = "Tip below centre, mm"
TIP_HELP = "Minus is above centre."
SIDE = "Side to the left, mm"
SIDE_HELP = "Minus is right-hand side."
RUN_STOPS_IN = "The white stops in the area."
RUN_STOPS_OUT = "The white stops outside the area."
RUN_STOPS = "The white stops there."
RUN_IN_OFF = "In-off: the white falls into the {pocket} pocket."
RUN_MISSED = "The white does not reach the object ball."
RUN_NO_POT = "The object ball stops short of its pocket."
RUN_ARRIVES = "It meets the object ball at {pace}, {spin}, and {cushions}."
SPIN_SCREW = "with backspin"
SPIN_STUN = "with hardly any spin (stun)"
SPIN_SOME = "with a little forward roll"
SPIN_ROLLS = "rolling"
CUSHIONS_NONE = "no cushion after it"
CUSHIONS_ONE = "one cushion after it"
CUSHIONS_MANY = "{n} cushions after it"
PLAYED_BY = "Played by"
NOBODY = "Nobody in particular"
CHANCE = (
    "{chance} of such strokes pot the ball and stop in the area: the dots, filled where they do."
)
SPREAD_OWN = "{name}'s own spread: {pace:.1%} of pace, from {n} shots to a called pace."
SPREAD_USUAL_OF = (
    "{name} has no shots to a called pace yet, so the usual spread is taken: {pace:.0%} of pace."
)
SPREAD_USUAL = "The usual spread: {pace:.0%} of pace."
SPREAD_REST = "Spread of tip height and direction is invented: {tip_mm:.0f} mm and {mrad:.0f} mrad."
BANDS_ONE = "At this tip height every pace from {band} stops in the area."
BANDS_MORE = (
    "At this tip height there are {n} separate stretches of pace that stop in the area: {bands}. "
    "Between them the white does not stay there, so play one of them on purpose."
)
BANDS_NONE = "At this tip height and side no pace stops in the area."
FAULTS_NONE = "Nothing stands in the way of this shot."

SAVE = "Save"
SAVE_NEW = "Save as a new set-up"
SAVED = "Saved: {name}."
NAME_MISSING = "Give the set-up a name first."

WAYS_TITLE = "Ways of playing it"
WAYS_HELP = (
    "For each way the stroke with the greatest chance that the object ball is potted and the white "
    "stops in the area, for the player chosen above. The room is how far pace or tip height alone "
    "may stray before the chance falls below four fifths of that."
)
WAYS_COMPARE = "Compare the ways"
WAYS_BUSY = "Some 50,000 strokes are being played; this takes a few seconds."
WAYS_NONE = "No pace or tip height tried stops in the area. Make it larger, or move a ball."
WAYS_STALE = "Compared as it stood when you pressed the button."
WAY_HEAD = ("Way", "Chance", "Best pace", "Tip", "")
WAY_NAME = {
    "plain ball": "Plain ball",
    "stun, no cushion": "Stun, no cushion",
    "stun off one cushion": "Stun off one cushion",
    "screw, no cushion": "Screw, no cushion",
    "screw off one cushion": "Screw off one cushion",
    "left side off two cushions": "Left-hand side, two cushions",
    "right side off two cushions": "Right-hand side, two cushions",
}
WAY_ROOM = "room {room}"
WAY_SIDE_LEFT = "{mm:.0f} mm of left-hand side"
WAY_SIDE_RIGHT = "{mm:.0f} mm of right-hand side"
WAY_NOT = "not from here"
WAY_TRY = "Show it"
WAY_TRY_WHICH = "Show {name} on the plan"
WAY_PICTURE = "Way of the white: {name}"
MAP_TITLE = "Every tip height and pace"
MAP_HELP = (
    "Lighter is likelier to pot and stop in the area; the line goes round what is at least four "
    "fifths of the best, the cross is the best stroke without side."
)
