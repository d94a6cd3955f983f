"""What tests of a cloth told, kept with its table in the log."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cue_practice.log import PracticeLog
    from cue_practice.views import Table
    from cue_table.fit import TableFit

SPOKEN = {
    "sliding_friction": "sliding friction",
    "rolling_resistance": "rolling resistance",
    "tip_restitution": "tip restitution",
    "cushion_restitution": "cushion restitution",
}
"""What a fit tells, in words."""

KEPT = ("sliding_friction", "rolling_resistance")
"""What the log keeps of a table's cloth."""


def keep(log: "PracticeLog", table: "Table", fit: "TableFit") -> str:
    """Enter what a fit tells of a cloth with its table, and return what was kept, in a sentence.

    Parameters
    ----------
    log : PracticeLog
        The log.
    table : Table
        Of that log.
    fit : TableFit
        Only what its results told is kept: the rest would be what was assumed before.

    Raises
    ------
    PracticeError
        If a value makes no sense.
    """
    found = {one: fit[one] for one in KEPT if fit[one].is_told}
    if not found:
        return f"Nothing is kept with '{table.name}': the results tell neither friction nor roll."
    log.edit_table(table.table_id, **{name: one.value for name, one in found.items()})
    values = " and ".join(
        f"{SPOKEN[name]} {one.value:.4f} (90 % sure: {one.low:.4f} to {one.high:.4f})"
        for name, one in found.items()
    )
    return f"Kept with '{table.name}': {values}. Answers use it from now on."
