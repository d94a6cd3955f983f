"""Bringing a practice evening into the log: recordings are analysed, taps find their strokes."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from cue_practice.errors import PracticeError
from cue_practice.evening_file import (
    EveningFile,
    SeriesFileEntry,
    SetUpFileEntry,
    TapEntry,
    read_evening,
)
from cue_practice.log import PracticeLog
from cue_practice.views import Series, Shot, Table
from cue_sensors.load import load_recording
from cue_sensors.samples import SensorInfo
from cue_signal.analysis import analyse
from cue_signal.stroke import Stroke
from cue_table.errors import TableError
from cue_table.setup import SetUp, TableSize

TAP_WITHIN = timedelta(seconds=20)
"""A tap this late still belongs to the stroke before it."""

OnProgress = Callable[[int, int, str], None]
"""Called with how many steps are done, how many there are, and what comes next."""


@dataclass(frozen=True)
class EveningReport:
    """What became of an evening.

    Parameters
    ----------
    series : dict of str to Series
        The log's series by their key in the file.
    n_recordings, n_strokes : int
        Recordings read, strokes found in them.
    n_new_strokes : int
        Of these, how many the log did not have yet.
    n_taps, n_taps_kept : int
        Taps in the file, and how many now are, or already were, the result of a stroke.
    notes : tuple of str
        Sentences on what limits the result: cut-off recordings, taps without a stroke.
    """

    series: dict[str, Series]
    n_recordings: int
    n_strokes: int
    n_new_strokes: int
    n_taps: int
    n_taps_kept: int
    notes: tuple[str, ...]


def load_evening(
    log: PracticeLog, folder: str | Path, *, on_progress: OnProgress | None = None
) -> EveningReport:
    """Read a practice evening, analyse its recordings and keep strokes and results in the log.

    Everything is read and analysed before the log is touched, so a bad file changes nothing. An
    evening that is loaded again adds nothing, and overrides no result that was changed since.

    Parameters
    ----------
    log : PracticeLog
        Where to.
    folder : str or Path
        With ``evening.json`` and the recordings it names.
    on_progress : callable, optional
        Called before each step and after the last.

    Returns
    -------
    EveningReport
        What became of it.

    Raises
    ------
    PracticeError
        If the file or an entry cannot be used.
    cue_sensors.errors.SensorError, cue_signal.errors.SignalError, cue_table.errors.TableError
        If a recording or a set-up cannot.
    """
    place = Path(folder)
    evening = read_evening(place)
    setups = [_setup(evening, entry, index) for index, entry in enumerate(evening.setups)]
    names = sorted({entry.recording for entry in evening.series})
    tell = on_progress or _say_nothing
    analysed = []
    for done, name in enumerate(names):
        tell(done, len(names) + 1, f"analysing {name}")
        analysed.append(_analysed(place / name))
    tell(len(names), len(names) + 1, "keeping strokes and results")
    report = _keep(log, evening, setups, analysed)
    tell(len(names) + 1, len(names) + 1, "done")
    return report


@dataclass(frozen=True, eq=False)
class _Analysed:
    """One recording without its samples, and the strokes found in it."""

    file: Path
    start_utc: datetime | None
    sensor: SensorInfo
    strokes: tuple[Stroke, ...]
    notes: tuple[str, ...]


def _analysed(file: Path) -> _Analysed:
    """Return a recording's strokes."""
    recording = load_recording(file)
    analysis = analyse(recording)
    return _Analysed(
        file=file,
        start_utc=recording.start_utc,
        sensor=recording.sensor,
        strokes=analysis.strokes,
        notes=(*recording.problems, *analysis.notes),
    )


def _say_nothing(_done: int, _total: int, _words: str) -> None:
    """Take no notice of progress."""


