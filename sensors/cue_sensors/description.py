"""Everything that is needed to understand a recording's bytes, to JSON and back.

The fields are specified in ``recordings/FORMAT.md``.
"""

import json
from dataclasses import asdict, dataclass, field, fields
from datetime import UTC, datetime
from typing import Any, Final

from cue_sensors.samples import Calibration, Mounting, SensorInfo

FORMAT: Final = "stunpace-recording/1"

_OPTIONAL_TEXTS: Final = {"measured_utc"}
_TEXTS: Final = {"kind", "name"} | _OPTIONAL_TEXTS
_LENGTHS: Final = {"cue_axis": 3, "accel_bias_m_s2": 3, "gyro_bias_rad_s": 3, "accel_matrix": 9}


@dataclass(frozen=True)
class Description:
    """What a recording says about itself.

    Parameters
    ----------
    sensor, mounting, calibration
        What made the notifications and how it sat on the cue.
    start_utc : datetime
        UTC at second 0 of the recording's axis, with its time zone.
    labels : dict of str to str
        Free notes.
    """

    sensor: SensorInfo
    start_utc: datetime
    mounting: Mounting = field(default_factory=Mounting)
    calibration: Calibration | None = None
    labels: dict[str, str] = field(default_factory=dict)

    @property
    def start_utc_ns(self) -> int:
        """Return the start in nanoseconds since 1970, exactly."""
        since = self.start_utc - datetime(1970, 1, 1, tzinfo=UTC)
        return ((since.days * 86400 + since.seconds) * 1_000_000 + since.microseconds) * 1000

    def to_json(self) -> str:
        """Return the description as one JSON object."""
        content = {"format": FORMAT, **asdict(self)}
        if self.calibration is not None and self.calibration.accel_scale_sd is None:
            # younger than the format: a file without it stays as it always was
            del content["calibration"]["accel_scale_sd"]
        return json.dumps(content, default=_utc_text, ensure_ascii=False, allow_nan=False)

    @classmethod
    def from_json(cls, text: str) -> "Description":
        """Return the description in a JSON object; ValueError says what is wrong with it."""
        content = json.loads(text)
        if not isinstance(content, dict) or content.get("format") != FORMAT:
            raise ValueError(f"its format is not {FORMAT!r}")
        try:
            return cls(
                sensor=SensorInfo(**_known(SensorInfo, content["sensor"])),
                start_utc=_utc(content["start_utc"]),
                mounting=Mounting(**_known(Mounting, content.get("mounting") or {})),
                calibration=_calibration(content.get("calibration")),
                labels={str(k): str(v) for k, v in (content.get("labels") or {}).items()},
            )
        except (AttributeError, KeyError, TypeError) as error:
            raise ValueError(f"it lacks or misspells {error}") from error


def _known(kind: type, content: dict[str, Any]) -> dict[str, Any]:
    """Return the fields this version knows; a later one may have written more."""
    names = {one.name for one in fields(kind)}
    return {key: _value(key, value) for key, value in content.items() if key in names}


def _value(key: str, value: Any) -> Any:
    """Return the value of a field, refusing one of the wrong sort."""
    if key in _TEXTS:
        is_right = isinstance(value, str) or (value is None and key in _OPTIONAL_TEXTS)
    elif key in _LENGTHS:
        is_right = value is None and key == "cue_axis"
        is_right |= isinstance(value, list) and len(value) == _LENGTHS[key]
        is_right = is_right and all(map(_is_number, value or ()))
    else:
        is_right = value is None or _is_number(value)
    if not is_right:
        raise ValueError(f"its field {key} is {value!r}")
    return tuple(value) if isinstance(value, list) else value


def _is_number(value: Any) -> bool:
    """Return whether a JSON value is a number."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _calibration(content: dict[str, Any] | None) -> Calibration | None:
    """Return the calibration, None where there was none."""
    if content is None:
        return None
    known = _known(Calibration, content)
    if known.get("measured_utc") is not None:
        known["measured_utc"] = _utc(known["measured_utc"])
    return Calibration(**known)


def _utc(text: str) -> datetime:
    """Return an ISO 8601 time as UTC; one without a zone is UTC."""
    moment = datetime.fromisoformat(text)
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def _utc_text(value: object) -> str:
    """Return a time as ISO 8601 in UTC, for json.dumps."""
    if not isinstance(value, datetime):
        raise TypeError(f"{type(value).__name__} has no JSON form")
    moment = value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
    return moment.isoformat().replace("+00:00", "Z")
