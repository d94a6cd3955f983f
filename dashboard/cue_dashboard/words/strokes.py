"""Words of the page Stroke by stroke: own best strokes, the doubt about slowing, remarks."""

from cue_signal.trend import HitTrend

ALL_TRENDS = "Slowing or not"
INTO_THE_BALL = "Into the ball"
TREND_NAME = {
    HitTrend.SLOWING: "Slowing",
    HitTrend.LEVEL: "Level",
    HitTrend.GAINING: "Gaining",
    HitTrend.UNSURE: "Too close to tell",
}
KEYS = "\u2190 \u2192 on the keyboard go from stroke to stroke."
SAID = "{pace}, {grade}, {trend}"

DOUBT = {
    HitTrend.SLOWING: "{chance} sure that the cue was losing speed when it met the ball.",
    HitTrend.LEVEL: "{chance} sure that it kept its speed, within 1 m/s\u00b2 either way.",
    HitTrend.GAINING: "{chance} sure that the cue was still gaining speed when it met the ball.",
    HitTrend.UNSURE: "Only {chance} for the likelier of the two: look at several strokes together.",
}

BEST = "Lay over my own best"
BEST_ONE = "Thin dashed: the best other stroke of this series"
BEST_MANY = "Thin dashed: the {n} best other strokes of this series"
BEST_RULE = (
    "{of}. Best means the right result, then nearest to {pace} ({why}) and straightest; "
    "{n_right} came right."
)
BEST_CALLED = "the called pace"
BEST_MIDDLE = "the middle pace of the right ones"
BEST_NONE = "No other stroke of this series came right yet, so there is none to lay this one over."
BEST_FACT = "own best {value}"

REMARKS_TITLE = "The coach's remarks"
REMARKS_HELP = (
    "Tap the curve to choose the moment, or type it; without a moment a remark is about the whole "
    "stroke."
)
REMARKS_NONE = "No remark on this stroke yet."
REMARK = "Remark"
REMARK_AT = "Moment, seconds from the hit"
REMARK_SAVE = "Keep the remark"
REMARK_EMPTY = "Write the remark first."
REMARK_KEPT = "Remark kept."
REMARK_GONE = "Remark taken away."
REMARK_REMOVE = "Take away"
REMARK_REMOVE_WHICH = "Take remark {number} away"
REMARK_UNDO = "Bring it back"
REMARK_BACK = "The remark is back."
REMARK_WHEN = "{at} s"
REMARK_WHOLE = "whole stroke"