def _setup(evening: EveningFile, entry: SetUpFileEntry, index: int) -> SetUp:
    """Return a set-up of the file, checked."""
    table = next(table for table in evening.tables if table.name == entry.table)
    try:
        setup = SetUp(
            name=entry.name,
            table=TableSize(length_m=table.length_m, width_m=table.width_m),
            white_m=entry.white_m,
            object_ball_m=entry.object_ball_m,
            pocket=entry.pocket,
            next_ball_m=entry.next_ball_m,
            landing_area_m=entry.landing_area_m,
            obstacles_m=entry.obstacles_m,
        )
        setup.check()
    except TableError as error:
        raise PracticeError(f"evening.json, setups[{index}]: {error}") from error
    return setup


def _keep(
    log: PracticeLog, evening: EveningFile, setups: Sequence[SetUp], analysed: Sequence[_Analysed]
) -> EveningReport:
    """Enter everything in the log."""
    series = _series(log, evening, setups)
    n_before, n_strokes, n_kept = log.n_strokes(), 0, 0
    notes: list[str] = []
    for one in analysed:
        own = [entry for entry in evening.series if entry.recording == one.file.name]
        shots = _keep_strokes(log, one, own, series)
        taps = [tap for tap in evening.taps if tap.series in {entry.key for entry in own}]
        lost = _keep_taps(log, shots, taps)
        n_strokes += len(shots)
        n_kept += len(taps) - len(lost)
        notes += [f"{one.file.name}: {words}" for words in (*one.notes, *lost)]
    return EveningReport(
        series={key: log.series(entry.series_id) for key, entry in series.items()},
        n_recordings=len(analysed),
        n_strokes=n_strokes,
        n_new_strokes=log.n_strokes() - n_before,
        n_taps=len(evening.taps),
        n_taps_kept=n_kept,
        notes=tuple(notes),
    )


def _series(log: PracticeLog, evening: EveningFile, setups: Sequence[SetUp]) -> dict[str, Series]:
    """Return the log's series of an evening by key, entering what is not there yet."""
    players = {player.nickname: player.player_id for player in log.players()}
    for player in evening.players:
        if player.nickname not in players:
            players[player.nickname] = log.add_player(player.nickname).player_id
    tables = {table.name: table for table in log.tables()}
    for table in evening.tables:
        if table.name not in tables:
            tables[table.name] = log.add_table(
                table.name,
                size=TableSize(length_m=table.length_m, width_m=table.width_m),
                sliding_friction=table.sliding_friction,
                rolling_resistance=table.rolling_resistance,
            )
    cues = _cues(log, evening, players)
    places = {
        (entry.table, entry.name): _place(log, setup, tables[entry.table])
        for entry, setup in zip(evening.setups, setups, strict=True)
    }
    found = {}
    for entry in evening.series:
        whose = entry.player if (entry.player, entry.cue) in cues else None
        held = _Held(
            player_id=players[entry.player],
            cue_id=cues[whose, entry.cue],
            table_id=tables[entry.table].table_id,
            setup_id=places[entry.table, entry.setup],
        )
        found[entry.key] = _one_series(log, entry, held)
    return found


@dataclass(frozen=True)
class _Held:
    """Numbers in the log of what a series names."""

    player_id: int
    cue_id: int
    table_id: int
    setup_id: int


def _cues(
    log: PracticeLog, evening: EveningFile, players: dict[str, int]
) -> dict[tuple[str | None, str], int]:
    """Return the log's cues of an evening by owner and name, entering what is not there yet."""
    known = {(cue.player_id, cue.name): cue.cue_id for cue in log.cues()}
    found = {}
    for entry in evening.cues:
        player_id = None if entry.player is None else players[entry.player]
        cue_id = known.get((player_id, entry.name))
        if cue_id is None:
            cue_id = log.add_cue(
                entry.name,
                player_id=player_id,
                mass_kg=entry.mass_kg,
                length_m=entry.length_m,
                tip_width_m=entry.tip_width_m,
            ).cue_id
        found[entry.player, entry.name] = cue_id
    return found


