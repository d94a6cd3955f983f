"""Have ready what the first page of a program would wait for: slow imports, a long log's sums."""

import importlib
import logging

from cue_dashboard.pupil_shots import pupil_shots
from cue_dashboard.sides import NOBODY, YEAR, sides_of
from cue_practice.errors import PracticeError
from cue_practice.log import PracticeLog

_HEAVY = ("cue_dashboard.evidence", "cue_practice.answer", "cue_practice.heights")

_logger = logging.getLogger(__name__)


def warm_pages(log: PracticeLog) -> None:
    """Import what pages import late, and read what they keep of the player who played last.

    Meant for a thread of its own: a page that is asked for meanwhile waits for its part of it.

    Parameters
    ----------
    log : PracticeLog
        Whose pages will be opened.
    """
    for name in _HEAVY:
        importlib.import_module(name)
    try:
        player_id = log.last_player_id()
        log.shots_by_held()
        if player_id is not None:
            log.own_spread(player_id)
            sides_of(log, player_id, NOBODY, None, YEAR)
            pupil_shots(log, player_id)
    except PracticeError as fault:  # the page that is opened next says so as well
        _logger.info("nothing was read beforehand: %s", fault)
