"""What the practice log hands out: frozen views of its entries, in SI units.

A series states what is held (set-up, tip height, side and, where a pace is called, the pace) and
what is free. A shot is one stroke, or one shot played without a sensor, with what it did.

Frames: tip heights and sides are of the cue's axis against the white's centre, below and to the
left positive; points are on the table, x from the left cushion, y from the bottom cushion.
"""

from dataclasses import dataclass
from datetime import datetime

from cue_practice.grades import Grade
from cue_practice.lesson_views import Lesson as Lesson
from cue_practice.lesson_views import Remark as Remark
from cue_practice.limits import is_a_pace
from cue_practice.sensor_views import CalibrationEntry as CalibrationEntry
from cue_practice.sensor_views import MountingEntry as MountingEntry
from cue_signal.stroke import Stroke
from cue_table.setup import SetUp, TableSize

Point = tuple[float, float]
"""A point on the table, x and y in metres."""


@dataclass(frozen=True)
class Player:
    """One who practises, known by a nickname only.

    Parameters
    ----------
    player_id : int
        Number in the log.
    nickname : str
        Unique in the log.
    added_utc : datetime
        When the player was entered.
    """

    player_id: int
    nickname: str
    added_utc: datetime


@dataclass(frozen=True)
class Cue:
    """A player's cue, or one that belongs to nobody in particular.

    Parameters
    ----------
    cue_id : int
        Number in the log.
    name : str
        Unique among the cues of the player.
    player_id : int or None
        Whose it is.
    mass_kg, length_m, tip_width_m : float
        Mass of the whole cue, length, width of the tip.
    """

    cue_id: int
    name: str
    player_id: int | None
    mass_kg: float
    length_m: float
    tip_width_m: float


@dataclass(frozen=True)
class Table:
    """A table somebody practises on.

    Parameters
    ----------
    table_id : int
        Number in the log.
    name : str
        Unique in the log.
    size : TableSize
        Its dimensions.
    sliding_friction, rolling_resistance : float or None
        Of its cloth, None where nobody measured them.
    """

    table_id: int
    name: str
    size: TableSize
    sliding_friction: float | None = None
    rolling_resistance: float | None = None

    @property
    def length_m(self) -> float:
        """Return the length between the cushion faces."""
        return self.size.length_m

    @property
    def width_m(self) -> float:
        """Return the width between the cushion faces."""
        return self.size.width_m


@dataclass(frozen=True)
class SetUpEntry:
    """A set-up in the log: chalk marks, pocket and where the white should come to rest.

    Parameters
    ----------
    setup_id, table_id : int
        Numbers in the log.
    setup : SetUp
        The set-up itself.
    """

    setup_id: int
    table_id: int
    setup: SetUp

    @property
    def name(self) -> str:
        """Return the set-up's name."""
        return self.setup.name


@dataclass(frozen=True)
class Series:
    """Shots played under one set of held settings.

    Parameters
    ----------
    series_id, player_id, cue_id, table_id, setup_id : int
        Numbers in the log.
    tip_below_centre_m, side_m : float
        Held: how far the cue's axis passes below, and left of, the white's centre.
    called_pace_m_s : float or None
        Held where the player plays to a called pace; None where the pace is free.
    started_utc : datetime
        First shot or entry.
    ended_utc : datetime or None
        None while it goes on.
    conditions : str
        What may matter besides, for example ``"cold room, last frame of the evening"``.
    note : str
        The player's or coach's words.
    is_discarded : bool
        Left out everywhere, can be restored.
    cloth : str
        How the cloth was, for example ``"brushed and ironed today"``.
    n_shots, n_graded, n_right : int
        Shots that are not discarded, those with a result, those with the right one.
    """

    series_id: int
    player_id: int
    cue_id: int
    table_id: int
    setup_id: int
    tip_below_centre_m: float
    side_m: float
    called_pace_m_s: float | None
    started_utc: datetime
    ended_utc: datetime | None = None
    conditions: str = ""
    note: str = ""
    is_discarded: bool = False
    cloth: str = ""
    n_shots: int = 0
    n_graded: int = 0
    n_right: int = 0

    @property
    def held(self) -> tuple[str, ...]:
        """Return what every shot of the series keeps, in words."""
        always = ("set-up", "tip height", "side")
        return always if self.called_pace_m_s is None else (*always, "pace")

    @property
    def free(self) -> tuple[str, ...]:
        """Return what may change from shot to shot, in words."""
        return ("pace",) if self.called_pace_m_s is None else ()


