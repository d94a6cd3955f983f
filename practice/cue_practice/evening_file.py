"""What a practice evening's file ``evening.json`` holds, checked before anything else is done."""

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, FiniteFloat, ValidationError

from cue_practice.errors import PracticeError
from cue_practice.grades import Grade
from cue_table.setup import PocketName

FILE_NAME = "evening.json"
FORMAT = "stunpace-evening/1"
MAX_BYTES = 50_000_000

_Name = Annotated[str, Field(min_length=1, max_length=80)]
_Point = tuple[FiniteFloat, FiniteFloat]


class _Entry(BaseModel):
    """Any entry: fields of no known name are refused, since they may be a slip of the pen."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class PlayerEntry(_Entry):
    """A player."""

    nickname: _Name


class CueEntry(_Entry):
    """A cue; null for the player of one that belongs to nobody."""

    name: _Name
    player: _Name | None = None
    mass_kg: FiniteFloat
    length_m: FiniteFloat
    tip_width_m: FiniteFloat


class TableEntry(_Entry):
    """A table."""

    name: _Name
    length_m: FiniteFloat
    width_m: FiniteFloat
    sliding_friction: FiniteFloat | None = None
    rolling_resistance: FiniteFloat | None = None


class SetUpFileEntry(_Entry):
    """A set-up on a table of the file."""

    name: _Name
    table: _Name
    white_m: _Point
    object_ball_m: _Point
    pocket: PocketName
    next_ball_m: _Point | None = None
    landing_area_m: Annotated[tuple[_Point, ...], Field(min_length=3)]
    obstacles_m: tuple[_Point, ...] = ()


class SeriesFileEntry(_Entry):
    """A series, and the recording beside the file that its strokes are in."""

    key: _Name
    player: _Name
    cue: _Name
    table: _Name
    setup: _Name
    recording: _Name
    tip_below_centre_m: FiniteFloat
    side_m: FiniteFloat = 0.0
    called_pace_m_s: FiniteFloat | None = None
    started_utc: AwareDatetime
    ended_utc: AwareDatetime | None = None
    note: str = ""


class TapEntry(_Entry):
    """A result as it was tapped."""

    tapped_utc: AwareDatetime
    series: _Name
    grade: Grade | None
    is_potted: bool | None = None
    cushion_point_m: _Point | None = None
    stop_point_m: _Point | None = None
    note: str = ""


class EveningFile(_Entry):
    """The whole file."""

    format: Literal["stunpace-evening/1"]
    invented: bool = False
    scenario: str = ""
    players: tuple[PlayerEntry, ...]
    cues: tuple[CueEntry, ...]
    tables: tuple[TableEntry, ...]
    setups: tuple[SetUpFileEntry, ...]
    series: tuple[SeriesFileEntry, ...]
    taps: tuple[TapEntry, ...] = ()


def read_evening(folder: Path) -> EveningFile:
    """Return what a folder's evening.json holds.

    Parameters
    ----------
    folder : Path
        With the file and its recordings.

    Returns
    -------
    EveningFile
        Every name it uses is one it gives, every recording is there.

    Raises
    ------
    PracticeError
        Naming file, entry and field.
    """
    file = folder / FILE_NAME
    try:
        evening = EveningFile.model_validate(_json(file))
    except ValidationError as error:
        raise PracticeError(_sentence(file, error)) from error
    _check_names(file, evening)
    for place, series in enumerate(evening.series):
        if Path(series.recording).name != series.recording:
            raise _wrong(file, f"series[{place}].recording", series.recording, "a plain file name")
        if not (folder / series.recording).is_file():
            raise PracticeError(
                f"{file}, series[{place}].recording: there is no file '{series.recording}' in "
                f"{folder}. Put it there."
            )
    return evening


def _json(file: Path) -> Any:
    """Return a file's JSON."""
    try:
        if file.stat().st_size > MAX_BYTES:
            raise PracticeError(
                f"{file} has {file.stat().st_size / 1e6:.0f} MB; an evening has at most "
                f"{MAX_BYTES / 1e6:.0f} MB. Check that it is the right file."
            )
        return json.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise PracticeError(
            f"{file} cannot be read: {error.strerror}. Name a folder that holds {FILE_NAME}."
        ) from error
    except (UnicodeDecodeError, RecursionError) as error:
        raise PracticeError(f"{file} is no JSON text: {error}. Save it as UTF-8.") from error
    except json.JSONDecodeError as error:
        raise PracticeError(
            f"{file}, line {error.lineno}, column {error.colno}: no JSON here ({error.msg}). "
            "Correct the file."
        ) from error


