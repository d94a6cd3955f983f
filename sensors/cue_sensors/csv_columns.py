"""The head of a CSV file: which columns it has, in which units, and what its comments say."""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Final

from cue_sensors.decoders.packet import STANDARD_GRAVITY_M_S2
from cue_sensors.samples import Mounting, Recording, SensorInfo

TIME_UNITS: Final = {"s": 1.0, "ms": 1e-3, "us": 1e-6}
ACCEL_UNITS: Final = {
    "m_s2": 1.0,
    "g": STANDARD_GRAVITY_M_S2,
    "mg": STANDARD_GRAVITY_M_S2 * 1e-3,
}
GYRO_UNITS: Final = {"rad_s": 1.0, "deg_s": math.pi / 180, "mdeg_s": math.pi / 180_000}
CLIPPED_COLUMN: Final = "is_clipped"
KNOWN_COLUMNS: Final = (
    "time_s (or _ms, _us)",
    "ax_m_s2, ay_m_s2, az_m_s2 (or _g, _mg)",
    "gx_rad_s, gy_rad_s, gz_rad_s (or _deg_s, _mdeg_s)",
    CLIPPED_COLUMN,
)

_LABEL = re.compile(r"[A-Za-z]\w*")
_COMMENT = re.compile(r"#\s*([A-Za-z]\w*)\s*[:=]\s*(.*)")


class HeadError(ValueError):
    """A head that cannot be used: what is wrong and what to do."""

    def __init__(self, problem: str, remedy: str) -> None:
        super().__init__(problem)
        self.problem = problem
        self.remedy = remedy


@dataclass(frozen=True)
class Columns:
    """Which quantity each column holds.

    Parameters
    ----------
    names : tuple of str
        As in the header.
    quantities : tuple of str
        ``time``, ``ax`` … ``gz`` or ``is_clipped`` for each column.
    factors : tuple of float
        What turns each column into SI units.
    accel_unit : str
        Unit of the acceleration columns as in the header.
    """

    names: tuple[str, ...]
    quantities: tuple[str, ...]
    factors: tuple[float, ...]
    accel_unit: str

    @property
    def has_gyroscope(self) -> bool:
        """Return whether there are angular rates."""
        return "gx" in self.quantities

    def name_of(self, quantity: str) -> str:
        """Return the header's name of a quantity."""
        return self.names[self.quantities.index(quantity)]


@dataclass
class Notes:
    """What the comment lines say."""

    sensor: SensorInfo = field(default_factory=SensorInfo)
    mounting: Mounting = field(default_factory=Mounting)
    start_utc: datetime | None = None
    labels: dict[str, str] = field(default_factory=dict)


def read_header(line: str) -> Columns:
    """Return the columns that a header line names.

    Parameters
    ----------
    line : str
        The header without its line end.

    Returns
    -------
    Columns
        What each column holds.

    Raises
    ------
    HeadError
        If a column is unknown, doubled or missing.
    """
    names = tuple(name.strip() for name in line.split(","))
    found = [_column(name) for name in names]
    quantities = tuple(quantity for quantity, _, _ in found)
    for quantity in quantities:
        if quantities.count(quantity) > 1:
            raise HeadError(f"There are two columns for {quantity}.", "Keep one of them.")
    _check_complete(quantities)
    return Columns(
        names=names,
        quantities=quantities,
        factors=tuple(factor for _, factor, _ in found),
        accel_unit=next(unit for quantity, _, unit in found if quantity == "ax"),
    )


def read_comment(line: str, notes: Notes) -> None:
    """Take what a comment line says into the notes.

    Parameters
    ----------
    line : str
        A line that starts with ``#``; one without ``name: value`` says nothing.
    notes : Notes
        Where it goes; names that are not known become labels.

    Raises
    ------
    HeadError
        If the value of a known name cannot be used.
    """
    match = _COMMENT.match(line)
    if match is None:
        return
    key, value = match[1], match[2].strip()
    setter = _SETTERS.get(key)
    if setter is None:
        notes.labels[key] = value
        return
    try:
        setter(notes, value)
    except ValueError as error:
        problem = f"The comment {key} has the value {value!r}, which does not do: {error}."
        raise HeadError(problem, "Correct it or remove the line.") from error