@dataclass(frozen=True)
class RecordingEntry:
    """A recording of a sensor that strokes of the log come from.

    Parameters
    ----------
    recording_id : int
        Number in the log.
    path : str
        Where the file was when it was entered.
    name : str
        Name of the file.
    sha256 : str or None
        Hash of its bytes; the same bytes are the same recording, wherever the file lies.
    start_utc : datetime or None
        UTC at time 0 of the recording, None where it does not say.
    sensor_kind, sensor_name : str
        What made it.
    added_utc : datetime
        When it was entered.
    analysed_with : str or None
        Version of the method that all of it was analysed again with, None if it never was.
    """

    recording_id: int
    path: str
    name: str
    sha256: str | None
    start_utc: datetime | None
    sensor_kind: str
    sensor_name: str
    added_utc: datetime
    analysed_with: str | None = None


@dataclass(frozen=True, eq=False)
class Shot:
    """One shot: how the cue went, and what the white did.

    Parameters
    ----------
    shot_id, series_id : int
        Numbers in the log.
    stroke : Stroke or None
        Measures without the trace; None for a shot played without a sensor.
    grade : Grade or None
        What the shot did; None until it is tapped.
    is_potted : bool or None
        Whether the object ball went in; None until it is tapped.
    cushion_point_m, stop_point_m : tuple of two floats or None
        Where the white met its first cushion after the object ball, and where it stopped.
    struck_utc : datetime
        When the tip met the ball.
    tapped_utc : datetime or None
        When the result was last tapped.
    note : str
        The player's or coach's words.
    is_discarded : bool
        No shot, or not wanted; can be restored.
    broken_rule : str or None
        Which held setting this shot did not keep, in words; such a shot is left out of the fit.
    recording_id : int or None
        Where the stroke was found.
    method_version : str or None
        Version of the method that measured it.
    is_mark_new : bool
        Whether the white's mark was chalked anew before this shot.
    """

    shot_id: int
    series_id: int
    stroke: Stroke | None
    grade: Grade | None
    is_potted: bool | None
    cushion_point_m: Point | None
    stop_point_m: Point | None
    struck_utc: datetime
    tapped_utc: datetime | None
    note: str
    is_discarded: bool
    broken_rule: str | None
    recording_id: int | None = None
    method_version: str | None = None
    is_mark_new: bool = False

    @property
    def pace_m_s(self) -> float | None:
        """Return the tip's speed at the hit, None without a stroke."""
        return None if self.stroke is None else self.stroke.tip_speed_m_s

    @property
    def pace_sd_m_s(self) -> float | None:
        """Return the standard uncertainty of the pace, None without a stroke."""
        return None if self.stroke is None else self.stroke.tip_speed_sd_m_s

    @property
    def is_fit_for_answer(self) -> bool:
        """Return whether the shot can teach which pace is right."""
        is_kept = not self.is_discarded and self.broken_rule is None
        is_told = self.pace_m_s is not None and self.grade is not None
        return is_kept and is_told and is_a_pace(self.pace_m_s or 0.0)


@dataclass(frozen=True)
class Change:
    """One entry of the log's history: what was changed, from what to what.

    Parameters
    ----------
    change_id : int
        Number in the log, rising with time.
    changed_utc : datetime
        When.
    what : str
        In words, for example ``"result of shot 12"``.
    series_id : int or None
        The series concerned, None where it was no series and no shot.
    shot_id : int or None
        The shot that was changed or remarked on, None where it was none.
    before, after : dict
        Fields that changed, by name, in SI units.
    is_undone : bool
        Whether it was taken back.
    entry, entry_id : str, int
        What was changed: ``"shot"``, ``"series"``, ``"remark"``, ``"lesson"``, ``"calibration"``
        or ``"mounting"``, and its number.
    """

    change_id: int
    changed_utc: datetime
    what: str
    series_id: int | None
    shot_id: int | None
    before: dict[str, object]
    after: dict[str, object]
    is_undone: bool
    entry: str
    entry_id: int
