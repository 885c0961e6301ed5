"""What the reader withstands, in numbers: `python tests/evidence/run.py [--quick] [--seed N] [--only PART]`.

Changes made to locked parts, honest re-saves, damaged packages and bombs, commands killed at a random moment,
faults of the disk, a crowd of files, and every test that has a nightly form. Every number is of this run.
`--write` keeps each part in README.md with the day, in place of the last of it. Exit code 1 where anything
was missed, accused, raised, half written or failed.
"""

import argparse
import os
import random
import re
import shutil
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))

from tests.evidence import crowd, disk, kills, packages  # noqa: E402
from tests.evidence.bombs import bombs_written, read_alone  # noqa: E402
from tests.evidence.detection import detections  # noqa: E402
from tests.evidence.honest import accused  # noqa: E402
from tests.evidence.honest_by_hand import BY_HAND, saved_by_hand  # noqa: E402
from tests.evidence.honest_programs import BY_LIBRARY, saved_by_library, saved_by_program  # noqa: E402
from tests.evidence.honest_saved import Saved  # noqa: E402
from tests.evidence.kept import kept_below, merged, rows_below  # noqa: E402
from tests.evidence.twins import PROTOCOLS, Twin, twins_of  # noqa: E402
from tests.office.client import Office  # noqa: E402


@dataclass(frozen=True, slots=True)
class Sizes:
    """How many of each: changes; people a protocol for re-saves; damaged packages; kills; writes that fail;
    good and bad files of the crowd."""

    changes: int
    people: int
    packages: int
    kills: int
    writes: int
    good: int
    bad: int


HEADING = "What is withstood"
_LINE = "`python tests/evidence/run.py --write`, each part on its day; faults would stand in its row."
_HEAD = ("| part | what | how many | outcome | time and memory | day |", "|---|---|---|---|---|---|")

