"""Words of the page Progress."""

TITLE = "Progress"
EMPTY = "No evening in the log yet."
EMPTY_REMEDY = "Play a series at the table; every evening leaves a mark on this page."
BESIDE = "Side by side with"
BESIDE_KIND = {
    "nobody": "Nobody",
    "player": "Another player",
    "period": "An earlier time",
    "cue": "Another cue",
}
OVER = "Over"
OVER_WHAT = {"year": "The last year", "always": "All time"}
WHICH = {
    "nobody": "",
    "player": "Which player",
    "period": "The later time begins with",
    "cue": "Which cue",
}
WHICH_NONE = {
    "nobody": "",
    "player": "No other player has a stroke in the log yet.",
    "period": "Two evenings are needed to set one time beside another.",
    "cue": "All strokes were played with one cue.",
}
EVENING_OF = "{when}, {n} shots"
BEFORE = "before {when}"
FROM = "from {when}"

QUANTITY = {
    "pace_spread": "Pace control",
    "sideways_m": "Straightness",
    "slowing": "Slowing into the ball",
    "right": "Right results",
}
HELP = {
    "pace_spread": (
        "Spread of pace about the called pace, each evening; lower is closer. The bar is 90 % sure."
    ),
    "sideways_m": (
        "How far the tip met the ball beside its line, each evening, either way; lower is "
        "straighter. The bar is 90 % sure."
    ),
    "slowing": (
        "Share of strokes that surely slowed into the ball, each evening; the bar is 90 % sure."
    ),
    "right": "Share of graded shots with the right result, each evening; the bar is 90 % sure.",
}
NOTHING_YET = {
    "pace_spread": "Nothing to show yet: start a series with a called pace, and play to it.",
    "sideways_m": (
        "Nothing to show yet: straightness needs a sensor with a gyroscope and its distance from "
        "the tip."
    ),
    "slowing": "Nothing to show yet: play with a sensor.",
    "right": "Nothing to show yet: tap what each shot did.",
}
UNIT = {"pace_spread": "%", "sideways_m": "mm", "slowing": "%", "right": "%"}
AXIS = {
    "pace_spread": "% of the pace",
    "sideways_m": "mm off the line",
    "slowing": "% of strokes",
    "right": "% of shots",
}
FEW_EVENINGS = "From three evenings on, this says where it is going."
AS_TABLE = "As a table"
COLUMNS = ("Evening", "Value", "90 % sure", "Shots")
SPAN = "{low} to {high}"
SPAN_NONE = "as exactly as can be shown"
TOO_SMALL = "too small to measure"
POINT_TOO_SMALL = "{name}, {when}: too small to measure"
POINT = "{name}, {when}: {value} {unit}, 90 % sure {span}"

COMPARED = "{first} beside {second}"
COMPARED_NONE = "The two have nothing in common that could be set side by side yet."
COMPARED_HELP = (
    "Evenings differ for reasons of their own, so what counts is evenings more than shots. A "
    "difference is said to matter from a fifth, or from one shot in ten."
)
COMPARED_COLUMNS = (
    "Quantity",
    "{first}",
    "{second}",
    "Better",
    "By what matters",
    "Shots, evenings",
)
DIFFERENCE = {
    "pace spread": "Pace control",
    "sideways": "Straightness",
    "slowing": "Slowing into the ball",
    "right": "Right results",
}
BETTER = "{name}: {chance}"
RESTS_ON = "{shots}, {evenings}"

CONTROL_TITLE = "To the called pace"
TIRED_TITLE = "In a long evening"
"""What follows is written by the part of the program that knows, in whole sentences."""
TIRED_HELP = "Each called pace about its own mean of the evening; the dotted line is no change."
TIRED_PACE = "Pace"
TIRED_SPREAD = "Spread of pace"
TIRED_ROW = "<b>{what}</b> {value:+.1f} % ({low:+.1f} to {high:+.1f} %)"
TIRED_AXIS = "change in {span}, %"
