"""The page a pupil takes home, as a page of its own to print and as a PDF.

Both are read-only addresses of this server: what is asked for is in the address, numbers of the
log and tenths of a millimetre, and nothing else is taken from it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

import dash
import flask

from cue_dashboard.desk import desk
from cue_dashboard.units import PaceScale
from cue_dashboard.words import coach as say
from cue_practice.errors import PracticeError
from cue_practice.questions import Held
from cue_table.errors import TableError

PAGE_PATH = "/coach/page"
PDF_PATH = "/coach/page.pdf"
_TENTHS_PER_M = 10_000.0
_NUMBERS = ("player", "setup", "below", "side")


@dataclass(frozen=True)
class Sheet:
    """Which page is asked for.

    Parameters
    ----------
    held : Held
        Player, set-up, tip height and side.
    scale : PaceScale
        Unit of pace.
    """

    held: Held
    scale: PaceScale

    @property
    def query(self) -> str:
        """Return it as the query of an address."""
        return urlencode(
            {
                "player": self.held.player_id,
                "setup": self.held.setup_id,
                "below": round(self.held.tip_below_centre_m * _TENTHS_PER_M),
                "side": round(self.held.side_m * _TENTHS_PER_M),
                "unit": self.scale.unit.value,
            }
        )


def register(app: dash.Dash) -> None:
    """Serve the two addresses."""
    app.server.add_url_rule(PAGE_PATH, "pupil_page", _page)
    app.server.add_url_rule(PDF_PATH, "pupil_pdf", _pdf)


def _page() -> flask.Response:
    """Serve the page to print."""
    from cue_practice.report import pupil_page  # heavy

    def make(sheet: Sheet) -> flask.Response:
        held = sheet.held
        page = pupil_page(
            desk().log,
            held.setup_id,
            held.player_id,
            held.tip_below_centre_m,
            side_m=held.side_m,
            pace=sheet.scale,
        )
        return flask.Response(page, mimetype="text/html")

    return _served(make)


def _pdf() -> flask.Response:
    """Serve the same as a file."""
    from cue_practice.report_pdf import pupil_pdf  # heavy

    def make(sheet: Sheet) -> flask.Response:
        held, log = sheet.held, desk().log
        pdf = pupil_pdf(
            log,
            held.setup_id,
            held.player_id,
            held.tip_below_centre_m,
            side_m=held.side_m,
            pace=sheet.scale,
        )
        name = next(one.nickname for one in log.players() if one.player_id == held.player_id)
        answer = flask.Response(pdf, mimetype="application/pdf")
        answer.headers.set(
            "Content-Disposition", "attachment", filename=say.PRINT_NAME.format(player=_plain(name))
        )
        return answer

    return _served(make)


def _served(make: Callable[[Sheet], flask.Response]) -> flask.Response:
    """Return what is asked for, or a sentence why it cannot be made."""
    try:
        return make(_asked(flask.request.args))
    except (PracticeError, TableError) as fault:
        return flask.Response(str(fault), status=404, mimetype="text/plain")


def _asked(fields: Any) -> Sheet:
    """Return which page an address asks for."""
    numbers = {name: fields.get(name, type=int) for name in _NUMBERS}
    missing = next((name for name, value in numbers.items() if value is None), None)
    if missing is not None:
        raise PracticeError(say.PRINT_WRONG.format(what=missing))
    held = Held(
        numbers["player"],
        numbers["setup"],
        numbers["below"] / _TENTHS_PER_M,
        numbers["side"] / _TENTHS_PER_M,
    )
    return Sheet(held, PaceScale.of(fields.get("unit")))


def _plain(name: str) -> str:
    """Return a nickname without anything a file's name may not have."""
    kept = "".join(one if one.isalnum() else "-" for one in name).strip("-")
    return kept or "pupil"
