"""How fast the program is beside what one would otherwise use, on this machine, in one run.

    python tests/bench/run.py [--full] [--sizes N,N,...] [--rounds N] [--out FILE]

Classes of invented people are built, filled and saved by the spreadsheet program in a temporary folder.
Each measurement runs in a process of its own; those that are compared run in turn, several rounds, and the
medians are divided. Sizes 30 and 500; `--full` adds 1,000 and 10,000 (an hour).
"""

import argparse
import json
import os
import platform
import statistics
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.bench.corpus import class_with_sheets, fill_class  # noqa: E402

LARGEST_CLASS = 2_500
"""People in one class; a larger number is read class after class in one process."""
SIZES = (30, 500)
FULL_SIZES = (30, 500, 1_000, 10_000)
# The slow peers show their time a file on fewer files.
_MOST_FILES = {"build-plain": 200, "openpyxl": 100, "calamine": 2_500}
_FEWER_ROUNDS_FROM = 2_000

# title, measure, peer, the ratio (`times faster`, or `times the time`), what it should be
_COMPARED = (
    ("build: a sheet, beside plain XlsxWriter", "build", "build-plain", "faster", "at least 20"),
    ("whole build with paper forms and slips, beside plain XlsxWriter's sheets", "build-whole", "build-plain",
     "faster", ""),
    ("read to CSVs, beside python-calamine's bare values", "read", "calamine", "slower", "at most 5"),
    ("read to CSVs, beside two openpyxl loads", "read", "openpyxl", "faster", "at least 10"),
    ("whole read with report and feedback, beside python-calamine", "read-whole", "calamine", "slower", ""),
    ("whole read with report and feedback, beside two openpyxl loads", "read-whole", "openpyxl", "faster",
     ""),
    ("two processes, beside one", "two-processes", "one-process", "faster", "at least 1.7"),
    ("whole read with two processes, beside one", "read-whole-two", "read-whole", "faster", ""),
)  # fmt: skip
_NAMES = tuple(dict.fromkeys(name for _, *both, _, _ in _COMPARED for name in both))
_START_UP = ("sheetgen --help, beside importing click", "at most 2")


@dataclass(frozen=True, slots=True)
class Figures:
    """Medians of one measure at one size: wall clock and processor time [ms a file], peak memory [MB]."""

    wall_ms: float
    processor_ms: float
    peak_mb: float


