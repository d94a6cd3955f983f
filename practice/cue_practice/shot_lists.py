"""Lists of the log's shots: whole, a page at a time, counted, or by their numbers alone."""

from collections.abc import Sequence
from typing import Any, Unpack

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, join

from cue_practice.chosen import Chosen, MoreChosen, where
from cue_practice.rows import SHOT_COLUMNS, shot_view
from cue_practice.store import Store
from cue_practice.tables import SeriesRow, ShotRow, StrokeRow
from cue_practice.views import Shot


class ShotLists(Store):
    """Lists of the log's shots."""

    def shots(
        self,
        series_id: int | None = None,
        setup_id: int | None = None,
        player_id: int | None = None,
        tip_below_centre_m: float | None = None,
        include_discarded: bool = False,
        newest: int | None = None,
        *,
        offset: int = 0,
        **more: Unpack[MoreChosen],
    ) -> list[Shot]:
        """Return shots in the order they were played, by one query.

        A long list is quicker as :meth:`PracticeLog.shots_frame` with only the columns needed.

        Parameters
        ----------
        series_id, setup_id, player_id : int or None
            Only those of one series, on one set-up, of one player.
        tip_below_centre_m : float or None
            Only those of series held at this tip height.
        include_discarded : bool
            Whether discarded shots, and shots of discarded series, are listed too.
        newest : int or None
            Only this many, the last ones.
        offset : int
            Pass over this many of the last ones first: the page before.
        **more
            Further conditions, see :class:`cue_practice.chosen.MoreChosen`.

        Returns
        -------
        list of Shot
            Strokes without traces.
        """
        chosen: Chosen = {
            "series_id": series_id,
            "setup_id": setup_id,
            "player_id": player_id,
            "tip_below_centre_m": tip_below_centre_m,
            "include_discarded": include_discarded,
            **more,
        }
        wanted = _shot_query().join(SeriesRow, ShotRow.series_id == SeriesRow.series_id)
        with self._read() as session:
            rows = session.connection().execute(page(wanted, chosen, newest, offset)).all()
            return [shot_view(row) for row in reversed(rows)]

    def count_shots(self, **chosen: Unpack[Chosen]) -> int:
        """Return how many shots there are, without reading them.

        Parameters
        ----------
        **chosen
            Conditions, see :class:`cue_practice.chosen.Chosen`.

        Returns
        -------
        int
            As many as :meth:`shots` would list.
        """
        wanted = where(select(func.count()).select_from(_SHOTS_IN_SERIES), chosen)
        with self._read() as session:
            return session.scalar(wanted) or 0

    def shot_ids(
        self, newest: int | None = None, offset: int = 0, **chosen: Unpack[Chosen]
    ) -> list[int]:
        """Return the numbers of shots in the order they were played.

        Parameters
        ----------
        newest, offset, **chosen
            As for :meth:`shots`.

        Returns
        -------
        list of int
            To page through, each shot to be read when it is shown.
        """
        with self._read() as session:
            found = session.scalars(page_ids(chosen, newest, offset)).all()
            return list(found[::-1])

    def shot_place(self, shot_id: int, **chosen: Unpack[Chosen]) -> int | None:
        """Return how many shots of a list were played before one of them, without reading them.

        Parameters
        ----------
        shot_id : int
            Which shot.
        **chosen
            Conditions, see :class:`cue_practice.chosen.Chosen`.

        Returns
        -------
        int or None
            Its place in :meth:`shot_ids`; None where the list does not hold it.
        """
        struck = where(select(ShotRow.struck_utc).select_from(_SHOTS_IN_SERIES), chosen)
        before = where(select(func.count()).select_from(_SHOTS_IN_SERIES), chosen)
        with self._read() as session:
            moment = session.scalar(struck.where(ShotRow.shot_id == shot_id))
            if moment is None:
                return None
            is_earlier = ShotRow.struck_utc < moment
            is_same = (ShotRow.struck_utc == moment) & (ShotRow.shot_id < shot_id)
            return session.scalar(before.where(is_earlier | is_same)) or 0

    def n_strokes(self) -> int:
        """Return how many strokes are in the log, discarded ones too."""
        with self._read() as session:
            return session.scalar(select(func.count()).select_from(StrokeRow)) or 0


def shots_by_id(session: Session, ids: Sequence[int]) -> list[Shot]:
    """Return shots in the order of their numbers as given."""
    found: dict[int, Shot] = {}
    for start in range(0, len(ids), 500):  # databases limit the parameters of one query
        some = ids[start : start + 500]
        rows = session.execute(_shot_query().where(ShotRow.shot_id.in_(some))).all()
        found |= {row.shot_id: shot_view(row) for row in rows}
    return [found[shot_id] for shot_id in ids]


_NEWEST_FIRST = (ShotRow.struck_utc.desc(), ShotRow.shot_id.desc())
_SHOTS_IN_SERIES = join(ShotRow, SeriesRow, ShotRow.series_id == SeriesRow.series_id)


def page_ids(chosen: Chosen, newest: int | None, offset: int) -> Select[*tuple[Any, ...]]:
    """Return the query of the numbers of shots, the newest first, and as many as are wanted."""
    wanted = where(select(ShotRow.shot_id).select_from(_SHOTS_IN_SERIES), chosen)
    return wanted.order_by(*_NEWEST_FIRST).limit(newest).offset(offset or None)


def page(
    wanted: Select[*tuple[Any, ...]], chosen: Chosen, newest: int | None, offset: int
) -> Select[*tuple[Any, ...]]:
    """Return a query of shots and their series, the newest first, and as many as are wanted.

    The page is found by its numbers alone: what is passed over is never read as a whole.
    """
    if newest is None and not offset:
        return where(wanted, chosen).order_by(*_NEWEST_FIRST)
    numbers = page_ids(chosen, newest, offset).subquery()
    is_on_page = ShotRow.shot_id.in_(select(numbers.c.shot_id))
    return wanted.where(is_on_page).order_by(*_NEWEST_FIRST)


def _shot_query() -> Select[*tuple[Any, ...]]:
    """Return the query of shots with their strokes, without a condition."""
    return (
        select(*SHOT_COLUMNS)
        .select_from(ShotRow)
        .outerjoin(StrokeRow, ShotRow.stroke_id == StrokeRow.stroke_id)
    )
