"""Commands killed at a random moment, and faults of the disk: what is there then is old or new, never half.

A command runs on a copy of a class folder. Before it is everything as it was; an undisturbed run says how it
should be; a killed one may leave each file as either, and a second run makes it as an undisturbed one does.
"""

import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.classes import run
from tests.evidence.twins import Twin, twins_of

ROOT = Path(__file__).resolve().parents[2]
_PEOPLE = 4
_MEMORY = "known-files"
"""Part of the name of what only saves time: it may be half written, and is then passed over."""


@dataclass(frozen=True, slots=True)
class Contents:
    """Every file of a folder by its path: bytes, and when it was last changed [ns]."""

    data: dict[str, bytes]
    times: dict[str, int]


@dataclass(frozen=True, slots=True)
class Stage:
    """A command on a class folder, and the folder before and after it.

    seconds : how long it takes undisturbed. master : the folder as it is before, never touched.
    """

    command: tuple[str, ...]
    master: Path
    root: Path
    before: Contents
    after: Contents
    seconds: float


@dataclass(frozen=True, slots=True)
class Killed:
    """What became of many kills.

    kills : that came in time. ended : runs that were over before; they are looked at like the others.
    halves : files that were neither old nor new. other : files that a second run made otherwise than an
    undisturbed one. touched : returned files that changed. litter : what was left beside and never used.
    """

    kills: int
    ended: int
    halves: tuple[str, ...]
    other: tuple[str, ...]
    touched: tuple[str, ...]
    litter: int


def stage_of(folder: Path, command: str) -> Stage:
    """Return a class of four before and after a command.

    Parameters
    ----------
    command : `build`: the sheets of a second session. `read`: half of the sheets were read before, the other
        half comes in from a folder of downloads.
    """
    master, root, downloads = folder / "master", folder / "class", folder / "downloads"
    twins = twins_of(folder / "made", ("seven-sites",), _PEOPLE)
    shutil.copytree(folder / "made" / "seven-sites", master)
    if command == "build":
        arguments: tuple[str, ...] = ("build", str(root), "--session", "2")
    else:
        arguments = ("read", str(root), str(downloads))
        _laid_out(twins, master, downloads)
        shutil.copytree(master, root)
        done = run("read", root)
        assert done.exit_code == 0, done.stderr
        shutil.rmtree(master)
        shutil.copytree(root, master)
        shutil.rmtree(root)
    _fresh(master, root)
    before = contents_of(root)
    begun = time.perf_counter()
    _ran(arguments)
    seconds = time.perf_counter() - begun
    return Stage(arguments, master, root, before, contents_of(root), seconds)


def _laid_out(twins: Sequence[Twin], master: Path, downloads: Path) -> None:
    """Half of the sheets in returned/, the others in a folder of downloads, all of some day in the past."""
    downloads.mkdir()
    for number, twin in enumerate(twins):
        half = number < len(twins) // 2
        place = master / "returned" / "session-1" if half else downloads
        path = place / f"{twin.student_id} handed in.xlsx"
        path.write_bytes(twin.data)
        os.utime(path, ns=(1_700_000_000_000_000_000 + number, 1_700_000_000_000_000_000 + number))


def _fresh(master: Path, root: Path) -> None:
    if root.exists():
        shutil.rmtree(root)
    shutil.copytree(master, root)


def _ran(arguments: Sequence[str]) -> None:
    done = subprocess.run(_call(arguments), cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise RuntimeError(f"{arguments}: {done.returncode}: {done.stderr[-600:]}")


def _call(arguments: Sequence[str]) -> list[str]:
    return [sys.executable, "-c", "from sheetgen.cli.job import main; main()", *arguments]


def contents_of(root: Path) -> Contents:
    """Return every file below a folder."""
    paths = sorted(path for path in root.rglob("*") if path.is_file())
    names = [path.relative_to(root).as_posix() for path in paths]
    return Contents(
        {name: path.read_bytes() for name, path in zip(names, paths, strict=True)},
        {name: path.stat().st_mtime_ns for name, path in zip(names, paths, strict=True)},
    )


def _is_litter(name: str) -> bool:
    last = name.rpartition("/")[2]
    return (last.startswith(".") and last.endswith(".part")) or _MEMORY in last


def halves(stage: Stage, now: Contents) -> list[str]:
    """Return the files that are neither as before nor as after, and those that are gone. A kept file that was
    moved on to make room for the next is not gone: its bytes stand under the next number."""
    bad = [
        f"{name}: neither old nor new"
        for name, data in now.data.items()
        if not _is_litter(name) and data not in (stage.before.data.get(name), stage.after.data.get(name))
    ]
    gone = stage.before.data.keys() & stage.after.data.keys() - now.data.keys()
    lost = (name for name in sorted(gone) if now.data.get(_older(name)) != stage.before.data[name])
    return bad + [f"{name}: gone" for name in lost if not _is_litter(name)]


def _older(name: str) -> str:
    """The name that a kept file has once a newer one is kept; of any other file, its own."""
    return re.sub(r"\.kept-([12])\b", lambda number: f".kept-{int(number[1]) + 1}", name)


def is_done(stage: Stage, now: Contents) -> bool:
    """Tell whether everything is as an undisturbed run leaves it, but for what only saves time."""
    names = {name for name in now.data.keys() | stage.after.data.keys() if not _is_litter(name)}
    return all(now.data.get(name) == stage.after.data.get(name) for name in names)


def _touched(stage: Stage, now: Contents) -> list[str]:
    """Returned files whose bytes or times are not as they came."""
    came = [name for name in now.data if name.startswith("returned/") and not _is_litter(name)]
    return [
        f"{name}: {'bytes' if now.data[name] != stage.after.data.get(name) else 'time'}"
        for name in came
        if (now.data[name], now.times[name]) != (stage.after.data.get(name), stage.after.times.get(name))
    ]


def killed(stage: Stage, many: int, seed: int) -> Killed:
    """Run a command so many times, kill it at a random moment, look, and run it again to its end."""
    dice = random.Random(seed)
    half: list[str] = []
    other: list[str] = []
    touched: list[str] = []
    in_time = ended = litter = 0
    latest = stage.seconds
    while in_time < many and ended < 3 * many:
        _fresh(stage.master, stage.root)
        over = _cut_off(stage.command, dice.uniform(0.1, 1.0) * latest)
        ended, in_time = ended + over, in_time + (not over)
        # The stage was timed on a cold machine: where a run was over, the next kill comes sooner.
        latest *= 0.7 if over else 1.0
        now = contents_of(stage.root)
        half += halves(stage, now)
        litter += sum(_is_litter(name) and _MEMORY not in name for name in now.data)
        _ran(stage.command)
        now = contents_of(stage.root)
        names = {name for name in now.data.keys() | stage.after.data.keys() if not _is_litter(name)}
        other += [name for name in sorted(names) if now.data.get(name) != stage.after.data.get(name)]
        touched += _touched(stage, now)
    return Killed(in_time, ended, tuple(half), tuple(other), tuple(touched), litter)


def _cut_off(arguments: Sequence[str], seconds: float) -> bool:
    """Start a command and kill it, and whatever it started, after some seconds; tell whether it was over."""
    running = subprocess.Popen(
        _call(arguments),
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        running.wait(seconds)
        return True
    except subprocess.TimeoutExpired:
        os.killpg(running.pid, signal.SIGKILL)
        running.wait()
        return False
