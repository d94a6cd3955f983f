"""What each series' shots make, kept for as long as that series stays as it is.

A tap changes one series of thousands. The database counts the changes of each (table
``series_version``), whoever writes; only those whose count is another are read anew.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from cue_practice.tables import SeriesRow, SeriesVersionRow

_Made = TypeVar("_Made")

Read = Callable[[Session, Sequence[int] | None], dict[int, _Made]]
"""Makes something of each of some series, or of all for None; series without any are left out."""

N_KEPT = 16
"""Kinds of things kept at a time; the one not asked for the longest goes first."""

MOST_AT_ONCE = 400
"""Where more series than these changed, all are read: databases limit the length of a query."""


@dataclass(frozen=True, eq=False)
class BySeries(Generic[_Made]):
    """Something of each series, and the count of changes of every series.

    Parameters
    ----------
    made : dict of int to Any
        By the series' number, for those that have it; never change it.
    versions : dict of int to int
        By the series' number.
    """

    made: dict[int, _Made]
    versions: dict[int, int]


class SeriesKept:
    """Keeps what series make, for one log."""

    def __init__(self) -> None:
        self._kept: OrderedDict[Hashable, BySeries[Any]] = OrderedDict()
        self._lock = threading.Lock()

    def renewed(
        self, session: Session, key: Hashable, read: Read[_Made], player_id: int | None
    ) -> BySeries[_Made]:
        """Return what is kept under a name, brought up to date.

        Parameters
        ----------
        session : sqlalchemy.orm.Session
            A reading transaction that sees nothing that others change meanwhile.
        key : hashable
            Names what is made, and everything but the series that it depends on.
        read : callable
            Makes it.
        player_id : int or None
            Whose series; None for everybody's.
        """
        versions = _versions(session, player_id)
        known: BySeries[_Made] | None = self._kept.get(key)
        changed = [
            one for one, version in versions.items() if known and known.versions.get(one) != version
        ]
        if known is None or len(changed) > MOST_AT_ONCE:
            found = BySeries(read(session, None), versions)
        else:
            old = set(changed)
            made = {
                one: what for one, what in known.made.items() if one in versions and one not in old
            }
            found = BySeries(made | (read(session, changed) if changed else {}), versions)
        with self._lock:
            self._kept[key] = found
            self._kept.move_to_end(key)
            while len(self._kept) > N_KEPT:
                self._kept.popitem(last=False)
        return found


def _versions(session: Session, player_id: int | None) -> dict[int, int]:
    """Return the count of changes of every series."""
    wanted = select(SeriesVersionRow.series_id, SeriesVersionRow.version)
    if player_id is not None:
        wanted = wanted.join(SeriesRow, SeriesRow.series_id == SeriesVersionRow.series_id).where(
            SeriesRow.player_id == player_id
        )
    return {one: version for one, version in session.connection().execute(wanted).all()}
