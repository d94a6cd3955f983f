"""Who may use the pages from another device: one-time links, guests, and how often they may ask.

A guest is known until he is removed, sharing is stopped or half a day has gone. Only digests of
links and passes are kept, so that nothing in memory or in a file lets anyone in.
"""

import hashlib
import secrets
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from limits import RateLimitItem, RateLimitItemPerMinute, RateLimitItemPerSecond
from limits.storage import MemoryStorage
from limits.strategies import FixedWindowRateLimiter

from cue_dashboard.guest_book import Guest

LINK_LASTS_S = 600.0
"""How long an unused link lets somebody in."""
N_RANDOM_BYTES = 32
MAX_LABEL_LETTERS = 60

PER_GUEST = RateLimitItemPerSecond(60)
"""A page in front asks about fifteen times a second, and up to 35 times while a stroke ends."""
PER_STRANGER = RateLimitItemPerSecond(5)
JOINS = RateLimitItemPerMinute(10)


@dataclass(frozen=True)
class _Link:
    """What is kept of a link that was not used yet."""

    digest: bytes
    until_s: float
    may_change: bool


class Sharing:
    """Links and guests; safe to use from many threads.

    Parameters
    ----------
    clock : callable, optional
        Seconds on a clock that nobody sets.
    on_change : callable, optional
        Called with all guests by the digests of their passes, whenever one came or went.
    """

    def __init__(
        self,
        clock: Callable[[], float] = time.monotonic,
        on_change: Callable[[Mapping[bytes, Guest]], object] | None = None,
    ) -> None:
        self._clock, self._on_change = clock, on_change
        self._lock = threading.Lock()
        self._link: _Link | None = None
        self._guests: dict[bytes, Guest] = {}
        self._n_joined = 0
        self._limiter = FixedWindowRateLimiter(MemoryStorage())

    def invite(self, *, may_change: bool = True) -> str:
        """Return a token that lets one device in within ten minutes; an older one is void.

        Parameters
        ----------
        may_change : bool
            Whether the device may tap and change, or only look.
        """
        token = secrets.token_urlsafe(N_RANDOM_BYTES)
        with self._lock:
            self._link = _Link(_digest(token), self._clock() + LINK_LASTS_S, may_change)
        return token

    def link_left_s(self) -> float:
        """Return how many seconds the newest link still works, 0 if it does not."""
        with self._lock:
            return 0.0 if self._link is None else max(self._link.until_s - self._clock(), 0.0)

    def join(self, token: str, label: str) -> str | None:
        """Let a device in, once.

        Parameters
        ----------
        token : str
            From the link.
        label : str
            What the device says it is; cut short.

        Returns
        -------
        str or None
            The pass that the device shows from now on, None if the link does not work.
        """
        with self._lock:
            link = self._link
            if link is None or self._clock() > link.until_s:
                return None
            if not secrets.compare_digest(link.digest, _digest(token)):
                return None
            self._link = None
            self._n_joined += 1
            guest_pass = secrets.token_urlsafe(N_RANDOM_BYTES)
            now = datetime.now(UTC)
            guest = Guest(
                self._n_joined, label[:MAX_LABEL_LETTERS], now, now, may_change=link.may_change
            )
            self._guests[_digest(guest_pass)] = guest
            self._tell()
            return guest_pass

    def guest(self, guest_pass: str | None) -> Guest | None:
        """Return the guest with this pass, None if there is none, and note that he was here."""
        if not guest_pass:
            return None
        key = _digest(guest_pass)
        with self._lock:
            known = self._guests.get(key)
            if known is None or not known.is_welcome:
                return None
            known = self._guests[key] = replace(known, seen_utc=datetime.now(UTC))
            return known

    def guests(self) -> tuple[Guest, ...]:
        """Return all guests, the first to come first."""
        with self._lock:
            return tuple(sorted(self._guests.values(), key=lambda one: one.guest_id))

    def remove(self, guest_id: int) -> None:
        """Let a guest in no more; one who is not there is no error."""
        with self._lock:
            self._guests = {k: g for k, g in self._guests.items() if g.guest_id != guest_id}
            self._tell()

    def remove_all(self) -> None:
        """Let nobody in any more, and make the link void."""
        with self._lock:
            self._guests, self._link = {}, None
            self._tell()

    def welcome_back(self, guests: Mapping[bytes, Guest]) -> None:
        """Know again who was let in before the program was started anew.

        Parameters
        ----------
        guests : mapping of bytes to Guest
            As `on_change` was told.
        """
        with self._lock:
            self._guests = {**guests, **self._guests}
            self._n_joined = max([self._n_joined, *(one.guest_id for one in guests.values())])

    def may_ask(self, rule: RateLimitItem, who: str) -> bool:
        """Count a request, and return whether it is within the rule.

        Parameters
        ----------
        rule : RateLimitItem
            `PER_GUEST`, `PER_STRANGER` or `JOINS`.
        who : str
            Whose requests are counted together.
        """
        return self._limiter.hit(rule, who)

    def _tell(self) -> None:
        """Say who the guests are; the lock is held."""
        if self._on_change is not None:
            self._on_change(dict(self._guests))


def _digest(secret: str) -> bytes:
    """Return what is kept of a secret."""
    return hashlib.sha256(secret.encode()).digest()