def measured(size: int, rounds: int) -> dict[str, Figures]:
    """Return the medians of every measure on classes of so many people in all."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        for index, first in enumerate(range(0, size, LARGEST_CLASS)):
            one = class_with_sheets(folder / f"class-{index}", min(LARGEST_CLASS, size - first), first)
            fill_class(one)
        runs: dict[str, list[dict[str, float]]] = {measure: [] for measure in _NAMES}
        for _ in range(rounds):
            for measure in _NAMES:
                runs[measure].append(_once(measure, folder, min(size, _MOST_FILES.get(measure, size))))
    return {measure: _medians(some) for measure, some in runs.items()}


def _once(measure: str, folder: Path, limit: int) -> dict[str, float]:
    script = Path(__file__).with_name("measures.py")
    command = [sys.executable, str(script), measure, str(folder), str(limit)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    result: dict[str, float] = json.loads(done.stdout)
    return result


def _medians(runs: Sequence[dict[str, float]]) -> Figures:
    return Figures(
        statistics.median(1000 * run["seconds"] / run["files"] for run in runs),
        statistics.median(1000 * run["processor"] / run["files"] for run in runs),
        statistics.median(run["peak_mb"] for run in runs),
    )


def _start_up(rounds: int) -> tuple[float, float]:
    """Median seconds of `sheetgen --help` and of importing click, in turn, each in a new process."""
    commands = (
        [sys.executable, "-c", "from sheetgen.cli.job import main; main(['--help'])"],
        [sys.executable, "-c", "import click"],
    )
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(rounds):
        for command, some in zip(commands, times, strict=True):
            begun = time.perf_counter()
            subprocess.run(command, capture_output=True, check=True, cwd=ROOT)
            some.append(time.perf_counter() - begun)
    return statistics.median(times[0]), statistics.median(times[1])


def table_of(figures: dict[int, dict[str, Figures]], start_up: tuple[float, float]) -> str:
    """Return the results as Markdown."""
    sizes = sorted(figures)
    heads = [f"{size:,}" for size in sizes]
    lines = [f"| ratio | should be | {' | '.join(heads)} |", "|---|---|" + "---|" * len(sizes)]
    for title, measure, peer, direction, aim in _COMPARED:
        cells = []
        for size in sizes:
            ours, theirs = figures[size][measure].wall_ms, figures[size][peer].wall_ms
            ratio = theirs / ours if direction == "faster" else ours / theirs
            cells.append(f"{ratio:.1f} times {'as fast' if direction == 'faster' else 'the time'}")
        lines.append(f"| {title} | {aim or '-'} | {' | '.join(cells)} |")
    if len(sizes) > 1:
        base = 500 if 500 in figures else sizes[0]
        for measure in ("read", "read-whole"):
            times = [figures[size][measure].wall_ms for size in (base, *sizes)]
            cells = [f"{one / times[0]:.2f}" for one in times[1:]]
            lines.append(f"| {measure}: a file, beside one of {base:,} | at most 1.2 | {' | '.join(cells)} |")
    title, aim = _START_UP
    lines += ["", f"{title}: {start_up[0] / start_up[1]:.2f} times the time ({aim})."]
    head = "a file (of it processor time), and peak memory"
    lines += ["", f"| {head} | {' | '.join(heads)} |", "|---|" + "---|" * len(sizes)]
    for measure in _NAMES:
        some = [figures[size][measure] for size in sizes]
        cells = [f"{one.wall_ms:.2f} ({one.processor_ms:.2f}) ms, {one.peak_mb:.0f} MB" for one in some]
        lines.append(f"| {measure} | {' | '.join(cells)} |")
    return "\n".join(lines)


def _text(figures: dict[int, dict[str, Figures]], start_up: tuple[float, float], rounds: int) -> str:
    libraries = ("XlsxWriter", "openpyxl", "python-calamine", "lxml")
    machine = (
        f"{os.cpu_count()} cores, {platform.machine()}, {platform.system()}, "
        f"Python {platform.python_version()}, " + ", ".join(f"{name} {version(name)}" for name in libraries)
    )
    return f"""# How fast it is

Written by `python tests/bench/run.py`. Every ratio is measured against its peer in the same run on the same
files, in turn: rounds of which the median counts: {rounds}, and 1 from {_FEWER_ROUNDS_FROM:,} files on.

Machine: {machine}.

Files: sheets of an invented class, filled, then opened and saved by LibreOffice: 30 a class, or more where
the words on the sheets need it. The others are made from their bytes, each with the texts and numbers of its
own copy, other readings, and the working and stored results that follow from them. A class has at most
{LARGEST_CLASS:,} people; more are read class after class in one process. Plain XlsxWriter writes at most
{_MOST_FILES["build-plain"]} sheets of a size, openpyxl loads at most {_MOST_FILES["openpyxl"]} files,
python-calamine {_MOST_FILES["calamine"]:,}.

{table_of(figures, start_up)}
"""


def main(arguments: Sequence[str]) -> int:
    """Measure, print the table and write it where asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--full", action="store_true", help="sizes up to 10,000")
    parser.add_argument("--sizes", default="", help="other sizes, such as 30,500")
    parser.add_argument("--rounds", type=int, default=3, help="of each measurement")
    parser.add_argument("--out", type=Path, help="a file for the table, such as samples/bench.md")
    given = parser.parse_args(arguments)
    sizes = tuple(map(int, given.sizes.split(","))) if given.sizes else FULL_SIZES if given.full else SIZES
    figures = {}
    for size in sizes:
        print(f"{size:,} sheets", file=sys.stderr, flush=True)
        figures[size] = measured(size, given.rounds if size < _FEWER_ROUNDS_FROM else 1)
    text = _text(figures, _start_up(5 * given.rounds), given.rounds)
    print(text)
    if given.out is not None:
        given.out.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
