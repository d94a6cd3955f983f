"""Analysing many recordings at once: in this process, over all cores, or on a Dask cluster."""

import importlib
import multiprocessing
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from typing import Any

from cue_practice.errors import PracticeError
from cue_practice.whole_file import sha256_of
from cue_sensors.errors import SensorError
from cue_sensors.load import load_recording
from cue_signal.analysis import analyse
from cue_signal.errors import SignalError
from cue_signal.stroke import METHOD_VERSION, Stroke

CONNECT_SECONDS = 10

Task = tuple[int, str, str | None]
"""A recording's number in the log, its path, and the hash it was entered with."""


@dataclass(frozen=True, eq=False)
class Done:
    """What was found in one recording.

    Parameters
    ----------
    recording_id : int
        Its number in the log.
    strokes : tuple of Stroke
        With their traces.
    problem : str
        A sentence where it could not be analysed, else empty.
    method_version : str
        Of the program that analysed it.
    """

    recording_id: int
    strokes: tuple[Stroke, ...] = ()
    problem: str = ""
    method_version: str = METHOD_VERSION


def analyse_one(task: Task) -> Done:
    """Analyse one recording; what goes wrong with it is told, not raised.

    Parameters
    ----------
    task : tuple
        Number, path and hash.

    Returns
    -------
    Done
        Its strokes, or a sentence.
    """
    recording_id, path, sha256 = task
    try:
        if sha256 is not None and sha256_of(path) != sha256:
            return Done(
                recording_id,
                problem=f"{path} is not the file that was entered: its bytes have changed. Put "
                "the recording back in its place.",
            )
        return Done(recording_id, analyse(load_recording(path)).strokes)
    except OSError as error:
        why = f"{path} cannot be read: {error.strerror}. Put the recording back in its place."
        return Done(recording_id, problem=why)
    except (SensorError, SignalError) as error:
        said = str(error)
        return Done(recording_id, problem=said if path in said else f"{path}: {said}")


def analyse_many(
    tasks: Sequence[Task], n_cores: int | None = None, dask_address: str | None = None
) -> Iterator[Done]:
    """Yield what is found in recordings, in the order in which they are done.

    Parameters
    ----------
    tasks : sequence of tuple
        Number, path and hash of each.
    n_cores : int or None
        Processes, None for one a core; 1 stays in this process.
    dask_address : str or None
        Of a Dask scheduler, in place of processes of our own.

    Yields
    ------
    Done
        One for each.

    Raises
    ------
    PracticeError
        If a process dies, or the cluster does not answer or runs another method.
    ValueError
        If ``n_cores`` is below 1.
    """
    if n_cores is not None and n_cores < 1:
        raise ValueError(f"n_cores must be at least 1, got {n_cores}")
    if dask_address is not None:
        yield from _on_cluster(tasks, dask_address)
        return
    n_processes = min(n_cores or _n_cores(), len(tasks))
    if n_processes <= 1:
        yield from map(analyse_one, tasks)
        return
    yield from _on_cores(tasks, n_processes)


def _n_cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _on_cores(tasks: Sequence[Task], n_processes: int) -> Iterator[Done]:
    """Analyse in processes of our own; fresh ones, since threads of ours may be running."""
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(n_processes, mp_context=context) as pool:
        futures = [pool.submit(analyse_one, task) for task in tasks]
        try:
            for future in as_completed(futures):
                yield future.result()
        except BrokenProcessPool as error:
            raise PracticeError(
                "A process died while it analysed a recording, perhaps for want of memory. Use "
                "fewer cores; what was done is kept."
            ) from error
        finally:
            pool.shutdown(wait=False, cancel_futures=True)


def _on_cluster(tasks: Sequence[Task], address: str) -> Iterator[Done]:
    """Analyse on a Dask cluster."""
    try:
        distributed: Any = importlib.import_module("distributed")
    except ImportError as error:
        raise PracticeError(
            "A Dask cluster needs a package that is not installed. Install it with: "
            "pip install 'stunpace[cluster]'."
        ) from error
    with _client(distributed, address) as client:
        futures = client.map(analyse_one, tasks, pure=False)
        try:
            for future in distributed.as_completed(futures, loop=client.loop):
                yield _checked(future, address)
        finally:
            client.cancel(futures)


def _client(distributed: Any, address: str) -> Any:
    """Return a connection to a cluster that has workers."""
    try:
        client = distributed.Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise PracticeError(
            f"No Dask scheduler answers at '{address}' within {CONNECT_SECONDS} s. Give an address "
            "like tcp://host:8786 and check that it runs."
        ) from error
    try:
        client.wait_for_workers(1, timeout=CONNECT_SECONDS)
    except TimeoutError as error:
        client.close()
        raise PracticeError(
            f"The Dask scheduler at '{address}' has no worker. Start at least one."
        ) from error
    return client


def _checked(future: Any, address: str) -> Done:
    """Return what a worker found, refusing another version of the method."""
    try:
        done = future.result()
    except Exception as error:  # whatever a worker elsewhere raises or cannot import
        raise PracticeError(
            f"A worker of the Dask cluster at '{address}' failed: {error!r}. Install this version "
            "of stunpace on every worker; what was done is kept."
        ) from error
    if not isinstance(done, Done) or done.method_version != METHOD_VERSION:
        raise PracticeError(
            f"A worker of the Dask cluster at '{address}' has another version of the method than "
            f"{METHOD_VERSION}. Install this version of stunpace on every worker."
        )
    return done
