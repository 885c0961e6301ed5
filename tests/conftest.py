"""Fixtures for all tests."""

import gc
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

# `tests.office.client` has to be importable whichever way pytest was started.
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from sheetgen.commands.demo import run_demo
from sheetgen.commands.read import ReadSummary
from sheetgen.finding import Refusal
from sheetgen.workbook.read.guard import Package
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.snapshot import Snapshot
from tests.office.client import Office
from tests.scheduling import Scheduling, place

# Scripts: one runs the tests, others run in another Python or need packages that no test needs.
collect_ignore = ["run.py", "office/driver.py", "office/commands.py", "reference/freeze.py"]


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Scheduling | None:
    """Where a file stays in one process, some stay together."""
    return Scheduling(config, log) if config.getoption("dist") == "loadfile" else None


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what drives a spreadsheet program, so that the rest can be run where there is none; leave slow
    evidence to the nightly form; put them in the order of `scheduling.py`."""
    if not os.environ.get("SHEETGEN_NIGHTLY"):
        later = [item for item in items if item.get_closest_marker("nightly")]
        config.hook.pytest_deselected(items=later)
        items[:] = [item for item in items if item not in later]
    for item in items:
        for program in {"office", "gnumeric"}.intersection(getattr(item, "fixturenames", ())):
            item.add_marker(program)
    items.sort(key=lambda item: place(item.nodeid.partition("::")[0]))


def pytest_collection_finish() -> None:
    """What thousands of collected tests hold lives to the end: no use in looking through it again."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


@pytest.fixture(autouse=True, scope="session")
def no_wait_for_the_disk() -> Iterator[None]:
    """Nothing that a test writes has to outlive a loss of power. Tests of that waiting put their own in."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda _: None)
        yield


MOST_BOOKS = 16


@pytest.fixture(autouse=True, scope="session")
def cells_of_the_same_class_book_are_read_once() -> Iterator[None]:
    """Most tests begin with a class book of the same bytes, or read back one just drawn: a tenth of a second
    each time. What its cells say is worked out anew each time. At the end some are read again: what was kept
    is what is in the bytes, and nobody changed it."""
    kept: dict[tuple[str, str], tuple[Package, Snapshot | Refusal]] = {}

    def once(package: Package) -> Snapshot | Refusal:
        key = package.sha256, package.kind
        if key not in kept and len(kept) == MOST_BOOKS:
            del kept[next(iter(kept))]
        # The newest stand last.
        kept[key] = kept.pop(key, None) or (package, snapshot(package))
        return kept[key][1]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sheetgen.class_book.book.snapshot", once)
        yield
    for package, state in list(kept.values())[-3:]:
        assert snapshot(package) == state


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> ReadSummary:
    """What reading the first session of the sample class says. A test that changes its folder copies it."""
    return run_demo(tmp_path_factory.mktemp("demo") / "demo-class")


@pytest.fixture(scope="session")
def office() -> Iterator[Office]:
    """A running spreadsheet program, one a test process. Fails where none is installed."""
    with Office.start() as running:
        yield running


@pytest.fixture(scope="session")
def gnumeric() -> None:
    """Fails where Gnumeric is not installed."""
    if shutil.which("ssconvert") is None:
        pytest.fail(
            "found no ssconvert; expected Gnumeric: run python3 tests/run.py --nightly, which installs it"
        )
