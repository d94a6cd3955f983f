"""One event loop in one thread, for everything that speaks Bluetooth.

Bluetooth stacks tie callbacks to the loop they were made in, so every call of the program's life
goes through the same one.
"""

import asyncio
import threading
from collections.abc import Coroutine
from concurrent.futures import Future
from typing import Any, Final, TypeVar

T = TypeVar("T")

CLOSE_WAIT_S: Final = 5.0


class LoopThread:
    """An event loop that runs in a thread of its own until it is closed."""

    def __init__(self) -> None:
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, name="bluetooth", daemon=True)
        self._thread.start()
        self.scanning = asyncio.Lock()
        """Only one scan at a time: the system refuses a second."""

    def submit(self, coroutine: Coroutine[Any, Any, T]) -> Future[T]:
        """Start a coroutine on the loop, from any thread."""
        return asyncio.run_coroutine_threadsafe(coroutine, self._loop)

    def call(self, coroutine: Coroutine[Any, Any, T]) -> T:
        """Run a coroutine on the loop and return what it returns; not from the loop itself."""
        return self.submit(coroutine).result()

    def close(self) -> None:
        """Stop the loop; coroutines that still run are cancelled."""
        if self._thread.is_alive():
            self.submit(_cancel_others()).result(CLOSE_WAIT_S)
            self._loop.call_soon_threadsafe(self._loop.stop)
            self._thread.join(CLOSE_WAIT_S)

    def _run(self) -> None:
        """Run the loop; the thread's own function."""
        asyncio.set_event_loop(self._loop)
        self._loop.run_forever()
        self._loop.close()


async def _cancel_others() -> None:
    """Cancel everything else on this loop and wait for it to end."""
    others = [task for task in asyncio.all_tasks() if task is not asyncio.current_task()]
    for task in others:
        task.cancel()
    await asyncio.gather(*others, return_exceptions=True)


_shared: LoopThread | None = None
_shared_lock = threading.Lock()


def shared_loop() -> LoopThread:
    """Return the program's one Bluetooth loop, started when it is first asked for."""
    global _shared
    with _shared_lock:
        if _shared is None:
            _shared = LoopThread()
        return _shared
