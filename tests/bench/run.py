"""How fast the program is beside what one would otherwise use, on this machine, in one run.

    python tests/bench/run.py [--sizes N,N,...] [--rounds N] [--out FILE]

Classes of invented people are built, filled and saved by the spreadsheet program in a temporary folder.
Each measurement runs in a process of its own; those that are compared run in turn, several rounds, and the
medians are divided. Sizes 30, 500 and 3,000: about 20 minutes with one round.
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
from datetime import date
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.bench.corpus import class_with_sheets, fill_class  # noqa: E402

_MANY = 200
"""Files from which processes are started, see `returned/pool.py`."""
LARGEST_CLASS = 1_500
"""People in one class; a larger number is read class after class in one process."""
SIZES = (30, 500, 3_000)
COHORT = 100_000
"""People of a national study, for whom the times of the largest size are multiplied."""
# The slow peers show their time a file on fewer files.
_MOST_FILES = {"build-plain": 100, "openpyxl": 60}
_FEWER_ROUNDS_FROM = 2_000

# title, measure, peer, what it should be
_COMPARED = (
    ("whole build, beside plain XlsxWriter's sheets alone", "build-whole", "build-plain", "at least 8"),
    ("whole read by one process, beside two openpyxl loads", "read-whole", "openpyxl", "at least 5 at 500"),
    ("whole read by two processes, beside the same", "read-whole-two", "openpyxl", "at least 8 at 500"),
    ("whole read by two processes, beside one", "read-whole-two", "read-whole", "-"),
)
_NAMES = tuple(dict.fromkeys(name for _, *both, _ in _COMPARED for name in both))
_GROWING = ("build-whole", "read-whole", "read-whole-two")
_START_UP = ("`sheetgen --help`, beside importing click", "at most 2")


@dataclass(frozen=True, slots=True)
class Figures:
    """Medians of one measure at one size: wall clock and processor time [ms a file], peak memory [MB], of
    all its processes together."""

    wall_ms: float
    processor_ms: float
    peak_mb: float


@dataclass(frozen=True, slots=True)
class Measured:
    """A size. figures : by measure. kilobytes : on the disk a person, when everything is read."""

    figures: dict[str, Figures]
    kilobytes: float


def measured(size: int, rounds: int) -> Measured:
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
        disk = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    return Measured({measure: _medians(some) for measure, some in runs.items()}, disk / 1000 / size)


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


def _start_up(rounds: int) -> float:
    """How often the median time of importing click goes into that of `sheetgen --help`, in turn, each in a
    new process."""
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
    return statistics.median(times[0]) / statistics.median(times[1])


def table_of(sizes: dict[int, Measured], start_up: float) -> str:
    """Return the results as one table in Markdown."""
    every = sorted(sizes)
    base = 500 if 500 in sizes else every[0]
    rows = [("", "should be", *(f"{size:,} people" for size in every)), ("---",) * (len(every) + 2)]
    for title, measure, peer, aim in _COMPARED:
        times = [(sizes[size].figures[peer].wall_ms, sizes[size].figures[measure].wall_ms) for size in every]
        rows.append((title, aim, *(f"{theirs / ours:.1f} times as fast" for theirs, ours in times)))
    title, aim = _START_UP
    rows.append((title, aim, f"{start_up:.2f} times the time", *("" for _ in every[1:])))
    for measure in _GROWING:
        times_ours = [sizes[size].figures[measure].wall_ms for size in (base, *every)]
        growth = [f"{one / times_ours[0]:.2f}" for one in times_ours[1:]]
        rows.append((f"{measure}: a file, beside one of {base:,}", "-", *growth))
    for measure in _NAMES:
        some = [sizes[size].figures[measure] for size in every]
        cells = [f"{one.wall_ms:.1f} ({one.processor_ms:.1f}) ms, {one.peak_mb:.0f} MB" for one in some]
        rows.append((f"{measure}: a file, of it processor time; peak memory", "-", *cells))
    disk = (f"{sizes[size].kilobytes:.0f} kB" for size in every)
    rows.append(("on the disk a person: sheet, returned file, results, record", "-", *disk))
    return "\n".join(f"| {' | '.join(row)} |" for row in rows)


def cohort_of(largest: Measured) -> str:
    """Return what follows for a national study from the figures of the largest size, in a paragraph."""
    ms = {name: largest.figures[name].wall_ms for name in _GROWING}
    hours = {name: f"{COHORT * each / 3_600_000:.1f}" for name, each in ms.items()}
    peak = max(largest.figures[name].peak_mb for name in _GROWING)
    return (
        f"{COHORT:,} people in classes of at most {LARGEST_CLASS:,}, one after the other on this machine: to "
        f"build {COHORT:,} x {ms['build-whole']:.1f} ms = {hours['build-whole']} hours; to read with one "
        f"process {COHORT:,} x {ms['read-whole']:.1f} ms = {hours['read-whole']} hours, with two "
        f"{COHORT:,} x {ms['read-whole-two']:.1f} ms = {hours['read-whole-two']} hours; memory at most "
        f"{peak:.0f} MB, since a class is done before the next begins; disk {COHORT:,} x "
        f"{largest.kilobytes:.0f} kB = {COHORT * largest.kilobytes / 1e6:.0f} GB. Classes are folders of "
        "their own, so more machines share them without anything in common."
    )


def _text(sizes: dict[int, Measured], start_up: float, rounds: int) -> str:
    libraries = ("XlsxWriter", "openpyxl", "lxml", "pandas", "scipy")
    machine = (
        f"{os.cpu_count()} cores, {platform.machine()}, {platform.system()}, "
        f"Python {platform.python_version()}, " + ", ".join(f"{name} {version(name)}" for name in libraries)
    )
    written, loaded = _MOST_FILES["build-plain"], _MOST_FILES["openpyxl"]
    return f"""# How fast it is