def _sentence(file: Path, error: ValidationError) -> str:
    """Return the first thing that is wrong with a file, and how much more there is."""
    found = error.errors(include_url=False, include_context=False)
    first = found[0]
    place = _place(first["loc"])
    told = first["msg"][0].lower() + first["msg"][1:]
    got = (
        "" if first["type"] in {"missing", "extra_forbidden"} else f", got {_short(first['input'])}"
    )
    more = f" ({len(found) - 1} more places are wrong.)" if len(found) > 1 else ""
    return f"{file}, {place}: {told}{got}. Correct the file.{more}"


def _place(steps: Iterable[int | str]) -> str:
    """Return where in a file something is, like taps[3].grade."""
    place = ""
    for step in steps:
        place += f"[{step}]" if isinstance(step, int) else f".{step}"
    return place.removeprefix(".") or "the whole file"


def _short(value: Any) -> str:
    """Return a value as the file has it, cut where it is long."""
    text = json.dumps(value, default=str)
    return text if len(text) <= 60 else text[:57] + "..."


def _check_names(file: Path, evening: EveningFile) -> None:
    """Refuse names that are given twice, or used and never given."""
    players = _given(file, "players", [entry.nickname for entry in evening.players])
    tables = _given(file, "tables", [entry.name for entry in evening.tables])
    cues = _given(file, "cues", [(entry.player, entry.name) for entry in evening.cues])
    setups = _given(file, "setups", [(entry.table, entry.name) for entry in evening.setups])
    series = _given(file, "series", [entry.key for entry in evening.series])
    for place, cue in enumerate(evening.cues):
        if cue.player is not None:
            _check_given(file, f"cues[{place}].player", cue.player, cue.player, players)
    for place, setup in enumerate(evening.setups):
        _check_given(file, f"setups[{place}].table", setup.table, setup.table, tables)
    for place, one in enumerate(evening.series):
        here = f"series[{place}]"
        _check_given(file, f"{here}.player", one.player, one.player, players)
        _check_given(file, f"{here}.table", one.table, one.table, tables)
        _check_given(file, f"{here}.setup", one.setup, (one.table, one.setup), setups)
        whose = one.player if (one.player, one.cue) in cues else None
        _check_given(file, f"{here}.cue", one.cue, (whose, one.cue), cues)
    for place, tap in enumerate(evening.taps):
        _check_given(file, f"taps[{place}].series", tap.series, tap.series, series)


def _given(file: Path, what: str, names: list[Any]) -> set[Any]:
    """Return the names of a list, refusing one that comes twice."""
    for place, name in enumerate(names):
        if name in names[:place]:
            raise _wrong(file, f"{what}[{place}]", name, "a name that is not given yet")
    return set(names)


def _check_given(file: Path, place: str, name: str, key: Any, known: set[Any]) -> None:
    """Refuse a name that the file does not give."""
    if key not in known:
        raise _wrong(file, place, name, "a name that the file gives")


def _wrong(file: Path, place: str, value: Any, expected: str) -> PracticeError:
    """Return the error of one wrong value."""
    return PracticeError(f"{file}, {place}: {value!r} is not {expected}. Correct the file.")
