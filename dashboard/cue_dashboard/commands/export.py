"""Commands that write what the log holds for other programs and for people."""

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypedDict, TypeVar, Unpack

import click

from cue_dashboard.units import MM_PER_M, PaceScale, PaceUnit
from cue_practice.errors import PracticeError

if TYPE_CHECKING:
    import pandas

    from cue_practice.log import PracticeLog
    from cue_practice.questions import Question

_Command = TypeVar("_Command", bound=Callable[..., Any])
_SAME_MM = 0.051


@click.group()
def export() -> None:
    """Write shots as CSV or Parquet, or a pupil's page as HTML or PDF."""


class TableChoices(TypedDict):
    """Options of a table."""

    player: str | None
    setup: str | None
    since: datetime | None
    until: datetime | None
    what: str
    discarded: bool
    overwrite: bool


class PageOptions(TypedDict):
    """Options of a page."""

    player: str | None
    setup: str | None
    height_mm: float | None
    side_mm: float | None
    notes: str
    notes_file: Path | None
    exercise: str
    shot_id: int | None
    unit: str
    overwrite: bool


def _all_of(*options: Callable[[_Command], _Command]) -> Callable[[_Command], _Command]:
    """Return one decorator that adds several options in this order."""

    def add(command: _Command) -> _Command:
        for option in reversed(options):
            command = option(command)
        return command

    return add


_FILE = click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
_WHO = _all_of(
    click.option("--player", metavar="NICKNAME", help="Only this player's."),
    click.option("--set-up", "setup", metavar="NAME", help="Only on this set-up."),
)
_OVERWRITE = click.option("--overwrite", is_flag=True, help="Replace FILE if it is there.")
_TABLE = _all_of(
    _FILE,
    _WHO,
    click.option(
        "--since", type=click.DateTime(["%Y-%m-%d"]), help="From this day on, like 2026-03-04."
    ),
    click.option(
        "--until", type=click.DateTime(["%Y-%m-%d"]), help="Up to this day, the day included."
    ),
    click.option(
        "--what",
        type=click.Choice(["shots", "series", "evenings"]),
        default="shots",
        show_default=True,
        help="One row for each shot, series or evening.",
    ),
    click.option("--discarded", is_flag=True, help="Discarded shots as well (shots only)."),
    _OVERWRITE,
)
_PAGE = _all_of(
    _FILE,
    _WHO,
    click.option("--height-mm", type=float, help="Tip height below centre that was held, in mm."),
    click.option("--side-mm", type=float, help="Side that was held, in mm to the left."),
    click.option("--notes", default="", help="The coach's words; the newest lesson's if left out."),
    click.option(
        "--notes-file",
        type=click.Path(path_type=Path, dir_okay=False, exists=True),
        help="A text file with the coach's words.",
    ),
    click.option("--exercise", default="", help="What to practise next."),
    click.option("--shot", "shot_id", type=int, help="Number of the shot whose speed is drawn."),
    click.option(
        "--unit",
        type=click.Choice([unit.value for unit in PaceUnit]),
        default=PaceUnit.M_S.value,
        show_default=True,
        help="Unit of pace.",
    ),
    _OVERWRITE,
)


@export.command("csv")
@_TABLE
def csv_file(file: Path, **choices: Unpack[TableChoices]) -> None:
    """Write a table as the CSV file FILE, units in its header."""
    from cue_practice.exports import write_csv

    _write_table(file, choices, write_csv)


@export.command()
@_TABLE
def parquet(file: Path, **choices: Unpack[TableChoices]) -> None:
    """Write a table as the Parquet file FILE (needs the extra "parquet")."""
    from cue_practice.exports import write_parquet

    _write_table(file, choices, write_parquet)


@export.command("pupil-page")
@_PAGE
def pupil_page(file: Path, **options: Unpack[PageOptions]) -> None:
    """Write the page for a pupil to take home as the HTML file FILE."""
    from cue_practice.log import PracticeLog
    from cue_practice.report import pupil_page as page_of
    from cue_practice.report import write_page

    _check_free(file, is_overwriting=options["overwrite"])
    with PracticeLog() as log:
        asked = _question(log, options)
        page = page_of(log, *_place(asked), **_page_choices(asked, options))
    write_page(page, file)
    click.echo(f"The page on {asked.words} is in {file}.")


@export.command()
@_PAGE
def pdf(file: Path, **options: Unpack[PageOptions]) -> None:
    """Write the page for a pupil to take home as the PDF file FILE."""
    from cue_practice.log import PracticeLog
    from cue_practice.report_pdf import pupil_pdf, write_pdf

    _check_free(file, is_overwriting=options["overwrite"])
    with PracticeLog() as log:
        asked = _question(log, options)
        data = pupil_pdf(log, *_place(asked), **_page_choices(asked, options))
    write_pdf(data, file)
    click.echo(f"The page on {asked.words} is in {file}.")