Written by `python tests/bench/run.py`, in one run on {date.today().isoformat()}. Every ratio is measured
against its peer on the same files, in turn: rounds of which the median counts: {rounds}, and 1 from
{_FEWER_ROUNDS_FROM:,} files on.

Machine: {machine}.

Files: sheets of an invented class, filled, then opened and saved by LibreOffice: 30 a class, or more where
the words on the sheets need it. The others are made from their bytes, each with the texts and numbers of its
own copy, other readings, and the working and stored results that follow from them. A class has at most
{LARGEST_CLASS:,} people; more are read class after class in one process. The whole build makes spare sheets,
paper forms, slips, run sheet, site cards and records besides; the whole read marks, analyses, and writes
report, review, tables and a page of feedback each. Plain XlsxWriter writes every cell of at most
{written} sheets of a size and nothing else; openpyxl loads at most {loaded} files twice, for formulas
and for values. Below {_MANY} files no other process is started. With two, memory is that of all three.

{table_of(sizes, start_up)}

{cohort_of(sizes[max(sizes)])}
"""


def main(arguments: Sequence[str]) -> int:
    """Measure, print the table and write it where asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--sizes", default=",".join(map(str, SIZES)), help="other sizes, such as 30,500")
    parser.add_argument("--rounds", type=int, default=3, help="of each measurement")
    parser.add_argument("--out", type=Path, help="a file for the table, such as samples/bench.md")
    given = parser.parse_args(arguments)
    found = {}
    for size in map(int, given.sizes.split(",")):
        begun = time.perf_counter()
        found[size] = measured(size, given.rounds if size < _FEWER_ROUNDS_FROM else 1)
        minutes = (time.perf_counter() - begun) / 60
        print(f"{size:,} people: {minutes:.1f} minutes", file=sys.stderr, flush=True)
    text = _text(found, _start_up(5 * given.rounds), given.rounds)
    print(text)
    if given.out is not None:
        given.out.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
