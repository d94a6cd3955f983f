"""Series to choose from: the newest, and any other by a word of its name."""

from typing import Any

from cue_dashboard import words
from cue_dashboard.names import Names
from cue_practice.log import PracticeLog

ANY = "any"
N_OFFERED = 60
"""Series offered at once: more than anybody scrolls through, and few enough to be quick."""

Options = list[dict[str, str]]


def series_options(
    log: PracticeLog,
    player: Any,
    *,
    sought: str | None = None,
    chosen: str | None = None,
    is_played: bool = False,
) -> Options:
    """Return the series of a player to choose from, the newest first, and the choice of all.

    Parameters
    ----------
    log : PracticeLog
        Where the series are.
    player : str
        Number of the player, or "any".
    sought : str or None
        What the name must hold; None for the newest series.
    chosen : str or None
        Number of a series that must be among them.
    is_played : bool
        Whether series without a shot are left out.
    """
    names = Names(log)
    player_id = None if player in (None, ANY) else int(player)
    word = (sought or "").strip().casefold()
    # looking for a word needs every name; the newest do not
    series = log.all_series(player_id=player_id, newest=None if word else N_OFFERED)
    offered = [
        {"value": str(one.series_id), "label": names.series(one)}
        for one in series
        if one.n_shots or not is_played
    ]
    offered = [one for one in offered if word in one["label"].casefold()][:N_OFFERED]
    if chosen not in (None, ANY) and chosen not in [one["value"] for one in offered]:
        offered.append({"value": str(chosen), "label": names.series(log.series(int(str(chosen))))})
    return [{"value": ANY, "label": words.ALL_SERIES}, *offered]


def sought_in(sought: str | None, chosen: str | None, data: Options) -> str | None:
    """Return the word that is looked for: the name of the choice itself stands in the field too."""
    label = next((one["label"] for one in data if one["value"] == chosen), None)
    return None if not sought or sought == label else sought
