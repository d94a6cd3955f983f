"""Names of series, set-ups and moments as people read them."""

from collections.abc import Iterable
from datetime import datetime

from cue_dashboard.units import tip_height_text, tips_text
from cue_practice.log import PracticeLog
from cue_practice.views import Series


class Names:
    """What the log's numbers are called; reads each short list of the log, and each series, once.

    Parameters
    ----------
    log : PracticeLog
        The log.
    series : iterable of Series
        Those that were read already.
    """

    def __init__(self, log: PracticeLog, series: Iterable[Series] = ()) -> None:
        self._players = {one.player_id: one.nickname for one in log.players()}
        self._setups = {one.setup_id: one.name for one in log.setups()}
        self._tips_m = {one.cue_id: one.tip_width_m for one in log.cues()}
        self._log = log
        self._series = {one.series_id: one for one in series}

    def series(self, series: Series) -> str:
        """Return a series' name: when, set-up and tip height."""
        when = series.started_utc.astimezone().strftime("%d %b %H:%M")
        setup = self._setups[series.setup_id]
        return f"{setup}, {self.tips(series)}, {when}"

    def player_of(self, series_id: int) -> str:
        """Return who played a series."""
        return self._players[self._of(series_id).player_id]

    def setup_of(self, series_id: int) -> str:
        """Return the set-up of a series."""
        return self._setups[self._of(series_id).setup_id]

    def height_of(self, series_id: int) -> str:
        """Return the tip height of a series in millimetres and tips."""
        series = self._of(series_id)
        return tip_height_text(series.tip_below_centre_m, self._tips_m[series.cue_id])

    def setup_and_height(self, series_id: int) -> str:
        """Return set-up and tip height of a series."""
        return f"{self.setup_of(series_id)}, {self.height_of(series_id)}"

    def _of(self, series_id: int) -> Series:
        """Return a series: a page shows shots of a few, whatever the log holds."""
        if series_id not in self._series:
            self._series[series_id] = self._log.series(series_id)
        return self._series[series_id]

    def tips(self, series: Series) -> str:
        """Return a series' tip height in tips of its cue."""
        return tips_text(series.tip_below_centre_m, self._tips_m[series.cue_id])


def when_text(moment: datetime) -> str:
    """Return a moment in the reader's own time zone."""
    return moment.astimezone().strftime("%d %b %Y, %H:%M:%S")
