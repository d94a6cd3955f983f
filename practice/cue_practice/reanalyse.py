"""Bringing old recordings up to date with the present method, and saying what moved.

Recordings are only read. They are analysed over all cores, or on a Dask cluster, and each is
entered by itself as soon as it is done, so an interrupted run goes on where it stopped.
"""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from cue_practice.generations import Moved, Renewal
from cue_practice.log import PracticeLog
from cue_practice.reanalyse_workers import Done, analyse_many
from cue_signal.stroke import METHOD_VERSION, FloatArray
from cue_signal.trend import HitTrend, hit_trend

OnProgress = Callable[[int, int, str], None]
"""Called with how many recordings are done, how many there are, and the name of the last."""

SAME_SPEED_M_S = 5e-4
"""Speeds this close are the same: half the last figure that anything shows."""


@dataclass(frozen=True)
class Change:
    """How one measure moved over all strokes found again.

    Parameters
    ----------
    name : str
        The measure, as in :class:`cue_signal.stroke.Stroke`.
    n_strokes, n_moved : int
        Strokes that have it before and after; those that moved by more than the screen shows.
    median, median_size, largest : float or None
        Of those that moved: middle of the changes, middle of their sizes, and the largest with its
        sign, in the measure's unit; None if none moved.
    largest_shot_id : int or None
        The shot with the largest.
    """

    name: str
    n_strokes: int
    n_moved: int
    median: float | None = None
    median_size: float | None = None
    largest: float | None = None
    largest_shot_id: int | None = None


@dataclass(frozen=True, eq=False)
class Reanalysis:
    """What became of an archive.

    Parameters
    ----------
    method_version : str
        The present method.
    renewals : tuple of Renewal
        One for each recording that could be analysed, in the order they were entered.
    problems : tuple of str
        A sentence for each that could not; its strokes are as they were.
    is_dry_run : bool
        Whether nothing was changed.
    """

    method_version: str
    renewals: tuple[Renewal, ...]
    problems: tuple[str, ...]
    is_dry_run: bool

    @property
    def moved(self) -> list[Moved]:
        """Return all strokes found again."""
        return [one for renewal in self.renewals for one in renewal.moved]

    @property
    def n_new(self) -> int:
        """Return how many strokes are found for the first time."""
        return sum(len(renewal.new) for renewal in self.renewals)

    @property
    def lost_kept(self) -> list[int]:
        """Return shots that are kept though their stroke is no longer found."""
        return [one for renewal in self.renewals for one in renewal.lost_kept]

    @property
    def lost_discarded(self) -> list[int]:
        """Return shots that are discarded since their stroke is no longer found."""
        return [one for renewal in self.renewals for one in renewal.lost_discarded]

    def changes(self) -> list[Change]:
        """Return how the measures moved that players and coaches go by."""
        return [change_of(name, self.moved, least) for name, least in _SHOWN.items()]

    def trend_changes(self) -> dict[tuple[HitTrend, HitTrend], int]:
        """Return how often the word for the cue's speed into the ball changed, from what to what.

        Returns
        -------
        dict of (HitTrend, HitTrend) to int
            The most frequent first.
        """
        words = ((hit_trend(one.before), hit_trend(one.after)) for one in self.moved)
        counts = Counter(pair for pair in words if pair[0] is not pair[1])
        return dict(sorted(counts.items(), key=lambda one: (-one[1], one[0])))


_SHOWN = {
    "tip_speed_m_s": SAME_SPEED_M_S,
    "tip_speed_sd_m_s": SAME_SPEED_M_S,
    "accel_at_hit_m_s2": 0.05,
    "backswing_m": 5e-4,
    "rear_pause_s": 5e-3,
    "tip_lateral_m": 5e-5,
}
"""Measures that are compared, and from which change on they count as moved."""


def reanalyse(
    log: PracticeLog,
    *,
    is_all: bool = False,
    is_dry_run: bool = False,
    n_cores: int | None = None,
    dask_address: str | None = None,
    on_progress: OnProgress | None = None,
) -> Reanalysis:
    """Analyse recordings again whose strokes an older method measured.

    Recordings and tapped results are never touched. A stroke found again keeps its shot and gets
    the new measures, the old ones stay beside (:meth:`PracticeLog.older_measures`). A stroke found
    for the first time becomes a shot of the series around it. A shot whose stroke is no longer
    found is kept if anybody said anything about it, else discarded.

    Parameters
    ----------
    log : PracticeLog
        Whose recordings.
    is_all : bool
        All recordings, those up to date too.
    is_dry_run : bool
        Only tell what would move.
    n_cores : int or None
        Processes to use, None for one a core; 1 stays in this process.
    dask_address : str or None
        Address of a Dask scheduler to use instead; its workers must see the recordings under the
        same paths.
    on_progress : callable, optional
        Called after each recording.

    Returns
    -------
    Reanalysis
        What became of it, the same however it was computed.

    Raises
    ------
    PracticeError
        If the log cannot be used or the cluster does not answer.
    ValueError
        If ``n_cores`` is below 1.
    """
    recordings = log.outdated_recordings(is_all=is_all)
    by_id = {one.recording_id: one for one in recordings}
    renewals: dict[int, Renewal] = {}
    problems: dict[int, str] = {}
    tasks = [(one.recording_id, one.path, one.sha256) for one in recordings]
    for n_done, done in enumerate(analyse_many(tasks, n_cores, dask_address), start=1):
        _take(log, done, renewals, problems, is_dry_run=is_dry_run)
        if on_progress is not None:
            on_progress(n_done, len(recordings), by_id[done.recording_id].name)
    return Reanalysis(
        method_version=METHOD_VERSION,
        renewals=tuple(renewals[key] for key in by_id if key in renewals),
        problems=tuple(problems[key] for key in by_id if key in problems),
        is_dry_run=is_dry_run,
    )


def _take(
    log: PracticeLog,
    done: Done,
    renewals: dict[int, Renewal],
    problems: dict[int, str],
    *,
    is_dry_run: bool,
) -> None:
    """Enter what was found in one recording, or what went wrong with it."""
    if done.problem:
        problems[done.recording_id] = done.problem
        return
    renewals[done.recording_id] = log.renew_strokes(
        done.recording_id, done.strokes, is_dry_run=is_dry_run
    )


def change_of(name: str, moved: list[Moved], least: float) -> Change:
    """Return how one measure moved.

    Parameters
    ----------
    name : str
        The measure.
    moved : list of Moved
        Strokes before and after.
    least : float
        Changes below this are none.

    Returns
    -------
    Change
        Over the strokes that have the measure before and after.
    """
    pairs = [(getattr(one.before, name), getattr(one.after, name), one.shot_id) for one in moved]
    both = [(after - before, shot) for before, after, shot in pairs if None not in (before, after)]
    if not both:
        return Change(name, 0, 0)
    change: FloatArray = np.array([one for one, _ in both], dtype=np.float64)
    is_moved = np.abs(change) > least
    if not is_moved.any():
        return Change(name, len(both), 0)
    top = int(np.argmax(np.abs(change)))
    return Change(
        name=name,
        n_strokes=len(both),
        n_moved=int(is_moved.sum()),
        median=float(np.median(change[is_moved])),
        median_size=float(np.median(np.abs(change[is_moved]))),
        largest=float(change[top]),
        largest_shot_id=both[top][1],
    )