def comment_lines(recording: Recording) -> list[str]:
    """Return the comment lines that tell what a recording knows, for read_comment to read."""
    sensor, mounting = recording.sensor, recording.mounting
    axis = mounting.cue_axis
    start = recording.start_utc
    known = {
        "sensor_name": sensor.name or None,
        "accel_range_m_s2": sensor.accel_range_m_s2,
        "gyro_range_rad_s": sensor.gyro_range_rad_s,
        "start_utc": None if start is None else start.isoformat().replace("+00:00", "Z"),
        "cue_axis": None if axis is None else ", ".join(map(repr, axis)),
        "cue_axis_sd_rad": mounting.cue_axis_sd_rad,
        "sensor_from_butt_m": mounting.sensor_from_butt_m,
        "cue_length_m": mounting.cue_length_m,
    }
    lines = [f"# {key}: {value}" for key, value in known.items() if value is not None]
    labels = ((key, " ".join(text.split())) for key, text in recording.labels.items())
    return lines + [f"# {key}: {text}" for key, text in labels if _LABEL.fullmatch(key)]


def _column(name: str) -> tuple[str, float, str]:
    """Return quantity, factor to SI and unit of a column."""
    if name == CLIPPED_COLUMN:
        return CLIPPED_COLUMN, 1.0, ""
    quantity, _, unit = name.partition("_")
    units = {"time": TIME_UNITS}
    units |= {f"a{axis}": ACCEL_UNITS for axis in "xyz"}
    units |= {f"g{axis}": GYRO_UNITS for axis in "xyz"}
    if unit in units.get(quantity, {}):
        return quantity, units[quantity][unit], unit
    known = "; ".join(KNOWN_COLUMNS)
    problem = f"The header has an unknown column {name[:40]!r}."
    if ";" in name or "\t" in name:
        problem = "The columns are not separated by commas."
    raise HeadError(problem, f"Known columns: {known}.")


def _check_complete(quantities: tuple[str, ...]) -> None:
    """Refuse a header that lacks the time or one axis of three."""
    needed = ["time", "ax", "ay", "az"]
    if any(f"g{axis}" in quantities for axis in "xyz"):
        needed += ["gx", "gy", "gz"]
    missing = [quantity for quantity in needed if quantity not in quantities]
    if missing:
        problem = f"The header has no column for {', '.join(missing)}."
        remedy = "Export all three axes and the time; a gyroscope may be left out as a whole."
        raise HeadError(problem, remedy)


def _number(text: str) -> float:
    """Return a positive finite number."""
    value = float(text)
    if not (math.isfinite(value) and value > 0):
        raise ValueError("it must be above 0")
    return value


def _axis(text: str) -> tuple[float, float, float]:
    """Return a direction as a unit vector."""
    parts = [float(part) for part in text.strip("()[] ").split(",")]
    length = math.sqrt(sum(part * part for part in parts))
    if len(parts) != 3 or not (math.isfinite(length) and length > 0):
        raise ValueError("it must be three numbers that are not all 0")
    return parts[0] / length, parts[1] / length, parts[2] / length


def _moment(text: str) -> datetime:
    """Return an ISO 8601 time; one without a zone is UTC."""
    moment = datetime.fromisoformat(text)
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def _mounting(name: str, parse: Callable[[str], object]) -> Callable[[Notes, str], None]:
    """Return what sets one field of the mounting."""

    def set_it(notes: Notes, text: str) -> None:
        changes: dict[str, object] = {name: parse(text)}
        notes.mounting = replace(notes.mounting, **changes)  # type: ignore[arg-type]

    return set_it


def _sensor(name: str, parse: Callable[[str], object]) -> Callable[[Notes, str], None]:
    """Return what sets one field of the sensor."""

    def set_it(notes: Notes, text: str) -> None:
        changes: dict[str, object] = {name: parse(text)}
        notes.sensor = replace(notes.sensor, **changes)  # type: ignore[arg-type]

    return set_it


def _start(notes: Notes, text: str) -> None:
    """Set the start."""
    notes.start_utc = _moment(text)


_SETTERS: Final[dict[str, Callable[[Notes, str], None]]] = {
    "start_utc": _start,
    "cue_axis": _mounting("cue_axis", _axis),
    "cue_axis_sd_rad": _mounting("cue_axis_sd_rad", _number),
    "sensor_from_butt_m": _mounting("sensor_from_butt_m", _number),
    "cue_length_m": _mounting("cue_length_m", _number),
    "accel_range_m_s2": _sensor("accel_range_m_s2", _number),
    "accel_range_g": _sensor("accel_range_m_s2", lambda t: _number(t) * STANDARD_GRAVITY_M_S2),
    "gyro_range_rad_s": _sensor("gyro_range_rad_s", _number),
    "gyro_range_deg_s": _sensor("gyro_range_rad_s", lambda t: math.radians(_number(t))),
    "sensor_name": _sensor("name", str),
}
