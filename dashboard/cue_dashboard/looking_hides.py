"""What a device that may only look is not shown: whatever would be refused.

One rule of style for all pages. The note that such a device is told by stands in the frame from the
first moment (`shell`), and whatever stands after it in the page follows the rule.
"""

from cue_dashboard import ids
from cue_dashboard.ids import coach, log_series, log_shot, sensor, setups, share, strokes, taking_in
from cue_dashboard.ids import table as table_ids

CHANGES = (
    # at the table: what is left tells how it goes
    table_ids.JUDGE_BAR,
    table_ids.FIRST,
    ids.TABLE_WHERE,
    ids.TABLE_START,
    ids.TABLE_SOURCE_CHOICE,
    ids.TABLE_STOP,
    ids.TABLE_END,
    # the other pages
    strokes.REMARK_SAVE,
    strokes.REMARK_UNDO,
    setups.SAVE,
    setups.SAVE_NEW,
    sensor.CONNECT,
    sensor.RESTS_START,
    sensor.ROLL_START,
    sensor.STOP,
    sensor.SAVE,
    sensor.LEFT_CARD,
    log_series.OPEN,
    log_shot.UNDO,
    log_shot.REDO,
)
"""Buttons that change something, and pieces that hold nothing else."""

IN_LISTS = (strokes.REMARK_REMOVE, coach.CORRECT, coach.LEAVE_OUT, share.REMOVE)
"""Parts of the ids of buttons that stand beside each entry of a list."""

FIELDS = (strokes.REMARK_TEXT, strokes.REMARK_AT, setups.NAME, sensor.FROM_BUTT)
"""Fields of what is no form of its own, with their labels."""

FORMS = (coach.SAVE, taking_in.BUTTON, ids.add_button("player"))
"""One button of each card that is nothing but a form."""


def style_sheet() -> str:
    """Return the rule, for every page of every device."""
    hidden = [
        *[f"#{one}" for one in CHANGES],
        *[f'[id*="{one}"]' for one in IN_LISTS],
        *[f".mantine-InputWrapper-root:has(#{one})" for one in FIELDS],
        *[f".card:has(#{one})" for one in FORMS],
        ".remark-fields + .help",
        f"#{log_shot.ROWS} :is(th, td):last-child",  # to edit a shot
    ]
    # each by itself: a browser that does not know one of them leaves out that one only
    return "".join(f".looks-only ~ .main {one}{{display:none!important}}" for one in hidden)
