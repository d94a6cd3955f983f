"""The log's series, what each holds, and the recordings their strokes come from."""

from datetime import datetime
from pathlib import Path

from sqlalchemy import Select, case, func, select
from sqlalchemy.orm import Session

from cue_practice.errors import PracticeError
from cue_practice.grades import Grade
from cue_practice.limits import checked_text, within
from cue_practice.rows import SERIES_COLUMNS, recording_view, series_view
from cue_practice.store import Store, aware, change, get, now_utc
from cue_practice.tables import (
    Base,
    CueRow,
    PlayerRow,
    RecordingRow,
    SeriesRow,
    SetUpRow,
    ShotRow,
    TableRow,
)
from cue_practice.trade_words import height_words, side_words
from cue_practice.unset import UNSET, Unset, given
from cue_practice.views import RecordingEntry, Series
from cue_practice.whole_file import sha256_of
from cue_sensors.samples import Recording

_KINDS: dict[str, type[Base]] = {
    "player_id": PlayerRow,
    "cue_id": CueRow,
    "table_id": TableRow,
    "setup_id": SetUpRow,
}


class SeriesEntries(Store):
    """Series and recordings of the log."""

    def add_series(
        self,
        player_id: int,
        cue_id: int,
        table_id: int,
        setup_id: int,
        tip_below_centre_m: float,
        *,
        side_m: float = 0.0,
        called_pace_m_s: float | None = None,
        started_utc: datetime | None = None,
        ended_utc: datetime | None = None,
        conditions: str = "",
        note: str = "",
        cloth: str = "",
    ) -> Series:
        """Begin a series: say what is held.

        Parameters
        ----------
        player_id, cue_id, table_id, setup_id : int
            Who plays what with what, and where.
        tip_below_centre_m, side_m : float
            How far the cue's axis passes below, and left of, the white's centre.
        called_pace_m_s : float or None
            The pace to keep; None leaves the pace free.
        started_utc : datetime or None
            With a time zone; None for now.
        ended_utc : datetime or None
            With a time zone; None while it goes on.
        conditions : str
            What may matter besides.
        note : str
            The player's or coach's words.
        cloth : str
            How the cloth is, for example ``"brushed and ironed today"``.

        Returns
        -------
        Series
            The new entry.

        Raises
        ------
        PracticeError
            If one of the numbers is unknown or a length or pace makes no sense.
        """
        held = within(tip_below_centre_m=tip_below_centre_m, side_m=side_m)
        if called_pace_m_s is not None:
            within(called_pace_m_s=called_pace_m_s)
        ids = {
            "player_id": player_id,
            "cue_id": cue_id,
            "table_id": table_id,
            "setup_id": setup_id,
        }
        with self._write() as session:
            for name, key in ids.items():
                get(session, _KINDS[name], key)
            row = SeriesRow(
                **ids,
                called_pace_m_s=called_pace_m_s,
                started_utc=aware(started_utc or now_utc(), "started_utc"),
                ended_utc=None if ended_utc is None else aware(ended_utc, "ended_utc"),
                **_texts(conditions=conditions, note=note, cloth=cloth),
                is_discarded=False,
                **held,
            )
            session.add(row)
            session.flush()
            only = select(SeriesRow.series_id).where(SeriesRow.series_id == row.series_id)
            return _series_views(session, only)[0]

    def series(self, series_id: int) -> Series:
        """Return a series by its number; PracticeError if there is none."""
        with self._read() as session:
            get(session, SeriesRow, series_id)
            only = select(SeriesRow.series_id).where(SeriesRow.series_id == series_id)
            return _series_views(session, only)[0]

    def all_series(
        self,
        *,
        player_id: int | None = None,
        setup_id: int | None = None,
        include_discarded: bool = False,
        is_open: bool | None = None,
        newest: int | None = None,
    ) -> list[Series]:
        """Return series with their counts, the newest first.

        Parameters
        ----------
        player_id, setup_id : int or None
            Only those of one player, on one set-up.
        include_discarded : bool
            Whether to list discarded series too.
        is_open : bool or None
            Only series that go on still, or only those that were ended.
        newest : int or None
            Only this many, the last ones begun.

        Returns
        -------
        list of Series
            One query, however many there are.
        """
        wanted = select(SeriesRow.series_id).order_by(*_NEWEST_FIRST).limit(newest)
        if player_id is not None:
            wanted = wanted.where(SeriesRow.player_id == player_id)
        if setup_id is not None:
            wanted = wanted.where(SeriesRow.setup_id == setup_id)
        if not include_discarded:
            wanted = wanted.where(SeriesRow.is_discarded.is_(False))
        if is_open is not None:
            ended = SeriesRow.ended_utc
            wanted = wanted.where(ended.is_(None) if is_open else ended.is_not(None))
        with self._read() as session:
            return _series_views(session, wanted)

    def series_words(self, series_id: int) -> str:
        """Return a series in one line: who, which set-up, tip height, pace, how many shots."""
        series = self.series(series_id)
        with self._read() as session:
            player = get(session, PlayerRow, series.player_id).nickname
            setup = get(session, SetUpRow, series.setup_id).name
        parts = [f"{player}, {setup}", height_words(series.tip_below_centre_m)]
        if series.side_m:
            parts.append(side_words(series.side_m))
        if series.called_pace_m_s is not None:
            parts.append(f"called pace {series.called_pace_m_s:.2f} m/s")
        parts.append("1 shot" if series.n_shots == 1 else f"{series.n_shots} shots")
        return ", ".join(parts)

    def edit_series(
        self,
        series_id: int,
        *,
        tip_below_centre_m: float | Unset = UNSET,
        side_m: float | Unset = UNSET,
        called_pace_m_s: float | Unset | None = UNSET,
        ended_utc: datetime | Unset | None = UNSET,
        conditions: str | Unset = UNSET,
        note: str | Unset = UNSET,
        is_discarded: bool | Unset = UNSET,
        cloth: str | Unset = UNSET,
        player_id: int | Unset = UNSET,
        cue_id: int | Unset = UNSET,
        table_id: int | Unset = UNSET,
        setup_id: int | Unset = UNSET,
    ) -> Series:
        """Correct a series; what is not given stays, and the change can be undone.

        Parameters
        ----------
        series_id : int
            Which.
        tip_below_centre_m, side_m, called_pace_m_s
            What is held.
        ended_utc : datetime or None
            When it ended, with a time zone.
        conditions, note : str
            What may matter besides, and the player's or coach's words.
        is_discarded : bool
            True leaves the series and its shots out everywhere.
        cloth : str
            How the cloth was.
        player_id, cue_id, table_id, setup_id : int
            Who played with what, and where, if another was chosen by mistake.

        Returns
        -------
        Series
            As it is now.

        Raises
        ------
        PracticeError
            If a number is unknown or a length or pace makes no sense.
        """
        held = given(
            tip_below_centre_m=tip_below_centre_m, side_m=side_m, called_pace_m_s=called_pace_m_s
        )
        within(**{key: value for key, value in held.items() if value is not None})
        ids = given(player_id=player_id, cue_id=cue_id, table_id=table_id, setup_id=setup_id)
        texts = _texts(**given(conditions=conditions, note=note, cloth=cloth))
        values = held | ids | texts | given(is_discarded=is_discarded)
        if not isinstance(ended_utc, Unset):
            values["ended_utc"] = None if ended_utc is None else aware(ended_utc, "ended_utc")
        with self._write() as session:
            for name, key in ids.items():
                get(session, _KINDS[name], key)
            row = get(session, SeriesRow, series_id, to_change=True)
            change(session, row, "settings", values)
        return self.series(series_id)

    def add_recording(
        self,
        path: str | Path,
        *,
        recording: Recording | None = None,
        start_utc: datetime | None = None,
        sensor_kind: str = "",
        sensor_name: str = "",
        is_growing: bool = False,
    ) -> RecordingEntry:
        """Enter a recording; the same file, or the same bytes elsewhere, is entered once.

        Parameters
        ----------
        path : str or Path
            Where the file is.
        recording : Recording or None
            What was read from it: gives start and sensor where they are not given.
        start_utc : datetime or None
            UTC at time 0 of the recording.
        sensor_kind, sensor_name : str
            What made it.
        is_growing : bool
            True while it is being written: it is then known by its path alone.

        Returns
        -------
        RecordingEntry
            The new entry, or the one that was there.

        Raises
        ------
        PracticeError
            If the file cannot be read.
        """
        file = Path(path).absolute()
        digest = None if is_growing else _hash_of(file)
        if recording is not None:
            start_utc = start_utc or recording.start_utc
            sensor_kind = sensor_kind or recording.sensor.kind
            sensor_name = sensor_name or recording.sensor.name
        with self._write() as session:
            row = _known_recording(session, str(file), digest)
            if row is None:
                row = RecordingRow(
                    path=str(file),
                    name=file.name,
                    sha256=digest,
                    start_utc=None if start_utc is None else aware(start_utc, "start_utc"),
                    sensor_kind=sensor_kind,
                    sensor_name=sensor_name,
                    added_utc=now_utc(),
                )
                session.add(row)
                session.flush()
            return recording_view(row)

    def recordings(self) -> list[RecordingEntry]:
        """Return all recordings in the order they were entered."""
        with self._read() as session:
            rows = session.scalars(select(RecordingRow).order_by(RecordingRow.recording_id))
            return [recording_view(row) for row in rows]


