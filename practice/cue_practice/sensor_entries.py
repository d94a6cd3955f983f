"""Calibrations of sensors and their mountings on cues: the newest counts, all are kept."""

import math
from collections.abc import Sequence
from dataclasses import fields
from datetime import datetime
from typing import Any

from sqlalchemy import select

from cue_practice.errors import PracticeError
from cue_practice.limits import checked_text
from cue_practice.plain import plain, unplain
from cue_practice.store import Store, aware, change, get, now_utc
from cue_practice.tables import CalibrationRow, CueRow, MountingRow
from cue_practice.views import CalibrationEntry, MountingEntry
from cue_sensors.samples import Calibration, Mounting

_CALIBRATION = ("accel_bias_m_s2", "gyro_bias_rad_s", "accel_matrix")
_CALIBRATION_ENTRY = ("measured_utc", "temperature_c")
"""Kept as when and how warm of the entry."""
_MOUNTING = ("cue_axis", "cue_axis_sd_rad", "sensor_from_butt_m", "cue_length_m")


class SensorEntries(Store):
    """Calibrations and mountings of the log."""

    def save_calibration(
        self,
        sensor_kind: str,
        sensor_name: str,
        calibration: Calibration,
        *,
        made_utc: datetime | None = None,
        temperature_c: float | None = None,
        method: str = "",
    ) -> CalibrationEntry:
        """Keep a calibration of a sensor; those before it stay.

        Parameters
        ----------
        sensor_kind, sensor_name : str
            Which sensor: its protocol's key, and what it calls itself.
        calibration : cue_sensors.samples.Calibration
            The correction.
        made_utc : datetime or None
            With a time zone; None for when the calibration says, else now.
        temperature_c : float or None
            The sensor's temperature in degrees Celsius; None for what the calibration says.
        method : str
            How it was measured, for example ``"six rests"``.

        Returns
        -------
        CalibrationEntry
            The new entry.

        Raises
        ------
        PracticeError
            If a number of it is not finite or missing.
        """
        _refuse_infinite(calibration, _CALIBRATION, "calibration")
        if temperature_c is None:
            temperature_c = calibration.temperature_c
        made = made_utc or calibration.measured_utc or now_utc()
        row = CalibrationRow(
            sensor_kind=checked_text(sensor_kind, "kind of the sensor"),
            sensor_name=checked_text(sensor_name, "name of the sensor"),
            **{name: plain(getattr(calibration, name)) for name in _CALIBRATION},
            more_values=_more(calibration, (*_CALIBRATION, *_CALIBRATION_ENTRY)),
            made_utc=aware(made, "made_utc"),
            temperature_c=plain(temperature_c),
            method=checked_text(method, "method"),
            is_discarded=False,
        )
        with self._write() as session:
            session.add(row)
            session.flush()
            return _calibration_view(row)

    def calibration_for(self, sensor_kind: str, sensor_name: str) -> CalibrationEntry | None:
        """Return the newest calibration of a sensor, None if it has none."""
        wanted = (
            select(CalibrationRow)
            .where(
                CalibrationRow.sensor_kind == sensor_kind,
                CalibrationRow.sensor_name == sensor_name,
                CalibrationRow.is_discarded.is_(False),
            )
            .order_by(CalibrationRow.made_utc.desc(), CalibrationRow.calibration_id.desc())
        )
        with self._read() as session:
            row = session.scalars(wanted.limit(1)).first()
            return None if row is None else _calibration_view(row)

    def calibrations(self, *, include_discarded: bool = False) -> list[CalibrationEntry]:
        """Return all calibrations, the newest first."""
        wanted = select(CalibrationRow).order_by(
            CalibrationRow.made_utc.desc(), CalibrationRow.calibration_id.desc()
        )
        if not include_discarded:
            wanted = wanted.where(CalibrationRow.is_discarded.is_(False))
        with self._read() as session:
            return [_calibration_view(row) for row in session.scalars(wanted)]

    def discard_calibration(self, calibration_id: int) -> None:
        """Leave a calibration that went wrong out; undo brings it back."""
        with self._write() as session:
            row = get(session, CalibrationRow, calibration_id, to_change=True)
            change(session, row, "discarding", {"is_discarded": True})

    def save_mounting(
        self,
        cue_id: int,
        sensor_kind: str,
        sensor_name: str,
        mounting: Mounting,
        *,
        made_utc: datetime | None = None,
        method: str = "",
    ) -> MountingEntry:
        """Keep how a sensor sits on a cue; the mountings before it stay.

        Parameters
        ----------
        cue_id : int
            The cue it is clipped to.
        sensor_kind, sensor_name : str
            Which sensor: its protocol's key, and what it calls itself.
        mounting : cue_sensors.samples.Mounting
            Its direction and place.
        made_utc : datetime or None
            With a time zone; None for now.
        method : str
            How it was measured, for example ``"rolled on the cloth"``.

        Returns
        -------
        MountingEntry
            The new entry.

        Raises
        ------
        PracticeError
            If the cue is unknown or a number is not finite.
        """
        _refuse_infinite(mounting, _MOUNTING, "mounting")
        with self._write() as session:
            get(session, CueRow, cue_id)
            row = MountingRow(
                cue_id=cue_id,
                sensor_kind=checked_text(sensor_kind, "kind of the sensor"),
                sensor_name=checked_text(sensor_name, "name of the sensor"),
                **{name: plain(getattr(mounting, name)) for name in _MOUNTING},
                more_values=_more(mounting, _MOUNTING),
                made_utc=aware(made_utc or now_utc(), "made_utc"),
                method=checked_text(method, "method"),
                is_discarded=False,
            )
            session.add(row)
            session.flush()
            return _mounting_view(row)

    def mounting_for(self, cue_id: int, sensor_kind: str, sensor_name: str) -> MountingEntry | None:
        """Return the newest mounting of a sensor on a cue, None if there is none."""
        wanted = (
            select(MountingRow)
            .where(
                MountingRow.cue_id == cue_id,
                MountingRow.sensor_kind == sensor_kind,
                MountingRow.sensor_name == sensor_name,
                MountingRow.is_discarded.is_(False),
            )
            .order_by(MountingRow.made_utc.desc(), MountingRow.mounting_id.desc())
        )
        with self._read() as session:
            row = session.scalars(wanted.limit(1)).first()
            return None if row is None else _mounting_view(row)

    def mountings(
        self, cue_id: int | None = None, *, include_discarded: bool = False
    ) -> list[MountingEntry]:
        """Return all mountings, or those on one cue, the newest first."""
        wanted = select(MountingRow).order_by(
            MountingRow.made_utc.desc(), MountingRow.mounting_id.desc()
        )
        if cue_id is not None:
            wanted = wanted.where(MountingRow.cue_id == cue_id)
        if not include_discarded:
            wanted = wanted.where(MountingRow.is_discarded.is_(False))
        with self._read() as session:
            return [_mounting_view(row) for row in session.scalars(wanted)]

    def discard_mounting(self, mounting_id: int) -> None:
        """Leave a mounting that went wrong out; undo brings it back."""
        with self._write() as session:
            row = get(session, MountingRow, mounting_id, to_change=True)
            change(session, row, "discarding", {"is_discarded": True})