def _write_table(
    file: Path, choices: TableChoices, write: "Callable[[pandas.DataFrame, Path], None]"
) -> None:
    """Write the chosen table and say how long it is."""
    from cue_practice.log import PracticeLog

    _check_free(file, is_overwriting=choices["overwrite"])
    with PracticeLog() as log:
        frame = _table(log, choices)
    write(frame, file)
    n, what = len(frame), choices["what"]
    click.echo(f"{n} {what[:-1] if n == 1 and what != 'series' else what} written to {file}.")


def _table(log: "PracticeLog", choices: TableChoices) -> "pandas.DataFrame":
    """Return the chosen table."""
    from cue_practice.frames import series_frame, shots_frame

    since, until = choices["since"], choices["until"]
    player_id = None if choices["player"] is None else _player_id(log, choices["player"])
    setup_id = None if choices["setup"] is None else _setup_id(log, choices["setup"])
    since_utc = None if since is None else since.astimezone()
    until_utc = None if until is None else (until + timedelta(days=1)).astimezone()
    if choices["what"] == "evenings":
        from cue_practice.progress import evenings, progress_frame

        played = log.played_shots(
            _only_player(log) if player_id is None else player_id,
            setup_id=setup_id,
            since_utc=since_utc,
            until_utc=until_utc,
        )
        return progress_frame(evenings(played))
    if choices["what"] == "series":
        return series_frame(
            log, player_id=player_id, setup_id=setup_id, since_utc=since_utc, until_utc=until_utc
        )
    return shots_frame(
        log,
        player_id=player_id,
        setup_id=setup_id,
        since_utc=since_utc,
        until_utc=until_utc,
        include_discarded=choices["discarded"],
    )


def _question(log: "PracticeLog", options: PageOptions) -> "Question":
    """Return the one question that is meant; the newest where several are left."""
    from cue_practice.questions import graded, questions

    found = questions(log)
    if options["player"] is not None:
        player_id = _player_id(log, options["player"])
        found = [one for one in found if one.player.player_id == player_id]
    if options["setup"] is not None:
        setup_id = _setup_id(log, options["setup"])
        found = [one for one in found if one.setup.setup_id == setup_id]
    for key, name in (("height_mm", "tip_below_centre_m"), ("side_mm", "side_m")):
        wanted = options[key]  # type: ignore[literal-required]
        if wanted is not None:
            found = [q for q in found if abs(getattr(q, name) * MM_PER_M - wanted) < _SAME_MM]
    if not found:
        known = "; ".join(one.words for one in questions(log)) or "nothing yet"
        raise PracticeError(f"Nobody has played that. There is: {known}.")
    newest = list(graded(log))
    return min(found, key=lambda q: newest.index(q.held) if q.held in newest else len(newest))


def _page_choices(asked: "Question", options: PageOptions) -> dict[str, Any]:
    """Return what the page is given besides the question."""
    notes = options["notes"]
    if options["notes_file"] is not None:
        try:
            notes = options["notes_file"].read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise PracticeError(
                f"{options['notes_file']} cannot be read as UTF-8 text. Save it as such."
            ) from error
    return {
        "side_m": asked.side_m,
        "notes": notes,
        "exercise": options["exercise"],
        "shot_id": options["shot_id"],
        "pace": PaceScale.of(options["unit"]),
    }


def _place(asked: "Question") -> tuple[int, int, float]:
    """Return set-up, player and tip height of a question."""
    return asked.setup.setup_id, asked.player.player_id, asked.tip_below_centre_m


def _player_id(log: "PracticeLog", nickname: str) -> int:
    """Return a player's number."""
    known = {one.nickname: one.player_id for one in log.players()}
    return _number(known, nickname, "player")


def _setup_id(log: "PracticeLog", name: str) -> int:
    """Return a set-up's number."""
    known = {one.name: one.setup_id for one in log.setups()}
    return _number(known, name, "set-up")


def _number(known: dict[str, int], name: str, what: str) -> int:
    """Return a number by name, the case of its letters aside."""
    folded = {one.casefold(): number for one, number in known.items()}
    if name.casefold() not in folded:
        listed = ", ".join(known) or "none yet"
        raise PracticeError(f"There is no {what} '{name}' in the log. There is: {listed}.")
    return folded[name.casefold()]


def _only_player(log: "PracticeLog") -> int:
    """Return the player where there is one alone."""
    players = log.players()
    if len(players) != 1:
        listed = ", ".join(one.nickname for one in players) or "none yet"
        raise PracticeError(f"Evenings are of one player: give --player. There is: {listed}.")
    return players[0].player_id


def _check_free(file: Path, *, is_overwriting: bool) -> None:
    """Refuse to replace a file that nobody said may go."""
    if file.exists() and not is_overwriting:
        raise PracticeError(
            f"There is already a file {file}. Choose a name that is free, or add --overwrite."
        )