FULL = Sizes(5_200, 8, 20_000, 100, 60, 240, 60)
QUICK = Sizes(260, 2, 540, 6, 3, 48, 12)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the table. faults : what should not have been, told below the table."""

    what: str
    many: str
    outcome: str
    limits: str
    faults: tuple[str, ...] = ()


@contextmanager
def _folder() -> Iterator[Path]:
    with TemporaryDirectory() as name:
        yield Path(name)


def changes(sizes: Sizes, seed: int) -> Iterator[Line]:
    with _folder() as folder:
        found = detections(twins_of(folder), sizes.changes, seed)
    kinds = len(found.counts)
    missed = tuple(
        f"{kind} {place} ({told}); said: {said or 'nothing'}" for kind, place, told, said in found.missed
    )
    yield Line(
        "changes to locked parts",
        f"{found.made:,} of {kinds} kinds",
        f"{found.made - len(missed):,} found, {len(missed)} missed",
        f"slowest {found.slowest:.2f} s",
        missed,
    )


def re_saves(sizes: Sizes, seed: int) -> Iterator[Line]:
    dice = random.Random(seed)
    with _folder() as folder, Office.start() as office:
        twins = twins_of(folder, PROTOCOLS, sizes.people)
        counts: Counter[str] = Counter()
        wrong: list[str] = []

        def see(twin: Twin, saved: Saved, group: str) -> None:
            counts[group] += 1
            said = accused(twin, saved)
            if said:
                wrong.append(f"{saved.way}, {twin.protocol_id} {twin.student_id}: {said}")

        for twin in twins:
            for way in BY_HAND:
                see(twin, saved_by_hand(twin, way, dice), "by hand")
            for way in BY_LIBRARY:
                see(twin, saved_by_library(twin, way, dice), "by hand")
            made = saved_by_program(office, twin, folder)
            for saved in made:
                see(twin, saved, "by a spreadsheet program")
            for way in BY_HAND:
                see(twin, saved_by_hand(twin, way, dice, made[0].data), "by a program, then by hand")
    many = ", ".join(f"{number:,} {group}" for group, number in counts.items())
    yield Line("honest re-saves", f"{counts.total():,}: {many}", f"{len(wrong)} accused", "", tuple(wrong))


def damaged(sizes: Sizes, seed: int) -> Iterator[Line]:
    with _folder() as folder:
        twins = twins_of(folder, PROTOCOLS[:2], 2)
        with Office.start() as office:
            made = {one.way: one.data for one in saved_by_program(office, twins[0], folder)}
        bases = [twins[0].data, twins[2].data, made["LibreOffice .xlsx"], made["LibreOffice .ods"]]
        outcome = packages.read_mutated(bases, sizes.packages, seed)
    counts = ", ".join(f"{number:,} {status}" for status, number in sorted(outcome.counts.items()))
    yield Line(
        "damaged and hostile packages",
        f"{sizes.packages:,} of {len(packages.MUTATIONS)} kinds",
        f"{len(outcome.faults)} raised; {counts}",
        f"slowest {outcome.slowest[0]:.2f} s ({outcome.slowest[1]}), memory grew {outcome.growth_mb:.0f} MB",
        outcome.faults,
    )


def bombs(sizes: Sizes, seed: int) -> Iterator[Line]:
    with _folder() as folder:
        for name, path in bombs_written(folder):
            size = path.stat().st_size
            alone = read_alone(path)
            faults = () if alone.status == "refused" else (f"{name}: {alone.status}",)
            yield Line(
                f"bomb: {name}", f"{size / 1e6:.1f} MB", f"{alone.status}, {alone.code}",
                f"{alone.seconds:.2f} s, peak {alone.peak_mb:.0f} MB", faults,
            )  # fmt: skip


def cut_off(sizes: Sizes, seed: int) -> Iterator[Line]:
    for command in ("read", "build"):
        with _folder() as folder:
            stage = kills.stage_of(folder, command)
            one = kills.killed(stage, sizes.kills, seed)
            faults = (
                *one.halves,
                *(f"{name}: other after the second run" for name in one.other),
                *one.touched,
            )
            yield Line(
                f"`{command}` killed", f"{one.kills}, and {one.ended} runs that were over before",
                f"{len(one.halves)} half written, {len(one.other)} other after a second run,"
                f" {len(one.touched)} returned files touched",
                f"{one.litter} left beside", faults,
            )  # fmt: skip
            for fault, writes in disk.writes_of(stage).items():
                run = disk.faulty_runs(stage, fault, writes, sizes.writes, seed)
                yield Line(
                    f"`{command}`, {fault}", f"{run.runs} writes",
                    f"{run.stopped} stopped with a sentence, {len(run.wrong)} wrong", "", run.wrong,
                )  # fmt: skip


def many_files(sizes: Sizes, seed: int) -> Iterator[Line]:
    with _folder() as folder:
        made, bad = crowd.crowd_of(folder, sizes.good, sizes.bad, seed)
        seen = crowd.read_twice(made, bad)
    right = (
        seen.exit_code == 1 and seen.lines == seen.named == sizes.bad and seen.same and seen.returned_same
        and f" {sizes.good} count" in seen.summary
    )  # fmt: skip
    yield Line(
        "a folder of files, read twice",
        f"{sizes.good + sizes.bad}, {sizes.bad} of them bad",
        f"{seen.summary}; {seen.lines} lines, exit {seen.exit_code},"
        f" {'the same' if seen.same else 'other'} twice",
        "",
        () if right else (repr(seen),),
    )


def nightly_tests(sizes: Sizes, seed: int) -> Iterator[Line]:
    """Every file of tests that has a nightly form; none in the quick one."""
    every = sorted((ROOT / "tests").rglob("test_*.py"))
    paths = [path for path in every if _NIGHTLY.search(path.read_text(encoding="utf-8"))]
    settings = {**os.environ, "SHEETGEN_NIGHTLY": "1"}
    for path in paths if sizes == FULL else ():
        begun = time.perf_counter()
        command = [sys.executable, "-m", "pytest", "-q", str(path)]
        done = subprocess.run(command, cwd=ROOT, env=settings, capture_output=True, text=True, check=False)
        said = done.stdout.splitlines() or [""]
        counts = ", ".join(re.findall(r"\d+ (?:passed|failed|errors?)\b", said[-1])) or "none ran"
        failed = tuple(line for line in said if line.startswith(("FAILED", "ERROR")))
        yield Line(
            "tests in their nightly form",
            path.relative_to(ROOT / "tests").as_posix(),
            counts,
            f"{time.perf_counter() - begun:.0f} s",
            failed or ((counts,) if done.returncode else ()),
        )


_NIGHTLY = re.compile(r"SHEETGEN_NIGHTLY\"|mark\.nightly")

PARTS: dict[str, Callable[[Sizes, int], Iterator[Line]]] = {
    "changes": changes,
    "re-saves": re_saves,
    "packages": damaged,
    "bombs": bombs,
    "kills": cut_off,
    "crowd": many_files,
    "tests": nightly_tests,
}


def measured(sizes: Sizes, seed: int, only: Sequence[str] = ()) -> dict[str, list[Line]]:
    """Return the lines of the table by their part, parts in turn."""
    lines = {}
    for name, part in PARTS.items():
        if only and name not in only:
            continue
        begun = time.perf_counter()
        lines[name] = list(part(sizes, seed))
        print(f"{name}: {time.perf_counter() - begun:.0f} s", file=sys.stderr, flush=True)
    return lines


def rows_of(lines: Mapping[str, Sequence[Line]], day: str) -> dict[str, list[str]]:
    """Return the rows of the table as Markdown, by their part."""
    return {part: [_row(part, one, day) for one in found] for part, found in lines.items()}


def _row(part: str, line: Line, day: str) -> str:
    return f"| {part} | {line.what} | {line.many} | {line.outcome} | {line.limits or '-'} | {day} |"


def faults_of(lines: Mapping[str, Sequence[Line]]) -> list[str]:
    """Return what should not have been, at most 20 of a line."""
    every = (one for found in lines.values() for one in found)
    return [f"- {one.what}: {fault}" for one in every for fault in one.faults[:20]]


def main(arguments: Sequence[str]) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a small number of each")
    parser.add_argument("--seed", type=int, default=1, help="other numbers make other changes")
    parser.add_argument("--only", nargs="*", choices=list(PARTS), default=[], help="these parts")
    parser.add_argument("--write", action="store_true", help="keep the table in README.md")
    given = parser.parse_args(arguments)
    if given.write and given.quick:
        parser.error("--quick with --write: expected the full numbers; leave one of them out")
    if not shutil.which("soffice"):
        print("re-saves and packages need LibreOffice: run python3 tests/run.py first", file=sys.stderr)
    faults = []
    print(*_HEAD, sep="\n")
    for part in given.only or PARTS:
        lines = measured(QUICK if given.quick else FULL, given.seed, [part])
        rows = rows_of(lines, date.today().isoformat())
        faults += faults_of(lines)
        print(*rows[part], sep="\n", flush=True)
        if given.write:
            kept = merged(tuple(PARTS), rows_below(HEADING), rows)
            kept_below(HEADING, "\n".join([_LINE, "", *_HEAD, *kept]))
    print("".join(f"{fault}\n" for fault in faults), end="")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