def _refuse_infinite(what: Calibration | Mounting, names: Sequence[str], word: str) -> None:
    """Refuse numbers no measurement gives."""
    for name in names:
        value = getattr(what, name)
        numbers = value if isinstance(value, tuple) else (value,)
        bad = [one for one in numbers if one is not None and not math.isfinite(one)]
        if bad:
            raise PracticeError(
                f"{name} of the {word} has {bad[0]}, which is no number. Measure it again."
            )


def _more(what: Calibration | Mounting, names: Sequence[str]) -> dict[str, Any] | None:
    """Return the fields that have no column, by name."""
    found = {f.name: plain(getattr(what, f.name)) for f in fields(what) if f.name not in names}
    return found or None


def _known(kind: type[Calibration] | type[Mounting], more: dict[str, Any] | None) -> dict[str, Any]:
    """Return the kept fields that this program knows."""
    names = {f.name for f in fields(kind)}
    return {name: unplain(value) for name, value in (more or {}).items() if name in names}


def _calibration_view(row: CalibrationRow) -> CalibrationEntry:
    """Return the view of a calibration's row."""
    values: dict[str, Any] = {name: tuple(getattr(row, name)) for name in _CALIBRATION}
    calibration = Calibration(
        **values,
        measured_utc=row.made_utc,
        temperature_c=row.temperature_c,
        **_known(Calibration, row.more_values),
    )
    return CalibrationEntry(
        calibration_id=row.calibration_id,
        sensor_kind=row.sensor_kind,
        sensor_name=row.sensor_name,
        calibration=calibration,
        made_utc=row.made_utc,
        temperature_c=row.temperature_c,
        method=row.method,
        is_discarded=row.is_discarded,
    )


def _mounting_view(row: MountingRow) -> MountingEntry:
    """Return the view of a mounting's row."""
    mounting = Mounting(
        **{name: unplain(getattr(row, name)) for name in _MOUNTING},
        **_known(Mounting, row.more_values),
    )
    return MountingEntry(
        mounting_id=row.mounting_id,
        cue_id=row.cue_id,
        sensor_kind=row.sensor_kind,
        sensor_name=row.sensor_name,
        mounting=mounting,
        made_utc=row.made_utc,
        method=row.method,
        is_discarded=row.is_discarded,
    )
