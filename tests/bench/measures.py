"""One measurement in a process of its own: `python tests/bench/measures.py NAME FOLDER LIMIT`.

Prints JSON: files handled, seconds of wall clock, seconds of processor time, and peak memory in MB, both of
the process with its workers. What is loaded before the work begins does not count, for no side.
"""

import io
import json
import os
import resource
import shutil
import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from sheetgen.class_folder import keep  # noqa: E402
from sheetgen.class_folder.folder import ClassFolder  # noqa: E402
from sheetgen.commands.build import build_sheets  # noqa: E402
from sheetgen.commands.read import read_returned  # noqa: E402
from sheetgen.returned.pool import OwnProcesses  # noqa: E402
from sheetgen.sheet.reference_tabs import figures_of  # noqa: E402
from sheetgen.texts.templates import read_template  # noqa: E402
from sheetgen.workbook.layout import Identity, Layout  # noqa: E402
from sheetgen.workbook.render import rendered  # noqa: E402
from tests.bench.corpus import SESSION, files_of, newest_records  # noqa: E402


def _classes(folder: Path) -> list[ClassFolder]:
    return [ClassFolder(path) for path in sorted(folder.iterdir())]


def _files(folder: Path, limit: int) -> list[Path]:
    return [path for one in _classes(folder) for path in files_of(one)][:limit]


def build_whole(folder: Path, limit: int) -> int:
    """The whole flow, with spare sheets, paper forms, slips and records, into copies without sheets."""
    count = 0
    for one in _classes(folder):
        with TemporaryDirectory() as name:
            copy = Path(name) / "class"
            shutil.copytree(one.root, copy, ignore=shutil.ignore_patterns("sheets", "returned", "results"))
            count += len(build_sheets(ClassFolder(copy), SESSION).written)
    return count


def build_plain(folder: Path, limit: int) -> int:
    """The same sheets, each written by XlsxWriter from the first cell to the last."""
    style = read_template("style.toml")
    layouts: dict[str, Layout] = {}
    count = 0
    for one in _classes(folder):
        for record in newest_records(one)[: limit - count]:
            if record.layout_digest not in layouts:
                layout = keep.load_layout(one, record.layout_digest)
                assert layout is not None
                layouts[record.layout_digest] = layout
            layout = layouts[record.layout_digest]
            rendered(layout, Identity(dict(record.identity)), style, figures_of(layout, one))
            count += 1
    return count


def read_whole(folder: Path, limit: int) -> int:
    """The whole flow: marks, class analysis, report, review and a page of feedback each, written to disk."""
    return sum(len(read_returned(one, SESSION, today="2027-01-15").attempts) for one in _classes(folder))


def read_openpyxl(folder: Path, limit: int) -> int:
    """Two loads by openpyxl: formulas, and stored values."""
    import openpyxl

    files = _files(folder, limit)
    for path in files:
        data = path.read_bytes()
        for data_only in (False, True):
            openpyxl.load_workbook(io.BytesIO(data), data_only=data_only)
    return len(files)


def read_whole_two(folder: Path, limit: int) -> int:
    """The whole flow with two workers of its own, their start included where they are started."""
    with OwnProcesses(_WORKERS) as own:
        read = [read_returned(one, SESSION, today="2027-01-15", executor=own) for one in _classes(folder)]
    return sum(len(one.attempts) for one in read)


def _with_nothing_written(folder: Path) -> None:
    for one in _classes(folder):
        for name in ("results", "review"):
            shutil.rmtree(one.root / name, ignore_errors=True)


_WORKERS = 2

MEASURES: dict[str, Callable[[Path, int], int]] = {
    "build-whole": build_whole,
    "build-plain": build_plain,
    "read-whole": read_whole,
    "read-whole-two": read_whole_two,
    "openpyxl": read_openpyxl,
}

PREPARED: dict[str, Callable[[Path], None]] = {
    "read-whole": _with_nothing_written,
    "read-whole-two": _with_nothing_written,
}
"""What is done before the clock runs."""


def _peak_mb() -> float:
    """Of this process, and of each worker as much as of the largest; where the system tells only the largest
    since this process was begun, that."""
    unit = 1024 if sys.platform.startswith("linux") else 1024 * 1024
    workers = _WORKERS * resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / unit
    status = Path("/proc/self/status")
    if status.exists():
        # Unlike the resource usage, this one does not count what the parent held before.
        (line,) = (line for line in status.read_text().splitlines() if line.startswith("VmHWM:"))
        return int(line.split()[1]) / 1024 + workers
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit + workers


def _processor_seconds() -> float:
    """Of this process and its workers that have ended."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def main(arguments: list[str]) -> int:
    """Run one measurement and print it."""
    name, folder, limit = arguments[0], Path(arguments[1]), int(arguments[2])
    if name == "openpyxl":
        import openpyxl  # noqa: F401
    if name in PREPARED:
        PREPARED[name](folder)
    begun, used = time.perf_counter(), _processor_seconds()
    files = MEASURES[name](folder, limit)
    seconds, processor = time.perf_counter() - begun, _processor_seconds() - used
    result = {"files": files, "seconds": seconds, "processor": processor, "peak_mb": _peak_mb()}
    print(json.dumps(result))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
