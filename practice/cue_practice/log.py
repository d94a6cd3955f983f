"""The practice log: players, cues, tables, set-ups, series and shots in one database.

Every method is one transaction and is on the disk when it returns. Nothing is ever erased: shots
and series are discarded, changes are kept with what was there before, and the last can be undone.
"""

from cue_practice.entries import Entries
from cue_practice.series import SeriesEntries
from cue_practice.shots import BROKEN_RULES, Shots
from cue_practice.unset import UNSET, Unset

__all__ = ["BROKEN_RULES", "UNSET", "PracticeLog", "Unset"]


class PracticeLog(Entries, SeriesEntries, Shots):
    """An open practice log, safe to use from several threads and several programs.

    Parameters
    ----------
    url : str, Path or None
        An SQLAlchemy URL or the path of an SQLite file; None for the variable
        ``STUNPACE_DATABASE`` and, without it, the file in the player's data folder.

    Raises
    ------
    PracticeError
        If the log cannot be opened; one sentence says why, and nothing is changed.

    Examples
    --------
    >>> with PracticeLog("sqlite://") as log:
    ...     log.add_player("Wren").nickname
    'Wren'
    """
