"""The log's players, cues, tables and set-ups."""

from dataclasses import asdict
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from cue_practice.errors import PracticeError
from cue_practice.limits import checked_name, within
from cue_practice.rows import (
    cue_view,
    player_view,
    setup_values,
    setup_view,
    table_size,
    table_view,
)
from cue_practice.store import Store, change, get, now_utc
from cue_practice.tables import (
    CueRow,
    PlayerRow,
    SeriesRow,
    SetUpRow,
    TableRow,
)
from cue_practice.unset import UNSET, Unset, given
from cue_practice.views import Cue, Player, SetUpEntry, Table
from cue_table.setup import FULL_SIZE, SetUp, TableSize

CUE_MASS_KG = 0.51
CUE_LENGTH_M = 1.47
TIP_WIDTH_M = 0.0095
"""A usual cue; common practice, no source."""


class Entries(Store):
    """Players, cues, tables and set-ups of the log."""

    def add_player(self, nickname: str) -> Player:
        """Enter a player.

        Parameters
        ----------
        nickname : str
            Not empty, not yet taken.

        Returns
        -------
        Player
            The new entry.

        Raises
        ------
        PracticeError
            If the nickname is empty, too long or taken.
        """
        name = checked_name(nickname, "nickname")
        with self._write() as session:
            taken = select(PlayerRow).where(PlayerRow.nickname == name)
            _refuse_taken(session, taken, "player", name)
            row = PlayerRow(nickname=name, added_utc=now_utc())
            session.add(row)
            session.flush()
            return player_view(row)

    def players(self) -> list[Player]:
        """Return all players in the order of their nicknames."""
        with self._read() as session:
            rows = session.scalars(select(PlayerRow).order_by(PlayerRow.nickname))
            return [player_view(row) for row in rows]

    def add_cue(
        self,
        name: str,
        *,
        player_id: int | None = None,
        mass_kg: float = CUE_MASS_KG,
        length_m: float = CUE_LENGTH_M,
        tip_width_m: float = TIP_WIDTH_M,
    ) -> Cue:
        """Enter a cue.

        Parameters
        ----------
        name : str
            Not yet taken among the player's cues.
        player_id : int or None
            Whose it is.
        mass_kg, length_m, tip_width_m : float
            Mass of the whole cue, length, width of the tip.

        Returns
        -------
        Cue
            The new entry.

        Raises
        ------
        PracticeError
            If the name is taken, the player unknown, or a size makes no sense.
        """
        name = checked_name(name, "name of a cue")
        sizes = within(mass_kg=mass_kg, length_m=length_m, tip_width_m=tip_width_m)
        with self._write() as session:
            if player_id is not None:
                get(session, PlayerRow, player_id)
            taken = select(CueRow).where(CueRow.name == name, CueRow.player_id == player_id)
            _refuse_taken(session, taken, "cue", name)
            row = CueRow(name=name, player_id=player_id, **sizes)
            session.add(row)
            session.flush()
            return cue_view(row)

    def cues(self, player_id: int | None = None) -> list[Cue]:
        """Return the cues of a player and those that belong to nobody; all without a player."""
        wanted = select(CueRow).order_by(CueRow.name, CueRow.cue_id)
        if player_id is not None:
            is_theirs = (CueRow.player_id == player_id) | CueRow.player_id.is_(None)
            wanted = wanted.where(is_theirs)
        with self._read() as session:
            return [cue_view(row) for row in session.scalars(wanted)]

    def add_table(
        self,
        name: str,
        *,
        size: TableSize = FULL_SIZE,
        sliding_friction: float | None = None,
        rolling_resistance: float | None = None,
    ) -> Table:
        """Enter a table.

        Parameters
        ----------
        name : str
            Not yet taken.
        size : TableSize
            Its dimensions, full size by default.
        sliding_friction, rolling_resistance : float or None
            Of its cloth, where measured.

        Returns
        -------
        Table
            The new entry.

        Raises
        ------
        PracticeError
            If the name is taken or a coefficient makes no sense.
        """
        name = checked_name(name, "name of a table")
        cloth = {"sliding_friction": sliding_friction, "rolling_resistance": rolling_resistance}
        within(**{key: value for key, value in cloth.items() if value is not None})
        with self._write() as session:
            _refuse_taken(session, select(TableRow).where(TableRow.name == name), "table", name)
            others = asdict(size)
            sides = {side: others.pop(side) for side in ("length_m", "width_m")}
            row = TableRow(name=name, **sides, other_sizes=others, **cloth)
            session.add(row)
            session.flush()
            return table_view(row)

    def edit_table(
        self,
        table_id: int,
        *,
        sliding_friction: float | Unset | None = UNSET,
        rolling_resistance: float | Unset | None = UNSET,
    ) -> Table:
        """Correct what is known of a table's cloth; what is not given stays.

        The change is kept in the history and can be undone. Answers take it up at once.

        Parameters
        ----------
        table_id : int
            Which.
        sliding_friction, rolling_resistance : float or None
            Of its cloth; None where it is not known any more, for example with a new cloth.

        Returns
        -------
        Table
            As it is now.

        Raises
        ------
        PracticeError
            If there is no such table or a coefficient makes no sense.
        """
        values = given(sliding_friction=sliding_friction, rolling_resistance=rolling_resistance)
        within(**{key: value for key, value in values.items() if value is not None})
        with self._write() as session:
            row = get(session, TableRow, table_id, to_change=True)
            change(session, row, "cloth", values)
            session.flush()
            return table_view(row)

    def tables(self) -> list[Table]:
        """Return all tables in the order of their names."""
        with self._read() as session:
            rows = session.scalars(select(TableRow).order_by(TableRow.name))
            return [table_view(row) for row in rows]

    def add_setup(self, setup: SetUp, table_id: int) -> SetUpEntry:
        """Enter a set-up.

        Parameters
        ----------
        setup : cue_table.setup.SetUp
            What lies where; checked by the table model.
        table_id : int
            The table it is marked on, of the same size.

        Returns
        -------
        SetUpEntry
            The new entry.

        Raises
        ------
        PracticeError
            If its name is taken on that table, or the table has another size.
        cue_table.errors.TableError
            If the set-up cannot be played.
        """
        name = checked_name(setup.name, "name of a set-up")
        setup.check()
        with self._write() as session:
            table = get(session, TableRow, table_id)
            _refuse_other_size(setup, table)
            taken = select(SetUpRow).where(SetUpRow.name == name, SetUpRow.table_id == table_id)
            _refuse_taken(session, taken, "set-up", name)
            row = SetUpRow(table_id=table_id, **(setup_values(setup) | {"name": name}))
            session.add(row)
            session.flush()
            return setup_view(row, table)

    def update_setup(self, setup_id: int, setup: SetUp) -> SetUpEntry:
        """Put a set-up in the place of another that no series was played on yet.

        Parameters
        ----------
        setup_id : int
            Which is replaced; it stays on its table.
        setup : cue_table.setup.SetUp
            What lies where; checked by the table model.

        Returns
        -------
        SetUpEntry
            As it is now.

        Raises
        ------
        PracticeError
            If series were played on it, its new name is taken, or its table has another size.
        cue_table.errors.TableError
            If the set-up cannot be played.
        """
        name = checked_name(setup.name, "name of a set-up")
        setup.check()
        with self._write() as session:
            row = get(session, SetUpRow, setup_id, to_change=True)
            _refuse_played(session, row)
            table = get(session, TableRow, row.table_id)
            _refuse_other_size(setup, table)
            taken = select(SetUpRow).where(
                SetUpRow.name == name,
                SetUpRow.table_id == row.table_id,
                SetUpRow.setup_id != setup_id,
            )
            _refuse_taken(session, taken, "set-up", name)
            for column, value in (setup_values(setup) | {"name": name}).items():
                setattr(row, column, value)
            session.flush()
            return setup_view(row, table)

    def setups(self, table_id: int | None = None) -> list[SetUpEntry]:
        """Return the set-ups of one table, or all, in the order they were entered."""
        wanted = select(SetUpRow, TableRow).join(TableRow, SetUpRow.table_id == TableRow.table_id)
        if table_id is not None:
            wanted = wanted.where(SetUpRow.table_id == table_id)
        with self._read() as session:
            rows = session.execute(wanted.order_by(SetUpRow.setup_id)).all()
            return [setup_view(row, table) for row, table in rows]

    def setup(self, setup_id: int) -> SetUpEntry:
        """Return a set-up by its number; PracticeError if there is none."""
        with self._read() as session:
            row = get(session, SetUpRow, setup_id)
            return setup_view(row, get(session, TableRow, row.table_id))


def _refuse_taken(session: Session, wanted: Select[*tuple[Any, ...]], what: str, name: str) -> None:
    """Refuse a name that is in the log already."""
    if session.scalars(wanted.limit(1)).first() is not None:
        raise PracticeError(f"There is already a {what} called '{name}'. Choose another name.")


def _refuse_played(session: Session, row: SetUpRow) -> None:
    """Refuse to redraw a set-up whose marks shots were played from."""
    wanted = select(func.count()).where(SeriesRow.setup_id == row.setup_id)
    n_series = session.scalar(wanted) or 0
    if n_series:
        raise PracticeError(
            f"The set-up '{row.name}' has {n_series} series, whose shots were played from its "
            "marks. Save it under a new name."
        )


def _refuse_other_size(setup: SetUp, table: TableRow) -> None:
    """Refuse a set-up drawn for a table of another size."""
    size, own = setup.table, table_size(table)
    if size == own:
        return
    raise PracticeError(
        f"The set-up '{setup.name}' is drawn for a table of {size.length_m:g} x {size.width_m:g} m,"
        f" but '{table.name}' measures {own.length_m:g} x {own.width_m:g} m or differs in its "
        "marks. Draw it for that table."
    )
