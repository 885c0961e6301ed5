"""Chunks through this process, processes and other executors: the same attempts, whatever dies on the way."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from sheetgen.errors import FolderError
from sheetgen.flows import workers
from sheetgen.flows.chunks import Chunk, chunk_of
from sheetgen.flows.examine_file import OnRecord, on_record
from sheetgen.flows.workers import Workers, parsed
from sheetgen.model.attempt import Attempt
from tests.classes import PEOPLE, built_class, filled_sheet
from tests.wording import in_english
from tests.workers import KILLER, NeverStarts, attempts_or_death, endless, greedy, here


@pytest.fixture
def known(tmp_path: Path) -> OnRecord:
    return on_record(built_class(tmp_path / "class"))


def is_running(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    # Dead, and waiting for somebody to notice.
    state = Path(f"/proc/{process}/stat")
    return not state.exists() or state.read_text().rpartition(")")[2].split()[0] != "Z"


def chunks_of(known: OnRecord, *more: tuple[str, bytes]) -> list[Chunk]:
    """A chunk for each of a few files."""
    folder = known.folder
    assert folder is not None
    files = [(f"{student}.xlsx", filled_sheet(folder, student)) for student in PEOPLE]
    return [replace(chunk_of(known), files=(file,)) for file in (*files[:2], *more, *files[2:])]


def seen(batches: Iterator[list[Attempt]]) -> list[tuple[str, str]]:
    return [(one.file, one.status) for batch in batches for one in batch]


ROOT = Path(__file__).resolve().parents[2]
GOOD = [(f"{student}.xlsx", "accepted") for student in PEOPLE]


def test_few_chunks_are_read_by_this_process(known: OnRecord, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "_processes", None)
    assert seen(parsed(chunks_of(known), known, Workers(count=2))) == GOOD


def test_many_chunks_are_read_by_processes_in_order_with_the_same_attempts(
    known: OnRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = list(parsed(chunks_of(known), known, Workers()))
    monkeypatch.setattr(workers, "FEW_CHUNKS", 1)
    monkeypatch.setattr(workers, "examined_here", None)
    together = list(parsed(chunks_of(known), known, Workers(count=2)))
    assert repr(together) == repr(alone)
    assert seen(iter(together)) == GOOD


def test_any_executor_will_do_and_is_left_running(known: OnRecord) -> None:
    with ThreadPoolExecutor(2) as pool:
        assert seen(parsed(chunks_of(known), known, Workers(pool))) == GOOD
        assert pool.submit(int).result() == 0


def test_a_file_that_ends_its_worker_is_refused_and_nothing_else_is_lost(
    known: OnRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workers, "FEW_CHUNKS", 1)
    monkeypatch.setattr(workers, "attempts_of", attempts_or_death)
    every = [
        one
        for batch in parsed(chunks_of(known, ("bad.xlsx", KILLER)), known, Workers(count=2))
        for one in batch
    ]
    assert [(one.file, one.status) for one in every] == [*GOOD[:2], ("bad.xlsx", "refused"), *GOOD[2:]]
    (finding,) = in_english(every[2].findings)
    assert (finding.code, finding.found) == ("file-unreadable", "a file that stopped the reader")


def test_without_any_worker_the_files_are_read_all_the_same(
    known: OnRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some systems let a program start no others; that is no fault of the files."""
    monkeypatch.setattr(workers, "FEW_CHUNKS", 1)
    monkeypatch.setattr(workers, "_processes", lambda count: NeverStarts())
    assert seen(parsed(chunks_of(known), known, Workers(count=2))) == GOOD


def test_a_record_that_changed_meanwhile_is_an_error_and_no_fault_of_a_file(known: OnRecord) -> None:
    stale = [replace(one, record="0" * 64) for one in chunks_of(known)]
    with ThreadPoolExecutor(1) as pool, pytest.raises(FolderError, match="another record than a moment ago"):
        list(parsed(stale, known, Workers(pool)))


def test_a_worker_has_a_limit_of_memory_and_goes_on() -> None:
    with workers._processes(1) as pool:
        first = pool.submit(here).result()
        with pytest.raises(MemoryError):
            pool.submit(greedy).result()
        assert pool.submit(here).result() == first


def test_a_file_beyond_its_time_ends_the_worker() -> None:
    with workers._processes(1) as pool, pytest.raises(BrokenExecutor):
        pool.submit(endless).result()


def test_workers_end_with_a_program_that_is_killed() -> None:
    """They hold both ends of the pipe that work comes through, so that nothing else would tell them."""
    script = (
        "import os\n"
        "from sheetgen.flows.workers import _processes\n"
        "if __name__ == '__main__':\n"
        "    print(_processes(1).submit(os.getpid).result(), flush=True)\n"
        "    os._exit(9)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT)
    worker = int(done.stdout)
    for _ in range(200):
        if not is_running(worker):
            break
        time.sleep(0.05)
    assert not is_running(worker)