def _place(log: PracticeLog, setup: SetUp, table: Table) -> int:
    """Return the number of a set-up, entering it if it is not there yet."""
    for known in log.setups(table.table_id):
        if known.name == setup.name:
            if replace(known.setup, table=setup.table) != setup:
                raise PracticeError(
                    f"The log already has another set-up '{setup.name}' on '{table.name}'. "
                    "Give the one in evening.json another name."
                )
            return known.setup_id
    return log.add_setup(replace(setup, table=table.size), table.table_id).setup_id


def _one_series(log: PracticeLog, entry: SeriesFileEntry, held: _Held) -> Series:
    """Return a series of the log, entering it if it is not there yet.

    It is known by player, set-up and start alone: its settings may have been corrected since.
    """
    for known in log.all_series(
        player_id=held.player_id, setup_id=held.setup_id, include_discarded=True
    ):
        if known.started_utc == entry.started_utc:
            return known
    return log.add_series(
        **asdict(held),
        tip_below_centre_m=entry.tip_below_centre_m,
        side_m=entry.side_m,
        called_pace_m_s=entry.called_pace_m_s,
        started_utc=entry.started_utc,
        ended_utc=entry.ended_utc,
        note=entry.note,
    )


def _keep_strokes(
    log: PracticeLog,
    one: _Analysed,
    own: Sequence[SeriesFileEntry],
    series: dict[str, Series],
) -> list[Shot]:
    """Enter a recording's strokes, each in the series it was played in."""
    recording = log.add_recording(
        one.file,
        start_utc=one.start_utc,
        sensor_kind=one.sensor.kind,
        sensor_name=one.sensor.name,
    )
    start_utc = recording.start_utc or min(entry.started_utc for entry in own)
    strokes: dict[str, list[Stroke]] = {}
    for stroke in one.strokes:
        struck_utc = start_utc + timedelta(seconds=float(stroke.impact_time_s))
        nearest = min(own, key=lambda entry: _away(entry, struck_utc))
        strokes.setdefault(nearest.key, []).append(stroke)
    shots = []
    for key, some in strokes.items():
        shots += log.add_strokes(recording.recording_id, series[key].series_id, some)
    return shots


def _away(entry: SeriesFileEntry, moment: datetime) -> timedelta:
    """Return how far outside of a series a moment lies."""
    if moment < entry.started_utc:
        return entry.started_utc - moment
    if entry.ended_utc is None or moment <= entry.ended_utc:
        return timedelta(0)
    return moment - entry.ended_utc


def _keep_taps(log: PracticeLog, shots: Sequence[Shot], taps: Sequence[TapEntry]) -> list[str]:
    """Give each tap to its stroke and return a sentence for each that has none."""
    waiting = sorted(shots, key=lambda shot: shot.struck_utc)
    lost = []
    for tap in sorted(taps, key=lambda tap: tap.tapped_utc):
        fitting = [
            shot
            for shot in waiting
            if timedelta(0) <= tap.tapped_utc - shot.struck_utc <= TAP_WITHIN
        ]
        if not fitting:
            lost.append(
                f"the tap at {tap.tapped_utc:%H:%M:%S} UTC is no stroke's result: none was found "
                f"in the {TAP_WITHIN.total_seconds():.0f} s before it."
            )
            continue
        waiting.remove(fitting[-1])
        _keep_tap(log, fitting[-1], tap)
    return lost


def _keep_tap(log: PracticeLog, shot: Shot, tap: TapEntry) -> None:
    """Keep a tap as a shot's result, unless that was ever tapped or changed before."""
    if shot.tapped_utc is not None or log.history(shot_id=shot.shot_id, newest=1):
        return
    log.set_result(
        shot.shot_id,
        grade=tap.grade,
        is_potted=tap.is_potted,
        cushion_point_m=tap.cushion_point_m,
        stop_point_m=tap.stop_point_m,
        note=tap.note,
        tapped_utc=tap.tapped_utc,
    )
