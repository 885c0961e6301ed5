"""One measurement in a process of its own: `python tests/bench/measures.py NAME FOLDER LIMIT`.

Prints JSON: files handled, seconds of wall clock, seconds of processor time, and peak memory of the process
in MB. What is loaded beforehand does not count, since a long-lived worker loads it once.
"""

import io
import json
import resource
import shutil
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from sheetgen.class_book.book import load_book  # noqa: E402
from sheetgen.class_folder import keep  # noqa: E402
from sheetgen.class_folder.folder import ClassFolder  # noqa: E402
from sheetgen.commands.build import build_sheets  # noqa: E402
from sheetgen.commands.read import read_returned  # noqa: E402
from sheetgen.report.tables import attempts_table, findings_table, readings_table, sites_table  # noqa: E402
from sheetgen.returned.incoming import open_returned  # noqa: E402
from sheetgen.returned.one_file import attempt_of_bytes, attempts_from  # noqa: E402
from sheetgen.returned.pool import OwnProcesses  # noqa: E402
from sheetgen.returned.whose import on_record  # noqa: E402
from sheetgen.sheet.reference_tabs import figures_of  # noqa: E402
from sheetgen.statistics.readings_frame import readings_frame  # noqa: E402
from sheetgen.texts.findings import finding_texts  # noqa: E402
from sheetgen.texts.templates import read_template  # noqa: E402
from sheetgen.workbook.layout import Identity, Layout  # noqa: E402
from sheetgen.workbook.render import Master, master_of, rendered, stamped  # noqa: E402
from tests.bench.corpus import SESSION, files_of, newest_records  # noqa: E402


def _classes(folder: Path) -> list[ClassFolder]:
    return [ClassFolder(path) for path in sorted(folder.iterdir())]


def _files(folder: Path, limit: int) -> list[Path]:
    return [path for one in _classes(folder) for path in files_of(one)][:limit]


def build_stamped(folder: Path, limit: int) -> int:
    """Every sheet of the classes stamped into its master; the masters are made within."""
    style = read_template("style.toml")
    masters: dict[str, Master] = {}
    count = 0
    for one in _classes(folder):
        for record in newest_records(one):
            identity = Identity(dict(record.identity))
            if record.layout_digest not in masters:
                layout = keep.load_layout(one, record.layout_digest)
                assert layout is not None
                masters[record.layout_digest] = master_of(layout, identity, style, figures_of(layout, one))
            stamped(masters[record.layout_digest], identity)
            count += 1
    return count


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


def read_tables(folder: Path, limit: int) -> int:
    """From the files to the four CSV texts: parsed, compared, recalculated, checked."""
    count = 0
    for one in _classes(folder):
        known = on_record(one)
        attempts = [attempt_of_bytes(path.read_bytes(), path.name, known) for path in files_of(one)]
        if any(attempt.status != "accepted" for attempt in attempts):
            raise ValueError("only files that are read to the end tell how long reading takes")
        codes = [record.participant_code for record in newest_records(one)]
        frame = readings_frame(attempts, load_book(one), codes)
        attempts_table(attempts, SESSION, codes)
        sites_table(frame)
        readings_table(frame)
        findings_table(attempts, SESSION, finding_texts())
        count += len(attempts)
    return count


def read_whole(folder: Path, limit: int) -> int:
    """The whole flow: marks, class analysis, report, review and a page of feedback each, written to disk."""
    return sum(len(read_returned(one, SESSION, today="2027-01-15").attempts) for one in _classes(folder))


def read_calamine(folder: Path, limit: int) -> int:
    """All values of all tabs by python-calamine."""
    from python_calamine import CalamineWorkbook

    files = _files(folder, limit)
    for path in files:
        book = CalamineWorkbook.from_path(str(path))
        for name in book.sheet_names:
            book.get_sheet_by_name(name).to_python()
    return len(files)


def read_openpyxl(folder: Path, limit: int) -> int:
    """Two loads by openpyxl: formulas, and stored values."""
    import openpyxl

    files = _files(folder, limit)
    for path in files:
        data = path.read_bytes()
        for data_only in (False, True):
            openpyxl.load_workbook(io.BytesIO(data), data_only=data_only)
    return len(files)


def _in_processes(folder: Path, limit: int, processes: int) -> int:
    """Files to attempts by an executor."""
    count = 0
    with ProcessPoolExecutor(processes) as pool:
        for one in _classes(folder):
            with open_returned(one.returned(SESSION)) as came:
                count += len(attempts_from(came.files, on_record(one), executor=pool))
    return count


def read_one_process(folder: Path, limit: int) -> int:
    """Files to attempts by one long-lived worker."""
    return _in_processes(folder, limit, 1)


def read_two_processes(folder: Path, limit: int) -> int:
    """Files to attempts by two long-lived workers."""
    return _in_processes(folder, limit, 2)


def read_whole_two(folder: Path, limit: int) -> int:
    """The whole flow with two processes of its own, their start included where they are started."""
    with OwnProcesses(2) as own:
        read = [read_returned(one, SESSION, today="2027-01-15", executor=own) for one in _classes(folder)]
    return sum(len(one.attempts) for one in read)


def _with_nothing_written(folder: Path) -> None:
    for one in _classes(folder):
        shutil.rmtree(one.root / "results", ignore_errors=True)


MEASURES: dict[str, Callable[[Path, int], int]] = {
    "build": build_stamped,
    "build-whole": build_whole,
    "build-plain": build_plain,
    "read": read_tables,
    "read-whole": read_whole,
    "read-whole-two": read_whole_two,
    "calamine": read_calamine,
    "openpyxl": read_openpyxl,
    "one-process": read_one_process,
    "two-processes": read_two_processes,
}

PREPARED: dict[str, Callable[[Path], None]] = {
    "read-whole": _with_nothing_written,
    "read-whole-two": _with_nothing_written,
}
"""What is done before the clock runs."""


def _peak_mb() -> float:
    status = Path("/proc/self/status")
    if status.exists():
        # Unlike the resource usage, this one does not count what the parent held before.
        (line,) = (line for line in status.read_text().splitlines() if line.startswith("VmHWM:"))
        return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024 * 1024)


def main(arguments: list[str]) -> int:
    """Run one measurement and print it."""
    name, folder, limit = arguments[0], Path(arguments[1]), int(arguments[2])
    if name == "calamine":
        import python_calamine  # noqa: F401
    if name == "openpyxl":
        import openpyxl  # noqa: F401
    if name in PREPARED:
        PREPARED[name](folder)
    begun, used = time.perf_counter(), time.process_time()
    files = MEASURES[name](folder, limit)
    seconds, processor = time.perf_counter() - begun, time.process_time() - used
    result = {"files": files, "seconds": seconds, "processor": processor, "peak_mb": _peak_mb()}
    print(json.dumps(result))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
