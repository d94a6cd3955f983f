"""Words of taking in a file."""

TITLE = "Take in a file"
HELP = (
    "A recording of stunpace, or a CSV file whose header names its units, such as "
    "time_s,ax_m_s2,ay_m_s2,az_m_s2; up to {most} MB. A file that says no date is dated by its "
    "series."
)
SERIES = "Series that its strokes belong to"
NO_SERIES = "Start a series at the table first; then a file can be taken into it."
CHOOSE = "Choose a file"
PROGRESS = "How far taking in is"
SENDING = "Sending: {share} %"
BROKEN_OFF = "The file did not come through. Choose it again."
READING = "Reading {name}"
FINDING = "Looking for strokes in {name}, {minutes} min of samples"
KEEPING = "Keeping {n} strokes"
KEPT_ONE = "1 stroke of {name} is in the series."
KEPT = "{n} strokes of {name} are in the series."
KNOWN = "This file was taken in before: its strokes stay as they are."
NO_STROKE = "No stroke was found in {name}, so nothing was kept. Is it a recording of a cue?"
LOOK = "Look at them"

NOT_A_FILE = "{name!r} is no file that can be taken in. Choose a name that ends in {suffixes}."
TOO_LARGE = (
    "{name!r} has {size:.0f} MB, at most {most} MB can be taken in here. Take a larger one in on "
    "the command line."
)
EMPTY = "{name!r} is empty. Choose another file."
TOO_MANY = "{n} files are being taken in already. Wait until one of them is done."
LOST = "This file is not known any more. Choose it again."
OUT_OF_ORDER = "A part of the file came out of order. Choose the file again."
NO_ROOM = "The file cannot be kept: {why}. Make room on the disk."
UNEXPECTED = "{name} could not be taken in, and nothing was kept. The program's own log says more."
