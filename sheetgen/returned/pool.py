"""One function over many items: by this process, by processes of our own, or by any executor.

An executor is given a function at the top of a module, and values that travel. An item that ends its worker
ends nothing else: the executor is given up, the items that are left go one at a time through a process of
their own, and the one that ends a second process is given up, too.
"""

import os
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future
from contextlib import ExitStack, nullcontext
from functools import partial
from itertools import chain, islice
from typing import TYPE_CHECKING, Any, TypeVar

from sheetgen.errors import SheetgenError

if TYPE_CHECKING:
    from concurrent.futures import ProcessPoolExecutor

Item = TypeVar("Item")
Result = TypeVar("Result")

_MANY = 200  # Items from which processes of our own pay: they take about half a second to start.
_MOST_PROCESSES = 60  # A limit of one of the systems.
_MOST_SECONDS = 30.0
"""Of processor time for one item; an honest sheet takes milliseconds, the largest let in about one second."""
_AHEAD = 64  # Items given away at a time: they are all that is held in memory.


class OwnProcesses(Executor):
    """An executor of processes of our own, which start with the first work that is large enough.
    count : of processes; with one, none is started. say : is told in one line where none can be."""

    def __init__(self, count: int, say: Callable[[str], None] = lambda line: None) -> None:
        self._count, self._say = min(count, _MOST_PROCESSES), say
        self._pool: ProcessPoolExecutor | None = None

    def take(self, items: int) -> bool:
        """Say whether so many items are to be submitted, and start the processes where they are."""
        if self._pool is None and self._count > 1 and items >= _MANY:
            self._pool = _started(self._count)
            if self._pool is None:
                self._count = 1
                self._say("no other process can be started here: one does everything, and takes longer")
        return self._pool is not None

    def submit(self, function: Callable[..., Result], /, *args: Any, **kwargs: Any) -> Future[Result]:
        """Submit to the processes; `take` has said that they are there."""
        if self._pool is None:
            raise RuntimeError("submit needs processes that were started by take")
        return self._pool.submit(partial(_in_bounded_time, function), *args, **kwargs)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """End the processes."""
        if self._pool is not None:
            self._pool.shutdown(wait, cancel_futures=cancel_futures)
            self._pool = None


def mapped(
    function: Callable[[Item], Result],
    items: Iterable[Item],
    count: int,
    executor: Executor | None,
    given_up: Callable[[Item], Result],
) -> Iterator[Result]:
    """Give the result of a function for each item, in order. count : of the items. executor : None: this
    process works alone. given_up : what becomes of an item that ended two processes. A SheetgenError of the
    function is raised; whatever else comes back is taken for a fault of the executor."""
    if executor is None or (isinstance(executor, OwnProcesses) and not executor.take(count)):
        yield from map(function, items)
        return
    coming = iter(items)
    ahead = deque(islice(coming, _AHEAD))
    futures: deque[Future[Result]] = deque()
    try:
        while ahead:
            try:
                futures.extend(executor.submit(function, item) for item in islice(ahead, len(futures), None))
                result = futures.popleft().result()
            except SheetgenError:
                raise
            except Exception:
                # Executors have faults of their own for a worker that died, and one may run out of memory;
                # one that broke meanwhile takes nothing more.
                yield from _one_by_one(function, chain(ahead, coming), given_up)
                return
            ahead.popleft()
            ahead.extend(islice(coming, 1))
            yield result
    finally:
        for future in futures:
            future.cancel()


def _one_by_one(
    function: Callable[[Item], Result], items: Iterable[Item], given_up: Callable[[Item], Result]
) -> Iterator[Result]:
    """The same by one process, and a new one for each that dies; by this one where none can be started."""
    process: Executor | None = None
    with ExitStack() as processes:
        for item in items:
            if process is None:
                process = _started(1)
                processes.enter_context(process or nullcontext())
            try:
                alone = process and process.submit(partial(_in_bounded_time, function), item)
                result = alone.result() if alone else function(item)
            except SheetgenError:
                raise
            except Exception:
                result, process = given_up(item), None
            yield result


def _started(count: int) -> "ProcessPoolExecutor | None":
    """Processes that have shown that they run; None where the system does not let any be started."""
    try:
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context

        # Forked ones would carry over whatever this process holds, and are not to be had everywhere.
        pool = ProcessPoolExecutor(count, get_context("spawn"), _end_with_parent)
        for future in [pool.submit(int) for _ in range(count)]:
            future.result()
    except (OSError, ImportError, RuntimeError):
        return None
    return pool


def _end_with_parent() -> None:
    """A process whose parent was killed would wait for ever; an interruption it hears of through it."""

    from multiprocessing import parent_process

    def wait() -> None:
        parent = parent_process()
        if parent is not None:
            parent.join()
            os._exit(1)

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=wait, daemon=True).start()


def _in_bounded_time(function: Callable[..., Result], *args: Any, **kwargs: Any) -> Result:
    """Call a function in a process of ours; beyond the time the system ends it, whatever it is doing."""
    if sys.platform == "win32":
        return function(*args, **kwargs)
    # Processor time: a busy machine or one that slept is no fault of the item.
    signal.setitimer(signal.ITIMER_PROF, _MOST_SECONDS)
    try:
        return function(*args, **kwargs)
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
