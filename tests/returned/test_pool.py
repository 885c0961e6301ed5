"""Items through this process, processes of our own and other executors: the same results, whatever dies."""

import concurrent.futures
import os
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import pytest

from sheetgen.errors import UsageError
from sheetgen.returned import pool
from sheetgen.returned.pool import OwnProcesses, mapped
from tests.workers import endless, here

ROOT = Path(__file__).resolve().parents[2]


def squared(number: int) -> int:
    return number * number


def never(_: object) -> Any:
    raise AssertionError("nothing was to be given up")


def squares(count: int, executor: Executor | None, function: Callable[[int], int] = squared) -> list[int]:
    return list(mapped(function, iter(range(count)), count, executor, never))


def is_running(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    # Dead, and waiting for somebody to notice.
    state = Path(f"/proc/{process}/stat")
    return not state.exists() or state.read_text().rpartition(")")[2].split()[0] != "Z"


class Broken(Executor):
    """An executor that breaks after a few results."""

    def __init__(self, good: int) -> None:
        self.left = good

    def submit(self, function: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.left -= 1
        if self.left < 0:
            raise BrokenProcessPool("a worker died")
        future: Future[Any] = Future()
        future.set_result(function(*args, **kwargs))
        return future


def test_without_an_executor_this_process_works() -> None:
    assert list(mapped(here, range(2), 2, None, never)) == [os.getpid()] * 2


def test_few_items_start_no_process_and_many_start_them_for_good(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pool, "_MANY", 3)
    with OwnProcesses(2) as own:
        assert set(mapped(here, range(2), 2, own, never)) == {os.getpid()}
        many = set(mapped(here, range(3), 3, own, never))
        assert os.getpid() not in many
        assert os.getpid() not in set(mapped(here, range(1), 1, own, never))


def test_one_processor_starts_no_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pool, "_MANY", 1)
    with OwnProcesses(1) as own:
        assert set(mapped(here, range(3), 3, own, never)) == {os.getpid()}


@pytest.mark.parametrize("missing", ["/dev/shm", "concurrent.futures.process"])
def test_where_no_process_starts_this_one_works_and_says_so_once(
    monkeypatch: pytest.MonkeyPatch, missing: str
) -> None:
    """Some systems let a program start no others, some Pythons have nothing to start them with; that is no
    fault of the files."""

    def refused(*_: object) -> None:
        raise OSError(f"no {missing}")

    monkeypatch.setattr(pool, "_MANY", 1)
    monkeypatch.setattr(concurrent.futures, "ProcessPoolExecutor", refused)
    if missing in sys.modules:
        monkeypatch.delattr(concurrent.futures, "ProcessPoolExecutor")
        monkeypatch.setitem(sys.modules, missing, None)
    said: list[str] = []
    with OwnProcesses(2, said.append) as own:
        assert squares(4, own) == squares(4, own) == [0, 1, 4, 9]
    assert said == ["no other process can be started here: one does everything, and takes longer"]


def test_any_executor_will_do_gives_results_in_order_and_is_left_running() -> None:
    with ThreadPoolExecutor(2) as threads:
        assert squares(200, threads) == [number * number for number in range(200)]
        assert threads.submit(int).result() == 0


class Waiting(Executor):
    """An executor that does each item once its result is asked for, and tells which were given to it."""

    def __init__(self) -> None:
        self.given: list[Future[Any]] = []

    def submit(self, function: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        future.result = lambda timeout=None: function(*args, **kwargs)  # type: ignore[method-assign]
        self.given.append(future)
        return future


def test_an_item_is_given_away_for_each_that_came_back_and_what_waits_at_the_end_is_called_off(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(pool, "_AHEAD", 3)
    executor, coming = Waiting(), iter(range(100))
    results = mapped(squared, coming, 100, executor, never)
    given = [(next(results), len(executor.given)) for _ in range(4)]
    assert given == [(0, 3), (1, 4), (4, 5), (9, 6)]
    # One more than was given away is held, for the result that is looked at.
    assert next(coming) == 7
    results.close()
    assert [future.cancelled() for future in executor.given] == [False] * 4 + [True] * 2


@pytest.mark.parametrize("good", [0, 1, 3])
def test_what_a_broken_executor_leaves_is_done_one_by_one(good: int) -> None:
    assert squares(4, Broken(good)) == [0, 1, 4, 9]


def test_what_a_broken_executor_leaves_is_done_here_where_no_process_starts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(pool, "_started", lambda count: None)
    assert squares(4, Broken(1), lambda number: number + 1) == [1, 2, 3, 4]


def test_an_error_of_the_program_is_no_fault_of_the_executor() -> None:
    def fails(_: int) -> int:
        raise UsageError("here", "this", "that", "Do it.")

    with ThreadPoolExecutor(1) as threads, pytest.raises(UsageError, match="this"):
        squares(3, threads, fails)


def test_an_item_beyond_its_time_ends_its_process_and_is_given_up() -> None:
    assert list(mapped(endless, [1, 2], 2, Broken(0), lambda item: None)) == [None, None]


def test_submit_without_processes_is_an_error() -> None:
    with pytest.raises(RuntimeError, match="started by take"):
        OwnProcesses(2).submit(int)


def test_processes_end_with_a_program_that_is_killed() -> None:
    """They hold both ends of the pipe that work comes through, so that nothing else would tell them."""
    script = (
        "import os\n"
        "from sheetgen.returned.pool import _started\n"
        "if __name__ == '__main__':\n"
        "    print(_started(1).submit(os.getpid).result(), flush=True)\n"
        "    os._exit(9)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT)
    process = int(done.stdout)
    for _ in range(200):
        if not is_running(process):
            break
        time.sleep(0.05)
    assert not is_running(process)
