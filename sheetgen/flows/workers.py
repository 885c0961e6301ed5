"""Tasks through this process, through processes of our own, or through any executor, with the same results.

A file that ends its worker ends nothing else: what was lost with it is read again, one file at a time, and
the one that ends a second worker is refused.
"""

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import chain, islice
from multiprocessing import get_context
from typing import Self, TypeVar

from sheetgen.errors import SheetgenError
from sheetgen.flows.chunks import Chunk, attempts_of, examined_here, limited
from sheetgen.flows.examine_file import OnRecord, refused_attempt
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding
from sheetgen.store.files import sha256_of

__all__ = ["FEW_CHUNKS", "STOPPED", "Workers", "parsed", "shared_out"]

Task = TypeVar("Task")
Result = TypeVar("Result")

FEW_CHUNKS = 4
"""So many are left to this process: workers of our own take about half a second to start."""
STOPPED = "stopped"

_AHEAD = 16
"""Chunks given to an executor before the first one must be back: they are all that is held in memory."""
_MOST_WORKERS = 60
"""A limit of one of the systems."""


@dataclass(slots=True)
class Workers:
    """Who else works: an executor that somebody looks after, or processes of our own, started when they pay.

    executor : is not shut down here, and its workers have the limits it gives them.
    count : processes of our own where there is no executor; 0: none. They end with the `with` block.
    """

    executor: Executor | None = None
    count: int = 0
    own: Executor | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.drop(self.own)

    def current(self) -> Executor:
        """Return the executor that takes the next task."""
        if self.executor is not None:
            return self.executor
        if self.own is None:
            self.own = _processes(self.count)
        return self.own

    def drop(self, broken: Executor | None) -> None:
        """End our own processes, where one of them died; new ones take their place."""
        # Several tasks are lost with one pool, and only the first of them may end it.
        if broken is not None and broken is self.own:
            self.own = None
            broken.shutdown(wait=False, cancel_futures=True)


def shared_out(
    function: Callable[[Task], Result],
    tasks: Iterable[Task],
    workers: Workers,
    *,
    here: Callable[[Task], Result],
    again: Callable[[Task], Result],
) -> Iterator[Result]:
    """Give the results of a function for each task, in the order of the tasks.

    Parameters
    ----------
    function : what an executor is asked to do; tasks and results travel.
    here : the same, done by this process where there are few tasks and nobody else works yet.
    again : what becomes of a task that was lost with its worker.

    Raises
    ------
    SheetgenError : of the function.
    """
    coming = iter(tasks)
    if workers.executor is None and workers.own is None:
        first = list(islice(coming, FEW_CHUNKS + 1))
        coming = chain(first, coming)
        if workers.count < 1 or len(first) <= FEW_CHUNKS:
            yield from map(here, coming)
            return
    ahead = _AHEAD if workers.executor is not None else 2 * workers.count + 2
    waiting: deque[tuple[Task, Executor, Future[Result] | None]] = deque()

    def first_back() -> Result:
        task, executor, future = waiting.popleft()
        if future is not None:
            try:
                return future.result()
            except SheetgenError:
                raise
            except Exception:
                # Executors have faults of their own for a worker that died, and one may run out of memory.
                pass
        workers.drop(executor)
        return again(task)

    try:
        for task in coming:
            executor = workers.current()
            future = None
            with suppress(BrokenExecutor):
                future = executor.submit(function, task)
            waiting.append((task, executor, future))
            if len(waiting) >= ahead:
                yield first_back()
        while waiting:
            yield first_back()
    finally:
        for *_, future in waiting:
            if future is not None:
                future.cancel()


def parsed(chunks: Iterable[Chunk], known: OnRecord, workers: Workers) -> Iterator[list[Attempt]]:
    """Give the attempts of each chunk, in the order of the chunks.

    Parameters
    ----------
    known : the same that the chunks were made with.

    Raises
    ------
    FolderError : the record cannot be used.
    """
    return shared_out(
        attempts_of,
        chunks,
        workers,
        here=lambda chunk: examined_here(chunk.files, known),
        again=_one_by_one,
    )


def _processes(count: int) -> Executor:
    # Forked workers would carry over whatever this process holds, and are not to be had everywhere.
    return ProcessPoolExecutor(min(count, _MOST_WORKERS), get_context("spawn"), limited)


def _one_by_one(chunk: Chunk) -> list[Attempt]:
    """The attempts of a chunk that was lost with its worker; a file that ends another one is refused."""
    attempts: list[Attempt] = []
    worker: Executor | None = None
    try:
        for file in chunk.files:
            alone = replace(chunk, files=(file,))
            if worker is None:
                worker = _started()
            try:
                future = None if worker is None else worker.submit(attempts_of, alone)
                attempts += attempts_of(alone) if future is None else future.result()
            except SheetgenError:
                raise
            except Exception:
                label, data = file
                fault = Finding("file-unreadable", case=STOPPED)
                attempts.append(refused_attempt(label, sha256_of(data), fault))
                if worker is not None:
                    worker.shutdown(wait=False)
                    worker = None
    finally:
        if worker is not None:
            worker.shutdown()
    return attempts


def _started() -> Executor | None:
    """A worker that has shown that it runs; None where none can be started, which is no file's fault."""
    worker = _processes(1)
    try:
        worker.submit(int).result()
    except (BrokenExecutor, OSError):
        worker.shutdown(wait=False)
        return None
    return worker
