"""What is kept of sharing while the program is away, so that a restart costs nobody a new link.

Only digests of passes are written down; who reads the file is let in by it nowhere.
"""

import json
import logging
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cue_practice.errors import PracticeError
from cue_practice.whole_file import whole_file

FILE_NAME = "sharing-guests.json"
PASS_LASTS_S = 12 * 3600
"""A long practice day; the host can remove a guest sooner."""

logger = logging.getLogger(__name__)


@dataclass(frozen=True)
class Guest:
    """A device that was let in.

    Parameters
    ----------
    guest_id : int
        Counts up from 1.
    label : str
        What the device says it is.
    joined_utc, seen_utc : datetime
        When it was let in, and when it last asked for something.
    may_change : bool
        Whether it may tap and change, or only look.
    """

    guest_id: int
    label: str
    joined_utc: datetime
    seen_utc: datetime
    may_change: bool = True

    @property
    def is_welcome(self) -> bool:
        """Return whether the guest's pass is still good."""
        return datetime.now(UTC) - self.joined_utc < timedelta(seconds=PASS_LASTS_S)


@dataclass(frozen=True)
class GuestBook:
    """What is kept.

    Parameters
    ----------
    port : int
        Where the door was, 0 where it was not open yet; devices look there again.
    guests : mapping of bytes to Guest
        By the digest of their passes.
    """

    port: int = 0
    guests: Mapping[bytes, Guest] = field(default_factory=dict)


def read_book(path: Path) -> GuestBook:
    """Return what was kept; nothing where there is no such file, or it is damaged.

    Parameters
    ----------
    path : Path
        The file.
    """
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        guests = {bytes.fromhex(key): _guest(one) for key, one in kept["guests"].items()}
        return GuestBook(int(kept["port"]), {k: g for k, g in guests.items() if g.is_welcome})
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return GuestBook()


def write_book(path: Path, book: GuestBook) -> None:
    """Keep who was let in; where that cannot be written sharing goes on without.

    Parameters
    ----------
    path : Path
        The file.
    book : GuestBook
        What to keep.
    """
    guests = {
        key.hex(): {
            "guest_id": one.guest_id,
            "label": one.label,
            "joined_utc": one.joined_utc.isoformat(),
            "may_change": one.may_change,
        }
        for key, one in book.guests.items()
    }
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with whole_file(path, "list of devices that were let in") as stream:
            json.dump({"port": book.port, "guests": guests}, stream)
    except (OSError, PracticeError) as fault:
        logger.warning("a restart will ask every device for a new link: %s", fault)


def _guest(kept: Mapping[str, object]) -> Guest:
    """Return a guest as it was kept, seen last when it was let in."""
    joined_utc = datetime.fromisoformat(str(kept["joined_utc"]))
    if joined_utc.tzinfo is None:
        raise ValueError("a time without its zone")
    may_change = kept.get("may_change", True) is True  # before there were others all might
    return Guest(int(str(kept["guest_id"])), str(kept["label"]), joined_utc, joined_utc, may_change)