def _texts(**texts: str) -> dict[str, str]:
    """Return texts, each fit to be kept."""
    return {name: checked_text(text, name) for name, text in texts.items()}


_NEWEST_FIRST = (SeriesRow.started_utc.desc(), SeriesRow.series_id.desc())


def _series_views(session: Session, chosen: Select[int]) -> list[Series]:
    """Return the views of the series with chosen numbers, only their own shots counted."""
    numbers = select(chosen.subquery().c.series_id)
    is_right = case((ShotRow.grade == Grade.RIGHT.value, 1))
    counts = (
        select(
            ShotRow.series_id,
            func.count().label("n_shots"),
            func.count(ShotRow.grade).label("n_graded"),
            func.count(is_right).label("n_right"),
        )
        .where(ShotRow.is_discarded.is_(False), ShotRow.series_id.in_(numbers))
        .group_by(ShotRow.series_id)
        .subquery()
    )
    found = (func.coalesce(c, 0) for c in (counts.c.n_shots, counts.c.n_graded, counts.c.n_right))
    wanted = (
        select(*SERIES_COLUMNS, *found)
        .outerjoin(counts, counts.c.series_id == SeriesRow.series_id)
        .where(SeriesRow.series_id.in_(numbers))
        .order_by(*_NEWEST_FIRST)
    )
    return [series_view(row) for row in session.connection().execute(wanted).all()]


def _known_recording(session: Session, path: str, digest: str | None) -> RecordingRow | None:
    """Return the entry of the same bytes, else of the same file that grew since."""
    if digest is not None:
        same = select(RecordingRow).where(RecordingRow.sha256 == digest)
        row = session.scalars(same.limit(1)).first()
        if row is not None:
            return row
    growing = select(RecordingRow).where(RecordingRow.path == path, RecordingRow.sha256.is_(None))
    row = session.scalars(growing.limit(1)).first()
    if row is not None and digest is not None:
        row.sha256 = digest
    return row


def _hash_of(file: Path) -> str:
    """Return the hash of a recording's bytes."""
    try:
        return sha256_of(file)
    except OSError as error:
        raise PracticeError(
            f"The recording {file} cannot be read: {error.strerror}. Check the path."
        ) from error
