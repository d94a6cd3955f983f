"""The practice log: players, cues, tables, set-ups, series and shots in one database.

Every method is one transaction and is on the disk when it returns. Nothing is ever erased: shots
and series are discarded, changes are kept with what was there before, and the last can be undone.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Unpack

from cue_practice.chosen import Chosen, MoreChosen
from cue_practice.entries import Entries
from cue_practice.generations import Generations
from cue_practice.lessons import Lessons
from cue_practice.paces import Paces
from cue_practice.sensor_entries import SensorEntries
from cue_practice.series import SeriesEntries
from cue_practice.shots import BROKEN_RULES, Shots
from cue_practice.unset import UNSET, Unset

if TYPE_CHECKING:
    import pandas

__all__ = ["BROKEN_RULES", "UNSET", "PracticeLog", "Unset"]


class PracticeLog(Entries, SeriesEntries, Shots, Paces, SensorEntries, Lessons, Generations):
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

    def shots_frame(
        self,
        series_id: int | None = None,
        setup_id: int | None = None,
        player_id: int | None = None,
        tip_below_centre_m: float | None = None,
        include_discarded: bool = False,
        newest: int | None = None,
        *,
        offset: int = 0,
        columns: Sequence[str] | None = None,
        **more: Unpack[MoreChosen],
    ) -> "pandas.DataFrame":
        """Return shots as a pandas frame with units in the column names.

        Parameters
        ----------
        series_id, setup_id, player_id, tip_below_centre_m, include_discarded, newest, offset
            As for :meth:`shots`.
        columns : sequence of str or None
            Only these, in this order, and nothing else is read; None for all.
        **more
            Further conditions, see :class:`cue_practice.chosen.MoreChosen`.

        Returns
        -------
        pandas.DataFrame
            One row a shot, see :func:`cue_practice.frames.shots_frame`.
        """
        from cue_practice.frames import shots_frame  # pandas is slow to import and seldom needed

        return shots_frame(
            self,
            columns=columns,
            newest=newest,
            offset=offset,
            series_id=series_id,
            setup_id=setup_id,
            player_id=player_id,
            tip_below_centre_m=tip_below_centre_m,
            include_discarded=include_discarded,
            **more,
        )

    def series_frame(self, **chosen: Unpack[Chosen]) -> "pandas.DataFrame":
        """Return series as a pandas frame, with counts and the mean and spread of their paces.

        Parameters
        ----------
        **chosen
            Conditions on the shots, see :class:`cue_practice.chosen.Chosen`.

        Returns
        -------
        pandas.DataFrame
            One row a series, see :func:`cue_practice.frames.series_frame`.
        """
        from cue_practice.frames import series_frame

        return series_frame(self, **chosen)
